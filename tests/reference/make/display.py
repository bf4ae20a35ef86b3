"""Writes fixtures/reference/display.csv: display light and signal by colour-science, for tests/sources/display.rs.

    pip install -r tests/reference/requirements.txt
    python tests/reference/make/display.py
"""

import pathlib
import warnings

warnings.filterwarnings("ignore")

import colour
import numpy as np
from colour.models import (
    eotf_BT1886,
    eotf_BT2100_HLG,
    eotf_BT2100_PQ,
    eotf_inverse_BT1886,
    eotf_inverse_BT2100_HLG,
    eotf_inverse_BT2100_PQ,
    eotf_inverse_sRGB,
    eotf_sRGB,
)

assert colour.__version__ == "0.4.7", colour.__version__
OUT = pathlib.Path(__file__).parents[3] / "fixtures/reference/display.csv"
HEADER = """\
# Signal of displays for light in nits. Made by tests/reference/make/display.py; do not edit.
# Source: colour-science 0.4.7 (Python), licence BSD-3-Clause. Light is nits per channel; signal 0 to 1.
# way is `encode` (light to signal) or `decode` (signal to light); what is asked stands in the first three numbers.
display,way,peak,black,a,b,c,a_out,b_out,c_out
"""
RNG = np.random.default_rng(3)
rows = []


def add(display, way, peak, black, given, out):
    assert np.isfinite(out).all(), (display, given, out)
    rows.append(",".join([display, way] + [repr(float(v)) for v in [peak, black, *given, *out]]))


def triples():
    """Fractions from black to peak: random, grey, and the ends."""
    return np.vstack([
        RNG.uniform(0, 1, (14, 3)), 2 ** RNG.uniform(-14, 0, (10, 3)), [[g] * 3 for g in (0, 1e-4, 0.105, 0.5, 0.9, 1)],
        [[1, 0.5, 0], [0, 0, 1], [1, 0, 0]],
    ])  # fmt: skip


for name, peak, black in (("bt709", 100, 0), ("bt709", 100, 0.1), ("bt2020", 100, 0), ("bt2020", 250, 0.5)):
    for v in triples():
        nits = black + v * (peak - black)
        add(name, "encode", peak, black, nits, eotf_inverse_BT1886(nits, black, peak))
        add(name, "decode", peak, black, v, eotf_BT1886(v, black, peak))
for v in triples():
    add("srgb", "encode", 80, 0, v * 80, eotf_inverse_sRGB(v))
    add("srgb", "decode", 80, 0, v, eotf_sRGB(v) * 80)
for name in ("p3-d65", "p3-dci"):
    for v in triples():
        # The DCDM's own scale (SMPTE ST 428-1): 52.37 nits is signal 1, and white is 48 nits.
        dcdm = colour.models.eotf_inverse_DCDM(v * 48)
        add(name, "encode", 48, 0, v * 48, dcdm / colour.models.eotf_inverse_DCDM(48.0))
for peak, black in ((1000, 0), (4000, 0), (600, 0.005)):
    for v in triples():
        nits = black + v * (peak - black)
        add("bt2100-pq", "encode", peak, black, nits, eotf_inverse_BT2100_PQ(nits))
        top = eotf_inverse_BT2100_PQ(float(peak))
        add("bt2100-pq", "decode", peak, black, v * top, eotf_BT2100_PQ(v * top))
for peak, black in ((1000, 0), (500, 0), (2000, 0), (1000, 0.05)):
    for v in triples():
        nits = black + v * (peak - black)
        if nits.max() == 0:
            continue
        add("bt2100-hlg", "encode", peak, black, nits, eotf_inverse_BT2100_HLG(nits, L_B=black, L_W=peak))
        if v.max() > 0 or black > 0:
            add("bt2100-hlg", "decode", peak, black, v, eotf_BT2100_HLG(v, L_B=black, L_W=peak))

OUT.write_text(HEADER + "\n".join(rows) + "\n")
print(f"{OUT.name}: {len(rows)} rows")
