"""What belongs to what on plan and page: call signs, the mark a light serves, which source is key, what a tape measures."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from lightcalc.answers.readings import Readings
    from lightcalc.scene.parts import Mark, Setup


def call_signs(setup: Setup) -> dict[Any, str]:
    """
    Lights by number, boards, flags and frames by letter, as drawn on the plan and listed on the sheet.

    Parameters
    ----------
    setup : Setup

    Returns
    -------
    dict of str to str
        Name to call sign. Flags may share a name with a light; they are keyed ``("flag", name)``.
    """
    signs = {light.name: str(i) for i, light in enumerate(setup.lights, 1)}
    letters = (_letters(i) for i in range(10_000))
    signs |= {part.name: next(letters) for part in setup.boards + setup.frames}
    signs |= {("flag", flag.name): next(letters) for flag in setup.flags}
    return signs


def _letters(index):
    """A ... Z, AA ... as on a spreadsheet."""
    text = ""
    while index >= 0:
        text, index = chr(65 + index % 26) + text, index // 26 - 1
    return text


def lit_mark(setup: Setup, part: Any) -> Mark | None:
    """
    The mark that a light or the camera serves: the one nearest its aim point.

    Parameters
    ----------
    setup : Setup
    part : Light, Board, Frame or Camera
        Anything with an `aim`.

    Returns
    -------
    Mark or None
        None if the setup has no marks.
    """
    return min(setup.marks, key=lambda m: float(np.linalg.norm(np.subtract(m.at, part.aim))), default=None)


def key_names(setup: Setup, readings: Readings | None = None) -> tuple[str, ...]:
    """
    The key sources: those the setup names, else what the first mark's reading calls key, else the first light.

    Parameters
    ----------
    setup : Setup
    readings : Readings, optional

    Returns
    -------
    tuple of str
    """
    if setup.key:
        return tuple(setup.key)
    if readings is not None and readings.marks:
        return tuple(readings.marks[0].key)
    return tuple(light.name for light in setup.lights[:1])


def beam_angle_deg(distribution: Any) -> float:
    """
    Full angle between the directions with half the candela on the axis. [deg]

    Parameters
    ----------
    distribution : Beam, Lambert or Photometry
        Anything with `mean_cd(theta_rad)`.

    Returns
    -------
    float
        360 if the intensity never falls to half. [deg]
    """
    if hasattr(distribution, "beam_deg"):
        return float(distribution.beam_deg)
    theta = np.linspace(0.0, np.pi, 3601)
    under = np.flatnonzero(distribution.mean_cd(theta) < 0.5 * distribution.mean_cd(theta[:1]))
    return float(2 * np.degrees(theta[under[0]])) if under.size else 360.0


def dimensions_of(setup: Setup, readings: Readings | None = None) -> list[tuple]:
    """
    The few distances worth a tape: key lights, camera and up to three boards to their marks.

    Parameters
    ----------
    setup : Setup
    readings : Readings, optional
        Says which source is key where the setup does not.

    Returns
    -------
    list of (part name, mark name, from, to)
        The two points in the room frame. [m]
    """
    if not setup.marks:
        return []
    keys = key_names(setup, readings)
    rows: list[tuple[str, Any, Any]] = [("camera", setup.camera, lit_mark(setup, setup.camera))]
    rows += [(p.name, p, lit_mark(setup, p)) for p in setup.lights + setup.frames if p.name in keys]
    for board in setup.boards[:3]:
        near = min(setup.marks, key=lambda m: float(np.linalg.norm(np.subtract(m.at, board.at))))
        rows.append((board.name, board, near))
    return [(name, mark.name, tuple(part.at), tuple(mark.at)) for name, part, mark in rows]
