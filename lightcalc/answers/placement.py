"""Where a tape finds each thing of a setup, how it is panned and tilted, and what a meter in front of a bare lamp must read."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from lightcalc.kit.candela import Lambert
from lightcalc.laws.falloff import rectangle_factor
from lightcalc.scene.parts import Exterior, Light, Room, Setup, rectangle_corners
from lightcalc.scene.solids import solids
from lightcalc.wording import length_text, light_text, signed

CHECK_M = 3.0  # in front of a lamp: where its own light is read before anything else
STEP_M = 0.5  # a nearer place, where there is no room for that, comes in such steps
ENDS = {"left": ("near", "far"), "right": ("near", "far"), "near": ("left", "right"), "far": ("left", "right")}


@dataclass(frozen=True, kw_only=True)
class Placed:
    """One thing, as a tape, a spirit level and a protractor set it. Inside: from two walls; outside: from a wall and a window."""

    name: str
    kind: str  # light, board, flag, frame, mark, camera
    from_wall: str  # left or right inside; outside, the wall it stands before; an edge of the plan out of doors
    from_wall_m: float
    along: str  # near or far inside; outside, the end of the wall that it stands towards
    along_m: float  # from that wall inside; outside, from the middle of the window
    window: str  # outside: the window measured from; "" where there is none, then from the wall's middle
    outside: bool
    height_m: float
    pan_deg: float  # 0 faces the far wall, clockwise as seen from above
    tilt_deg: float  # plus is up
    check_m: float = 0.0  # lamps: on the axis, the lamp alone and nothing in between; 0 for what gives no light of its own
    check_lx: float = 0.0
    kind_of_place: str = "room"  # or ground, whose edges are the plan's

    def where(self, units: str = "metric", both: bool = False) -> str:
        """
        The two lengths on the floor, in words.

        Parameters
        ----------
        units : {'metric', 'feet'}
        both : bool, default False
            Each length in the other unit too.
        """
        out, along = (length_text(abs(metres), units=units, both=both) for metres in (self.from_wall_m, self.along_m))
        if self.outside:
            middle = f"the middle of '{self.window}'" if self.window else "the wall's middle"
            return f"{out} out from the {self.from_wall} wall, {along} from {middle} towards the {self.along} wall"
        edge = "edge" if self.kind_of_place == "ground" else "wall"
        ways = ("beyond" if metres < -0.005 else "from" for metres in (self.from_wall_m, self.along_m))
        return ", ".join(f"{far} {way} the {end} {edge}" for far, way, end in zip((out, along), ways, (self.from_wall, self.along)))

    def text(self, units: str = "metric") -> str:
        """
        How to set it up, in words.

        Parameters
        ----------
        units : {'metric', 'feet'}
        """
        where = self.where(units)
        turn = f"pan {signed(self.pan_deg, sign=False)}°, tilt {signed(self.tilt_deg)}°"
        read = f"; alone, {length_text(self.check_m, units=units)} in front, {light_text(self.check_lx, units, both=True)}"
        return f"{where}, {length_text(self.height_m, units=units)} high; {turn}" + (read if self.check_m else "")

    def as_json(self) -> dict[str, Any]:
        """The same as plain data, units in the key names."""
        return asdict(self)


def placements(setup: Setup) -> tuple[Placed, ...]:
    """
    Every thing of a setup that somebody has to put somewhere, in the order of the plan: lights, boards, frames, flags, furniture, marks, camera.

    Parameters
    ----------
    setup : Setup

    Returns
    -------
    tuple of Placed

    Notes
    -----
    A lamp's check is its straight light on its axis, gel, diffusion and dimmer counted, `CHECK_M` in front or at the nearest
    step of half a metre before the first wall, ground, board, flag, person or piece of furniture. A face with a size is read by its own factor
    (`laws.falloff.rectangle_factor`), as if it were even; the air's loss is left out, as before the haze.

    Examples
    --------
    >>> from lightcalc.scene.shoot_file import demo_path, load
    >>> found = placements(load(demo_path()).setup("1"))
    >>> sorted({one.kind for one in found if one.outside})
    ['light']
    """
    kinds = ("light", "board", "frame", "flag", "piece", "mark")
    parts = [(kind, part.name, part) for kind in kinds for part in getattr(setup, kind + "s")]
    return tuple(_placed(setup, kind, name, part) for kind, name, part in [*parts, ("camera", "camera", setup.camera)])


def _placed(setup, kind, name, part):
    ray = np.subtract(part.aim, part.at).astype(float)
    ray /= np.linalg.norm(ray)
    check_m, check_lx = _check(setup, part, ray) if isinstance(part, Light) else (0.0, 0.0)
    return Placed(
        name=name, kind=kind, height_m=float(part.at[2]), pan_deg=float(np.degrees(np.arctan2(ray[0], ray[1])) % 360.0),
        tilt_deg=float(np.degrees(np.arcsin(ray[2]))), check_m=check_m, check_lx=check_lx, **_taped(setup.place, part.at),
    )  # fmt: skip


def _taped(place, at):
    """The two lengths on the floor."""
    x, y, _ = at
    if isinstance(place, Room) and not (0.0 <= x <= place.width_m and 0.0 <= y <= place.depth_m):
        return _outside(place, x, y)
    side, aside = min((("left", x), ("right", place.size_m[0] - x)), key=lambda pair: pair[1])
    end, along = min((("near", y), ("far", place.size_m[1] - y)), key=lambda pair: pair[1])
    kind = "ground" if isinstance(place, Exterior) else "room"
    return dict(
        from_wall=side, from_wall_m=float(aside), along=end, along_m=float(along), window="", outside=False, kind_of_place=kind
    )


def _outside(room, x, y):
    """From the wall that has a window nearest to it, of those it stands outside of; from the window's middle along it."""
    out = {"left": -x, "right": x - room.width_m, "near": -y, "far": y - room.depth_m}
    walls = [wall for wall, distance in out.items() if distance > 0]
    run = {wall: y if wall in ("left", "right") else x for wall in walls}
    windows = [window for window in room.windows if window.wall in walls]
    window = min(windows, key=lambda one: abs(run[one.wall] - one.centre_m), default=None)
    wall = window.wall if window else max(walls, key=out.get)
    half = 0.5 * (room.depth_m if wall in ("left", "right") else room.width_m)
    along = run[wall] - (window.centre_m if window else half)
    return dict(
        from_wall=wall, from_wall_m=float(out[wall]), along=ENDS[wall][along > 0], along_m=float(abs(along)),
        window=window.name if window else "", outside=True,
    )  # fmt: skip


