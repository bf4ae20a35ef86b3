"""Packs a program as a release has it, for people without a toolchain; `--try` unpacks it in an empty folder and uses it.

    python3 tests/release/pack.py PROGRAM TARGET OUT [--by PROGRAM]
    python3 tests/release/pack.py --try ARCHIVE [RUNNER...]
    python3 tests/release/pack.py --wheel WHEEL TARGET

The archive (.zip for Windows, else .tar.gz) holds the program, the README and the changelog, manual pages, completions of
shells, and the licence texts of all that the program is built from; beside it lies its SHA-256. The same program gives the
same archive. `--by` names a program of this machine that writes pages and completions, where PROGRAM is for another one.
`--wheel` puts the licence texts into a wheel of lib/python, as `dist-info/licenses`, with their lines in its RECORD.
A licence text that a package leaves out is named in `licences/missing.txt`, with the licence that the package states.
Nothing but cargo and the standard library is needed.
"""

import base64
import gzip
import hashlib
import io
import json
import os
import re
import shutil
import subprocess
import sys
import tarfile
import tempfile
import zipfile
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
SHELLS = ("bash", "elvish", "fish", "powershell", "zsh")
LICENCE = re.compile(r"^(licen[cs]e|copying|copyright|notice|unlicense|authors)", re.IGNORECASE)


def packages(target, folder, name):
    """What the package of that name, of the workspace in a folder, is built from on that target, by name and version."""
    command = ["cargo", "metadata", "--format-version", "1", "--locked", "--filter-platform", target]
    found = json.loads(subprocess.run(command, cwd=folder, check=True, capture_output=True).stdout)
    nodes = {node["id"]: node for node in found["resolve"]["nodes"]}
    ids = {package["id"]: package for package in found["packages"]}
    open_ = [next(i for i, package in ids.items() if package["name"] == name)]
    seen = set()
    while open_:
        at = open_.pop()
        if at in seen:
            continue
        seen.add(at)
        for dependency in nodes[at]["deps"]:
            # What only tests use is in no program; what only builds it is not either, and its licence does no harm.
            if any(kind["kind"] != "dev" for kind in dependency["dep_kinds"]):
                open_.append(dependency["pkg"])
    return sorted((ids[i] for i in seen), key=lambda package: (package["name"], package["version"]))


def licences(target, folder=TOP, name="rushlight-cli"):
    files, missing = {}, []
    for package in packages(target, folder, name):
        folder = Path(package["manifest_path"]).parent
        if package["source"] is None:
            continue
        labelled = f"{package['name']}-{package['version']}"
        texts = [file for file in sorted(folder.iterdir()) if file.is_file() and LICENCE.match(file.name)]
        if package["license_file"] and not texts:
            texts = [folder / package["license_file"]]
        files.update({f"licences/{labelled}/{file.name}": file.read_bytes() for file in texts})
        if not texts:
            missing.append(f"{labelled}: {package['license']}, by {', '.join(package['authors']) or 'its authors'}\n")
    if missing:
        files["licences/missing.txt"] = "".join(missing).encode()
    return files


def contents(program, target, by):
    ending = ".exe" if "windows" in target else ""
    files = {f"rushlight{ending}": program.read_bytes()}
    for name in ("README.md", "CHANGELOG.md", "LICENSE-APACHE", "LICENSE-MIT"):
        files[name] = (TOP / name).read_bytes()
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([by, "man", "--out", "pages"], cwd=folder, check=True, capture_output=True)
        for page in sorted(Path(folder, "pages").iterdir()):
            if not page.name.startswith("."):
                files[f"man/{page.name}"] = page.read_bytes()
        for shell in SHELLS:
            done = subprocess.run([by, "completions", shell], check=True, capture_output=True)
            files[f"completions/rushlight.{shell}"] = done.stdout
    return files | licences(target)


def pack(program, target, out, by):
    version = re.search(r'^version = "(.+)"', (TOP / "Cargo.toml").read_text(), re.MULTILINE)[1]
    name = f"rushlight-{version}-{target}"
    files = contents(program, target, by)
    out.mkdir(parents=True, exist_ok=True)
    if "windows" in target:
        archive = out / f"{name}.zip"
        with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as packed:
            for file, data in sorted(files.items()):
                packed.writestr(zipfile.ZipInfo(f"{name}/{file}"), data, zipfile.ZIP_DEFLATED)
    else:
        archive = out / f"{name}.tar.gz"
        with open(archive, "wb") as raw, gzip.GzipFile("", "wb", mtime=0, fileobj=raw) as zipped:
            with tarfile.open(fileobj=zipped, mode="w") as packed:
                for file, data in sorted(files.items()):
                    info = tarfile.TarInfo(f"{name}/{file}")
                    info.size, info.mode = len(data), 0o755 if file == "rushlight" else 0o644
                    packed.addfile(info, io.BytesIO(data))
    digest = hashlib.sha256(archive.read_bytes()).hexdigest()
    archive.with_name(archive.name + ".sha256").write_text(f"{digest}  {archive.name}\n")
    print(f"{archive.name}: {len(files)} files, {archive.stat().st_size / 1e6:.1f} MB")


