"""Sun through a window: from when to when it comes in, and where its patches fall on floor and walls."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lightcalc.answers.day_course import DayError, spans, sun_and_sky
from lightcalc.engine.rows import WALL_INWARD, wall_outline, window_panes
from lightcalc.scene.parts import Room
from lightcalc.sky.positions import sun_at

STEP_MIN = 2.0


@dataclass(frozen=True)
class Patch:
    """Where sun through one pane of a window lands on one surface."""

    surface: str
    corners_m: np.ndarray  # (k, 3), in order round it
    illuminance_lx: float  # from the sun's disc alone

    @property
    def area_m2(self):
        """Area of the patch. [m2]"""
        a, b = self.corners_m[1:-1] - self.corners_m[0], self.corners_m[2:] - self.corners_m[0]
        return float(0.5 * np.linalg.norm(np.cross(a, b).sum(axis=0)))


def window_of(room, name):
    """
    A room's window by name.

    Parameters
    ----------
    room : Room
    name : str

    Returns
    -------
    Window

    Raises
    ------
    ValueError
        If the place is no room, or has no such window.
    """
    windows = room.windows if isinstance(room, Room) else ()
    for window in windows:
        if window.name == name:
            return window
    raise DayError(f"'{room.name}': window must be one of {', '.join(w.name for w in windows) or 'none'}, got {name!r}")


def sun_patches(room, window, sun):
    """
    Where the sun through a window lands.

    Parameters
    ----------
    room : Room
    window : Window
        One of its windows; each pane between its bars makes patches of its own.
    sun : Sun

    Returns
    -------
    tuple of Patch
        Empty while the sun is down, behind the wall, or spread by a sheer that lets nothing straight through.

    Notes
    -----
    Each pane is moved along the rays onto every surface and clipped to it there. The wall has no thickness: a deep
    reveal takes the edge off a patch and shuts out a sun that grazes the wall. The sun's disc, half a degree wide, makes
    the edge soft by 9 mm in each metre; that is left out.
    """
    ray = -sun.direction(room.bearing_deg)
    straight = window.glass * (window.sheer.direct if window.sheer else 1.0)
    if ray[2] >= 0 or ray @ WALL_INWARD[window.wall] <= 1e-9 or straight * sun.normal_lx <= 0:
        return ()
    found = []
    for pane in window_panes(window, room):
        for surface, (axis, flat) in _planes(room).items():
            along = ray[axis] * (1.0 if flat else -1.0)  # towards this surface
            if surface == window.wall or along <= 1e-9:
                continue
            landed = pane + ((flat - pane[:, axis]) / ray[axis])[:, None] * ray
            for other, side in enumerate(room.size_m):
                if other != axis:
                    landed = _clipped(_clipped(landed, other, 0.0, 1.0), other, side, -1.0)
            if len(landed) >= 3:
                found.append(Patch(surface, landed, float(straight * sun.normal_lx * abs(ray[axis]))))
    return tuple(patch for patch in found if patch.area_m2 > 1e-6)


def _planes(room):
    """Axis and place of each surface that sun can reach."""
    width, depth, _ = room.size_m
    return {"floor": (2, 0.0), "left": (0, 0.0), "right": (0, width), "near": (1, 0.0), "far": (1, depth)}


def _clipped(corners, axis, flat, side):
    """A convex outline cut at a plane, the part on one side of it kept (Sutherland & Hodgman 1974)."""
    kept = []
    for i in range(len(corners)):
        here, there = corners[i - 1], corners[i]
        a, b = side * (here[axis] - flat), side * (there[axis] - flat)
        if (a >= 0) != (b >= 0):
            kept.append(here + (there - here) * a / (a - b))
        if b >= 0:
            kept.append(there)
    return np.array(kept).reshape(-1, 3)


def sun_through(place, room, window, day):
    """
    From when to when the sun shines in at a window.

    Parameters
    ----------
    place : positions.Place
        Its horizon table counts.
    room : Room
    window : Window
    day : positions.LocalDay

    Returns
    -------
    tuple of (start, end)
        Minutes since local midnight; empty where it never does. Clouds are another matter. [min]
    """
    minutes = np.append(np.arange(0.0, day.minutes, STEP_MIN), float(day.minutes))
    return spans(minutes, np.array([_room_left_deg(place, room, window, day, minute) for minute in minutes]))


def _room_left_deg(place, room, window, day, minute):
    """Degrees by which the sun stands clear of the horizon line and of the window's own wall, the lesser."""
    seen = sun_at(place, day.at(minute))
    clear = seen.apparent_deg - max(0.0, float(place.horizon_deg(seen.bearing_deg)))
    facing = {"far": 0.0, "right": 90.0, "near": 180.0, "left": 270.0}[window.wall] + room.bearing_deg
    across = np.cos(np.radians(seen.bearing_deg - facing)) * np.cos(np.radians(seen.apparent_deg))
    return min(clear, float(np.degrees(np.arcsin(across))))


@dataclass(frozen=True)
class SunStop:
    """Sun through a window at one minute."""

    minute: float
    text: str
    bearing_deg: float
    elevation_deg: float
    window_m: tuple[float, float, float]  # middle of the window
    patches: tuple[Patch, ...]

    @property
    def middle_m(self):
        """Middle of what lands, by area, (3,). [m]"""
        weights = [patch.area_m2 for patch in self.patches]
        return np.average([patch.corners_m.mean(axis=0) for patch in self.patches], axis=0, weights=weights)


def patch_walk(place, room, window, day, minutes, *, outlook="clear"):
    """
    Where the patches lie at some minutes.

    Parameters
    ----------
    place : positions.Place
    room : Room
    window : Window
    day : positions.LocalDay
    minutes : sequence of float
        Since local midnight. [min]
    outlook : {'clear', 'partly', 'overcast'}

    Returns
    -------
    tuple of SunStop
        Only minutes at which sun comes in.
    """
    found, middle = [], tuple(map(float, wall_outline(window, room).mean(axis=0)))
    for minute in minutes:
        sun, _ = sun_and_sky(place, day.at(minute), outlook=outlook)
        patches = sun_patches(room, window, sun)
        if patches:
            found.append(SunStop(float(minute), day.text(minute), sun.bearing_deg, sun.elevation_deg, middle, patches))
    return tuple(found)
