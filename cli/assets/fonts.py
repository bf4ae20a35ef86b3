"""Makes the fonts beside this file: subsets of Inter with figures of one width.

    apt-get download fonts-inter && dpkg -x fonts-inter_*.deb inter
    pip install fonttools==4.68.0
    python3 fonts.py inter/usr/share/fonts/opentype/inter
"""

import sys
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

RANGES = [
    (0x0020, 0x007E), (0x00A0, 0x017F),  # Latin
    (0x0384, 0x03CE),  # Greek
    (0x0400, 0x045F), (0x0490, 0x0491),  # Cyrillic
    (0x2010, 0x2015), (0x2018, 0x201E), (0x2020, 0x2022), (0x2026, 0x2026), (0x2030, 0x2033), (0x2039, 0x203A),
    (0x2070, 0x2070), (0x2074, 0x2079), (0x2080, 0x2089), (0x00B2, 0x00B3),
    (0x20AC, 0x20AC), (0x2122, 0x2122), (0x2190, 0x2199),
    (0x2202, 0x2202), (0x2206, 0x2206), (0x2211, 0x2212), (0x221A, 0x221A), (0x221E, 0x221E),
    (0x2248, 0x2248), (0x2260, 0x2260), (0x2264, 0x2265), (0x25A0, 0x25A1), (0x25B2, 0x25B2), (0x25B6, 0x25B6),
    (0x25BC, 0x25BC), (0x25C0, 0x25C0), (0x25CB, 0x25CB), (0x25CF, 0x25CF), (0x2713, 0x2713), (0x2717, 0x2717),
]


def tabular(font: TTFont) -> dict[str, str]:
    """Glyphs and those that the feature `tnum` puts in their place."""
    table = font["GSUB"].table
    lookups = {i for f in table.FeatureList.FeatureRecord if f.FeatureTag == "tnum" for i in f.Feature.LookupListIndex}
    pairs = {}
    for lookup in sorted(lookups):
        for sub in table.LookupList.Lookup[lookup].SubTable:
            pairs.update(getattr(sub, "ExtSubTable", sub).mapping)
    return pairs


def make(source: Path, out: Path) -> None:
    font = TTFont(source)
    pairs = tabular(font)
    for cmap in (t for t in font["cmap"].tables if t.isUnicode()):
        for char in "0123456789":
            glyph = cmap.cmap.get(ord(char))
            if glyph in pairs:
                cmap.cmap[ord(char)] = pairs[glyph]
    options = subset.Options()
    options.layout_features = ["kern", "mark", "ccmp"]
    options.hinting = False
    options.notdef_outline = True
    options.name_IDs = [0, 1, 2, 3, 4, 5, 6, 7, 13, 14, 16, 17]
    options.recalc_timestamp = False
    subsetter = subset.Subsetter(options)
    subsetter.populate(unicodes=[c for first, last in RANGES for c in range(first, last + 1)])
    subsetter.subset(font)
    font.save(out)
    print(out, out.stat().st_size, len(font.getBestCmap()))


if __name__ == "__main__":
    here = Path(__file__).parent
    for weight in ("Regular", "SemiBold"):
        make(Path(sys.argv[1]) / f"Inter-{weight}.otf", here / f"Inter-{weight}.otf")
