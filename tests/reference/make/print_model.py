"""The film-print-style tone map once more, in numpy, written apart from the library: what its tests compare with.

Needs numpy, scipy and colour-science==0.4.7 (its CIE 1931 observer, at 1 nm, and its chart of 24 patches).
"""

import numpy as np
import colour

STOP = np.log10(2.0)
AP1_PRIMARIES = np.array([[0.713, 0.293], [0.165, 0.830], [0.128, 0.044]])  # Academy S-2014-004
ACES_WHITE = np.array([0.32168, 0.33767])  # SMPTE ST 2065-1:2021
D65 = np.array([0.3127, 0.3290])  # ITU-R BT.709-6
SECOND_RADIATION = 1.4388e-2  # m K (CIE 15:2018)


def white_xyz(xy):
    return np.array([xy[0] / xy[1], 1.0, (1.0 - xy[0] - xy[1]) / xy[1]])


def bradford(source, target):
    return colour.adaptation.matrix_chromatic_adaptation_VonKries(source, target, "Bradford")


def soft_plus(x):
    return np.logaddexp(0.0, x)


def soft_plus_inverse(y):
    y = np.asarray(y, float)
    return np.where(y > 1.0, y + np.log(-np.expm1(-y)), np.log(np.expm1(np.minimum(y, 1.0))))


class Curve:
    def __init__(self, gamma, toe, toe_width, base, top, shoulder_width):
        self.gamma, self.toe, self.toe_width = gamma, toe, toe_width
        self.base, self.top, self.width = base, top, shoulder_width
        self.reach = shoulder_width * soft_plus_inverse((top - base) / shoulder_width)

    def __call__(self, x):
        y = self.gamma * self.toe_width * soft_plus((x - self.toe) / self.toe_width)
        w = self.width
        return self.base + w * (soft_plus(self.reach / w) - soft_plus((self.reach - y) / w))

    def inverse(self, density):
        y = self.reach - self.width * soft_plus_inverse((self.top - density) / self.width)
        return self.toe + self.toe_width * soft_plus_inverse(y / (self.gamma * self.toe_width))


def bell(nm, peak, left, right):
    d = nm - peak
    return np.exp(-0.5 * (d / np.where(d < 0.0, left, right)) ** 2)


class Dyes:
    """Dyes and projector, summed every `step` nm, with amounts solved (not interpolated) for neutral densities."""

    def __init__(self, step=10, kelvin=5600.0):
        nm = np.arange(380.0, 780.5, step)
        cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
        observer = np.array([np.interp(nm, cmfs.wavelengths, cmfs.values[:, i]) for i in range(3)])
        self.dyes = np.array(
            [
                bell(nm, 660, 52, 60) + 0.10 * bell(nm, 540, 45, 45) + 0.11 * bell(nm, 430, 40, 50),
                bell(nm, 545, 36, 27) + 0.16 * bell(nm, 430, 40, 45) + 0.05 * bell(nm, 640, 30, 60),
                bell(nm, 447, 38, 36) + 0.05 * bell(nm, 545, 40, 40) + 0.015 * bell(nm, 650, 40, 40),
            ]
        )
        metres = nm * 1e-9
        lamp = metres**-5.0 / np.expm1(SECOND_RADIATION / (metres * kelvin))
        base = 0.03 + 0.06 * np.exp(-(nm - 380.0) / 70.0)
        weights = observer * lamp * 10.0**-base
        self.weights = weights / weights[1].sum()
        self.white = self.weights.sum(axis=1)

    def xyz(self, amounts):
        return 10.0 ** -(np.asarray(amounts) @ self.dyes) @ self.weights.T

    def amounts(self, density):
        """Amounts that are neutral at each density: Newton on the logarithms of XYZ. Shape (n,) to (n, 3)."""
        density = np.atleast_1d(np.asarray(density, float))
        at = density[:, None] * np.array([1.35, 0.84, 0.81])
        goal = np.log(self.white) - np.log(10.0) * density[:, None]
        for _ in range(60):
            light = 10.0 ** -(at @ self.dyes)
            xyz = light @ self.weights.T
            rest = np.log(xyz) - goal
            jacobian = -np.log(10.0) * np.einsum("nl,il,dl->nid", light, self.weights, self.dyes) / xyz[:, :, None]
            step = np.linalg.solve(jacobian, rest[:, :, None])[:, :, 0]
            at = at - np.clip(step, -0.5, 0.5)
            if np.abs(step).max() < 1e-13:
                return at
        raise RuntimeError("the dyes were not solved")


