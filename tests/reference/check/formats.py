"""Our cube, CLF and Hald files, read by colour-science, colour-clf-io and ffmpeg: checks the binary live.

    pip install -r tests/reference/requirements.txt
    python tests/reference/check/formats.py RUSHLIGHT     makes files with `RUSHLIGHT convert`, compares them with
                                                    `RUSHLIGHT probe`; exit 1 where they differ

Cubes: colour-science 0.4.7 reads the file and interpolates. CLF: colour-clf-io 0.2.0 parses the file; since its own
evaluation of tables is not right for more than two points, nodes are evaluated here with NumPy and with colour-science's
interpolants, which are the specification's. Hald images: ffmpeg's haldclut filter applies them to a 16-bit frame; without
ffmpeg that part is left out (a failure where CI is set).
"""

import json
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import warnings

warnings.filterwarnings("ignore")

import colour
import colour_clf_io as clf
import numpy as np
from colour.algebra import table_interpolation_tetrahedral, table_interpolation_trilinear

BY_NAME = {"tetrahedral": table_interpolation_tetrahedral, "trilinear": table_interpolation_trilinear}
TOP = 65535
# ffmpeg cuts off below a whole 16-bit code, and computes in single precision.
HALD_CODES = 1.01
# colour-science keeps the domain of a cube file in single precision and its interpolants in double; CLF tables are
# 32-bit floats in the file.
CLOSE = 1e-6


def write_cube(path, size, domain, function):
    """A file of our own making, by NumPy alone."""
    low, high = (np.array(bound, dtype=float) for bound in domain)
    axis = np.arange(size) / (size - 1)
    blue, green, red = np.meshgrid(axis, axis, axis, indexing="ij")
    inputs = low + np.stack([red, green, blue], -1).reshape(-1, 3) * (high - low)
    lines = [f"DOMAIN_MIN {low[0]} {low[1]} {low[2]}", f"DOMAIN_MAX {high[0]} {high[1]} {high[2]}",
             f"LUT_3D_SIZE {size}"]
    lines += ["%.9f %.9f %.9f" % tuple(row) for row in function(inputs)]
    path.write_text("\n".join(lines) + "\n")


def write_curves(path, size):
    t = np.arange(size) / (size - 1)
    rows = np.stack([t**0.5, t**2, 1.2 * t - 0.1], -1)
    path.write_text(f"LUT_1D_SIZE {size}\n" + "".join("%.9f %.9f %.9f\n" % tuple(row) for row in rows))


def probe(binary, path, colours, *options):
    text = "\n".join(" ".join(repr(float(v)) for v in colour_) for colour_ in colours)
    run = subprocess.run([binary, "probe", path, "-", "--json", *options], input=text, capture_output=True, text=True,
                         check=True)
    return np.array([c["out"] for c in json.loads(run.stdout)["colours"]])


def clf_value(path, colours):
    """What the nodes of the file do, by the specification: every one that is met must be known here."""
    process = clf.read_clf_from_file(str(path))
    assert process.process_nodes, path
    for node in process.process_nodes:
        array = node.array.as_array()
        if isinstance(node, clf.LUT3D):
            # Shape [red][green][blue][channel], inputs clamped.
            kind = node.interpolation.value
            colours = BY_NAME[kind](np.clip(colours, 0, 1), array)
        elif isinstance(node, clf.LUT1D):
            x = np.linspace(0, 1, array.shape[0])
            colours = np.stack([np.interp(colours[:, c], x, array[:, c]) for c in range(3)], -1)
        elif isinstance(node, clf.Matrix):
            array = np.asarray(array).reshape(3, -1)
            colours = colours @ array[:, :3].T + (array[:, 3] if array.shape[1] == 4 else 0)
        else:
            raise AssertionError(f"{path}: {type(node).__name__} is not written by convert")
    return colours


def through_hald(path, codes):
    """16-bit colours, a pixel each, through ffmpeg's reading of a Hald image."""
    raw = ["-f", "rawvideo", "-pix_fmt", "rgb48le"]
    command = ["ffmpeg", "-v", "error", *raw, "-s", f"{len(codes)}x1", "-i", "-", "-i", str(path), "-filter_complex",
               "[1]format=rgb48le[hald];[0][hald]haldclut=interp=tetrahedral", "-frames:v", "1", *raw, "-"]
    run = subprocess.run(command, check=True, capture_output=True, input=codes.astype("<u2").tobytes())
    return np.frombuffer(run.stdout, "<u2").reshape(-1, 3).astype(float)


