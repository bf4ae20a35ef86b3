"""The palette of exposure zones: how its numbers were found, and a check of what the binary gives.

    pip install -r tests/reference/requirements.txt
    python tests/reference/palette.py                    # the search: prints the best grid points
    python tests/reference/palette.py --check RUSHLIGHT SHOW

Simulated colour-vision deficiency (Machado, Oliveira and Fernandes 2009) and CIEDE2000 are colour-science's. The search
keeps the lightness of the zones as lib/src/exposure/palette.rs gives it, and the families of hues: plum and green under
mid-grey, red and yellow over it, blue at it. The check takes the zones of every exposure cube as the binary prints them.
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
NEIGHBOURS, ANY_TWO, GREY_FROM_ALL = 8.0, 4.0, 16.0
SRGB = colour.RGB_COLOURSPACES["sRGB"]
D65 = SRGB.whitepoint
# The colour space of lib/src/gamut.rs: BT.709 primaries and D65, unrounded.
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

GREY, LOWEST, HIGHEST, UNDER_GREY, OVER_GREY = 49.5, 15.0, 86.0, 3.0, 6.0
MOST_UNDER, MOST_OVER = 10, 8
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


def ladders(first, second, grey, n, down):
    """The least difference of neighbours and from mid-grey, and the least rise, for every pair of tints: [first, second]."""
    start, end = (GREY - UNDER_GREY, LOWEST) if down else (GREY + OVER_GREY, HIGHEST)
    levels = [seen(shades(start + (end - start) * k / n, [first, second][(k - 1) % 2])) for k in range(1, n + 1)]
    last = seen(np.zeros(3) if down else np.ones(3))[:, None]
    grey = seen(shades(GREY, [grey]))
    shape = (len(first), len(second))
    # A zone's places along its own axis of the pair.
    spread = [l[:, :, None] if k % 2 == 0 else l[:, None, :] for k, l in enumerate(levels)]
    whole = [grey[:, :, None], *spread, last[:, None]]
    sign = -1 if down else 1
    near = np.full(shape, np.inf)
    rise = np.full(shape, np.inf)
    from_grey = np.full(shape, np.inf)
    for one, two in itertools.pairwise(whole):
        near = np.minimum(near, difference(one, two).min(0))
        rise = np.minimum(rise, (sign * (two[..., 0] - one[..., 0])).min(0))
    for zone in whole[1:]:
        from_grey = np.minimum(from_grey, difference(whole[0], zone).min(0))
    return near, from_grey, rise


def search():
    def tints(hues, chromas):
        return [(h % 360, c, 1.0) for h in hues for c in chromas]

    families = {
        "under": (tints(range(310, 351, 10), (0.06, 0.08, 0.1)), tints(range(130, 171, 10), (0.07, 0.09, 0.11))),
        "over": (tints(range(10, 51, 10), (0.08, 0.1, 0.12)), tints(range(90, 121, 10), (0.12, 0.15, 0.18))),
    }
    for hue in range(250, 291, 10):
        grey = (hue, 1.0, 0.95)
        for side, most in [("under", MOST_UNDER), ("over", MOST_OVER)]:
            first, second = families[side]
            runs = [ladders(first, second, grey, n, side == "under") for n in range(1, most + 1)]
            near, from_grey, rise = (np.min([r[i] for r in runs], axis=0) for i in range(3))
            # What counts is the least of all that must be told apart, mid-grey being worth more.
            score = np.where(rise > 0.2, np.minimum(near, from_grey / 1.5), 0)
            best = np.unravel_index(score.argmax(), score.shape)
            print(
                f"mid-grey {hue}, {side}: {first[best[0]][:2]} and {second[best[1]][:2]}: neighbours {near[best]:.1f}, "
                f"mid-grey from all {from_grey[best]:.1f}, least rise {rise[best]:.1f}"
            )


# ----------------------------------------------------------------------------------------------------------- the check


def check(binary, show):
    """Every ladder and every mark of the show's exposure cubes."""
    with tempfile.TemporaryDirectory() as out:
        kinds = [f"--kind={kind}" for kind in ("ladder", "key", "clip", "range")]
        command = [binary, "false-colour", show, *kinds, "--out", out, "--json"]
        report = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    good = bool(report["cubes"])
    lightness = np.linspace(0, 100, 401)
    greys = seen(np.repeat((np.where(lightness > 8, ((lightness + 16) / 116) ** 3, lightness * 27 / 24389))[:, None], 3, 1))
    for cube in report["cubes"]:
        zones = [z for z in cube["zones"] if z["light"] is not None]
        places = seen([z["light"] for z in zones])
        if cube["kind"] == "ladder":
            near = difference(places[:, :-1], places[:, 1:]).min()
            two = min(difference(places[:, i], places[:, j]).min() for i, j in itertools.combinations(range(len(zones)), 2))
            at = [z["name"] for z in zones].index("mid-grey")
            others = np.delete(places, at, axis=1)
            grey = difference(places[:, at : at + 1], others).min()
            rise = np.diff(places[..., 0], axis=1).min()
            holds = near >= NEIGHBOURS and two >= ANY_TWO and grey >= GREY_FROM_ALL and rise > 0
            said = f"{len(zones)} zones, neighbours {near:.1f}, any two {two:.1f}, mid-grey {grey:.1f}, rise {rise:.1f}"
        else:
            least = difference(places[:, :, None], greys[:, None]).min()
            holds = least >= NEIGHBOURS
            said = f"{len(zones)} marks, from any grey {least:.1f}"
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
