"""A show of many cameras, displays and shots, made for it: what `bake`, `stress`, `sheet` and `package` cost, and how that grows.

    python3 benches/scale.py RUSHLIGHT [--part 1/10 ...] [--displays N] [--only bake,stress,shots,package,zip,apply] [--keep]

The whole is a show of 60 cameras and set-ups of cameras, 12 displays, two looks and 4000 shots with a correction each; a part
of it has that part of the cameras and of the shots, and all displays or the first N. Per command: wall-clock time, processor
time, the most memory that it held at once, and the files that it wrote. Each part is one line of a table in Markdown; the
last line says what the whole would cost if the largest part, and no more, were repeated. `zip` is a hand-off as one file.
`apply` puts a look on UHD frames of 10 bits, which ffmpeg makes: processor time of a frame for each format of the output,
and what it comes to for 100 TB of such frames. --dir DIR says where it works. Nothing but the standard library is needed,
and ffmpeg for `apply`.
"""

import argparse
import fractions
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

CAMERAS, SHOTS = 60, 4000
# Built-in encodings with gamuts that go with them; a set-up is one of them with another white.
ENCODINGS = [("slog3", "sgamut3-cine"), ("logc4", "awg4"), ("logc3", "awg3"), ("vlog", "vgamut"), ("canon-log2", "cinema-gamut"),
             ("log3g10", "redwidegamut"), ("nlog", "ngamut"), ("flog2", "fgamut"), ("slog3", "sgamut3"), ("dlog", "dgamut")]
WHITES = [5600, 3200, 4300, 6500, 2900, 5000]
DISPLAYS = [("bt709", None), ("srgb", None), ("p3-d65", None), ("p3-dci", None), ("bt2020", None), ("bt2100-pq", 1000),
            ("bt2100-pq", 600), ("bt2100-pq", 2000), ("bt2100-pq", 4000), ("bt2100-hlg", 1000), ("bt709", 120), ("p3-d65", 100)]
DEMO = Path(__file__).resolve().parents[1] / "fixtures/demo"


def camera(number):
    return f"c{number // len(WHITES) + 1:02}-{WHITES[number % len(WHITES)]}k"