def main(binary):
    random = np.random.default_rng(7)
    failed = 0

    def report(name, got, want, close=CLOSE):
        nonlocal failed
        error = float(np.abs(got - want).max())
        failed += not error <= close
        print(f"{name}: {error:.2e} at most {'' if error <= close else ' <- DIFFERS'}")

    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        # Nodes with no short decimals: those would pass through 32-bit text unrounded, and hide it.
        bend = lambda v: np.stack([np.sin(v[:, 0] + 0.3 * v[:, 1]), np.sqrt(2 + v[:, 1] * v[:, 2]),
                                   np.exp(0.5 * v[:, 2] - 0.7 * v[:, 0])], -1)
        cases = {"unit": ((0, 0, 0), (1, 1, 1)), "wide": ((-0.5, 0, -1), (1.5, 2, 1))}
        for name, domain in cases.items():
            colours = np.array(domain[0]) + random.random((500, 3)) * (np.array(domain[1]) - np.array(domain[0]))
            source, out, xml = (folder / f"{name}{end}" for end in (".in.cube", ".cube", ".clf"))
            write_cube(source, 9, domain, bend)
            for target in (out, xml):
                subprocess.run([binary, "convert", source, target, *(["--digits", "9"] if target is out else [])],
                               check=True, stdout=subprocess.DEVNULL)
            table = colour.read_LUT(str(out))
            for kind, interpolator in BY_NAME.items():
                want = table.apply(colours, interpolator=interpolator)
                report(f"{name}, cube, {kind}", probe(binary, out, colours, "--interpolation", kind), want)
            report(f"{name}, CLF", probe(binary, xml, colours), clf_value(xml, colours))
            report(f"{name}, cube and CLF", probe(binary, xml, colours), probe(binary, out, colours))
            # The comparison itself: red and blue exchanged in the file must show.
            swapped = clf_value(xml, colours[:, ::-1])
            caught = np.abs(probe(binary, xml, colours) - swapped).max() > 1e-2
            failed += not caught
            print(f"{name}, CLF with red and blue exchanged: {'seen' if caught else 'NOT SEEN'}")
        colours = random.random((500, 3))
        curves, xml = folder / "curves.cube", folder / "chain.clf"
        write_curves(curves, 33)
        report("curves, cube", probe(binary, curves, colours), colour.read_LUT(str(curves)).apply(colours))
        subprocess.run([binary, "convert", curves, folder / "unit.cube", xml], check=True, stdout=subprocess.DEVNULL)
        report("curves and cube, CLF", probe(binary, xml, colours), clf_value(xml, colours))

        if shutil.which("ffmpeg"):
            # Within 0 to 1, as a Hald image is.
            tame = lambda v: (bend(v) - (-1, 1, 0.4)) / (2, 1, 1.4)
            for level in (2, 4):
                cube, hald = folder / f"hald{level}.cube", folder / f"hald{level}.png"
                write_cube(cube, level**2, ((0, 0, 0), (1, 1, 1)), tame)
                subprocess.run([binary, "convert", cube, hald], check=True, stdout=subprocess.DEVNULL)
                codes = random.integers(0, TOP + 1, (2000, 3))
                want = TOP * probe(binary, hald, codes / TOP, "--interpolation", "tetrahedral")
                got = through_hald(hald, codes)
                report(f"Hald image of {level**2} points, 16-bit codes, ffmpeg", got, want, HALD_CODES)
                report(f"Hald image of {level**2} points, cube and PNG", want,
                       TOP * probe(binary, cube, codes / TOP), 0.5 + TOP * CLOSE)
                swapped = through_hald(hald, codes[:, ::-1])
                caught = np.abs(swapped - want).max() > 100
                failed += not caught
                print(f"Hald image with red and blue exchanged: {'seen' if caught else 'NOT SEEN'}")
        else:
            print("Hald image: skipped: ffmpeg is missing")
            failed += bool(os.environ.get("CI"))
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
