"""The palette of exposure zones: how its numbers were found, and a check of what the binary gives.

    pip install -r tests/reference/requirements.txt
    python tests/reference/check/palette.py                    # the search: prints the best grid points
    python tests/reference/check/palette.py --check RUSHLIGHT SHOW

Simulated colour-vision deficiency (Machado, Oliveira and Fernandes 2009) and CIEDE2000 are colour-science's. The search
keeps the lightness of the zones as lib/src/exposure/palette.rs gives it, and looks about its hues: three in turn under
mid-grey and over it, rose directly over it, blue at it. What counts first is that the way from a zone to the next, straight
in the signal of a BT.1886 monitor, passes no third zone; then the least difference of zones two apart. The check takes the zones of every exposure
cube as the binary prints them.
Exit 0: all holds, or colour-science is missing (1 where CI is set).
"""

import argparse
import itertools
import json
import subprocess
import sys
import tempfile
import warnings

from shows import has_module, need

need("colour-science", has_module("colour"))
warnings.filterwarnings("ignore")

import colour
import numpy as np

assert colour.__version__ == "0.4.7", colour.__version__
NEIGHBOURS, TWO_APART, ANY_TWO, GREY_FROM_ALL = 8.0, 12.0, 5.0, 16.0
NAMED = (6, 8)
SRGB = colour.RGB_COLOURSPACES["sRGB"]
D65 = SRGB.whitepoint
# The colour space of lib/colour/src/gamut.rs: BT.709 primaries and D65, unrounded.
TO_XYZ = colour.normalised_primary_matrix(SRGB.primaries, D65)
VISIONS = {"normal": np.identity(3)} | {
    name: colour.matrix_cvd_Machado2009(kind, 1.0)
    for name, kind in [("protan", "Protanomaly"), ("deutan", "Deuteranomaly"), ("tritan", "Tritanomaly")]
}


def seen(rgb):
    """CIELAB of linear BT.709 light to each kind of vision: [vision, ..., 3]."""
    rgb = np.asarray(rgb)
    simulated = [np.clip(colour.algebra.vecmul(matrix, rgb), 0, 1) for matrix in VISIONS.values()]
    return np.stack([colour.XYZ_to_Lab(colour.algebra.vecmul(TO_XYZ, s), D65) for s in simulated])


def difference(one, two):
    return colour.delta_E(one, two, method="CIE 2000")


# ---------------------------------------------------------------------------------------------------------- the search

GREY, LOWEST, HIGHEST, UNDER_GREY, OVER_GREY, STEP = 49.5, 14.0, 91.0, 5.0, 6.0, 12.0
SIZES = [(3, 3), (7, 6), (10, 8)]
# Lightness of the picture under the marks, from the floor to the clip.
PICTURE = (30.0, 70.0)
OKLAB_INVERSE = np.linalg.inv(
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)
OKLAB_TO_RGB = np.array(
    [
        [4.0767416621, -3.3077115913, 0.2309699292],
        [-1.2684380046, 2.6097574011, -0.3413193965],
        [-0.0041960863, -0.7034186147, 1.7076147010],
    ]
)


def oklch(l, c, h):
    h = np.radians(h)
    roots = np.stack(np.broadcast_arrays(l, c * np.cos(h), c * np.sin(h)), -1) @ OKLAB_INVERSE.T
    return roots**3 @ OKLAB_TO_RGB.T


def shades(lightness, tints):
    """Linear BT.709 light of each tint (hue, chroma at most, share of the displayable at most) at one lightness."""
    hue, chroma, share = np.array(tints, float).T
    wanted = ((lightness + 16) / 116) ** 3 if lightness > 8 else lightness * 27 / 24389

    def at(c):
        low, high = np.zeros_like(c), np.full_like(c, 1.05)
        for _ in range(50):
            middle = (low + high) / 2
            under = oklch(middle, c, hue) @ TO_XYZ[1] <= wanted
            low, high = np.where(under, middle, low), np.where(under, high, middle)
        return oklch(low, c, hue)

    low, high = np.zeros_like(hue), np.full_like(hue, 0.4)
    for _ in range(40):
        middle = (low + high) / 2
        rgb = at(middle)
        shown = ((rgb >= 0) & (rgb <= 1)).all(-1)
        low, high = np.where(shown, middle, low), np.where(shown, high, middle)
    return np.clip(at(np.minimum(chroma, share * low)), 0, 1)


def ladder(grey, under, over, n, m):
    """Linear BT.709 light of a ladder of n zones under mid-grey and m over it, between black and white."""

    def side(start, end, tints, count):
        step = np.clip((end - start) / max(count, 1), -STEP, STEP)
        return [shades(start + step * k, [tints(k)])[0] for k in range(1, count + 1)]

    below = side(GREY - UNDER_GREY, LOWEST, lambda k: under[(k - 1) % 3], n)
    # The first stands alone, the others take turns.
    above = side(GREY + OVER_GREY, HIGHEST, lambda k: over[0] if k == 1 else over[1 + (k - 2) % 3], m)
    return np.array([np.zeros(3), *below[::-1], shades(GREY, [grey])[0], *above, np.ones(3)])


