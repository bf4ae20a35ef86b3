"""The same commands with two programs, and what they wrote and said compared; `tests/platforms` runs it.

    RUSHLIGHT_COMMAND="PROGRAM..." [RUSHLIGHT_SHELL="SHELL..."] python3 tests/reference/soak/platforms.py FOLDER
    python3 tests/reference/soak/platforms.py --compare FOLDER FOLDER

FOLDER holds `demo`. Every file must be the same to the byte, every exit code and every line of text the same. With a shell of
Windows, a file that another program holds is tried as well: it must stay as it is, with one clear error. Nothing but the
standard library is needed.
"""

import json
import os
import re
import shlex
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

SHOW = "demo/show.toml"
DEMO = Path(__file__).resolve().parents[3] / "fixtures/demo"
REVISION = re.search(r"^revision = (\d+)", (DEMO / "looks/night.toml").read_text(), re.M)[1]
CUBE = f"cubes/saltmarsh_night_r{REVISION}_a_onset_33.cube"
LOOK = f"{SHOW} --look night --camera a --display onset"
# Longer than the 260 characters that Windows takes without being asked for more.
LONG = "/".join(["a name of sixty characters that is in many folders, one in one"] * 5)
JOBS = [
    f"bake {SHOW} --out cubes",
    f"bake {SHOW} --format clf --out clfs",
    f"bake {SHOW} --out cubes",
    f"bake {SHOW} --out 'Überfahrt/mit Leerzeichen'",
    f"bake {SHOW} --look night --camera a --display onset --out '{LONG}'",
    "init 'my show'",
    "bake 'my show/show.toml' --out mine",
    f"probe {LOOK} 0.41 0.41 0.41",
    f"inspect {CUBE}",
    "diff demo/looks/night.toml demo/revisions/night-2.toml --camera a --display onset --exit-zero",
    f"stress {LOOK}",
    f"measure --list demo/brackets/b.csv --show {SHOW} --camera b",
    f"camera {SHOW} --camera b --ei 100",
    "list",
    "schema look",
    "convert demo/cdl/night1.ccc corrections/",
    f"convert {CUBE} small.cube --points 9",
    f"apply {LOOK} demo/frame.exr out.png",
    f"apply {LOOK} demo/frame.exr out.exr",
    f"sheet {SHOW} --out sheet.html",
    f"package {SHOW} --out hand-off",
    f"package {SHOW} --zip hand-off.zip",
    "package --verify hand-off",
    "package --verify hand-off.zip",
    f"bake {SHOW} --shots --display onset --no-audit --out shots",
    f"false-colour {SHOW} --camera a --ei 800 --out false-colour",
    "curve demo/curves/harbour.toml",
    "gamut sgamut3-cine aces-ap0",
    f"apply {LOOK} demo/brackets/a_800_09.png one/",
    f"apply --cube {CUBE} demo/brackets/a_800_09.png by-cube.tif",
    "convert demo/cdl/night1.ccc list.csv",
    f"convert {CUBE} cube.clf",
    f"stress {LOOK} --format html=stress.html --format json=stress.json",
    "diff demo/looks/night.toml demo/revisions/night-2.toml --camera a --display onset --exit-zero --format html=diff.html",
    "inspect list.csv",
    f"inspect out.png --show {SHOW}",
    "man --out pages",
    "completions powershell",
    "guide terms",
    f"package {SHOW} --out hand-off",
    "apply demo/show.toml --look night --camera a --display onset frames/none.png out.png",
    "bake demo/slashes.toml",
    "bake demo/device.toml",
    "bake demo/shots.toml --shots --display onset --no-audit --out more-shots",
    "bake none.toml",
    "convert twice.ccc twice/",
    "convert devices.ccc devices/",
]
# Shows with a name that not every system has a file of, and with shots that are called like devices.
SHOWS = {
    "slashes.toml": ("looks/night.toml", r"looks\night.toml"),
    "device.toml": ("looks/night.toml", "looks/aux.toml"),
    "shots.toml": ("[[shots]]", "[[shots]]\nlist = \"../devices.ccc\"\nlook = \"night\"\n\n[[shots]]"),
}
CORRECTION = "<SOPNode><Slope>1 1 1</Slope><Offset>0 0 0</Offset><Power>1 1 1</Power></SOPNode>"


def collection(*ids):
    each = "".join(f'<ColorCorrection id="{name}">{CORRECTION}</ColorCorrection>' for name in ids)
    head = '<?xml version="1.0" encoding="UTF-8"?>'
    return f'{head}<ColorCorrectionCollection xmlns="urn:ASC:CDL:v1.2">{each}</ColorCorrectionCollection>\n'


