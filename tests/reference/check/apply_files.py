"""`apply` against other programs: what they read of what it writes, and the same colours computed by others.

    pip install -r tests/reference/requirements.txt
    python tests/reference/check/apply_files.py RUSHLIGHT SHOW [--keep DIR]

- a float frame through a baked cube: colour-science's tetrahedral interpolation, within 1e-6;
- stills: OpenEXR's own library, tifffile, Pillow and ffmpeg read them, and ExifTool and Little CMS what they say of colours;
- what ExifTool writes into a TIFF, a PNG and a JPEG of their making, it finds in every format that has a place for it;
- clips: ffmpeg decodes them, and every code of 10 bits is within one of our own computation here; sound, timecode and tags;
- a photograph (scikit-image's `coffee`) is encoded as S-Log3 by colour-science and graded; --keep DIR keeps the pictures;
- an interrupt leaves whole files alone, and --resume goes on; a full disk and clips that are cut short are said.

The camera a of SHOW must be an S-Log3 one of S-Gamut3.Cine in full range. Exit 0: all agree, or a module or a program is
missing (1 where CI is set).
"""

import argparse
import importlib.util
import io
import json
import os
import pathlib
import shutil
import signal
import subprocess
import tempfile
import time
import warnings

from shows import has_module, need

need("ffmpeg", shutil.which("ffmpeg"))
need("exiftool", shutil.which("exiftool"))
for module in ("numpy", "colour", "OpenEXR", "tifffile", "PIL", "skimage"):
    need(module, has_module(module))
warnings.filterwarnings("ignore")

import colour
import numpy as np
import OpenEXR
import tifffile
from PIL import Image, ImageCms

assert colour.__version__ == "0.4.7", colour.__version__
NIGHT = ["--look", "night", "--camera", "a", "--display", "onset"]
# Weights of red and blue in luma: ITU-R BT.709-6.
RED, BLUE = 0.2126, 0.0722


def run(*command, code=0, **options):
    done = subprocess.run([str(c) for c in command], capture_output=True, **options)
    assert done.returncode == code, (command, done.returncode, done.stdout[-2000:], done.stderr[-2000:])
    return done


def ffmpeg(*arguments):
    return run("ffmpeg", "-nostdin", "-v", "error", "-y", *arguments).stdout


def say(what):
    print(f"ok   {what}", flush=True)


def frame(width=96, height=54):
    """A frame of signal: every hue, and noise, a little beyond 0 and 1."""
    y, x = np.mgrid[0:height, 0:width]
    random = np.random.default_rng(8).uniform(-0.05, 0.05, (height, width, 3))
    waves = [0.5 + 0.5 * np.sin(x / 9 + c * 2.1) * np.cos(y / (7 + c)) for c in range(3)]
    return (np.stack(waves, -1) + random).astype(np.float32)


def write_exr(path, pixels):
    channels = {name: np.ascontiguousarray(pixels[..., c]) for c, name in enumerate("RGB")}
    OpenEXR.File({"compression": OpenEXR.ZIP_COMPRESSION, "type": OpenEXR.scanlineimage}, channels).write(str(path))


def read_exr(path):
    file = OpenEXR.File(str(path), separate_channels=True)
    return np.stack([file.channels()[c].pixels for c in "RGB"], -1), file.header()


def through(cube, pixels):
    lut = colour.read_LUT(str(cube))
    clamped = np.clip(pixels.astype(np.float64), 0, 1).reshape(-1, 3)
    out = lut.apply(clamped, interpolator=colour.algebra.table_interpolation_tetrahedral)
    return np.asarray(out).reshape(pixels.shape)


def same_colours(binary, cube, work):
    pixels = frame()
    write_exr(work / "in.exr", pixels)
    run(binary, "apply", "--cube", cube, work / "in.exr", work / "out.exr", "--depth", "float")
    out, _ = read_exr(work / "out.exr")
    worst = np.abs(out - through(cube, pixels)).max()
    assert worst <= 1e-6, worst
    say(f"colour-science applies the cube alike: {worst:.1e}")


