#!/usr/bin/env python3
"""Counts with NumPy what the scopes of `rushlight preview` count on the graphics card, bin for bin.

    preview_scopes.py RUSHLIGHT SHOW [--small]    --small: a frame that is quick to count

A frame of UHD size is made here and opened in a headless Chromium by preview/scopes.mjs. Stops of codes are those of Sony's
S-Log3 as colour-science computes them, light of codes that of ITU-R BT.1886; the display's codes are worked out here from the
cube. Says "skipped" and ends well where there is no Node, npm or Chromium, unless the environment variable CI is set.
"""

import json
import os
import shutil
import subprocess
import sys
import tempfile

import colour
import numpy as np
from PIL import Image

import preview_page

WIDTH, HEIGHT = (640, 360) if "--small" in sys.argv else (3840, 2160)
# The page shows no more pixels across, each the mean of what it stands for.
SHOWN = 1920
# The scale of stops, as preview/page/scope_counts.js states it.
LOW, HIGH, BINS = -12, 12, 12
COLUMNS = 256
CHROMA, CHROMA_WIDTH = 256, 0.0025
# 10-bit codes within which a card of 32 bits may round to either side.
CLOSE = 0.01
# Bins of u' and v' within which it may be either.
CLOSE_CHROMA = 0.005


def frame(path):
    """Log signal of 8 bits in blocks of pixels, so that the page's mean of each block is exact; codes of what it shows."""
    times = max(WIDTH // SHOWN, 1)
    width, height = WIDTH // times, HEIGHT // times
    rng = np.random.default_rng(20)
    ramp = np.linspace(0, 1, width)[None, :, None]
    noisy = np.clip(ramp + rng.normal(0, 0.02, (height // 2, width, 3)), 0, 1)
    flat = rng.random((height - height // 2, width, 3)) * [1.0, 0.8, 0.6]
    codes = np.round(np.concatenate([noisy, flat]) * 255).astype(np.uint8)
    Image.fromarray(codes.repeat(times, axis=0).repeat(times, axis=1)).save(path, compress_level=1)
    return codes.astype(np.int64) * 257


def tetrahedral(nodes, signal):
    n = round((nodes.size / 3) ** (1 / 3))
    table = nodes.reshape(n, n, n, 3).astype(np.float64)  # blue, green, red
    place = np.clip(signal, 0, 1) * (n - 1)
    low = np.minimum(place.astype(int), n - 2)
    f = place - low
    order = np.argsort(-f, axis=1, kind="stable")
    rows = np.arange(len(f))
    out = table[low[:, 2], low[:, 1], low[:, 0]] * (1 - f[rows, order[:, 0]])[:, None]
    at = low.copy()
    for i in range(3):
        at[rows, order[:, i]] += 1
        rest = f[rows, order[:, i + 1]] if i < 2 else 0
        out += table[at[:, 2], at[:, 1], at[:, 0]] * (f[rows, order[:, i]] - rest)[:, None]
    return out


def exposed(table, signal):
    place = np.clip(signal, 0, 1) * (len(table) - 1)
    low = np.minimum(place.astype(int), len(table) - 2)
    a, b = table[low].astype(np.float64), table[low + 1].astype(np.float64)
    return a + (b - a) * (place - low)


def between(counted, least, most, words):
    """Every bin has at least the pixels that are surely in it, and at most those that may be."""
    wrong = np.flatnonzero((counted < least) | (counted > most))
    assert wrong.size == 0, f"{words}: {wrong.size} bins differ, the first {wrong[0]}: {counted[wrong[0]]}, not {least[wrong[0]]} to {most[wrong[0]]}"


class Counted:
    def __init__(self, folder, name):
        self.folder, self.name = folder, name
        with open(os.path.join(folder, f"{name}.json"), encoding="utf-8") as file:
            self.says = json.load(file)

    def floats(self, name):
        return np.fromfile(os.path.join(self.folder, f"{self.name}-{name}"), dtype="<f4")

    def bins(self, kind):
        of = self.says["kinds"][kind]
        return self.floats(kind).astype(np.float64).reshape(of["rows"], of["columns"], 4)


def stops(counted, codes, table):
    """Exact: the same codes by the same table."""
    row = np.clip(np.floor((table.astype(np.float64) - LOW) * BINS), 0, (HIGH - LOW) * BINS - 1).astype(int)
    got = counted.bins("stops")
    across = codes.shape[1]
    column = np.broadcast_to((np.arange(across) * COLUMNS // across)[None, :], codes.shape[:2])
    for c in range(3):
        wanted = np.zeros(got.shape[:2])
        np.add.at(wanted, (row[codes[..., c]], column), 1)
        off = np.abs(wanted - got[..., c])
        assert off.max() == 0, f"{counted.name}: {int((off > 0).sum())} bins of stops differ in channel {c}"
        assert wanted.sum() == codes[..., 0].size
    return got[..., :3].astype(bool).sum()


def signal_of(counted, codes):
    signal = codes.reshape(-1, 3) / 65535
    return exposed(counted.floats("nudge"), signal) if counted.says["nudge"] else signal


def display(counted, codes):
    """The display's codes of every pixel, as real numbers before they are rounded; and the waveform of them."""
    value = np.clip(tetrahedral(counted.floats("cube"), signal_of(counted, codes)), 0, 1) * 1023
    got = counted.bins("display")
    across = codes.shape[1]
    column = np.broadcast_to((np.arange(across) * COLUMNS // across)[None, :], codes.shape[:2]).ravel()
    for c in range(3):
        low, high = (np.floor(np.clip(value[:, c] + by, 0, 1023) + 0.5).astype(int) >> 2 for by in (-CLOSE, CLOSE))
        least, most = np.zeros(got.shape[:2]), np.zeros(got.shape[:2])
        sure = low == high
        np.add.at(least, (low[sure], column[sure]), 1)
        np.add.at(most, (low, column), 1)
        np.add.at(most, (high[~sure], column[~sure]), 1)
        assert got[..., c].sum() == len(value)
        between(got[..., c].ravel(), least.ravel(), most.ravel(), f"{counted.name}: display, channel {c}")
        assert sure.mean() > 0.98, f"only {sure.mean():.3f} of the pixels are sure"
    return value


def bins_of(codes, to_xyz, by=(0, 0)):
    """The bin of u', v' of codes, -1 where it is not counted; CIE 15:2004, 8.1, of light by ITU-R BT.1886."""
    xyz = (codes / 1023) ** 2.4 @ to_xyz.T
    total = xyz @ [1, 15, 3]
    lit = np.where(total > 0, total, 1)
    column, row = (np.floor(n / lit / CHROMA_WIDTH + d).astype(int) for n, d in zip((4 * xyz[:, 0], 9 * xyz[:, 1]), by))
    inside = (total > 0) & (column >= 0) & (row >= 0) & (column < CHROMA) & (row < CHROMA)
    return np.where(inside, row * CHROMA + column, -1)


def chromaticity(counted, value, to_xyz):
    got = counted.bins("chroma")[..., 0].ravel()
    low, high = (np.floor(np.clip(value + by, 0, 1023) + 0.5) for by in (-CLOSE, CLOSE))
    # Each of a pixel's codes as it may be rounded, and each bin that is close.
    corners = [(-CLOSE_CHROMA, -CLOSE_CHROMA), (-CLOSE_CHROMA, CLOSE_CHROMA), (CLOSE_CHROMA, -CLOSE_CHROMA), (CLOSE_CHROMA, CLOSE_CHROMA)]
    first = [bins_of(low, to_xyz, by) for by in corners]
    sure = (low == high).all(axis=1) & (np.ptp(first, axis=0) == 0)
    count = lambda bins: np.bincount(bins[bins >= 0], minlength=CHROMA * CHROMA)
    least = count(first[0][sure])
    both = np.stack([low[~sure], high[~sure]])
    may = [bins_of(np.stack([both[i, :, 0], both[j, :, 1], both[k, :, 2]], axis=1), to_xyz, by) for i, j, k in np.ndindex(2, 2, 2) for by in corners]
    may = np.sort(np.stack(may, axis=1), axis=1)
    may[:, 1:][may[:, 1:] == may[:, :-1]] = -1
    between(got, least, least + count(may.ravel()), f"{counted.name}: chromaticity")
    assert sure.mean() > 0.9, f"only {sure.mean():.3f} of the pixels are sure"
    return int((least > 0).sum())


def pins(folder, codes):
    """A pixel, and a rectangle by the mean of its light."""
    with open(os.path.join(folder, "pins.json"), encoding="utf-8") as file:
        one, area = json.load(file)
    rest = Counted(folder, "rest")
    down, across, _ = codes.shape
    assert one["pin"] == {"x": across // 4, "y": down // 4, "width": 1, "height": 1}, one
    assert area["pin"]["width"] > across / 30 and area["pin"]["height"] > down / 30, area
    for reading in (one, area):
        pin = reading["pin"]
        part = codes[pin["y"] : pin["y"] + pin["height"], pin["x"] : pin["x"] + pin["width"]] / 65535
        light = colour.models.log_decoding_SLog3(part).reshape(-1, 3).mean(axis=0)
        stops = np.log2(light / 0.18)
        assert np.abs(np.array(reading["channel_stops"]) - stops).max() < 2e-3, f"{reading} instead of {stops}"
        signal = colour.models.log_encoding_SLog3(light)
        assert np.abs(np.array(reading["camera_code_10"]) - 1023 * signal).max() < 0.51
        # By the cube; the page reads by the exact path.
        out = tetrahedral(rest.floats("cube"), signal[None, :])[0]
        assert np.abs(np.array(reading["display_code_10"]) - 1023 * out).max() < 12, f"{reading} instead of {1023 * out}"


def pictures(folder):
    for scope in ("stops", "display", "histogram", "chromaticity"):
        image = np.asarray(Image.open(os.path.join(folder, f"{scope}.png")).convert("RGB"))
        assert image.shape[0] == 816, image.shape
        # Something is drawn, and something is said under it.
        assert (image[:720].max(axis=2) > 100).mean() > 0.01, f"{scope}.png is empty"
        assert (image[720:].max(axis=2) > 100).mean() > 0.005, f"{scope}.png does not say what it is of"


def main():
    missing = [name for name in ("node", "npm", "chromium", "git") if shutil.which(name) is None]
    if missing:
        assert "CI" not in os.environ, f"missing: {', '.join(missing)}"
        print(f"scopes: skipped, there is no {' or '.join(missing)}")
        return
    rushlight, show = sys.argv[1:3]
    with tempfile.TemporaryDirectory() as folder:
        picture = os.path.join(folder, "saltmarsh.png")
        codes = frame(picture)
        script = os.path.join(preview_page.browser(), "scopes.mjs")
        subprocess.run(["node", script, rushlight, show, picture, folder], check=True, timeout=600)
        table = np.fromfile(os.path.join(folder, "scales-stops"), dtype="<f4")
        slog3 = colour.models.log_decoding_SLog3(np.arange(65536) / 65535)
        lit = slog3 > 1e-4
        far = np.abs(table[lit] - np.log2(slog3[lit] / 0.18)).max()
        assert far < 2e-3, f"stops are {far:.5f} from those of S-Log3"
        with open(os.path.join(folder, "scales.json"), encoding="utf-8") as file:
            to_xyz = np.array(json.load(file)["to_xyz"])
        far = np.abs(to_xyz - colour.RGB_COLOURSPACES["ITU-R BT.709"].matrix_RGB_to_XYZ).max()
        assert far < 5e-4, f"the matrix to XYZ is {far:.5f} from that of BT.709"
        filled = colours = 0
        for name in ("rest", "coarse", "nudged"):
            counted = Counted(folder, name)
            every = counted.says["every"]
            assert (every > 1) == (name == "coarse"), f"{name}: every {every}"
            seen = codes[::every, ::every]
            if name != "nudged":
                filled += stops(counted, seen, table)
            value = display(counted, seen)
            colours += chromaticity(counted, value, to_xyz)
        pins(folder, codes)
        pictures(folder)
        with open(os.path.join(folder, "pace.json"), encoding="utf-8") as file:
            pace = json.load(file)
    print(f"scopes: {filled} bins of stops exact, {colours} of u' v' and all of the display within rounding; counted {pace['each']:.1f} times a second in software, "
          f"{pace['pixels']} pixels at a time")


if __name__ == "__main__":
    main()
