#!/usr/bin/env python3
"""Looks at a live picture in the page of `rushlight preview`, in a headless Chromium, by live.mjs in the folder preview.

    live_page.py RUSHLIGHT SHOW [--shots FOLDER]    FOLDER keeps screenshots
"""

import preview_page

if __name__ == "__main__":
    preview_page.main("live.mjs")
