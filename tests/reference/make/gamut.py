"""Writes fixtures/reference/gamut.csv: matrices by colour-science, for tests/sources/gamut.rs.

    pip install -r tests/reference/requirements.txt
    python tests/reference/make/gamut.py
"""

import pathlib
import warnings

warnings.filterwarnings("ignore")

import colour
import numpy as np
from colour.adaptation import matrix_chromatic_adaptation_VonKries

assert colour.__version__ == "0.4.7", colour.__version__
OUT = pathlib.Path(__file__).parents[3] / "fixtures/reference/gamut.csv"
HEADER = """\
# Matrices, row by row. Made by tests/reference/make/gamut.py; do not edit.
# Source: colour-science 0.4.7 (Python), licence BSD-3-Clause. By kind:
#   stored (from: the gamut): RGB to XYZ as colour-science keeps it: the digits of the document that the library's
#     catalogue names, or its own derivation where it has none (a tolerance then says which);
#   derived (from: the gamut): RGB to XYZ that colour-science derives from primaries and white;
#   convert (from, to: gamuts; by: adaptation): RGB to RGB from the derived matrices;
#   adapt (from, to: whites as x and y; by: adaptation): XYZ to XYZ.
kind,from,to,by,m00,m01,m02,m10,m11,m12,m20,m21,m22
"""

GAMUTS = {
    "bt709": "ITU-R BT.709",
    "bt2020": "ITU-R BT.2020",
    "p3-d65": "P3-D65",
    "p3-dci": "DCI-P3",
    "aces-ap0": "ACES2065-1",
    "aces-ap1": "ACEScg",
    "sgamut": "S-Gamut",
    "sgamut3": "S-Gamut3",
    "sgamut3-cine": "S-Gamut3.Cine",
    "awg3": "ARRI Wide Gamut 3",
    "awg4": "ARRI Wide Gamut 4",
    "vgamut": "V-Gamut",
    "cinema-gamut": "Cinema Gamut",
    "redwidegamut": "REDWideGamutRGB",
    "ngamut": "N-Gamut",
    "fgamut": "F-Gamut",
    "dgamut": "DJI D-Gamut",
    "adobe-rgb": "Adobe RGB (1998)",
}
METHODS = {"bradford": "Bradford", "cat02": "CAT02", "cat16": "CAT16", "von-kries": "Von Kries"}
WHITES = {
    "D65": (0.3127, 0.3290),
    "ACES": (0.32168, 0.33767),
    "DCI": (0.314, 0.351),
    "D50": (0.34567, 0.35851),
    "A": (0.44758, 0.40745),
    "E": (1 / 3, 1 / 3),
}

rows = []


def add(kind, a, b, by, matrix):
    rows.append(",".join([kind, a, b, by] + [repr(float(v)) for v in np.ravel(matrix)]))


derived = {}
for ours, theirs in GAMUTS.items():
    space = colour.RGB_COLOURSPACES[theirs].copy()
    add("stored", ours, "", "", space.matrix_RGB_to_XYZ)
    space.use_derived_transformation_matrices(True)
    derived[ours] = space
    add("derived", ours, "", "", space.matrix_RGB_to_XYZ)
add("stored", "srgb", "", "", colour.RGB_COLOURSPACES["sRGB"].matrix_RGB_to_XYZ)

for by, name in METHODS.items():
    for a in ("bt709", "sgamut3-cine", "awg3", "redwidegamut", "p3-dci"):
        for b in ("aces-ap0", "aces-ap1", "bt2020"):
            add("convert", a, b, by, colour.matrix_RGB_to_RGB(derived[a], derived[b], name))
    for a, xy_a in WHITES.items():
        for b, xy_b in WHITES.items():
            if a != b:
                xyz = [colour.xy_to_XYZ(np.array(xy)) for xy in (xy_a, xy_b)]
                matrix = matrix_chromatic_adaptation_VonKries(*xyz, transform=name)
                add("adapt", *(f"{x!r} {y!r}" for x, y in (xy_a, xy_b)), by, matrix)

OUT.write_text(HEADER + "\n".join(rows) + "\n")
print(f"{OUT.name}: {len(rows)} rows")
