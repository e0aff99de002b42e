"""
The set as data: rooms, windows, lights, boards, flags, marks, a camera and the air.

Every part is a frozen dataclass that checks itself when made. Lengths are metres in the room frame:
x to the right on the plan, y up on the plan, z up from the floor, origin at the lower-left floor
corner. Everything that faces somewhere has a place `at` and a point `aim` that it faces.

    plan      far (y = depth)
          +-----------------+
          |                 |
     left |                 | right        walls are named as they lie on the plan
    (x=0) |                 | (x = width)
          +-----------------+
    origin   near (y = 0)
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, fields, replace
from typing import ClassVar

import numpy as np

from lightcalc.kit.candela import Beam, Lambert, Photometry
from lightcalc.kit.materials import Diffusion, Gel, Stuff
from lightcalc.laws import exposure
from lightcalc.sky.clock import LocalDay, clock_time
from lightcalc.sky.daylight import OUTLOOKS
from lightcalc.sky.positions import Place
from lightcalc.units import check_range

WALLS = ("left", "right", "near", "far")
SURFACES = WALLS + ("floor", "ceiling")
RESERVED = ("sun", "sky", "room", "ground", "camera")  # names that a setup gives to what has none of its own
RECEPTORS = ("flat", "dome")
QUANTITIES = ("level", "fill_under", "beam_over", "veil")
FLUIDS = ("glycol", "mineral oil")  # what is breathed, for its limits
MOST = 64  # things of one kind in a setup: a bound, so that a file cannot ask for a million
REACH_M = 2_000.0  # nothing stands further out than this


class SceneError(ValueError):
    """A setup that cannot be: one sentence with the thing, the field, the value and what would do."""


def _check(thing, field, value, **limits):
    try:
        check_range(field, value, **limits)
    except (ValueError, TypeError) as error:
        raise SceneError(f"{thing}: {error}") from None


def _point(thing, field, value):
    """Three finite metres as a tuple, or one sentence."""
    try:
        point = tuple(float(v) for v in value)
    except (TypeError, ValueError):
        raise SceneError(f"{thing}: {field} must be three metres [x, y, z], got {value!r}") from None
    if len(point) != 3:
        raise SceneError(f"{thing}: {field} must be three metres [x, y, z], got {len(point)} numbers")
    _check(thing, field, point, low=-REACH_M, high=REACH_M, hint="metres in the room frame")
    return point


def _sentence(thing, check, *values, **named):
    """What a check of another module returns; what it refuses is said with the thing's name."""
    try:
        return check(*values, **named)
    except ValueError as error:
        raise SceneError(f"{thing}: {error}") from None


def _choice(thing, field, value, choices):
    if value not in choices:
        raise SceneError(f"{thing}: {field} must be one of {', '.join(choices)}, got {value!r}")


def _check_kelvin(thing, field, value):
    """A colour temperature, or 0 where none is given."""
    _check(thing, field, value, low=0.0, high=100_000.0, hint="a colour temperature such as 3200; 0 is not given")
    if 0.0 < value < 1000.0:
        raise SceneError(f"{thing}: {field} must be 0 (not given) or >= 1000, got {value:g}")


def _place_and_aim(thing, part):
    """Check `at`, `aim` and the roll; the two points must be apart, or there is no direction to face."""
    object.__setattr__(part, "at", _point(thing, "at", part.at))
    object.__setattr__(part, "aim", _point(thing, "aim", part.aim))
    if np.linalg.norm(np.subtract(part.aim, part.at)) < 1e-6:
        raise SceneError(f"{thing}: aim must differ from at, got {list(part.aim)} for both")
    _check(thing, "roll_deg", getattr(part, "roll_deg", 0.0), low=-360.0, high=360.0)


