"""Exposure cubes applied by ffmpeg's lut3d to a log ramp: the zone of each stop.

    python tests/reference/check/exposure_cubes.py RUSHLIGHT SHOW --camera NAME --ei N

The camera must be an S-Log3 one in full range. Every kind of cube is made at 33 and 65 points, with plain and soft edges. A
ramp of neutral steps, every whole stop and every tenth between, is encoded by colour-science's S-Log3 and goes through each
cube in ffmpeg, as 32-bit floats, by tetrahedral and trilinear interpolation. Every whole stop that has a zone must come out
nearest to that zone's colour, of all; every other step nearest to its own of the two zones at the edge beside it, wherever
the report says that the output has changed over. Needs ffmpeg, numpy and colour-science. Exit 0: all agree, or one of them is missing (1 where CI is set).
"""

import argparse
import json
import pathlib
import shutil
import subprocess
import tempfile
import warnings

from shows import has_module, need

need("ffmpeg", shutil.which("ffmpeg"))
need("numpy", has_module("numpy"))
need("colour-science", has_module("colour"))
warnings.filterwarnings("ignore")

import colour
import numpy as np
from ffmpeg_cubes import floats

assert colour.__version__ == "0.4.7", colour.__version__
INTERPOLATIONS = ("tetrahedral", "trilinear")
VARIANTS = [["--points", "33"], ["--points", "33", "--soft"], ["--points", "65"], ["--points", "65", "--soft"]]


def make(binary, given, options, out):
    kinds = [f"--kind={kind}" for kind in ("ladder", "key", "clip", "range")]
    command = [binary, "false-colour", given.show, "--camera", given.camera, "--ei", given.ei, *kinds, *options]
    run = subprocess.run([*command, "--out", out, "--json"], check=True, capture_output=True, text=True)
    return json.loads(run.stdout)["cubes"]


def check(cube, path, ramp, interpolation):
    """Steps of the ramp that come out in their zone, and how many were looked at."""
    signal = colour.log_encoding(0.18 * 2.0**ramp, function="S-Log3")
    out = floats(np.repeat(signal[:, None], 3, 1), path, interpolation)
    zones = cube["zones"]
    colours = [None if zone["light"] is None else np.array(zone["signal"]) for zone in zones]
    step = 1 / (cube["points"] - 1)
    edges = [(e["stops"], e["stops"] + e["errors"][INTERPOLATIONS.index(interpolation)]) for e in cube["edges"]["neutral"]]
    places = colour.log_encoding(0.18 * 2.0 ** np.array(edges), function="S-Log3")
    clip = cube["clip"]["signal"] if zones[-1]["name"] == "clip" else 2.0
    right = looked = 0
    for stops, value, rgb in zip(ramp, signal, out):
        wanted = max(i for i, zone in enumerate(zones) if zone["from"] is None or stops >= zone["from"] - 1e-9)
        whole = zones[wanted]["name"] == ("mid-grey" if stops == 0 else f"{stops:+g}")
        away = np.abs(value - places).min(axis=1)
        near, beside = away.min(), int(away.argmin())
        # The clip is marked from a node or so below it; an edge changes over where the report says, not where it should.
        if clip - 2 * step < value < clip or any(min(e) <= stops <= max(e) for e in edges):
            continue
        if colours[wanted] is None:
            # The grey picture: neutral, once the blend at the edge is over.
            if near < 1.5 * step:
                continue
            good = np.ptp(rgb) < 2e-6
        else:
            # Beside an edge the output is a blend of the two zones there; of these it must be nearer to its own.
            others = list(range(len(zones))) if whole or near > 1.5 * step else [beside, beside + 1]
            known = [i for i in others if colours[i] is not None]
            if near < 1.5 * step and len(known) < len(others):
                continue  # Against the picture, whose colour is not one.
            good = min(known, key=lambda i: np.linalg.norm(colours[i] - rgb)) == wanted
        looked += 1
        right += bool(good)
        if not good:
            print(f"     {stops:+.2f} stops, {zones[wanted]['name']}: {rgb}")
    return right, looked


if __name__ == "__main__":
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("binary", metavar="RUSHLIGHT")
    arguments.add_argument("show", metavar="SHOW")
    arguments.add_argument("--camera", required=True)
    arguments.add_argument("--ei", required=True)
    given = arguments.parse_args()
    all_good = True
    for options in VARIANTS:
        with tempfile.TemporaryDirectory() as out:
            for cube in make(given.binary, given, options, out):
                low, high = np.floor(cube["floor"]["stops"]) - 1, np.ceil(cube["clip"]["stops"]) + 1
                ramp = np.sort(np.concatenate([np.arange(low, high), np.arange(low + 0.05, high, 0.1)]))
                for interpolation in INTERPOLATIONS:
                    right, looked = check(cube, pathlib.Path(out) / cube["file"], ramp, interpolation)
                    good = right == looked and looked > len(ramp) / 3
                    all_good &= good
                    said = f"{right} of {looked} steps in their zone by {interpolation}"
                    print(f"{'ok  ' if good else 'FAIL'} {cube['file']}: {said}")
    raise SystemExit(0 if all_good else 1)
