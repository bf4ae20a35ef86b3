"""Fits the interlayer matrix for each crosstalk and prints the table of lib/src/step/print/interlayer.rs.

For every crosstalk, six off-diagonal elements are chosen so that the 18 coloured patches of a published chart, printed
with the default settings, keep the CIELAB hue and chroma of a colorimetric rendering (the patch's own XYZ under D65).
What is least is the sum of squares of hue shifts, in radians, and of 0.6 times the logarithms of the chroma ratios.

    python tests/reference/interlayer_fit.py
"""

import numpy as np
from scipy.optimize import least_squares

import print_model as model

CHROMA_WEIGHT = 0.6
START = [-0.55, -0.05, -0.75, -0.30, 0.05, -0.60]


def main():
    dyes = model.Dyes()
    solve = model.spline(dyes)
    _, xyz, ap1 = model.chart()
    goal_hue, goal_chroma = model.hue_and_chroma(model.lab(xyz[:18]))

    def strays(off_diagonal, crosstalk):
        printed = model.Print(dyes, off_diagonal, crosstalk).render(ap1[:18], solve)
        hue, chroma = model.hue_and_chroma(model.lab(printed))
        return (hue - goal_hue + np.pi) % (2.0 * np.pi) - np.pi, chroma / goal_chroma

    def residual(off_diagonal, crosstalk):
        shift, ratio = strays(off_diagonal, crosstalk)
        return np.concatenate([shift, CHROMA_WEIGHT * np.log(ratio)])

    for i in range(11):
        crosstalk = i / 100.0
        fit = least_squares(residual, START, args=(crosstalk,), xtol=1e-12, ftol=1e-12, gtol=1e-12).x.round(4)
        shift, ratio = strays(fit, crosstalk)
        shift = np.degrees(np.abs(shift))
        row = ", ".join(f"{k:7.4f}" for k in fit)
        print(f"    [{row}], // {crosstalk:.2f}: ratio {np.median(ratio):.3f} ({ratio.min():.2f} to "
              f"{ratio.max():.2f}), hue {shift.mean():.2f} (max {shift.max():.1f})")


if __name__ == "__main__":
    main()
