"""The formulas of the guide, run as they stand on their page, against `probe`.

    python tests/reference/check/formulas.py RUSHLIGHT SHOW [--each-number]

The blocks of `cli/guide/formulas.md` are run as one program, and nothing of the path is computed here: this script only reads
the documents, and calls the functions of the page in the order that the page states. Every look of SHOW is taken with every
camera and display, its shots too, and looks of a show of its own, written into a temporary folder: every step, every variant
of `print`, `tone`, every EOTF, both mappings, both ranges, every kind of curve file, matrices, whites, cubes, and corrections
in every order and space. Colours are greys from below black to far over white, even and saturated ones, and single channels.

Each stage is computed from the stage before it as `probe` prints it (JSON has every digit), so a deviation is that of one
formula and does not grow along the path. Deviations are relative to the largest channel of a colour. What remains is rounding:
the functions of NumPy differ by some units in the last place. `FLOOR` is what counts as the least light.

Four constants of the page are then changed by a thousandth, one after the other: each must be seen. With --each-number this is
done with every number of the page, which takes half an hour, and those that are not seen are listed: numbers that guard a
division or choose between two forms of the same value, and those that cancel (the peak of an SDR display without black). Needs
numpy. Exit 0: all agree.
"""

import argparse
import itertools
import json
import pathlib
import re
import subprocess
import sys
import tempfile
import tomllib
import xml.etree.ElementTree as xml

from shows import has_module, need

need("numpy", has_module("numpy"))

import numpy as np

PAGE = pathlib.Path(__file__).parents[3] / "cli/guide/formulas.md"
# The largest deviation allowed: some thousand units in the last place. Exponentials of signals far beyond white, and sums that
# cancel, multiply the one or two units of each function of NumPy by up to some hundred.
CLOSE = 1e-12
# By stage where it is another. `plain print`: without the program's tables, from which it differs by 5e-10 here. `node`: half a
# unit of the ninth decimal, the last that a cube can have.
OTHERS = {"plain print": 2e-9, "node": 5.01e-10}
FLOOR = 1e-6
# Numbers of the page that must be seen when they change: within their line, which stands on the page once.
SEEN = [("knee of the mapping", "z = (reach - 0.45) / 0.55", "0.45"), ("a dye's height", "(430, 40, 45, 0.16)", "0.16"),
        ("an interlayer effect", "[-0.6562,  0.0184, -1.3932", "0.0184"), ("Bradford", "[0.8951, 0.2664, -0.1614]", "0.2664")]

CURVES = {
    "log.toml": "[log]\nlog_base = 10\nlog_slope = 0.24\nlight_gain = 5.0\nlight_offset = 0.05\nsignal_offset = 0.39\n"
                "break_light = 0.02\n",
    "quadratic.toml": "[log]\nlog_base = 'e'\nlog_slope = 0.1\nlight_gain = 5.0\nlight_offset = 0.05\nsignal_offset = 0.4\n"
                      "break_light = 0.02\nquadratic_toe = { offset = 0.1 }\n",
    "slope.toml": "[log]\nlog_base = 2\nlog_slope = 0.07\nlight_gain = 5.5\nlight_offset = 0.01\nsignal_offset = 0.5\n"
                  "break_light = 0.004\nquadratic_toe = { slope = 20.0, offset = 0.08 }\n",
    "gamma-log.toml": "[gamma-log]\nexponent = 0.5\nshift = 0.001\nblack = 0.05\nlog_base = 10\nlog_slope = 0.25\n"
                      "light_gain = 5.0\nlight_offset = 0.05\nsignal_offset = 0.4\nbreak_light = 0.05\n",
    "square-root.toml": "[gamma-log]\nexponent = 0.5\ngain = 1.1\nlog_base = 'e'\nlog_slope = 0.1\nlight_gain = 5.0\n"
                        "light_offset = 0.05\nbreak_light = 0.05\n",
    "table.toml": "[table]\ncodes = 10\npoints = [[-6, 90], [-4.5, 110], [-3, 180], [-1, 330], [0, 400], [2, 560], [3, 610],"
                  " [5, 800], [6.5, 930]]\n",
    "table-black.toml": "[table]\npercent = true\nblack = 3\npoints = [[-5, 7], [-2, 24], [0, 40], [3, 66], [6, 92]]\n",
    "steep.toml": "[table]\nblack = 0.0\npoints = [[-5, 0.3], [-1, 0.35], [0, 0.4], [6, 0.95]]\n",
    "two-points.toml": "[table]\npoints = [[-6, 0.15], [6, 0.95]]\n",
}
OWN_GAMUT = "{ red = [0.70, 0.30], green = [0.17, 0.80], blue = [0.12, 0.03], white = [0.3127, 0.3290] }"
MATRIX = ("[[cameras.{name}.matrix]]\nto_xyz = [[{a}, 0.3, 0.1501], [0.3, 0.6, 0.1001], [0.05, 0.1, 0.9386]]\n"
          "illuminant = '{light}'\nsource = 'made for this check'\ndate = '2026-01-01'\n{kelvin}")
