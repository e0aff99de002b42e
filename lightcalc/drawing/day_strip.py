"""A day as bars against the clock: when each setup is prepared and shot, when its light is there, and how dark it is."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.patches import Rectangle
from matplotlib.ticker import FuncFormatter, MultipleLocator

from lightcalc.drawing.palette import BLACK, FAINT, PAPER, QUIET
from lightcalc.sky.clock import zone
from lightcalc.sky.positions import Place, sun_at
from lightcalc.wording import one_line

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from lightcalc.answers.shoot_order import Slot

SKIES = ((-0.833, "#FFFFFF"), (-6.0, "#E4E4E4"), (-12.0, "#C9C9C9"), (-90.0, "#AFAFAF"))  # sun higher than: day, twilights, night
STEP_MIN = 4
ROUND_MIN = 30  # before the call and after the wrap


def day_strip(
    ax: Axes, slots: Sequence[Slot], *, where: Place | None = None, date: dt.date | None = None, size: float = 6.5
) -> None:
    """
    A day's setups against the clock.

    Parameters
    ----------
    ax : matplotlib Axes
        At its final place and size.
    slots : sequence of shoot_order.Slot
        In their order, the first on top.
    where : positions.Place, optional
    date : datetime.date, optional
        With the place, how dark it is stands behind the bars.
    size : float, default 6.5
        Type size. [pt]
    """
    low, high = slots[0].prepare - ROUND_MIN, slots[-1].end + ROUND_MIN
    ax.set(xlim=(low, high), ylim=(len(slots) - 0.35, -0.65))
    if where is not None and date is not None:
        _skies(ax, where, dt.datetime.combine(date, dt.time(), tzinfo=zone(where.time_zone)), low, high)
    for row, slot in enumerate(slots):
        _bars(ax, row, slot, low, high, size)
    hour = next(step for step in (60, 120, 180, 240) if (high - low) / step <= 16 or step == 240)
    ax.xaxis.set_major_locator(MultipleLocator(hour))
    ax.xaxis.set_major_formatter(FuncFormatter(lambda minute, _: f"{int(minute) // 60 % 24}:00"))
    ax.set_yticks(range(len(slots)), [one_line(slot.shot.name, most=12) for slot in slots])
    ax.tick_params(labelsize=size, length=2, width=0.4, pad=1.5)
    ax.tick_params(axis="y", length=0)
    for spine in ax.spines.values():
        spine.set(linewidth=0.5)


def _skies(ax, where, midnight, low, high):
    """Grey for how dark it is, in the bands of the twilights."""
    minutes = np.arange(low, high, STEP_MIN)
    times = [midnight + dt.timedelta(minutes=float(m) + STEP_MIN / 2) for m in minutes]  # of the wall, as Python adds them
    shades = [_shade(sun_at(where, time).altitude_deg) for time in times]
    start = 0
    for k in range(1, len(minutes) + 1):
        if k == len(minutes) or shades[k] != shades[start]:
            end = min(minutes[k] if k < len(minutes) else high, high)
            ax.axvspan(minutes[start], end, facecolor=shades[start], edgecolor="none", lw=0, zorder=0)
            start = k


def _shade(altitude_deg):
    return next(shade for least, shade in SKIES if altitude_deg > least)


def _bars(ax, row, slot, low, high, size):
    """What is open as a frame, preparing hatched, waiting as a line, shooting black."""
    for a, b in slot.shot.open if slot.shot.windows or slot.shot.earliest or slot.shot.latest < 2880 else ():
        a, b = max(a, low + 2), min(b, high - 2)
        if a < b:
            ax.add_patch(Rectangle((a, row - 0.42), b - a, 0.84, facecolor=PAPER, edgecolor=BLACK, lw=0.6, zorder=2))
    ax.plot((slot.ready, slot.start), (row, row), color=QUIET, lw=0.8, ls=(0, (1, 1.5)), zorder=3)
    prepare = Rectangle(
        (slot.prepare, row - 0.2), slot.ready - slot.prepare, 0.4, facecolor=FAINT, edgecolor=QUIET, hatch="/////", lw=0.4, zorder=3
    )
    ax.add_patch(prepare)
    ax.add_patch(Rectangle((slot.start, row - 0.3), slot.end - slot.start, 0.6, facecolor=BLACK, edgecolor=BLACK, lw=0.4, zorder=4))
