"""A hand-off against programs and formulas of others: checks the binary live.

    pip install -r tests/reference/requirements.txt
    python tests/reference/check/handoff.py RUSHLIGHT SHOW      exit 1 where something differs

- the ASC CDL, version 1.2 (2009), by its formula in NumPy, on colour-science's ACEScct, against `probe --shot`, and in a
  CLF that colour-clf-io parses;
- CDL files by xmllint against the ASC's published schema, version 1.01, but for the newer namespace, and AMFs against the
  Academy's, version 2.0, where these lie in ../shared/references/schemas beside the project (they are no part of it);
- the transforms that an AMF points to: their checksums, their nodes evaluated with NumPy and colour-science one after the
  other, against the exact path;
- the .zip by Python's zipfile and by unzip, the checksums by sha256sum.

xmllint, unzip and sha256sum have to be there where CI is set; else what they check is left out.
"""

import base64
import hashlib
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import warnings
import zipfile
from xml.etree import ElementTree

from shows import has_module, need

need("colour-science", has_module("colour"))
need("colour-clf-io", has_module("colour_clf_io"))
warnings.filterwarnings("ignore")

import colour
import colour_clf_io as clf
import numpy as np
from colour.algebra import table_interpolation_tetrahedral

FIXTURES = pathlib.Path(__file__).resolve().parents[3] / "fixtures"
AMF = "{urn:ampas:aces:amf:v2.0}"
CDL = "{urn:ASC:CDL:v1.01}"
SCHEMAS = FIXTURES.parent.parent / "shared" / "references" / "schemas"
SHA256 = "http://www.w3.org/2001/04/xmlenc#sha256"
good = True


def check(what, holds, said=""):
    global good
    good &= bool(holds)
    print(f"{'ok  ' if holds else 'FAIL'} {what}{': ' if said else ''}{said}")


def run(*words, code=0, text=None):
    done = subprocess.run([str(w) for w in words], capture_output=True, text=True, input=text)
    if done.returncode != code:
        print(done.stdout, done.stderr, sep="\n")
        raise SystemExit(f"exit code {done.returncode}, not {code}: {' '.join(map(str, words))}")
    return done.stdout


def program(name):
    """Whether a program is there; in CI it has to be."""
    found = shutil.which(name)
    if not found and os.environ.get("CI"):
        raise SystemExit(f"{name} is missing")
    if not found:
        print(f"left out: {name} is missing")
    return found


def cdl(rgb, slope, offset, power, saturation, clamp):
    """ASC CDL 1.2: out = clamp(in * slope + offset) ** power, then saturation about the luma of BT.709; the style
    without limits leaves the power out below 0."""
    limit = (lambda v: np.clip(v, 0, 1)) if clamp else (lambda v: v)
    sop = limit(rgb * slope + offset)
    sop = np.where(sop > 0, np.abs(sop) ** power, sop)
    luma = (sop @ np.array([0.2126, 0.7152, 0.0722]))[:, None]
    return limit(luma + saturation * (sop - luma))


def probe(rushlight, path, colours, *options):
    text = "\n".join(" ".join(repr(float(v)) for v in c) for c in colours)
    return json.loads(run(rushlight, "probe", path, "-", "--json", *options, text=text))["colours"]


def log(colours, node):
    """A camera log of the specification, CLF v3.0: log2 with a straight line below a break; or its inverse."""
    p = node.log_params[0]
    base, a, b = float(p.base), p.log_side_slope, p.log_side_offset
    c, d, at, line = p.lin_side_slope, p.lin_side_offset, p.lin_side_break, p.linear_slope
    encode = lambda x: a * np.log(c * x + d) / np.log(base) + b
    added = encode(at) - line * at
    if node.style.value == "cameraLinToLog":
        return np.where(colours <= at, line * colours + added, encode(np.maximum(colours, at)))
    inverse = lambda y: (base ** ((y - b) / a) - d) / c
    return np.where(colours <= encode(at), (colours - added) / line, inverse(colours))


