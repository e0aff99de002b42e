"""Drawings of a day: levels against the clock, a figure against the sky, a window's sun on plan and elevation, the air over hours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from matplotlib import patheffects
from matplotlib.ticker import FuncFormatter, MultipleLocator

from lightcalc.drawing.palette import BLACK, BLUE, FAINT, GREEN, ORANGE, PAPER, QUIET, VERMILLION
from lightcalc.drawing.plan import elevation, plan
from lightcalc.laws import haze
from lightcalc.wording import number_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from lightcalc.answers.day_course import DayCurve, Ride, Silhouette
    from lightcalc.answers.haze_course import Course, Cue
    from lightcalc.answers.window_sun import SunStop
    from lightcalc.scene.parts import Setup
    from lightcalc.scene.sun_and_sky import Clock

LOOKS = ((BLUE, "-", "o"), (VERMILLION, "--", "s"), (GREEN, "-.", "^"), (ORANGE, ":", "D"), (BLACK, (0, (6, 1, 1, 1)), "v"))
TICKS_MIN = (5, 10, 15, 30, 60, 120, 180, 240)


def levels(
    ax: Axes,
    curve: DayCurve,
    names: Sequence[str] | None = None,
    *,
    band: tuple[float, float] | None = None,
    ride: Sequence[Ride] = (),
    size: float = 8.0,
) -> None:
    """
    Levels of marks and spots against the clock, exposure left alone.

    Parameters
    ----------
    ax : matplotlib Axes
    curve : day_course.DayCurve
    names : sequence of str, optional
        Which marks and spots; all without it.
    band : (low, high), optional
        Shaded. [stops]
    ride : sequence of day_course.Ride
        Turns of the iris, each an upright line with its stop.
    size : float, default 8
        Type size. [pt]
    """
    names = curve.names if names is None else names
    for name, (color, dash, marker) in zip(names, LOOKS * (1 + len(names) // len(LOOKS))):
        every = max(1, len(curve.minutes) // 12)
        ax.plot(curve.minutes, curve.of(name), color=color, ls=dash, marker=marker, markevery=every, ms=3.5, lw=1.4, label=name)
    if band is not None:
        ax.axhspan(*band, color=FAINT, alpha=0.6, lw=0, label=f"{number_text(band[0])} to {number_text(band[1])} stops")
    _clock_axis(ax, curve.clock, curve.minutes, size)
    _sun_axis(ax, curve, size)
    for k, step in enumerate(ride):
        ax.axvline(step.minute, color=QUIET, lw=0.7, ls=":")
        ax.annotate(f"T{step.label:g}", (step.minute, 0.02 + 0.05 * (k % 3)), xycoords=("data", "axes fraction"), fontsize=size - 1,
                    ha="left", color=BLACK, path_effects=_halo())  # fmt: skip
    ax.set_ylabel("Level from middle grey (stops)", fontsize=size)
    ax.legend(fontsize=size, frameon=False)


def against_sky(ax: Axes, seen: Silhouette, clock: Clock, *, size: float = 8.0) -> None:
    """
    A figure's face and body against the sky behind it, by the clock.

    Parameters
    ----------
    ax : matplotlib Axes
    seen : day_course.Silhouette
    clock : day_course.Clock
    size : float, default 8
        Type size. [pt]
    """
    rows = (("sky behind", seen.sky_stops), ("face", seen.face_stops), ("body", seen.body_stops))
    for (words, values), (color, dash, marker) in zip(rows, LOOKS):
        every = max(1, len(seen.minutes) // 12)
        ax.plot(seen.minutes, values, color=color, ls=dash, marker=marker, markevery=every, ms=3.5, lw=1.4, label=words)
    ax.fill_between(seen.minutes, seen.face_stops, seen.sky_stops, color=FAINT, alpha=0.5, lw=0)
    _clock_axis(ax, clock, seen.minutes, size)
    ax.set_ylabel("Level from middle grey (stops)", fontsize=size)
    ax.legend(fontsize=size, frameon=False)


def _clock_axis(ax, clock, minutes, size):
    """Minutes along the bottom, written as the clock on the wall shows them."""
    step = next((t for t in TICKS_MIN if (minutes[-1] - minutes[0]) / t <= 9), TICKS_MIN[-1])
    ax.xaxis.set_major_locator(MultipleLocator(step))
    ax.xaxis.set_major_formatter(FuncFormatter(lambda minute, _: clock.text(minute)))
    ax.set_xlim(minutes[0], minutes[-1])
    ax.set_xlabel(f"Clock, {clock.date} ({clock.place.time_zone})", fontsize=size)
    ax.tick_params(labelsize=size)
    ax.grid(True, color=FAINT, lw=0.5)


def _sun_axis(ax, curve, size):
    """The sun's height along the top, where the clock has its ticks."""
    top = ax.secondary_xaxis("top")
    top.xaxis.set_major_locator(ax.xaxis.get_major_locator())
    top.xaxis.set_major_formatter(FuncFormatter(lambda m, _: f"{np.interp(m, curve.minutes, curve.sun_deg):.0f}°"))
    top.set_xlabel("Height of the sun (degrees)", fontsize=size)
    top.tick_params(labelsize=size)