def stills(binary, show, cube, work):
    pixels = np.clip(frame(), 0, 1)
    write_exr(work / "in.exr", pixels)
    want = through(cube, pixels)
    make = lambda name, *more: run(binary, "apply", "--cube", cube, "--display", "bt709", work / "in.exr", work / name, *more)
    readers = {
        "t16.tif": lambda p: tifffile.imread(p) / 65535,
        "t8.tif": lambda p: np.asarray(Image.open(p)) / 255,
        "p8.png": lambda p: np.asarray(Image.open(p)) / 255,
        "j.jpg": lambda p: np.asarray(Image.open(p)) / 255,
        "p16.png": lambda p: raw(p, "rgb48le", np.uint16) / 65535,
        "d.dpx": lambda p: raw(p, "gbrp10le", np.uint16) / 1023,
        "h.exr": lambda p: read_exr(p)[0],
    }
    for name, read in readers.items():
        depth = {"t8.tif": ["--depth", "8"], "p8.png": ["--depth", "8"], "h.exr": ["--depth", "half"]}.get(name, [])
        make(name, *depth)
        got = read(work / name)
        step = {"t16.tif": 1 / 65535, "p16.png": 1 / 65535, "d.dpx": 1 / 1023, "h.exr": 1 / 2048}.get(name, 1 / 255)
        assert got.shape == want.shape, (name, got.shape)
        off = np.abs(got - np.clip(want, 0, 1))
        # A JPEG's quantiser takes noise away: in the mean.
        worst = off.mean() if name == "j.jpg" else off.max()
        # Half a step, and what single precision adds.
        assert worst <= (4 * step if name == "j.jpg" else 0.5 * step + 1e-6), (name, worst / step)
        say(f"{name} is read by others: within {worst / step:.2f} steps")


def raw(path, layout, kind):
    """The pixels of a still or of every frame of a clip, by ffmpeg."""
    probe = json.loads(run("ffprobe", "-v", "error", "-show_streams", "-of", "json", path).stdout)
    stream = next(s for s in probe["streams"] if s["codec_type"] == "video")
    width, height = stream["width"], stream["height"]
    scaling = "scale=flags=bicubic+accurate_rnd+full_chroma_int+full_chroma_inp"
    data = np.frombuffer(ffmpeg("-i", path, "-map", "0:v:0", "-vf", scaling, "-f", "rawvideo", "-pix_fmt", layout, "-"), kind)
    if layout.startswith("rgb"):
        return data.reshape(height, width, 3)
    planes = data.reshape(-1, 3, height, width)
    if layout.startswith("gbr"):
        planes = planes[:, [2, 0, 1]]
    planes = np.moveaxis(planes, 1, -1)
    return planes[0] if path.suffix == ".dpx" else planes


def tags(binary, cube, work):
    write_exr(work / "in.exr", np.clip(frame(), 0, 1))
    expected = {"bt709": "BT.709", "srgb": "BT.709", "p3-d65": "P3-D65", "bt2020": "BT.2020", "bt2100-pq": "BT.2020"}
    for display, gamut in expected.items():
        for name in ("tag.png", "tag.tif", "tag.jpg", "tag.exr", "tag.dpx"):
            run(binary, "apply", "--cube", cube, "--display", display, work / "in.exr", work / name)
        names = [work / f"tag.{e}" for e in ("png", "tif", "jpg", "exr", "dpx")]
        png, tif, jpg, exr, dpx = json.loads(run("exiftool", "-j", "-n", "-u", *names).stdout)
        for file in (tif, jpg) if display == "srgb" else (png, tif, jpg):
            assert file["ProfileDescription"].startswith(f"{gamut} primaries"), file
            assert not file.get("Warning"), file
        if display == "srgb":
            assert "SRGBRendering" in png, png
        # Red of the display: ITU-R BT.709-6, SMPTE RP 431-2, ITU-R BT.2020-2.
        red = {"BT.709": 0.64, "P3-D65": 0.68, "BT.2020": 0.708}[gamut]
        assert abs(float(str(exr["Chromaticities"]).split()[0]) - red) < 1e-4, exr
        # SMPTE ST 268-1: 6 is BT.709.
        assert dpx["TransferCharacteristic"] == (6 if display == "bt709" else 0), dpx
        profile(work / "tag.tif", display)
    say("ExifTool and Little CMS see the colours that were meant")


