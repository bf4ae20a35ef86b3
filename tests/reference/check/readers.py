"""Baked cubes read by colour-science: the same table as the text holds, the same colours as `probe` at the nodes.

    pip install -r tests/reference/requirements.txt
    python tests/reference/check/readers.py RUSHLIGHT SHOW [--points N]

Bakes every cube of SHOW into a temporary folder. Exit 0: all agree, or colour-science is missing (1 where CI is set).
"""

import argparse
import tempfile
import warnings

from shows import DECIMALS, bake, has_module, need, nodes, probe

need("colour-science", has_module("colour"))
warnings.filterwarnings("ignore")

import colour
import numpy as np

assert colour.__version__ == "0.4.7", colour.__version__


def parse(path):
    """The table by a few lines of our own: keywords, then three numbers a row, red fastest."""
    size, rows = None, []
    for line in path.read_text(encoding="ascii").splitlines():
        if line.startswith("LUT_3D_SIZE "):
            size = int(line.split()[1])
        elif line[0] in "-.0123456789":
            rows.append([float(word) for word in line.split()])
    assert size is not None and len(rows) == size**3, path
    return size, np.array(rows)


def check(binary, show, path, cube):
    size, table = parse(path)
    lut = colour.read_LUT(str(path))
    assert isinstance(lut, colour.LUT3D) and lut.size == size == cube["points"], path
    assert np.array_equal(lut.domain, [[0, 0, 0], [1, 1, 1]]), lut.domain
    # colour-science holds [red, green, blue]; the file runs through red first.
    held = lut.table.transpose(2, 1, 0, 3).reshape(-1, 3)
    in_table = np.abs(held - table).max()
    at = nodes(size)
    tetrahedral = np.asarray(lut.apply(at, interpolator=colour.algebra.table_interpolation_tetrahedral))
    exact = np.array(probe(binary, show, cube, at))
    worst = np.abs(tetrahedral - exact).max()
    # Reading is exact; interpolation at a node rounds a few times in double precision.
    good = in_table == 0.0 and worst <= DECIMALS + 1e-14
    print(f"{'ok  ' if good else 'FAIL'} {path.name}: {size}^3 nodes, table {in_table:.1e}, colours {worst:.2e}")
    return good


if __name__ == "__main__":
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("binary", metavar="RUSHLIGHT")
    arguments.add_argument("show", metavar="SHOW")
    arguments.add_argument("--points", type=int, help="instead of the show's own")
    given = arguments.parse_args()
    with tempfile.TemporaryDirectory() as out:
        baked = bake(given.binary, given.show, out, given.points)
        results = [check(given.binary, given.show, path, cube) for path, cube in baked]
    raise SystemExit(0 if all(results) else 1)
