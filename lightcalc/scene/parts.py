"""
The set as data: rooms, windows, lights, boards, flags, marks, a camera and the air.

Every part is a frozen dataclass, made by keywords, that checks itself when made; what each field may hold stands on its
line (`fields`). Lengths are metres in the room frame: x to the right on the plan, y up on the plan, z up from the floor,
origin at the lower-left floor corner. Everything that faces somewhere has a place `at` and a point `aim` that it faces.

    plan      far (y = depth)
          +-----------------+
          |                 |
     left |                 | right        walls are named as they lie on the plan
    (x=0) |                 | (x = width)
          +-----------------+
    origin   near (y = 0)
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, ClassVar

import numpy as np

from lightcalc.kit.candela import Beam, Lambert, Photometry
from lightcalc.kit.droplets import PRESETS
from lightcalc.kit.materials import SHAPES, SOURCES, WHITEST, Diffusion, Gel, Lamp, Stuff
from lightcalc.laws import colour, exposure, haze
from lightcalc.scene.fields import MOST, REACH_M, Fault, Part, Quantity, SceneError, Way, holds, show
from lightcalc.sky.clock import clock_time
from lightcalc.sky.daylight import OUTLOOKS
from lightcalc.units import Numbers, Row
from lightcalc.wording import near

WALLS = ("left", "right", "near", "far")
SURFACES = WALLS + ("floor", "ceiling")
BODIES = ("sun", "the moon", "sky")  # sources that come with the hour; a lamp may well be called "moon"
RESERVED = (*BODIES, "room", "ground", "camera")  # names that a setup gives to what has none of its own
RECEPTORS = ("flat", "dome")
QUANTITIES = ("level", "fill_under", "beam_over", "veil")
BOUNDS = ("about", "at least", "at most")
POSES = ("standing", "seated", "lying")
USUAL_M = {  # COMMON PRACTICE: width, depth and height of a piece that nobody measured
    "box": (0.5, 0.5, 0.5), "table": (1.6, 0.8, 0.75), "chair": (0.45, 0.45, 0.9), "bed": (0.9, 2.0, 0.5),
    "shelf": (0.9, 0.35, 1.8), "door": (0.85, 0.04, 2.0), "sack": (0.5, 0.4, 0.75),
    "drum": (0.58, 0.58, 0.88), "wall": (2.0, 0.12, 2.5), "slope": (4.0, 2.0, 1.5), "blind": (1.2, 0.08, 1.4),
}  # fmt: skip
PIECES = tuple(USUAL_M)
FLUIDS = ("glycol", "mineral oil")  # what is breathed, for its limits
DOORS = ("top", "bottom", "left", "right")
FOLDED_DEG = 90.0  # a barn door turned all the way back
HINGE_M = 0.08  # from a lamp's axis to a barn door's hinge, where its face is taken for a point
THROW_M = 3.0  # from a thing to the point it faces, where only pan and tilt are given


def basis(at: Row, aim: Row, roll_deg: float = 0.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
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


def rectangle_corners(at: Row, aim: Row, width_m: float, height_m: float, roll_deg: float = 0.0) -> Numbers:
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


# aiming ...........................................................................


class Aim(tuple):
    """
    The point that a thing faces, with how it was said: the name of a mark that it follows, or pan and tilt.

    Parameters
    ----------
    point : sequence of 3 floats
        [m]
    said : str or tuple of 2 floats
        A mark of the setup; or pan, the turn on the plan from +y, clockwise as seen from above, and tilt, plus is up. [deg]
    """

    said: str | tuple[float, float]

    def __new__(cls, point, said):
        aim = super().__new__(cls, (float(v) for v in point))
        aim.said = said
        return aim

    def __getnewargs__(self):
        return tuple(self), self.said

    @classmethod
    def turned(cls, at: Row, pan_deg: float, tilt_deg: float) -> Aim:
        """
        What something at `at` faces that is panned and tilted so: a point `THROW_M` away.

        Parameters
        ----------
        at : sequence of 3 floats
            [m]
        pan_deg, tilt_deg : float
            See `Aim`. [deg]

        Returns
        -------
        Aim

        Examples
        --------
        >>> [round(v, 9) for v in Aim.turned((1, 1, 2), 90, -30)]  # to the right, and down
        [3.598076211, 1.0, 0.5]
        """
        return cls(np.add(at, THROW_M * _way(pan_deg, tilt_deg)), (pan_deg, tilt_deg))

    def seen_from(self, at: Row) -> Aim:
        """
        The same point, with the pan and tilt that lead to it from `at`; typed ones stay as long as they lead there.

        Parameters
        ----------
        at : sequence of 3 floats
            [m]

        Returns
        -------
        Aim
        """
        way = np.subtract(self, at) / np.linalg.norm(np.subtract(self, at))
        if isinstance(self.said, str) or np.max(np.abs(way - _way(*self.said))) < 1e-9:
            return self
        pan, tilt = np.arctan2(way[0], way[1]), np.arctan2(way[2], np.hypot(way[0], way[1]))
        return Aim(self, (float(np.degrees(pan)), float(np.degrees(tilt))))


def _way(pan_deg, tilt_deg):
    """Unit vector that something faces, panned and tilted."""
    pan, tilt = np.radians(pan_deg), np.radians(tilt_deg)
    return np.array([np.sin(pan) * np.cos(tilt), np.cos(pan) * np.cos(tilt), np.sin(tilt)])


def followed(aim: object) -> str | None:
    """The mark that an aim names, or None for a point."""
    return aim if isinstance(aim, str) else aim.said if isinstance(aim, Aim) and isinstance(aim.said, str) else None


def _panned(part, style):
    return dict(zip(PAN_TILT.keys, part.aim.said)) if isinstance(part.aim, Aim) and isinstance(part.aim.said, tuple) else None


PAN_TILT = Way(
    keys={
        "pan_deg": Quantity(kind="number", unit="degrees", low=-360.0, high=360.0, hint="on the plan from +y, clockwise"),
        "tilt_deg": Quantity(kind="number", unit="degrees", low=-90.0, high=90.0, hint="plus is up"),
    },
    read=lambda typed, part: Aim.turned(part.get("at", (0.0, 0.0, 0.0)), typed["pan_deg"], typed["tilt_deg"]),
    write=_panned,
)


def _facing(thing, me):
    """The place and the point must be apart, or there is no direction to face; a name is the setup's to know."""
    if isinstance(thing.aim, str):
        return
    if np.linalg.norm(np.subtract(thing.aim, thing.at)) < 1e-6:
        sentence = f"{me}: aim must differ from at, got {show(thing.at)} for both"
        yield Fault(sentence, ("aim",), (("at",),))
    elif isinstance(thing.aim, Aim):
        object.__setattr__(thing, "aim", thing.aim.seen_from(thing.at))


