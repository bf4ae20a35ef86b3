"""Each thing that writes files, two at once, and onto a disk that is full.

    python tests/reference/rivals.py target/release/rushlight [TIMES, 5]

Of two at once each file is that of the one or of the other, whole. A full disk (a small tmpfs, so it is for who may mount one)
gives exit code 2 and one error, and leaves what was there. Nothing but the standard library is needed.
"""

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from kills import FIXTURES, commands, shows, tree, unfinished


def two_at_once(program, folder, name, runs, out, times):
    out.mkdir(exist_ok=True)
    states = []
    for run in runs:
        subprocess.run([program, *run], cwd=folder, check=True, stdout=subprocess.DEVNULL)
        states.append(tree(out))
    for n in range(times):
        both = [subprocess.Popen([program, *run], cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE) for run in runs]
        said = [child.communicate()[1].decode() for child in both]
        assert all(child.returncode == 0 for child in both), f"{name}, {n}: {said}"
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


def main():
    program = str(Path(sys.argv[1]).resolve())
    times = int(sys.argv[2]) if len(sys.argv) > 2 else 5
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "demo"
        shutil.copytree(FIXTURES, folder)
        shows(folder)
        for name, runs, out, _ in commands(folder):
            two_at_once(program, folder, name, runs, folder / out, times)
            kept = tree(folder / out)
            said = full_disk(program, folder, name, runs[0], folder / out)
            # What later commands read is there again.
            for file, data in kept.items():
                (folder / out / file).write_bytes(data)
            print(f"{name}: {times} times two at once; a full disk: {said}", flush=True)


main()
