"""What a camera does to the picture, against other programs: python tests/reference/check/processing.py RUSHLIGHT

- the e-SFR of ISO 12233 by an own transcription in NumPy (from memory of its text: Hamming windows, a line through the
  centroids, four bins a pixel, the correction of the derivative and of the slant), of the same noisy frame;
- Pillow's JPEG at several qualities, and codecs of ffmpeg: blocks are found at low rates, none in lossless files;
- the smoothing of noise by SciPy-like Gaussians of known width, within 20 %.

It ends with exit code 1 where one of them differs.
"""

import json
import os
import subprocess
import sys
import tempfile

import numpy as np
from PIL import Image

RUSHLIGHT = os.path.abspath(sys.argv[1])
WRONG = []


def check(name, good, said):
    print(("  good  " if good else "  WRONG ") + name + ": " + said)
    if not good:
        WRONG.append(name)


def run(folder, *words):
    done = subprocess.run([RUSHLIGHT, "measure", *words, "--json"], cwd=folder, capture_output=True, text=True)
    if done.returncode:
        raise SystemExit(f"{words}: {done.stderr}")
    return json.loads(done.stdout)["processing"]["indices"]


def png16(path, light):
    """Red, green and blue of 0 to 1 as a PNG of 16 bits, by ffmpeg."""
    codes = np.clip(np.round(light * 65535), 0, 65535).astype("<u2")
    height, width = codes.shape[:2]
    subprocess.run(
        ["ffmpeg", "-v", "error", "-y", "-f", "rawvideo", "-pix_fmt", "rgb48le", "-s", f"{width}x{height}", "-i", "-", path],
        input=codes.tobytes(),
        check=True,
    )


def esfr(plane):
    """Frequencies in cycles per pixel and the response, of an upright edge that is dark on the left."""
    height, width = plane.shape
    derivative = np.zeros_like(plane)
    derivative[:, 1:-1] = (plane[:, 2:] - plane[:, :-2]) / 2
    columns, rows = np.arange(width), np.arange(height)
    middle = np.full(height, (width - 1) / 2)
    for reach in (width, width / 2, width / 2):
        apart = (columns[None] - middle[:, None]) / reach
        window = np.where(abs(apart) < 0.5, 0.54 + 0.46 * np.cos(2 * np.pi * apart), 0)
        weighed = derivative * window
        centroids = (weighed * columns).sum(1) / weighed.sum(1)
        slope, start = np.polyfit(rows, centroids, 1)
        middle = start + slope * rows
    turn = 1 / abs(slope)
    used = int(round(np.floor(height / turn) * turn))
    distance = columns[None] - middle[:used, None]
    half = int(np.floor(4 * min(middle[:used].min(), (width - 1 - middle[:used]).min())))
    bins = np.floor(4 * distance + half).astype(int)
    inside = (bins >= 0) & (bins < 2 * half)
    total = np.bincount(bins[inside], plane[:used][inside], 2 * half)
    profile = total / np.bincount(bins[inside], minlength=2 * half)
    spread = np.gradient(profile)
    spread[[0, -1]] = spread[[1, -2]]
    spread *= 0.54 + 0.46 * np.cos(2 * np.pi * (np.arange(2 * half) + 0.5 - half) / (2 * half))
    frequency = np.arange(1, 100) / 100
    along = frequency * np.cos(np.arctan(slope))
    wave = np.exp(-2j * np.pi * along[:, None] * np.arange(2 * half)[None] / 4)
    modulus = abs(wave @ spread) / abs(spread.sum())
    return frequency, modulus / np.maximum(np.sinc(along / 2), 0.1)


def edges(folder):
    print("e-SFR by NumPy")
    from math import erf

    normal = np.vectorize(lambda x: (1 + erf(x / np.sqrt(2))) / 2)
    for sigma, degrees, noise in ((0.5, 5, 0.0), (0.8, 4, 0.005), (1.2, 8, 0.01)):
        y, x = np.mgrid[0:100, 0:90].astype(float)
        turn = np.radians(degrees)
        light = 0.06 + 0.5 * normal(((x - 44.2) * np.cos(turn) - (y - 49.5) * np.sin(turn)) / sigma)
        light += noise * np.random.default_rng(4).normal(size=light.shape)
        png16(os.path.join(folder, "edge.png"), np.repeat(light[..., None], 3, -1))
        found = run(folder, "--edge-frame", "edge.png", "--edge", "0,0,90,100", "--curve", "linear")[0]["edge"]
        ours = np.array(found["channels"][1]["response"])[1:100, 1]
        quantised = np.round(light * 65535) / 65535
        frequency, theirs = esfr(quantised)
        # The program also corrects for the mean over a bin of a quarter of a pixel, which the standard does not.
        theirs = theirs / np.sinc(frequency * np.cos(turn) / 4)
        check(f"sigma {sigma}, noise {noise}", abs(ours - theirs)[:60].max() < 0.005, f"{abs(ours - theirs)[:60].max():.5f} apart")