# kinds of fields that several parts have ................................................................


def _at():
    return holds("point", unit="m", low=-REACH_M, high=REACH_M, on_stage=True)


def _aim(*ways):
    return holds("aim", unit="m", low=-REACH_M, high=REACH_M, ways=ways, on_stage=True)


def _length(default=..., **about):
    return holds("length", default, unit="m", **about)


def degrees(default: object = 0.0, *, low: float | None = -360.0, high: float | None = 360.0, **about: Any) -> Any:
    """
    A field for an angle.

    Parameters
    ----------
    default : float, default 0
        An ellipsis: it must be given. [deg]
    low, high : float or None, default -360 and 360
        Closed limits. [deg]
    **about
        The other fields of `fields.Quantity`.

    Returns
    -------
    dataclasses.Field
    """
    return holds("number", default, unit="degrees", low=low, high=high, **about)


def _share(default, **about):
    return holds("share", default, low=0.0, high=WHITEST, hint="reflectance, 0 black to 0.98 white", **about)


def _kelvin():
    return holds("number", 0.0, unit="K", low=1_000.0, high=100_000.0, off=0.0, hint="a colour temperature such as 3200")


def _door():
    return degrees(
        FOLDED_DEG, low=-60.0, high=FOLDED_DEG, hint="barn door: 90 is folded back, 0 runs straight ahead, below 0 closes in"
    )


def _kit(kind, part, default=...):
    return holds(kind, default, of=(part,), hint=f"{kind}s of the kit come by name from kit.materials.{kind}")


def _sides(high):
    return _length(above=0.0, high=high, on_stage=True)


def _usual():
    return _length(0.0, low=0.0, high=20.0, hint="0 is the usual one of its kind", on_stage=True)


# rooms and ground .....................................................................


@dataclass(frozen=True, kw_only=True)
class Window(Part):
    """
    A rectangular opening in a wall; glass, a sheer and bars are part of it.

    `centre_m` runs along the wall: x on the near and far walls, y on the left and right ones.
    `bars_upright` and `bars_across` count bars of width `bar_m` inside the opening, evenly spaced.
    The sheer's direct share passes straight on, its diffuse share leaves evenly to all sides.
    """

    kind: ClassVar[str] = "window"

    name: str = holds("name")
    wall: str = holds("text", choices=WALLS)
    centre_m: float = _length(low=0.0, high=200.0, on_stage=True)
    sill_m: float = _length(low=0.0, high=200.0, on_stage=True)
    width_m: float = _sides(100.0)
    height_m: float = _sides(100.0)
    glass: float = holds("number", 1.0, low=0.0, high=1.0, hint="share of light the glass lets through")
    sheer: Diffusion | None = _kit("diffusion", Diffusion, None)
    bars_upright: int = holds("whole", 0, low=0, high=24)
    bars_across: int = holds("whole", 0, low=0, high=24)
    bar_m: float = _length(0.03, low=0.0, high=10.0)

    def _between(self, me):
        for bars, field in (("bars_upright", "width_m"), ("bars_across", "height_m")):
            count, side = getattr(self, bars), getattr(self, field)
            if count * self.bar_m >= side:
                sentence = f"{me}: {bars} x bar_m must leave an opening in {side:g} m, got {count} x {self.bar_m:g} m"
                yield Fault(sentence, (bars,), (("bar_m",), (field,)))


@dataclass(frozen=True, kw_only=True)
class Circuit(Part):
    """
    One circuit of a place: a breaker and the sockets behind it, or what a generator or a tie-in gives.

    Without `volts` and `breaker_amps` those of the shoot count. `taken_amps` is what draws on it already and stays on.
    """

    kind: ClassVar[str] = "circuit"

    name: str = holds("name")
    volts: float | None = holds("number", None, unit="V", low=100.0, high=277.0)
    breaker_amps: float | None = holds("number", None, unit="A", low=1.0, high=400.0, hint="what its breaker is marked")
    taken_amps: float = holds("number", 0.0, unit="A", low=0.0, high=400.0, hint="fridge, heating: what stays on")
    sockets: tuple[tuple[float, float, float], ...] = holds("points", (), unit="m", low=-REACH_M, high=REACH_M)


@dataclass(frozen=True, kw_only=True)
class Room(Part):
    """A box with a reflectance per surface, and windows; haze fills it evenly."""

    kind: ClassVar[str] = "room"
    sends_back: ClassVar[str] = "room"  # the source, in a reading, of what has bounced or was turned by the air

    name: str = holds("name", in_file=False)
    width_m: float = _length(above=0.1, high=500.0, hint="inside the walls")
    depth_m: float = _length(above=0.1, high=500.0, hint="inside the walls")
    height_m: float = _length(above=0.1, high=500.0, hint="inside the walls")
    floor: float = _share(0.2)
    ceiling: float = _share(0.7)
    left: float = _share(0.5)
    right: float = _share(0.5)
    near: float = _share(0.5)
    far: float = _share(0.5)
    bearing_deg: float = degrees(hint="compass bearing of +y, clockwise from north")
    outside_ground: float = _share(0.2)  # of what lies below the horizon outside the windows
    air_changes_per_h: float | None = holds("number", None, low=0.0, high=200.0, hint="a closed old room is 0.3 to 1")
    windows: tuple[Window, ...] = holds("many", (), of=(Window,))
    circuits: tuple[Circuit, ...] = holds("many", (), of=(Circuit,))

    def _between(self, me):
        yield from unique(me, "window", self.windows)
        yield from unique(me, "circuit", self.circuits)
        for index, window in enumerate(self.windows):
            yield from self._beside(f"{me}, {window.called}", ("windows", index), window)

    def _beside(self, me, path, window):
        """A window must lie within its wall."""
        along = "width_m" if window.wall in ("near", "far") else "depth_m"
        side, middle, half = getattr(self, along), window.centre_m, window.width_m / 2
        if middle - half < -1e-9 or middle + half > side + 1e-9:
            wall = f"on the {window.wall} wall (0 to {side:g} m)"
            sentence = f"{me}: centre_m and width_m must keep it {wall}, got {middle - half:g} to {middle + half:g} m"
            yield Fault(sentence, (*path, "centre_m"), ((along,), (*path, "width_m"), (*path, "wall")))
        top = window.sill_m + window.height_m
        if top > self.height_m + 1e-9:
            sentence = f"{me}: sill_m + height_m must be <= {self.height_m:g} m (the ceiling), got {top:g} m"
            yield Fault(sentence, (*path, "sill_m"), (("height_m",), (*path, "height_m")))

    @property
    def size_m(self) -> tuple[float, float, float]:
        """Width, depth, height. [m]"""
        return (self.width_m, self.depth_m, self.height_m)

    def contains(self, point: Row, margin_m: float = 0.0) -> bool:
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