def _halo():
    return [patheffects.withStroke(linewidth=2.0, foreground=PAPER)]


def window_sun(
    plan_ax: Axes, side_ax: Axes, setup: Setup, stops: Sequence[SunStop], *, units: str = "metric", size: float = 7.0
) -> None:
    """
    Where a window's sun lands at some hours, on plan and elevation; lamps and boards are left out.

    Parameters
    ----------
    plan_ax, side_ax : matplotlib Axes
        Already at their final places and sizes; the elevation runs along the wall opposite the window's.
    setup : Setup
        In a room.
    stops : sequence of window_sun.SunStop
        From `window_sun.patch_walk`.
    units : {"metric", "feet"}, default "metric"
        Of the grid.
    size : float, default 7
        Type size. [pt]
    """
    along = "x" if _on_side(setup, stops) else "y"
    bare = replace(setup, lights=(), boards=(), flags=(), frames=(), spots=(), targets=(), key=(), sun=None)
    ends = [(patch.corners_m.min(axis=0)[:2], patch.corners_m.max(axis=0)[:2]) for stop in stops for patch in stop.patches]
    plan(plan_ax, bare, units=units, dimensions=False, size=size, clear=ends)
    elevation(side_ax, bare, along=along, units=units, size=size)
    for ax, axes in ((plan_ax, [0, 1]), (side_ax, [0 if along == "x" else 1, 2])):
        for k, stop in enumerate(stops):
            color, dash, _ = LOOKS[k % len(LOOKS)]
            for patch in stop.patches:
                flat = patch.corners_m[:, axes]
                ax.fill(*flat.T, facecolor=color, alpha=0.25, lw=0, zorder=4)
                ax.plot(*np.vstack([flat, flat[:1]]).T, color=color, ls=dash, lw=1.0, zorder=4.1)
            ax.plot(*np.array([stop.window_m, stop.middle_m])[:, axes].T, color=color, ls=dash, lw=0.7, zorder=4.1)
            ax.annotate(stop.text, tuple(stop.middle_m[axes]), fontsize=size, ha="center", va="center", color=color, zorder=9,
                        path_effects=_halo())  # fmt: skip


def _on_side(setup, stops):
    """Whether the sun comes in at a side wall, so that x runs along its way."""
    return not stops or np.min(np.abs(stops[0].window_m[0] - np.array([0.0, setup.place.width_m]))) < 1e-6


def air_hours(
    ax: Axes, course: Course, *, band: tuple[float, float] | None = None, cues: Sequence[Cue] = (), size: float = 8.0
) -> None:
    """
    The air of a room over hours: extinction, with the mass that is breathed on the other side.

    Parameters
    ----------
    ax : matplotlib Axes
    course : haze_plan.Course
    band : (low, high), optional
        Shaded. [1/m]
    cues : sequence of haze_plan.Cue
        When the machine runs, a bar along the bottom.
    size : float, default 8
        Type size. [pt]
    """
    ax.plot(course.minutes / 60.0, course.extinction_per_m, color=BLUE, lw=1.4, label="this room")
    if course.other_mg_m3.any():
        other = haze.extinction_from_mass(mass_mg_m3=course.other_mg_m3, mass_extinction_m2_g=course.mass_extinction_m2_g)
        ax.plot(course.minutes / 60.0, other, color=VERMILLION, ls="--", lw=1.4, label="the room next door")
    if band is not None:
        ax.axhspan(*band, color=FAINT, alpha=0.6, lw=0, label=f"{number_text(band[0])} to {number_text(band[1])} /m")
    bars = [(start / 60.0, (end - start) / 60.0) for cue in cues for start, end in cue.pulses()]
    ax.broken_barh(bars, (0.0, 0.025), transform=ax.get_xaxis_transform(), facecolor=BLACK, label="machine on" if bars else None)
    ax.set_xlim(course.minutes[0] / 60.0, course.minutes[-1] / 60.0)
    ax.set_ylim(bottom=0.0)
    ax.set_xlabel("Time (h)", fontsize=size)
    ax.set_ylabel("Extinction coefficient (1/m)", fontsize=size)
    per_m = 1000.0 / course.mass_extinction_m2_g
    mass = ax.secondary_yaxis("right", functions=(lambda k: np.multiply(k, per_m), lambda c: np.divide(c, per_m)))
    mass.set_ylabel("Droplets in the air (mg/m³)", fontsize=size)
    for axis in (ax, mass):
        axis.tick_params(labelsize=size)
    ax.grid(True, color=FAINT, lw=0.5)
    ax.legend(fontsize=size, frameon=False)