def evaluate(path, colours):
    """The nodes of a CLF, by the specification: every one that is met must be known here."""
    process = clf.read_clf_from_file(str(path))
    assert process.process_nodes, path
    for node in process.process_nodes:
        if isinstance(node, clf.LUT3D):
            colours = table_interpolation_tetrahedral(np.clip(colours, 0, 1), node.array.as_array())
        elif isinstance(node, clf.LUT1D):
            table = node.array.as_array()
            x = np.linspace(0, 1, table.shape[0])
            colours = np.stack([np.interp(colours[:, c], x, table[:, c]) for c in range(3)], -1)
        elif isinstance(node, clf.Matrix):
            m = np.asarray(node.array.as_array()).reshape(3, -1)
            colours = colours @ m[:, :3].T + (m[:, 3] if m.shape[1] == 4 else 0)
        elif isinstance(node, clf.Log):
            colours = log(colours, node)
        elif isinstance(node, clf.ASC_CDL):
            sop = node.sopnode
            style = node.style.value
            assert style in ("Fwd", "FwdNoClamp"), style
            colours = cdl(colours, np.array(sop.slope), np.array(sop.offset), np.array(sop.power),
                          node.sat_node.saturation, style == "Fwd")
        else:
            raise AssertionError(f"{path}: {type(node).__name__} is not written here")
    return colours


def numbers_of(shot):
    return [np.array(shot[key]) for key in ("slope", "offset", "power")] + [shot["saturation"]]


def corrections(rushlight, folder):
    """The formula against CLFs of corrections."""
    rng = np.random.default_rng(9)
    colours = np.concatenate([rng.uniform(0, 1, (60, 3)), rng.uniform(-0.3, 1.6, (40, 3))])
    file = FIXTURES / "cdl" / "good_v101.ccc"
    for one in json.loads(run(rushlight, "inspect", file, "--json"))["corrections"]:
        for options in ([], ["--clamp"]):
            out = folder / "one.clf"
            run(rushlight, "convert", file, out, "--id", one["id"], *options)
            want = cdl(colours, *numbers_of(one), clamp=bool(options))
            ours = np.array([c["out"] for c in probe(rushlight, out, colours)])
            worst = max(np.abs(ours - want).max(), np.abs(evaluate(out, colours) - want).max())
            check(f"CDL {one['id']} {' '.join(options)}", worst < 1e-9, f"{worst:.1e} from the formula, in CLF too")


def schemas(rushlight, folder):
    if not program("xmllint"):
        return
    if not SCHEMAS.is_dir():
        print(f"skipped: the published schemas are not in {SCHEMAS}")
        return
    # The Academy's schema looks for that of the ASC a folder above itself.
    shutil.copytree(SCHEMAS, folder / "schemas" / "amf")
    of_cdl = shutil.copy(SCHEMAS / "ASC-CDL_schema_v1.01.xsd", folder / "schemas")
    of_amf = folder / "schemas" / "amf" / "acesMetadataFile.xsd"

    def valid(schema, path):
        text = path.read_bytes().replace(b"urn:ASC:CDL:v1.2", b"urn:ASC:CDL:v1.01")
        if b"xmlns" not in text:
            text = text.replace(b"<ColorCorrection ", b'<ColorCorrection xmlns="urn:ASC:CDL:v1.01" ', 1)
        (folder / "checked.xml").write_bytes(text)
        done = subprocess.run(["xmllint", "--noout", "--nonet", "--schema", schema, folder / "checked.xml"],
                              capture_output=True, text=True)
        return done.returncode == 0, done.stderr.strip()[-300:] if done.returncode else ""

    source = FIXTURES / "cdl" / "good_v101.ccc"
    for name, options in [("again.ccc", []), ("again.cdl", []), ("one.cc", ["--id", "12A-3"])]:
        run(rushlight, "convert", source, folder / name, *options)
        check(f"{name} by xmllint", *valid(of_cdl, folder / name))
    # A file of one correction without an id, and the names of elements that the schema takes as well.
    for name in ("good_sat_only.cc", "good_other_names.cdl"):
        out = folder / f"from_{name}"
        run(rushlight, "convert", FIXTURES / "cdl" / name, out)
        check(f"{out.name} by xmllint", *valid(of_cdl, out))
    for path in sorted((FIXTURES / "cdl").glob("bad_*.ccc")):
        # Refused here alone: two of one id or two nodes of a kind, infinity and NaN, a document type, UTF-16.
        if path.stem not in ("bad_duplicate", "bad_two_sops", "bad_two_names", "bad_entity", "bad_utf16", "bad_infinite",
                             "bad_nan"):
            check(f"{path.name} by xmllint", not valid(of_cdl, path)[0])
    for path in sorted((folder / "sent" / "amf").iterdir()):
        check(f"{path.name} by xmllint", *valid(of_amf, path))
    for path in sorted((folder / "sent" / "cdl").iterdir()):
        check(f"{path.name} by xmllint", *valid(of_cdl, path))