@dataclass(frozen=True, kw_only=True)
class Exterior(Part):
    """Open ground under a sky; `width_m` and `depth_m` bound the part drawn on the plan."""

    kind: ClassVar[str] = "exterior"
    sends_back: ClassVar[str] = "ground"  # as a room's

    name: str = holds("name", in_file=False)
    width_m: float = _length(above=0.5, high=1_000.0, hint="ground on the plan")
    depth_m: float = _length(above=0.5, high=1_000.0, hint="ground on the plan")
    ground: float = _share(0.2)
    bearing_deg: float = degrees(hint="compass bearing of +y, clockwise from north")
    circuits: tuple[Circuit, ...] = holds("many", (), of=(Circuit,))

    def _between(self, me):
        return unique(me, "circuit", self.circuits)

    @property
    def size_m(self) -> tuple[float, float, float]:
        """Width, depth, and a height that a figure and a stand fit in. [m]"""
        return (self.width_m, self.depth_m, 6.0)

    def contains(self, point: Row, margin_m: float = 0.0) -> bool:
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


# what stands in them .......................................................................


@dataclass(frozen=True, kw_only=True)
class _Placed(Part):
    name: str = holds("name")
    at: tuple[float, float, float] = _at()
    aim: tuple[float, float, float] = _aim(PAN_TILT)

    def _between(self, me):
        return _facing(self, me)


@dataclass(frozen=True, kw_only=True)
class _Facet(_Placed):
    width_m: float = _sides(30.0)
    height_m: float = _sides(30.0)
    roll_deg: float = degrees(on_stage=True)


# How strong a light is and how wide, in its own numbers; `kit.materials.distribution` makes candela of them.
_OWN_LIGHT = Way(
    keys={
        "shape": Quantity(kind="text", choices=SHAPES),
        "peak_cd": Quantity(kind="number", unit="cd", above=0.0, hint="on the axis: lux times metres squared"),
        "lumens": Quantity(kind="number", unit="lm", above=0.0, hint="out of the lamp's face, not from the bare bulb"),
        "lux": Quantity(kind="number", unit="lx", above=0.0, hint="on the axis, at at_m"),
        "fc": Quantity(kind="number", unit="fc", above=0.0, hint="on the axis, at at_m or at_ft"),
        "at_m": Quantity(kind="length", unit="m", above=0.0, hint="from the face; at least five times its longest side"),
        "photometry": Quantity(kind="text"),
        "beam_deg": Quantity(kind="number", unit="degrees", above=0.0, below=180.0, hint="full angle to half the peak"),
        "field_deg": Quantity(kind="number", unit="degrees", above=0.0, high=180.0, hint="full angle to a tenth of the peak"),
    }
)


