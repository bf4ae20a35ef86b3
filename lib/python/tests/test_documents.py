"""Looks and shows read, built, saved and baked; reports; what is wrong, with its key and its place; the type stubs."""

import ast
import inspect
import json
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import rushlight as rl

TOP = Path(__file__).resolve().parents[3]
DEMO = TOP / "fixtures/demo"
SHOW = rl.Show.read(DEMO / "show.toml")


def wrong(f):
    with pytest.raises(ValueError) as caught:
        f()
    assert isinstance(caught.value, rl.Invalid) and caught.value.problems
    return caught.value


def test_a_look_is_built_saved_and_read(tmp_path):
    steps = [
        {"do": "compress"},
        {"do": "exposure", "stops": np.float32(-0.5)},
        {"do": "tint", "shadows": np.array([-0.125, 0.0, 0.125])},
        {"do": "print", "shoulder": 1.9},
    ]
    look = rl.Look("Saltmarsh, dusk", steps, revision=3)
    assert (look.title, look.revision, look.note) == ("Saltmarsh, dusk", 3, "")
    assert look.steps[1:3] == [{"do": "exposure", "stops": -0.5}, {"do": "tint", "shadows": [-0.125, 0.0, 0.125]}]
    assert look.sentences[1] == "0.5 stops darker."
    look.save(tmp_path / "dusk.toml")
    assert rl.Look.read(tmp_path / "dusk.toml") == look == rl.Look.parse(look.toml())
    assert rl.Look(look.title, look.steps, revision=3) == look != rl.Look(look.title, look.steps)
    assert (tmp_path / "dusk.toml").read_text() == look.toml()
    assert [p.name for p in tmp_path.iterdir()] == ["dusk.toml"]
    # What is there is replaced only where that is asked for.
    look.save(tmp_path / "dusk.toml")
    other = rl.Look("Other", [{"do": "print"}])
    assert "replace=True" in str(wrong(lambda: other.save(tmp_path / "dusk.toml")))
    assert rl.Look.read(tmp_path / "dusk.toml") == look
    other.save(tmp_path / "dusk.toml", replace=True)
    assert rl.Look.read(tmp_path / "dusk.toml") == other


def test_files_of_a_look_are_beside_its_document(tmp_path):
    rl.Cube(np.random.default_rng(1).random((3, 3, 3, 3))).write(tmp_path / "own.cube")
    space = {"curve": "acescct", "gamut": "aces-ap1"}
    steps = [{"do": "cube", "file": "own.cube", "expects": space, "gives": space}, {"do": "print"}]
    look = rl.Look("Cube", steps, folder=tmp_path)
    assert "own.cube" in str(wrong(lambda: rl.Look("Cube", steps)))
    look.save(tmp_path / "look.toml")
    assert rl.Look.read(tmp_path / "look.toml") == look
    # Elsewhere its cube would not be found, or would be another.
    (tmp_path / "other").mkdir()
    assert "own.cube" in str(wrong(lambda: look.save(tmp_path / "other/look.toml")))
    rl.Cube(np.zeros((3, 3, 3, 3))).write(tmp_path / "other/own.cube")
    wrong(lambda: look.save(tmp_path / "other/look.toml"))
    assert [p.name for p in (tmp_path / "other").iterdir()] == ["own.cube"]


def test_a_show_gives_its_parts():
    assert (SHOW.title, SHOW.looks, SHOW.cameras, SHOW.displays) == ("Saltmarsh", ["day", "night"], ["a", "b"], ["hdr", "onset"])
    path = SHOW.pipeline("night", "a", "onset")
    same = rl.Pipeline(SHOW.camera("a"), SHOW.look("night"), SHOW.display("onset"))
    x = np.random.default_rng(2).random((9, 3))
    assert (path(x) == same(x)).all()
    shot = SHOW.pipeline("night", "a", "onset", shot=SHOW.shots[0])
    assert (shot(x) != path(x)).any()
    stages = path.stages([0.4, 0.4, 0.4])
    assert stages[0]["name"] == "linear" and list(stages[-1]["rgb"]) == path([0.4] * 3).tolist()
    assert (path.from_light(SHOW.camera("a").decode(x)) == path(x)).all()
    assert SHOW.display("hdr").peak == 1000 and SHOW.display("hdr").diffuse_white == 203


def test_cameras_and_displays_are_read_as_documents_are():
    camera = rl.Camera("logc3", "awg3", ei=400, range="legal", rating=[{"ei": 400, "clip": 0.9, "floor_stops": -7}])
    assert camera.range == "legal" and camera.ratings == [{"ei": 400.0, "clip": 0.9, "floor_stops": -7.0}]
    file = DEMO / "curves/harbour.toml"
    by_file = rl.Camera("harbour.toml", "bt2020", folder=file.parent)
    grey = by_file.encode([0.18] * 3)
    assert abs(grey[0] - rl.Curve.read(file).encode(0.18)) < 1e-12
    display = rl.Display(gamut="p3-d65", eotf="gamma26", peak=48)
    assert (display.peak, display.eotf, display.range) == (48, "gamma26", "full")


