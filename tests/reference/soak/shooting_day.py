"""A day of shooting against one run of `preview`: does it forget nothing, and does its memory stay the same?

    python tests/reference/soak/shooting_day.py target/release/rushlight [EDITS, 5000] [SHOTS, 300] [BREAKS, 50]

A copy of the demo is opened with a live picture from a named pipe, of which the sender (ffmpeg's own test picture) goes away
BREAKS times and returns. Meanwhile looks and shots are edited as a page does it: drags, undo and redo, cubes asked for, shots
made of a frame with their stills, saved with their cubes, looks saved. The memory of the program (Linux: VmRSS) is read all the
while; the middle of the last tenth may be no more than 10 % above that of the tenth after the first quarter. In the end every
number that was answered is in the files. It prints how long a save of a shot with its cube took. With BREAKS 0 there is no live
picture: the memory is then small, and the versions of the shots, up to 200 each, are more than a tenth of it. Nothing but the
standard library is needed, and ffmpeg.
"""

import http.client
import json
import os
import random
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import urllib.parse
from pathlib import Path
from xml.etree import ElementTree

FIXTURES = Path(__file__).resolve().parents[3] / "fixtures" / "demo"
# What memory may grow by, from when all caches are filled.
GROWTH = 0.10
PICK = {"camera": "a", "display": "onset"}