@dataclass(frozen=True, kw_only=True)
class Light(_Placed):
    """
    One light: a candela distribution at a place, aimed.

    With `face_width_m` and `face_height_m` it is an area source, else a point. `dim` is the share of
    full output; scrim, gel and diffusion sit on the face. Outside a room it lights only what its windows let in. A
    tungsten lamp grows warmer as it is dimmed, not behind a scrim.
    """

    kind: ClassVar[str] = "light"

    kit: str = holds("text", "")
    distribution: Beam | Lambert | Photometry = holds(
        "distribution", of=(Beam, Lambert, Photometry), ways=(_OWN_LIGHT,), in_file=False
    )
    narrow: Beam | None = holds("distribution", None, of=(Beam,), in_file=False)  # spotted in, where the kit gives it
    focus: float = holds(
        "number", 0.0, low=0.0, high=1.0, hint="0 flooded, 1 spotted in, of a lamp whose kit gives both ends", on_stage=True
    )
    face_width_m: float = _length(0.0, low=0.0, high=30.0)
    face_height_m: float = _length(0.0, low=0.0, high=30.0)
    dim: float = holds("dim", 1.0, low=0.0, high=1.0, hint="share of full output, 1 is full", on_stage=True)
    metered_stops: float = holds(
        "number", 0.0, unit="stops", low=-4.0, high=4.0, hint="what a meter read over what its figures say"
    )
    scrim_stops: float = holds("number", 0.0, unit="stops", low=0.0, high=6.0, hint="wire before the face: half is 0.5, full is 1")
    gel: Gel | None = _kit("gel", Gel, None)
    diffusion: Diffusion | None = _kit("diffusion", Diffusion, None)
    watts: float = holds("number", 0.0, unit="W", low=0.0, high=1_000_000.0)
    power_factor: float = holds("number", 1.0, above=0.0, high=1.0, hint="tungsten is 1, an old ballast 0.5")
    circuit: str = holds("text", "")  # a circuit of the place; empty is whichever has room
    cable_m: float = _length(0.0, low=0.0, high=500.0, hint="from the socket; 0 is about what its place asks")
    battery_wh: float = holds("number", 0.0, unit="W h", low=0.0, high=100_000.0, hint="what is printed on it; 0 is mains")
    kelvin: float = _kelvin()  # at full
    source: str = holds("text", "", choices=SOURCES)
    roll_deg: float = degrees(on_stage=True)
    door_top_deg: float = _door()
    door_bottom_deg: float = _door()
    door_left_deg: float = _door()  # as seen from behind the lamp
    door_right_deg: float = _door()
    door_m: float = _length(0.2, above=0.0, high=2.0, hint="from the hinge, at the edge of the lamp's face, to its end")
    snoot_m: float = _length(0.0, low=0.0, high=2.0, hint="a tube round the face and so long; 0 is none")
    evidence: str = holds("text", "")

    def _between(self, me):
        yield from super()._between(me)
        if (self.face_width_m == 0.0) != (self.face_height_m == 0.0):
            sentence = f"{me}: face_width_m and face_height_m must both be 0 (a point) or both be > 0"
            yield Fault(sentence, ("face_width_m",), (("face_height_m",),))
        if self.focus and (self.narrow is None or not isinstance(self.distribution, Beam)):
            sentence = f"{me}: focus must be 0 for a lamp whose kit does not give both ends of its focus, got {self.focus:g}"
            yield Fault(sentence, ("focus",), (("kit",),))
        elif self.focus and self.narrow.beam_deg >= self.distribution.beam_deg:
            ends = f"{self.narrow.beam_deg:g} degrees spotted in and {self.distribution.beam_deg:g} flooded"
            yield Fault(f"{me}: focus needs a flooded beam wider than the spotted one, got {ends}", ("focus",), (("beam_deg",),))

    @property
    def distribution_now(self) -> Beam | Lambert | Photometry:
        """
        What it sends as it is focused: between the ends peak, beam and field angle go by equal ratios.

        COMMON PRACTICE: between its ends a lamp goes its own way, so meter it where that matters.
        """
        if not self.focus:
            return self.distribution
        ends = [(getattr(self.distribution, key), getattr(self.narrow, key)) for key in ("peak_cd", "beam_deg", "field_deg")]
        peak_cd, beam_deg, field_deg = (float(a ** (1.0 - self.focus) * b**self.focus) for a, b in ends)
        return Beam(peak_cd=peak_cd, beam_deg=beam_deg, field_deg=field_deg)

    @property
    def doors(self) -> tuple[Flag, ...]:
        """
        What it carries that cuts its light, as flags: barn doors that are not folded back, each as wide as the face and its own
        length, and the four walls of a snoot.
        """
        opened = {side: getattr(self, f"door_{side}_deg") for side in DOORS}
        doors = [_door_flag(self, side, np.radians(opened[side]), self.door_m) for side in DOORS if opened[side] < FOLDED_DEG]
        return tuple(doors + [_door_flag(self, side, 0.0, self.snoot_m, tube=True) for side in DOORS if self.snoot_m])

    @property
    def output(self) -> float:
        """The share of its full light, by its figures, that leaves it before gel and diffusion: dimmer, scrim, and what was metered."""
        return self.dim * 2.0 ** (self.metered_stops - self.scrim_stops)

    @property
    def kelvin_now(self) -> float:
        """Its colour temperature as dimmed, before a gel; 0 where it is not given. [K]"""
        if self.source != "tungsten" or not self.kelvin or not 0.0 < self.dim < 1.0:
            return float(self.kelvin)
        return float(colour.dimmed_kelvin(kelvin=self.kelvin, share=self.dim))


def from_kit(lamp: Lamp) -> dict[str, Any]:
    """
    What a lamp of the kit brings to a light, before the light's own fields.

    Examples
    --------
    >>> from lightcalc.kit import materials
    >>> Light(name="key", at=(0, 0, 2), aim=(2, 3, 1), **from_kit(materials.lamp("650 W open face"))).watts
    650
    """
    own = {key: getattr(lamp, key) for key in ("face_width_m", "face_height_m", "watts", "kelvin", "source")}
    return {"distribution": lamp.beam, "narrow": lamp.spot, **own}


@dataclass(frozen=True, kw_only=True)
class Board(_Facet):
    """A flat thing that sends light back: a bounce, or with black stuff, negative fill. Its back is `stuff.back`."""

    kind: ClassVar[str] = "board"

    stuff: Stuff = _kit("stuff", Stuff)


@dataclass(frozen=True, kw_only=True)
class Flag(_Facet):
    """A black rectangle that stops light and gives none back worth counting."""

    kind: ClassVar[str] = "flag"

    reflectance: float = _share(0.03)