def _check(setup, light, ray):
    """How far in front of a lamp a meter is held, and what it reads there. [m, lx]"""
    free = _free_m(setup, light, ray)
    at_m = CHECK_M if free > CHECK_M else max(STEP_M * np.floor(free / STEP_M - 1e-9), 0.5 * free)
    scale = light.output * (light.gel.transmittance if light.gel else 1.0)
    direct, soft = (light.diffusion.direct, light.diffusion.diffuse) if light.diffusion else (1.0, 0.0)
    peak = float(light.distribution_now.intensity_cd(0.0)) * direct
    peak += float(Lambert.from_lumens(lumens=light.distribution_now.lumens()).intensity_cd(0.0)) * soft if soft else 0.0
    if light.face_width_m <= 0:
        return float(at_m), scale * peak / at_m**2
    area = light.face_width_m * light.face_height_m
    factor = rectangle_factor(width_m=light.face_width_m, height_m=light.face_height_m, distance_m=at_m)
    return float(at_m), float(scale * peak / area * np.pi * factor)


def _free_m(setup, light, ray):
    """From a lamp along its axis to the first wall, ground, board, frame, flag, person or piece of furniture, in steps of 6 cm. [m]"""
    at, sizes = np.asarray(light.at, dtype=float), np.asarray(setup.place.size_m, dtype=float)
    free = [-at[2] / ray[2]] if ray[2] < 0 < at[2] else []
    if isinstance(setup.place, Room):
        for axis in range(3):
            for level in (0.0, sizes[axis]):
                reach = (level - at[axis]) / ray[axis] if abs(ray[axis]) > 1e-12 else 0.0
                there = np.delete(at + reach * ray, axis)
                if reach > 1e-9 and np.all((there >= 0.0) & (there <= np.delete(sizes, axis))):
                    free.append(reach)
    for facet in setup.boards + setup.frames + setup.flags:
        corners = rectangle_corners(facet.at, facet.aim, facet.width_m, facet.height_m, facet.roll_deg)
        across, down = corners[1] - corners[0], corners[3] - corners[0]
        solved = np.linalg.lstsq(np.column_stack([across, down, -ray]), at - corners[0], rcond=None)[0]
        hit = corners[0] + solved[0] * across + solved[1] * down
        if solved[2] > 1e-9 and 0 <= solved[0] <= 1 and 0 <= solved[1] <= 1 and np.allclose(hit, at + solved[2] * ray, atol=1e-6):
            free.append(solved[2])
    met = [
        share * CHECK_M
        for share in np.arange(0.0, 1.001, 0.02)
        if any(solid.holds(at + share * CHECK_M * ray) for solid in solids(setup))
    ]
    return min(free + met[:1], default=np.inf)
