#!/usr/bin/env python3
"""Looks at a live picture in the page of `rushlight preview`, in a headless Chromium, by live.mjs in the folder preview.

    live_page.py RUSHLIGHT SHOW [--shots FOLDER]    FOLDER keeps screenshots

Not in .ci/run: it wants a machine with nothing else to do. Beside other work a browser that draws in software may show no frame for
half a minute, and the check gives up.
"""

import preview_page

if __name__ == "__main__":
    preview_page.main("live.mjs")
