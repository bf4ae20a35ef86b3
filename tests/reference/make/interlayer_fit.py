"""Fits the interlayer matrix for each crosstalk and prints the table of lib/colour/src/step/print/interlayer.rs.

For every crosstalk, six off-diagonal elements are chosen, with the default settings, to serve two ends:

- The 18 coloured patches of a published chart keep the CIELAB hue and chroma of a colorimetric rendering (the patch's own
  XYZ under D65): squares of hue shifts in radians, and of 0.6 times the logarithms of the chroma ratios. Light skin
  counts three times, dark skin one and a half times.
- Strong colours get denser, not brighter: squares of 0.1 times the logarithm by which twelve hues of BT.709, pure and
  half-way to grey, from 3 stops under mid-grey to 3 over, are brighter than the neutral curve would make them on each
  channel by itself. Without this, dark pure reds glow a stop brighter; it costs the chart 0.3 degrees of hue.

    python tests/reference/make/interlayer_fit.py
"""

import numpy as np
from scipy.optimize import least_squares

import print_model as model

CHROMA_WEIGHT = 0.6
BRIGHT_WEIGHT = 0.1
DARK_SKIN, LIGHT_SKIN = 1.5, 3.0
START = [-0.40, -0.06, -0.95, -0.30, -0.10, -0.40]


def strong_colours():
    """Linear BT.709, shape (n, 3)."""
    wheel = (np.arange(12) / 2.0)[:, None] + np.array([0.0, 4.0, 2.0])
    pure = np.clip(np.abs(wheel % 6.0 - 3.0) - 1.0, 0.0, 1.0)
    both = np.vstack([pure, 0.5 * pure + 0.25])
    return np.vstack([0.18 * 2.0**stops * both for stops in range(-3, 4)])


def main():
    dyes = model.Dyes()
    solve = model.spline(dyes)
    _, xyz, ap1 = model.chart()
    goal_hue, goal_chroma = model.hue_and_chroma(model.lab(xyz[:18]))
    bt709 = model.colour.normalised_primary_matrix([0.64, 0.33, 0.30, 0.60, 0.15, 0.06], model.D65)
    strong = strong_colours()
    strong_ap1 = strong @ (np.linalg.inv(model.ap1_to_xyz()) @ model.bradford(
        model.white_xyz(model.D65), model.white_xyz(model.ACES_WHITE)) @ bt709).T

    def deviations(off_diagonal, crosstalk):
        tone = model.Print(dyes, off_diagonal, crosstalk)
        hue, chroma = model.hue_and_chroma(model.lab(tone.render(ap1[:18], solve)))
        over = tone.negative(np.log10(tone.floor(strong / 0.18))) - tone.grey_negative
        plain = 10.0 ** -tone.print(tone.grey_print - over) @ bt709[1]
        brighter = np.log(tone.render(strong_ap1, solve)[:, 1] / plain)
        return (hue - goal_hue + np.pi) % (2.0 * np.pi) - np.pi, chroma / goal_chroma, brighter

    counts = np.sqrt(np.array([DARK_SKIN, LIGHT_SKIN] + 16 * [1.0]))

    def residual(off_diagonal, crosstalk):
        shift, ratio, brighter = deviations(off_diagonal, crosstalk)
        chart = [shift * counts, CHROMA_WEIGHT * np.log(ratio) * counts]
        return np.concatenate([*chart, BRIGHT_WEIGHT * np.maximum(brighter, 0.0)])

    for i in range(11):
        crosstalk = i / 100.0
        fit = least_squares(residual, START, args=(crosstalk,), xtol=1e-12, ftol=1e-12, gtol=1e-12).x.round(4)
        shift, ratio, brighter = deviations(fit, crosstalk)
        shift = np.degrees(np.abs(shift))
        row = ", ".join(f"{k:7.4f}" for k in fit)
        print(f"    [{row}], // {crosstalk:.2f}: ratio {np.median(ratio):.3f} ({ratio.min():.2f} to "
              f"{ratio.max():.2f}), skin {ratio[0]:.2f} and {ratio[1]:.2f}, hue {shift.mean():.2f} (max {shift.max():.1f}), "
              f"brighter by {brighter.max() / np.log(2.0):.2f} stops at most")


if __name__ == "__main__":
    main()
