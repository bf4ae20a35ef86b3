"""Curves, gamuts and cubes against colour-science 0.4.7, whose numbers come from the same published documents."""

import warnings

import numpy as np
import pytest

warnings.simplefilter("ignore")
import colour

import rushlight as rl

# Names here and there. An encoding of another convention of signal or light is compared in tests/sources of the project.
CURVES = {
    "slog2": ("S-Log2", {}),
    "slog3": ("S-Log3", {}),
    "vlog": ("V-Log", {}),
    "logc4": ("ARRI LogC4", {}),
    "acescct": ("ACEScct", {}),
    "log3g10": ("Log3G10", {}),
    "dlog": ("D-Log", {}),
    "nlog": ("N-Log", {}),
}
GAMUTS = {
    "bt709": "ITU-R BT.709",
    "bt2020": "ITU-R BT.2020",
    "sgamut3-cine": "S-Gamut3.Cine",
    "awg4": "ARRI Wide Gamut 4",
    "vgamut": "V-Gamut",
    "aces-ap0": "ACES2065-1",
    "aces-ap1": "ACEScg",
    "redwidegamut": "REDWideGamutRGB",
}
GREYS = 0.18 * 2.0 ** np.linspace(-6, 5, 45).reshape(5, 9)


@pytest.mark.parametrize("name", CURVES)
def test_curves(name):
    theirs, options = CURVES[name]
    curve = rl.Curve(name)
    want = colour.log_encoding(GREYS, function=theirs, **options)
    assert np.abs(curve.encode(GREYS) - want).max() < 1e-6
    assert np.abs(curve.decode(want) / GREYS - 1).max() < 1e-5
    assert np.abs(curve.encode(GREYS.astype("f4")) - want).max() < 2e-6


def test_pq_and_srgb():
    nits = np.geomspace(0.01, 10000, 50)
    assert np.abs(rl.Curve("pq").encode(nits) - colour.models.eotf_inverse_ST2084(nits)).max() < 1e-9
    light = np.linspace(0, 1, 50)
    assert np.abs(rl.Curve("srgb").encode(light) - colour.models.eotf_inverse_sRGB(light)).max() < 1e-4
    assert np.abs(rl.Curve("srgb").decode(light) - colour.models.eotf_sRGB(light)).max() < 1e-4


@pytest.mark.parametrize("name", GAMUTS)
def test_gamuts(name):
    theirs = colour.RGB_COLOURSPACES[GAMUTS[name]]
    gamut = rl.Gamut(name)
    want = colour.normalised_primary_matrix(theirs.primaries, theirs.whitepoint)
    assert np.abs(gamut.to_xyz() - want).max() < 1e-9
    light = np.random.default_rng(3).random((4, 5, 3))
    ours = gamut.convert(light, rl.Gamut("bt709"), adaptation="cat02")
    bt709 = colour.RGB_COLOURSPACES["ITU-R BT.709"].copy()
    for space in (theirs := theirs.copy(), bt709):
        space.use_derived_matrix_RGB_to_XYZ = space.use_derived_matrix_XYZ_to_RGB = True
    want = colour.RGB_to_RGB(light, theirs, bt709, chromatic_adaptation_transform="CAT02")
    # Their cones of CAT02 and their whites have as many digits as ours.
    assert np.abs(ours - want).max() < 1e-5


def test_a_gamut_of_your_own():
    own = rl.Gamut(red=(0.64, 0.33), green=(0.30, 0.60), blue=(0.15, 0.06), white=(0.3127, 0.3290))
    assert np.abs(own.to_xyz() - rl.Gamut("bt709").to_xyz()).max() < 1e-12
    assert own.name is None and rl.Gamut("bt709").name == "bt709"


@pytest.mark.parametrize("kind", ["float32", "float64"])
@pytest.mark.parametrize("interpolation", ["tetrahedral", "trilinear"])
def test_cubes(interpolation, kind):
    rng = np.random.default_rng(4)
    nodes = rng.random((9, 9, 9, 3))
    cube = rl.Cube(nodes, title="Noise")
    assert (cube.nodes == nodes).all()
    x = rng.random((30, 20, 3))
    by = getattr(colour.algebra, f"table_interpolation_{interpolation}")
    want = by(x, nodes)
    assert np.abs(cube(x.astype(kind), interpolation=interpolation) - want).max() < (1e-5 if kind == "float32" else 1e-12)


def test_a_cube_file_is_read_there_and_here(tmp_path):
    nodes = np.random.default_rng(5).random((5, 5, 5, 3))
    rl.Cube(nodes, title="Noise", domain=[[0, 0, 0], [2, 1, 1]]).write(tmp_path / "a.cube", digits=9)
    theirs = colour.read_LUT(str(tmp_path / "a.cube"))
    assert np.abs(theirs.table - nodes).max() < 1e-8 and (theirs.domain == [[0, 0, 0], [2, 1, 1]]).all()
    ours = rl.Cube.read(tmp_path / "a.cube")
    assert (ours.nodes == theirs.table).all() and ours.title == "Noise" and ours.points == 5
    assert np.array_equal(ours.domain, theirs.domain)


def test_a_display_by_bt_1886():
    """ITU-R BT.1886 with a black of 0.1 nits at 100 nits, by colour-science."""
    display = rl.Display("bt709", black=0.1)
    signal = np.linspace(0, 1, 21)
    want = colour.models.eotf_BT1886(signal, L_B=0.1, L_W=100)
    grey = np.repeat(signal[:, None], 3, axis=1)
    assert np.abs(display.nits(grey) - want).max() < 1e-9
    assert display.nits(grey).shape == (21,) and (display.peak, display.black) == (100, 0.1)
    assert np.abs(display.encode(display.decode(grey)) - grey).max() < 1e-9
