"""Kills a release build at random moments, a thousand times over, while it does each thing that writes files.

    python tests/reference/kills.py target/release/rushlight [KILLS of each command, 250] [COMMAND...]

After every kill each file is that of the run before or that of the run that was killed, whole; a hand-off is there whole or
not at all. In the end nothing half-written is left beside them. Nothing but the standard library is needed; commands on clips
need ffmpeg, and are passed over without it.
"""

import random
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures" / "demo"


def tree(folder):
    """Every file in a folder but what is unfinished, by name."""
    files = (f for f in folder.rglob("*") if f.is_file())
    return {str(f.relative_to(folder)): f.read_bytes() for f in files if ".rushlight-" not in str(f.relative_to(folder))}


def unfinished(folder):
    return sum(1 for f in folder.rglob(".rushlight-*"))


class Killer:
    def __init__(self, program, folder, seed):
        self.program, self.folder, self.random = program, folder, random.Random(seed)
        self.kills = self.late = self.left = 0

    def run(self, args):
        start = time.monotonic()
        subprocess.run([self.program, *args], cwd=self.folder, check=True, stdout=subprocess.DEVNULL)
        return time.monotonic() - start

    def kill(self, args, whole):
        # As often towards the end, where the files get their names, as before it.
        share = self.random.random() if self.random.random() < 0.5 else self.random.uniform(0.8, 1.0)
        child = subprocess.Popen([self.program, *args], cwd=self.folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(whole * share)
        child.kill()
        self.kills += 1
        self.late += child.wait() == 0


def folder_of_files(killer, name, runs, out, count):
    """`runs` write files of the same names and other bytes into `out`."""
    out.mkdir(exist_ok=True)
    whole, states = 0.0, []
    for run in runs:
        whole = max(whole, killer.run(run))
        states.append(tree(out))
    assert states[0].keys() == states[1].keys() and states[0] != states[1], f"{name}: two states of the same names"
    for n in range(count):
        killer.kill(runs[n % 2], whole)
        for file, data in tree(out).items():
            assert data in (states[0].get(file), states[1].get(file)), f"{name}, kill {n}: {file} is neither old nor new"
        assert tree(out).keys() == states[0].keys(), f"{name}, kill {n}: a file is gone"
    killer.left = max(killer.left, unfinished(out))
    killer.run(runs[0])
    assert unfinished(out) == 0, f"{name}: {unfinished(out)} left unfinished"


def ratings(killer, count):
    run = ["measure", "--list", "brackets/a.csv", "--show", "show.toml", "--camera", "a", "--write"]
    show = killer.folder / "show.toml"
    old = show.read_bytes()
    whole = killer.run(run)
    new = show.read_bytes()
    assert old != new
    for n in range(count):
        killer.kill(run, whole)
        assert show.read_bytes() in (old, new), f"ratings, kill {n}: neither the old nor the new show"
        show.write_bytes(old)
    killer.run(run)
    assert unfinished(killer.folder) == 0


def package(killer, count):
    # A hand-off of one look and one size, so that a thousand take minutes.
    folder, zip_file = killer.folder / "sent", killer.folder / "sent.zip"
    run = ["package", "small.toml", "--out", "sent", "--zip", "sent.zip"]
    whole = killer.run(run)
    want, want_zip = tree(folder), zip_file.read_bytes()
    for n in range(count):
        shutil.rmtree(folder, ignore_errors=True)
        killer.kill(run, whole)
        assert not folder.exists() or tree(folder) == want, f"package, kill {n}: a hand-off that is not whole"
        assert zip_file.read_bytes() == want_zip, f"package, kill {n}: a .zip that is not whole"
    shutil.rmtree(folder, ignore_errors=True)
    killer.left = max(killer.left, unfinished(killer.folder))
    killer.run(run)
    assert unfinished(killer.folder) == 0, "package: something unfinished is left"


def shows(folder):
    show = (folder / "show.toml").read_text()
    # A second show with the same names and other bytes, and two that are soon packaged.
    other = show.replace('curve = "slog3"', 'curve = "logc4"', 1)
    assert other != show
    (folder / "other.toml").write_text(other)
    for name, curve in (("small", "slog3"), ("smaller", "logc4")):
        small = ["schema = 1", 'title = "Small"', "[cameras.a]", f'curve = "{curve}"', 'gamut = "sgamut3-cine"']
        small += ["[displays.onset]", 'standard = "bt709"', "[looks]", 'day = "looks/day.toml"', "[[bake]]", "points = 9"]
        (folder / f"{name}.toml").write_text("\n".join(small) + "\n")


def commands(folder):
    """Two runs of each command that write the same names and other bytes, the folder that they write into, and what divides
    the number of kills of those that take long."""
    for n in range(6):
        shutil.copy(folder / "brackets" / "a_1600_01.png", folder / f"f.{n:04}.png")
    pick = ["--look", "day", "--camera", "a", "--display", "onset"]
    both = ("9", "5")
    yield "bake", [["bake", f, "--points", "17", "--no-audit", "--out", "cubes"] for f in ("show.toml", "other.toml")], "cubes", 1
    stills = ["f.####.png", "stills/o.####.png"]
    yield "apply", [["apply", "small.toml", *pick, "--points", p, *stills] for p in both], "stills", 1
    colours = ["--kind", "clip", "--points", "33", "--out", "colours"]
    yield "false-colour", [["false-colour", f, *colours] for f in ("small.toml", "smaller.toml")], "colours", 1
    yield "sheet", [["sheet", f, "--out", "sheets/s.html"] for f in ("small.toml", "smaller.toml")], "sheets", 2
    made = sorted(f.name for f in (folder / "cubes").glob("*.cube"))[:2]
    yield "convert", [["convert", f"cubes/{f}", "clf/c.clf"] for f in made], "clf", 1
    yield "diff", [["diff", "looks/day.toml", f"looks/{f}.toml", "--camera", "slog3+sgamut3-cine", "--display", "bt709",
                    "--format", "json=diffs/d.json", "--exit-zero"] for f in ("night", "day")], "diffs", 1
    yield "inspect", [["inspect", f"cubes/{f}", "--plot", "plots/p.svg"] for f in made], "plots", 1
    if shutil.which("ffmpeg"):
        clip = [["apply", "small.toml", *pick, "--points", p, "f.####.png", "clips/o.mp4", "--encoder", "small"] for p in both]
        yield "sequence to clip", clip, "clips", 5
        clip = [["apply", "small.toml", *pick, "--points", p, "clips/o.mp4", "again/o.mp4", "--encoder", "small"] for p in both]
        yield "clip", clip, "again", 5
        clip = [["apply", "small.toml", *pick, "--points", p, "clips/o.mp4", "frames/o.####.png"] for p in both]
        yield "clip to sequence", clip, "frames", 5


def main():
    program = str(Path(sys.argv[1]).resolve())
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 250
    wanted = sys.argv[3:]
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "demo"
        shutil.copytree(FIXTURES, folder)
        shows(folder)
        killer = Killer(program, folder, 1)
        start = time.monotonic()

        def said(name):
            minutes = (time.monotonic() - start) / 60
            print(f"{name}: {killer.kills} kills so far, {killer.late} of them after the end, {minutes:.1f} min", flush=True)

        if not wanted or "measure" in wanted:
            ratings(killer, count)
            said("measure")
        for name, runs, out, less in commands(folder):
            if wanted and name not in wanted:
                killer.run(runs[0])
                continue
            folder_of_files(killer, name, runs, folder / out, count // less)
            said(name)
        if not wanted or "package" in wanted:
            package(killer, count)
        minutes = (time.monotonic() - start) / 60
        print(
            f"{killer.kills} kills in {minutes:.1f} min: every file whole, the old or the new; "
            f"{killer.late} came after the end, {killer.left} unfinished files at most, all taken away by the next run"
        )


if __name__ == "__main__":
    main()