def scene(height=360, width=640, seed=3):
    draw = np.random.default_rng(seed)

    def cloud(power):
        y, x = np.fft.fftfreq(height)[:, None], np.fft.fftfreq(width)[None]
        radius = np.hypot(x, y)
        radius[0, 0] = 1
        made = np.fft.ifft2(np.fft.fft2(draw.normal(size=(height, width))) / radius**power).real
        return made / made.std()

    luma = 110 + 32 * cloud(1.2)
    picture = np.stack([luma + 14 * cloud(1.2), luma, luma + 14 * cloud(1.2)], -1)
    picture[100:200, 200:330] += 40
    return picture


def still(picture, seed):
    noisy = picture + 2 * np.random.default_rng(seed).normal(size=picture.shape)
    return np.clip(np.round(noisy), 0, 255).astype(np.uint8)


def codecs(folder):
    print("Pillow's JPEG")
    picture = scene()
    for quality, wanted in ((75, 8), (40, 8), (15, 8)):
        Image.fromarray(still(picture, 1)).save(os.path.join(folder, "still.jpg"), quality=quality)
        found = run(folder, "--scene", "still.jpg")[0]["codec"]
        blocks, chroma = found["blocks"], found["chroma"]
        check(f"quality {quality}", blocks["size"] == wanted, f"blocks {blocks}")
        check(f"quality {quality}, chroma", chroma is not None and chroma["halved"] == [True, True], f"{chroma}")
    Image.fromarray(still(picture, 1)).save(os.path.join(folder, "still.png"))
    found = run(folder, "--scene", "still.png")[0]["codec"]
    check("PNG", found["blocks"]["size"] is None and found["chroma"]["halved"] == [False, False], f"{found['blocks']}")

    print("codecs of ffmpeg")
    raw = b"".join(still(picture, 10 + k).tobytes() for k in range(48))
    x264 = ["-c:v", "libx264", "-g", "12", "-sc_threshold", "0", "-pix_fmt", "yuv420p"]
    for name, options, blocks in (
        ("ffv1.mkv", ["-c:v", "ffv1", "-pix_fmt", "yuv444p"], False),
        ("ffv1_422.mkv", ["-c:v", "ffv1", "-pix_fmt", "yuv422p10le"], False),
        ("mpeg2.mkv", ["-c:v", "mpeg2video", "-q:v", "16", "-pix_fmt", "yuv420p"], True),
        ("x264_28.mkv", [*x264, "-crf", "28"], True),
        ("x264_38.mkv", [*x264, "-crf", "38"], True),
        ("proxy.mov", ["-c:v", "mjpeg", "-q:v", "16", "-pix_fmt", "yuvj422p"], True),
    ):
        subprocess.run(
            ["ffmpeg", "-v", "error", "-y", "-f", "rawvideo", "-pix_fmt", "rgb24", "-s", "640x360", "-r", "24", "-i", "-"]
            + options
            + [os.path.join(folder, name)],
            input=raw,
            check=True,
        )
        found = run(folder, "--scene", name)[0]["codec"]
        check(name, (found["blocks"]["size"] is not None) == blocks, f"blocks {found['blocks']}")
        if name.startswith("ffv1"):
            halved = [name == "ffv1_422.mkv", False]
            check(name + ", chroma", found["chroma"] and found["chroma"]["halved"] == halved, f"{found['chroma']}")
        if name == "ffv1_422.mkv":
            check(name + ", bits", found["codes"][0]["true_bits"] in (8, 10), f"{found['codes']}")
        # MPEG-2 loses detail between key frames; H.264 copies noise from one to the next.
        pumps, held = found["pumping"]["period_frames"], found["pumping"]["still_period_frames"]
        wanted = {"mpeg2.mkv": (12, None), "x264_28.mkv": (None, 12), "ffv1.mkv": (None, None)}.get(name)
        if wanted:
            # Copied noise of MPEG-2 may be seen as well.
            good = pumps == wanted[0] and (name == "mpeg2.mkv" or held == wanted[1])
            check(name + ", pumping", good, f"detail every {pumps}, noise every {held} frames")


def smoothing(folder):
    print("noise by Gaussians")
    draw = np.random.default_rng(9)
    for sigma in (0.0, 0.7, 1.0, 1.6):
        names = []
        for stop in range(-4, 5):
            light = 0.02 * 2.0**stop
            noise = draw.normal(size=(200, 200, 3)) * np.sqrt(light / 4000 + 1e-7)
            kernel = np.exp(-np.arange(-8, 9) ** 2 / (2 * sigma**2)) if sigma else np.array([1.0])
            kernel /= kernel.sum()
            for axis in (0, 1):
                noise = np.apply_along_axis(lambda v: np.convolve(v, kernel, "same"), axis, noise)
            names.append(f"card{stop + 4}.png")
            png16(os.path.join(folder, names[-1]), (light + noise)[12:-12, 12:-12])
        found = run(folder, *names, "--stops", "-4:4:1", "--curve", "linear", "--patch", "0,0,176,176", "--card", "0.02")
        width, truth = found[0]["noise"]["smoothed_pixels"], 1 / (kernel**2).sum()
        check(f"sigma {sigma}", abs(width / truth - 1) < 0.2, f"{width:.2f} pixels for {truth:.2f}")


with tempfile.TemporaryDirectory() as folder:
    edges(folder)
    codecs(folder)
    smoothing(folder)
sys.exit(1 if WRONG else 0)
