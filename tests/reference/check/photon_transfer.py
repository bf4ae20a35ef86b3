"""The photon-transfer fit against SciPy's non-negative least squares on the same data.

    python tests/reference/check/photon_transfer.py RUSHLIGHT SHOW

Measures the demo's brackets with RUSHLIGHT, takes mean light, variance and black of each exposure from its JSON, and fits
variance = a + b x + c x^2 by scipy.optimize.nnls, weighted as the library says: by 2 var^2 / n, of the fit before, until it
stands still. Exit 0: a, b and c agree to 1e-6 of what they add to the variance.
"""

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
from scipy.optimize import nnls

AGREE = 1e-6


def measured(rushlight, show, camera):
    brackets = Path(show).parent / "brackets" / f"{camera}.csv"
    command = [rushlight, "measure", "--list", brackets, "--show", show, "--camera", camera, "--json"]
    return json.loads(subprocess.run(command, check=True, capture_output=True).stdout)


def fit(light, variance):
    """a, b, c by SciPy."""
    scale = light.max()
    basis = np.stack([np.ones_like(light), light / scale, (light / scale) ** 2], axis=1)
    trusted = variance
    for _ in range(50):
        root = 1 / trusted
        # Columns of one length, for a scale of their own is nothing to the fit.
        matrix = basis * root[:, None]
        sizes = np.linalg.norm(matrix, axis=0)
        terms, _ = nnls(matrix / sizes, variance * root, maxiter=1000)
        terms = terms / sizes
        trusted = basis @ terms
    return terms / np.array([1, scale, scale**2]), trusted


def main():
    rushlight, show = sys.argv[1:]
    worst, count = 0.0, 0
    for camera in ["a", "b"]:
        for bracket in measured(rushlight, show, camera)["brackets"]:
            for c, channel in enumerate(bracket["channels"]):
                shots = [shot["channels"][c] for shot in bracket["exposures"]]
                used = [s for s in shots if s["state"] == "good" and not s["coarse"]]
                # A clip in another channel does not concern this one.
                light = np.array([max(s["light"] - channel["black_light"], 0) for s in used])
                variance = np.array([s["light_noise"] ** 2 for s in used])
                (a, b, k), whole = fit(light, variance)
                ours = channel["photon_transfer"]
                apart = (ours["a"] - a) + (ours["b"] - b) * light + (ours["c"] - k) * light**2
                worst, count = max(worst, np.abs(apart / whole).max()), count + 1
    print(f"photon transfer: {count} fits, at most {worst:.1e} of the variance from SciPy's")
    if worst > AGREE or count < 9:
        sys.exit("the photon-transfer fits do not agree with SciPy's")


main()