def basis(at, aim, roll_deg=0.0):
    """
    Right, up and forward of something at `at` that faces `aim`.

    Parameters
    ----------
    at, aim : sequence of 3 floats
        Two different points. [m]
    roll_deg : float, default 0
        Turn about the forward axis, clockwise as seen from behind. [deg]

    Returns
    -------
    right, up, forward : arrays of shape (3,)
        Unit vectors, right-handed. Facing straight up or down, right is +x.

    Examples
    --------
    >>> right, up, forward = basis((0, 0, 0), (0, 5, 0))
    >>> right.tolist(), up.tolist()
    ([1.0, 0.0, 0.0], [0.0, 0.0, 1.0])
    """
    forward = np.subtract(aim, at).astype(float)
    forward /= np.linalg.norm(forward)
    right = np.array([forward[1], -forward[0], 0.0])  # forward x z
    size = np.linalg.norm(right)
    right = right / size if size > 1e-9 else np.array([1.0, 0.0, 0.0])
    up = np.cross(right, forward)
    turn = np.radians(roll_deg)
    right, up = np.cos(turn) * right - np.sin(turn) * up, np.sin(turn) * right + np.cos(turn) * up
    return right + 0.0, up + 0.0, forward  # + 0.0 turns -0.0 into 0.0


def rectangle_corners(at, aim, width_m, height_m, roll_deg=0.0):
    """
    The four corners of a rectangle that faces `aim`, anticlockwise as the aim point sees them. [m]

    Parameters
    ----------
    at, aim : sequence of 3 floats
        Centre, and a point on the normal. [m]
    width_m, height_m : float
        Sides along right and up. [m]
    roll_deg : float, default 0
        See `basis`. [deg]

    Returns
    -------
    array of shape (4, 3)
        Corners; the normal by the right-hand rule points at `aim`. [m]
    """
    right, up, _ = basis(at, aim, roll_deg)
    half_w, half_h = 0.5 * width_m * right, 0.5 * height_m * up
    # Seen from the aim point, this rectangle's own right lies on the viewer's left.
    return np.asarray(at, float) + np.array([half_w - half_h, -half_w - half_h, -half_w + half_h, half_w + half_h])


@dataclass(frozen=True)
class Window:
    """
    A rectangular opening in a wall; glass, a sheer and bars are part of it.

    `centre_m` runs along the wall: x on the near and far walls, y on the left and right ones.
    `bars_upright` and `bars_across` count bars of width `bar_m` inside the opening, evenly spaced.
    The sheer's direct share passes straight on, its diffuse share leaves evenly to all sides.
    """

    name: str
    wall: str
    centre_m: float
    sill_m: float
    width_m: float
    height_m: float
    glass: float = 1.0
    sheer: Diffusion | None = None
    bars_upright: int = 0
    bars_across: int = 0
    bar_m: float = 0.03

    def __post_init__(self):
        me = f"window '{self.name}'"
        _choice(me, "wall", self.wall, WALLS)
        _check(me, "centre_m", self.centre_m, low=0.0)
        _check(me, "sill_m", self.sill_m, low=0.0)
        _check(me, "width_m", self.width_m, above=0.0, high=100.0)
        _check(me, "height_m", self.height_m, above=0.0, high=100.0)
        _check(me, "glass", self.glass, low=0.0, high=1.0, hint="share of light the glass lets through")
        for field in ("bars_upright", "bars_across"):
            _check(me, field, getattr(self, field), low=0, high=24)
            if int(getattr(self, field)) != getattr(self, field):
                raise SceneError(f"{me}: {field} must be a whole number, got {getattr(self, field)}")
        _check(me, "bar_m", self.bar_m, low=0.0)
        for count, side, field in (
            (self.bars_upright, self.width_m, "bars_upright"),
            (self.bars_across, self.height_m, "bars_across"),
        ):
            if count * self.bar_m >= side:
                raise SceneError(f"{me}: {field} x bar_m must leave an opening in {side:g} m, got {count} x {self.bar_m:g} m")


