"""Encodings by colour-science: writes the tables for tests/sources/encodings.rs, or checks the binary live.

    pip install -r tests/reference/requirements.txt
    python tests/reference/make/encodings.py                     writes fixtures/reference/encodings.csv, hlg.csv, pchip.csv
    python tests/reference/make/encodings.py --check RUSHLIGHT    compares with `RUSHLIGHT curve NAME --encode X... --json`
                                                             and `--decode`; exit 1 where they differ

Light and signal are the library's: scene reflectance and code value / 1023 of the full range for cameras, the Academy's
float values for ACEScc and ACEScct, nits for PQ, scene light 0 to 1 for HLG and the BT.709 OETF, fraction of white for
other displays. What colour-science does otherwise is transformed here, at each curve.
"""

import argparse
import json
import pathlib
import subprocess
import sys
import warnings

warnings.filterwarnings("ignore")

import colour
import numpy as np
from colour.models.rgb.transfer_functions import arri
from colour.models.rgb.transfer_functions.gamma import gamma_function
from scipy.interpolate import PchipInterpolator

assert colour.__version__ == "0.4.7", colour.__version__
OUT = pathlib.Path(__file__).parents[3] / "fixtures/reference"
m = colour.models

ENCODINGS_HEADER = """\
# Encodings, light to signal and back. Made by tests/reference/make/encodings.py; do not edit.
# Source: colour-science 0.4.7 (Python), licence BSD-3-Clause: its log encodings and its transfer functions of displays.
# light: scene reflectance for cameras (0.18 is mid-grey), linear AP1 for acescc and acescct, nits for pq, scene light 0
#   to 1 for hlg and bt709-oetf, fraction of white for other displays. signal: code value / 1023 of the full range for
#   cameras, the Academy's float for acescc and acescct, 0 to 1 for displays. back: the light that colour-science
#   decodes from that signal. bt1886-black: BT.1886 with a white of 100 nits and a black of 0.1.
"""
HLG_HEADER = """\
# The HLG reference display. Made by tests/reference/make/encodings.py; do not edit.
# Source: colour-science 0.4.7 (Python), licence BSD-3-Clause: ITU-R BT.2100-2 HLG EOTF and OOTF.
# peak, black: nits. red, green, blue: signal, 0 to 1. display: nits by the EOTF with its black level lift. scene: light
#   by the inverse OOTF of those nits.
"""
PCHIP_HEADER = """\
# A monotone cubic through measured points. Made by tests/reference/make/encodings.py; do not edit.
# Source: SciPy (Python), licence BSD-3-Clause: scipy.interpolate.PchipInterpolator. The points are invented: a camera
#   with mid-grey near 50 % of signal. stops: from mid-grey; signal: code value / 1023; point: 1 where it is given.
"""
POINTS = [(-8.0, 0.0684), (-7.0, 0.0802), (-5.5, 0.1107), (-4.0, 0.1893), (-2.0, 0.3404), (0.0, 0.4985), (0.5, 0.5411),
          (2.0, 0.6698), (4.0, 0.8341), (6.0, 0.9402)]


def power(exponent):
    return (lambda x: gamma_function(x, 1.0 / exponent, "mirror"), lambda y: gamma_function(y, exponent, "mirror"))


def log_c3(ei):
    # Domain and range are reflectance and code / 1023 already. SUP 3.x, linear scene exposure: the published table.
    return (lambda x: m.log_encoding_ARRILogC3(x, EI=ei), lambda y: m.log_decoding_ARRILogC3(y, EI=ei))


