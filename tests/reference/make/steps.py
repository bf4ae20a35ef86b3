"""Writes fixtures/reference/steps.csv: the steps of a look by independent code, for tests/sources/steps.rs.

    pip install -r tests/reference/requirements.txt
    python tests/reference/make/steps.py

CDL and gamut compression are written out here from their documents' formulas, ACEScct and the adaptations are those of
colour-science.
"""

import pathlib
import warnings

warnings.filterwarnings("ignore")

import colour
import numpy as np
from colour.models import log_decoding_ACEScct, log_encoding_ACEScct

assert colour.__version__ == "0.4.7", colour.__version__
OUT = pathlib.Path(__file__).parents[3] / "fixtures/reference/steps.csv"
HEADER = """\
# Steps of a look on colours. Made by tests/reference/make/steps.py; do not edit.
# Sources: formulas of ASC CDL version 1.2 (2009) and Academy S-2020-001 (from memory), written out in numpy; ACEScct and
# chromatic adaptation of colour-science 0.4.7 (Python), licence BSD-3-Clause. By kind, the numbers p0 and on are:
#   cdl, cdl-scene: slope x3, offset x3, power x3, saturation, clamp (1 or 0); on encoded values, or on light in ACEScct;
#   compress: limits x3, thresholds x3, power; contrast: amount, pivot in stops; balance-NAME: x and y of from and to.
kind,r,g,b,r_out,g_out,b_out,p0,p1,p2,p3,p4,p5,p6,p7,p8,p9,p10
"""
RNG = np.random.default_rng(20)
AP1_WHITE = np.array([0.32168, 0.33767])
D65 = np.array([0.3127, 0.3290])

rows = []


def add(kind, rgb, out, parameters):
    assert np.isfinite(out).all(), (kind, rgb, out)
    cells = [repr(float(v)) for v in [*rgb, *out, *parameters]]
    rows.append(",".join([kind] + cells + [""] * (11 - len(parameters))))


def cdl(rgb, slope, offset, power, saturation, clamp):
    """ASC CDL 1.2: out = clamp(in * slope + offset) ** power, then saturation about BT.709 luma, then clamp. Without
    clamping, what is not above zero has no power and stays."""
    limit = (lambda v: np.clip(v, 0, 1)) if clamp else (lambda v: v)
    sop = limit(rgb * slope + offset)
    sop = np.where(sop > 0, np.power(np.where(sop > 0, sop, 1), power), sop)
    luma = sop @ np.array([0.2126, 0.7152, 0.0722])
    return limit(luma + saturation * (sop - luma))


def compress(rgb, limits, thresholds, power):
    """S-2020-001: distance from the achromatic axis, compressed above the threshold so that the limit lands on 1."""
    ach = rgb.max()
    if ach == 0:
        return rgb
    dist = (ach - rgb) / abs(ach)
    out = dist.copy()
    for i in range(3):
        lim, thr = limits[i], thresholds[i]
        if dist[i] >= thr:
            scl = (lim - thr) / (((1 - thr) / (lim - thr)) ** -power - 1) ** (1 / power)
            nd = (dist[i] - thr) / scl
            out[i] = thr + scl * nd / (1 + nd**power) ** (1 / power)
    return ach - out * abs(ach)


CORRECTIONS = [
    ([1, 1, 1], [0, 0, 0], [1, 1, 1], 1),
    ([1.1, 1.0, 0.9], [0.05, -0.1, 0.0], [1.2, 1.0, 0.8], 0.7),
    ([0.8, 1.3, 1.0], [-0.2, 0.02, 0.3], [0.5, 2.2, 1.0], 1.6),
    ([0, 2, 1], [0.4, -0.6, 0.1], [1, 3, 0.3], 0),
]
COLOURS = np.vstack([RNG.uniform(-0.3, 1.5, (12, 3)), [[0, 0, 0], [1, 1, 1], [0.18, 0.18, 0.18], [-0.1, 0.5, 2]]])
SCENE = np.vstack([0.18 * 2 ** RNG.uniform(-8, 8, (12, 3)), [[0, 0, 0], [-0.005, 0.1, 3], [0.0078125, 0.18, 222]]])
for slope, offset, power, saturation in CORRECTIONS:
    for clamp in (False, True):
        parameters = [*slope, *offset, *power, saturation, int(clamp)]
        arguments = [np.array(slope), np.array(offset), np.array(power), saturation, clamp]
        for rgb in COLOURS:
            add("cdl", rgb, cdl(rgb, *arguments), parameters)
        for rgb in SCENE:
            graded = log_decoding_ACEScct(cdl(log_encoding_ACEScct(rgb), *arguments))
            # Without clamping a correction may leave what a float encoding holds; ACES ends at 65504.
            if np.abs(graded).max() < 65504:
                add("cdl-scene", rgb, graded, parameters)

PUBLISHED = ([1.147, 1.264, 1.312], [0.815, 0.803, 0.880], 1.2)
OTHERS = ([1.5, 2.0, 1.05], [0.0, 0.5, 0.95], 3.0)
WIDE = np.vstack([
    RNG.uniform(-1, 2, (30, 3)), 0.18 * 2 ** RNG.uniform(-8, 8, (10, 3)) * [1, -0.2, 0.1],
    [[0, 0, 0], [1, 1, 1], [1, 0, 0], [0, 0, -1], [1, -20, 0.5], [-0.1, -0.2, -0.3], [1e-6, -1e-5, 0]],
])  # fmt: skip
for limits, thresholds, power in (PUBLISHED, OTHERS):
    for rgb in WIDE:
        add("compress", rgb, compress(rgb, limits, thresholds, power), [*limits, *thresholds, power])

for amount, pivot in ((1.0, 0.0), (1.4, 0.0), (0.6, 2.0), (1.2, -4.0)):
    for rgb in SCENE:
        mid = log_encoding_ACEScct(0.18 * 2.0**pivot)
        out = log_decoding_ACEScct(mid + amount * (log_encoding_ACEScct(rgb) - mid))
        if np.abs(out).max() < 65504:
            add("contrast", rgb, out, [amount, pivot])

ap1 = colour.RGB_COLOURSPACES["ACEScg"].copy()
ap1.use_derived_transformation_matrices(True)
for name, method in {"bradford": "Bradford", "cat02": "CAT02", "cat16": "CAT16", "von-kries": "Von Kries"}.items():
    for a, b in (((0.44758, 0.40745), (0.3127, 0.3290)), ((0.3127, 0.3290), (0.28, 0.29)), ((0.38, 0.37), (0.34567, 0.35851))):
        for rgb in SCENE:
            xyz = [colour.xy_to_XYZ(np.array(xy)) for xy in (AP1_WHITE, D65, a, b)]
            kries = colour.adaptation.chromatic_adaptation_VonKries
            light = kries(ap1.matrix_RGB_to_XYZ @ rgb, xyz[0], xyz[1], "Bradford")
            light = kries(light, xyz[2], xyz[3], method)
            light = kries(light, xyz[1], xyz[0], "Bradford")
            add(f"balance-{name}", rgb, ap1.matrix_XYZ_to_RGB @ light, [*a, *b])

OUT.write_text(HEADER + "\n".join(rows) + "\n")
print(f"{OUT.name}: {len(rows)} rows")
