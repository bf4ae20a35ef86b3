#!/usr/bin/env python3
"""Uses the page of `rushlight preview` in a headless Chromium, by the scripts in the folder preview.

    preview_page.py RUSHLIGHT SHOW [--shots FOLDER]    FOLDER keeps screenshots

RUSHLIGHT_ONLY names one of the scripts, such as looks.mjs.

Says "skipped" and ends well where there is no Node, npm, Chromium, ffmpeg or git, unless the environment variable CI is set.
"""

import os
import shutil
import subprocess
import sys
import tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
SCRIPTS = ["preview.mjs", "looks.mjs"]
TABLE = os.path.join(HERE, "../../../fixtures/reference/difference.csv")


def browser():
    """A folder with the scripts that drive the page, and what they need."""
    # Beside the virtual environment of the other checks, so that nothing is left in the project.
    folder = os.path.join(tempfile.gettempdir(), "rushlight-playwright")
    shutil.copytree(os.path.join(HERE, "preview"), folder, dirs_exist_ok=True)
    if not os.path.isdir(os.path.join(folder, "node_modules/playwright-core")):
        quiet = ["--silent", "--no-audit", "--no-fund", "--ignore-scripts"]
        subprocess.run(["npm", "ci", *quiet], cwd=folder, check=True, timeout=300)
    return folder


def main(*scripts):
    missing = [name for name in ("node", "npm", "chromium", "ffmpeg", "git") if shutil.which(name) is None]
    if missing:
        assert "CI" not in os.environ, f"missing: {', '.join(missing)}"
        print(f"preview: skipped, there is no {' or '.join(missing)}")
        return
    folder = browser()
    rushlight, show, *options = sys.argv[1:]
    only = os.environ.get("RUSHLIGHT_ONLY")
    for script in [only] if only else scripts:
        run = ["node", os.path.join(folder, script), rushlight, show, TABLE, *options]
        code = subprocess.run(run, check=False, timeout=600).returncode
        if code != 0:
            sys.exit(code)


if __name__ == "__main__":
    main(*SCRIPTS)
