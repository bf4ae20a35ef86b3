"""Chains by ffmpeg and NumPy, checked by the program: what each was taken for.

    python tests/reference/check/chain.py RUSHLIGHT [--first SEED] [--count N] [--step N] [--faults 0|1|2] [--keep FOLDER]
    python tests/reference/check/chain.py RUSHLIGHT --short

A chart is played through what ffmpeg and NumPy do: cubes read by lut3d (nearest, trilinear, tetrahedral), ranges and
matrices by swscale, formats of 8 bits, swapped channels by shuffleplanes, transfers and knobs by NumPy; and captured as PNG, by H.264 at four rates, by
intra-only codecs of 10 bits, as MJPEG, cropped, padded or scaled. `rushlight chain check` must name each fault and no other.
Exit code 1 where it does not do so often enough: 98 % of chains with one fault, 90 % with two, and all with none. Even seeds
were looked at while the search was tuned, odd ones were not. `--short` runs a few of each kind in less than a minute; without
ffmpeg it is skipped, but fails where the environment has CI.

Sources: the filters are ffmpeg's own; transfers: IEC 61966-2-1:1999, and powers (common practice, no source).
"""

import argparse
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

import numpy as np

SIZE = (1280, 720)
NAME = "saltmarsh_night_r1_a_onset_33"
OTHERS = ["saltmarsh_day_r1_a_onset_33", "saltmarsh_night_r1_b_onset_33", "saltmarsh_night_r1_a_hdr_33"]


def run(*words, data=None):
    done = subprocess.run([str(w) for w in words], input=data, capture_output=True, check=False)
    if done.returncode:
        raise SystemExit(f"{' '.join(map(str, words))}\n{done.stderr.decode()}")
    return done.stdout


class Chain:
    """A picture on its way: float signal, red, green and blue, 0 to 1."""

    def __init__(self, picture):
        self.picture = picture

    def filter(self, filters):
        """Through filters of ffmpeg, 16 bits on both sides."""
        height, width, _ = self.picture.shape
        raw = np.round(self.picture * 65535).astype("<u2")[..., [1, 2, 0]].transpose(2, 0, 1).tobytes()
        size = ["-f", "rawvideo", "-pix_fmt", "gbrp16le", "-s", f"{width}x{height}"]
        out = run("ffmpeg", "-v", "error", *size, "-i", "-", "-vf", filters + ",format=gbrp16le", "-f", "rawvideo", "-", data=raw)
        planes = np.frombuffer(out, "<u2").reshape(3, height, width).astype(float) / 65535
        self.picture = planes[[2, 0, 1]].transpose(1, 2, 0)

    def change(self, function):
        self.picture = np.clip(function(self.picture), 0, 1)


ACCURATE = "flags=accurate_rnd+full_chroma_int+full_chroma_inp+bitexact"


def levels(kind):
    if kind == "squeezed":  # Full codes are made legal, and taken for full ones.
        return lambda c: c.filter(
            f"scale=out_color_matrix=bt709:out_range=tv:{ACCURATE},format=yuv444p16le,setparams=range=pc:colorspace=bt709,"
            f"scale=in_color_matrix=bt709:in_range=pc:{ACCURATE}")
    return lambda c: c.filter(
        f"scale=out_color_matrix=bt709:out_range=pc:{ACCURATE},format=yuv444p16le,setparams=range=tv:colorspace=bt709,"
        f"scale=in_color_matrix=bt709:in_range=tv:{ACCURATE}")


def matrix(made, read):
    return lambda c: c.filter(
        f"scale=out_color_matrix={made}:out_range=tv:{ACCURATE},format=yuv444p16le,scale=in_color_matrix={read}:in_range=tv:{ACCURATE}")


def light(tag, v):
    if tag == "srgb":
        return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)
    return v**tag


def signal(tag, v):
    if tag == "srgb":
        return np.where(v <= 0.0031308, v * 12.92, 1.055 * np.maximum(v, 0) ** (1 / 2.4) - 0.055)
    return v ** (1 / tag)


def saturation(amount):
    def function(v):
        grey = (v @ np.array([0.2126, 0.7152, 0.0722]))[..., None]
        return grey + amount * (v - grey)
    return function


MATRICES = ["smpte170m", "bt709", "bt2020nc"]
TAGS = [1.96, 2.2, 2.4, "srgb"]


