"""Writes fixtures/reference/spectrum.csv: spectra, XYZ and chromaticities by colour-science, for tests/sources/spectrum.rs.

    pip install -r tests/reference/requirements.txt
    python tests/reference/make/spectrum.py

Every figure comes twice where that makes sense: as the sum over 380 to 780 nm by 5 nm, which the library must meet to
rounding, and as colour-science's own sum over 360 to 830 nm by 1 nm, which it meets to what 5 nm can do.
"""

import pathlib
import warnings

warnings.filterwarnings("ignore")

import colour
import numpy as np
from colour.colorimetry import sd_blackbody, sd_CIE_illuminant_D_series, sd_CIE_standard_illuminant_A
from colour.quality.datasets.tcs import SDS_TCS
from colour.temperature import CCT_to_uv_Ohno2013, CCT_to_xy_CIE_D

assert colour.__version__ == "0.4.7", colour.__version__
OUT = pathlib.Path(__file__).parents[3] / "fixtures/reference/spectrum.csv"
HEADER = """\
# Spectra, XYZ and chromaticities. Made by tests/reference/make/spectrum.py; do not edit.
# Source: colour-science 0.4.7 (Python), licence BSD-3-Clause: its CIE 1931 2-degree observer (1 nm), illuminants,
# daylight series, Planck's law, test colour samples (CIE 13.3-1995), Sprague interpolation, Ohno's tints.
# x5, y5, z5: sums over 380 to 780 nm by 5 nm; x1, y1, z1: over 360 to 830 nm by 1 nm. By kind:
#   light kinds (a, b: kelvin, or nm and nm): XYZ of the light that is 1 at 560 nm (band: 1 at its centre; line: power
#   of 1); sample (name: light, a: number): XYZ with Y = 1 for the perfect diffuser; observer (a: nm): by Sprague from 5
#   nm, and the 1 nm table; table (a: nm): x5 is the published table of an illuminant, 100 at 560 nm; locus, white (a:
#   kelvin, b: tint), spectral (a: nm): x, y in the first two columns.
"""

STEP5 = np.arange(380, 781, 5)
STEP1 = np.arange(360, 831)
SHAPE5 = colour.SpectralShape(380, 780, 5)
SHAPE1 = colour.SpectralShape(360, 830, 1)
FULL = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
assert (FULL.wavelengths == STEP1).all()
# Taken by index: looking a wavelength up interpolates, which leaves noise in the last digits.
COARSE = colour.MultiSpectralDistributions(FULL.values[20:421:5], STEP5, labels=FULL.labels)
ONES5 = colour.sd_ones(SHAPE5)
ONES1 = colour.sd_ones(SHAPE1)

rows = []


def total(values, cmfs, illuminant, k=None):
    """The sum with Y = 1 for the perfect diffuser, or with k = 1 the plain sum; colour-science scales both by 100."""
    sd = colour.SpectralDistribution(values, cmfs.wavelengths)
    xyz = colour.colorimetry.sd_to_XYZ_integration(sd, cmfs, illuminant, k=k)
    return xyz / 100 if k is None else xyz * 100


def add(kind, name="", a="", b="", five=(), one=()):
    five, one = list(five) + [""] * (3 - len(five)), list(one) + [""] * (3 - len(one))
    rows.append(",".join([kind, name] + [repr(float(v)) if v != "" else "" for v in [a, b, *five, *one]]))


def light(kind, name, a, b, coarse, fine=None):
    one = () if fine is None else total(fine, FULL, ONES1, k=1)
    add(kind, name, a, b, total(coarse, COARSE, ONES5, k=1), one)


def sd_daylight(kelvin, rounding, shape):
    sd = sd_CIE_illuminant_D_series(CCT_to_xy_CIE_D(kelvin), M1_M2_rounding=rounding)
    wavelengths = np.arange(shape.start, shape.end + 1, shape.interval)
    return np.interp(wavelengths, sd.wavelengths, sd.values) / 100


def sd_planck(kelvin, shape):
    at_560 = colour.colorimetry.planck_law(560e-9, kelvin) * 1e-9
    return sd_blackbody(kelvin, shape).values / at_560


