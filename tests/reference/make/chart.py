"""Writes lib/src/chart/classic24.csv and fixtures/reference/chart_fit.csv.

    python tests/reference/make/chart.py

The first: the reflectances of the 24 patches of ISO 17321-1:2012 as colour-science carries them. The second: what two
cameras of published sensitivities see of them in four lights, and what is left of CIEDE2000, patch by patch, with
colour-science's `matrix_colour_correction` (Finlayson 2015, degree 1, which is the linear least-squares matrix) and with the
matrix that keeps white and has the least sum of sqrt(1 + CIEDE2000^2) - 1, found by SciPy; exposure is free in the second.
"""

import csv
import pathlib

import colour
import numpy as np
from scipy.optimize import minimize

ROOT = pathlib.Path(__file__).resolve().parents[3]
SHAPE = colour.SpectralShape(380, 780, 5)
NAMES = ["dark skin", "light skin", "blue sky", "foliage", "blue flower", "bluish green", "orange", "purplish blue",
         "moderate red", "purple", "yellow green", "orange yellow", "blue", "green", "red", "yellow", "magenta", "cyan",
         "white", "neutral 8", "neutral 6.5", "neutral 5", "neutral 3.5", "black"]
D65 = np.array([0.3127, 0.3290])
BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])


def spectra():
    chart = colour.SDS_COLOURCHECKERS["ISO 17321-1"]
    return np.array([sd.copy().align(SHAPE).values for sd in chart.values()])


def led():
    """Three narrow bands."""
    nm = SHAPE.wavelengths
    band = lambda centre, width: np.exp2(-4.0 * ((nm - centre) / width) ** 2)
    return 0.9 * band(455.0, 22.0) + 0.7 * band(530.0, 34.0) + 1.0 * band(628.0, 20.0)


def lights():
    named = {name: colour.SDS_ILLUMINANTS[name].copy().align(SHAPE).values for name in ("A", "D50", "D65")}
    return {**named, "LED": led()}


def adapt(xyz, white, to):
    gain = (BRADFORD @ to) / (BRADFORD @ white)
    return xyz @ (np.linalg.inv(BRADFORD) @ np.diag(gain) @ BRADFORD).T


def left(matrix, rgb, lab, white, stops=0.0):
    found = colour.XYZ_to_Lab((rgb * 2.0**stops) @ matrix.T / white * colour.xy_to_XYZ(D65), D65)
    return colour.difference.delta_E_CIE2000(found, lab)


def keeping(p, white):
    rows = p[:6].reshape(3, 2)
    return np.column_stack([rows, white - rows.sum(axis=1)])


def main():
    reflectances = spectra()
    with open(ROOT / "lib/src/chart/classic24.csv", "w", newline="") as file:
        file.write("# Reflectances of the 24 patches of ISO 17321-1:2012, 380 to 780 nm every 5 nm, as carried by colour-science 0.4.7\n"
                   "# (BSD-3-Clause). Written by tests/reference/make/chart.py.\n")
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(["name", *(f"{nm:g}" for nm in SHAPE.wavelengths)])
        for name, values in zip(NAMES, reflectances):
            rows.writerow([name, *(f"{v:.6g}" for v in values)])
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(SHAPE).values
    white = colour.xy_to_XYZ(D65)
    with open(ROOT / "fixtures/reference/chart_fit.csv", "w", newline="") as file:
        file.write("# Two cameras of published sensitivities (colour-science 0.4.7) before the 24 patches of ISO 17321-1:2012 in four lights.\n"
                   "# r, g, b: linear, 1 of the perfect diffuser; X, Y, Z: by CIE 1931, adapted to D65 by Bradford; linear: CIEDE2000 left by\n"
                   "# colour-science's matrix_colour_correction; least: by SciPy's least CIEDE2000 with white kept. Written by tests/reference/make/chart.py.\n")
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(["camera", "light", "patch", "r", "g", "b", "X", "Y", "Z", "linear", "least"])
        for number, camera in enumerate(colour.MSDS_CAMERA_SENSITIVITIES.values(), 1):
            # Beyond the published range a camera sees nothing.
            outside = {"method": "Constant", "left": 0, "right": 0}
            sensitivities = camera.copy().align(SHAPE, extrapolator_kwargs=outside).values
            for name, light in lights().items():
                rgb = reflectances * light @ sensitivities / (light @ sensitivities)
                of_white = light @ cmfs
                xyz = adapt(reflectances * light @ cmfs / of_white[1], of_white / of_white[1], white)
                lab = colour.XYZ_to_Lab(xyz, D65)
                linear = colour.matrix_colour_correction(rgb, xyz, method="Finlayson 2015", degree=1)

                def cost(p):
                    e = left(keeping(p, white), rgb, lab, white, p[6])
                    return np.sum(np.sqrt(1.0 + e * e) - 1.0)

                start = linear + ((white - linear.sum(axis=1)) / 3.0)[:, None]
                best = np.append(start[:, :2].ravel(), 0.0)
                for _ in range(4):
                    best = minimize(cost, best, method="Nelder-Mead",
                                    options={"maxiter": 20000, "maxfev": 20000, "xatol": 1e-9, "fatol": 1e-11, "adaptive": True}).x
                    best = minimize(cost, best, method="BFGS", options={"gtol": 1e-9}).x
                one, two = left(linear, rgb, lab, white), left(keeping(best, white), rgb, lab, white, best[6])
                print(number, name, one.mean(), two.mean(), two.max(), cost(best))
                for patch, a, b, l1, l2 in zip(NAMES, rgb, xyz, one, two):
                    rows.writerow([number, name, patch, *(f"{v:.9g}" for v in [*a, *b, l1, l2])])


if __name__ == "__main__":
    main()