def _door_flag(light, side, opened, long_m, *, tube=False):
    """One barn door, or a wall of a snoot: hinged at an edge of the face, turned out from straight ahead by so much. [rad, m]"""
    right, up, forward = basis(light.at, light.aim, light.roll_deg)
    out = {"top": up, "bottom": -up, "left": -right, "right": right}[side]
    face = max(light.face_width_m, 2 * HINGE_M), max(light.face_height_m, 2 * HINGE_M)
    wide, deep = face if side in DOORS[:2] else face[::-1]
    run, normal = np.cos(opened) * forward + np.sin(opened) * out, np.cos(opened) * out - np.sin(opened) * forward
    middle = np.asarray(light.at) + 0.5 * deep * out + 0.5 * long_m * run
    flat_right, flat_up, _ = basis(middle, middle + normal)
    return Flag(
        name=f"{light.name}, {side} {'of the snoot' if tube else 'door'}", at=tuple(middle.tolist()),
        aim=tuple((middle + normal).tolist()), width_m=wide if tube else wide + long_m, height_m=long_m,
        roll_deg=float(np.degrees(np.arctan2(run @ flat_right, run @ flat_up))),
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Frame(_Facet):
    """A frame of diffusion: part of the light goes straight on, part leaves evenly to all sides."""

    kind: ClassVar[str] = "frame"

    diffusion: Diffusion = _kit("diffusion", Diffusion)


@dataclass(frozen=True, kw_only=True)
class Mark(Part):
    """
    Where a meter is held or a face is, and the way it faces.

    A flat receptor weighs light by the cosine of its angle to the facing direction; a dome by
    (1 + cosine) / 2, an ideal hemisphere. A mark with `figure` is a person's face, `reflectance` its skin and `body` the
    clothes; the person stands in the light like anything else (`solids.person`).
    """

    kind: ClassVar[str] = "mark"

    name: str = holds("name")
    at: tuple[float, float, float] = _at()
    aim: tuple[float, float, float] = _aim()
    receptor: str = holds("text", "flat", choices=RECEPTORS)
    figure: bool = holds("yes", False)
    reflectance: float = _share(0.3)
    body: float = _share(0.06)
    pose: str = holds("text", "standing", choices=POSES)
    tall_m: float = _length(1.7, low=0.5, high=2.5, hint="the person's height")

    def _between(self, me):
        return _facing(self, me)


@dataclass(frozen=True, kw_only=True)
class Piece(_Placed):
    """
    A piece of furniture, or anything else that stands in the light: `at` is the middle of its foot, `aim` the way its front faces.

    A door hangs at `at` and its leaf runs towards `aim`. A slope - a roof, a ramp, the underside of stairs - rises towards it. The
    slats of a blind lie along it, so that its tilt opens and shuts them. A drum has eight sides, `width_m` across; its sides send
    nothing straight to a mark, only by way of walls and air. A side left out is the usual one of its kind (`USUAL_M`).
    """

    kind: ClassVar[str] = "piece"

    what: str = holds("text", "box", choices=PIECES)
    width_m: float = _usual()
    depth_m: float = _usual()
    height_m: float = _usual()
    reflectance: float = _share(0.15)

    def _between(self, me):
        yield from super()._between(me)
        if not isinstance(self.aim, str) and np.hypot(self.aim[0] - self.at[0], self.aim[1] - self.at[1]) < 1e-6:
            yield Fault(
                f"{me}: aim must lie to one side of at, got {show(self.aim)}, straight over or under it", ("aim",), (("at",),)
            )
        if self.what == "drum" and self.depth_m not in (0.0, self.width_m):
            sentence = f"{me}: depth_m of a drum must be left out or its width_m, {self.size_m[0]:g} m, got {self.depth_m:g} m"
            yield Fault(sentence, ("depth_m",), (("what",), ("width_m",)))
        if self.what == "slope" and min(self.size_m[1:]) < 0.1:
            side = "depth_m" if self.size_m[1] < self.size_m[2] else "height_m"
            sentence = f"{me}: {side} of a slope must be 0.1 m or more, got {min(self.size_m[1:]):g} m; a level one is a box"
            yield Fault(sentence, (side,), (("what",),))

    @property
    def size_m(self) -> tuple[float, float, float]:
        """Width, depth and height, the usual ones where none are given. [m]"""
        wide, deep, high = USUAL_M[self.what]
        if self.what == "drum":
            deep = self.width_m or deep
        return (self.width_m or wide, self.depth_m or deep, self.height_m or high)


@dataclass(frozen=True, kw_only=True)
class Spot(Part):
    """
    A place the spot meter looks at from the camera.

    Given `source`, the reading is of that source's shaft in the air: the sight line through `at`
    with and without the light that source scatters into it.
    """

    kind: ClassVar[str] = "spot"

    name: str = holds("name")
    at: tuple[float, float, float] = _at()
    source: str = holds("text", "")


# the camera and the air .....................................................................


_SHUTTER = Way(
    keys={"shutter_s": Quantity(kind="number", unit="s", above=0.0, hint="at 24 frames/s half the frame time is 0.0208")},
    read=lambda typed, camera: 360.0 * camera.get("fps", Camera.fps) * typed["shutter_s"],
    write=lambda camera, style: {"shutter_s": camera.time_s} if "shutter_s" in style else None,
)


@dataclass(frozen=True, kw_only=True)
class Camera(Part):
    """
    The camera and what holds its exposure; see `exposure` for the reference illuminance.

    The last five are for noise and colour (`sensor`, `colour`). Their defaults are cautious and FROM MEMORY: put in
    your camera's own, from its maker or a test.
    """

    kind: ClassVar[str] = "camera"

    at: tuple[float, float, float] = _at()
    aim: tuple[float, float, float] = _aim()
    focal_mm: float = holds("number", 35.0, unit="mm", above=2.0, high=2_000.0, on_stage=True)
    sensor_width_mm: float = holds("number", 24.9, unit="mm", above=1.0, high=100.0)
    sensor_height_mm: float = holds("number", 14.0, unit="mm", above=1.0, high=100.0)
    t_stop: float = holds("t_stop", 2.8284271247461903, above=0.4, high=128.0, hint="a T-stop such as 2.8", on_stage=True)
    iso: float = holds("number", 800.0, above=0.9, high=10_000_000.0, on_stage=True)
    fps: float = holds("number", 24.0, unit="frames/s", above=1e-4, high=100_000.0, on_stage=True)
    shutter_deg: float = degrees(180.0, low=None, above=0.0, hint="180 is half the frame time", ways=(_SHUTTER,), on_stage=True)
    nd_stops: float = holds(
        "number", 0.0, unit="stops", low=0.0, high=20.0, hint="light taken away; ND 0.3 is 1 stop", on_stage=True
    )
    range_over_stops: float = holds("number", 6.0, unit="stops", low=0.0, high=20.0, hint="usable above middle grey")
    range_under_stops: float = holds("number", 7.0, unit="stops", low=0.0, high=20.0, hint="usable below middle grey")
    pixel_um: float = holds("number", 6.0, unit="micrometres", above=0.2, high=100.0, hint="from pixel to pixel, such as 6")
    quantum_efficiency: float = holds("number", 0.2, above=0.0, high=1.0, hint="electrons a photon, colour filters included")
    read_noise_e: float = holds("number", 3.0, unit="electrons", low=0.0, high=1_000.0, hint="added by reading a pixel")
    photons_per_lx_s_um2: float = holds(  # of the band, 400 to 700 nm, daylight to tungsten
        "number", 11_000.0, above=100.0, high=100_000.0, hint="photons in a lux second on a square micrometre, about 11 000"
    )
    balance_kelvin: float = _kelvin()  # what white is set to

    def _between(self, me):
        return _facing(self, me)

    @property
    def time_s(self) -> float:
        """Exposure time of one frame. [s]"""
        return float(exposure.shutter_time_s(shutter_deg=self.shutter_deg, fps=self.fps))

    @property
    def reference_lx(self) -> float:
        """Illuminance at which a grey card sits on middle grey. [lx]"""
        return float(
            exposure.reference_illuminance_lx(t_stop=self.t_stop, time_s=self.time_s, iso=self.iso, nd_stops=self.nd_stops)
        )

    @property
    def reference_cd_m2(self) -> float:
        """Luminance of middle grey, 0.18 E_ref / pi. [cd/m2]"""
        return exposure.GREY_REFLECTANCE * self.reference_lx / np.pi


_SEEN = Way(
    keys={"visibility_m": Quantity(kind="length", unit="m", above=0.0, hint="a hazed stage is some 40 to 400")},
    read=lambda typed, air: float(haze.extinction_from_visibility(**typed)),
    write=lambda air, style: (  # clear air has no visibility to type
        {"visibility_m": float(haze.visibility_from_extinction(extinction_per_m=air.extinction_per_m))}
        if "visibility_m" in style and air.extinction_per_m > 0
        else None
    ),
)
_LOST = Way(
    keys={"loss_percent_per_m": Quantity(kind="number", unit="percent", low=0.0, below=100.0, hint="lost in one metre")},
    read=lambda typed, air: float(haze.extinction_from_loss_per_m(loss_percent=typed["loss_percent_per_m"])),
    write=lambda air, style: (
        {"loss_percent_per_m": float(haze.loss_percent_per_m(extinction_per_m=air.extinction_per_m))}
        if "loss_percent_per_m" in style
        else None
    ),
)


@dataclass(frozen=True, kw_only=True)
class Haze(Part):
    """Even, non-absorbing haze. `droplets` names a size table; without it `g` sets Henyey-Greenstein."""

    kind: ClassVar[str] = "haze"

    extinction_per_m: float = holds(
        "number", 0.0, unit="1/m", low=0.0, high=10.0, hint="0.05 sees about 80 m", ways=(_SEEN, _LOST), on_stage=True
    )
    g: float = holds("number", 0.75, low=-0.95, high=0.95, hint="0 scatters evenly, 0.75 mostly forward")
    droplets: str = holds("text", "", choices=tuple(PRESETS))


@dataclass(frozen=True, kw_only=True)
class HazeMachine(Part):
    """What a machine puts into the air at full output: fluid used, and the share of it that hangs there as droplets."""

    kind: ClassVar[str] = "haze_machine"

    fluid_g_per_min: float = holds("number", unit="g/min", above=0.0, high=1_000.0, hint="a small hazer is 1 to 5")
    # the rest is water that dries, and drops that fall at once
    droplet_share: float = holds("number", above=0.0, high=1.0, hint="water-based fluid is 0.1 to 0.5")
    fluid: str = holds("text", "glycol", choices=FLUIDS)


@dataclass(frozen=True, kw_only=True)
class Sun(Part):
    """
    The sun, or by night the moon, where it stands: compass bearing, height, and illuminance square to its rays.

    `model` says what it was worked out from ("clear sky of 14:00"); it is empty for one that was typed.
    """

    kind: ClassVar[str] = "sun"

    bearing_deg: float = degrees(..., hint="compass, clockwise from north")
    elevation_deg: float = degrees(..., low=-18.0, high=90.0, hint="above the horizon")
    normal_lx: float = holds("number", unit="lx", low=0.0, high=150_000.0, hint="on a card square to the sun")
    kelvin: float = _kelvin()
    body: str = holds("text", "sun", choices=("sun", "moon"))
    model: str = holds("text", "", in_file=False)

    @property
    def source(self) -> str:
        """What a reading calls its light."""
        return BODIES[self.body == "moon"]

    def direction(self, place_bearing_deg: float) -> np.ndarray:
        """Unit vector from the set to the sun in the room frame, shape (3,)."""
        turn, height = np.radians(self.bearing_deg - place_bearing_deg), np.radians(self.elevation_deg)
        return np.array([np.sin(turn) * np.cos(height), np.cos(turn) * np.cos(height), np.sin(height)])


@dataclass(frozen=True, kw_only=True)
class Sky(Part):
    """
    A sky whose luminance is linear in direction: L(w) = horizon + side w . s + (zenith - horizon) sin h.

    s points level to `side_bearing_deg`: the horizon is as much brighter there as it is darker opposite. The CIE overcast sky
    is horizon = zenith / 3, without a side. Illuminance on open ground is pi horizon + (2 pi / 3) (zenith - horizon).
    """

    kind: ClassVar[str] = "sky"

    zenith_cd_m2: float = holds("number", unit="cd/m2", low=0.0, high=1e6)
    horizon_cd_m2: float = holds("number", unit="cd/m2", low=0.0, high=1e6, hint="its mean round the compass")
    side_cd_m2: float = holds("number", 0.0, unit="cd/m2", low=0.0, high=1e6, hint="how much more at the brightest bearing")
    side_bearing_deg: float = degrees(hint="compass bearing of the brightest side")
    kelvin: float = _kelvin()
    model: str = holds("text", "", in_file=False)  # what it was worked out from; empty for one that was typed

    @property
    def horizontal_lx(self) -> float:
        """Illuminance on open level ground from the whole sky. [lx]"""
        return np.pi * self.horizon_cd_m2 + 2 * np.pi / 3 * (self.zenith_cd_m2 - self.horizon_cd_m2)

    def slope(self, place_bearing_deg: float) -> np.ndarray:
        """
        What is added to the horizon's mean along each axis of the room frame.

        Parameters
        ----------
        place_bearing_deg : float
            Of +y. [deg]

        Returns
        -------
        array (3,)
            Along x, y and z. [cd/m2]
        """
        turn = np.radians(self.side_bearing_deg - place_bearing_deg)
        side = self.side_cd_m2
        return np.array([side * np.sin(turn), side * np.cos(turn), self.zenith_cd_m2 - self.horizon_cd_m2])

    def towards(self, bearing_deg: float, elevation_deg: float) -> float:
        """
        How bright the sky is somewhere.

        Parameters
        ----------
        bearing_deg : float
            Compass. [deg]
        elevation_deg : float
            Under the horizon it counts as 0. [deg]

        Returns
        -------
        float
            Luminance. [cd/m2]
        """
        height = max(0.0, np.radians(elevation_deg))
        side = self.side_cd_m2 * np.cos(np.radians(bearing_deg - self.side_bearing_deg))
        rising = self.zenith_cd_m2 - self.horizon_cd_m2
        return float(max(0.0, self.horizon_cd_m2 + side * np.cos(height) + rising * np.sin(height)))

    def wall_lx(self, bearing_deg: float) -> float:
        """
        What the half of the sky before a wall gives it.

        Parameters
        ----------
        bearing_deg : float
            That it faces. [deg]

        Returns
        -------
        float
            Illuminance. [lx]
        """
        side = self.side_cd_m2 * np.cos(np.radians(bearing_deg - self.side_bearing_deg))
        return float((np.pi / 2 - 2 / 3) * self.horizon_cd_m2 + 2 / 3 * self.zenith_cd_m2 + np.pi / 3 * side)

    def times(self, factor: float) -> Sky:
        """
        The same sky so much brighter.

        Parameters
        ----------
        factor : float

        Returns
        -------
        Sky
        """
        ends = {name: factor * getattr(self, name) for name in ("zenith_cd_m2", "horizon_cd_m2", "side_cd_m2")}
        return replace(self, **ends)

    def _between(self, me):
        down = min(0.0, self.zenith_cd_m2 - self.horizon_cd_m2)
        if np.hypot(self.side_cd_m2, down) > self.horizon_cd_m2 * (1.0 + 1e-6):
            most = np.sqrt(max(0.0, self.horizon_cd_m2**2 - down**2))
            must = f"must be at most {most:.4g} cd/m2 with this horizon and zenith, got {self.side_cd_m2:g}"
            yield Fault(f"{me}: side_cd_m2 {must}: beyond it the other side of the sky would be darker than black", ("side_cd_m2",))


@dataclass(frozen=True, kw_only=True)
class Target(Part):
    """
    What a reading should be, in stops, and how near is near enough; or what it should be at least, or at most.

    `level`: a mark or a spot, from middle grey. `fill_under`: a mark's fill alone, from key + fill, so a minus:
    -2 is 4:1. `beam_over`: a shaft's spot, from what is behind it. `veil`: the light the air adds in front of a
    mark, from middle grey.
    """

    kind: ClassVar[str] = "target"

    of: str = holds("text")
    quantity: str = holds("text", choices=QUANTITIES)
    stops: float = holds("number", unit="stops", low=-30.0, high=30.0)
    within: float = holds("number", 1 / 3, unit="stops", above=0.0, high=10.0)
    bound: str = holds("text", "about", choices=BOUNDS)

    @property
    def low_stops(self) -> float:
        """The least that meets it; minus infinity where nothing is too little."""
        return {"about": self.stops - self.within, "at least": self.stops, "at most": -np.inf}[self.bound]

    @property
    def high_stops(self) -> float:
        """The most that meets it; infinity where nothing is too much."""
        return {"about": self.stops + self.within, "at least": np.inf, "at most": self.stops}[self.bound]

    @property
    def called(self) -> str:
        """What errors call it."""
        return f"target of {show(self.of)}"

    def _between(self, me):
        if self.quantity == "fill_under" and self.stops > 0:
            must = f"must be 0 or a minus for fill_under, got {self.stops:g}: fill alone from key + fill, -2 is 4 : 1"
            yield Fault(f"{me}: stops {must}", ("stops",), (("quantity",),))


# setups and the shoot .....................................................................


def unique(me: str, kind: str, parts: Sequence[Any]) -> Iterator[Fault]:
    """
    At most MOST parts of a kind, each with its own name.

    Parameters
    ----------
    me : str
        What holds them, for the sentence.
    kind : str
        "light"; the field is its plural.
    parts : sequence of Part

    Yields
    ------
    Fault
    """
    if len(parts) > MOST:
        yield Fault(f"{me}: at most {MOST} {kind}s, got {len(parts)}", (kind + "s",))
    seen = set()
    for index, part in enumerate(parts):
        if part.name in seen:
            yield Fault(f"{me}: {kind} names must differ, got '{part.name}' twice", (kind + "s", index, "name"))
        seen.add(part.name)


KINDS = ("lights", "boards", "frames", "flags", "pieces", "marks", "spots")  # in this order a name is looked for


@dataclass(frozen=True, kw_only=True)
class Setup(Part):
    """
    One camera position and everything that lights it. `key` names the key sources; empty means the brightest.

    `time` ('19:40', on the clock of the shoot's place) and `outlook` say when it is shot and under what sky. In a shoot with
    a place and dates, `sun` and `sky` are those of that hour unless they were typed, or are `kept_out`. What faces a mark
    by name follows it.
    """

    kind: ClassVar[str] = "setup"

    name: str = holds("name")
    title: str = holds("text", "")
    day: int = holds("whole", 1, low=1, high=MOST)
    place: Room | Exterior = holds("place", of=(Room, Exterior))
    cuts_to: str = holds("text", "")  # the setup this one must match across the cut
    key: tuple[str, ...] = holds("names", ())
    time: str = holds("text", "")
    outlook: str = holds("text", "", choices=tuple(OUTLOOKS))
    notes: str = holds("notes", "")
    haze: Haze = holds("one", Haze(), of=(Haze,))
    sun: Sun | None = holds("one", None, of=(Sun,))
    sky: Sky | None = holds("one", None, of=(Sky,))
    kept_out: tuple[str, ...] = holds("names", (), in_file=False)  # of "sun" and "sky": said to be none, whatever the hour
    camera: Camera = holds("one", of=(Camera,))
    lights: tuple[Light, ...] = holds("many", (), of=(Light,))
    boards: tuple[Board, ...] = holds("many", (), of=(Board,))
    flags: tuple[Flag, ...] = holds("many", (), of=(Flag,))
    frames: tuple[Frame, ...] = holds("many", (), of=(Frame,))
    pieces: tuple[Piece, ...] = holds("many", (), of=(Piece,))
    marks: tuple[Mark, ...] = holds("many", (), of=(Mark,))
    spots: tuple[Spot, ...] = holds("many", (), of=(Spot,))
    targets: tuple[Target, ...] = holds("many", (), of=(Target,))

    def _between(self, me):
        yield from refused(me, ("time",), clock_time, *([self.time] if self.time else []))
        for kind in KINDS:
            yield from unique(me, kind[:-1], getattr(self, kind))
        yield from self._apart(me)
        yield from self._followed(me)
        yield from self._inside(me)
        yield from self._named(me)
        yield from self._plugged(me)

    def _apart(self, me):
        """Sources share one set of names, and some names are taken."""
        kinds = {}
        for kind in KINDS:
            for index, part in enumerate(getattr(self, kind)):
                path, source = (kind, index, "name"), kind in KINDS[:3]
                if source and kinds.setdefault(part.name, kind) != kind:
                    yield Fault(f"{me}: lights, boards and frames must not share a name, got '{part.name}' twice", path)
                if source and part.name in RESERVED:
                    taken = ", ".join(RESERVED)
                    yield Fault(f"{me}: lights, boards and frames must not be named {taken}, got '{part.name}'", path)
                elif part.name == "camera":
                    yield Fault(f"{me}: only the camera may be named 'camera', got a {part.kind} of that name", path)

    def _followed(self, me):
        """What faces a mark by name is turned to where that mark stands."""
        stands = {mark.name: mark.at for mark in self.marks}
        there = [(kind, i, part) for kind in KINDS[:-1] for i, part in enumerate(getattr(self, kind))]
        for kind, index, part in [*there, ("camera", None, self.camera)]:
            name = followed(part.aim)
            path = (kind, "aim") if index is None else (kind, index, "aim")
            if name is None or (name in stands and isinstance(part.aim, Aim) and tuple(part.aim) == stands[name]):
                continue
            if name not in stands:
                known = f"of a mark ({', '.join(stands) or 'none'})"
                sentence = f"{me}, {part.called}: aim must be a point or the name {known}, got {show(name)}"
                yield Fault(sentence, path, self._names("marks"))
                continue
            turned = type(part).unchecked(**{**vars(part), "aim": Aim(stands[name], name)})
            yield from (Fault(f"{me}, {f.sentence}", path, (path[:-1] + ("at",),)) for f in _facing(turned, part.called))
            parts = getattr(self, kind)
            object.__setattr__(self, kind, turned if index is None else parts[:index] + (turned,) + parts[index + 1 :])

    def _inside(self, me):
        """Marks and camera stand in the room; boards, frames and flags may stand outside a window. A spot is seen from somewhere."""
        size = " x ".join(f"{s:g}" for s in self.place.size_m)
        where = f"inside the {size} m room" if isinstance(self.place, Room) else "above the ground"
        marks = [(("marks", index, "at"), mark) for index, mark in enumerate(self.marks)]
        for path, part in [(("camera", "at"), self.camera), *marks]:
            if not self.place.contains(part.at):
                yield Fault(f"{me}, {part.called}: at must be {where}, got {show(part.at)}", path, (("place",),))
        for index, spot in enumerate(self.spots):
            if np.linalg.norm(np.subtract(spot.at, self.camera.at)) < 1e-6:
                sentence = f"{me}, {spot.called}: at must differ from the camera's, which looks at it, got {show(spot.at)} for both"
                yield Fault(sentence, ("spots", index, "at"), (("camera", "at"),))

    def _named(self, me):
        """Key, spots and targets name what is there."""
        sources, rests = self.source_names, (("sun",), ("sky",), ("time",)) + self._names("lights", "boards", "frames")
        sources += tuple(name for name in BODIES if self.time and name not in sources)  # they may come with the hour
        listed = ", ".join(sources) or "none"
        for index, name in enumerate(self.key):
            if name not in sources:
                yield Fault(f"{me}: key must name its sources ({listed}), got {show(name)}", ("key", index), rests)
        for index, spot in enumerate(self.spots):
            if spot.source and spot.source not in sources:
                sentence = f"{me}, {spot.called}: source must be one of {listed}, got {show(spot.source)}"
                yield Fault(sentence, ("spots", index, "source"), rests)
        readable = [part.name for part in self.marks + self.spots]
        for index, target in enumerate(self.targets):
            if target.of not in readable:
                there = ", ".join(readable) or "none"
                sentence = f"{me}: a target must be of a mark or spot ({there}), got {show(target.of)}"
                yield Fault(sentence, ("targets", index, "of"), self._names("marks", "spots"))

    def _plugged(self, me):
        """A light's circuit is one of the place's."""
        names = [circuit.name for circuit in self.place.circuits]
        for index, light in enumerate(self.lights):
            if light.circuit and light.circuit not in names:
                there = f"one of the circuits of '{self.place.name}' ({', '.join(names) or 'none'})"
                sentence = f"{me}, {light.called}: circuit must be {there}, got {show(light.circuit)}"
                yield Fault(sentence, ("lights", index, "circuit"), (("place",),))

    def _names(self, *kinds):
        """Where the names of some kinds stand."""
        places = tuple((kind, index, "name") for kind in kinds for index in range(len(getattr(self, kind))))
        return places + tuple((kind,) for kind in kinds)

    @property
    def source_names(self) -> tuple[str, ...]:
        """What a reading can be split into: lights, boards, frames, then 'sun' or 'the moon', 'sky'."""
        names = [part.name for part in self.lights + self.boards + self.frames]
        return tuple(names + ([self.sun.source] if self.sun else []) + ["sky"] * (self.sky is not None))

    @property
    def cutters(self) -> tuple[Flag, ...]:
        """What stops light and gives none back: flags, then the lamps' barn doors."""
        return self.flags + tuple(door for light in self.lights for door in light.doors)

    @property
    def daylight_said(self) -> str:
        """Where sun and sky come from, in words; empty where there are none."""
        said = {part.model or "as typed" for part in (self.sun, self.sky) if part is not None}
        return "; ".join(sorted(said, key=lambda one: one == "as typed"))

    def part(self, name: str) -> Any:
        """The light, board, flag, frame, mark or spot of that name; 'camera' is the camera."""
        if name == "camera":
            return self.camera
        there = [part for kind in KINDS for part in getattr(self, kind)]
        for part in there:
            if part.name == name:
                return part
        raise SceneError(
            f"setup '{self.name}': nothing here is called {show(name)}{near(name, [p.name for p in there], 'there are')}"
        )

    def with_part(self, name: str, **changes: Any) -> Setup:
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
        old = self.part(name)
        known = [one.name for one in fields(old)]
        for field in changes:
            if field not in known:
                raise SceneError(f"{old.called}: no field '{field}'{near(field, known)}")
        new = replace(old, **changes)
        if name == "camera":
            return replace(self, camera=new)
        kind = old.kind + "s"
        parts: dict[str, Any] = {kind: tuple(new if part is old else part for part in getattr(self, kind))}
        return replace(self, **parts)


def refused(me: str, path: tuple | None, check: Callable, *values: Any) -> Iterator[Fault]:
    """
    What a check of another module refuses, said with the thing's name.

    Parameters
    ----------
    me : str
        The thing, for the sentence.
    path : tuple or None
        Of the field; None where it is the first word of what the check says.
    check : callable
        Raises ValueError.
    *values
        What it is called with.

    Yields
    ------
    Fault
    """
    try:
        if values or path is None:
            check(*values)
    except ValueError as error:
        yield Fault(f"{me}: {error}", path or (str(error).split()[0],))
