"""Cubes applied by colour-science and by ffmpeg: writes the tables for tests/sources/apply.rs.

    pip install -r tests/reference/requirements.txt
    python tests/reference/make/apply.py      writes fixtures/reference/apply_colour.csv and apply_ffmpeg.csv; needs ffmpeg

The cubes are made by `node`, which tests/sources/apply.rs repeats: a smooth bend and a rough part of whole-number
arithmetic, so that every axis, every tetrahedron and every cell differs from its neighbours.
"""

import pathlib
import subprocess
import tempfile
import warnings

warnings.filterwarnings("ignore")

import colour
import numpy as np

assert colour.__version__ == "0.4.7", colour.__version__
OUT = pathlib.Path(__file__).parents[3] / "fixtures/reference"

COLOUR_HEADER = """\
# A cube read between its nodes. Made by tests/reference/make/apply.py; do not edit.
# Source: colour-science 0.4.7 (Python), licence BSD-3-Clause: LUT3D.apply with table_interpolation_tetrahedral and
#   table_interpolation_trilinear, in double precision. size: nodes along an edge; low, high: the domain, alike in every
#   channel; r, g, b: input; red, green, blue: output.
"""
FFMPEG_HEADER = """\
# A cube applied to 16-bit colours. Made by tests/reference/make/apply.py; do not edit.
# Source: {version}, filter lut3d, pixel format gbrp16le. size: nodes along an edge; r, g, b: code values
#   of 16 bits; red, green, blue: the filter's.
"""


def node(size):
    """Nodes [red, green, blue, channel]."""
    i, j, k = np.meshgrid(*[np.arange(size)] * 3, indexing="ij")
    r, g, b = i / (size - 1), j / (size - 1), k / (size - 1)
    smooth = [0.1 + 0.7 * r * r + 0.2 * g * b, 0.05 + 0.8 * g * (1.2 - 0.3 * g), 0.9 * b * b * b + 0.1 * r]
    rough = [(i * (31 + c) + j * (17 + 2 * c) + k * (57 + 3 * c) + i * j * k) % 97 / 96 for c in range(3)]
    return np.stack([0.75 * s + 0.25 * t for s, t in zip(smooth, rough)], -1)


def write(name, header, rows):
    (OUT / name).write_text(header + "\n".join(rows) + "\n")


def by_colour(random):
    rows = ["size,low,high,interpolation,r,g,b,red,green,blue"]
    for size, low, high in [(2, 0, 1), (17, 0, 1), (33, 0, 1), (65, 0, 1), (9, -0.25, 1.5)]:
        lut = colour.LUT3D(node(size), domain=np.array([[low] * 3, [high] * 3]))
        inputs = random.uniform(low, high, (100, 3)).round(9)
        inputs[:5] = [[low] * 3, [high] * 3, [low, high, low], [0.5, 0.5, 0.5], [0.25, 0.25, 0.75]]
        for name in ("tetrahedral", "trilinear"):
            out = lut.apply(inputs, interpolator=getattr(colour.algebra, f"table_interpolation_{name}"))
            for i, o in zip(inputs, out):
                rows.append(",".join([f"{size},{low},{high},{name}"] + [repr(float(v)) for v in (*i, *o)]))
    write("apply_colour.csv", COLOUR_HEADER, rows)


def by_ffmpeg(random):
    rows = ["size,interpolation,r,g,b,red,green,blue"]
    width, height = 32, 12
    with tempfile.TemporaryDirectory() as folder:
        for size in (17, 33, 65):
            path = f"{folder}/{size}.cube"
            # Red fastest.
            lines = node(size).transpose(2, 1, 0, 3).reshape(-1, 3)
            text = "\n".join(f"{r:.9f} {g:.9f} {b:.9f}" for r, g, b in lines)
            pathlib.Path(path).write_text(f"LUT_3D_SIZE {size}\n{text}\n")
            codes = random.integers(0, 65536, (width * height, 3)).astype("<u2")
            codes[:4] = [[0, 0, 0], [65535, 65535, 65535], [65535, 0, 32768], [1, 65534, 65535]]
            for name in ("tetrahedral", "trilinear"):
                command = ["ffmpeg", "-v", "error", "-f", "rawvideo", "-pix_fmt", "gbrp16le", "-s", f"{width}x{height}",
                           "-i", "-", "-vf", f"lut3d=file={path}:interp={name}", "-f", "rawvideo", "-pix_fmt", "gbrp16le", "-"]
                planes = codes[:, [1, 2, 0]].T.tobytes()
                out = subprocess.run(command, input=planes, stdout=subprocess.PIPE, check=True).stdout
                out = np.frombuffer(out, "<u2").reshape(3, -1)[[2, 0, 1]].T
                rows += [",".join([f"{size},{name}"] + [str(v) for v in (*i, *o)]) for i, o in zip(codes, out)]
    version = " ".join(subprocess.check_output(["ffmpeg", "-version"], text=True).split()[:3])
    write("apply_ffmpeg.csv", FFMPEG_HEADER.format(version=version), rows)


if __name__ == "__main__":
    by_colour(np.random.default_rng(1))
    by_ffmpeg(np.random.default_rng(2))