# Oklab (Ottosson, "A perceptual color space for image processing", 2020): XYZ under D65 to LMS, and their cube roots to Lab.
OKLAB_LMS = np.array(
    [[0.8189330101, 0.3618667424, -0.1288597137], [0.0329845436, 0.9293118715, 0.0361456387],
     [0.0482003018, 0.2643662691, 0.6338517070]]
)
OKLAB = np.array(
    [[0.2104542553, 0.7936177850, -0.0040720468], [1.9779984951, -2.4285922050, 0.4505937099],
     [0.0259040371, 0.7827717662, -0.8086757660]]
)


def closed_oklab():
    """The second matrix with rows that sum to 1, 0 and 0, so that equal LMS are exactly grey."""
    closed = OKLAB.copy()
    closed[:, 2] = np.array([1.0, 0.0, 0.0]) - OKLAB[:, 0] - OKLAB[:, 1]
    return closed


class HueGuard:
    """Turns the light of a print towards the hue that its layers saw, at equal luminance."""

    def __init__(self, strength, lights, lamp, to_display):
        mix = np.full((3, 3), 0.03) + 0.91 * np.eye(3)
        scene = OKLAB_LMS @ bradford(white_xyz(ACES_WHITE), white_xyz(D65)) @ ap1_to_xyz() @ mix
        self.scene = scene / scene.sum(axis=1)[:, None] * 10.0 ** (-np.asarray(lights) / 0.58)
        self.print = OKLAB_LMS @ bradford(lamp, white_xyz(D65))
        self.print = self.print / (self.print @ lamp)[:, None]
        self.lab = closed_oklab()
        self.strength, self.to_display = strength, to_display

    def __call__(self, exposures, xyz):
        plain = xyz @ self.to_display.T
        if self.strength == 0.0:
            return plain
        scene = np.cbrt(exposures @ self.scene.T) @ self.lab.T
        light = np.cbrt(xyz @ self.print.T) @ self.lab.T
        chroma_2 = (scene[:, 1:] ** 2).sum(axis=1)
        chroma = np.sqrt(chroma_2 + 1e-30)
        warm = np.radians(75.0)
        near = 0.5 + 0.5 * (scene[:, 1] * np.cos(warm) + scene[:, 2] * np.sin(warm)) / chroma
        pull = self.strength * (1.0 - 0.80 * near**8) * chroma / (chroma_2 + (0.05 * scene[:, 0]) ** 2)
        turned = (1.0 - pull * chroma)[:, None] * light[:, 1:] + (
            pull * np.hypot(light[:, 1], light[:, 2]))[:, None] * scene[:, 1:]
        lms = (np.column_stack([light[:, 0], turned]) @ np.linalg.inv(self.lab).T) ** 3
        out = lms @ np.linalg.inv(self.print).T @ self.to_display.T
        return out * (plain[:, 1] / out[:, 1])[:, None]


