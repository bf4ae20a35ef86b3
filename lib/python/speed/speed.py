"""The least of many runs on a UHD frame of float32, and one colour at a time; speed.rs measures the same without Python.

python speed.py
"""

import time

import numpy as np

import rushlight as rl


def least(runs, f):
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        f()
        times.append(time.perf_counter() - start)
    return min(times)


squares = np.moveaxis(np.stack(np.meshgrid(*[np.linspace(0, 1, 33) ** 2] * 3, indexing="ij")), 0, -1)
cube = rl.Cube(squares)
frame = (np.arange(3 * 3840 * 2160) % 1009 / 1008).astype("f4").reshape(2160, 3840, 3)
out, own = np.empty_like(frame), frame.copy()
planes, others = (np.moveaxis(a.reshape(3, 2160, 3840), 0, -1) for a in (frame, out))
print(f"cube, interleaved, into another: {least(40, lambda: cube(frame, out=out)) * 1e3:.1f} ms")
print(f"cube, interleaved, in place: {least(40, lambda: cube(own, out=own)) * 1e3:.1f} ms")
print(f"cube, planes, into others: {least(40, lambda: cube(planes, out=others)) * 1e3:.1f} ms")
print(f"cube, interleaved, into a new array: {least(20, lambda: cube(frame)) * 1e3:.1f} ms")
wide = frame.astype("f8")
print(f"cube, float64, in place: {least(5, lambda: cube(wide, out=wide)) * 1e3:.0f} ms")

path = rl.Pipeline(rl.Camera("slog3", "sgamut3-cine"), rl.Look("Night", [{"do": "compress"}, {"do": "print"}]), rl.Display("bt709"))
hd = frame[:1080, :1920]
print(f"exact path, HD: {least(3, lambda: path(hd)) * 1e3:.0f} ms")
curve, camera, one, filled = rl.Curve("slog3"), rl.Camera("slog3", "sgamut3-cine"), np.array([0.4, 0.5, 0.3]), np.empty(3)


def each(f):
    return least(20, lambda: [f() for _ in range(1000)]) * 1e3


for what, f in [
    ("path of an array", lambda: path(one)),
    ("path into an array", lambda: path(one, out=filled)),
    ("path of a list", lambda: path([0.4, 0.5, 0.3])),
    ("cube of an array", lambda: cube(one)),
    ("camera of an array", lambda: camera.decode(one)),
    ("curve of a number", lambda: curve.encode(0.18)),
]:
    print(f"one colour, {what}: {each(f):.2f} us")
