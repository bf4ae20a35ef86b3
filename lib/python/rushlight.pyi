"""Camera log signal, looks, displays and cubes on NumPy arrays.

Signals are code value over 1023 of 10 bits (the same ratio at any depth), 0 to 1 in full range. Scene light is linear ACES AP1,
0.18 is mid-grey. Display light is linear light of a display's primaries, 1 at diffuse white.

A call takes an array of any shape whose last axis is red, green and blue, float32 or float64, with any strides, and gives a new
one of the same kind, or fills `out`, which may be the array itself. Numbers and lists count as float64. Arrays are not copied,
the interpreter's lock is released, and all processors take part. What is wrong is an `Invalid`, which is a ValueError.
"""

from collections.abc import Mapping, Sequence
from os import PathLike
from typing import Any, Literal, TypedDict

import numpy as np
from numpy.typing import ArrayLike, NDArray

__version__: str

_Path = str | PathLike[str]
_Array = NDArray[Any]
_Range = Literal["full", "legal"]
_Interpolation = Literal["tetrahedral", "trilinear"]
_Reader = Literal["tetrahedral", "trilinear", "either"]
_Adaptation = Literal["bradford", "cat02", "cat16", "von-kries", "none"]
_Xy = Sequence[float]

class _Problem(TypedDict):
    file: str | None
    line: int | None
    column: int | None
    key: str
    message: str

class _Stage(TypedDict):
    name: str
    unit: str
    rgb: list[float]

class Invalid(ValueError):
    """A value, a document or a file that cannot be used; `problems` has the key and the place of each."""

    problems: list[_Problem]

class Curve:
    """A published encoding by name, or a curve file: light to signal and back."""

    def __init__(self, name: str, *, ei: int | None = None) -> None: ...
    @staticmethod
    def read(path: _Path) -> Curve:
        """A curve file (.toml), for a camera whose curve is not built in."""

    def encode(self, light: ArrayLike, *, out: _Array | None = None) -> _Array:
        """Light to signal; any shape, each number by itself. NaN gives NaN."""

    def decode(self, signal: ArrayLike, *, out: _Array | None = None) -> _Array:
        """Signal to light; any shape, each number by itself. NaN gives NaN."""

    @property
    def name(self) -> str: ...
    @property
    def title(self) -> str: ...
    @property
    def source(self) -> str: ...
    @property
    def light(self) -> str: ...

class Gamut:
    """Three primaries and a white: linear light, where 1, 1, 1 is the white at Y = 1."""

    def __init__(
        self,
        name: str | None = None,
        *,
        red: _Xy | None = None,
        green: _Xy | None = None,
        blue: _Xy | None = None,
        white: _Xy | None = None,
    ) -> None: ...
    def to_xyz(self) -> NDArray[np.float64]:
        """Linear light to XYZ under this gamut's own white: shape (3, 3)."""

    def to(self, other: Gamut, *, adaptation: _Adaptation | None = None) -> NDArray[np.float64]:
        """Linear light of this gamut to that of another: shape (3, 3)."""

    def convert(
        self, light: ArrayLike, other: Gamut, *, adaptation: _Adaptation | None = None, out: _Array | None = None
    ) -> _Array:
        """Linear light of this gamut as linear light of another: shape (..., 3)."""

    @property
    def primaries(self) -> list[list[float]]: ...
    @property
    def white(self) -> list[float]: ...
    @property
    def name(self) -> str | None: ...

class Camera:
    """A curve, a gamut and a range, which make scene light (linear AP1) of a log signal."""

    def __init__(
        self,
        curve: str,
        gamut: str | Mapping[str, _Xy],
        *,
        ei: int | None = None,
        range: _Range | None = None,
        adaptation: _Adaptation | None = None,
        rating: Sequence[Mapping[str, float]] | None = None,
        folder: _Path | None = None,
    ) -> None: ...
    def decode(self, signal: ArrayLike, *, out: _Array | None = None) -> _Array:
        """Signal to scene light: shape (..., 3). A colour with NaN gives NaN."""

    def encode(self, light: ArrayLike, *, out: _Array | None = None) -> _Array:
        """Scene light to signal: shape (..., 3). A colour with NaN gives NaN."""

    @property
    def range(self) -> _Range: ...
    @property
    def ratings(self) -> list[dict[str, float | None]]: ...

class Display:
    """How display light becomes the signal of one monitor."""

    def __init__(
        self,
        standard: str | None = None,
        *,
        gamut: str | Mapping[str, _Xy] | None = None,
        eotf: str | None = None,
        peak: float | None = None,
        black: float | None = None,
        diffuse_white: float | None = None,
        range: _Range | None = None,
        mapping: str | None = None,
        white: Literal["adapt", "keep"] | None = None,
        keep_white: _Xy | None = None,
    ) -> None: ...
    def decode(self, signal: ArrayLike, *, out: _Array | None = None) -> _Array:
        """Signal to display light: shape (..., 3). A colour with NaN gives NaN."""

    def encode(self, light: ArrayLike, *, out: _Array | None = None) -> _Array:
        """Display light, brought into the gamut, to the signal that is sent: shape (..., 3)."""

    def show(self, xyz: ArrayLike, *, out: _Array | None = None) -> _Array:
        """XYZ under the picture's white, Y = 1 at diffuse white, to the signal that is sent: shape (..., 3)."""

    def nits(self, signal: ArrayLike) -> _Array:
        """Luminance of a signal in nits: shape (..., 3) to (...)."""

    @property
    def peak(self) -> float: ...
    @property
    def black(self) -> float: ...
    @property
    def diffuse_white(self) -> float: ...
    @property
    def eotf(self) -> str: ...
    @property
    def range(self) -> _Range: ...

