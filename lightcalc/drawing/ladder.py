"""The stop ladder: everything that was read, on one line in stops from middle grey, with what was wanted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.ticker import FuncFormatter, MultipleLocator

from lightcalc.drawing.palette import BLACK, GREEN, PAPER, QUIET, VERMILLION, Words
from lightcalc.units import stops
from lightcalc.wording import check_units, light_text, one_line, signed, stops_text, target_text, verdict_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from lightcalc.answers.readings import Readings, TargetReading, Tick
    from lightcalc.scene.parts import Setup

LADDER_LOOKS = {  # kind of tick: marker, filled, what it is
    "mark": ("o", True, "mark"),
    "fill": ("o", False, "fill alone"),
    "spot": ("s", True, "spot"),
    "beam": ("^", True, "beam"),
    "background": ("v", False, "background"),
    "veil": ("D", False, "veil"),
    "sky": ("P", True, "sky"),
}
ABOVE = ("mark", "fill", "veil")  # these hang over the line, the rest and the targets under it


@dataclass(frozen=True)
class _Flag:
    """A word on the ladder, its pole's place, and where it hangs: row 0 is next to the line."""

    stops: float
    text: str
    kind: str
    place: float
    over: bool
    row: int = 0
    right: bool = True


def _flag_rows(places, widths, gap):
    """
    Row of each word that hangs to the right of its pole, so that no word meets a word or a pole.

    Worked from the right: a word must lie above every pole it would cross, and a pole only ever
    crosses rows whose words begin further right.
    """
    rows, done = np.zeros(len(places), dtype=int), []
    for i in sorted(range(len(places)), key=lambda i: (-places[i], i)):
        crossed = [rows[j] for j in done if places[j] < places[i] + widths[i] + gap]
        rows[i] = 1 + max(crossed) if crossed else 0
        done.append(i)
    return rows


def _both_ways(flags, widths, gap):
    """The same with the left ones hanging left, split where the fewest rows come out."""
    order = sorted(range(len(flags)), key=lambda i: flags[i].place)
    best = None
    for split in sorted({round(s) for s in np.linspace(0, len(order), 13)}):
        left, right = order[:split], order[split:]
        rows = np.zeros(len(flags), dtype=int)
        rows[left] = _flag_rows([-flags[i].place for i in left], [widths[i] for i in left], gap)
        rows[right] = _flag_rows([flags[i].place for i in right], [widths[i] for i in right], gap)
        if best is None or rows.max(initial=-1) < best[0]:
            best = (rows.max(initial=-1), rows, set(right))
    _, rows, right = best
    return [replace(flag, row=int(rows[i]), right=i in right) for i, flag in enumerate(flags)]


def ladder(
    ax: Axes, readings: Readings, setup: Setup, *, units: str = "metric", size: float = 7.0, ticks: Sequence[Tick] = ()
) -> None:
    """
    The stop ladder: everything that was read, on one line in stops from middle grey.

    Parameters
    ----------
    ax : matplotlib Axes
        Already at its final place and size.
    readings : Readings
        Its `ladder()` gives the ticks, its `targets` the brackets.
    setup : Setup
        Its camera gives the usable range of the sensor, shaded.
    units : {"metric", "feet"}, default "metric"
        Lux or foot-candles first.
    size : float, default 7
        Type size; smaller where the ticks are many. [pt]
    ticks : sequence of Tick, default ()
        More ticks, such as the veil at each plane of `depth.Layers.ticks()`.

    Raises
    ------
    ValueError
        If units are unknown.

    Notes
    -----
    A target on the ladder is a bracket of its width: heavy when met, thin and dashed when missed. A tick beyond the drawn
    range sits at its end and says so. Where there is no room for every word, those of the veil and the
    fill go first, and the axis says how many went.
    """
    check_units(units)
    ticks = [t for t in (*readings.ladder(), *ticks) if np.isfinite(t.stops)]
    brackets = _brackets(readings)
    low, high = _ladder_range(setup.camera, [t.stops for t in ticks] + [b[0] for b in brackets])
    flags = [_flag(t.stops, f"{one_line(t.label, most=30)} {stops_text(t.stops)}", t.kind, low, high) for t in ticks]
    flags += [_flag(centre, text, "met" if met else "missed", low, high) for centre, _, text, met in brackets]
    hung, low, high, used = _hang(ax, flags, low, high, size)
    _ladder_ground(ax, setup.camera, low, high, size)
    for flag in hung:
        _draw_flag(ax, flag, used, setup.camera)
    for tick, flag in zip(ticks, flags):
        _draw_tick(ax, tick, flag.place)
    for _, ends, _, met in brackets:
        _draw_bracket(ax, ends, met)
    _ladder_words(ax, readings, ticks, len(flags) - len(hung), units, size)