@dataclass(frozen=True)
class Room:
    """A box with a reflectance per surface, and windows; haze fills it evenly."""

    sends_back: ClassVar[str] = "room"  # the source, in a reading, of what has bounced or was turned by the air

    name: str
    width_m: float
    depth_m: float
    height_m: float
    floor: float = 0.2
    ceiling: float = 0.7
    left: float = 0.5
    right: float = 0.5
    near: float = 0.5
    far: float = 0.5
    windows: tuple[Window, ...] = ()
    bearing_deg: float = 0.0  # compass bearing of +y, clockwise from north
    outside_ground: float = 0.2  # reflectance of what lies below the horizon outside the windows
    air_changes_per_h: float | None = None  # fresh air, leaks included; None is not known

    def __post_init__(self):
        me = f"room '{self.name}'"
        for field in ("width_m", "depth_m", "height_m"):
            _check(me, field, getattr(self, field), above=0.1, high=200.0, hint="metres inside the walls")
        for field in SURFACES + ("outside_ground",):
            _check(me, field, getattr(self, field), low=0.0, high=0.98, hint="reflectance, 0 black to 0.98 white")
        _check(me, "bearing_deg", self.bearing_deg, low=-360.0, high=360.0)
        if self.air_changes_per_h is not None:
            _check(me, "air_changes_per_h", self.air_changes_per_h, low=0.0, high=200.0, hint="a closed old room is 0.3 to 1")
        _unique(me, "window", self.windows)
        for window in self.windows:
            self._check_window(window)

    def _check_window(self, window):
        side = self.width_m if window.wall in ("near", "far") else self.depth_m
        me = f"room '{self.name}', window '{window.name}'"
        low, high = window.centre_m - window.width_m / 2, window.centre_m + window.width_m / 2
        if low < -1e-9 or high > side + 1e-9:
            raise SceneError(
                f"{me}: centre_m and width_m must keep it on the {window.wall} wall (0 to {side:g} m), got {low:g} to {high:g} m"
            )
        if window.sill_m + window.height_m > self.height_m + 1e-9:
            raise SceneError(
                f"{me}: sill_m + height_m must be <= {self.height_m:g} m (the ceiling), got {window.sill_m + window.height_m:g} m"
            )

    @property
    def size_m(self):
        """Width, depth, height. [m]"""
        return (self.width_m, self.depth_m, self.height_m)

    def contains(self, point, margin_m=0.0):
        """
        Whether a point lies inside the walls.

        Parameters
        ----------
        point : sequence of 3 floats
            [m]
        margin_m : float, default 0
            How far outside still counts. [m]

        Returns
        -------
        bool
        """
        return all(-margin_m <= p <= s + margin_m for p, s in zip(point, self.size_m))


@dataclass(frozen=True)
class Exterior:
    """Open ground under a sky; `width_m` and `depth_m` bound the part drawn on the plan."""

    sends_back: ClassVar[str] = "ground"  # as a room's

    name: str
    width_m: float
    depth_m: float
    ground: float = 0.2
    bearing_deg: float = 0.0

    def __post_init__(self):
        me = f"exterior '{self.name}'"
        for field in ("width_m", "depth_m"):
            _check(me, field, getattr(self, field), above=0.5, high=1_000.0, hint="metres of ground on the plan")
        _check(me, "ground", self.ground, low=0.0, high=0.98, hint="reflectance, 0 black to 0.98 white")
        _check(me, "bearing_deg", self.bearing_deg, low=-360.0, high=360.0)

    @property
    def size_m(self):
        """Width, depth, and a height that a figure and a stand fit in. [m]"""
        return (self.width_m, self.depth_m, 6.0)

    def contains(self, point, margin_m=0.0):
        """
        Whether a point lies above the ground.

        Parameters
        ----------
        point : sequence of 3 floats
            [m]
        margin_m : float, default 0
            How far below still counts. [m]

        Returns
        -------
        bool
        """
        return point[2] >= -margin_m