def shots(rushlight, show, manifest):
    """The stage of a shot's correction against the formula in colour-science's ACEScct."""
    rng = np.random.default_rng(12)
    signals = rng.uniform(0.05, 0.95, (50, 3))
    for record in manifest["files"]:
        shot = (record.get("about") or {}).get("shot")
        if record["what"] != "cube" or not isinstance(shot, dict):
            continue
        of = record["about"]
        pick = ["--shot", shot["name"], "--look", of["look"], "--camera", of["camera"], "--display", of["display"]]
        assert (shot["order"], shot["space"], shot["clamp"]) == ("after-compress", "acescct", False)
        stages = [c["stages"] for c in probe(rushlight, show, signals, *pick)]
        at = [s["name"] for s in stages[0]].index("shot's cdl")
        before, after = (np.array([s[i]["rgb"] for s in stages]) for i in (at - 1, at))
        graded = cdl(colour.models.log_encoding_ACEScct(before), *numbers_of(shot), clamp=False)
        want = colour.models.log_decoding_ACEScct(graded)
        worst = (np.abs(after - want) / (1e-3 + np.abs(want))).max()
        check(f"shot {shot['name']}, camera {of['camera']}", worst < 1e-9, f"{worst:.1e} from the formula in ACEScct")


def amfs(rushlight, show, folder, manifest):
    """What the AMFs point to, one after the other."""
    about = {r["file"]: r["about"] for r in manifest["files"] if r["file"].startswith("amf/")}
    rng = np.random.default_rng(3)
    to_ap1 = colour.RGB_COLOURSPACES["ACES2065-1"], colour.RGB_COLOURSPACES["ACEScg"]
    matrix = np.array(colour.matrix_RGB_to_RGB(*to_ap1, chromatic_adaptation_transform=None))
    for name, of in about.items():
        root = ElementTree.parse(folder / name).getroot()
        pipeline = root.find(f"{AMF}pipeline")
        pick = ["--look", of["look"], "--camera", of["camera"], "--display", of["display"]]
        pick += ["--shot", of["shot"]] if of["shot"] else []
        # Greys and soft colours about them, as a camera meets.
        level = rng.uniform(0.25, 0.75, (60, 1))
        signals = np.concatenate([level + rng.uniform(-0.08, 0.08, (60, 3)), np.repeat(level[:20], 3, 1)])
        rgb, sums = signals, True
        for step in pipeline:
            file = step.find(f"{AMF}file")
            if file is not None:
                path = (folder / "amf" / file.text).resolve()
                digest = step.find(f"{AMF}hash")
                sums &= digest.get("algorithm") == SHA256
                sums &= base64.b64decode(digest.text) == hashlib.sha256(path.read_bytes()).digest()
                ours = np.array([c["out"] for c in probe(rushlight, path, rgb)])
                rgb = evaluate(path, rgb)
                apart = (np.abs(ours - rgb) / (0.01 + np.abs(rgb))).max()
                if apart > 1e-4:
                    check(f"{name}: {path.name}", False, f"{apart:.1e} between probe and NumPy")
            elif step.find(f"{CDL}SOPNode") is not None:
                number = lambda node, value: np.array(
                    [float(v) for v in step.find(f"{CDL}{node}/{CDL}{value}").text.split()])
                sop = [number("SOPNode", value) for value in ("Slope", "Offset", "Power")]
                graded = cdl(colour.models.log_encoding_ACEScct(rgb @ matrix.T), *sop,
                             number("SatNode", "Saturation"), clamp=False)
                rgb = colour.models.log_decoding_ACEScct(graded) @ np.linalg.inv(matrix).T
        exact = np.array([c["out"] for c in probe(rushlight, show, signals, *pick)])
        worst, mean = np.abs(rgb - exact).max(), np.abs(rgb - exact).mean()
        strays = of["parts_error"]
        check(name, sums and mean < 0.01 and worst < 0.06,
              f"signal off by {mean:.4f}, at most {worst:.4f}; said to stray {strays['mean']:.2f} in the mean")


