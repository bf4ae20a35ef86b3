#!/usr/bin/env python3
"""Frames a second of `apply` on raw clips against a plain copy through the same pipes.

    python3 benches/pipes.py RUSHLIGHT SHOW [--frames N] [--rounds N] [--folder DIR] [--only WORDS]

ffmpeg makes a UHD clip of raw 16-bit planes of red, green and blue in a folder in memory. Three runs take turns: `apply` with a
33-point cube, to raw planes again; the same two ffmpegs with a program between them that only copies (`cat`); and ffmpeg alone,
from file to file. Then the same frames without ffmpeg: `apply --raw` between two `cat`, a third `cat` in its place, and `apply --raw`
to nowhere. Then from a file to a file without a pipe: `apply --raw < in > out`, against `cat < in > out`. The best of the
rounds counts. Needs ffmpeg; the clips take 50 MB a frame.
"""

import argparse
import pathlib
import subprocess
import tempfile
import time

ARGUMENTS = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
ARGUMENTS.add_argument("binary", type=pathlib.Path)
ARGUMENTS.add_argument("show", type=pathlib.Path)
ARGUMENTS.add_argument("--frames", type=int, default=48)
ARGUMENTS.add_argument("--rounds", type=int, default=3)
ARGUMENTS.add_argument("--folder", default="/dev/shm")
ARGUMENTS.add_argument("--only", metavar="WORDS", help="only the runs whose title has them")
SIZE, LAYOUT = "3840x2160", "gbrp16le"


def timed(run, out):
    out.unlink(missing_ok=True)
    start = time.perf_counter()
    run()
    seconds = time.perf_counter() - start
    assert out.stat().st_size > 0
    return seconds


def main():
    given = ARGUMENTS.parse_args()
    with tempfile.TemporaryDirectory(dir=given.folder) as name:
        folder = pathlib.Path(name)
        source, out, cubes = folder / "in.nut", folder / "out.nut", folder / "cubes"
        quiet = ["ffmpeg", "-nostdin", "-v", "error", "-y"]
        raw = ["-c:v", "rawvideo", "-pix_fmt", LAYOUT]
        pattern = f"testsrc2=size={SIZE}:rate=24,noise=alls=12:allf=t"
        subprocess.run([*quiet, "-f", "lavfi", "-i", pattern, "-frames:v", str(given.frames), *raw, source], check=True)
        pick = ["--look", "night", "--camera", "a", "--display", "onset"]
        subprocess.run([given.binary, "bake", given.show, *pick, "--points", "33", "--no-audit", "--out", cubes],
                       check=True, stdout=subprocess.DEVNULL)
        (cube,) = cubes.glob("*.cube")
        apply = [given.binary, "apply", "--cube", cube, "--encoder", "rawvideo", "--pixels", LAYOUT, source, out]
        plane = ["-f", "rawvideo", "-pix_fmt", LAYOUT]

        def ours():
            subprocess.run(apply, check=True, stdout=subprocess.DEVNULL)

        def copy():
            decoder = subprocess.Popen([*quiet, "-i", source, *plane, "pipe:1"], stdout=subprocess.PIPE)
            between = subprocess.Popen(["cat"], stdin=decoder.stdout, stdout=subprocess.PIPE)
            encoder = [*quiet[:1], "-v", "error", "-y", *plane, "-video_size", SIZE, "-framerate", "24", "-i", "pipe:0"]
            subprocess.run([*encoder, *raw, out], stdin=between.stdout, check=True)
            assert decoder.wait() == 0 and between.wait() == 0

        def alone():
            subprocess.run([*quiet, "-i", source, *raw, out], check=True)

        planes = folder / "in.raw"
        subprocess.run([*quiet, "-i", source, *plane, planes], check=True)
        piped = [given.binary, "apply", "--cube", cube, "-", "-", "--raw", f"{SIZE}:{LAYOUT}"]

        def between(command):
            first = subprocess.Popen(["cat", planes], stdout=subprocess.PIPE)
            middle = subprocess.Popen(command, stdin=first.stdout, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
            with out.open("wb") as file:
                subprocess.run(["cat"], stdin=middle.stdout, stdout=file, check=True)
            assert first.wait() == 0 and middle.wait() == 0

        def nowhere():
            with planes.open("rb") as frames:
                subprocess.run(piped, stdin=frames, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=True)
            out.write_bytes(b"-")

        def files(command):
            with planes.open("rb") as frames, out.open("wb") as file:
                subprocess.run(command, stdin=frames, stdout=file, stderr=subprocess.DEVNULL, check=True)

        ffmpegs = {"apply, 33 points": ours, "plain copy": copy, "ffmpeg alone": alone}
        raws = {"apply --raw": lambda: between(piped), "plain copy": lambda: between(["cat"]), "apply --raw to null": nowhere}
        direct = {"apply --raw": lambda: files(piped), "plain copy": lambda: files(["cat"])}
        groups = {"between two ffmpegs": ffmpegs, "raw frames, between two cats": raws, "raw frames, file to file": direct}
        if given.only:
            groups = {title: runs for title, runs in groups.items() if given.only in title}
        for title, runs in groups.items():
            best = {what: float("inf") for what in runs}
            for _ in range(given.rounds):
                for what, run in runs.items():
                    best[what] = min(best[what], timed(run, out))
            print(title)
            for what, seconds in best.items():
                share = best["plain copy"] / seconds
                print(f"  {what:<20}{given.frames / seconds:7.1f} frames a second {share:7.0%} of the plain copy")


main()