@dataclass(frozen=True)
class Light:
    """
    One light: a candela distribution at a place, aimed.

    With `face_width_m` and `face_height_m` it is an area source, else a point. `dim` is the share of
    full output; gel and diffusion sit on the face. Outside a room it lights only what its windows let in.
    """

    name: str
    at: tuple[float, float, float]
    aim: tuple[float, float, float]
    distribution: Beam | Lambert | Photometry
    face_width_m: float = 0.0
    face_height_m: float = 0.0
    dim: float = 1.0
    gel: Gel | None = None
    diffusion: Diffusion | None = None
    watts: float = 0.0
    kelvin: float = 0.0  # 0: not given
    kit: str = ""
    evidence: str = ""
    roll_deg: float = 0.0

    def __post_init__(self):
        me = f"light '{self.name}'"
        _place_and_aim(me, self)
        _check(me, "face_width_m", self.face_width_m, low=0.0, high=30.0)
        _check(me, "face_height_m", self.face_height_m, low=0.0, high=30.0)
        if (self.face_width_m == 0.0) != (self.face_height_m == 0.0):
            raise SceneError(f"{me}: face_width_m and face_height_m must both be 0 (a point) or both be > 0")
        _check(me, "dim", self.dim, low=0.0, high=1.0, hint="share of full output, 1 is full")
        _check(me, "watts", self.watts, low=0.0)
        _check_kelvin(me, "kelvin", self.kelvin)


@dataclass(frozen=True)
class Board:
    """A sheet that sends light back: a bounce, or with black stuff, negative fill. Its back is `stuff.back`."""

    name: str
    at: tuple[float, float, float]
    aim: tuple[float, float, float]
    width_m: float
    height_m: float
    stuff: Stuff
    roll_deg: float = 0.0

    def __post_init__(self):
        me = f"board '{self.name}'"
        _place_and_aim(me, self)
        _check(me, "width_m", self.width_m, above=0.0, high=30.0)
        _check(me, "height_m", self.height_m, above=0.0, high=30.0)


@dataclass(frozen=True)
class Flag:
    """A black rectangle that stops light and gives none back worth counting."""

    name: str
    at: tuple[float, float, float]
    aim: tuple[float, float, float]
    width_m: float
    height_m: float
    roll_deg: float = 0.0
    reflectance: float = 0.03

    def __post_init__(self):
        me = f"flag '{self.name}'"
        _place_and_aim(me, self)
        _check(me, "width_m", self.width_m, above=0.0, high=30.0)
        _check(me, "height_m", self.height_m, above=0.0, high=30.0)
        _check(me, "reflectance", self.reflectance, low=0.0, high=0.98)


@dataclass(frozen=True)
class Frame:
    """A frame of diffusion: part of the light goes straight on, part leaves evenly to all sides."""

    name: str
    at: tuple[float, float, float]
    aim: tuple[float, float, float]
    width_m: float
    height_m: float
    diffusion: Diffusion
    roll_deg: float = 0.0

    def __post_init__(self):
        me = f"frame '{self.name}'"
        _place_and_aim(me, self)
        _check(me, "width_m", self.width_m, above=0.0, high=30.0)
        _check(me, "height_m", self.height_m, above=0.0, high=30.0)


@dataclass(frozen=True)
class Mark:
    """
    Where a meter is held or a face is, and the way it faces.

    A flat receptor weighs light by the cosine of its angle to the facing direction; a dome by
    (1 + cosine) / 2, an ideal hemisphere. A mark with `figure` is drawn as a matte head and body
    of reflectance `reflectance`; a figure is drawn only, it shades nothing.
    """

    name: str
    at: tuple[float, float, float]
    aim: tuple[float, float, float]
    receptor: str = "flat"
    figure: bool = False
    reflectance: float = 0.3
    body: float = 0.06

    def __post_init__(self):
        me = f"mark '{self.name}'"
        _place_and_aim(me, self)
        _choice(me, "receptor", self.receptor, RECEPTORS)
        _check(me, "reflectance", self.reflectance, low=0.0, high=0.98)
        _check(me, "body", self.body, low=0.0, high=0.98)


@dataclass(frozen=True)
class Spot:
    """
    A place the spot meter looks at from the camera.

    Given `source`, the reading is of that source's shaft in the air: the sight line through `at`
    with and without the light that source scatters into it.
    """

    name: str
    at: tuple[float, float, float]
    source: str = ""

    def __post_init__(self):
        object.__setattr__(self, "at", _point(f"spot '{self.name}'", "at", self.at))


