"""Sun through a window: from when to when it comes in, and where its patches fall on floor and walls."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lightcalc.answers.day_course import spans
from lightcalc.answers.light_patch import Patch, straight_share, sun_beam
from lightcalc.scene.openings import wall_outline
from lightcalc.scene.parts import Room, Sun, Window
from lightcalc.scene.sun_and_sky import DayError, sun_and_sky
from lightcalc.sky.clock import LocalDay
from lightcalc.sky.positions import Place, sun_at
from lightcalc.units import Row

STEP_MIN = 2.0


@dataclass(frozen=True)
class SunPatch(Patch):
    """Where sun through one pane of a window lands on one surface."""

    illuminance_lx: float  # from the sun's disc alone


def window_of(room: Room, name: str) -> Window:
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


def sun_patches(room: Room, window: Window, sun: Sun) -> tuple[SunPatch, ...]:
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
    tuple of SunPatch
        Empty while the sun is down, behind the wall, or spread by a sheer that lets nothing straight through.

    Notes
    -----
    `light_patch.sun_beam` without boards and flags: what the sun does by itself.
    """
    normal_lx = straight_share(window) * sun.normal_lx * np.abs(sun.direction(room.bearing_deg))
    axis = {"floor": 2, "ceiling": 2, "near": 1, "far": 1, "left": 0, "right": 0}
    found = sun_beam(room, (window,), sun, least=0.0).patches
    return tuple(SunPatch(patch.surface, patch.corners_m, float(normal_lx[axis[patch.surface]])) for patch in found)


def sun_through(place: Place, room: Room, window: Window, day: LocalDay) -> tuple[tuple[float, float], ...]:
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
    patches: tuple[SunPatch, ...]

    @property
    def middle_m(self) -> np.ndarray:
        """Middle of what lands, by area, (3,). [m]"""
        weights = [patch.area_m2 for patch in self.patches]
        return np.average([patch.corners_m.mean(axis=0) for patch in self.patches], axis=0, weights=weights)


def patch_walk(
    place: Place, room: Room, window: Window, day: LocalDay, minutes: Row, *, outlook: str = "clear"
) -> tuple[SunStop, ...]:
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
    found = []
    x, y, z = map(float, wall_outline(window, room).mean(axis=0))
    for minute in minutes:
        sun, _ = sun_and_sky(place, day.at(minute), outlook=outlook)
        patches = sun_patches(room, window, sun)
        if patches:
            found.append(SunStop(float(minute), day.text(minute), sun.bearing_deg, sun.elevation_deg, (x, y, z), patches))
    return tuple(found)
