#!/usr/bin/env python3
"""Contact sheets for judging the looks by eye: hard scenes through every print and `tone`, on SDR and HDR.

    look_pictures.py RUSHLIGHT --out FOLDER      every scene, one sheet for each display
    look_pictures.py RUSHLIGHT --guide FOLDER    the small pictures of the README and of the guide's page on looks, and its figures

Scenes are those of look_scenes.py, scene light without a camera; the looks are `compress` and one rendering each, applied
along the exact path. The sheets are sRGB. A picture of bt709 is the light that BT.1886 makes of its signal. One of
bt2100-pq is a view for an SDR page, not what an HDR monitor shows: its light over diffuse white (203 nits), brought from
BT.2020 into BT.709 towards grey of the same luminance, then every channel scaled by one factor, so that the strongest
of them, m, becomes m (1 + m / w^2) / (1 + m) with w the display's peak (Reinhard, Stark, Shirley and Ferwerda, 2002,
equation 4). Hue and saturation stay, differences of highlights get smaller.
"""

import argparse
import subprocess
import tempfile
from pathlib import Path

import colour
import numpy as np
import tifffile
from PIL import Image, ImageDraw, ImageFont

import look_scenes as scenes

LOOKS = {
    "even": 'do = "print"\nvariant = "even"',
    "deep": 'do = "print"\nvariant = "deep"',
    "soft": 'do = "print"\nvariant = "soft"',
    "rich": 'do = "print"\nvariant = "rich"',
    "tone": 'do = "tone"',
    "tone-per-channel": 'do = "tone"\nper_channel = true',
    "hue-0": 'do = "print"\nhue = 0.0',
    "hue-1": 'do = "print"\nhue = 1.0',
}
LABELS = {
    **{name: f"print {name}" for name in ("even", "deep", "soft", "rich")},
    "tone": "tone",
    "tone-per-channel": "tone, per_channel = true",
    "hue-0": "print even, hue = 0",
    "hue-1": "print even, hue = 1",
}
DISPLAYS = {"sdr": "bt709", "hdr": "bt2100-pq"}
PEAK = 1000 / 203
# Pictures of the guide: scene, and the looks on it, on SDR. Photographs stay out of it: they are not ours to hand on.
GUIDE = {
    "prints": ("demo", ["even", "deep", "soft", "rich"]),
    "faces": ("faces", ["even", "deep", "soft", "rich"]),
    "neon": ("neon", ["even", "hue-0", "tone", "tone-per-channel"]),
    "fire": ("fire", ["even", "hue-0", "rich", "tone"]),
    "exposure": ("sweep", ["even", "hue-0", "tone", "tone-per-channel"]),
}
# What the page says of lights: how far each turns from the first of these stops over mid-grey to the last.
TURNS, TURN_LOOKS, TURN_STOPS = ["blue LED 450", "cyan 500", "amber 592"], ["hue-0", "even", "hue-1"], (-2.0, 6.0)
# Even codes alone, which makes the files a fifth smaller and is not seen.
GUIDE_TILE, GUIDE_CODE, GUIDE_BYTES = 397, 2, 200_000
DEMO = scenes.ROOT / "fixtures" / "demo"
BACKGROUND, INK = (24, 24, 24), (222, 222, 222)


def show(folder):
    """Writes the show and its looks; the show's path."""
    for name, rendering in LOOKS.items():
        head = f'schema = 1\ngeneration = 2\ntitle = "{name}"\nrevision = 1\n'
        (folder / f"{name}.toml").write_text(f'{head}\n[[step]]\ndo = "compress"\n\n[[step]]\n{rendering}\n')
    displays = "".join(f'[displays.{name}]\nstandard = "{standard}"\n' for name, standard in DISPLAYS.items())
    looks = "".join(f'{name} = "{name}.toml"\n' for name in LOOKS)
    camera = '[cameras.a]\ncurve = "slog3"\ngamut = "sgamut3-cine"\n'
    path = folder / "show.toml"
    path.write_text(f'schema = 1\ntitle = "Looks"\n\n{camera}\n{displays}\n[looks]\n{looks}')
    return path


def render(rushlight, frames, looks=LOOKS, displays=DISPLAYS):
    """Signals, 0 to 1, of frames (a dictionary of AP1 light): by look, display and frame."""
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        document = show(folder)
        for name, image in frames.items():
            scenes.write(folder / f"{name}.exr", image)
        signals = {}
        for look in looks:
            for display in displays:
                out = folder / f"{look}-{display}"
                command = [rushlight, "apply", document, "--look", look, "--display", display, "--scene-linear", "aces-ap1",
                           "--exact", "--depth", "16"]
                inputs = [folder / f"{name}.exr" for name in frames]
                # Several inputs go into a folder; a single one names its own file.
                out.mkdir()
                target = [out, "--format", "tif"] if len(inputs) > 1 else [out / f"{next(iter(frames))}.tif"]
                subprocess.run([*command, *inputs, *target], check=True, stdout=subprocess.DEVNULL)
                for name in frames:
                    signals[look, display, name] = tifffile.imread(out / f"{name}.tif")[..., :3] / 65535
        return signals


def light(signal, display):
    """Light of a display's signal in its own primaries, diffuse white at 1."""
    if display == "sdr":
        return signal**2.4
    return colour.models.eotf_ST2084(signal) / 203