@dataclass(frozen=True)
class Camera:
    """
    The camera and what holds its exposure; see `exposure` for the reference illuminance.

    The last five are for noise and colour (`photons`, `colorimetry`). Their defaults are cautious and FROM MEMORY: put in
    your camera's own, from its maker or a test.
    """

    at: tuple[float, float, float]
    aim: tuple[float, float, float]
    focal_mm: float = 35.0
    sensor_width_mm: float = 24.9
    sensor_height_mm: float = 14.0
    t_stop: float = 2.8284271247461903
    iso: float = 800.0
    fps: float = 24.0
    shutter_deg: float = 180.0
    nd_stops: float = 0.0
    range_over_stops: float = 6.0  # usable range above middle grey
    range_under_stops: float = 7.0  # and below
    pixel_um: float = 6.0  # pixel pitch
    quantum_efficiency: float = 0.2  # electrons a photon of the band, colour filters included
    read_noise_e: float = 3.0  # electrons that reading a pixel adds
    photons_per_lx_s_um2: float = 11_000.0  # photons of the band in a lux second: 400 to 700 nm, daylight to tungsten
    balance_kelvin: float = 0.0  # what white is set to; 0: not given

    def __post_init__(self):
        _place_and_aim("camera", self)
        _check("camera", "focal_mm", self.focal_mm, above=2.0, high=2_000.0)
        _check("camera", "sensor_width_mm", self.sensor_width_mm, above=1.0, high=100.0)
        _check("camera", "sensor_height_mm", self.sensor_height_mm, above=1.0, high=100.0)
        _check("camera", "t_stop", self.t_stop, above=0.4, high=128.0, hint="a T-stop such as 2.8")
        _check("camera", "iso", self.iso, above=0.9, high=10_000_000.0)
        _check("camera", "fps", self.fps, above=1e-4, high=100_000.0)
        _check("camera", "shutter_deg", self.shutter_deg, above=0.0, high=360.0, hint="180 is half the frame time")
        _check("camera", "nd_stops", self.nd_stops, low=0.0, high=20.0, hint="stops of light taken away; ND 0.3 is 1")
        _check("camera", "range_over_stops", self.range_over_stops, low=0.0, high=20.0)
        _check("camera", "range_under_stops", self.range_under_stops, low=0.0, high=20.0)
        _check("camera", "pixel_um", self.pixel_um, above=0.2, high=100.0, hint="micrometres from pixel to pixel, such as 6")
        _check("camera", "quantum_efficiency", self.quantum_efficiency, above=0.0, high=1.0, hint="electrons a photon")
        _check("camera", "read_noise_e", self.read_noise_e, low=0.0, high=1_000.0, hint="electrons")
        _check("camera", "photons_per_lx_s_um2", self.photons_per_lx_s_um2, above=100.0, high=100_000.0, hint="about 11 000")
        _check_kelvin("camera", "balance_kelvin", self.balance_kelvin)

    @property
    def time_s(self):
        """Exposure time of one frame. [s]"""
        return float(exposure.shutter_time_s(shutter_deg=self.shutter_deg, fps=self.fps))

    @property
    def reference_lx(self):
        """Illuminance at which a grey card sits on middle grey. [lx]"""
        return float(
            exposure.reference_illuminance_lx(t_stop=self.t_stop, time_s=self.time_s, iso=self.iso, nd_stops=self.nd_stops)
        )

    @property
    def reference_cd_m2(self):
        """Luminance of middle grey, 0.18 E_ref / pi. [cd/m2]"""
        return exposure.GREY_REFLECTANCE * self.reference_lx / np.pi


@dataclass(frozen=True)
class Haze:
    """Even, non-absorbing haze. `droplets` names a size table; without it `g` sets Henyey-Greenstein."""

    extinction_per_m: float = 0.0
    g: float = 0.75
    droplets: str = ""

    def __post_init__(self):
        _check("haze", "extinction_per_m", self.extinction_per_m, low=0.0, high=10.0, hint="1/m; 0.05 sees about 80 m")
        _check("haze", "g", self.g, low=-0.95, high=0.95, hint="0 scatters evenly, 0.75 mostly forward")