# name: (encode, decode, lights of breaks, whether lights below zero are defined alike). The switches of colour-science
# at their defaults give code / 1023 (`out_normalised_code_value`) for reflectance (`in_reflection`): for S-Log2 they
# turn the paper's fraction of legal range into that, for Canon (v1.2) they do not scale, for both they divide by 0.9.
CURVES = {
    "acescc": (m.log_encoding_ACEScc, m.log_decoding_ACEScc, [2.0**-15, 2.0**-16], True),
    "acescct": (m.log_encoding_ACEScct, m.log_decoding_ACEScct, [0.0078125], True),
    "logc4": (m.log_encoding_ARRILogC4, m.log_decoding_ARRILogC4, [arri.CONSTANTS_ARRILOGC4.t], True),
    "slog2": (m.log_encoding_SLog2, m.log_decoding_SLog2, [], True),
    "slog3": (m.log_encoding_SLog3, m.log_decoding_SLog3, [0.01125], True),
    "vlog": (m.log_encoding_VLog, m.log_decoding_VLog, [0.01], True),
    "canon-log": (m.log_encoding_CanonLog, m.log_decoding_CanonLog, [], True),
    "canon-log2": (m.log_encoding_CanonLog2, m.log_decoding_CanonLog2, [], True),
    "canon-log3": (m.log_encoding_CanonLog3, m.log_decoding_CanonLog3, [-0.0126, 0.0126], True),
    "nlog": (m.log_encoding_NLog, m.log_decoding_NLog, [-0.0075, 0.328], True),
    "flog": (m.log_encoding_FLog, m.log_decoding_FLog, [0.00089], True),
    "flog2": (m.log_encoding_FLog2, m.log_decoding_FLog2, [0.000889], True),
    "log3g10": (m.log_encoding_Log3G10, m.log_decoding_Log3G10, [-0.01], True),
    "llog": (m.log_encoding_LLog, m.log_decoding_LLog, [0.006], True),
    "dlog": (m.log_encoding_DJIDLog, m.log_decoding_DJIDLog, [0.0078], True),
    "linear": (m.linear_function, m.linear_function, [], True),
    # Relative to white: white level 1, black level 0 or 0.1 / 100. Below zero colour-science clips one direction only.
    "bt1886": (m.eotf_inverse_BT1886, m.eotf_BT1886, [], False),
    "bt1886-black": (
        lambda x: m.eotf_inverse_BT1886(x, 0.001, 1), lambda y: m.eotf_BT1886(y, 0.001, 1), [0.001], False),
    "srgb": (m.eotf_inverse_sRGB, m.eotf_sRGB, [0.0031308], True),
    "gamma22": (*power(2.2), [], True),
    "gamma24": (*power(2.4), [], True),
    # The DCDM of colour-science is relative to 52.37 nits; here 1 is white, so it is the plain power.
    "gamma26": (*power(2.6), [], True),
    # Below zero colour-science raises a negative to a power without the black point, so there is nothing to compare.
    "pq": (m.eotf_inverse_ST2084, m.eotf_ST2084, [100.0, 203.0, 1000.0], False),
    "hlg": (m.oetf_BT2100_HLG, m.oetf_inverse_BT2100_HLG, [1.0 / 12.0, 0.26496], True),
    "bt709-oetf": (m.oetf_BT709, m.oetf_inverse_BT709, [0.018], True),
}
ONLY_IN_TABLE = ["bt1886-black"]

# What may differ, absolute in signal and relative (to light + 1e-3) in light: rounding of double precision, except
# where colour-science takes other constants than the document prints.
TOLERANCE = (1e-14, 2e-13)
DISCREPANCIES = {
    "canon-log2": (6e-10, 6e-9),  # 87.09937546 for the document's 87.099375
    "hlg": (5e-10, 3e-9),  # b, c unrounded for the 0.28466892, 0.55991073 of BT.2100-2
    "srgb": (1e-14, 6e-7),  # decodes with a threshold of 0.04044994 for the standard's 0.04045
    "pq": (1e-14, 2e-12),  # exponents of 78.8 and 6.3 magnify rounding
}


def curves():
    for name, curve in CURVES.items():
        yield name, None, curve
        if name == "acescct":
            for ei, row in arri.DATA_ALEXA_LOG_C_CURVE_CONVERSION["SUP 3.x"]["Linear Scene Exposure Factor"].items():
                yield "logc3", ei, (*log_c3(ei), [row[0]], True)