class Print:
    # Of the negative: its greatest density, and the width of its shoulder.
    RANGE, SHOULDER = 2.0, 0.13
    # The interlayer effects: their peak in mean density over grey, how far below and above it they have fallen to a quarter,
    # what is left of them far away, and the spread of densities at which they level off.
    PEAK, BELOW, ABOVE, LEAST, LEVEL = 0.1, 0.9, 0.5, 0.05, 0.25

    def __init__(self, dyes, off_diagonal, crosstalk=0.04, strength=1.0, grey=0.12, contrast=3.8, toe=1.5,
                 shoulder=1.5, black=4.0, peak=1.0, flare=0.0, exposure=0.0, lights=(25.0, 25.0, 25.0), white=D65,
                 hue=0.85):
        self.dyes = dyes
        self.gain = 2.0**exposure / 0.18
        self.mix = np.full((3, 3), crosstalk) + (1.0 - 3.0 * crosstalk) * np.eye(3)
        self.negative = Curve(0.58, -6.0 * STOP, 0.25, 0.0, self.RANGE, self.SHOULDER)
        self.grey_negative = float(self.negative(np.log10(self.floor(1.0))))
        self.clear = 1.0 - flare / peak
        self.flare = flare
        self.print, self.grey_print, slope = self.scale(grey, contrast, toe, shoulder, black, peak)
        # A higher peak is steeper at mid-grey; the interlayer effects are weaker by the cube of that.
        steepness = slope / self.scale(grey, contrast, toe, shoulder, black, 1.0)[2]
        off = np.asarray(off_diagonal, float) * strength / steepness**3
        self.interlayer = np.array(
            [[1 - off[0] - off[1], off[0], off[1]], [off[2], 1 - off[2] - off[3], off[3]],
             [off[4], off[5], 1 - off[4] - off[5]]]
        )
        self.lights = 0.025 * (np.asarray(lights) - 25.0)
        self.white = white_xyz(white)
        self.guard = HueGuard(hue, self.lights, dyes.white, self.clear * bradford(dyes.white, self.white))

    def scale(self, grey, contrast, toe, shoulder, black, peak):
        """The print's curve for a display's peak, the print exposure of mid-grey, and the curve's slope there."""
        clear = 1.0 - self.flare / peak
        grey_density = -np.log10((grey - self.flare) / clear)
        white_density = -np.log10(peak)
        span = self.RANGE - self.grey_negative
        low, high = white_density - 0.6, white_density
        for _ in range(100):
            middle = 0.5 * (low + high)
            curve = Curve(contrast, 0.0, shoulder * STOP * 0.58, middle, black, toe * STOP * 0.58 * contrast)
            if curve(curve.inverse(grey_density) - span) > white_density:
                high = middle
            else:
                low = middle
        at_grey = curve.inverse(grey_density)
        slope = float(curve(at_grey + 1e-5) - curve(at_grey - 1e-5)) / 2e-5
        return curve, at_grey, slope

    @staticmethod
    def floor(e):
        e = np.asarray(e, float)
        root = np.sqrt(e * e + 4e-8)
        return np.where(e >= 0.0, 0.5 * (e + root), 2e-8 / (root - e))

    def exposures(self, ap1):
        return self.floor(np.asarray(ap1, float) @ self.mix.T * self.gain)

    def densities(self, exposures):
        over = self.negative(np.log10(exposures)) - self.grey_negative
        mean = over.mean(axis=1)
        v = (mean - self.PEAK) / np.where(mean < self.PEAK, self.BELOW, self.ABOVE)
        share = self.LEAST + (1.0 - self.LEAST) / (1.0 + v * v) ** 2
        spread = ((over - mean[:, None]) ** 2).sum(axis=1) / self.LEVEL**2
        share = share / (1.0 + spread * spread) ** 0.25
        held = over + share[:, None] * (over @ self.interlayer.T - over)
        return self.print(self.grey_print - held + self.lights)

    def render(self, ap1, solve=None):
        """AP1 of shape (n, 3) to XYZ under the display's white. `solve` may stand in for the exact dye amounts."""
        exposures = self.exposures(ap1)
        densities = self.densities(exposures)
        solve = solve or self.dyes.amounts
        amounts = np.stack([solve(densities[:, i])[:, i] for i in range(3)], axis=-1)
        return self.guard(exposures, self.dyes.xyz(amounts)) + self.flare * self.white


def spline(dyes, low=-2.0, high=4.5):
    """A stand-in for the exact dye amounts, quick enough for a fit."""
    from scipy.interpolate import CubicSpline

    density = np.arange(low, high + 0.01, 0.05)
    return CubicSpline(density, dyes.amounts(density))


def ap1_to_xyz():
    return colour.normalised_primary_matrix(AP1_PRIMARIES.ravel(), ACES_WHITE)


def chart():
    """The published averages of a 24-patch chart under D65: names, XYZ under D65, scene-linear AP1."""
    spectra = colour.SDS_COLOURCHECKERS["BabelColor Average"]
    shape = colour.SpectralShape(380, 780, 5)
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape).values
    light = colour.SDS_ILLUMINANTS["D65"].copy().align(shape).values
    reflectances = np.array([s.copy().align(shape).values for s in spectra.values()])
    weights = cmfs * light[:, None]
    weights /= weights[:, 1].sum()
    xyz = reflectances @ weights
    xyz = xyz @ bradford(weights.sum(axis=0), white_xyz(D65)).T
    ap1 = xyz @ bradford(white_xyz(D65), white_xyz(ACES_WHITE)).T @ np.linalg.inv(ap1_to_xyz()).T
    return list(spectra), xyz, ap1


def lab(xyz, white=D65):
    return colour.XYZ_to_Lab(xyz, white)


def hue_and_chroma(lab_values):
    return np.arctan2(lab_values[:, 2], lab_values[:, 1]), np.hypot(lab_values[:, 1], lab_values[:, 2])