def side(draw, name):
    """A change on one side of the cube: its key and what does it."""
    kind = draw.choice(["levels", "matrix", "order", "tag", "eight"] + (["knob"] if name == "output" else []))
    if kind == "levels":
        which = draw.choice(["squeezed", "stretched"])
        return f"{name}-range-{which}", 1, levels(which)
    if kind == "matrix":
        return f"{name}-matrix", 0, matrix(*draw.sample(MATRICES, 2))
    if kind == "order":
        return f"{name}-channels", 2, lambda c: c.filter("format=gbrp16le,shuffleplanes=" + draw_order)\
            if (draw_order := draw.choice(["0:2:1", "1:0:2", "2:1:0", "1:2:0", "2:0:1"])) else None
    if kind == "tag":
        made, sent = draw.sample(TAGS, 2)
        return f"{name}-transfer", 3, lambda c: c.change(lambda v: signal(sent, light(made, v)))
    if kind == "eight":
        return f"{name}-8-bits", 8, lambda c: c.change(lambda v: np.round(v * 255) / 255)
    knob = draw.choice(["gain", "lift", "saturation"])
    amount = {
        "gain": draw.choice([draw.uniform(0.85, 0.95), draw.uniform(1.04, 1.15)]),
        "lift": draw.choice([draw.uniform(-0.08, -0.02), draw.uniform(0.02, 0.08)]),
        "saturation": draw.choice([draw.uniform(0.6, 0.9), draw.uniform(1.1, 1.4)]),
    }[knob]
    change = {"gain": lambda v: v * amount, "lift": lambda v: v + amount, "saturation": saturation(amount)}[knob]
    return f"output-{knob}", 5 + ["saturation", "gain", "lift"].index(knob), lambda c: c.change(change)


def faults(draw, count):
    """Faults of different places: key, place, what does it; those of the cube are names."""
    while True:
        found = []
        for _ in range(count):
            kind = draw.choice(["input", "input", "cube", "output", "output"])
            if kind == "cube":
                key = draw.choice(["no-cube", "cube-twice", "other-cube", "cube-before", "nearest"])
                found.append((key, 30 if key == "nearest" else 20, None))
            else:
                key, place, change = side(draw, kind)
                found.append((key, place + (40 if kind == "output" else 0), change))
        keys = [f[0] for f in found]
        if len({f[1] for f in found}) == count and not ("no-cube" in keys and any(k.startswith("input") or k == "nearest" for k in keys)):
            return found


CAPTURES = {
    "png16": None, "png8": None,
    "h264-12": ["-c:v", "libx264", "-crf", "12", "-pix_fmt", "yuv420p"], "h264-18": ["-c:v", "libx264", "-crf", "18", "-pix_fmt", "yuv420p"],
    "h264-24": ["-c:v", "libx264", "-crf", "24", "-pix_fmt", "yuv420p"], "h264-30": ["-c:v", "libx264", "-crf", "30", "-pix_fmt", "yuv420p"],
    "intra-10": ["-c:v", "dnxhd", "-profile:v", "dnxhr_hqx", "-pix_fmt", "yuv422p10le"], "ffv1-10": ["-c:v", "ffv1", "-pix_fmt", "gbrp10le"],
    "mjpeg": ["-c:v", "mjpeg", "-q:v", "3", "-pix_fmt", "yuvj422p", "-strict", "-1"],
}
SHAPES = ["", "", "crop=in_w-32:in_h-18:16:8", "pad=in_w+100:in_h+64:40:30", "scale=960:540:flags=lanczos", "scale=1920:1080:flags=bicubic"]


def capture(draw, chain, fine, folder):
    names = ["png16", "ffv1-10"] if fine else list(CAPTURES)
    name, shape = draw.choice(names), draw.choice(SHAPES)
    height, width, _ = chain.picture.shape
    top, kind = (255, "gbrp") if name == "png8" else (65535, "gbrp16le")
    raw = np.round(chain.picture * top).astype("u1" if name == "png8" else "<u2")[..., [1, 2, 0]].transpose(2, 0, 1).tobytes()
    codec = CAPTURES[name]
    if codec is None:
        end = ["-frames:v", "1", "-pix_fmt", "rgb24" if name == "png8" else "rgb48be"]
        file = folder / "capture.png"
        last = ""
    else:
        end = codec
        file = folder / ("capture.mkv" if "ffv1" in name else "capture.mov")
        full = "mjpeg" in name
        # JPEG has the matrix of BT.601 always (JFIF 1.02).
        matrix = "smpte170m" if full else "bt709"
        last = "" if "ffv1" in name else f"scale=out_color_matrix={matrix}:out_range={'pc' if full else 'tv'}:{ACCURATE},format={codec[codec.index('-pix_fmt') + 1]},setparams=colorspace={matrix}:range={'pc' if full else 'tv'}"
    filters = ",".join(f for f in [shape, last] if f) or "null"
    run("ffmpeg", "-v", "error", "-y", "-f", "rawvideo", "-pix_fmt", kind, "-s", f"{width}x{height}", "-i", "-", "-vf", filters, *end, file, data=raw)
    return name + (" " + shape.split("=")[0] if shape else ""), file


