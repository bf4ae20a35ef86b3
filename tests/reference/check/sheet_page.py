#!/usr/bin/env python3
"""Reads the look sheet with readers of its own: an HTML parser, a headless Chromium, and colour-science for its colours.

    sheet_page.py RUSHLIGHT SHOW [FOLDER]    FOLDER keeps the page, the PDF and the screenshots

Says so and ends well where there is no Chromium, unless the environment variable CI is set.
"""

import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from html.parser import HTMLParser

import colour
import numpy as np

VOID = {"meta", "img", "br"}


class Page(HTMLParser):
    """What is in a page, every place that it asks for, and whether each element ends where it must."""

    def __init__(self):
        super().__init__()
        self.open, self.links, self.images, self.charts, self.tags = [], [], [], [], {}

    def handle_starttag(self, tag, attributes):
        attributes = dict(attributes)
        self.tags[tag] = self.tags.get(tag, 0) + 1
        self.links += [attributes[name] for name in ("src", "href", "action") if attributes.get(name)]
        if tag == "img":
            self.images.append(attributes.get("alt", ""))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attributes):
        self.tags[tag] = self.tags.get(tag, 0) + 1

    def handle_endtag(self, tag):
        assert self.open and self.open[-1] == tag, f"</{tag}> where {self.open[-3:]} are open"
        self.open.pop()

    def handle_data(self, data):
        if self.open[-2:] == ["svg", "title"]:
            self.charts.append(data)


def lab(display, signal):
    """CIELAB of a display's signal under its diffuse white, by colour-science."""
    if display["hdr"]:
        nits = colour.models.eotf_ST2084(np.array(signal))
        space = colour.RGB_COLOURSPACES["ITU-R BT.2020"]
    else:
        nits = display["white"] * colour.models.eotf_BT1886(np.array(signal))
        space = colour.RGB_COLOURSPACES["ITU-R BT.709"]
    matrix = colour.normalised_primary_matrix(space.primaries, space.whitepoint)
    xyz = matrix @ (nits / display["white"])
    return colour.XYZ_to_Lab(xyz, space.whitepoint), float(nits @ matrix[1])


def colours(report):
    """Checks casts and nits of every level; the largest miss."""
    worst = 0.0
    for look in report["looks"]:
        for display in look["displays"]:
            for level in display["levels"]:
                want, nits = lab(display, level["signal"])
                worst = max(worst, float(np.max(np.abs(want - level["lab"]))), abs(nits - level["nits"]) / display["white"])
    # Primaries and white are the same four digits; PQ's curve is steep at its foot.
    assert worst < 1e-5, worst
    return worst


def inked(path):
    """How far down a side is printed, 0 to 1, from a PGM file."""
    with open(path, "rb") as file:
        head, data = file.read().split(b"\n255\n", 1)
    width, height = map(int, head.split()[-2:])
    rows = [y for y in range(height) if min(data[y * width : (y + 1) * width]) < 200]
    return (max(rows, default=0) + 1) / height


def main():
    rushlight, show = sys.argv[1:3]
    with tempfile.TemporaryDirectory() as scratch:
        folder = sys.argv[3] if len(sys.argv) > 3 else scratch
        chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
        if not chromium and os.environ.get("CI"):
            sys.exit("sheet_page: there is no Chromium")
        page, pdf = os.path.join(folder, "sheet.html"), os.path.join(folder, "sheet.pdf")
        run = [rushlight, "sheet", show, "--stress", "--out", page, "--json", *(["--pdf", pdf] if chromium else [])]
        report = json.loads(subprocess.run(run, check=True, capture_output=True, text=True).stdout)
        looks = len(report["looks"])
        worst = colours(report)

        parsed = Page()
        with open(page, encoding="utf-8") as file:
            text = file.read()
        parsed.feed(text)
        assert not parsed.open, parsed.open
        ways = sum(len(look["cameras"]) * (1 + 2 * len(look["displays"])) for look in report["looks"])
        # Before and after of each look stand large on its first side.
        heroes = 2 * len(report["looks"])
        assert len(parsed.images) == 2 * ways + heroes, f"a frame and a chart for each: {len(parsed.images)}"
        assert all(len(alt) > 12 for alt in parsed.images), parsed.images
        assert len(parsed.charts) == sum(len(look["displays"]) + 4 for look in report["looks"])
        assert all(len(said) > 60 for said in parsed.charts)
        assert not any(parsed.tags.get(tag) for tag in ("script", "link", "iframe"))
        assert all(link.startswith(("data:image/", "#")) for link in parsed.links), "nothing from elsewhere"
        assert not re.search(r"url\((?!data:)|@import|https?://(?!www\.w3\.org/2000/svg)", text)
        for look in report["looks"]:
            with open(os.path.join(os.path.dirname(show), look["document"]["file"]), "rb") as file:
                assert hashlib.sha256(file.read()).hexdigest() == look["document"]["sha256"]

        if not chromium:
            print("sheet_page: there is no Chromium: the page was not opened")
            return
        with open(pdf, "rb") as file:
            data = file.read()
        sides = len(re.findall(rb"/Type\s*/Page\b(?!s)", data))
        planned = len(re.findall(r'<section class="side', text))
        assert sides == planned, f"{sides} sides were printed where {planned} were planned: one runs over"
        if shutil.which("pdftoppm"):
            subprocess.run(["pdftoppm", "-r", "20", "-gray", pdf, os.path.join(scratch, "side")], check=True)
            for name in sorted(name for name in os.listdir(scratch) if name.startswith("side")):
                used = inked(os.path.join(scratch, name))
                assert used > 0.5, f"{name}: printed down to {used:.0%} of the side"
        assert b"D:2000" in data or b"CreationDate" not in data, "no date of the day"
        base = [chromium, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", f"--user-data-dir={scratch}/profile"]
        address = "file://" + os.path.abspath(page)
        for name, size, more in (
            ("wide", "1280,2600", []),
            ("dark", "1280,2600", ["--blink-settings=preferredColorScheme=0"]),
        ):
            shot = os.path.join(folder, f"sheet_{name}.png")
            subprocess.run([*base, *more, f"--window-size={size}", f"--screenshot={shot}", address], check=True, capture_output=True)
            assert os.path.getsize(shot) > 20_000, name
        print(f"sheet_page: {looks} looks on {sides} sides, {len(parsed.images)} pictures; colours within {worst:.1e}")


if __name__ == "__main__":
    main()
