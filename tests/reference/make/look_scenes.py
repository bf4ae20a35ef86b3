"""Frames of scene light for look_pictures.py: ACES AP1, linear, mid-grey at 0.18, made by numpy and colour-science.

Lights are spectra seen by the CIE 1931 observer; a "stop" of a coloured light is counted in its strongest channel of AP1.
Skin is sample 13 of CIE 13.3-1995; dark skin is 0.8 times its reflectance to the power of 1.6 (our choice, no source).
Cameras are ideal here: they see as the observer does and never clip. A real sensor clips channel by channel, and what has
clipped has lost its hue before any look.
"""

from pathlib import Path

import colour
import numpy as np
import OpenEXR
import skimage.data
from scipy.ndimage import gaussian_filter

GREY = 0.18
ROOT = Path(__file__).resolve().parents[3]
NM = colour.SpectralShape(380, 780, 1)
CMFS = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(NM)
WAVES = NM.wavelengths
AP1 = colour.RGB_COLOURSPACES["ACEScg"]
D65 = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]
# Peak and width at half height, nm. Narrow sources: bands of LEDs, tubes by their strongest line.
LIGHTS = {
    "violet LED 420": (420, 15), "blue LED 450": (450, 20), "neon blue 465": (465, 20), "azure 480": (480, 20),
    "cyan 500": (500, 25), "green 525": (525, 30), "sodium 589": (589, 2), "amber 592": (592, 15), "red 630": (630, 18),
    "magenta": ((450, 20), (630, 18)),
}


def bradford(xyz, white):
    """XYZ under a white (x, y) as AP1 light, so that this white is neutral."""
    to = AP1.whitepoint
    matrix = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        colour.xy_to_XYZ(white), colour.xy_to_XYZ(to), transform="Bradford")
    return np.asarray(xyz) @ (AP1.matrix_XYZ_to_RGB @ matrix).T


def observed(power):
    return power @ CMFS.values


def white_of(power):
    return colour.XYZ_to_xy(observed(power))


def band(peak, width):
    return np.exp(-4 * np.log(2) * ((WAVES - peak) / width) ** 2)


def unit(ap1):
    """With its strongest channel at 1."""
    return ap1 / ap1.max(axis=-1, keepdims=True)


def light(name):
    """AP1 of a narrow light under a camera balanced for D65, its strongest channel at 1."""
    spectrum = LIGHTS[name]
    bands = spectrum if isinstance(spectrum[0], tuple) else (spectrum,)
    return unit(sum(unit(bradford(observed(band(*one)), D65)) for one in bands))


def black_body(kelvin):
    return colour.sd_blackbody(kelvin, NM).values / 1e12


def illuminant(name):
    return colour.SDS_ILLUMINANTS[name].copy().align(NM).values


def stops(values):
    return GREY * np.exp2(values)


def shape(image):
    return np.ascontiguousarray(image, dtype=np.float32)


def neon(width=960, height=420):
    """A sign of each light in front of a grey wall: the tube six stops over grey, its halo, and the wall that it lights.
    Below each: skin in daylight on the left to skin in this light on the right, at grey and two stops over."""
    y, x = np.mgrid[:height, :width].astype(float)
    frame = np.zeros((height, width, 3))
    step = width / len(LIGHTS)
    for index, name in enumerate(LIGHTS):
        colour_of = light(name)
        middle = step * (index + 0.5) + 0.17 * step * np.sin(y / 38 + index)
        away = np.hypot(x - middle, np.clip(np.maximum(40 - y, y - (height - 140)), 0, None))
        tube = np.exp2(6.0) / (1 + np.exp(np.minimum(away - 4.5, 60) / 0.8))
        halo = 2.2 * np.exp(-away / 9) + 0.8 / (1 + (away / 26) ** 2) * np.clip((height - 60 - y) / 80, 0, 1)
        frame += GREY * (tube + halo)[..., None] * colour_of
    day = bradford(observed(SKIN * illuminant("D65")), D65) / observed(illuminant("D65"))[1]
    for index, name in enumerate(LIGHTS):
        spectrum = LIGHTS[name]
        bands = spectrum if isinstance(spectrum[0], tuple) else (spectrum,)
        lit = sum(unit(bradford(observed(SKIN * band(*one)), D65)) for one in bands)
        share = np.linspace(0, 1, int(step) - 14)[:, None]
        mix = (1 - share) * unit(day) + share * unit(lit)
        left = int(step * index) + 7
        for row, level in enumerate((0.0, 2.0)):
            top = height - 66 + 32 * row
            frame[top:top + 28, left:left + len(mix)] = stops(level) * mix
    return shape(frame + 0.0004)