def test_what_is_wrong_has_its_key_and_its_place(tmp_path):
    for f, key in [
        (lambda: rl.Curve("slog-3"), "name"),
        (lambda: rl.Curve("logc3", ei=1), "ei"),
        (lambda: rl.Gamut("bt710"), "name"),
        (lambda: rl.Gamut(red=(0.1, 0.1), green=(0.2, 0.2), blue=(0.3, 0.3), white=(0.3, 0.3)), "primaries"),
        (lambda: rl.Gamut("bt709").to(rl.Gamut("ngamut"), adaptation="cat"), "adaptation"),
        (lambda: rl.Camera("slog-3", "sgamut3-cine"), "curve"),
        (lambda: rl.Camera("slog3", "sgamut3-cine", rating=[{"ei": 800, "clip": 2}]), "rating[0].clip"),
        (lambda: rl.Camera("slog3", 3), "gamut"),
        (lambda: rl.Camera("slog3", object()), "gamut"),
        (lambda: rl.Display("bt709", peak=5), "peak"),
        (lambda: rl.Look("Night", [{"do": "exposure", "stops": 99}, {"do": "print"}]), "step[0].stops"),
        (lambda: rl.Look("Night", [{"do": "exposure", "stop": 1}, {"do": "print"}]), "step[0].stop"),
        (lambda: rl.defaults("prnt"), "step"),
        (lambda: rl.Cube(np.zeros((2, 2, 3, 3))), "nodes"),
        (lambda: rl.Cube(np.full((2, 2, 2, 3), np.nan)), "nodes"),
        (lambda: rl.Cube(np.zeros((1, 1, 1, 3))), "nodes"),
        (lambda: SHOW.pipeline("nihgt", "a", "onset"), "look"),
        (lambda: SHOW.pipeline("night", "a", "onset").cube(1), "size"),
        (lambda: SHOW.pipeline("night", "a", "onset", shot="99"), "shot"),
        (lambda: rl.bake(SHOW, looks=["nihgt"]), "looks"),
        (lambda: rl.bake(SHOW, device="x"), "device"),
        (lambda: rl.bake(SHOW, format="cub"), "format"),
        (lambda: rl.diff(DEMO / "show.toml", DEMO / "show.toml", limits=["x"]), "limits"),
    ]:
        error = wrong(f)
        assert key in [p["key"] for p in error.problems], error
        assert all(p["file"] is None and p["line"] is None for p in error.problems)
    text = (DEMO / "looks/night.toml").read_text()
    lines = text.splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith("stops"))
    lines[at] = "stops = 99"
    broken = tmp_path / "night.toml"
    broken.write_text("\n".join(lines))
    [problem] = wrong(lambda: rl.Look.read(broken)).problems
    assert problem["file"] == str(broken) and (problem["line"], problem["column"]) == (at + 1, 9)
    assert problem["key"].endswith(".stops") and "must lie between" in problem["message"]
    (tmp_path / "bad.cube").write_text("LUT_3D_SIZE 2\n0 0 0\n")
    assert "bad.cube" in str(wrong(lambda: rl.Cube.read(tmp_path / "bad.cube")))
    with pytest.raises(FileNotFoundError, match="nothing.toml"):
        rl.Show.read(tmp_path / "nothing.toml")


def test_a_bake_is_that_of_the_program(tmp_path):
    baked = rl.bake(SHOW, out=tmp_path / "here", looks=["night"], cameras=["a"])
    assert sorted(baked["files"]) == sorted(cube["file"] for cube in baked["manifest"]["cubes"]) and baked["files"]
    for name, text in baked["files"].items():
        assert (tmp_path / "here" / name).read_text() == text
        assert np.isfinite(rl.Cube.read(tmp_path / "here" / name).nodes).all()
    assert json.loads((tmp_path / "here/manifest.json").read_text())["cubes"] == json.loads(json.dumps(baked["manifest"]["cubes"]))
    program = TOP / "target/debug/rushlight"
    if not program.exists():
        pytest.skip("the program is not built")
    command = [program, "bake", DEMO / "show.toml", "--look", "night", "--camera", "a", "--out", tmp_path / "there"]
    subprocess.run(command, check=True, capture_output=True)
    for file in (tmp_path / "there").iterdir():
        assert file.read_bytes() == (tmp_path / "here" / file.name).read_bytes(), file.name


