"""Writes fixtures/frames: small stills by programs other than ours, for tests/sources/frame.rs.

    python tests/reference/make/frames.py

Each is 8 x 4 pixels whose codes `code` gives; the test says the same. Needs ffmpeg (5.1.9 wrote what is committed), numpy,
pillow 13.0.0, OpenEXR 3.5.3 (the reference library's own bindings) and tifffile 2026.3.3.
"""

import io
import struct
import subprocess
import zlib
from pathlib import Path

import numpy as np
import OpenEXR
import tifffile
from PIL import Image, ImageCms, TiffImagePlugin

EXIF = 0x8769
FOLDER = Path(__file__).resolve().parents[3] / "fixtures" / "frames"
WIDTH, HEIGHT = 8, 4
X, Y = np.meshgrid(np.arange(WIDTH), np.arange(HEIGHT))
# Red, green, blue, alpha in 8 bits.
EIGHT = np.stack([32 * X + Y, 255 - (32 * X + Y), 7 * (8 * Y + X), 255 - 8 * (8 * Y + X)], axis=-1)


def code(bits, channels):
    """Codes of so many bits: those of 8 bits, and below them the column."""
    low = {8: 0, 10: X & 3, 12: X, 16: 17 * X}[bits]
    codes = (EIGHT << (bits - 8)) + np.expand_dims(low, -1)
    return codes[..., :channels]


def number(channels):
    """Floats, exact as halves, below 0 and above 1."""
    return ((EIGHT - 64) / 16).astype(np.float32)[..., :channels]


def ffmpeg(pixels, format, name, *options):
    size = f"{WIDTH}x{HEIGHT}"
    command = ["ffmpeg", "-v", "error", "-y", "-f", "rawvideo", "-pix_fmt", format, "-s", size, "-i", "-", *options]
    subprocess.run([*command, "-bitexact", FOLDER / name], input=pixels.tobytes(), check=True)


def planes(codes):
    """As planes of green, blue, red and alpha."""
    order = [1, 2, 0, 3][: codes.shape[-1]]
    return np.stack([codes[..., c] for c in order])


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(name, colour, bits, rows, *before):
    """A PNG put together here, so that any chunk can stand in it."""
    head = struct.pack(">IIBBBBB", WIDTH, HEIGHT, bits, colour, 0, 0, 0)
    data = zlib.compress(b"".join(b"\0" + row.tobytes() for row in rows))
    chunks = [chunk(b"IHDR", head), *before, chunk(b"IDAT", data), chunk(b"IEND", b"")]
    (FOLDER / name).write_bytes(b"\x89PNG\r\n\x1a\n" + b"".join(chunks))


def exif():
    """1/48 s, f/2.8, ISO 800."""
    tags = Image.Exif()
    tags[EXIF] = {0x829A: TiffImagePlugin.IFDRational(1, 48), 0x829D: TiffImagePlugin.IFDRational(28, 10), 0x8827: 800}
    # Read again from its own bytes: into a TIFF, Pillow writes only a block that it has read.
    block = Image.Exif()
    block.load(tags.tobytes())
    return block


def exr(name, channels, compression):
    header = {"compression": compression, "type": OpenEXR.scanlineimage}
    OpenEXR.File(header, channels).write(str(FOLDER / name))