@dataclass(frozen=True)
class HazeMachine:
    """What a machine puts into the air at full output: fluid used, and the share of it that hangs there as droplets."""

    fluid_g_per_min: float
    droplet_share: float  # the rest is water that dries, and drops that fall at once
    fluid: str = "glycol"

    def __post_init__(self):
        _check("haze_machine", "fluid_g_per_min", self.fluid_g_per_min, above=0.0, high=1_000.0, hint="a small hazer is 1 to 5")
        _check("haze_machine", "droplet_share", self.droplet_share, above=0.0, high=1.0, hint="water-based fluid is 0.1 to 0.5")
        _choice("haze_machine", "fluid", self.fluid, FLUIDS)


@dataclass(frozen=True)
class Sun:
    """The sun where it stands: compass bearing, height, and illuminance square to its rays."""

    bearing_deg: float
    elevation_deg: float
    normal_lx: float
    kelvin: float = 0.0

    def __post_init__(self):
        _check("sun", "bearing_deg", self.bearing_deg, low=-360.0, high=360.0)
        _check("sun", "elevation_deg", self.elevation_deg, low=-18.0, high=90.0)
        _check("sun", "normal_lx", self.normal_lx, low=0.0, high=150_000.0)
        _check_kelvin("sun", "kelvin", self.kelvin)

    def direction(self, place_bearing_deg):
        """Unit vector from the set to the sun in the room frame, shape (3,)."""
        turn, height = np.radians(self.bearing_deg - place_bearing_deg), np.radians(self.elevation_deg)
        return np.array([np.sin(turn) * np.cos(height), np.cos(turn) * np.cos(height), np.sin(height)])


@dataclass(frozen=True)
class Sky:
    """
    A sky whose luminance runs from horizon to zenith: L(h) = horizon + (zenith - horizon) sin h.

    The CIE overcast sky is horizon = zenith / 3. Illuminance on open ground is
    pi horizon + (2 pi / 3) (zenith - horizon).
    """

    zenith_cd_m2: float
    horizon_cd_m2: float
    kelvin: float = 0.0

    def __post_init__(self):
        _check("sky", "zenith_cd_m2", self.zenith_cd_m2, low=0.0, high=1e6)
        _check("sky", "horizon_cd_m2", self.horizon_cd_m2, low=0.0, high=1e6)
        _check_kelvin("sky", "kelvin", self.kelvin)

    @property
    def horizontal_lx(self):
        """Illuminance on open level ground from the whole sky. [lx]"""
        return np.pi * self.horizon_cd_m2 + 2 * np.pi / 3 * (self.zenith_cd_m2 - self.horizon_cd_m2)


@dataclass(frozen=True)
class Target:
    """
    What a reading should be, in stops, and how near is near enough.

    `level`: a mark or a spot, from middle grey. `fill_under`: a mark's fill alone, from key + fill, so a minus:
    -2 is 4:1. `beam_over`: a shaft's spot, from what is behind it. `veil`: the light the air adds in front of a
    mark, from middle grey.
    """

    of: str
    quantity: str
    stops: float
    within: float = 1 / 3

    def __post_init__(self):
        me = f"target of '{self.of}'"
        _choice(me, "quantity", self.quantity, QUANTITIES)
        most, hint = (0.0, "fill alone from key + fill is a minus: -2 is 4 : 1") if self.quantity == "fill_under" else (30.0, "")
        _check(me, "stops", self.stops, low=-30.0, high=most, hint=hint)
        _check(me, "within", self.within, above=0.0, high=10.0)


def _unique(thing, kind, parts):
    """At most MOST parts of a kind, each with its own name."""
    if len(parts) > MOST:
        raise SceneError(f"{thing}: at most {MOST} {kind}s, got {len(parts)}")
    seen = set()
    for part in parts:
        if not isinstance(part.name, str) or not part.name.strip() or len(part.name) > 60:
            raise SceneError(f"{thing}: every {kind} needs a name of 1 to 60 characters, got {part.name!r}")
        if part.name in seen:
            raise SceneError(f"{thing}: {kind} names must differ, got '{part.name}' twice")
        seen.add(part.name)