def lights(name, decode, breaks, negative):
    top = 65504.0 if name == "acescc" else float(decode(np.array([1.0]))[0])
    values = [0.0, 0.18, 0.2, 0.9, 1.0, *np.geomspace(1e-6 * max(1.0, top), top, 34)]
    if name != "acescc":
        values += [1.1 * top, 1.5 * top]
    for at in breaks:
        values += [at, *(at * (1.0 + d) for d in (-1e-2, -1e-4, -1e-6, 1e-6, 1e-4, 1e-2))]
    if negative:
        values += [-1e-6, -1e-4, -1e-3, -3e-3, -0.01, -0.02, -0.05, -0.2, -1.0]
    return np.unique(np.array(values, float))


def table():
    for name, ei, (encode, decode, breaks, negative) in curves():
        light = lights(name, decode, breaks, negative)
        signal = np.asarray(encode(light), float)
        back = np.asarray(decode(signal), float)
        assert np.isfinite(signal).all() and np.isfinite(back).all(), name
        yield name, ei, light, signal, back


def write():
    OUT.mkdir(parents=True, exist_ok=True)
    with open(OUT / "encodings.csv", "w", newline="\n") as out:
        out.write(ENCODINGS_HEADER + "curve,ei,light,signal,back\n")
        for name, ei, *columns in table():
            for row in zip(*columns):
                out.write(f"{name},{ei or ''}," + ",".join(repr(float(x)) for x in row) + "\n")
    signals = [[0, 0, 0], [0.1, 0.1, 0.1], [0.5, 0.5, 0.5], [0.75, 0.75, 0.75], [1, 1, 1], [1, 0, 0], [0, 1, 0],
               [0, 0, 1], [0.2, 0.45, 0.9], [0.8, 0.6, 0.3], [0.05, 0.02, 0.01], [0.95, 0.99, 0.3]]
    with open(OUT / "hlg.csv", "w", newline="\n") as out:
        out.write(HLG_HEADER + "peak,black,red,green,blue,display_red,display_green,display_blue,"
                  "scene_red,scene_green,scene_blue\n")
        for peak, black in [(1000, 0), (1000, 0.05), (400, 0.01), (600, 0), (2000, 0.005), (4000, 0)]:
            for signal in signals:
                display = m.eotf_BT2100_HLG(np.array(signal, float), L_B=black, L_W=peak)
                scene = m.ootf_inverse_BT2100_HLG(display, L_W=peak)
                row = [peak, black, *signal, *display, *scene]
                out.write(",".join(repr(float(x)) for x in row) + "\n")
    cubic = PchipInterpolator(*zip(*POINTS))
    given = {stops for stops, _ in POINTS}
    with open(OUT / "pchip.csv", "w", newline="\n") as out:
        out.write(PCHIP_HEADER + "stops,signal,point\n")
        for stops in np.unique([*given, *np.linspace(POINTS[0][0], POINTS[-1][0], 101)]):
            out.write(f"{float(stops)!r},{float(cubic(stops))!r},{int(stops in given)}\n")


def ask(binary, name, ei, way, values):
    rating = ["--ei", str(ei)] if ei else []
    command = [binary, "curve", name, *rating, way, *(repr(float(x)) for x in values), "--json"]
    answer = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    got = answer["values"]
    assert answer["curve"] == name and [v["in"] for v in got] == [float(x) for x in values], answer
    return np.array([v["out"] for v in got], float)


def check(binary):
    failed = False
    for name, ei, light, signal, back in table():
        if name in ONLY_IN_TABLE:
            continue
        in_signal, in_light = DISCREPANCIES.get(name, TOLERANCE)
        encoded = np.abs(ask(binary, name, ei, "--encode", light) - signal).max()
        decoded = (np.abs(ask(binary, name, ei, "--decode", signal) - back) / (np.abs(back) + 1e-3)).max()
        good = encoded <= in_signal and decoded <= in_light
        failed |= not good
        where = f"{name} EI {ei}" if ei else name
        verdict = "ok  " if good else "FAIL"
        print(f"{verdict} {where:14} {len(light):3} values, signal {encoded:.1e}, light {decoded:.1e}")
    return failed


if __name__ == "__main__":
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--check", metavar="RUSHLIGHT", help="the binary to compare with")
    given = arguments.parse_args()
    if given.check:
        sys.exit(1 if check(given.check) else 0)
    write()