def main():
    FOLDER.mkdir(parents=True, exist_ok=True)
    rgb, rgba = [code(8, n).astype(np.uint8) for n in (3, 4)]
    deep, deep_alpha = [code(16, n).astype(np.uint16) for n in (3, 4)]
    grey = rgb[..., 0]
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()

    Image.fromarray(rgb).save(FOLDER / "pillow_rgb8.png")
    Image.fromarray(rgba).save(FOLDER / "pillow_rgba8.png", exif=exif())
    Image.fromarray(grey).save(FOLDER / "pillow_grey8.png")
    Image.fromarray(code(16, 1)[..., 0].astype(np.uint16)).save(FOLDER / "pillow_grey16.png")
    palette = Image.fromarray((8 * Y + X).astype(np.uint8))
    palette.putpalette(rgb.reshape(-1).tolist())
    palette.save(FOLDER / "pillow_palette.png")
    ffmpeg(deep, "rgb48le", "ffmpeg_rgb16.png")
    ffmpeg(deep_alpha, "rgba64le", "ffmpeg_rgba16.png")
    # BT.2020 primaries, PQ, RGB, full range.
    png("cicp16.png", 2, 16, deep.astype(">u2"), chunk(b"cICP", bytes([9, 16, 0, 1])))
    chromaticities = [31270, 32900, 64000, 33000, 30000, 60000, 15000, 6000]
    tags = [chunk(b"gAMA", struct.pack(">I", 45455)), chunk(b"cHRM", struct.pack(">8I", *chromaticities))]
    png("srgb8.png", 2, 8, rgb, *tags, chunk(b"sRGB", b"\0"))
    png("icc8.png", 2, 8, rgb, chunk(b"iCCP", b"profile\0\0" + zlib.compress(profile)))

    Image.fromarray(rgb).save(FOLDER / "pillow_rgb8_lzw.tif", compression="tiff_lzw", icc_profile=profile)
    Image.fromarray(rgba).save(FOLDER / "pillow_rgba8.tif", exif=exif())
    Image.fromarray(rgb).convert("CMYK").save(FOLDER / "bad_cmyk.tif")
    ffmpeg(deep, "rgb48le", "ffmpeg_rgb16_deflate.tif", "-compression_algo", "deflate")
    write = lambda name, data, **how: tifffile.imwrite(FOLDER / name, data, metadata=None, software=False, **how)
    write("tifffile_rgb16_be.tif", deep, photometric="rgb", byteorder=">")
    write("tifffile_rgb16_big.tif", deep, photometric="rgb", bigtiff=True)
    write("tifffile_rgb16_planar.tif", np.moveaxis(deep, -1, 0), photometric="rgb", planarconfig="separate")
    tiled = np.tile(deep, (8, 4, 1))
    write("tifffile_rgb16_tiled.tif", tiled, photometric="rgb", tile=(16, 16))
    write("tifffile_rgb32f.tif", number(3), photometric="rgb")
    write("tifffile_rgb16f.tif", number(3).astype(np.float16), photometric="rgb")
    write("tifffile_grey16.tif", deep[..., 0], photometric="minisblack")
    write("bad_u32.tif", deep.astype(np.uint32), photometric="rgb")

    # Eight by eight pixels of one colour each: what JPEG takes away is then small.
    blocks = np.repeat(np.repeat(rgb, 8, axis=0), 8, axis=1)
    for name, how in [("pillow.jpg", {}), ("pillow_progressive.jpg", {"progressive": True})]:
        Image.fromarray(blocks).save(FOLDER / name, quality=98, subsampling=0, exif=exif(), **how)
    Image.fromarray(blocks[..., 0]).save(FOLDER / "pillow_grey.jpg", quality=98)
    Image.fromarray(blocks).convert("CMYK").save(FOLDER / "bad_cmyk.jpg")

    half, single = number(3).astype(np.float16), number(3)
    # The bindings take no notice of strides: a channel has to lie in one piece.
    red, green, blue = [np.ascontiguousarray(single[..., c]) for c in range(3)]
    exr("openexr_half_zip.exr", {"RGB": half}, OpenEXR.ZIP_COMPRESSION)
    exr("openexr_float_piz.exr", {"RGBA": number(4)}, OpenEXR.PIZ_COMPRESSION)
    exr("openexr_grey.exr", {"Y": red}, OpenEXR.RLE_COMPRESSION)
    other = {"beauty.R": red, "beauty.G": green, "beauty.B": blue}
    exr("openexr_layers.exr", {**other, "depth.Z": red}, OpenEXR.ZIPS_COMPRESSION)
    part = lambda name, rgb: OpenEXR.Part({"type": OpenEXR.scanlineimage}, {"RGB": rgb}, name)
    OpenEXR.File([part("left", half), part("right", -half)]).write(str(FOLDER / "openexr_parts.exr"))
    exr("bad_no_colour.exr", {"Z": red}, OpenEXR.ZIP_COMPRESSION)
    tagged = {
        "compression": OpenEXR.ZIP_COMPRESSION,
        "type": OpenEXR.scanlineimage,
        "expTime": 0.02,
        "aperture": 2.8,
        "isoSpeed": 800.0,
        "chromaticities": (0.708, 0.292, 0.17, 0.797, 0.131, 0.046, 0.3127, 0.329),
    }
    OpenEXR.File(tagged, {"RGB": half}).write(str(FOLDER / "openexr_tagged.exr"))
    ffmpeg(planes(single), "gbrpf32le", "ffmpeg_float.exr", "-compression", "zip16")

    ffmpeg(planes(code(10, 3)).astype("<u2"), "gbrp10le", "ffmpeg_rgb10_le.dpx")
    ffmpeg(planes(code(10, 3)).astype(">u2"), "gbrp10be", "ffmpeg_rgb10_be.dpx")
    ffmpeg(planes(code(12, 3)).astype("<u2"), "gbrp12le", "ffmpeg_rgb12_le.dpx")
    ffmpeg(rgb, "rgb24", "ffmpeg_rgb8.dpx")
    ffmpeg(deep_alpha.astype(">u2"), "rgba64be", "ffmpeg_rgba16_be.dpx")


main()
