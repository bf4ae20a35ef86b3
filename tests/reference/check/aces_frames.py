"""Frames between a camera's signal and ACES light (`convert`), against OpenEXR's own library and colour-science.

    pip install -r tests/reference/requirements.txt
    python tests/reference/check/aces_frames.py RUSHLIGHT SHOW

- an S-Log3 frame of S-Gamut3.Cine becomes an ACES frame: OpenEXR reads it, its header is that of SMPTE ST 2065-4 (from
  memory: the flag, the chromaticities of AP0, no compression, half floats, lines from the top, no channels but B, G, R), and its
  samples are those that colour-science computes, to the precision of a half;
- the frame comes back: greys within half a code of 10 bits, and every colour within what halves leave of its brightest channel;
- a frame of ACES light that OpenEXR wrote is read as that.

The camera a of SHOW must be an S-Log3 one of S-Gamut3.Cine in full range. Exit 0: all agree, or a module is missing (1 where
CI is set).
"""

import pathlib
import subprocess
import sys
import tempfile
import warnings

from shows import has_module, need

for module in ("numpy", "colour", "OpenEXR", "tifffile"):
    need(module, has_module(module))
warnings.filterwarnings("ignore")

import colour
import numpy as np
import OpenEXR
import tifffile

AP0 = (0.7347, 0.2653, 0.0, 1.0, 0.0001, -0.077, 0.32168, 0.33767)


def run(*command):
    done = subprocess.run([str(c) for c in command], capture_output=True, text=True)
    assert done.returncode == 0, (command, done.stderr)
    return done.stdout


def main():
    rushlight, show = map(pathlib.Path, sys.argv[1:])
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        y, x = np.mgrid[0:36, 0:64]
        codes = np.stack([95 + 11 * x, 95 + 20 * y, 95 + 6 * (x + y)], axis=-1).clip(0, 1023)
        tifffile.imwrite(folder / "log.tif", np.rint(codes / 1023 * 65535).astype(np.uint16), photometric="rgb")
        run(rushlight, "convert", folder / "log.tif", folder / "aces.exr", "--show", show, "--camera", "a")
        with OpenEXR.File(str(folder / "aces.exr"), separate_channels=True) as file:
            header, channels = file.header(), file.channels()
            assert header["acesImageContainerFlag"] == 1, header
            assert np.allclose(header["chromaticities"], AP0, atol=1e-6), header["chromaticities"]
            assert header["compression"] == OpenEXR.NO_COMPRESSION, header["compression"]
            assert header["lineOrder"] == OpenEXR.INCREASING_Y and header["type"] == OpenEXR.scanlineimage
            assert np.allclose(header["adoptedNeutral"], AP0[6:], atol=1e-6), header["adoptedNeutral"]
            assert sorted(channels) == ["B", "G", "R"], channels
            got = np.stack([channels[c].pixels for c in "RGB"], axis=-1)
            assert got.dtype == np.float16, got.dtype
        light = colour.models.log_decoding_SLog3(np.rint(codes / 1023 * 65535) / 65535)
        # The maker's own matrix to ACES adapts by CAT02.
        want = colour.RGB_to_RGB(light, "S-Gamut3.Cine", "ACES2065-1", chromatic_adaptation_transform="CAT02")
        assert np.all(np.abs(got - want) <= np.abs(want) * 2**-10 + 2e-4 * np.abs(want).max()), np.abs(got - want).max()
        run(rushlight, "convert", folder / "aces.exr", folder / "back.tif", "--show", show, "--camera", "a")
        back = tifffile.imread(folder / "back.tif") / 65535 * 1023
        again = colour.models.log_decoding_SLog3(back / 1023)
        brightest = np.abs(light).max(axis=-1, keepdims=True)
        assert np.all(np.abs(again - light) < brightest * 2**-9 + 2e-4), np.abs(again - light).max()
        grey = np.ptp(codes, axis=-1) < 40
        assert grey.any() and np.abs(back - codes)[grey].max() < 0.5, np.abs(back - codes)[grey].max()
        header = {"compression": OpenEXR.ZIP_COMPRESSION, "type": OpenEXR.scanlineimage, "chromaticities": AP0}
        with OpenEXR.File(header, {"RGB": got}) as file:
            file.write(str(folder / "theirs.exr"))
        said = run(rushlight, "inspect", folder / "theirs.exr")
        assert "scene light of aces-ap0" in said, said
    print("ACES frames: OpenEXR and colour-science agree")


main()