def before(text):
    """What a description said before: the slate of the picture stands in front of it."""
    slate, old = text.rsplit("\n\n", 1)
    assert slate.startswith("made by rushlight ") and "\nsource: " in slate, slate
    return old


SAID = {
    "EXIF:ImageDescription": "Slate 12, take 3", "EXIF:Artist": "A. Heron", "EXIF:Copyright": "Heron & Sons",
    "EXIF:ModifyDate": "2026:11:26 14:03:09", "EXIF:DateTimeOriginal": "2026:11:25 05:59:00", "EXIF:Make": "Invented",
    "EXIF:XResolution": 300, "EXIF:YResolution": 300, "EXIF:ResolutionUnit": 2, "EXIF:ExposureTime": 0.02, "EXIF:FNumber": 2.8,
    "EXIF:ISO": 800, "EXIF:LensModel": "40 mm", "EXIF:Orientation": 6, "EXIF:GPSLatitude": 52.5, "EXIF:GPSLatitudeRef": "N",
    "XMP:Source": "Saltmarsh", "XMP:Title": "Night exterior",
}


def making(binary, cube, work):
    """What ExifTool says of who made a picture, and when: before and after."""
    pixels = (np.clip(frame(), 0, 1) * 255).astype(np.uint8)
    untrue = ["-EXIF:ColorSpace=1", "-EXIF:WhitePoint=0.3 0.3", "-XMP-exif:ColorSpace=1"]
    outs = ["making.tif", "making.png", "making.jpg", "making.exr", "making.dpx"]
    for kind in ("tif", "png", "jpg"):
        source = work / f"said.{kind}"
        Image.fromarray(pixels).save(source)
        thumbnail = ["-ThumbnailImage<=" + str(work / "said_small.jpg")] if kind == "jpg" else []
        Image.fromarray(pixels[::4, ::4]).save(work / "said_small.jpg")
        run("exiftool", "-q", "-n", "-overwrite_original", *(f"-{k}={v}" for k, v in SAID.items()), *untrue, *thumbnail, source)
        left = {}
        for name in outs:
            args = ["apply", "--cube", cube, "--display", "bt709", source, work / name, "--json"]
            left[name[7:]] = str(json.loads(run(binary, *args).stdout)["notes"])
        found = json.loads(run("exiftool", "-j", "-n", "-G", *(work / n for n in outs)).stdout)
        for name, file in zip(outs[:3], found):
            warned = [v for k, v in file.items() if k.endswith("Warning")]
            assert not warned, (kind, name, warned)
            for key, value in SAID.items():
                got = file.get(key)
                if key == "EXIF:ImageDescription":
                    got = before(got)
                assert got == value or isinstance(value, float) and abs(got - value) < 1e-6, (kind, name, key, got)
            assert file.get("EXIF:ColorSpace") == (None if name.endswith("x") else 65535), (kind, name)
            old = [k for k in file if "Thumbnail" in k or "WhitePoint" in k and "EXIF" in k or k == "XMP:ColorSpace"]
            assert not old, (kind, name, old)
            assert "no place" not in left[name[7:]], left
        exr, dpx = found[3:]
        texts = {k.split(":")[-1]: v for k, v in exr.items()}
        assert (before(texts["Comments"]), texts.get("Owner")) == ("Slate 12, take 3", "Heron & Sons"), exr
        assert texts.get("DateTimeOriginal") == SAID["EXIF:DateTimeOriginal"], exr
        assert (dpx.get("File:Creator") or dpx.get("DPX:Creator")).startswith("A. Heron; made by rushlight"), dpx
        assert (dpx.get("File:Copyright") or dpx.get("DPX:Copyright")) == "Heron & Sons", dpx
        assert "XMP" in left["exr"] and "XMP" in left["dpx"], left
    say("who, when, how exposed and whose: as ExifTool wrote it, and what has no place is named")