@dataclass(frozen=True)
class Setup:
    """
    One camera position and everything that lights it. `key` names the key sources; empty means the brightest.

    `time` ('19:40', on the clock of the shoot's place) and `outlook` say when it is shot and under what sky; the light
    is that of `sun` and `sky` as they stand, until `day` is asked for the sun and sky of that hour.
    """

    name: str
    title: str
    place: Room | Exterior
    camera: Camera
    lights: tuple[Light, ...] = ()
    boards: tuple[Board, ...] = ()
    flags: tuple[Flag, ...] = ()
    frames: tuple[Frame, ...] = ()
    marks: tuple[Mark, ...] = ()
    spots: tuple[Spot, ...] = ()
    haze: Haze = Haze()
    sun: Sun | None = None
    sky: Sky | None = None
    targets: tuple[Target, ...] = ()
    key: tuple[str, ...] = ()
    day: int = 1
    cuts_to: str = ""  # the setup this one must match across the cut
    notes: str = ""
    time: str = ""
    outlook: str = ""

    def __post_init__(self):
        me = f"setup '{self.name}'"
        if self.time:
            _sentence(me, clock_time, self.time)
        if self.outlook:
            _choice(me, "outlook", self.outlook, tuple(OUTLOOKS))
        for kind in ("light", "board", "flag", "frame", "mark", "spot"):
            _unique(me, kind, getattr(self, kind + "s"))
        names = [part.name for kind in ("light", "board", "frame") for part in getattr(self, kind + "s")]
        if len(names) != len(set(names)):
            twice = next(n for n in names if names.count(n) > 1)
            raise SceneError(f"{me}: lights, boards and frames must not share a name, got '{twice}' twice")
        if taken := [name for name in names if name in RESERVED]:
            raise SceneError(f"{me}: lights, boards and frames must not be named {', '.join(RESERVED)}, got '{taken[0]}'")
        if "camera" in [part.name for kind in ("flag", "mark", "spot") for part in getattr(self, kind + "s")]:
            raise SceneError(f"{me}: only the camera may be named 'camera', got a flag, mark or spot of that name")
        self._check_inside(me)
        self._check_names(me)

    def _check_inside(self, me):
        """Marks and camera stand in the room; boards, frames and flags may stand outside a window."""
        size = " x ".join(f"{s:g}" for s in self.place.size_m)
        where = f"inside the {size} m room" if isinstance(self.place, Room) else "above the ground"
        parts = [("camera", self.camera)] + [(f"mark '{m.name}'", m) for m in self.marks]
        for label, part in parts:
            if not self.place.contains(part.at):
                raise SceneError(f"{me}, {label}: at must be {where}, got {list(part.at)}")

    def _check_names(self, me):
        sources = self.source_names
        for name in self.key:
            if name not in sources:
                raise SceneError(f"{me}: key must name its sources ({', '.join(sources) or 'none'}), got '{name}'")
        for spot in self.spots:
            if spot.source and spot.source not in sources:
                raise SceneError(
                    f"{me}, spot '{spot.name}': source must be one of {', '.join(sources) or 'none'}, got '{spot.source}'"
                )
        readable = [m.name for m in self.marks] + [s.name for s in self.spots]
        for target in self.targets:
            if target.of not in readable:
                raise SceneError(f"{me}: a target must be of a mark or spot ({', '.join(readable) or 'none'}), got '{target.of}'")

    @property
    def source_names(self):
        """What a reading can be split into: lights, boards, frames, then 'sun', 'sky'."""
        names = [part.name for part in self.lights + self.boards + self.frames]
        return tuple(names + ["sun"] * (self.sun is not None) + ["sky"] * (self.sky is not None))

    def part(self, name):
        """The light, board, flag, frame, mark or spot of that name; 'camera' is the camera."""
        if name == "camera":
            return self.camera
        for kind in ("lights", "boards", "frames", "flags", "marks", "spots"):
            for part in getattr(self, kind):
                if part.name == name:
                    return part
        raise SceneError(f"setup '{self.name}': nothing here is called '{name}'")

    def with_part(self, name, **changes):
        """
        This setup with one part changed; the part and the setup check themselves again.

        Parameters
        ----------
        name : str
            Of a light, board, frame, flag, mark or spot, or 'camera'.
        **changes
            Fields of that part and their new values.

        Returns
        -------
        Setup

        Raises
        ------
        SceneError
            If nothing has that name, the part has no such field, or a value does not do.
        """
        if name == "camera":
            return replace(self, camera=replace(self.camera, **changes))
        for kind in ("lights", "boards", "frames", "flags", "marks", "spots"):
            parts = getattr(self, kind)
            for index, part in enumerate(parts):
                if part.name == name:
                    known = {field.name for field in fields(part)}
                    for field in changes:
                        if field not in known:
                            raise SceneError(f"{kind[:-1]} '{name}': no field '{field}'; it has {', '.join(sorted(known))}")
                    changed = replace(part, **changes)
                    return replace(self, **{kind: parts[:index] + (changed,) + parts[index + 1 :]})
        raise SceneError(f"setup '{self.name}': nothing here is called '{name}'")