CAMERAS = {
    "plain": "curve = 'slog3'\ngamut = 'sgamut3-cine'\n",
    "legal": "curve = 'slog3'\ngamut = 'vgamut'\nrange = 'legal'\n",
    "adapted": "curve = 'acescct'\ngamut = 'awg4'\nadaptation = 'cat16'\n",
    "cones": "curve = 'acescc'\ngamut = 'p3-dci'\nadaptation = 'von-kries'\n",
    "warm": "curve = 'slog3'\ngamut = 'redwidegamut'\nwhite = { kelvin = 3100, tint = 6 }\n",
    "between": "curve = 'slog3'\ngamut = 'bt2020'\nwhite = { kelvin = 4600, tint = -9 }\n",
    "cold": "curve = 'slog3'\ngamut = 'cinema-gamut'\nwhite = { kelvin = 9000 }\nadaptation = 'none'\n",
    "xy": f"curve = 'curves/log.toml'\ngamut = {OWN_GAMUT}\nwhite = {{ xy = [0.36, 0.37] }}\n",
    "one": "curve = 'linear'\n" + MATRIX.format(name="one", a=0.5, light="D55", kelvin=""),
    "two": "curve = 'slog3'\nkelvin = 4000\n" + MATRIX.format(name="two", a=0.5, light="A", kelvin="kelvin = 2856\n")
           + MATRIX.format(name="two", a=0.501, light="D65", kelvin="kelvin = 6504\n").replace("0.3, 0.6", "0.25, 0.65"),
} | {name.split(".")[0]: f"curve = 'curves/{name}'\ngamut = 'sgamut3'\n" for name in CURVES if name != "log.toml"}
DISPLAYS = {
    "sdr": "standard = 'bt709'\n",
    "legal": "standard = 'bt709'\nrange = 'legal'\nblack = 0.05\npeak = 120\n",
    "clip": "standard = 'bt2020'\nmapping = 'clip'\n",
    "srgb": "standard = 'srgb'\n",
    "gamma22": f"gamut = {OWN_GAMUT}\neotf = 'gamma22'\npeak = 90\n",
    "gamma24": "gamut = 'adobe-rgb'\neotf = 'gamma24'\npeak = 90\n",
    "p3": "standard = 'p3-d65'\n",
    "cinema": "standard = 'p3-dci'\n",
    "kept": "standard = 'p3-dci'\nwhite = 'keep'\n",
    "kept-clip": "standard = 'p3-dci'\nwhite = 'keep'\nkeep_white = [0.33, 0.34]\nmapping = 'clip'\n",
    "pq": "standard = 'bt2100-pq'\n",
    "pq-dark": "standard = 'bt2100-pq'\npeak = 4000\nblack = 0.005\ndiffuse_white = 100\nrange = 'legal'\n",
    "pq-low": "standard = 'bt2100-pq'\npeak = 150\n",
    "hlg": "standard = 'bt2100-hlg'\n",
    "hlg-low": "standard = 'bt2100-hlg'\npeak = 300\nblack = 0.1\n",
    "hlg-clip": "standard = 'bt2100-hlg'\nmapping = 'clip'\n",
}
ACES = "{ curve = 'acescct', gamut = 'aces-ap1' }"
STEPS = {
    "exposure": "do = 'exposure'\nstops = -0.7\n",
    "factor": "do = 'exposure'\nfactor = 1.3\n",
    "printer": "do = 'printer'\npoints = [1, -2, 3.5]\n",
    "per-stop": "do = 'printer'\npoints = [1, -2, 3.5]\nper_stop = 7\n",
    "saturation": "do = 'saturation'\namount = 1.3\n",
    "balance": "do = 'balance'\nfrom = { kelvin = 3200, tint = -4 }\n",
    "balance-to": "do = 'balance'\nfrom = { xy = [0.4, 0.39] }\nto = { kelvin = 7003, tint = 3 }\nadaptation = 'cat02'\n",
    "compress": "do = 'compress'\n",
    "compress-own": "do = 'compress'\nlimits = [1.2, 1.5, 1.1]\nthresholds = [0.5, 0.7, 0.9]\npower = 2.3\n",
    "contrast": "do = 'contrast'\namount = 1.4\n",
    "contrast-pivot": "do = 'contrast'\namount = 0.7\npivot = -1.5\n",
    "tint": "do = 'tint'\nshadows = [-0.16, 0.02, 0.14]\nhighlights = [0.06, 0, -0.08]\n",
    "tint-shadows": "do = 'tint'\nshadows = [-0.16, 0.02, 0.14]\n",
    "tint-highlights": "do = 'tint'\nhighlights = [0.06, 0, -0.08]\n",
    "tint-own": "do = 'tint'\nshadows = [0.3, 0.1, -0.2]\nhighlights = [0, 0.2, -0.3]\nshadow_start = -1\nshadow_width = 3\n"
                "highlight_start = 0.5\nhighlight_width = 2.5\nkeep_luminance = false\n",
    "cdl": "do = 'cdl'\nslope = [1.1, 0.9, 1]\noffset = [-0.02, 0.03, 0.01]\npower = [1.1, 0.9, 1.3]\nsaturation = 0.8\n",
    "cdl-slope": "do = 'cdl'\nslope = [1.1, 0.9, 1]\n",
    "cdl-saturation": "do = 'cdl'\nsaturation = 1.2\n",
    "cdl-clamp": "do = 'cdl'\nslope = [1.2, 0.9, 1]\noffset = [-0.1, 0, 0.1]\nsaturation = 1.4\nclamp = true\n",
    "cube": f"do = 'cube'\nfile = '../a.cube'\nexpects = {ACES}\ngives = {{ curve = 'acescc', gamut = 'sgamut3' }}\n"
            "interpolation = 'trilinear'\n",
    "cube-half": f"do = 'cube'\nfile = '../b.cube'\nstrength = 0.4\nexpects = {{ curve = 'acescc', gamut = {OWN_GAMUT} }}\n"
                 f"gives = {ACES}\n",
}
RENDERINGS = {
    **{name: f"do = 'print'\nvariant = '{name}'\n" for name in ("even", "deep", "soft", "rich")},
    # Every row of the table of interlayer effects.
    **{f"crosstalk-{share}": f"do = 'print'\ncrosstalk = 0.{share}\n" for share in ("004", "026", "077", "094")},
    "print-own": "do = 'print'\nexposure = 0.5\ngrey = 0.1\ncontrast = 3.1\ntoe = 0.4\nshoulder = 0.6\nblack = 3.6\n"
                 "colour = 0.7\nhue = 0.4\ncrosstalk = 0.063\nlights = [27, 24, 22.5]\nkelvin = 3900\nflare = 0.004\n",
    "print-bare": "do = 'print'\nhue = 0\ncolour = 1.2\ncrosstalk = 0.1\nkelvin = 8500\n",
    # So little contrast that the print's base is at its end, and white is dimmer.
    "print-flat": "do = 'print'\ncontrast = 1.8\ngrey = 0.05\nshoulder = 3\n",
    "tone": "do = 'tone'\n",
    "tone-own": "do = 'tone'\ngrey = 0.15\ncontrast = 3\ntoe = 2.5\nshoulder = 0.8\nblack = 3\n",
    "tone-channels": "do = 'tone'\nper_channel = true\n",
    "cube-sdr": f"do = 'cube'\nfile = '../a.cube'\nexpects = {ACES}\ngives = {{ display = 'p3-dci' }}\n",
    "cube-srgb": f"do = 'cube'\nfile = '../a.cube'\nexpects = {ACES}\ngives = {{ display = 'srgb' }}\n",
    "cube-bt709": f"do = 'cube'\nfile = '../a.cube'\nexpects = {ACES}\ngives = {{ display = 'bt709' }}\n",
    "cube-pq": f"do = 'cube'\nfile = '../b.cube'\nexpects = {ACES}\ngives = {{ display = 'bt2100-pq' }}\n",
    "cube-hlg": f"do = 'cube'\nfile = '../b.cube'\nexpects = {ACES}\ngives = {{ display = 'bt2100-hlg' }}\n",
}
CORRECTION = """<ColorCorrectionCollection xmlns="urn:ASC:CDL:v1.2"><ColorCorrection id="s"><SOPNode>
<Slope>1.1 0.95 1.02</Slope><Offset>0.02 -0.03 0.01</Offset><Power>1.05 0.9 1.2</Power></SOPNode>
<SatNode><Saturation>0.85</Saturation></SatNode></ColorCorrection></ColorCorrectionCollection>"""
CORRECTIONS = {
    "before": "order = 'before'\nspace = 'acescct'\n", "before-clamp": "order = 'before'\nspace = 'acescct'\nclamp = true\n",
    "acescc": "order = 'before'\nspace = 'acescc'\n", "camera": "order = 'before'\nspace = 'camera'\n",
    "camera-clamp": "order = 'before'\nspace = 'camera'\nclamp = true\n", "after": "order = 'after'\nspace = 'display'\n",
    "after-compress": "order = 'after-compress'\nspace = 'acescct'\n",
    "log": "order = 'after-compress'\nspace = { curve = 'acescct', gamut = 'sgamut3' }\n",
}