def _flag(stops, text, kind, low, high):
    place = min(max(stops, low), high)
    return _Flag(stops, text + (", off the end" if place != stops else ""), kind, place, kind in ABOVE)


def _brackets(readings):
    """Centre, ends, words and whether met, of every target that has a place on the ladder. [stops]"""
    places = [(place_of_target(target, readings), target) for target in readings.targets]
    return [
        (
            centre,
            (centre + t.low_stops - t.wanted_stops, centre + t.high_stops - t.wanted_stops),
            f"want {target_text(t, most=24)}: {verdict_text(t)}",
            t.met,
        )
        for centre, t in places
        if np.isfinite(centre)
    ]


def place_of_target(target: TargetReading, readings: Readings) -> float | None:
    """
    Where a target lies on the ladder: a level or a veil as wanted, a fill under its mark, a beam over its background. [stops]

    Parameters
    ----------
    target : readings.TargetReading
    readings : readings.Readings
        Without light to start from the place is not finite.
    """
    start = 0.0
    if target.quantity == "fill_under":
        start = next((mark.level_stops for mark in readings.marks if mark.name == target.of), np.nan)
    elif target.quantity == "beam_over":
        behind = next((spot.background_cd_m2 for spot in readings.spots if spot.name == target.of), np.nan)
        start = float(stops(behind / readings.reference_cd_m2)) if behind > 0 else np.nan
    return start + target.wanted_stops


def _ladder_range(camera, values):
    """The sensor's range and a stop either side, stretched to the ticks but never absurdly far. [stops]"""
    low, high = -camera.range_under_stops - 1, camera.range_over_stops + 1
    values = [v for v in values if np.isfinite(v)]
    return max(min([low, *[v - 0.3 for v in values]]), low - 5), min(max([high, *[v + 0.3 for v in values]]), high + 5)


def _hang(ax, flags, low, high, size, smallest=4.5):
    """Flags with their rows, the range widened for their words, and the type size that lets them fit."""
    box, unit = ax.get_window_extent(), ax.figure.dpi / 100
    words = Words(ax, size)
    widths = {flag.text: words.measure(flag.text)[0] / size for flag in flags}  # per point of type
    flags, used = list(flags), size
    while True:
        hung, left, right = _rows_at(flags, widths, used, box.width, low, high, unit)
        most = [1 + max([f.row for f in hung if f.over is over], default=-1) for over in (True, False)]
        line = 1.3 * used * ax.figure.dpi / 72
        if sum(most) * line + 26 * unit <= box.height or (used <= smallest and not flags):
            break
        if used > smallest:
            used = max(smallest, used - 0.5)
        else:
            flags.remove(max(flags, key=lambda f: (f.kind == "veil", f.kind == "fill", f.kind == "background", f.row)))
    rest = (box.height - sum(most) * line) / 2
    ax.set_xlim(left, right)
    ax.set_ylim(-(most[1] * line + rest), most[0] * line + rest)  # y counts pixels from the line
    return hung, left, right, used


def _rows_at(flags, widths, size, width_px, low, high, unit):
    """Rows at one type size; the veil hangs on whichever side takes fewer rows."""
    best = None
    for veil_over in (True, False):
        sided = [replace(f, over=f.over if f.kind != "veil" else veil_over) for f in flags]
        left, right = low, high
        for _ in range(3):  # a wider range moves the words, so settle it
            per_stop = width_px / (right - left)
            stops = {text: size * w / per_stop for text, w in widths.items()}
            hung = []
            for over in (True, False):
                group = [f for f in sided if f.over is over]
                hung += _both_ways(group, [stops[f.text] for f in group], 4 * unit / per_stop)
            pad = 6 * unit / per_stop
            left = min([left, *[f.place - stops[f.text] - pad for f in hung if not f.right]])
            right = max([right, *[f.place + stops[f.text] + pad for f in hung if f.right]])
        rows = sum(1 + max([f.row for f in hung if f.over is over], default=-1) for over in (True, False))
        if best is None or rows < best[0]:
            best = (rows, hung, left, right)
    return best[1:]