def sweep(width=960, height=420):
    """Hues of AP1 (down) against exposure from -4 to +7 stops (across), at three saturations (side by side)."""
    third = width // 3
    level = stops(np.linspace(-4, 7, third))[None, :, None]
    hue = np.linspace(0, 360, height, endpoint=False)
    pure = np.clip(np.abs(((hue[:, None] + [0, 240, 120]) % 360) / 60 - 3) - 1, 0, 1)[:, None, :]
    return shape(np.concatenate([level * (1 - s + s * pure) for s in (1.0, 0.8, 0.5)], axis=1))


def lines(width=960, height=420):
    """Spectral lines from 400 to 680 nm (across) against exposure, +7 stops at the top to -4. Here a stop is counted in
    the fourth root of the sum of the channels' fourth powers: the strongest channel would draw creases of its own."""
    wave = np.linspace(400, 680, width)
    xyz = np.stack([np.interp(wave, WAVES, CMFS.values[:, i]) for i in range(3)], axis=-1)
    colours = bradford(xyz, D65)
    colours = colours / (np.maximum(colours, 0) ** 4).sum(axis=-1, keepdims=True) ** 0.25
    return shape(colours[None] * stops(np.linspace(7, -4, height))[:, None, None])


def fire(width=960, height=420):
    """Flames as black bodies of 1200 to 2300 K in a camera balanced for 3200 K (left) and daylight (right), and under
    them black bodies from 1200 to 6500 K at five exposures, 0 to +6 stops."""
    rng = np.random.default_rng(7)
    half = width // 2
    tall = height - 100
    y, x = np.mgrid[:tall, :half].astype(float)
    noise = sum(w * gaussian_filter(rng.standard_normal((2 * tall, half)), (3 * s, s)) * s
                for s, w in ((4, 1.0), (9, 1.2), (20, 1.2)))[:tall]
    up = 1 - y / tall
    wide = 0.34 * half * (1 - up) ** 0.7 + 12
    body = np.clip(1.15 - (np.abs(x - half / 2) / wide) ** 2 - 0.8 * up + 1.0 * noise, 0, 1.3)
    kelvin = 1200 + 850 * body
    table = np.linspace(1000, 6600, 113)
    frame = np.zeros((height, width, 3))
    for side, balance in enumerate((black_body(3200), illuminant("D55"))):
        white = white_of(balance)
        colours = unit(np.stack([bradford(observed(black_body(k)), white) for k in table]))
        at = lambda k: np.stack([np.interp(k, table, colours[:, i]) for i in range(3)], axis=-1)
        glow = gaussian_filter(body, 30)[..., None] * at(np.full(1, 1500.0)) * 0.5
        level = np.where(body > 0, np.exp2(6.0 * body - 2.5) - 2.0**-2.5, 0)[..., None]
        frame[:tall, side * half:(side + 1) * half] = GREY * (level * at(kelvin) + glow)
        ramp = at(np.linspace(1200, 6500, half - 8))
        for row, level in enumerate((0, 1.5, 3, 4.5, 6)):
            top = tall + 4 + 19 * row
            frame[top:top + 17, side * half + 4:side * half + half - 4] = stops(level) * ramp
    return shape(frame + 0.0006)


SKIN = colour.quality.SDS_TCS["CIE 1995"]["TCS13"].copy().align(NM).values
DARK_SKIN = 0.8 * SKIN**1.6
# Light of the scene, and what the camera is balanced for.
FACES = {
    "tungsten": (black_body(2856), black_body(3200)),
    "daylight": (illuminant("D55"), illuminant("D55")),
    "overcast": (illuminant("D75"), illuminant("D55")),
    "sodium": (band(589, 3) * 2.2 + 0.02 * illuminant("HP1") / illuminant("HP1").max(), black_body(4300)),
    "neon blue": (band(465, 20) + 0.04 * black_body(3200) / black_body(3200).max(), black_body(4300)),
}


def faces(width=960, height=420):
    """Spheres of light skin (above) and dark skin (below) in five lights; a perfect white there is at 1.1 where the
    light falls straight on to it, by its strongest channel. The wall is grey."""
    frame = np.zeros((height, width, 3))
    step = width // len(FACES)
    radius = 84
    y, x = np.mgrid[-radius:radius + 1, -radius:radius + 1] / radius
    z = np.sqrt(np.clip(1 - x * x - y * y, 0, 1))
    inside = np.clip((1 - np.hypot(x, y)) * radius, 0, 1)[..., None]
    normal = np.stack([x, y, z])
    to_light = np.array([-0.55, -0.45, 0.70]) / np.linalg.norm([-0.55, -0.45, 0.70])
    diffuse = np.clip(np.tensordot(to_light, normal, 1), 0, 1) ** 1.1 + 0.05
    half = (to_light + [0, 0, 1]) / np.linalg.norm(to_light + [0, 0, 1])
    gloss = 1.4 * np.clip(np.tensordot(half, normal, 1), 0, 1) ** 60
    for column, (power, balance) in enumerate(FACES.values()):
        white = white_of(balance)
        card = bradford(observed(power), white)
        gain = 1.1 / card.max()
        for row, skin_of in enumerate((SKIN, DARK_SKIN)):
            skin = gain * bradford(observed(skin_of * power), white)
            ball = (diffuse[..., None] * skin + gloss[..., None] * 0.8 * gain * card) * inside
            top, left = 20 + row * 205, column * step + (step - 2 * radius - 1) // 2
            back = 0.06 * gain * card
            place = frame[top - 20:top + 185, column * step:(column + 1) * step]
            place[:] = back * np.linspace(1.2, 0.3, step)[None, :, None]
            over = frame[top:top + 2 * radius + 1, left:left + 2 * radius + 1]
            over[:] = over * (1 - inside) + ball
    return shape(frame)


