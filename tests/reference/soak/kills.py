"""Kills a release build at random moments, while it does each thing that writes files.

    python tests/reference/soak/kills.py target/release/rushlight [KILLS of each command, 500] [COMMAND...]

After every kill each file is that of the run before or that of the run that was killed, whole; a hand-off is there whole or
not at all; a document that `preview` saves is the old or the new one. In the end nothing half-written is left beside them.
Nothing but the standard library is needed; commands on clips need ffmpeg, and are passed over without it. Each command works
on a show, frames and cubes so small that a run takes some hundredths of a second.
"""

import http.client
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

FIXTURES = Path(__file__).resolve().parents[3] / "fixtures" / "demo"
# What a run may end with: good, or a limit that was exceeded.
RAN = (0, 1)


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
        done = subprocess.run([self.program, *args], cwd=self.folder, capture_output=True, text=True)
        assert done.returncode in RAN, f"{args}: {done.stderr}"
        return time.monotonic() - start

    def share(self):
        # As often towards the end, where the files get their names, as before it.
        return self.random.random() if self.random.random() < 0.5 else self.random.uniform(0.8, 1.0)

    def kill(self, args, whole):
        child = subprocess.Popen([self.program, *args], cwd=self.folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(whole * self.share())
        child.kill()
        self.kills += 1
        self.late += child.wait() in RAN


def folder_of_files(killer, name, runs, out, count):
    """`runs` write files of the same names and other bytes into `out`."""
    out.mkdir(exist_ok=True)
    whole, states = 1e9, []
    for run in [*runs, *runs]:
        whole = min(whole, killer.run(run))
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
    """Into a show, which stays beside them."""
    run = ["measure", "--list", "brackets/few.csv", "--show", "show.toml", "--camera", "a", "--write"]
    show = killer.folder / "show.toml"
    old = show.read_bytes()
    whole = killer.run(run)
    new = show.read_bytes()
    assert old != new
    for n in range(count):
        show.write_bytes(old)
        killer.kill(run, whole)
        assert show.read_bytes() in (old, new), f"measure --write, kill {n}: neither the old nor the new show"
    show.write_bytes(old)
    killer.left = max(killer.left, unfinished(killer.folder))
    killer.run(run)
    assert unfinished(killer.folder) == 0
    show.write_bytes(old)


def package(killer, count):
    folder, zip_file = killer.folder / "sent", killer.folder / "sent.zip"
    run = ["package", "small.toml", "--no-stress", "--out", "sent", "--zip", "sent.zip"]
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


def init(killer, count):
    """A show that is new: each file is whole or not there, and the next run makes what is missing."""
    folder = killer.folder / "begun"
    run = ["init", "begun"]
    whole = killer.run(run)
    want = tree(folder)
    for n in range(count):
        # Every other time upon what the last kill left, where that is no whole show.
        if n % 2 == 0 or (folder / "show.toml").exists():
            shutil.rmtree(folder, ignore_errors=True)
        killer.kill(run, whole)
        for file, data in (tree(folder) if folder.exists() else {}).items():
            assert data == want[file], f"init, kill {n}: {file} is not whole"
    killer.left = max(killer.left, unfinished(folder))
    if not (folder / "show.toml").exists():
        killer.run(run)
    assert tree(folder) == want and unfinished(folder) == 0, "init: not what a whole run makes"


class Server:
    """`preview`, as its page asks it."""

    def __init__(self, killer, state):
        environment = {**os.environ, "XDG_STATE_HOME": str(state)}
        command = [killer.program, "preview", "small.toml", "--no-open"]
        self.child = subprocess.Popen(command, cwd=killer.folder, env=environment, stdout=subprocess.PIPE, text=True)
        address = next(line for line in self.child.stdout if line.startswith("http://")).strip().rstrip("/")
        self.host, self.token = address.removeprefix("http://").split("/", 1)

    def ask(self, method, path, body=None):
        connection = http.client.HTTPConnection(self.host, timeout=20)
        headers = {"Origin": f"http://{self.host}", "Content-Type": "application/json"}
        connection.request(method, f"/{self.token}/api/{path}", json.dumps(body) if body else None, headers)
        answer = connection.getresponse()
        data = answer.read()
        assert answer.status == 200, data
        return json.loads(data)

    def edited(self, amount):
        look = self.ask("GET", "looks/day")
        step = next(n for n, step in enumerate(look["steps"]) if "amount" in step["values"])
        edit = {"op": "set", "step": step, "key": "amount", "value": amount, "version": look["version"]}
        return self.ask("POST", "looks/day/edit", edit)["version"]

    def end(self):
        self.child.kill()
        self.child.wait()
        self.child.stdout.close()


def preview(killer, count):
    """The look that is saved is the old or the new one, and an edit that was answered is saved or offered again."""
    look, state = killer.folder / "looks" / "day.toml", killer.folder / "state"
    old = look.read_bytes()
    try:
        server = Server(killer, state)
        version = server.edited(1.06)
        start = time.monotonic()
        server.ask("POST", "looks/day/save", {"version": version})
        whole = time.monotonic() - start
        server.end()
        new = look.read_bytes()
        assert old != new
        for n in range(count):
            look.write_bytes(old)
            shutil.rmtree(state, ignore_errors=True)
            server = Server(killer, state)
            version = server.edited(1.06)
            saved = []

            def save():
                try:
                    saved.append(server.ask("POST", "looks/day/save", {"version": version}))
                except (OSError, http.client.HTTPException):
                    pass

            asker = threading.Thread(target=save)
            asker.start()
            time.sleep(whole * killer.random.random())
            server.end()
            asker.join()
            killer.kills += 1
            killer.late += bool(saved)
            there = look.read_bytes()
            assert there in (old, new), f"preview, kill {n}: neither the old nor the new look"
            assert there == new or any(state.rglob("*.toml")), f"preview, kill {n}: the edit is neither saved nor kept"
        killer.left = max(killer.left, unfinished(look.parent))
        look.write_bytes(old)
        shutil.rmtree(state, ignore_errors=True)
        server = Server(killer, state)
        server.ask("POST", "looks/day/save", {"version": server.edited(1.06)})
        server.end()
        assert unfinished(look.parent) == 0, "preview: something unfinished is left"
    finally:
        look.write_bytes(old)


def shows(folder):
    """Two small shows with the same names and other bytes, four frames, cubes and corrections of both, and a short bracket."""
    for name, curve in (("small", "slog3"), ("smaller", "logc4")):
        small = ["schema = 1", 'title = "Small"', "[cameras.a]", f'curve = "{curve}"', 'gamut = "sgamut3-cine"']
        small += ["[displays.onset]", 'standard = "bt709"', "[looks]", 'day = "looks/day.toml"', "[[bake]]", "points = 5"]
        (folder / f"{name}.toml").write_text("\n".join(small) + "\n")
    for n in range(1, 5):
        shutil.copy(folder / "brackets" / "a_1600_01.png", folder / f"f.{n:04}.png")
    corrections = (folder / "cdl" / "night1.ccc").read_text()
    other = corrections.replace("<Saturation>0.9", "<Saturation>0.8")
    assert other != corrections
    (folder / "cdl" / "other.ccc").write_text(other)
    rows = (folder / "brackets" / "a.csv").read_text().splitlines()
    few = [row for row in rows if row.startswith(("file,", "a_800"))]
    (folder / "brackets" / "few.csv").write_text("\n".join(few) + "\n")


def commands(folder, run):
    """Two runs of each command that write the same names and other bytes, the folder that they write into, and what divides
    the number of kills of those that take long. `run` does what a command needs beforehand."""
    both, points = ("small.toml", "smaller.toml"), ("9", "5")
    pick = ["--look", "day", "--camera", "a", "--display", "onset"]
    yield "bake", [["bake", f, "--no-audit", "--format", "cube,clf", "--out", "cubes"] for f in both], "cubes", 1
    stills = ["f.####.png", "stills/o.####.png"]
    yield "apply", [["apply", "small.toml", *pick, "--points", p, *stills] for p in points], "stills", 1
    colours = ["--kind", "clip", "--points", "9", "--out", "colours"]
    yield "false-colour", [["false-colour", f, *colours] for f in both], "colours", 1
    for f in both:
        run(["bake", f, "--no-audit", "--plain", "--force", "--out", f"{f}.cubes"])
    made = [next((folder / f"{f}.cubes").glob("*.cube")).relative_to(folder) for f in both]
    yield "convert", [["convert", f, "clf/c.clf"] for f in made], "clf", 1
    lists = [f"cdl/{f}.ccc" for f in ("night1", "other")]
    yield "convert to a folder", [["convert", f, "parts/"] for f in lists], "parts", 1
    yield "inspect", [["inspect", f, "--plot", "plots/p.svg"] for f in made], "plots", 1
    yield "camera", [["camera", f, "--out", "cards/a.svg"] for f in both], "cards", 1
    bracket = ["measure", "--list", "brackets/few.csv", "--curve", "slog3"]
    drawn = ["--plot", "measured/m.svg", "--fit", "measured/m.toml"]
    yield "measure --plot --fit", [[*bracket, "--card", c, *drawn] for c in ("0.18", "0.2")], "measured", 1
    tables = ["--format", "json=diffs/d.json", "--format", "html=diffs/d.html"]
    run(["bake", "small.toml", "--no-audit", "--points", "9", "--out", "finer"])
    finer = next((folder / "finer").glob("*.cube")).relative_to(folder)
    yield "diff", [["diff", made[0], f, "--exit-zero", *tables] for f in (finer, made[0])], "diffs", 1
    yield "sheet", [["sheet", f, "--out", "sheets/s.html"] for f in both], "sheets", 1
    found = ["--format", "json=found/s.json", "--format", "html=found/s.html"]
    yield "stress", [["stress", f, *found] for f in both], "found", 1
    if shutil.which("ffmpeg"):
        clip = [["apply", "small.toml", *pick, "--points", p, "f.####.png", "clips/o.mp4", "--encoder", "small"] for p in points]
        yield "sequence to clip", clip, "clips", 1
        clip = [["apply", "small.toml", *pick, "--points", p, "clips/o.mp4", "again/o.mp4", "--encoder", "small"] for p in points]
        yield "clip", clip, "again", 1
        clip = [["apply", "small.toml", *pick, "--points", p, "clips/o.mp4", "frames/o.####.png"] for p in points]
        yield "clip to sequence", clip, "frames", 1


def pages(killer, count):
    """Manual pages, in the place of older ones."""
    folder, run = killer.folder / "man", ["man", "--out", "man"]
    whole = killer.run(run)
    want = tree(folder)
    old = {name: b'.\\" older\n' + data for name, data in want.items()}
    for n in range(count):
        if n % 10 == 0:
            for name, data in old.items():
                (folder / name).write_bytes(data)
        killer.kill(run, whole)
        for name, data in tree(folder).items():
            assert data in (want[name], old[name]), f"man, kill {n}: {name} is neither old nor new"
        assert tree(folder).keys() == want.keys(), f"man, kill {n}: a page is gone"
    killer.left = max(killer.left, unfinished(folder))
    killer.run(run)
    assert tree(folder) == want and unfinished(folder) == 0, "man: something unfinished is left"


def main():
    program = str(Path(sys.argv[1]).resolve())
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 500
    wanted = sys.argv[3:]
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "demo"
        shutil.copytree(FIXTURES, folder)
        shows(folder)
        killer = Killer(program, folder, 1)
        begun = time.monotonic()

        def counted(name, act):
            if wanted and name not in wanted:
                return False
            kills, late, start = killer.kills, killer.late, time.monotonic()
            act()
            kills, late, seconds = killer.kills - kills, killer.late - late, time.monotonic() - start
            print(f"{name}: {kills} kills, {late} of them after the end, {seconds:.0f} s", flush=True)
            return True

        special = [("measure --write", ratings), ("package", package), ("init", init), ("man", pages), ("preview", preview)]
        for name, act in special:
            counted(name, lambda: act(killer, count))
        for name, runs, out, less in commands(folder, killer.run):
            if not counted(name, lambda: folder_of_files(killer, name, runs, folder / out, count // less)):
                # What later ones read.
                (folder / out).mkdir(exist_ok=True)
                killer.run(runs[0])
        minutes = (time.monotonic() - begun) / 60
        print(
            f"{killer.kills} kills in {minutes:.1f} min: every file whole, the old or the new; "
            f"{killer.late} came after the end, {killer.left} unfinished files at most, all taken away by the next run"
        )


if __name__ == "__main__":
    main()
