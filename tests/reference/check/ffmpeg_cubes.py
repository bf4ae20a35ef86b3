"""Baked cubes applied by ffmpeg's lut3d: the same colours as `probe` at the nodes.

    python tests/reference/check/ffmpeg_cubes.py RUSHLIGHT SHOW [--points N]

Bakes every cube of SHOW into a temporary folder and sends a frame of every node's input through
`lut3d=interp=tetrahedral`, as 32-bit floats. Bakes it again at 16 points, whose inputs are whole 16-bit codes (65535 is
15 x 4369), and sends those as integers. Needs ffmpeg and numpy. Exit 0: all agree, or one of them is missing (1 where CI
is set).
"""

import argparse
import shutil
import subprocess
import tempfile

from shows import DECIMALS, bake, has_module, need, nodes, probe

need("ffmpeg", shutil.which("ffmpeg"))
need("numpy", has_module("numpy"))

import numpy as np

# ffmpeg computes in single precision: the table and the result each round to 2^-25 where they are below 1.
SINGLE = 2.0**-24
TOP = 65535
WHOLE_CODES = 16


def frame(pixels, format, path, interpolation="tetrahedral"):
    """Raw pixels of one line each through the cube, in `format`."""
    size = f"1x{len(pixels) // 3}"
    filters = f"lut3d=file={path.name}:interp={interpolation}"
    raw = ["-f", "rawvideo", "-pix_fmt", format]
    command = ["ffmpeg", "-v", "error", *raw, "-s", size, "-i", "-", "-vf", filters, *raw, "-"]
    # By its bare name within its folder: a path's colons and backslashes mean something to the filter.
    run = subprocess.run(command, check=True, capture_output=True, input=pixels.tobytes(), cwd=path.parent)
    return np.frombuffer(run.stdout, pixels.dtype)


def floats(rgb, path, interpolation="tetrahedral"):
    """Through planes of 32-bit floats, green, blue, red."""
    planes = rgb.astype("<f4").T[[1, 2, 0]].ravel()
    green, blue, red = frame(planes, "gbrpf32le", path, interpolation).astype(float).reshape(3, -1)
    return np.stack([red, green, blue], axis=-1)


def codes(rgb, path):
    """Through 16-bit integers."""
    given = np.round(rgb * TOP)
    assert np.abs(given - rgb * TOP).max() < 1e-9, "the nodes are no whole codes"
    return frame(given.astype("<u2").ravel(), "rgb48le", path).astype(float).reshape(-1, 3) / TOP


def check(binary, show, points, way, slack):
    """Every cube of the show, read the way that is given; whether all are as close as they can be."""
    all_good = True
    with tempfile.TemporaryDirectory() as out:
        for path, cube in bake(binary, show, out, points):
            at = nodes(cube["points"])
            off = np.abs(way(at, path) - np.array(probe(binary, show, cube, at))).max()
            good = off <= DECIMALS + SINGLE + slack
            all_good &= bool(good)
            print(f"{'ok  ' if good else 'FAIL'} {path.name}: {len(at)} nodes as {way.__name__}, {off:.2e}")
    return all_good


if __name__ == "__main__":
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("binary", metavar="RUSHLIGHT")
    arguments.add_argument("show", metavar="SHOW")
    arguments.add_argument("--points", type=int, help="for the floats, instead of the show's own")
    given = arguments.parse_args()
    as_floats = check(given.binary, given.show, given.points, floats, 0.0)
    # ffmpeg cuts off what is below one code.
    as_codes = check(given.binary, given.show, WHOLE_CODES, codes, 1.0 / TOP)
    raise SystemExit(0 if as_floats and as_codes else 1)