def run(binary, *words, given=None):
    run = subprocess.run([binary, *map(str, words)], check=True, capture_output=True, text=True, input=given)
    return run.stdout


def answer(binary, *words, given=None):
    return json.loads(run(binary, *words, "--json", given=given))


def page_blocks(text):
    return "\n".join(re.findall(r"^```python\n(.*?)^```", text, re.S | re.M))


def lights_and_signals():
    """Lights and signals at which curves are compared: all over, and close to the ends of their pieces."""
    ends = np.array([2.0**-15, 0.0078125, 0.02, 0.004, 0.05, 0.18 * 2.0**-6, 0.18 * 2.0**6])
    lights = np.concatenate([2.0 ** np.linspace(-20, 12, 400), -(2.0 ** np.linspace(-20, 6, 60)), [0.0]])
    breaks = [0.155251141552511, 171.2102946929 / 1023, (9.72 - 15) / 17.52, 0.04045]
    signals = np.concatenate([np.linspace(-0.3, 1.4, 800), breaks])
    beside = 1 + np.array([-1e-2, -1e-3, -3e-4, -1e-5, 1e-5, 3e-4, 1e-3, 1e-2])
    near = lambda values: np.outer(values, beside).ravel()
    return np.concatenate([lights, near(ends)]), np.concatenate([signals, near(breaks)])