@dataclass(frozen=True)
class Shoot:
    """
    A whole shoot: its setups in shooting order, with what they share.

    Latitude, longitude and time zone go together and say where the sun stands; `dates` has one date a day. `horizon` is
    the table of `positions.Place`.
    """

    title: str
    setups: tuple[Setup, ...]
    units: str = "metric"
    notes: str = ""
    days: int = 1
    latitude_deg: float | None = None
    longitude_deg: float | None = None
    time_zone: str = ""
    dates: tuple[dt.date, ...] = ()
    horizon: tuple[tuple[float, float], ...] = ()
    haze_machine: HazeMachine | None = None

    def __post_init__(self):
        me = f"shoot '{self.title}'"
        self._check_place(me)
        _choice(me, "units", self.units, ("metric", "feet"))
        _unique(me, "setup", self.setups)
        names = [setup.name for setup in self.setups]
        for setup in self.setups:
            if setup.cuts_to and setup.cuts_to not in names:
                raise SceneError(f"setup '{setup.name}': cuts_to must be one of {', '.join(names)}, got '{setup.cuts_to}'")
            _check(f"setup '{setup.name}'", "day", setup.day, low=1, high=max(1, self.days))

    def _check_place(self, me):
        """All of a place or nothing of it; a date for every day or none."""
        given = [self.latitude_deg is not None, self.longitude_deg is not None, bool(self.time_zone)]
        if any(given) and not all(given):
            missing = [n for n, g in zip(("latitude_deg", "longitude_deg", "time_zone"), given) if not g]
            raise SceneError(f"{me}: a place needs latitude_deg, longitude_deg and time_zone, got none for {', '.join(missing)}")
        if self.horizon and not all(given):
            raise SceneError(f"{me}: horizon needs a place: latitude_deg, longitude_deg and time_zone")
        if len(self.horizon) > 360:
            raise SceneError(f"{me}: horizon must have at most 360 rows, got {len(self.horizon)}")
        _sentence(me, lambda: self.where)
        if self.dates and len(self.dates) != self.days:
            raise SceneError(f"{me}: dates must be one for each of {self.days} days, got {len(self.dates)}")
        for date in self.dates:
            _sentence(me, LocalDay, date, self.time_zone or "UTC")

    @property
    def where(self):
        """The place on earth and its clock, or None where the shoot has none."""
        if self.latitude_deg is None:
            return None
        return Place(self.latitude_deg, self.longitude_deg, self.time_zone, self.horizon)

    def date_of(self, setup):
        """
        The date a setup is shot on.

        Parameters
        ----------
        setup : Setup

        Returns
        -------
        datetime.date or None
            None where the shoot has no dates.
        """
        return self.dates[setup.day - 1] if self.dates else None

    def setup(self, name):
        """The setup of that name."""
        for setup in self.setups:
            if setup.name == name:
                return setup
        raise SceneError(f"no setup '{name}' in this shoot; it has {', '.join(s.name for s in self.setups)}")
