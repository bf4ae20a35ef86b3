#!/usr/bin/env python3
"""Reads the page and the JUnit file of `rushlight diff` with readers of their own: a headless Chromium and ElementTree.

    diff_page.py RUSHLIGHT [FOLDER]    FOLDER keeps the screenshots, wide and narrow, light and dark

Says so and ends well where there is no Chromium, unless the environment variable CI is set.
"""

import os
import re
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ElementTree
from html.parser import HTMLParser

DEMO = os.path.join(os.path.dirname(__file__), "../../../fixtures/demo")


class Page(HTMLParser):
    """What is in a page, by tag, and every place that it asks for."""

    def __init__(self):
        super().__init__()
        self.tags, self.links, self.charts = {}, [], 0

    def handle_starttag(self, tag, attributes):
        self.tags[tag] = self.tags.get(tag, 0) + 1
        self.charts += ("class", "chart") in attributes
        self.links += [value for name, value in attributes if name in ("src", "href", "action") and value]


def main():
    rushlight = sys.argv[1]
    with tempfile.TemporaryDirectory() as scratch:
        folder = sys.argv[2] if len(sys.argv) > 2 else scratch
        page, junit = os.path.join(folder, "diff.html"), os.path.join(folder, "diff.xml")
        old, new = os.path.join(DEMO, "looks/night.toml"), os.path.join(DEMO, "revisions/night-2.toml")
        run = [rushlight, "diff", old, new, "--camera", "a", "--show", os.path.join(DEMO, "show.toml")]
        run += ["--frame", os.path.join(DEMO, "frame.exr"), "--limit", "skin.mean=1"]
        run += ["--format", f"html={page}", "--format", f"junit={junit}"]
        code = subprocess.run(run, check=False).returncode
        assert code == 1, f"diff gave {code}, where a limit is exceeded"

        suites = ElementTree.parse(junit).getroot()
        cases = list(suites.iter("testcase"))
        failed = [case for case in cases if case.find("failure") is not None]
        assert int(suites.get("tests")) == len(cases) == 2, "a case for each of the two displays"
        assert int(suites.get("failures")) == len(failed) >= 1

        parsed = Page()
        with open(page, encoding="utf-8") as file:
            parsed.feed(file.read())
        assert parsed.tags["img"] == 12, f"two scenes of three on two displays: {parsed.tags}"
        assert parsed.charts == 2, "the curves of greys on two displays"
        assert parsed.tags.get("script") is None and parsed.tags.get("link") is None
        assert all(link.startswith("data:image/png;base64,") for link in parsed.links), "nothing from elsewhere"

        chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
        if not chromium:
            if os.environ.get("CI"):
                sys.exit("diff_page: there is no Chromium")
            print("diff_page: there is no Chromium: the page was not opened")
            return
        base = [chromium, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", f"--user-data-dir={scratch}/profile"]
        address = "file://" + os.path.abspath(page)
        opened = subprocess.run([*base, "--dump-dom", address], check=True, capture_output=True, text=True).stdout
        for said in ("exposure -0.4 → -0.6 stops", "beyond the limits", "Mid-grey:", "Greys"):
            assert said in opened, said
        assert len(re.findall(r"<figure>", opened)) == 12
        for name, size, more in (
            ("wide", "1280,3400", []),
            ("narrow", "500,5200", []),
            ("dark", "1280,3400", ["--blink-settings=preferredColorScheme=0"]),
        ):
            shot = os.path.join(folder, f"diff_{name}.png")
            subprocess.run(
                [*base, *more, f"--window-size={size}", f"--screenshot={shot}", address], check=True, capture_output=True
            )
            assert os.path.getsize(shot) > 20_000, name
        print(f"diff_page: {len(cases)} cases, {len(failed)} failed as they must; the page opens with its pictures")


if __name__ == "__main__":
    main()