class Formulas:
    """The functions of the page, by their names there."""

    def __init__(self, blocks):
        self.__dict__.update({"__name__": "page"})
        exec(compile(blocks, str(PAGE), "exec"), self.__dict__)


def signals():
    random = np.random.default_rng(11)
    greys = np.repeat(np.concatenate([np.linspace(-0.06, 1.1, 80), [1.5, 3.0]])[:, None], 3, 1)
    corners = np.array(list(itertools.product([0.09, 0.45, 0.95], repeat=3)))
    channels = np.concatenate([np.roll([v, 0.1, 0.1], k)[None] for v in (0.3, 0.6, 0.9, 1.0) for k in range(3)])
    beyond = random.uniform(-0.3, 1.4, (60, 3))
    near = random.uniform(0.05, 0.95, (60, 1)) + random.normal(0, 0.05, (60, 3))
    # So far over white and below black that light reaches the limit of the path.
    limit = [[12.0, 0.4, 0.5], [-1e20, 12.0, 0.3]]
    return np.concatenate([greys, corners, channels, random.random((120, 3)), beyond, near, limit])


def colours(rgb):
    return "".join(f"{r!r} {g!r} {b!r}\n" for r, g, b in rgb.tolist())


def write_cube(path, size, low, high):
    axis = np.linspace(0, 1, size)
    blue, green, red = np.meshgrid(axis, axis, axis, indexing="ij")
    nodes = np.stack([0.9 * red**0.8 + 0.1 * green * blue, 0.05 + 0.8 * green - 0.1 * red * blue + 0.1 * blue**2,
                      0.7 * blue**1.3 + 0.2 * red], -1)
    lines = [f"DOMAIN_MIN {low} {low} {low}\nDOMAIN_MAX {high} {high} {high}\nLUT_3D_SIZE {size}"]
    path.write_text("\n".join(lines + ["%.9f %.9f %.9f" % tuple(node) for node in nodes.reshape(-1, 3)]) + "\n")


def cube_of(path):
    low, high, rows = [0.0] * 3, [1.0] * 3, []
    for line in path.read_text().splitlines():
        words = line.split()
        if line.startswith("DOMAIN_MIN"):
            low = [float(v) for v in words[1:]]
        elif line.startswith("DOMAIN_MAX"):
            high = [float(v) for v in words[1:]]
        elif words and re.match(r"[-\d.]", words[0]):
            rows.append([float(v) for v in words])
    size = round(len(rows) ** (1 / 3))
    return np.array(rows).reshape(size, size, size, 3), low, high