def sd_band(centre, width, wavelengths):
    return np.exp(-((wavelengths - centre) ** 2) * 4 * np.log(2) / width**2)


light("illuminant", "A", "", "", *(sd_CIE_standard_illuminant_A(s).values / 100 for s in (SHAPE5, SHAPE1)))
for nominal in (5000, 5500, 6500, 7500):
    light(
        "illuminant", f"D{nominal // 100}", nominal, "",
        *(sd_daylight(nominal * 1.4388 / 1.4380, True, s) for s in (SHAPE5, SHAPE1)),
    )  # fmt: skip
for name in ("A", "D50", "D55", "D65", "D75"):
    table = colour.SDS_ILLUMINANTS[name]
    at = {w: v for w, v in zip(table.wavelengths, table.values)}
    for nm in STEP5:
        add("table", name, nm, "", [at[nm]])
for kelvin in (4000, 4500, 5000, 5600, 6500, 7000, 7001, 8000, 10000, 15000, 25000):
    light("daylight", "", kelvin, "", *(sd_daylight(kelvin, False, s) for s in (SHAPE5, SHAPE1)))
    add("locus", "", kelvin, "", CCT_to_xy_CIE_D(kelvin))
for kelvin in (1000, 1500, 2000, 2856, 3200, 4000, 5000, 5600, 6500, 10000, 25000, 100000):
    light("planck", "", kelvin, "", *(sd_planck(kelvin, s) for s in (SHAPE5, SHAPE1)))
for nm in (380, 405, 435.8, 450, 480.25, 500, 532, 546.1, 589.3, 611, 656.3, 700, 780):
    # A line between two samples meets functions that run straight between them.
    add("line", "", nm, "", [np.interp(nm, STEP5, COARSE.values[:, c]) for c in range(3)])
for nm in range(380, 781):
    x, y, z = FULL.values[nm - 360]
    add("spectral", "", nm, "", [x / (x + y + z), y / (x + y + z)])
for centre, width in ((450, 10), (452.3, 10), (465, 20), (520, 35), (547, 30), (590, 15), (635, 18), (560, 120), (400, 400)):
    light("band", "", centre, width, sd_band(centre, width, STEP5), sd_band(centre, width, STEP1))
sprague = [colour.SpragueInterpolator(STEP5, COARSE.values[:, c]) for c in range(3)]
for nm in np.concatenate([np.arange(380, 781, 1), [380.5, 433.37, 555.55, 601.01, 779.9]]):
    exact = FULL.values[int(nm) - 360] if nm == int(nm) else ()
    add("observer", "", nm, "", [max(float(s(nm)), 0) for s in sprague], exact)
lights = {
    "A": [sd_CIE_standard_illuminant_A(s).values / 100 for s in (SHAPE5, SHAPE1)],
    "D65": [sd_daylight(6500 * 1.4388 / 1.4380, True, s) for s in (SHAPE5, SHAPE1)],
}
for name, (coarse, fine) in lights.items():
    for number in range(1, 15):
        sample = SDS_TCS["CIE 1995"][f"TCS{number:02}"]
        assert sample.shape == colour.SpectralShape(360, 830, 5)
        one = sample.copy().interpolate(SHAPE1).values
        add(
            "sample", name, number, "",
            total(sample.values[4:85], COARSE, colour.SpectralDistribution(coarse, STEP5)),
            total(one, FULL, colour.SpectralDistribution(fine, STEP1)),
        )  # fmt: skip
for kelvin in (1500, 2000, 2856, 3200, 3999):
    for tint in (-20, -5, 0, 5, 20) if kelvin > 2500 else (-20, -5, 0, 1):
        uv = CCT_to_uv_Ohno2013([kelvin, tint / 1000], cmfs=COARSE)
        one = CCT_to_uv_Ohno2013([kelvin, tint / 1000], cmfs=FULL)
        add("white", "", kelvin, tint, *(colour.UCS_uv_to_xy(v) for v in (uv, one)))

OUT.parent.mkdir(parents=True, exist_ok=True)
OUT.write_text(HEADER + "kind,name,a,b,x5,y5,z5,x1,y1,z1\n" + "\n".join(rows) + "\n")
print(f"{OUT.name}: {len(rows)} rows")
