"""Writes fixtures/reference/difference.csv: colour differences by colour-science, for tests/sources/difference.rs.

    pip install -r tests/reference/requirements.txt
    python tests/reference/make/difference.py
"""

import pathlib
import warnings

warnings.filterwarnings("ignore")

import colour
import numpy as np

assert colour.__version__ == "0.4.7", colour.__version__
OUT = pathlib.Path(__file__).parents[3] / "fixtures/reference/difference.csv"
HEADER = """\
# Colour differences. Made by tests/reference/make/difference.py; do not edit.
# Source: colour-science 0.4.7 (Python), licence BSD-3-Clause. By kind:
#   ciede2000: two CIELAB colours and their CIEDE2000; lab: XYZ (Y = 1 at white), its CIELAB under x 0.3127, y 0.3290, and
#   zero; itp: two linear BT.2020 lights in nits and their Delta E ITP (ITU-R BT.2124) by ICtCp of ITU-R BT.2100-2, PQ.
kind,a1,a2,a3,b1,b2,b3,value
"""
D65 = np.array([0.3127, 0.3290])


def rows():
    rng = np.random.default_rng(2124)
    for i in range(80):
        one = rng.uniform([0, -100, -100], [100, 100, 100])
        # Near pairs and far ones, and some on the grey axis.
        two = one + rng.normal(size=3) * [1.0, 8.0, 30.0][i % 3]
        two[0] = np.clip(two[0], 0, 100)
        if i % 20 == 0:
            two[1:] = 0
        yield "ciede2000", one, two, colour.delta_E(one, two, method="CIE 2000")
    for _ in range(30):
        xyz = rng.uniform(0, 1.1, 3) ** 3
        yield "lab", xyz, colour.XYZ_to_Lab(xyz, D65), 0
    for i in range(60):
        one = 10 ** rng.uniform(-2, 4, 3)
        two = np.minimum(one * np.exp(rng.normal(size=3) * [0.02, 0.3][i % 2]), 10000)
        ictcp = [colour.RGB_to_ICtCp(rgb, method="ITU-R BT.2100-2 PQ") for rgb in (one, two)]
        yield "itp", one, two, colour.difference.delta_E_ITP(*ictcp)


with OUT.open("w") as out:
    out.write(HEADER)
    for kind, one, two, value in rows():
        out.write(",".join([kind, *(repr(float(v)) for v in [*one, *two, value])]) + "\n")