def write_own_show(folder):
    """A show that has every setting of the path, a small look for each step, and each order of corrections."""
    for name in ("curves", "looks"):
        (folder / name).mkdir()
    for name, text in CURVES.items():
        (folder / "curves" / name).write_text(f"schema = 1\ntitle = '{name}'\nsource = 'made for this check'\n{text}")
    write_cube(folder / "a.cube", 5, 0.0, 1.0)
    write_cube(folder / "b.cube", 4, -0.2, 1.3)
    (folder / "s.ccc").write_text(CORRECTION)
    head = "schema = 1\ngeneration = 2\ntitle = '{}'\nrevision = 1\n"
    first, last = "[[step]]\ndo = 'compress'\n", "[[step]]\ndo = 'tone'\nper_channel = true\n"
    looks = {name: f"[[step]]\n{text}{last}" for name, text in STEPS.items()}
    looks |= {name: f"[[step]]\n{text}" for name, text in RENDERINGS.items()}
    looks["shot"] = f"{first}[[step]]\n{STEPS['exposure']}{last}"
    for name, text in looks.items():
        (folder / "looks" / f"{name}.toml").write_text(head.format(name) + text)
    show = "schema = 1\ntitle = 'Formulas'\n[looks]\n" + "".join(f"{name} = 'looks/{name}.toml'\n" for name in looks)
    for kind, all_of in (("cameras", CAMERAS), ("displays", DISPLAYS)):
        show += "".join(f"[{kind}.{name}]\n{text}" for name, text in all_of.items())
    show += "[[shots]]\nname = 's'\nfile = 's.ccc'\nlook = 'shot'\n"
    # Nothing is baked, and all of its cubes would be more than a show may ask for.
    show += "[[bake]]\nlooks = ['even']\ncameras = ['plain']\ndisplays = ['sdr']\n"
    cases = [(look, "plain", "sdr") for look in looks]
    cases += [("even", camera, "sdr") for camera in CAMERAS]
    cases += [(look, "plain", display) for display in DISPLAYS for look in ("even", "tone", "print-own", "tone-channels")]
    others = ("print-flat", "tone-own", "cube-sdr", "cube-hlg")
    cases += [(look, "plain", display) for look in others for display in ("cinema", "pq")]
    made = []
    for name, text in CORRECTIONS.items():
        path = folder / f"{name}.toml"
        path.write_text(show + f"[cdl]\nfiles = ['s.ccc']\n{text}")
        if not made:
            made += [(path, *case, None) for case in cases]
        made += [(path, "shot", camera, display, "s") for camera, display in (("plain", "sdr"), ("legal", "legal"))]
    return made