def rings(width=960, height=420):
    """Lights that fall off from +8 stops at the middle to -4 at the edge: white, and nine others."""
    names = ["white", *list(LIGHTS)[:9]]
    cell_w, cell_h = width // 5, height // 2
    y, x = np.mgrid[:cell_h, :cell_w]
    away = np.hypot(x - cell_w / 2, y - cell_h / 2) / (cell_w / 2)
    frame = np.zeros((2 * cell_h, 5 * cell_w, 3))
    for index, name in enumerate(names):
        colour_of = np.ones(3) if name == "white" else light(name)
        row, column = divmod(index, 5)
        place = frame[row * cell_h:(row + 1) * cell_h, column * cell_w:(column + 1) * cell_w]
        place[:] = stops(8 - 12 * away)[..., None] * colour_of
    return shape(frame)


def demo():
    with OpenEXR.File(str(ROOT / "fixtures" / "demo" / "frame.exr")) as file:
        return shape(file.channels()["RGB"].pixels[..., :3])


def photographs(over):
    """Photographs of scikit-image, their sRGB undone, so that their white is a 90 % white; so many stops over."""
    srgb = colour.RGB_COLOURSPACES["sRGB"]
    tiles = []
    for picture in (skimage.data.astronaut(), skimage.data.coffee(), skimage.data.chelsea()):
        tall, wide = picture.shape[:2]
        linear = colour.models.eotf_sRGB(picture / 255)
        tile = 0.9 * bradford(linear @ srgb.matrix_RGB_to_XYZ.T, srgb.whitepoint) * 2.0**over
        rows = np.linspace(0, tall - 1, 300).astype(int)
        columns = np.linspace(0, wide - 1, int(300 * wide / tall)).astype(int)
        smooth = gaussian_filter(tile, (tall / 900, wide / 900, 0))
        tiles.append(smooth[rows][:, columns])
    return shape(np.concatenate(tiles, axis=1))


def chart(width=960, height=420):
    """The 24 patches of fixtures/reference/chart24.csv at -2, 0 and +2 stops; grey steps; and grey, skin and sky with
    the noise of a sensor, -7 to 0 stops."""
    lines_of = [line.split(",") for line in (ROOT / "fixtures/reference/chart24.csv").read_text().splitlines()]
    patches = np.array([[float(v) for v in line[-3:]] for line in lines_of if len(line) == 7 and line[0] != "name"])
    frame = np.zeros((height, width, 3))
    third = width // 3
    for block, level in enumerate((-2, 0, 2)):
        for index, patch in enumerate(patches):
            row, column = divmod(index, 6)
            top, left = 6 + row * 50, block * third + 4 + column * 52
            frame[top:top + 46, left:left + 48] = patch * 2.0**level
    frame[210:262, 4:width - 4] = stops(np.round(np.linspace(-7.5, 7.5, width - 8)))[None, :, None]
    rng = np.random.default_rng(3)
    for row, colour_of in enumerate((np.ones(3), unit(patches[1]), unit(patches[2]))):
        clean = stops(np.linspace(-7, 0, width - 8))[None, :, None] * colour_of
        # Read noise and shot noise: a signal-to-noise ratio of 1 at 7 stops under, of 20 at grey.
        noise = np.sqrt(0.0013**2 + clean * GREY / 400) * rng.standard_normal((46, width - 8, 3))
        frame[268 + row * 50:314 + row * 50, 4:width - 4] = clean + noise
    return shape(frame)


SCENES = {
    "neon": neon, "sweep": sweep, "lines": lines, "fire": fire, "faces": faces, "rings": rings, "demo": demo,
    "photographs": lambda: photographs(0.0), "photographs-over": lambda: photographs(1.5), "chart": chart,
}


def write(path, image):
    header = {"compression": OpenEXR.ZIP_COMPRESSION, "type": OpenEXR.scanlineimage}
    OpenEXR.File(header, {"RGB": image}).write(str(path))
