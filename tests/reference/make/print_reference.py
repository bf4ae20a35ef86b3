"""Writes fixtures/reference/print.csv and fixtures/reference/chart24.csv with the numpy transcription of the print.

    python tests/reference/make/print_reference.py
"""

import csv
import pathlib

import numpy as np

import print_model as model

FIXTURES = pathlib.Path(__file__).resolve().parents[3] / "fixtures" / "reference"
# The rows of the library's table that the cases need, from interlayer_fit.py.
OFF_DIAGONAL = {0.04: [-0.6562, 0.0184, -1.3932, -0.2950, -0.3436, -0.6134],
                0.08: [-0.7571, -0.0667, -1.6235, -0.4343, -0.4735, -0.7286]}
# Settings of each case, those of the library's names where they differ from the default.
CASES = {
    "default": dict(),
    "high-range": dict(peak=1000.0 / 203.0),
    "bare-dyes": dict(hue=0.0),
    "full-hue": dict(hue=1.0, peak=1000.0 / 203.0),
    "everything": dict(grey=0.12, contrast=2.6, toe=0.9, shoulder=1.2, black=3.1, colour=0.8, crosstalk=0.08, flare=0.004,
                       exposure=0.5, hue=0.5, lights=(28.0, 25.0, 21.0), kelvin=4300.0, white=(0.314, 0.351)),
}


def colours(ap1_chart):
    """The chart from 4 stops under to 4 over, primaries and complements of BT.2020, and a few lights outside AP1."""
    bt2020 = model.colour.RGB_COLOURSPACES["ITU-R BT.2020"].matrix_RGB_to_XYZ
    to_ap1 = np.linalg.inv(model.ap1_to_xyz()) @ model.bradford(
        model.white_xyz(model.D65), model.white_xyz(model.ACES_WHITE)) @ bt2020
    strong = np.vstack([np.eye(3), 1.0 - np.eye(3)]) @ to_ap1.T * 0.5
    out = [ap1_chart * 2.0**s for s in (-4, 0, 2, 4)] + [strong * 2.0**s for s in (-6, -3, 0, 3)]
    out.append(np.array([[0.0, 0, 0], [-0.01, 0.02, 0.3], [2.0, -0.1, 0.05], [0.18, 0.18, 0.18], [50, 60, 70]]))
    return np.vstack(out)


def build(dyes, options):
    options = dict(options)
    options.pop("kelvin", None)
    strength = options.pop("colour", 1.0)
    crosstalk = options.pop("crosstalk", 0.04)
    if "white" in options:
        options["white"] = np.array(options["white"])
    return model.Print(dyes, OFF_DIAGONAL[crosstalk], crosstalk, strength, **options)


def main():
    names, xyz, ap1 = model.chart()
    FIXTURES.mkdir(parents=True, exist_ok=True)
    with open(FIXTURES / "chart24.csv", "w", newline="") as file:
        file.write("# XYZ under D65 and scene-linear ACES AP1 of the averaged reflectances of 24-patch charts, published by "
                   "Danny Pascale,\n# as carried by colour-science 0.4.7 (BSD-3-Clause); CIE 1931 2-degree observer at 5 nm. "
                   "Written by tests/reference/make/print_reference.py.\n")
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(["name", "X", "Y", "Z", "r", "g", "b"])
        for name, a, b in zip(names, xyz, ap1):
            rows.writerow([name, *map(repr, map(float, [*a, *b]))])
    light = colours(ap1)
    with open(FIXTURES / "print.csv", "w", newline="") as file:
        file.write("# The print by an independent numpy transcription (tests/reference/make/print_model.py): scene-linear AP1 to XYZ,\n"
                   "# with the dyes solved and summed every 10 nm and every 1 nm.\n")
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(["case", "r", "g", "b", "X10", "Y10", "Z10", "X1", "Y1", "Z1"])
        for case, options in CASES.items():
            kelvin = options.get("kelvin", 5600.0)
            ten, one = (build(model.Dyes(step, kelvin), options).render(light) for step in (10, 1))
            for a, b, c in zip(light, ten, one):
                rows.writerow([case, *map(repr, map(float, [*a, *b, *c]))])


if __name__ == "__main__":
    main()