class Reader:
    """From documents to the functions of the page."""

    def __init__(self, binary):
        self.gamuts = {g["name"]: g for g in answer(binary, "list", "gamuts")["gamuts"]}

    def gamut(self, page, given):
        """Primaries, white, and the adaptation that its camera's maker uses."""
        if isinstance(given, dict):
            return [given["red"], given["green"], given["blue"]], tuple(given["white"]), "bradford"
        named = self.gamuts[given]
        return named["primaries"], tuple(named["white"]), named["adaptation"]

    def curve(self, page, name, folder):
        """Encode and decode of a curve; none where the page has the other alone."""
        if not name.endswith(".toml"):
            return {"slog3": (None, page.slog3_decode), "acescct": (page.acescct_encode, page.acescct_decode),
                    "acescc": (page.acescc_encode, page.acescc_decode), "linear": (lambda v: v, lambda v: v),
                    "srgb": (lambda v: page.encode_light(v, "srgb", 80, 0, 1), lambda v: page.decode_signal(v, "srgb", 80)),
                    "pq": (None, lambda v: 203 * page.decode_signal(v, "pq", 1000)),
                    "gamma22": (None, lambda v: page.decode_signal(v, "gamma22", 48))}[name]
        document = tomllib.loads((folder / name).read_text())
        if doc := document.get("log"):
            head = [doc[key] for key in ("log_base", "log_slope", "light_gain", "light_offset", "signal_offset", "break_light")]
            if not {"quadratic_toe", "linear_toe"} & set(doc):
                return page.log_curve(*head)
            toe = doc.get("quadratic_toe") or {"curvature": 0.0} | doc["linear_toe"]
            return page.log_curve(*head, toe=tuple(toe.get(key) for key in ("curvature", "slope", "offset")))
        if doc := document.get("gamma-log"):
            return page.gamma_log_curve(doc["log_base"], doc["log_slope"], doc["light_gain"], doc["light_offset"],
                                        doc.get("signal_offset"), doc["break_light"], doc.get("gain"), doc["exponent"],
                                        **{key: doc[key] for key in ("shift", "black") if key in doc})
        doc = document["table"]
        unit = (lambda v: v / (2 ** doc["codes"] - 1)) if "codes" in doc else lambda v: v
        unit = (lambda v: page.to_range(v / 100, True)) if doc.get("percent") else unit
        black = unit(doc["black"]) if "black" in doc else None
        return page.table_curve([(stops, unit(signal)) for stops, signal in doc["points"]], black)

    def space(self, page, given, folder):
        given = {"acescct": {"curve": "acescct", "gamut": "aces-ap1"}, "acescc": {"curve": "acescc", "gamut": "aces-ap1"}}.get(
            given if isinstance(given, str) else "", given)
        return *self.curve(page, given["curve"], folder), page.gamut_to_ap1(*self.gamut(page, given["gamut"]))

    @staticmethod
    def white(page, given):
        return tuple(given["xy"]) if "xy" in given else page.white_xy(**given)

    def camera(self, page, doc, folder):
        """Signal to `linear`, and `linear` to `camera`."""
        decode, legal = self.curve(page, doc["curve"], folder)[1], doc.get("range") == "legal"
        if "gamut" in doc:
            primaries, white, adaptation = self.gamut(page, doc["gamut"])
            matrix = page.gamut_to_ap1(primaries, white, doc.get("adaptation", adaptation))
        elif len(doc["matrix"]) == 1:
            matrix = page.matrix_to_ap1(page.camera_matrix(doc["matrix"][0]["to_xyz"]))
        else:
            one, two = doc["matrix"]
            of = [one["to_xyz"], one["kelvin"], two["to_xyz"], two["kelvin"], doc["kelvin"]]
            matrix = page.matrix_to_ap1(page.mixed_matrices(*of))
        if "white" in doc:
            matrix = page.balance_matrix(self.white(page, doc["white"]), page.D65) @ matrix
        return (lambda signal: decode(page.from_range(signal, legal)), lambda light: page.times(matrix, page.finite(light)))

    def display(self, page, doc):
        """What the page asks of a display, and the functions of its three stages."""
        primaries, white, eotf, peak_nits = page.DISPLAYS[doc.get("standard", "bt709")]
        if "gamut" in doc:
            primaries, white, _ = self.gamut(page, doc["gamut"])
        eotf, peak_nits = doc.get("eotf", eotf), doc.get("peak", peak_nits)
        diffuse = doc.get("diffuse_white", min(203, peak_nits) if eotf in ("pq", "hlg") else peak_nits)
        keep = tuple(doc.get("keep_white", page.D65)) if doc.get("white") == "keep" else None
        matrix, full = page.display_matrix(primaries, white, keep)
        peak, legal = peak_nits / diffuse, doc.get("range") == "legal"
        gamma = page.system_gamma(peak_nits) if eotf == "hlg" else None
        return keep or white, peak, legal, {
            "display": lambda xyz: page.times(matrix, xyz),
            "gamut": lambda rgb: page.into_gamut(rgb, peak, primaries, white, full, doc.get("mapping", "soft"), gamma),
            "signal": lambda rgb: page.send(page.encode_light(rgb, eotf, peak_nits, doc.get("black", 0.0), peak), legal),
        }

    def step(self, page, doc, folder, white, peak):
        """A step, or a rendering, as a function of light. What is not stated is left to the defaults of the page."""
        kind, given = doc["do"], {key: value for key, value in doc.items() if key not in ("do", "keep_grey")}
        if kind == "exposure":
            return lambda rgb: rgb * given["factor"] if "factor" in given else page.exposure(rgb, given["stops"])
        if kind == "balance":
            names = {"from": "old", "to": "new"}
            whites = {names[key]: self.white(page, given[key]) for key in names if key in given}
            method = {"method": given["adaptation"]} if "adaptation" in given else {}
            return lambda rgb: page.balance(rgb, **whites, **method)
        if kind == "cube":
            nodes, low, high = cube_of(folder / given["file"])
            read = lambda v: page.read_cube(nodes, low, high, v, given.get("interpolation") == "trilinear")
            expects = self.space(page, given["expects"], folder)
            if "display" in given["gives"]:
                return lambda rgb: page.cube_rendering(rgb, read, expects, given["gives"]["display"], white)
            gives = self.space(page, given["gives"], folder)
            part = [given["strength"]] if "strength" in given else []
            return lambda rgb: page.cube_step(rgb, read, expects, gives, *part)
        if kind == "tone":
            return lambda rgb: page.tone(rgb, white, peak, **given)
        if kind == "print":
            numbers = page.VARIANTS[given.pop("variant", "even")] | given
            return lambda rgb: page.film_print(rgb, white, peak, **numbers)
        functions = {name: getattr(page, name) for name in ("printer", "saturation", "compress", "contrast", "tint", "cdl")}
        return lambda rgb: functions[kind](rgb, **given)

    def correction(self, page, show, camera, display_legal, numbers, folder):
        """Where a shot's correction stands, and its function."""
        doc = show["cdl"]
        order, clamp = doc.get("order", "before"), doc.get("clamp", False)
        space = doc.get("space", "display" if order == "after" else "acescct")
        if space == "display":
            return order, lambda v: page.correct_display(v, display_legal, numbers, clamp)
        if space == "camera":
            legal = camera.get("range") == "legal"
            correct = lambda v: page.to_range(page.asc_cdl(page.from_range(v, legal), *numbers, clamp), legal)
            return "camera", lambda v: page.finite(correct(v))
        made = self.space(page, space, folder)
        return order, lambda rgb: page.finite(page.correct_light(rgb, made, numbers, clamp))

    def path(self, page, case):
        """The stages of a case in the order of the page: names and functions."""
        path, look_name, camera_name, display_name, shot = case
        folder, show = path.parent, tomllib.loads(path.read_text())
        look_path = folder / show["looks"][look_name]
        steps = tomllib.loads(look_path.read_text())["step"]
        camera_doc = show["cameras"][camera_name]
        white, peak, legal, display = self.display(page, show["displays"][display_name])
        linear, to_ap1 = self.camera(page, camera_doc, folder)
        made = [(doc["do"], self.step(page, doc, look_path.parent, white, peak)) for doc in steps]
        stages = [("linear", linear), ("camera", to_ap1)]
        stages += [(name, lambda rgb, step=step: page.finite(step(rgb))) for name, step in made] + list(display.items())
        if shot:
            entry = next(s for s in show["shots"] if s.get("name") == shot)
            numbers = numbers_of(folder / entry.get("file", show["cdl"]["files"][0]), shot)
            order, correct = self.correction(page, show, camera_doc, legal, numbers, folder)
            at = {"camera": 0, "before": 2, "after-compress": 3, "after": len(stages)}[order]
            stages.insert(at, ("shot's cdl", correct))
        return stages