class Server:
    """`preview`, as its page asks it, over one connection."""

    def __init__(self, program, folder, *more):
        environment = {**os.environ, "XDG_STATE_HOME": str(folder / "state")}
        command = [program, "preview", "show.toml", "--no-open", *more]
        self.child = subprocess.Popen(command, cwd=folder / "show", env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        address = next(line for line in self.child.stdout if line.startswith("http://")).strip().rstrip("/")
        self.host, self.token = address.removeprefix("http://").split("/", 1)
        self.connection = http.client.HTTPConnection(self.host, timeout=60)
        # What it says must not fill a pipe.
        self.said = []
        for stream in (self.child.stdout, self.child.stderr):
            threading.Thread(target=lambda stream=stream: self.said.extend(stream), daemon=True).start()

    def raw(self, method, path, body=None, kind="application/json", connection=None):
        connection = connection or self.connection
        headers = {"Origin": f"http://{self.host}", "Content-Type": kind}
        connection.request(method, f"/{self.token}/api/{path}", body, headers)
        answer = connection.getresponse()
        data = answer.read()
        assert answer.status == 200, f"{method} {path}: {answer.status} {data[:400]}"
        return data

    def ask(self, path, body=None):
        return json.loads(self.raw("GET" if body is None else "POST", path, None if body is None else json.dumps(body)))

    def cube(self, look, **more):
        query = {"look": look, **PICK, "points": 33, "screen": "srgb", **more}
        return self.raw("GET", f"cube?{urllib.parse.urlencode(query)}")

    def memory(self):
        """MiB that are in use."""
        for line in Path(f"/proc/{self.child.pid}/status").read_text().splitlines():
            if line.startswith("VmRSS"):
                return int(line.split()[1]) / 1024
        raise AssertionError("no VmRSS")

    def end(self):
        self.child.terminate()
        self.child.wait()


def sender(pipe, breaks, done):
    """Sends a live picture `breaks` + 1 times, each for a few seconds, with a pause between."""
    source = "testsrc2=s=960x540:r=24"
    for n in range(breaks + 1):
        command = ["ffmpeg", "-v", "error", "-y", "-re", "-f", "lavfi", "-i", source, "-c:v", "rawvideo", "-pix_fmt", "yuv422p10le", "-f", "nut", pipe]
        child = subprocess.Popen(command, stdin=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(2.5)
        if n == breaks:
            done.wait()
        # Every other time without a word.
        (child.kill if n % 2 else child.terminate)()
        child.wait()
        time.sleep(0.5)


def watch(server, stop, seen):
    """A page that listens, and takes each live frame that it can."""
    connection = http.client.HTTPConnection(server.host, timeout=60)
    while not stop.is_set():
        state = json.loads(server.raw("GET", "live", connection=connection))
        seen["breaks"] = max(seen["breaks"], state["breaks"])
        seen["frames"] = max(seen["frames"], state["count"])
        time.sleep(0.2)


class Day:
    def __init__(self, server, frame, seed=1):
        self.server, self.frame, self.random = server, frame, random.Random(seed)
        self.memory, self.edits, self.made, self.numbers, self.saves = [], 0, [], {}, []

    def edit_look(self, count):
        """A drag of a slider, then sometimes undo and redo."""
        look = self.server.ask("looks/night")
        step = next(n for n, step in enumerate(look["steps"]) if "stops" in step["values"])
        drag = f"drag {self.edits}"
        version = look["version"]
        for _ in range(count):
            body = {"op": "set", "step": step, "key": "stops", "value": round(self.random.uniform(-1, 1), 3), "version": version, "drag": drag}
            version = self.server.ask("looks/night/edit", body)["version"]
            self.edits += 1
        for op in self.random.choice(([], ["undo"], ["undo", "redo"])):
            version = self.server.ask("looks/night/edit", {"op": op, "version": version})["version"]
            self.edits += 1
        self.server.cube("night")
        return version

    def edit_shot(self, name, count):
        shot = self.server.ask(f"shots/{urllib.parse.quote(name)}")
        version, drag = shot["version"], f"drag {self.edits}"
        for _ in range(count):
            offset = [round(self.random.uniform(-0.03, 0.03), 4) for _ in range(3)]
            body = {"op": "set", "key": "offset", "value": offset, "version": version, "drag": drag}
            shot = self.server.ask(f"shots/{urllib.parse.quote(name)}/edit", body)
            version = shot["version"]
            self.edits += 1
        body = {"op": "exposure", "stops": round(self.random.uniform(-0.2, 0.2), 2), "look": "night", **PICK, "version": version}
        shot = self.server.ask(f"shots/{urllib.parse.quote(name)}/edit", body)
        self.edits += 1
        self.server.cube("night", shot=name)
        self.numbers[name] = shot
        return shot["version"]

    def save_shot(self, name, version):
        start = time.monotonic()
        self.server.ask(f"shots/{urllib.parse.quote(name)}/save", {"version": version, "look": "night", **PICK})
        self.saves.append(time.monotonic() - start)

    def new_shot(self):
        name = f"{1 + len(self.made) // 6}{'ABCDEF'[len(self.made) % 6]}-1"
        body = {"name": name, "into": "cdl/night1.ccc", "look": "night", **PICK, "frame": self.frame, "as": "log", "from": self.made[-1] if self.made else None,
                "ei": 800, "kelvin": None, "tint": None, "reel": "A001", "timecode": f"10:{len(self.made) % 60:02}:00:00", "note": "soak"}
        name = f"S{name}"
        self.server.ask("shots", {**body, "name": name})
        self.made.append(name)
        return name


def offsets(file):
    """The offset of every correction in a .ccc, by its id."""
    local = lambda element: element.tag.rpartition("}")[2]
    corrections = [element for element in ElementTree.parse(file).iter() if local(element) == "ColorCorrection"]
    return {one.get("id"): [float(v) for v in next(e for e in one.iter() if local(e) == "Offset").text.split()] for one in corrections}


def main():
    program = str(Path(sys.argv[1]).resolve())
    edits, shots, breaks = (int(a) if a else d for a, d in zip([*sys.argv[2:5], "", "", ""], (5000, 300, 50)))
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        shutil.copytree(FIXTURES, folder / "show", ignore=shutil.ignore_patterns("brackets"))
        frame_file = FIXTURES / "brackets" / "a_800_01.png"
        pipe = str(folder / "live")
        os.mkfifo(pipe)
        done, stop, seen = threading.Event(), threading.Event(), {"breaks": 0, "frames": 0}
        live = ["--live", pipe] if breaks else []
        server = Server(program, folder, *live, "--out", str(folder / "cubes"))
        try:
            if breaks:
                threading.Thread(target=sender, args=(pipe, breaks, done), daemon=True).start()
                threading.Thread(target=watch, args=(server, stop, seen), daemon=True).start()
            dropped = json.loads(server.raw("POST", "frames?name=a_800_01.png&at=0&as=log", frame_file.read_bytes(), "application/octet-stream"))
            day = Day(server, dropped["id"])
            start = time.monotonic()
            while day.edits < edits or len(day.made) < shots or seen["breaks"] < breaks:
                version = day.edit_look(day.random.randint(1, 12))
                # An undo may have led back to what was saved last.
                if day.random.random() < 0.05 and server.ask("looks/night")["unsaved"]:
                    server.ask("looks/night/save", {"version": version, "note": "soak"})
                if len(day.made) < shots and len(day.made) <= shots * (day.edits / edits):
                    day.new_shot()
                name = day.random.choice(day.made)
                version = day.edit_shot(name, day.random.randint(1, 6))
                if day.random.random() < 0.5:
                    day.save_shot(name, version)
                day.memory.append(server.memory())
            for name in list(day.numbers):
                day.save_shot(name, server.ask(f"shots/{urllib.parse.quote(name)}")["version"])
            took = time.monotonic() - start
            written = offsets(folder / "show" / "cdl" / "night1.ccc")
            missing = [name for name in day.made if name not in written]
            assert not missing, f"shots that were made and are in no file: {missing[:5]}"
            for name, shot in day.numbers.items():
                assert written[name] == shot["numbers"]["offset"], f"{name}: {written[name]} in the file for {shot['numbers']['offset']}"
            cubes = len(list((folder / "cubes").rglob("*.cube")))
        finally:
            stop.set()
            done.set()
            server.end()
        tenth = max(len(day.memory) // 10, 1)
        early = statistics.median(day.memory[len(day.memory) // 4:][:tenth])
        late = statistics.median(day.memory[-tenth:])
        print(f"a day of {day.edits} edits, {len(day.made)} new shots, {seen['breaks']} breaks of {seen['frames']} live frames, {cubes} cubes in {took:.0f} s: "
              f"{early:.0f} MiB after the first quarter, {late:.0f} MiB at the end; {len(day.saves)} saves of a shot: "
              f"{1e3 * statistics.mean(day.saves):.0f} ms in the mean, {1e3 * max(day.saves):.0f} ms at most")
        assert late <= early * (1 + GROWTH), f"memory grew by {100 * (late / early - 1):.0f} %"
        assert seen["breaks"] >= breaks, f"{seen['breaks']} breaks were noticed of {breaks}"


if __name__ == "__main__":
    main()