def passage(zones):
    """How much nearer the ways between neighbours are to these than to any third zone, at the least (below 0: they are not)."""
    signal, own = np.clip(zones, 0, 1) ** (1 / 2.4), seen(zones)[0]
    least = np.inf
    share = np.linspace(0, 1, 41)[1:-1, None]
    for i in range(len(zones) - 1):
        way = seen((signal[i] + share * (signal[i + 1] - signal[i])) ** 2.4)[0]
        away = difference(way[:, None], own[None])
        others = np.delete(away, [i, i + 1], axis=1)
        least = min(least, (others.min(1) - np.minimum(away[:, i], away[:, i + 1])).min())
    return least


def distances(places, at):
    """The least difference of neighbours, of zones two apart, of any two, from mid-grey, and the least rise.

    Places are [vision, zone, 3].
    """
    near = difference(places[:, :-1], places[:, 1:]).min()
    apart = difference(places[:, :-2], places[:, 2:]).min()
    two = min(difference(places[:, i], places[:, j]).min() for i, j in itertools.combinations(range(places.shape[1]), 2))
    grey = difference(places[:, at : at + 1], np.delete(places, at, axis=1)).min()
    return near, apart, two, grey, np.diff(places[..., 0], axis=1).min()


def search():
    families = itertools.product(
        itertools.product((220, 230, 240), (0.02,)),
        itertools.product((65, 75, 85), (0.04,)),
        itertools.product((315, 320), (0.12,)),
        itertools.product((0, 10), (0.04,)),
        itertools.product((200, 208, 216), (0.10,)),
        itertools.product((130,), (0.12, 0.15)),
        itertools.product((90,), (0.04,)),
    )
    found = []
    for tints in families:
        tones = [(hue, chroma, 0.95) for hue, chroma in tints]
        ladders = [(ladder((270, 1.0, 0.95), tones[:3], tones[3:], n, m), n + 1) for n, m in SIZES[:2]]
        near, apart, two, grey, rise = np.min([distances(seen(zones), at) for zones, at in ladders], axis=0)
        if near < NEIGHBOURS or two < ANY_TWO or grey < GREY_FROM_ALL or rise < 0.2:
            continue
        least = min(passage(zones) for zones, _ in ladders)
        if least >= 0:
            found.append((apart, near, least, grey, tints))
    for apart, near, least, grey, tints in sorted(found, reverse=True)[:12]:
        print(f"{tints}: two apart {apart:.1f}, neighbours {near:.1f}, ways clear by {least:.1f}, mid-grey from all {grey:.1f}")


# ----------------------------------------------------------------------------------------------------------- the check


def check(binary, show):
    """Every ladder and every mark of the show's exposure cubes."""
    with tempfile.TemporaryDirectory() as out:
        kinds = [f"--kind={kind}" for kind in ("ladder", "key", "clip", "range")]
        command = [binary, "false-colour", show, *kinds, "--out", out, "--json"]
        report = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    good = bool(report["cubes"])
    lightness = np.linspace(*PICTURE, 401)
    greys = seen(np.repeat((np.where(lightness > 8, ((lightness + 16) / 116) ** 3, lightness * 27 / 24389))[:, None], 3, 1))
    for cube in report["cubes"]:
        zones = [z for z in cube["zones"] if z["light"] is not None]
        places = seen([z["light"] for z in zones])
        if cube["kind"] == "ladder":
            names = [z["name"] for z in zones]
            at = names.index("mid-grey")
            near, apart, two, grey, rise = distances(places, at)
            clear = passage(np.array([z["light"] for z in zones]))
            holds = near >= NEIGHBOURS and two >= ANY_TWO and grey >= GREY_FROM_ALL and rise > 0 and clear >= 0
            # Black, mid-grey and white are not counted.
            if at - 1 <= NAMED[0] and len(names) - at - 2 <= NAMED[1]:
                holds = holds and apart >= TWO_APART
            said = f"{len(zones)} zones, neighbours {near:.1f}, two apart {apart:.1f}, any two {two:.1f}, "
            said += f"mid-grey {grey:.1f}, rise {rise:.1f}"
            said += f", ways clear by {clear:.1f}"
        else:
            least = difference(places[:, :, None], greys[:, None]).min()
            holds = least >= NEIGHBOURS
            # In greyscale too: all marks are darker or lighter than the picture.
            level = places[0, :, 0]
            outside = np.maximum(PICTURE[0] - level, level - PICTURE[1]).min()
            holds &= outside > 10
            said = f"{len(zones)} marks, from the picture {least:.1f}, by lightness {outside:.0f}"
            if len(zones) > 1:
                near = difference(places[:, :-1], places[:, 1:]).min()
                holds &= near >= NEIGHBOURS
                said += f", neighbours {near:.1f}"
        good &= bool(holds)
        print(f"{'ok  ' if holds else 'FAIL'} {cube['file']}: {said}")
    return good


if __name__ == "__main__":
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--check", nargs=2, metavar=("RUSHLIGHT", "SHOW"))
    given = arguments.parse_args()
    if given.check:
        sys.exit(0 if check(*given.check) else 1)
    search()