def view(signal, display):
    """8-bit sRGB of a signal: see above."""
    linear = light(signal, display)
    if display == "hdr":
        wide, narrow = (colour.RGB_COLOURSPACES[name] for name in ("ITU-R BT.2020", "ITU-R BT.709"))
        luminance = linear @ wide.matrix_RGB_to_XYZ[1]
        linear = linear @ (narrow.matrix_XYZ_to_RGB @ wide.matrix_RGB_to_XYZ).T
        least = linear.min(axis=-1)
        share = np.where(least < 0, luminance / np.maximum(luminance - least, 1e-9), 1.0)[..., None]
        linear = luminance[..., None] + share * (linear - luminance[..., None])
        most = np.maximum(linear.max(axis=-1, keepdims=True), 1e-9)
        linear = linear * (1 + most / PEAK**2) / (1 + most)
    return np.uint8(np.round(255 * np.clip(colour.models.eotf_inverse_sRGB(np.clip(linear, 0, 1)), 0, 1)))


def labelled(tiles, columns, width=None):
    """One picture of labelled tiles."""
    images = [(label, Image.fromarray(tile)) for label, tile in tiles]
    if width:
        size = (width, round(images[0][1].height * width / images[0][1].width))
        images = [(label, image.resize(size, Image.LANCZOS)) for label, image in images]
    wide, tall = images[0][1].size
    font = ImageFont.load_default(size=13)
    rows = -(-len(images) // columns)
    sheet = Image.new("RGB", (columns * (wide + 6) - 6, rows * (tall + 24) - 4), BACKGROUND)
    draw = ImageDraw.Draw(sheet)
    for index, (label, image) in enumerate(images):
        row, column = divmod(index, columns)
        left, top = column * (wide + 6), row * (tall + 24)
        draw.text((left + 4, top + 2), label, fill=INK, font=font)
        sheet.paste(image, (left, top + 20))
    return sheet


def sheets(rushlight, out):
    frames = {name: make() for name, make in scenes.SCENES.items()}
    signals = render(rushlight, frames)
    for name in frames:
        for display, standard in DISPLAYS.items():
            tiles = [(f"{name}: {LABELS[look]}, {standard}", view(signals[look, display, name], display)) for look in LOOKS]
            labelled(tiles, 2).save(out / f"{name}-{display}.png", optimize=True)
    print(f"look_pictures: {2 * len(frames)} sheets of {len(LOOKS)} looks in {out}")


def turns(rushlight):
    """Prints the page's table: degrees of Oklab on bt709."""
    frame = np.array([[scenes.stops(stop) * scenes.light(name) for stop in TURN_STOPS] for name in TURNS])
    signals = render(rushlight, {"turns": scenes.shape(frame)}, TURN_LOOKS, ["sdr"])
    for row, name in enumerate(TURNS):
        cells = []
        for look in TURN_LOOKS:
            xyz = light(signals[look, "sdr", "turns"][row], "sdr") @ colour.RGB_COLOURSPACES["ITU-R BT.709"].matrix_RGB_to_XYZ.T
            _, a, b = colour.XYZ_to_Oklab(xyz).T
            hue = np.degrees(np.arctan2(b, a))
            cells.append(f"{LABELS[look]} {abs((hue[1] - hue[0] + 180) % 360 - 180):.0f}")
        print(f"{name}: {', '.join(cells)} degrees")


def show_frame(rushlight, out):
    """The README's picture: the demo frame as camera A's signal, as a monitor shows it without a look, and the night look."""
    linear = colour.RGB_to_RGB(scenes.SCENES["demo"](), "ACEScg", "S-Gamut3.Cine", chromatic_adaptation_transform="CAT02")
    log = np.clip(colour.models.log_encoding_SLog3(linear), 0, 1)
    with tempfile.TemporaryDirectory() as folder:
        before, after = Path(folder) / "log.tif", Path(folder) / "night.tif"
        tifffile.imwrite(before, np.uint16(np.round(65535 * log)))
        pick = ["--look", "night", "--camera", "a", "--display", "onset", "--depth", "16"]
        command = [rushlight, "apply", DEMO / "show.toml", *pick, before, after]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        night = tifffile.imread(after)[..., :3] / 65535
    tiles = [("S-Log3, without a look", view(log, "sdr")), ("night look, on-set monitor", view(night, "sdr"))]
    save(labelled(tiles, 2, GUIDE_TILE), out / "before-after.png")


def save(picture, path):
    picture.point(lambda code: code // GUIDE_CODE * GUIDE_CODE).save(path, optimize=True)
    assert path.stat().st_size <= GUIDE_BYTES, f"{path}: {path.stat().st_size} bytes, at most {GUIDE_BYTES}"


def guide(rushlight, out):
    frames = {scene: scenes.SCENES[scene]() for scene, _ in GUIDE.values()}
    signals = render(rushlight, frames, displays=["sdr"])
    for name, (scene, looks) in GUIDE.items():
        tiles = [(LABELS[look], view(signals[look, "sdr", scene], "sdr")) for look in looks]
        save(labelled(tiles, 2, GUIDE_TILE), out / f"{name}.png")
    show_frame(rushlight, out)
    turns(rushlight)
    print(f"look_pictures: {len(GUIDE) + 1} pictures of the guide in {out}")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("rushlight")
    parser.add_argument("--out", type=Path)
    parser.add_argument("--guide", type=Path)
    arguments = parser.parse_args()
    if not (arguments.out or arguments.guide):
        parser.error("--out FOLDER, --guide FOLDER or both")
    rushlight = Path(arguments.rushlight).resolve()
    for folder, make in ((arguments.out, sheets), (arguments.guide, guide)):
        if folder:
            folder.mkdir(parents=True, exist_ok=True)
            make(rushlight, folder)


if __name__ == "__main__":
    main()