def one(seed, count, chart, cubes, show, program, folder):
    draw = random.Random(seed)
    wrong = faults(draw, count)
    keys = [key for key, _, _ in wrong]
    interpolation = "nearest" if "nearest" in keys else draw.choice(["trilinear", "tetrahedral"])
    other = cubes[draw.choice(OTHERS)]
    chain = Chain(chart)
    for key, _, change in sorted((f for f in wrong if f[0].startswith("input")), key=lambda f: f[1]):
        change(chain)
    through = {"no-cube": [], "cube-twice": [cubes[NAME]] * 2, "other-cube": [other], "cube-before": [other, cubes[NAME]]}
    path = next((through[k] for k in keys if k in through), [cubes[NAME]])
    for cube in path:
        chain.filter(f"lut3d=file={cube}:interp={interpolation}")
    for key, _, change in sorted((f for f in wrong if f[0].startswith("output")), key=lambda f: f[1]):
        change(chain)
    fine = any("8-bits" in key for key in keys)
    name, file = capture(draw, chain, fine, folder)
    words = [program, "chain", "check", show, "--look", "night", "--camera", "a", "--display", "onset", file, "--format", "json"]
    done = subprocess.run([str(w) for w in words], capture_output=True, check=False)
    if not done.stdout:
        return keys, ["failed: " + done.stderr.decode().strip()], name, 2
    found = json.loads(done.stdout)["captures"][0]
    said = [f["key"] for f in found["faults"]] or ([] if found["verdict"] == "right" else [found["verdict"]])
    return keys, said, name, done.returncode


# Faults at once, and how many chains have so many.
SHORT = [(0, 2), (1, 8), (2, 3)]


def held(args, count, faults, stage):
    """Whether the program names the faults of so many chains often enough."""
    folder = stage[-1]
    right, table = 0, Counter()
    for i in range(count):
        seed = args.first + i * args.step
        for file in folder.glob("capture.*"):
            file.unlink()
        keys, said, name, _ = one(seed, faults, *stage)
        is_right = sorted(keys) == sorted(said)
        right += is_right
        table[(" + ".join(sorted(keys)) or "right", is_right)] += 1
        if not is_right:
            print(f"{seed} ({name}): {' + '.join(sorted(keys)) or 'right'} -> {' + '.join(sorted(said)) or 'right'}", flush=True)
            for file in folder.glob("capture.*") if args.keep else []:
                args.keep.mkdir(parents=True, exist_ok=True)
                (args.keep / f"{seed}{file.suffix}").write_bytes(file.read_bytes())
    print(f"{right} of {count} chains with {faults} faults named right ({100 * right / count:.1f} %)", flush=True)
    for truth in sorted({t for t, _ in table}) if not args.short else []:
        print(f"{truth:44} {table[(truth, True)] + table[(truth, False)]:4} {table[(truth, True)]:4}")
    return right >= {0: 1.0, 1: 0.98, 2: 0.9}[faults] * count


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("rushlight", type=Path)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=40)
    parser.add_argument("--step", type=int, default=1)
    parser.add_argument("--faults", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="folder for the captures that were not named right")
    parser.add_argument("--short", action="store_true", help="a few chains with none, one and two faults")
    args = parser.parse_args()
    if shutil.which("ffmpeg") is None:
        print("chain.py: skipped: there is no ffmpeg")
        sys.exit(1 if os.environ.get("CI") or not args.short else 0)
    program = args.rushlight.resolve()
    show = Path(__file__).resolve().parents[3] / "fixtures/demo/show.toml"
    with tempfile.TemporaryDirectory() as work:
        folder = Path(work)
        run(program, "bake", show, "--out", folder / "cubes")
        run(program, "chain", "chart", show, "--look", "night", "--camera", "a", "--display", "onset", "--size", "x".join(map(str, SIZE)), "--out", folder)
        cubes = {path.stem: path for path in (folder / "cubes").glob("*.cube")}
        raw = run("ffmpeg", "-v", "error", "-i", folder / f"{NAME}_chart_{SIZE[0]}x{SIZE[1]}.png", "-f", "rawvideo", "-pix_fmt", "rgb48le", "-")
        chart = np.frombuffer(raw, "<u2").reshape(SIZE[1], SIZE[0], 3).astype(float) / 65535
        runs = SHORT if args.short else [(args.faults, args.count)]
        is_held = [held(args, count, faults, (chart, cubes, show, program, folder)) for faults, count in runs]
    sys.exit(0 if all(is_held) else 1)


if __name__ == "__main__":
    main()
