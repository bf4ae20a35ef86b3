"""What the readers of baked cubes share: baking a show, its nodes, and what the exact pipeline says there."""

import importlib.util
import json
import os
import pathlib
import subprocess
import sys

DECIMALS = 5e-7  # half a unit of the sixth decimal, to which a cube's numbers are rounded


def need(what, there):
    """Without `there` the check is left out; under CI that is a failure."""
    if not there:
        print(f"skipped: {what} is missing")
        sys.exit(1 if os.environ.get("CI") else 0)


def has_module(name):
    return importlib.util.find_spec(name) is not None


def bake(binary, show, out, points=None):
    """Bakes every cube of the show; (path, manifest's record) of each."""
    size = ["--points", str(points)] if points else []
    command = [binary, "bake", str(show), "--out", str(out), "--json", *size]
    manifest = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    assert manifest["cubes"], "the show bakes nothing"
    return [(pathlib.Path(out) / cube["file"], cube) for cube in manifest["cubes"]]


def probe(binary, show, cube, colours):
    """Display signal by the exact pipeline, a row a colour."""
    pick = [f"--{what}={cube[what]}" for what in ("look", "camera", "display")]
    lines = "".join(f"{r!r} {g!r} {b!r}\n" for r, g, b in colours.tolist())
    command = [binary, "probe", str(show), *pick, "--json", "-"]
    answer = json.loads(subprocess.run(command, check=True, capture_output=True, text=True, input=lines).stdout)
    return [colour["out"] for colour in answer["colours"]]


def nodes(size):
    """The inputs of a cube's nodes over 0 to 1, red fastest (Cube LUT Specification 1.0, 7.2)."""
    import numpy as np

    axis = np.arange(size) / (size - 1)
    blue, green, red = np.meshgrid(axis, axis, axis, indexing="ij")
    return np.stack([red, green, blue], axis=-1).reshape(-1, 3)