def test_nothing_is_written_where_one_file_is_in_the_way(tmp_path):
    names = list(rl.bake(SHOW, looks=["night"], points=5)["files"])
    (tmp_path / names[-1]).write_text("mine")
    assert names[-1] in str(wrong(lambda: rl.bake(SHOW, out=tmp_path, looks=["night"], points=5)))
    assert [p.name for p in tmp_path.iterdir()] == [names[-1]]
    rl.bake(SHOW, out=tmp_path, looks=["night"], points=5, replace=True)
    assert (tmp_path / names[-1]).read_text() != "mine"


def test_reports_are_plain_objects():
    path = SHOW.pipeline("night", "a", "onset")
    sampled = path.cube(9)
    fitted, done = rl.fit(path, 9)
    before, after = rl.audit(path, sampled), rl.audit(path, fitted)
    assert before["difference"] == "ciede2000" and done["nodes"] == 729
    assert after["plausible"]["tetrahedral"]["mean"] < before["plausible"]["tetrahedral"]["mean"] < 5
    found = rl.stress(path, 9)
    assert found["verdict"] in ("holds", "marginal", "breaks") and found["look"] == "night" and len(found["findings"]) > 10
    old, new = DEMO / "looks/night.toml", DEMO / "revisions/night-2.toml"
    report = rl.diff(old, new, camera="a", display="onset")
    assert report["verdict"] == "different" and rl.diff(old, old, camera="a", display="onset")["verdict"] == "identical"
    limited = rl.diff(old, new, camera="a", display="onset", limits=["skin.max=0.0001"])
    assert limited["verdict"] == "beyond"
    json.dumps([before, done, found, report])


def test_steps_can_be_built_from_their_defaults():
    assert rl.defaults("exposure") == {"stops": 0.0}
    assert {"exposure", "compress", "print", "tone"} <= set(rl.steps())
    stated = {"do": "print", **{key: value for key, value in rl.defaults("print").items() if "." not in key}}
    path = rl.Pipeline(SHOW.camera("a"), rl.Look("All", [stated]), SHOW.display("onset"))
    short = rl.Pipeline(SHOW.camera("a"), rl.Look("All", [{"do": "print"}]), SHOW.display("onset"))
    assert (path([0.5, 0.4, 0.3]) == short([0.5, 0.4, 0.3])).all()
    for name in rl.curves():
        assert rl.Curve(name).title and rl.Curve(name).source and rl.Curve(name).light
    for name in rl.gamuts():
        assert rl.Gamut(name).name == name
    for name in rl.displays():
        assert rl.Display(name).peak > 0


def test_the_stubs_name_all_there_is_and_nothing_else():
    stub = ast.parse((TOP / "lib/python/rushlight.pyi").read_text())
    typed = {n.name: n for n in stub.body if isinstance(n, (ast.ClassDef, ast.FunctionDef)) and not n.name.startswith("_")}
    there = {n: o for n, o in vars(rl).items() if not n.startswith("_") and not inspect.ismodule(o)}
    assert set(typed) == set(there)
    for name, node in typed.items():
        assert there[name].__doc__, name
        if isinstance(node, ast.ClassDef) and name != "Invalid":
            methods = {n.name: n for n in node.body if isinstance(n, ast.FunctionDef)}
            public = {n for n in vars(there[name]) if not n.startswith("_") or n == "__call__"}
            assert {n for n in methods if n != "__init__"} == public, name
            # What a call takes, a class does not say in a form that Python reads.
            functions = [(getattr(there[name], n), methods[n]) for n in public - {"__call__", *properties(there[name])}]
            assert all(getattr(there[name], n).__doc__ for n in public), name
        else:
            functions = [] if name == "Invalid" else [(there[name], node)]
        for function, said in functions:
            arguments = [a.arg for a in said.args.args + said.args.kwonlyargs if a.arg != "self"]
            real = [a for a in inspect.signature(function).parameters if a != "self"]
            assert arguments == real, (name, said.name)


def properties(kind):
    return [n for n, o in vars(kind).items() if inspect.isgetsetdescriptor(o)]


def test_the_page_of_the_guide_runs_as_it_stands(capsys, monkeypatch):
    page = (TOP / "cli/guide/python.md").read_text()
    blocks = re.findall(r"```python\n(.*?)```", page, re.DOTALL)
    assert len(blocks) >= 4
    monkeypatch.chdir(TOP)
    names = {}
    for block in blocks:
        exec(compile(block, "cli/guide/python.md", "exec"), names)
    printed = capsys.readouterr().out
    assert "step[0].stops 99 is out of range" in printed and "\ndifferent\n" in printed


def test_the_example_runs(tmp_path):
    example = TOP / "lib/python/examples/night_look.py"
    done = subprocess.run([sys.executable, example], cwd=tmp_path, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    look = rl.Look.read(tmp_path / "night-look/night.toml")
    assert look.title == "Saltmarsh, night"
    assert {p.name for p in (tmp_path / "night-look").iterdir()} >= {"greys.png", "before-after.png", "night.cube"}