def wheel(path, target):
    """Adds the licence texts of all that a wheel is built from."""
    files = licences(target, TOP / "lib/python", "rushlight-python")
    files |= {f"licences/{name}": (TOP / name).read_bytes() for name in ("LICENSE-APACHE", "LICENSE-MIT")}
    with zipfile.ZipFile(path) as packed:
        held = [(entry, packed.read(entry)) for entry in packed.infolist()]
    [record] = [entry.filename for entry, _ in held if entry.filename.endswith(".dist-info/RECORD")]
    into = record.removesuffix("RECORD") + "licenses/"
    added = {into + name.removeprefix("licences/"): data for name, data in sorted(files.items())}
    lines = ""
    for name, data in added.items():
        digest = base64.urlsafe_b64encode(hashlib.sha256(data).digest()).rstrip(b"=").decode()
        lines += f"{name},sha256={digest},{len(data)}\n"
    whole = path.with_name(path.name + ".tmp")
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as packed:
        for entry, data in held:
            if entry.filename == record:
                packed.writestr(entry, data.decode().rstrip("\n") + "\n" + lines, zipfile.ZIP_DEFLATED)
            elif not entry.filename.startswith(into):
                packed.writestr(entry, data, zipfile.ZIP_DEFLATED)
        for name, data in added.items():
            packed.writestr(zipfile.ZipInfo(name), data, zipfile.ZIP_DEFLATED)
    whole.replace(path)
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    path.with_name(path.name + ".sha256").write_text(f"{digest}  {path.name}\n")
    print(f"{path.name}: {len(added)} licence files, {path.stat().st_size / 1e6:.1f} MB")


def outside(folder):
    """A path on which are the outside programs that clips need, and no others; none where this machine lacks one."""
    found = [shutil.which(name) for name in ("ffmpeg", "ffprobe")]
    if not all(found):
        return None
    if os.name == "nt":
        return str(Path(found[0]).parent)
    folder.mkdir()
    for program in found:
        folder.joinpath(Path(program).name).symlink_to(program)
    return str(folder)


def use(archive, runner):
    """Starts a show, bakes it and applies it to a clip, in an empty folder, with no program on the path but ffmpeg."""
    said = archive.with_name(archive.name + ".sha256").read_text().split()
    assert said == [hashlib.sha256(archive.read_bytes()).hexdigest(), archive.name], "it is not what its checksum says"
    with tempfile.TemporaryDirectory() as folder:
        if archive.suffix == ".zip":
            zipfile.ZipFile(archive).extractall(folder)
        else:
            tarfile.open(archive).extractall(folder, filter="data")
        [top] = Path(folder).iterdir()
        program = next(file for file in top.iterdir() if file.name in ("rushlight", "rushlight.exe"))
        path = None if runner else outside(Path(folder, "outside"))
        environment = None if runner else {**os.environ, "PATH": path or ""}
        commands = [["--version"], ["init", "my-show"], ["bake", "my-show/show.toml", "--out", "cubes"]]
        if path:
            look = ["--look", "first", "--camera", "a", "--display", "onset", "--encoder", "lossless"]
            commands.append(["apply", "my-show/show.toml", *look, "clip.mkv", "graded.mkv"])
            source = ["-f", "lavfi", "-i", "testsrc2=s=320x180:r=24:d=0.5", "-pix_fmt", "yuv422p10le", "-c:v", "ffv1"]
            subprocess.run(["ffmpeg", "-v", "error", "-nostdin", *source, "clip.mkv"], cwd=folder, check=True)
        for args in commands:
            done = subprocess.run([*runner, program, *args], cwd=folder, env=environment, capture_output=True, text=True)
            assert done.returncode == 0, f"{args}: {done.stderr}"
        assert not path or Path(folder, "graded.mkv").stat().st_size > 0
        cubes = list(Path(folder, "cubes").glob("*.cube"))
        assert cubes, "no cube was baked"
        assert any(top.glob("man/*.1")) and len(list(top.glob("completions/*"))) == len(SHELLS)
        assert len(list(top.glob("licences/*"))) > 100, "licences are missing"
    clip = "and applied it to a clip" if path else "and no clip, since " + ("it ran elsewhere" if runner else "ffmpeg is missing")
    print(f"{archive.name}: unpacked, started a show, baked {len(cubes)} cubes, {clip}")


match sys.argv[1:]:
    case ["--try", archive, *runner]:
        use(Path(archive).resolve(), runner)
    case ["--wheel", path, target]:
        wheel(Path(path), target)
    case [program, target, out]:
        pack(Path(program), target, Path(out), Path(program).resolve())
    case [program, target, out, "--by", by]:
        pack(Path(program), target, Path(out), Path(by).resolve())
    case _:
        sys.exit(__doc__)