def make(folder, cameras, shots, displays=len(DISPLAYS)):
    """A show in a folder that is not there."""
    shutil.copytree(DEMO / "looks", folder / "looks")
    text = ["schema = 1", 'title = "Saltmarsh, all of it"', ""]
    for number in range(cameras):
        curve, gamut = ENCODINGS[number // len(WHITES) % len(ENCODINGS)]
        text += [f"[cameras.{camera(number)}]", f'curve = "{curve}"', f'gamut = "{gamut}"', 'range = "full"',
                 f"white = {{ kelvin = {WHITES[number % len(WHITES)]} }}", ""]
    for number, (standard, peak) in enumerate(DISPLAYS[:displays]):
        text += [f"[displays.d{number + 1:02}]", f'standard = "{standard}"', 'range = "full"']
        text += [f"peak = {peak}", ""] if peak else [""]
    text += ["[looks]", 'night = "looks/night.toml"', 'day = "looks/day.toml"', ""]
    text += ["[cdl]", 'order = "after-compress"', 'space = "acescct"', "clamp = false", ""]
    # Each camera has its shots in a list of its own, half of the cameras at night.
    for number in range(cameras):
        mine = range(number, shots, cameras)
        if not mine:
            continue
        rows = ["Name,ASC_SOP,ASC_SAT"]
        for shot in mine:
            step = [(shot * prime % 101 - 50) / 1000 for prime in (7, 11, 13)]
            numbers = [" ".join(f"{base + s * scale:.4f}" for s in step) for base, scale in ((1, 1), (0, 0.2), (1, 0.5))]
            rows.append(f'{shot // 8 + 1}-{shot % 8 + 1},{"".join(f"({n})" for n in numbers)},{0.9 + shot % 20 / 100:.2f}')
        (folder / f"{camera(number)}.csv").write_text("\n".join(rows) + "\n")
        text += ["[[shots]]", f'list = "{camera(number)}.csv"', f'look = "{("night", "day")[number % 2]}"',
                 f'camera = "{camera(number)}"', ""]
    (folder / "show.toml").write_text("\n".join(text))


def measured(command, folder):
    """Wall-clock and processor time in seconds, the most memory in bytes; ends where the command failed."""
    start = time.monotonic()
    process = subprocess.Popen(command, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    said = process.stderr.read()
    _, status, usage = os.wait4(process.pid, 0)
    # A look that breaks on a display is a finding (1), and no failure.
    if os.waitstatus_to_exitcode(status) not in (0, 1):
        sys.exit(f"{' '.join(map(str, command))}: {said.decode()}")
    return time.monotonic() - start, usage.ru_utime + usage.ru_stime, usage.ru_maxrss * 1024


def written(path):
    files = [f for f in path.rglob("*") if f.is_file()] if path.is_dir() else [path] * path.exists()
    return len(files), sum(f.stat().st_size for f in files)


def line(command, part, what, wall, processor, memory, files, size):
    print(f"| {command} | {part} | {what} | {wall:.0f} s | {processor:.0f} s | {memory / 2**20:.0f} MiB | {files} | "
          f"{size / 1e9:.2f} GB |", flush=True)


def apply(rushlight, home, count):
    folder = home / "apply"
    make(folder, 1, 0)
    source = "gradients=s=3840x2160:d=60:r=24:speed=0.05,format=gbrp10le,noise=alls=6:allf=t"
    subprocess.run(["ffmpeg", "-v", "error", "-nostdin", "-f", "lavfi", "-i", source, "-frames:v", str(count), "-pix_fmt",
                    "gbrp10be", folder / "in.%04d.dpx"], check=True)
    size = (folder / "in.0001.dpx").stat().st_size
    print("| output | processor time of a frame | of 100 TB | memory | size of a frame |")
    print("| --- | ---: | ---: | ---: | ---: |")
    for ending in ("dpx", "exr", "tif", "png"):
        arguments = ["apply", "show.toml", "--look", "night", "--camera", camera(0), "--display", "d01", "in.####.dpx"]
        _, processor, memory = measured([rushlight, *arguments, f"out.####.{ending}"], folder)
        each = processor / count
        out = (folder / f"out.0001.{ending}").stat().st_size
        hours = each * 100e12 / size / 3600
        print(f"| {ending} | {each:.2f} s | {hours:.0f} h | {memory / 2**20:.0f} MiB | {out / 1e6:.1f} MB |", flush=True)
    shutil.rmtree(folder)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("rushlight", type=Path)
    parser.add_argument("--part", nargs="+", type=fractions.Fraction, default=[fractions.Fraction(1, 10)])
    parser.add_argument("--dir", type=Path)
    parser.add_argument("--only", default="bake,stress,shots,package")
    parser.add_argument("--displays", type=int, default=len(DISPLAYS))
    parser.add_argument("--frames", type=int, default=12, help="for apply")
    parser.add_argument("--keep", action="store_true", help="keep what was made")
    options = parser.parse_args()
    rushlight = options.rushlight.resolve()
    home = Path(options.dir or tempfile.mkdtemp(prefix="rushlight-scale-"))
    commands = {
        "bake": (["bake", "show.toml", "--out", "cubes"], "cubes"),
        "stress": (["stress", "show.toml", "--format", "html=stress.html"], "stress.html"),
        "shots": (["bake", "show.toml", "--shots", "--display", "d01", "--out", "shots"], "shots"),
        "package": (["package", "show.toml", "--no-stress", "--out", "hand-off"], "hand-off"),
        "zip": (["package", "show.toml", "--no-stress", "--zip", "hand-off.zip"], "hand-off.zip"),
    }
    chosen = options.only.split(",")
    if "apply" in chosen:
        chosen.remove("apply")
        apply(rushlight, home, options.frames)
    if not chosen:
        return
    print("| command | part | cameras, cubes of looks, shots | wall-clock | processor | memory | files | size |")
    print("| --- | ---: | --- | ---: | ---: | ---: | ---: | ---: |")
    for name in chosen:
        arguments, out = commands[name]
        last = None
        for part in sorted(options.part):
            cameras, shots = max(1, round(CAMERAS * part)), max(1, round(SHOTS * part))
            folder = home / f"{name}-{part.numerator}-{part.denominator}"
            make(folder, cameras, shots, options.displays)
            found = (*measured([rushlight, *arguments], folder), *written(folder / out))
            line(name, part, f"{cameras}, {cameras * options.displays * 2}, {shots}", *found)
            last = part, found
            if not options.keep:
                shutil.rmtree(folder)
        part, (wall, processor, memory, files, size) = last
        times = 1 / part
        line(name, "all, extrapolated", f"{CAMERAS}, {CAMERAS * options.displays * 2}, {SHOTS}", float(wall * times),
             float(processor * times), memory, round(files * times), float(size * times))
    if not options.keep and not options.dir:
        shutil.rmtree(home)


main()