def run(program, folder):
    environment = {**os.environ, "NO_COLOR": "1"}
    (folder / "twice.ccc").write_text(collection("A001", "a001"))
    (folder / "devices.ccc").write_text(collection("nul", "COM1", "A002"))
    show = (folder / SHOW).read_text()
    for name, (old, new) in SHOWS.items():
        assert old in show, f"{SHOW} has no {old}"
        quoted = show.replace(f'"{old}"', f"'{new}'", 1) if old.endswith(".toml") else show.replace(old, new, 1)
        (folder / "demo" / name).write_text(quoted)
    said = []
    for job in JOBS:
        done = subprocess.run([*program, *shlex.split(job)], cwd=folder, env=environment, capture_output=True)
        # What wine says of itself is not of the program: its exit code and its files are.
        lines = done.stderr.decode().splitlines(keepends=True)
        of_wine = [line for line in lines if line.startswith("wine: ")]
        if of_wine:
            print(f"{job}: {''.join(of_wine).strip()}")
        said.append([job, done.returncode, done.stdout.decode(), "".join(line for line in lines if line not in of_wine)])
    # A file that is there, and read-only, stays.
    kept = folder / "kept.cube"
    kept.write_text("kept")
    kept.chmod(0o444)
    args = ["convert", CUBE, "kept.cube", "--points", "5"]
    done = subprocess.run([*program, *args], cwd=folder, env=environment, capture_output=True)
    said.append(["a read-only file", done.returncode, done.stdout.decode(), done.stderr.decode()])
    assert kept.read_text() == "kept", "a read-only file was replaced"
    assert (folder / CUBE).exists(), f"no {CUBE}"
    if shell := shlex.split(os.environ.get("RUSHLIGHT_SHELL", "")):
        held(program, shell, folder, environment)
    preview(program, folder, environment)
    (folder / "said.json").write_text(json.dumps(said, ensure_ascii=False, indent=1))


def held(program, shell, folder, environment):
    """A file that another program of Windows has open, and shares with none, stays as it is."""
    there = folder / "held.cube"
    holder = subprocess.Popen([*shell, "/c", "pause > held.cube"], cwd=folder, stdin=subprocess.PIPE)
    try:
        by = time.monotonic() + 60
        while not (there.exists() and there.stat().st_size):
            assert time.monotonic() < by, "the shell opens no file"
            time.sleep(0.1)
        text = there.read_bytes()
        args = ["convert", CUBE, "held.cube", "--points", "5"]
        done = subprocess.run([*program, *args], cwd=folder, env=environment, capture_output=True)
        said = done.stderr.decode()
        assert done.returncode == 2 and len(said.splitlines()) == 1 and "held.cube" in said, f"a file that is held: {done.returncode}, {said}"
        assert there.read_bytes() == text, f"a file that is held was replaced: {said}"
        print(f"a file that is held: {said.strip()}")
    finally:
        holder.communicate(b"\r\n", timeout=30)
    there.unlink()


def preview(program, folder, environment):
    """The server answers with its page and its state."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    args = ["preview", SHOW, "--port", str(port), "--no-open", "--frame", "demo/frame.exr"]
    server = subprocess.Popen([*program, *args], cwd=folder, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    try:
        address = None
        while address is None:
            line = server.stdout.readline().decode()
            assert line, "preview ended before it said its address"
            found = re.search(r"http://127\.0\.0\.1:\d+/\w+/", line)
            address = found and found[0]
        for place in ("", "api/state"):
            with urllib.request.urlopen(address + place, timeout=60) as answer:
                assert answer.status == 200 and answer.read(), f"preview: {place or 'its page'} is empty"
    finally:
        server.terminate()
        server.wait(timeout=30)


def tree(folder):
    return {str(f.relative_to(folder)): f.read_bytes() for f in folder.rglob("*") if f.is_file()}


def compare(here, there):
    a, b = tree(here), tree(there)
    for (job, *ours), (_, *theirs) in zip(json.loads(a.pop("said.json")), json.loads(b.pop("said.json")), strict=True):
        for what, one, other in zip(("exit code", "standard output", "standard error"), ours, theirs):
            if isinstance(one, str):
                # A path is printed as the system writes it.
                other = other.replace("\\", "/")
                one = one.replace("\\", "/")
            assert one == other, f"{job}: {what}: {one!r} here, {other!r} there"
    assert a.keys() == b.keys(), f"only in one: {sorted(a.keys() ^ b.keys())}"
    differ = sorted(name for name in a if a[name] != b[name])
    assert not differ, f"other bytes: {differ}"
    left = [name for name in a if ".rushlight-" in name]
    assert not left, f"left half-written: {left}"
    print(f"{len(JOBS) + 1} commands and preview: the same words and exit codes, {len(a)} files the same to the byte")


if sys.argv[1] == "--compare":
    compare(Path(sys.argv[2]), Path(sys.argv[3]))
else:
    run(shlex.split(os.environ["RUSHLIGHT_COMMAND"]), Path(sys.argv[1]).resolve())