class Look:
    """An ordered list of steps, the same for every camera and every display."""

    def __init__(
        self,
        title: str,
        steps: Sequence[Mapping[str, Any]],
        *,
        revision: int | None = None,
        folder: _Path | None = None,
    ) -> None: ...
    @staticmethod
    def read(path: _Path) -> Look:
        """A look document (.toml)."""

    @staticmethod
    def parse(text: str, *, folder: _Path | None = None) -> Look:
        """A look document that is a text."""

    def save(self, path: _Path, *, replace: bool = False) -> None:
        """Writes the document, whole or not at all."""

    def toml(self) -> str:
        """The document."""

    @property
    def title(self) -> str: ...
    @property
    def revision(self) -> int: ...
    @property
    def note(self) -> str: ...
    @property
    def steps(self) -> list[dict[str, Any]]: ...
    @property
    def sentences(self) -> list[str]: ...

class Pipeline:
    """One camera, one look and one display as one function of a signal: the exact path, in float64."""

    def __init__(self, camera: Camera, look: Look, display: Display) -> None: ...
    def __call__(self, signal: ArrayLike, *, out: _Array | None = None) -> _Array:
        """Camera signal to display signal: shape (..., 3). A colour with NaN gives NaN."""

    def from_light(self, light: ArrayLike, *, out: _Array | None = None) -> _Array:
        """Scene light (linear AP1) to display signal: shape (..., 3)."""

    def light(self, signal: ArrayLike, *, out: _Array | None = None) -> _Array:
        """Camera signal to display light: shape (..., 3)."""

    def stages(self, signal: Sequence[float]) -> list[_Stage]:
        """One signal after every stage of the path."""

    def cube(self, points: int = 33) -> Cube:
        """The path sampled over 0 to 1."""

class Cube:
    """Colours at the nodes of a grid over a box of signals."""

    def __init__(self, nodes: ArrayLike, *, domain: Sequence[Sequence[float]] | None = None, title: str = "") -> None: ...
    @staticmethod
    def read(path: _Path) -> Cube:
        """A cube of a file: .cube, .clf with a cube and nothing else, or a Hald image (.png)."""

    def __call__(
        self, signal: ArrayLike, *, interpolation: _Interpolation = "tetrahedral", out: _Array | None = None
    ) -> _Array:
        """Signal through the cube: shape (..., 3); float64 in float64; float32, uint8 and uint16 by the fast kernels."""

    def write(
        self,
        path: _Path,
        *,
        title: str | None = None,
        comments: Sequence[str] = ...,
        digits: int = 6,
        replace: bool = False,
    ) -> None:
        """Writes a .cube file, whole or not at all."""

    @property
    def nodes(self) -> NDArray[np.float64]: ...
    @property
    def domain(self) -> list[list[float]]: ...
    @property
    def points(self) -> int: ...
    @property
    def title(self) -> str: ...

class Show:
    """A show document: its cameras, displays, looks and shots by name, and what to bake of them."""

    @staticmethod
    def read(path: _Path) -> Show:
        """A show document (.toml), with the looks and curves that it names."""

    def look(self, name: str) -> Look: ...
    def camera(self, name: str) -> Camera: ...
    def display(self, name: str) -> Display: ...
    def pipeline(self, look: str, camera: str, display: str, *, shot: str | None = None) -> Pipeline:
        """The compiled path, with the correction of a shot where one is named."""

    @property
    def title(self) -> str: ...
    @property
    def looks(self) -> list[str]: ...
    @property
    def cameras(self) -> list[str]: ...
    @property
    def displays(self) -> list[str]: ...
    @property
    def shots(self) -> list[str]: ...

def curves() -> list[str]:
    """The names of the curves that are built in."""

def gamuts() -> list[str]:
    """The names of the gamuts that are built in."""

def displays() -> list[str]:
    """The names of the displays that are built in."""

def steps() -> list[str]:
    """The names of the steps that a look can have."""

def defaults(step: str) -> dict[str, Any]:
    """The settings of a step with their defaults."""

def audit(pipeline: Pipeline, cube: Cube) -> dict[str, Any]:
    """The error of a cube against the exact path, CIEDE2000 (Delta E ITP for PQ and HLG)."""

def fit(pipeline: Pipeline, points: int = 33, *, reader: _Reader = "tetrahedral") -> tuple[Cube, dict[str, Any]]:
    """A cube whose nodes are chosen for the least error between them, and what was done."""

def stress(pipeline: Pipeline, points: int = 33, *, reader: _Reader = "tetrahedral") -> dict[str, Any]:
    """What breaks the look: `verdict` is holds, marginal or breaks."""

def diff(
    old: _Path,
    new: _Path,
    *,
    show: _Path | None = None,
    look: str | None = None,
    camera: str | None = None,
    display: str | None = None,
    limits: Sequence[str] = ...,
    interpolation: _Interpolation | None = None,
) -> dict[str, Any]:
    """What differs between two files: `verdict` is identical, different, within or beyond."""

def bake(
    show: Show,
    *,
    out: _Path | None = None,
    looks: Sequence[str] | None = None,
    cameras: Sequence[str] | None = None,
    displays: Sequence[str] | None = None,
    shots: bool = False,
    points: int | None = None,
    format: Literal["cube", "clf"] = "cube",
    reader: _Reader = "tetrahedral",
    fit: bool = False,
    shaper: bool = False,
    audit: bool = True,
    digits: int = 6,
    device: str | None = None,
    replace: bool = False,
) -> dict[str, Any]:
    """Bakes the cubes of a show: `manifest`, and `files`, the text of each by its name."""
