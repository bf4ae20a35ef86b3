"""A night look of the invented show Saltmarsh: built, its greys drawn, and put on a picture.

    python night_look.py [FRAME [FOLDER]]

FRAME is a picture of the camera's log signal (default: a computed one); FOLDER gets night.toml, night.cube, greys.png and
before-after.png (default: night-look). It needs matplotlib and pillow.
"""

import sys
from pathlib import Path

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from PIL import Image

import rushlight as rl

frame = Path(sys.argv[1]) if len(sys.argv) > 1 else None
folder = Path(sys.argv[2] if len(sys.argv) > 2 else "night-look")
folder.mkdir(parents=True, exist_ok=True)

# The camera, the monitor on set, and the look.
camera = rl.Camera("slog3", "sgamut3-cine")
monitor = rl.Display("bt709")
look = rl.Look(
    "Saltmarsh, night",
    [
        {"do": "compress"},
        {"do": "exposure", "stops": -0.4},
        {"do": "tint", "shadows": [-0.16, 0.02, 0.14]},
        {"do": "print", "contrast": 3.6},
    ],
)
for sentence in look.sentences:
    print(sentence)
look.save(folder / "night.toml", replace=True)

# The exact path, and a cube of it with its error.
path = rl.Pipeline(camera, look, monitor)
cube, _ = rl.fit(path, 33)
cube.write(folder / "night.cube", replace=True)
error = rl.audit(path, cube)["plausible"]["tetrahedral"]
print(f"error of the cube on colours that a camera meets: mean {error['mean']:.2f}, largest {error['max']:.2f} (CIEDE2000)")
print(f"stress test: {rl.stress(path)['verdict']}")

# Its greys, from seven stops under mid-grey to seven over.
stops = np.linspace(-7, 7, 281)
light = np.repeat(0.18 * 2.0 ** stops[:, None], 3, axis=1)
figure, axes = plt.subplots(figsize=(7, 4.2), layout="constrained")
for look_, name, style in [(look, "night", "-"), (rl.Look("Plain", [{"do": "print"}]), "the print alone", "--")]:
    signal = rl.Pipeline(camera, look_, monitor).from_light(light)
    for channel, colour in enumerate(["#c0392b", "#27824a", "#2c5fa8"]):
        label = name if channel == 1 else None
        axes.plot(stops, signal[:, channel] * 100, style, color=colour, linewidth=1.4, label=label)
axes.set(xlabel="stops from mid-grey", ylabel="signal of the monitor, %", xlim=(-7, 7), ylim=(0, 102))
axes.grid(alpha=0.3)
axes.legend(frameon=False)
figure.savefig(folder / "greys.png", dpi=150)

# A picture through the cube: codes of 8 bits in, codes of 8 bits out.
if frame:
    picture = np.asarray(Image.open(frame).convert("RGB"))
else:
    # Hues from left to right at full saturation, from four stops under mid-grey at the bottom to six over it at the top.
    hue = np.linspace(0, 1, 960)[None, :, None] * 6 - np.array([3, 2, 4])
    saturated = np.clip(np.stack([np.abs(hue[..., 0]) - 1, 2 - np.abs(hue[..., 1]), 2 - np.abs(hue[..., 2])], -1), 0, 1)
    exposed = 0.18 * 2.0 ** np.linspace(6, -4, 540)[:, None, None] * (0.1 + 0.9 * saturated)
    in_ap1 = rl.Gamut("bt709").convert(exposed, rl.Gamut("aces-ap1"))
    picture = np.round(np.clip(camera.encode(in_ap1), 0, 1) * 255).astype("u1")
seen = cube(picture)
Image.fromarray(np.hstack([picture, seen])).save(folder / "before-after.png")
print(f"written: {', '.join(sorted(file.name for file in folder.iterdir()))}")
