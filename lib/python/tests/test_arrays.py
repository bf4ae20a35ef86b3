"""Arrays of any shape and strides give what a call on each colour gives, in place and into another array."""

import threading

import numpy as np
import pytest

import rushlight as rl

DUSK = rl.Look("Dusk", [{"do": "compress"}, {"do": "exposure", "stops": -0.5}, {"do": "print"}])
PATH = rl.Pipeline(rl.Camera("slog3", "sgamut3-cine"), DUSK, rl.Display("bt709"))
CUBE = PATH.cube(17)
SHAPES = [(3,), (0, 3), (1, 3), (7, 3), (5, 4, 3), (2, 3, 4, 5, 3), (257, 61, 3)]


def some(shape, kind="float64"):
    return np.random.default_rng(1).random(shape).astype(kind)


def by_each(f, x):
    """What single colours give."""
    flat = x.reshape(-1, 3)
    return np.array([f(list(map(float, rgb))) for rgb in flat]).reshape(x.shape)


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("kind", ["float32", "float64"])
@pytest.mark.parametrize("f", [PATH, PATH.from_light, PATH.light, CUBE], ids=["path", "from_light", "light", "cube"])
def test_any_shape(f, kind, shape):
    x = some(shape, kind)
    before = x.copy()
    y = f(x)
    assert y.dtype == x.dtype and y.shape == x.shape and (x == before).all()
    few = slice(None, 20)
    want = by_each(f, x.reshape(-1, 3)[few])
    assert np.abs(y.reshape(-1, 3)[few] - want).max(initial=0) < (1e-5 if kind == "float32" else 1e-15)


def views(shape, kind):
    """The same numbers with other strides."""
    x = some(shape, kind)
    wide = np.zeros((*shape[:-1], 8), kind)
    wide[..., 1:7:2] = x
    reversed_ = np.ascontiguousarray(x[::-1, ::-1, ::-1])
    planes = np.ascontiguousarray(np.moveaxis(x, -1, 0))
    cropped = np.zeros((shape[0] + 4, shape[1] + 5, 3), kind)
    cropped[2:-2, 3:-2] = x
    return x, {
        "strides": wide[..., 1:7:2],
        "reversed": reversed_[::-1, ::-1, ::-1],
        "planes": np.moveaxis(planes, 0, -1),
        "fortran": np.asfortranarray(x),
        "transposed": np.ascontiguousarray(x.transpose(1, 0, 2)).transpose(1, 0, 2),
        "cropped": cropped[2:-2, 3:-2],
    }


@pytest.mark.parametrize("shape", [(6, 5, 3), (130, 70, 3)])
@pytest.mark.parametrize("kind", ["float32", "float64"])
@pytest.mark.parametrize("f", [PATH, CUBE, rl.Curve("slog3").decode], ids=["path", "cube", "curve"])
def test_strides_change_nothing(f, kind, shape):
    x, same = views(shape, kind)
    want = f(x)
    for name, view in same.items():
        assert (view == x).all()
        assert (f(view) == want).all(), name
        out = np.full_like(x, np.nan)
        assert f(view, out=out) is out and (out == want).all(), name
    for name, out in views(shape, kind)[1].items():
        assert f(x, out=out) is out and (out == want).all(), name
    for name, view in same.items():
        assert f(view, out=view) is view and (view == want).all(), name


@pytest.mark.parametrize("kind", ["uint8", "uint16"])
def test_codes_go_through_the_kernel(kind):
    most = np.iinfo(kind).max
    x = np.random.default_rng(2).integers(0, most, (40, 30, 3), endpoint=True).astype(kind)
    want = CUBE(x / most) * most
    got = CUBE(x)
    assert got.dtype == x.dtype
    # lib/colour/src/cube/fast.rs states the kernel's error: 0.6 code.
    assert np.abs(got - want).max() <= 0.6


def test_planes_are_not_copied():
    planes = some((3, 64, 48), "float32")
    x = np.moveaxis(planes, 0, -1)
    want = CUBE(np.ascontiguousarray(x))
    out = np.empty_like(planes)
    CUBE(x, out=np.moveaxis(out, 0, -1))
    assert (np.moveaxis(out, 0, -1) == want).all()


def test_numbers_and_lists():
    curve = rl.Curve("slog3")
    assert isinstance(curve.encode(0.18), float) and abs(curve.encode(0.18) * 1023 - 420) < 1e-9
    assert curve.encode(np.float64(0.18)) == curve.encode(0.18) == curve.encode([0.18])[0]
    assert (PATH([0, 1, 0]) == PATH(np.array([0.0, 1.0, 0.0]))).all()
    assert curve.encode([]).shape == (0,) and curve.encode(np.zeros(4)).shape == (4,)


def test_what_is_not_finite():
    x = np.array([[np.nan, 0.4, 0.4], [0.4, 0.4, 0.4], [np.inf, -np.inf, 0.4]])
    for f in (PATH, PATH.from_light, PATH.light):
        y = f(x)
        assert np.isnan(y[0]).all() and np.isfinite(y[1:]).all()
        assert (y[1] == f(x[1])).all()
    # A cube holds its input within the domain; NaN counts as the lower end.
    low = np.nan_to_num(x, nan=0.0, posinf=1.0, neginf=0.0)
    assert (CUBE(x) == CUBE(low)).all() and (CUBE(x.astype("f4")) == CUBE(low.astype("f4"))).all()


def refused(f, key):
    with pytest.raises(ValueError) as caught:
        f()
    assert isinstance(caught.value, rl.Invalid)
    assert [p["key"] for p in caught.value.problems] == [key], caught.value
    assert str(caught.value).startswith(f"{key}: ")


def test_what_is_no_array_of_colours_is_refused():
    x = some((4, 3))
    locked = some((4, 3))
    locked.flags.writeable = False
    unaligned = np.zeros(97, "u1")[1:].view("f8").reshape(4, 3)
    assert not unaligned.flags.aligned
    for bad in (some((4, 4)), np.zeros(()), np.zeros((4, 3), int), np.zeros((4, 3), ">f8"), unaligned, "red", [[1], [1, 2]]):
        refused(lambda bad=bad: PATH(bad), "x")
    for out in (some((3, 3)), some((4, 3), "f4"), locked, [0, 0, 0], x[:], x[::-1], unaligned):
        refused(lambda out=out: PATH(x, out=out), "out")
    refused(lambda: PATH(x, out=np.lib.stride_tricks.as_strided(x, (4, 3), (0, 8), writeable=True)), "out")
    refused(lambda: CUBE(np.zeros((4, 3), complex)), "x")
    refused(lambda: CUBE(x, interpolation="cubic"), "interpolation")


def test_the_lock_is_released():
    """While one call computes, Python goes on: a thread that only counts gets further than a held lock would let it."""
    x = some((1080, 1920, 3))
    done, counted = threading.Event(), 0

    def work():
        PATH(x)
        done.set()

    thread = threading.Thread(target=work)
    thread.start()
    while not done.wait(0.001):
        counted += 1
    thread.join()
    assert counted > 5


def test_many_threads_at_once():
    x = some((50, 50, 3), "float32")
    want, got = CUBE(x), [None] * 8

    def work(i):
        got[i] = CUBE(x)

    threads = [threading.Thread(target=work, args=(i,)) for i in range(8)]
    [thread.start() for thread in threads]
    [thread.join() for thread in threads]
    assert all((y == want).all() for y in got)
