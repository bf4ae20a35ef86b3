"""Writes lib/colour/src/math/pow/tables.rs: logarithms and powers of two in two parts, by mpmath.

    python3 tests/reference/make/pow_tables.py

Needs mpmath. The intervals are those of lib/colour/src/math/pow.rs: 128 of a number's first seven bits of mantissa, from OFF.
"""

import pathlib
import struct

from mpmath import mp, mpf

mp.prec = 200
OFF = 0x3FE6955500000000
TABLE = 128
HEAD = '''//! Tables of [`super::pow`], written by tests/reference/make/pow_tables.py (mpmath, 200 bits).

/// For each interval of the mantissa: nearly one over its middle, in ten bits; minus its natural logarithm, in two parts.
pub(in crate::math) const LOG: [[f64; 3]; 128] = [
'''


def value(bits):
    return struct.unpack("<d", struct.pack("<Q", bits))[0]


def parts(x):
    high = float(x)
    return high, float(x - mpf(high))


def row(numbers):
    return "    [" + ", ".join(repr(n) for n in numbers) + "],\n"


def main():
    text = HEAD
    for i in range(TABLE):
        low, high = (value(OFF + ((i + j) << 45)) for j in (0, 1))
        # The table goes once round: from OFF up to twice that.
        if low < 1 < high or low == 1 or high == 1:
            inverse = 1.0
        else:
            inverse = float(round(2048 / (low + high))) / 1024
        text += row([inverse, *parts(-mp.log(mpf(inverse)))])
    text += "];\n\n/// 2^(i/128), in two parts.\npub(in crate::math) const EXP: [[f64; 2]; 128] = [\n"
    for i in range(TABLE):
        text += row(parts(mpf(2) ** (mpf(i) / TABLE)))
    text += "];\n\n"

    def cut(x, bits):
        exponent = mp.floor(mp.log(x, 2))
        unit = mpf(2) ** (exponent - bits + 1)
        high = mp.floor(x / unit) * unit
        return float(high), float(x - high)

    for name, x, bits, what in [
        ("LN_2", mp.log(2), 42, "ln 2: 42 bits, and the rest"),
        ("STEP", mp.log(2) / TABLE, 35, "ln 2 / 128: 35 bits, and the rest"),
    ]:
        text += f"/// {what}.\npub(in crate::math) const {name}: [f64; 2] = [{', '.join(repr(n) for n in cut(x, bits))}];\n"
    text += f"/// 128 / ln 2.\npub(in crate::math) const STEPS: f64 = {float(TABLE / mp.log(2))!r};\n"
    target = pathlib.Path(__file__).parents[3] / "lib/colour/src/math/pow/tables.rs"
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_text(text)


main()