def profile(path, display):
    """The profile, by Little CMS, against the display's light reckoned here."""
    data = Image.open(path).info["icc_profile"]
    to_lab = ImageCms.buildTransform(
        ImageCms.ImageCmsProfile(io.BytesIO(data)), ImageCms.createProfile("LAB", 6504), "RGB", "LAB",
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
    )
    if display == "bt2100-pq":
        return
    colours = np.random.default_rng(1).integers(0, 256, (12, 12, 3)).astype(np.uint8)
    lab = np.asarray(ImageCms.applyTransform(Image.fromarray(colours), to_lab)).astype(float)
    lab = np.stack([lab[..., 0] * 100 / 255, *(np.where(c > 127, c - 256, c) for c in (lab[..., 1], lab[..., 2]))], -1)
    space = colour.RGB_COLOURSPACES[
        {"bt709": "ITU-R BT.709", "srgb": "sRGB", "p3-d65": "P3-D65", "bt2020": "ITU-R BT.2020"}[display]
    ]
    signal_ = colours / 255
    shown = colour.models.eotf_sRGB(signal_) if display == "srgb" else signal_ ** (2.6 if display == "p3-d65" else 2.4)
    d50 = colour.XYZ_to_xy(np.array([0.9642, 1.0, 0.8249]))
    xyz = colour.RGB_to_XYZ(shown, space, d50, chromatic_adaptation_transform="Bradford", apply_cctf_decoding=False)
    want = colour.XYZ_to_Lab(xyz, d50)
    inside = (np.abs(want[..., 1:]) < 120).all(-1)
    worst = np.abs(lab - want)[inside].max()
    # Lab in 8 bits: half of 1 in a and b.
    assert worst < 0.75, (display, worst)


def to_rgb(yuv, bits=10):
    """Codes of BT.709 luma and chroma, legal range, to code over the largest code, as recorded."""
    y, b, r = (yuv[..., i].astype(np.float64) for i in range(3))
    b, r = ((c - (1 << (bits - 1))) * 219 / 224 for c in (b, r))
    red, blue = y + 2 * (1 - RED) * r, y + 2 * (1 - BLUE) * b
    return np.stack([red, (y - RED * red - BLUE * blue) / (1 - RED - BLUE), blue], -1) / ((1 << bits) - 1)


def to_yuv(rgb):
    """Signal 0 to 1 to codes of 10 bits, legal range."""
    luma = rgb @ [RED, 1 - RED - BLUE, BLUE]
    b, r = (rgb[..., 2] - luma) / (2 * (1 - BLUE)), (rgb[..., 0] - luma) / (2 * (1 - RED))
    return np.stack([64 + 876 * luma, 512 + 896 * b, 512 + 896 * r], -1)


