"""Each thing that writes files, two at once, and onto a disk that is full.

    python tests/reference/soak/rivals.py target/release/rushlight [TIMES, 10] [COMMAND...]

Of two at once each file is that of the one or of the other, whole. A full disk (a small tmpfs, so it is for who may mount one)
gives exit code 2 and one error, and leaves what was there. Nothing but the standard library is needed.
"""

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from kills import FIXTURES, RAN, commands, shows, tree, unfinished


def both_at_once(program, folder, runs):
    """What each of two runs that go on at the same time ends with, and says."""
    both = [subprocess.Popen([program, *run], cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE) for run in runs]
    return [(child.communicate()[1].decode(), child.returncode) for child in both]


def two_at_once(program, folder, name, runs, out, times):
    out.mkdir(exist_ok=True)
    states = []
    for run in runs:
        done = subprocess.run([program, *run], cwd=folder, capture_output=True, text=True)
        assert done.returncode in RAN, f"{name}: {done}"
        states.append(tree(out))
    for n in range(times):
        said = both_at_once(program, folder, runs)
        assert all(code in RAN for _, code in said), f"{name}, {n}: {said}"
        for file, data in tree(out).items():
            assert data in (states[0][file], states[1][file]), f"{name}, {n}: {file} is neither the one nor the other"
        assert unfinished(out) == 0, f"{name}, {n}: something unfinished is left"


def full_disk(program, folder, name, run, out):
    """`run` writes into `out`, where a disk without room is mounted."""
    old = tree(out)
    shutil.rmtree(out)
    out.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64k,nr_inodes=40", "tmpfs", out], check=True)
    try:
        first = next(iter(old))
        (out / first).write_bytes(b"rushlight was here")
        with open(out / "filler", "wb", buffering=0) as filler:
            try:
                while True:
                    filler.write(b"\0" * 4096)
            except OSError:
                pass
        done = subprocess.run([program, *run], cwd=folder, capture_output=True, text=True)
        said = done.stderr.strip()
        assert done.returncode == 2 and said.count("error:") >= 1 and "panicked" not in said, f"{name}: {done}"
        assert (out / first).read_bytes() == b"rushlight was here", f"{name}: {first} is not what it was"
        assert unfinished(out) == 0, f"{name}: something unfinished is left"
        return said.splitlines()[0]
    finally:
        subprocess.run(["umount", out], check=True)


def ratings(program, folder, times):
    """Two that change a show at once: no change is lost, unless one is told that the show has changed."""
    show = folder / "show.toml"
    old = show.read_bytes()
    runs = [["measure", "--list", f"brackets/{c}.csv", "--show", "show.toml", "--camera", c, "--write"] for c in "ab"]
    alone = []
    for run in runs:
        show.write_bytes(old)
        subprocess.run([program, *run], cwd=folder, check=True, capture_output=True)
        alone.append(show.read_bytes())
    subprocess.run([program, *runs[0]], cwd=folder, check=True, capture_output=True)
    merged = show.read_bytes()
    assert len({old, *alone, merged}) == 4
    for n in range(times):
        show.write_bytes(old)
        said = both_at_once(program, folder, runs)
        good = [code == 0 for _, code in said]
        want = {(True, True): merged, (True, False): alone[0], (False, True): alone[1]}
        assert any(good) and show.read_bytes() == want[tuple(good)], f"measure --write, {n}: {said}"
    show.write_bytes(old)


def package(program, folder, times):
    """Two hand-offs of one name: one is made, the other is refused, or replaces the .zip whole."""
    small = (folder / "small.toml").read_text()
    (folder / "second.toml").write_text(small.replace("slog3", "logc3", 1))
    runs = [["package", f, "--no-stress", "--zip", "sent.zip"] for f in ("small.toml", "second.toml")]
    states = []
    for run in runs:
        subprocess.run([program, *run], cwd=folder, check=True, capture_output=True)
        states.append((folder / "sent.zip").read_bytes())
    assert states[0] != states[1]
    for n in range(times):
        said = both_at_once(program, folder, runs)
        assert all(code == 0 for _, code in said), f"package --zip, {n}: {said}"
        assert (folder / "sent.zip").read_bytes() in states, f"package, {n}: a .zip of neither"
        assert unfinished(folder) == 0, f"package, {n}: something unfinished is left"
    runs = [["package", f, "--no-stress", "--out", "sent"] for f in ("small.toml", "second.toml")]
    for n in range(times):
        shutil.rmtree(folder / "sent", ignore_errors=True)
        said = both_at_once(program, folder, runs)
        assert sorted(code for _, code in said) in ([0, 2], [0, 0]), f"package --out, {n}: {said}"
        done = subprocess.run([program, "package", "--verify", "sent"], cwd=folder, capture_output=True, text=True)
        assert done.returncode == 0 and unfinished(folder) == 0, f"package, {n}: {done}"


def same_files(program, folder, name, run, out, times):
    """Two that write the same: the files are those of one."""
    subprocess.run([program, *run], cwd=folder, check=True, capture_output=True)
    want = tree(folder / out)
    for n in range(times):
        if name == "init":
            shutil.rmtree(folder / out)
        said = both_at_once(program, folder, [run, run])
        assert any(code == 0 for _, code in said) and all(code in (0, 2) for _, code in said), f"{name}, {n}: {said}"
        assert tree(folder / out) == want and unfinished(folder / out) == 0, f"{name}, {n}: other files than of one run"


def main():
    program = str(Path(sys.argv[1]).resolve())
    times = int(sys.argv[2]) if len(sys.argv) > 2 else 10
    wanted = sys.argv[3:]
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "demo"
        shutil.copytree(FIXTURES, folder)
        shows(folder)

        def run(args):
            done = subprocess.run([program, *args], cwd=folder, capture_output=True, text=True)
            assert done.returncode in RAN, f"{args}: {done.stderr}"

        special = [
            ("measure --write", lambda: ratings(program, folder, times)),
            ("package", lambda: package(program, folder, times)),
            ("init", lambda: same_files(program, folder, "init", ["init", "begun"], "begun", times)),
            ("man", lambda: same_files(program, folder, "man", ["man", "--out", "man"], "man", times)),
        ]
        for name, act in special:
            if not wanted or name in wanted:
                act()
                print(f"{name}: {times} times two at once", flush=True)
        for name, runs, out, _ in commands(folder, run):
            if wanted and name not in wanted:
                (folder / out).mkdir(exist_ok=True)
                run(runs[0])
                continue
            two_at_once(program, folder, name, runs, folder / out, times)
            kept = tree(folder / out)
            said = full_disk(program, folder, name, runs[0], folder / out)
            # What later commands read is there again.
            for file, data in kept.items():
                (folder / out / file).write_bytes(data)
            print(f"{name}: {times} times two at once; a full disk: {said}", flush=True)


main()