def _ladder_ground(ax, camera, low, high, size):
    a, b = -camera.range_under_stops, camera.range_over_stops
    ax.axvspan(a, b, facecolor="#ECECEC", edgecolor="none", zorder=0)
    for edge in (a, b):
        ax.axvline(edge, color=QUIET, lw=0.7, ls=(0, (1, 1.5)), zorder=1)
    ax.axhline(0, color=BLACK, lw=1.4, zorder=3)
    ax.axvline(0, color=BLACK, lw=0.9, zorder=1.5)
    ax.xaxis.set_major_locator(MultipleLocator(1 if high - low < 30 else 5))
    ax.xaxis.set_major_formatter(FuncFormatter(lambda v, _: signed(v)))
    ax.grid(True, axis="x", color="#D0D0D0", lw=0.4, zorder=0.5)
    ax.set_axisbelow(True)
    ax.set_yticks([])
    ax.tick_params(axis="x", labelsize=size, length=2, width=0.5, pad=1.5)
    for name, spine in ax.spines.items():
        spine.set_visible(name == "bottom")
        spine.set_linewidth(0.5)


def _draw_flag(ax, flag, size, camera):
    """The pole and the word."""
    dpi, sign = ax.figure.dpi, 1 if flag.over else -1
    line = 1.3 * size * dpi / 72
    y = sign * (8 * dpi / 100 + flag.row * line)
    look = {"met": ("#00694D", ":"), "missed": ("#A34700", ":")}.get(flag.kind, (BLACK, "-"))
    ax.plot([flag.place] * 2, [0, y + sign * 0.85 * line], color=look[0], lw=0.6, ls=look[1], zorder=2)
    low, high = ax.get_xlim()
    gap = dpi / 100 * 2.5 * (high - low) / ax.get_window_extent().width
    inside = -camera.range_under_stops < flag.place < camera.range_over_stops
    ax.text(
        flag.place + (gap if flag.right else -gap), y + sign * 0.5 * line, flag.text, va="center",
        ha="left" if flag.right else "right", fontsize=size, color=look[0], parse_math=False, zorder=6,
        bbox=dict(facecolor="#ECECEC" if inside else PAPER, edgecolor="none", pad=0),
    )  # fmt: skip


def _draw_tick(ax, tick, place):
    marker, filled, _ = LADDER_LOOKS.get(tick.kind, ("x", True, tick.kind))
    ax.plot(place, 0, marker, ms=5, mfc=BLACK if filled else PAPER, mec=BLACK, mew=0.9, zorder=5)


def _draw_bracket(ax, ends, met):
    """[ ] round the wanted place, [ or ] alone for a target with one end: heavy if met, thin and dashed if missed."""
    color, h, lip = (GREEN if met else VERMILLION), 6.5 * ax.figure.dpi / 100, min(0.125 * (ends[1] - ends[0]), 0.12)
    for edge, way in ((end, way) for end, way in zip(ends, (1, -1)) if np.isfinite(end)):
        x, y = [edge + way * lip, edge, edge, edge + way * lip], [h, h, -h, -h]
        ax.plot(x, y, color=color, lw=2.0 if met else 1.1, ls="-" if met else (0, (2, 1)), zorder=4)


def _ladder_words(ax, readings, ticks, unlabelled, units, size):
    """The looks in use over the ladder; under the axis the reference and targets that are no place on it."""
    kinds = [k for k in LADDER_LOOKS if any(t.kind == k for t in ticks)]
    handles = []
    for kind in kinds:
        marker, filled, words = LADDER_LOOKS[kind]
        look = dict(ms=4.5, mfc=BLACK if filled else PAPER, mec=BLACK, mew=0.9, label=words, ls="none")
        handles += ax.plot([], [], marker=marker, **look)
    if kinds:
        ax.legend(
            handles=handles, loc="lower left", bbox_to_anchor=(0, 1.0), ncols=len(kinds), fontsize=size, frameon=False,
            handletextpad=0.1, columnspacing=1.0, borderpad=0, borderaxespad=0.1,
        )  # fmt: skip
    grey = light_text(readings.reference_lx, units, both=True)
    lines = [f"Stops from middle grey (grey card at {grey}); shaded: what the sensor holds"]
    if unlabelled:
        lines[0] += f"; {unlabelled} ticks without words for want of room"
    ax.set_xlabel("\n".join(lines), fontsize=size, labelpad=1.5, parse_math=False)
