"""Where a room's windows open: the panes between their bars, and the walls that light from outside meets first."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from lightcalc.scene.parts import Room, Window
    from lightcalc.units import Numbers, Row

WALL_INWARD = {"left": (1.0, 0, 0), "right": (-1.0, 0, 0), "near": (0, 1.0, 0), "far": (0, -1.0, 0)}


def window_panes(window: Window, room: Room) -> Numbers:
    """
    The panes between a window's bars. [m]

    Parameters
    ----------
    window : Window
    room : Room
        The room it is in.

    Returns
    -------
    array (panes, 4, 3)
        Corners; each normal, by the right-hand rule, points into the room.
    """
    count = window.bars_upright + 1, window.bars_across + 1
    pane = (
        (window.width_m - window.bars_upright * window.bar_m) / count[0],
        (window.height_m - window.bars_across * window.bar_m) / count[1],
    )
    left, low = window.centre_m - window.width_m / 2, window.sill_m
    quads = []
    for i in range(count[0]):
        for j in range(count[1]):
            u, v = left + i * (pane[0] + window.bar_m), low + j * (pane[1] + window.bar_m)
            quads.append(_wall_quad(window.wall, room, u, u + pane[0], v, v + pane[1]))
    return np.array(quads)


def outward_bearing_deg(window: Window, room: Room) -> float:
    """
    The compass bearing that a window faces.

    Parameters
    ----------
    window : Window
    room : Room
        The room it is in.

    Returns
    -------
    float
        0 to 360. [deg]
    """
    x, y, _ = WALL_INWARD[window.wall]
    return float(np.degrees(np.arctan2(-x, -y)) + room.bearing_deg) % 360.0


def _wall_quad(wall, room, u0, u1, v0, v1):
    """A rectangle on a wall, anticlockwise as the room sees it."""
    flat = {"left": 0.0, "right": room.width_m, "near": 0.0, "far": room.depth_m}[wall]
    corners = [(u0, v0), (u1, v0), (u1, v1), (u0, v1)]
    if wall in ("near", "right"):  # there u runs the other way round for someone inside
        corners = corners[::-1]
    return np.array([(flat, u, v) if wall in ("left", "right") else (u, flat, v) for u, v in corners])


def wall_outline(window: Window, room: Room) -> Numbers:
    """
    A window's whole opening, bars and all. [m]

    Parameters
    ----------
    window : Window
    room : Room
        The room it is in.

    Returns
    -------
    array (4, 3)
        Corners; the normal points into the room.
    """
    left, low = window.centre_m - window.width_m / 2, window.sill_m
    return _wall_quad(window.wall, room, left, left + window.width_m, low, low + window.height_m)


def walls_before(at: Row, room: Room) -> list[str]:
    """
    The walls that a point stands beyond.

    Parameters
    ----------
    at : sequence of 3 floats
        [m]
    room : Room

    Returns
    -------
    list of str
        Empty for a point inside, above the ceiling or under the floor.
    """
    beyond = {"left": at[0] < 0, "right": at[0] > room.width_m, "near": at[1] < 0, "far": at[1] > room.depth_m}
    return [wall for wall, out in beyond.items() if out]
