"""The pictures of the guide's page on chains: the chart through the right chain and through faults, and the display chart.

    python tests/reference/make/chain_pictures.py RUSHLIGHT --out cli/guide/pictures

The chart and the cubes are the program's; cubes are read by ffmpeg's lut3d, faults made by NumPy and ffmpeg as in chain.py.
"""

import argparse
import sys
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFont

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "check"))
from chain import NAME, OTHERS, SIZE, Chain, levels, light, matrix, run, saturation, signal

WIDTH = 972
FONT = Path(__file__).resolve().parents[3] / "cli/assets"
# Patches of a fault's picture, across and down, and the side of each in pixels.
COLUMNS, ROWS, SQUARE = 12, 4, 40


def patches(picture):
    """The mean of the middle of each patch, by column and row; the places are those of the chart's layout."""
    unit = SIZE[0] / 192
    def middle(column, row):
        x, y = (3.5 + 5 * column + 1.5) * unit, (17 + 5 * row + 1.5) * unit
        return picture[round(y):round(y + 2 * unit), round(x):round(x + 2 * unit)].mean(axis=(0, 1))
    return {(column, row): middle(column, row) for row in range(15) for column in range(37)}


def compared(pen, corner, wanted, shown):
    """Greys from black to white, and the colours that differ most: the right colour around the one that is shown."""
    greys = [(i % 37, i // 37) for i in (round(k * 64 / (2 * COLUMNS - 1)) for k in range(2 * COLUMNS))]
    colours = [place for place in wanted if place[1] > 4]
    off = {place: np.abs(wanted[place] - shown[place]).max() for place in colours}
    most = sorted(sorted(colours, key=off.get)[-2 * COLUMNS:], key=lambda place: (place[1], place[0]))
    for i, place in enumerate(greys + most):
        x, y = corner[0] + (i % COLUMNS) * SQUARE, corner[1] + i // COLUMNS * SQUARE
        for inset, colour in [(0, wanted[place]), (SQUARE // 4, shown[place])]:
            box = [x + inset, y + inset, x + SQUARE - 1 - inset, y + SQUARE - 1 - inset]
            pen.rectangle(box, fill=tuple(int(round(255 * v)) for v in colour))


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("rushlight", type=Path)
    parser.add_argument("--out", type=Path, required=True, help="folder")
    args = parser.parse_args()
    program = args.rushlight.resolve()
    show = Path(__file__).resolve().parents[3] / "fixtures/demo/show.toml"
    with tempfile.TemporaryDirectory() as work:
        folder = Path(work)
        run(program, "bake", show, "--out", folder / "cubes")
        run(program, "chain", "chart", show, "--look", "night", "--camera", "a", "--display", "onset",
            "--size", "x".join(map(str, SIZE)), "--out", folder)
        raw = run("ffmpeg", "-v", "error", "-i", folder / f"{NAME}_chart_{SIZE[0]}x{SIZE[1]}.png", "-f", "rawvideo", "-pix_fmt", "rgb48le", "-")
        chart = np.frombuffer(raw, "<u2").reshape(SIZE[1], SIZE[0], 3).astype(float) / 65535
        cube = lambda name, kind="tetrahedral": lambda c: c.filter(f"lut3d=file={folder / 'cubes' / name}.cube:interp={kind}")
        right = cube(NAME)
        shift = lambda made, sent: lambda c: c.change(lambda v: signal(sent, light(made, v)))
        tiles = [
            ("no cube", []),
            ("the cube twice", [right, right]),
            ("squeezed before the cube", [levels("squeezed"), right]),
            ("stretched before the cube", [levels("stretched"), right]),
            ("squeezed after the cube", [right, levels("squeezed")]),
            ("gamma 2.4 sent as 1.96", [right, shift(2.4, 1.96)]),
            ("BT.709 read as BT.601", [right, matrix("bt709", "smpte170m")]),
            ("red and blue swapped before", [lambda c: c.change(lambda v: v[..., ::-1]), right]),
            ("the nearest node", [cube(NAME, "nearest")]),
            ("another look's cube", [cube(OTHERS[0])]),
            ("another look's cube before it", [cube(OTHERS[0]), right]),
            ("clipped to 64 to 940 before", [lambda c: c.change(lambda v: np.clip(v, 64 / 1023, 940 / 1023)), right]),
            ("lift at +40 codes", [right, lambda c: c.change(lambda v: v + 40 / 1023)]),
            ("gain at 0.85", [right, lambda c: c.change(lambda v: 0.85 * v)]),
            ("saturation at 0.7", [right, lambda c: c.change(saturation(0.7))]),
        ]
        font = ImageFont.truetype(str(next(FONT.glob("*egular*.otf"))), 19)
        shown = Chain(chart)
        right(shown)
        wanted = patches(shown.picture)
        whole = Image.fromarray(np.round(shown.picture * 255).astype("u1")).resize((WIDTH, WIDTH * SIZE[1] // SIZE[0]), Image.Resampling.BOX)
        across, gap, caption = 2, 12, 32
        tile = ((WIDTH - gap) // across, ROWS * SQUARE)
        top = gap + caption + whole.height + gap
        rows = -(-len(tiles) // across)
        sheet = Image.new("RGB", (WIDTH + 2 * gap, top + rows * (tile[1] + caption + gap)), "white")
        pen = ImageDraw.Draw(sheet)
        pen.text((gap, gap + 2), "the chart as it ought to be after the cube", fill="#1b2024", font=font)
        sheet.paste(whole, (gap, gap + caption))
        for i, (title, steps) in enumerate(tiles):
            chain = Chain(chart)
            for step in steps:
                step(chain)
            x, y = gap + (i % across) * (tile[0] + gap), top + (i // across) * (tile[1] + caption + gap)
            pen.text((x, y + 2), title, fill="#1b2024", font=font)
            compared(pen, (x, y + caption), wanted, patches(chain.picture))
        sheet.save(args.out / "chain.png", optimize=True)
        run(program, "chain", "display", "--size", "1920x1080", "--out", folder / "display.png")
        raw = run("ffmpeg", "-v", "error", "-i", folder / "display.png", "-f", "rawvideo", "-pix_fmt", "gray16le", "-")
        codes = np.frombuffer(raw, "<u2").reshape(1080, 1920) / 257
        # By the mean of the signal: the lines around the patches of gamma melt into grey.
        display = Image.fromarray(codes.reshape(540, 2, 960, 2).mean(axis=(1, 3)).round().astype("u1"))
        display.save(args.out / "chain-display.png", optimize=True)


if __name__ == "__main__":
    main()