def numbers_of(path, name):
    """The correction of an id in a .ccc."""
    of = {node.get("id"): node for node in xml.parse(path).getroot() if node.get("id")}[name]
    texts = {node.tag.split("}")[-1]: node.text for node in of.iter()}
    slope, offset, power, saturation = (
        [float(v) for v in texts[key].split()] for key in ("Slope", "Offset", "Power", "Saturation"))
    return slope, offset, power, saturation[0]


def probe(binary, case, rgb):
    """Names of the stages and their colours, the input first."""
    path, look, camera, display, shot = case
    pick = ["--look", look, "--camera", camera, "--display", display, *(["--shot", shot] if shot else [])]
    found = answer(binary, "probe", path, *pick, "-", given=colours(rgb))["colours"]
    names = [stage["name"] for stage in found[0]["stages"]]
    # A light that is no number in JSON is null: one that overflowed.
    stages = [[[np.inf if v is None else v for v in c["stages"][i]["rgb"]] for c in found] for i in range(len(names))]
    return ["in", *names], [rgb, *np.array(stages, float)]


def allowed(stage):
    return OTHERS.get(stage, CLOSE)


def deviation(got, want):
    size = np.maximum(np.abs(want).max(axis=-1, keepdims=True), FLOOR)
    off = np.where(got == want, 0.0, np.abs(got - want) / size)     # equal infinities, too
    return float(np.max(np.where(np.isnan(off), np.inf, off)))