def containers(rushlight, folder):
    sent = folder / "sent"
    files = {p.relative_to(sent).as_posix(): p.read_bytes() for p in sent.rglob("*") if p.is_file()}
    with zipfile.ZipFile(folder / "sent.zip") as archive:
        infos = archive.infolist()
        root = infos[0].filename.split("/")[0]
        inside = {i.filename.removeprefix(root + "/"): archive.read(i) for i in infos}
        check("the .zip by zipfile", archive.testzip() is None and inside == files, f"{len(infos)} files")
        check("its order and times", [i.filename for i in infos] == sorted(i.filename for i in infos)
              and {i.date_time for i in infos} == {(2026, 11, 25, 0, 0, 0)} and {i.external_attr >> 16 & 0o777 for i in infos} == {0o644})
    if program("unzip"):
        run("unzip", "-tq", folder / "sent.zip")
        run("unzip", "-q", folder / "sent.zip", "-d", folder / "unpacked")
        check("the .zip by unzip", True)
        run(rushlight, "package", "--verify", folder / "unpacked" / root)
    if program("sha256sum"):
        done = subprocess.run(["sha256sum", "--check", "--strict", "--quiet", "SHA256SUMS"], cwd=sent)
        check("SHA256SUMS by sha256sum", done.returncode == 0)
        listed = {line[66:] for line in (sent / "SHA256SUMS").read_text().splitlines()}
        check("every file is in it", listed == set(files) - {"SHA256SUMS"})
    run(rushlight, "package", "--verify", folder / "sent.zip")
    (sent / "README.txt").write_bytes(files["README.txt"] + b"x")
    said = run(rushlight, "package", "--verify", sent, code=1)
    check("a changed file", "README.txt: changed" in said)
    (sent / "README.txt").write_bytes(files["README.txt"])


def main(rushlight, show):
    rushlight = str(pathlib.Path(rushlight).resolve())
    with tempfile.TemporaryDirectory() as scratch:
        scratch = pathlib.Path(scratch)
        shutil.copytree(pathlib.Path(show).parent, scratch / "show")
        show = scratch / "show" / pathlib.Path(show).name
        # One display, for time's sake; the parts have as many points as the largest cube.
        text = show.read_text()
        text = text[: text.index("\n[[bake]]") + 1] + '[[bake]]\ndisplays = ["onset"]\npoints = 33\n'
        # One rating to each camera: exposure cubes have checks of their own.
        rating = r"\[\[cameras\.\w+\.rating\]\]\n(?:\w.*\n)+\n"
        text = re.sub(rf"({rating})(?:{rating})+", r"\1", text)
        show.write_text(text)
        run(rushlight, "package", show, "--out", scratch / "sent", "--zip", scratch / "sent.zip", "--date", "2026-11-25")
        manifest = json.loads((scratch / "sent" / "manifest.json").read_text())
        corrections(rushlight, scratch)
        schemas(rushlight, scratch)
        shots(rushlight, show, manifest)
        amfs(rushlight, show, scratch / "sent", manifest)
        containers(rushlight, scratch)
    sys.exit(0 if good else 1)


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    main(*sys.argv[1:])
