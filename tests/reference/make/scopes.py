"""Writes fixtures/reference/scopes.csv: the bins of scopes counted by NumPy, for tests/sources/scope.rs.

    pip install -r tests/reference/requirements.txt
    python tests/reference/make/scopes.py
"""

import pathlib
import warnings

warnings.filterwarnings("ignore")

import colour
import numpy as np

assert colour.__version__ == "0.4.7", colour.__version__
OUT = pathlib.Path(__file__).parents[3] / "fixtures/reference/scopes.csv"
HEADER = """\
# Pixels in the bins of scopes. Made by tests/reference/make/scopes.py; do not edit.
# Source: NumPy, with colour-science 0.4.7 (BSD-3-Clause) for the light of S-Log3 and of ITU-R BT.1886, and for BT.709 to XYZ.
# A picture of 24 x 12 pixels of 16-bit codes by the numbers of `codes`, taken for S-Log3 and, as it is, for the signal of a
# BT.709 monitor. Rows count from the lowest bin; bins without a pixel are left out.
kind,channel,column,row,count
"""
WIDTH, HEIGHT = 24, 12
# The scales that lib/src/scope.rs states.
LOW, HIGH, BINS = -12, 12, 12
CHROMA, CHROMA_WIDTH = 256, 0.0025


def codes():
    """x -> 1664525 x + 1013904223 mod 2^32 from 1 on, the upper half of each; the first three pixels are black."""
    x, all = 1, []
    for _ in range(3 * WIDTH * HEIGHT):
        x = (1664525 * x + 1013904223) % 2**32
        all.append(x >> 16)
    all[:9] = [0] * 9
    return np.array(all).reshape(HEIGHT, WIDTH, 3)


def sure(value):
    """The whole part of numbers that lie clear of the edges between bins."""
    assert np.abs(value - np.round(value)).min() > 1e-4, np.abs(value - np.round(value)).min()
    return np.floor(value).astype(int)


def rows():
    picture = codes()
    light = colour.models.log_decoding_SLog3(picture / 65535)
    stops = np.where(light > 0, np.log2(np.maximum(light, 1e-9) / 0.18), -99.0)
    stops = np.clip(sure(np.maximum((stops - LOW) * BINS, -0.5)), 0, (HIGH - LOW) * BINS - 1)
    shown = sure(picture / 65535 * 1023 + 0.5)
    for kind, of in (("stops", stops), ("display", shown >> 2)):
        for c in range(3):
            for column in range(WIDTH):
                for row, count in zip(*np.unique(of[:, column, c], return_counts=True)):
                    yield kind, c, column, row, count
    to_xyz = colour.normalised_primary_matrix(np.array([[0.64, 0.33], [0.3, 0.6], [0.15, 0.06]]), np.array([0.3127, 0.329]))
    xyz = colour.models.eotf_BT1886(shown.reshape(-1, 3) / 1023) @ to_xyz.T
    lit = xyz[xyz.sum(axis=1) > 0]
    assert len(lit) == WIDTH * HEIGHT - 3
    total = lit @ [1, 15, 3]
    u, v = (sure(n / total / CHROMA_WIDTH) for n in (4 * lit[:, 0], 9 * lit[:, 1]))
    assert u.max() < CHROMA and v.max() < CHROMA
    for (row, column), count in zip(*np.unique(np.stack([v, u], axis=1), axis=0, return_counts=True)):
        yield "chroma", 0, column, row, count


with OUT.open("w") as out:
    out.write(HEADER)
    for row in rows():
        out.write(",".join(str(v) for v in row) + "\n")