class Comparison:
    """The program's answers, and how far the page is from them."""

    def __init__(self, binary, show, folder):
        self.binary, self.reader, self.folder = binary, Reader(binary), folder
        demo = tomllib.loads(show.read_text())
        cases = [(show, look, camera, display, None)
                 for look in demo["looks"] for camera in demo["cameras"] for display in demo["displays"]]
        shots = [s for s in demo["shots"] if "name" in s]
        cases += [(show, s["look"], s["camera"], display, s["name"]) for s in shots for display in demo["displays"]]
        cases += write_own_show(folder)
        given = signals()
        self.count = len(given)
        self.answers = [(case, *probe(binary, case, given)) for case in cases]
        self.baked = self.bake(show, "night", "a", "onset")
        self.curves = {}
        lights, values = lights_and_signals()
        for name in ("slog3", "acescct", "acescc", "srgb", "pq", "gamma22", *(f"curves/{name}" for name in CURVES)):
            path = folder / name if name.endswith(".toml") else name
            for way, given in (("encode", lights), ("decode", values)):
                found = answer(binary, "curve", path, f"--{way}", *map(repr, given.tolist()))["values"]
                self.curves[name, way] = given, np.array([v["out"] for v in found])
        self.read = {}
        random = np.random.default_rng(3)
        inner = np.concatenate([random.uniform(-0.3, 1.4, (200, 3)), np.repeat(random.random((20, 1)), 3, 1),
                                np.round(random.random((100, 3)) * 20) / 20])
        for name, kind in itertools.product(("a.cube", "b.cube"), ("tetrahedral", "trilinear")):
            found = answer(binary, "probe", folder / name, "--interpolation", kind, "-", given=colours(inner))["colours"]
            self.read[name, kind] = inner, np.array([c["out"] for c in found])

    def bake(self, show, look, camera, display):
        """A small cube of the show: the nodes in its file."""
        out = self.folder / "baked"
        pick = ["--look", look, "--camera", camera, "--display", display, "--points", 4, "--digits", 9]
        made = answer(self.binary, "bake", show, *pick, "--no-audit", "--out", out)["cubes"][0]
        return (show, look, camera, display, None), cube_of(out / made["file"])[0]

    def against(self, page, stop=False):
        """The largest deviation of each stage, and where. The names of the stages must be those of `probe`. With `stop`, nothing
        after the first that is too large."""
        worst = {}

        def note(stage, off, where):
            if off >= worst.get(stage, (-1.0, ""))[0]:
                worst[stage] = off, where
            if stop and off > allowed(stage):
                raise ArithmeticError(stage)

        for (name, way), (given, want) in self.curves.items():
            function = self.reader.curve(page, name, self.folder)[("encode", "decode").index(way)]
            if function:
                note("curve", deviation(function(given)[:, None], want[:, None]), f"{name} {way}")
        for (name, kind), (given, want) in self.read.items():
            off = deviation(page.read_cube(*cube_of(self.folder / name), given, kind == "trilinear"), want)
            note("cube, read", off, f"{name} {kind}")
        for case, names, stages in self.answers:
            path = self.reader.path(page, case)
            assert [name for name, _ in path] == names[1:], f"{case}: {names}"
            where = " ".join(str(part) for part in (case[0].stem, *case[1:]) if part)
            for (name, function), before, after in zip(path, stages, stages[1:]):
                note(name, deviation(function(before), after), where)
                if name == "print":
                    tables = page.negative_density, page.print_density, page.light_through
                    page.negative_density = page.NEGATIVE
                    page.print_density = lambda curve, x: curve(x)
                    page.light_through = lambda lamp, amounts: lamp.light(amounts)
                    off = deviation(function(before), after)
                    page.negative_density, page.print_density, page.light_through = tables
                    note("plain print", off, where)
        case, nodes = self.baked
        axis = np.arange(len(nodes)) / (len(nodes) - 1)
        blue, green, red = np.meshgrid(axis, axis, axis, indexing="ij")
        rgb = np.stack([red, green, blue], -1).reshape(-1, 3)
        for _, function in self.reader.path(page, case):
            rgb = function(rgb)
        note("node", float(np.abs(rgb - nodes.reshape(-1, 3)).max()), "a baked cube, from the signal to the end")
        return worst

    def agrees(self, blocks):
        """Whether the page, with these blocks, agrees everywhere; what does not run does not agree."""
        try:
            self.against(Formulas(blocks), stop=True)
        except Exception:   # a changed number may make anything fail
            return False
        return True


def changed(blocks, place, number):
    """The blocks with one number changed by a thousandth: a whole one is no longer whole."""
    value = float(number)
    return blocks[:place] + repr(value * 1.001 if value else 1e-3) + blocks[place + len(number):]


def numbers(blocks):
    """Where each number of the page begins, apart from those in comments."""
    bare = re.sub(r"#.*", lambda found: " " * len(found.group()), blocks)
    return [(n.start(), n.group()) for n in re.finditer(r"(?<![\w.])(\d+\.\d*(?:e[-+]?\d+)?|\d+(?:e[-+]?\d+)?)(?![\w.])", bare)]


def main(given):
    text = PAGE.read_text()
    blocks = page_blocks(text)
    failed = 0
    with tempfile.TemporaryDirectory() as folder:
        compared = Comparison(given.binary, pathlib.Path(given.show).resolve(), pathlib.Path(folder))
        worst = compared.against(Formulas(blocks))
        print(f"{len(compared.answers)} paths, {compared.count} colours each; largest deviation of a stage:")
        for stage, (off, where) in worst.items():
            good = off <= allowed(stage)
            failed += not good
            print(f"{'ok  ' if good else 'FAIL'} {stage:<12} {off:.1e}  {where}")
        for what, line, number in SEEN:
            assert blocks.count(line) == 1, f"{what}: `{line}` is not on the page once"
            seen = not compared.agrees(changed(blocks, blocks.index(line) + line.index(number), number))
            failed += not seen
            print(f"{'ok  ' if seen else 'FAIL'} {what} changed by a thousandth is {'seen' if seen else 'NOT SEEN'}")
        if given.each_number:
            all_of = numbers(blocks)
            for place, number in all_of:
                if compared.agrees(changed(blocks, place, number)):
                    line = blocks[:place].count("\n")
                    print(f"not seen: {number} in `{blocks.splitlines()[line].strip()}`", flush=True)
            print(f"{len(all_of)} numbers changed")
    return 1 if failed else 0


if __name__ == "__main__":
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("binary", metavar="RUSHLIGHT")
    arguments.add_argument("show", metavar="SHOW")
    arguments.add_argument("--each-number", action="store_true", help="change every number of the page in turn")
    sys.exit(main(arguments.parse_args()))