def clips(binary, cube, work):
    source = work / "clip.mov"
    colours = "setparams=range=tv:color_primaries=bt709:color_trc=bt709:colorspace=bt709"
    ffmpeg("-f", "lavfi", "-i", "testsrc2=size=256x144:rate=24000/1001", "-f", "lavfi", "-i", "sine=frequency=440",
           "-t", "0.5", "-vf", f"format=yuv422p10le,{colours}", "-c:v", "libx264", "-qp", "8", "-bf", "2",
           "-color_primaries", "bt709", "-color_trc", "bt709", "-colorspace", "bt709",
           "-c:a", "pcm_s16le", "-timecode", "10:11:12:13", source)
    recorded = to_rgb(raw(source, "yuv444p10le", np.uint16))
    want = through(cube, recorded)
    apply = [binary, "apply", "--cube", cube, "--display", "bt709", source]
    report = json.loads(run(*apply, work / "yuv.mkv", "--encoder", "ffv1", "--pixels", "yuv444p10le", "--json").stdout)
    assert report["clip_frames"] == len(recorded) == 12, report
    worst = np.abs(raw(work / "yuv.mkv", "yuv444p10le", np.uint16) - to_yuv(want)).max()
    assert worst <= 1.0, worst
    say(f"a 10-bit clip, decoded: within {worst:.2f} codes of 10 bits")
    run(*apply, work / "rgb.mkv", "--encoder", "lossless")
    worst = np.abs(raw(work / "rgb.mkv", "gbrp12le", np.uint16) / 4095 - np.clip(want, 0, 1)).max() * 1023
    assert worst <= 1.0, worst
    say(f"the same without loss, RGB: within {worst:.2f} codes of 10 bits")
    for name, encoder in (("review.mov", "review"), ("edit.mov", "edit"), ("small.mov", "small")):
        run(*apply, work / name, "--encoder", encoder)
        probe = json.loads(run("ffprobe", "-v", "error", "-show_streams", "-count_frames", "-of", "json", work / name).stdout)
        video = next(s for s in probe["streams"] if s["codec_type"] == "video")
        assert video["nb_read_frames"] == "12" and video["r_frame_rate"] == "24000/1001", video
        said = [video.get(k) for k in ("color_range", "color_space", "color_transfer", "color_primaries")]
        assert said == ["tv", "bt709", "bt709", "bt709"], (name, said)
        assert video["tags"]["timecode"] == "10:11:12:13", video
        sound = [ffmpeg("-i", p, "-map", "0:a", "-c", "copy", "-f", "md5", "-") for p in (source, work / name)]
        assert sound[0] == sound[1], name
        got = to_rgb(raw(work / name, "yuv444p10le", np.uint16))
        # Chroma was thinned out: in the mean, as picture.
        mean = np.abs((got * 1023 - 64) / 876 - want).mean()
        assert mean < 0.03, (name, mean)
    say("presets: frames, rate, tags, timecode, and sound as it was")
    cut = work / "cut.mov"
    ffmpeg("-i", source, "-c", "copy", "-movflags", "faststart", cut)
    cut.write_bytes(cut.read_bytes()[: cut.stat().st_size * 2 // 3])
    before = sorted(p.name for p in work.iterdir())
    said = run(binary, "apply", "--cube", cube, cut, work / "never.mov", code=2).stderr.decode()
    assert "cut.mov" in said and "whole frames" in said, said
    assert sorted(p.name for p in work.iterdir()) == before
    run(binary, "apply", "--cube", cube, cut, work / "part.mov", "--on-error", "skip", code=1)
    (work / "text.mov").write_text("no clip")
    said = run(binary, "apply", "--cube", cube, work / "text.mov", work / "never.mov", code=2).stderr.decode()
    assert "text.mov" in said, said
    say("clips that are cut short are said, and nothing is written of them")


def photograph(binary, show, work, keep):
    folder = pathlib.Path(importlib.util.find_spec("skimage").origin).parent / "data"
    picture = np.asarray(Image.open(folder / "coffee.png").convert("RGB")) / 255
    cine = colour.RGB_COLOURSPACES["S-Gamut3.Cine"]
    # White of the photograph as a white of 90 %.
    light = colour.RGB_to_RGB(colour.models.eotf_sRGB(picture), colour.RGB_COLOURSPACES["sRGB"], cine) * 0.9
    log = colour.models.log_encoding_SLog3(light)
    tifffile.imwrite(work / "coffee.tif", np.round(np.clip(log, 0, 1) * 65535).astype(np.uint16), photometric="rgb")
    report = json.loads(run(binary, "apply", show, *NIGHT, work / "coffee.tif", work / "coffee.png", "--json").stdout)
    run(binary, "apply", show, "--look", "day", *NIGHT[2:], work / "coffee.tif", work / "coffee_day.png", "--depth", "8")
    run(binary, "apply", show, *NIGHT, "--exact", work / "coffee.tif", work / "coffee_exact.png")
    cubed, exact = (raw(work / n, "rgb48le", np.uint16) / 65535 for n in ("coffee.png", "coffee_exact.png"))
    off = np.abs(cubed - exact).max(-1) * 1023
    # What the report found by a few pixels, over all of them.
    assert off.mean() < 1.5 * report["error"]["mean_codes_10"] + 0.1, (off.mean(), report["error"])
    assert np.corrcoef(cubed.mean(-1).ravel(), picture.mean(-1).ravel())[0, 1] > 0.9
    say(f"a photograph: {off.mean():.2f} codes of 10 bits from the exact path in the mean, {off.max():.1f} at most")
    if keep:
        keep.mkdir(parents=True, exist_ok=True)
        for name in ("coffee.tif", "coffee.png", "coffee_day.png"):
            shutil.copy(work / name, keep / name)


def interrupted(binary, show, work):
    shot = work / "shot"
    shot.mkdir()
    pixels = (np.clip(frame(320, 180), 0, 1) * 65535).astype(np.uint16)
    for n in range(1, 41):
        tifffile.imwrite(shot / f"in.{n:04}.tif", pixels, photometric="rgb")
    command = [binary, "apply", show, *NIGHT, "--exact", "--jobs", "2", shot / "in.####.tif", shot / "out.####.png", "--json"]
    process = subprocess.Popen([str(c) for c in command], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    while not list(shot.glob("out.*.png")):
        assert process.poll() is None, process.stderr.read()
        time.sleep(0.01)
    process.send_signal(signal.SIGINT)
    assert process.wait(30) == 130
    done = sorted(shot.glob("out.*.png"))
    assert 0 < len(done) < 40 and not [p for p in shot.iterdir() if p.name.startswith(".")], len(done)
    for path in done:
        Image.open(path).load()
    first = {p: p.stat().st_mtime_ns for p in done}
    report = json.loads(run(*command, "--resume").stdout)
    assert len(report["skipped"]) == len(done) and len(report["done"]) == 40 - len(done)
    assert all(p.stat().st_mtime_ns == t for p, t in first.items())
    assert len({p.read_bytes() for p in shot.glob("out.*.png")}) == 1
    say(f"an interrupt after {len(done)} frames leaves whole files, and --resume makes the rest")
    clip = work / "long.mkv"
    ffmpeg("-f", "lavfi", "-i", "testsrc2=size=320x180:rate=25", "-t", "20", "-c:v", "ffv1", "-pix_fmt", "yuv422p10le", clip)
    command = [binary, "apply", show, *NIGHT, "--exact", clip, work / "long_out.mkv"]
    process = subprocess.Popen([str(c) for c in command], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    while not list(work.glob(".rushlight-*.mkv")):
        assert process.poll() is None, process.stderr.read()
        time.sleep(0.01)
    process.send_signal(signal.SIGTERM)
    assert process.wait(30) == 130
    assert not list(work.glob(".rushlight-*")) and not (work / "long_out.mkv").exists()
    say("an interrupted clip leaves nothing")


def full(binary, cube, work):
    disk = work / "disk"
    disk.mkdir()
    mounted = os.geteuid() == 0 and subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(disk)], capture_output=True
    ).returncode == 0
    if not mounted:
        print("skip a full disk: that needs the right to mount one")
        return
    try:
        write_exr(work / "in.exr", frame(320, 180))
        said = run(binary, "apply", "--cube", cube, work / "in.exr", disk / "out.tif", code=2).stderr.decode()
        assert "out.tif" in said and "disk is full" in said, said
        assert list(disk.iterdir()) == []
    finally:
        subprocess.run(["umount", str(disk)], check=True)
    say("a full disk is said, and nothing is left on it")


if __name__ == "__main__":
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("binary", metavar="RUSHLIGHT", type=pathlib.Path)
    arguments.add_argument("show", metavar="SHOW", type=pathlib.Path)
    arguments.add_argument("--keep", metavar="DIR", type=pathlib.Path)
    given = arguments.parse_args()
    binary = given.binary.resolve()
    with tempfile.TemporaryDirectory() as folder:
        work = pathlib.Path(folder)
        run(binary, "bake", given.show, *NIGHT, "--points", "33", "--no-audit", "--out", work)
        (cube,) = work.glob("*.cube")
        same_colours(binary, cube, work)
        stills(binary, given.show, cube, work)
        tags(binary, cube, work)
        making(binary, cube, work)
        clips(binary, cube, work)
        photograph(binary, given.show, work, given.keep)
        interrupted(binary, given.show, work)
        full(binary, cube, work)
