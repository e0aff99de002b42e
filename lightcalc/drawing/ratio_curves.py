"""Drawings of ratios: a board walked nearer and further, boards against the inverse square law, contrast in haze."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

from lightcalc.answers.board_distance import RatioCurve, ratio_curve
from lightcalc.drawing.palette import BLACK, BLUE, FAINT, GREEN, PURPLE, QUIET, VERMILLION
from lightcalc.scene.parts import Setup
from lightcalc.units import Numbers, ft_from_m
from lightcalc.wording import length_text, number_text, one_line, ratio_text

COLOURS, DASHES, MARKERS = (BLUE, VERMILLION, GREEN, PURPLE), ("-", "--", "-.", (0, (5, 1, 1, 1))), "osD^"


def ratio_against_distance(
    ax: Axes, curve: RatioCurve, *, units: str = "metric", wanted: float | None = None, size: float = 8.0
) -> None:
    """
    Ratio both ways against a board's distance, exact and by the point formula.

    Parameters
    ----------
    ax : matplotlib.axes.Axes
    curve : board_distance.RatioCurve
    units : {"metric", "feet"}, default "metric"
        Metres or feet along the axis.
    wanted : float, optional
        A (key + fill) : fill drawn as a level line.
    size : float, default 8
        Type size. [pt]

    Raises
    ------
    ValueError
        If units are unknown.

    Notes
    -----
    The scale is even in stops: a doubling of the ratio is as high everywhere. The shaded stretch is where the point
    formula is more than a third of a stop out for the board's own light.
    """
    x = _along(curve.distance_m, units)
    ax.plot(x, curve.ratio, color=BLUE, ls="-", marker="o", ms=3.5, lw=1.5, label="(key + fill) : fill")
    ax.plot(x, curve.key_to_fill, color=VERMILLION, ls="-", marker="s", ms=3.5, lw=1.5, label="key : fill")
    ax.plot(x, curve.point_ratio, color=BLUE, ls="--", lw=1.2, label="(key + fill) : fill, board as a point")
    ax.plot(x, curve.point_ratio - 1.0, color=VERMILLION, ls="--", lw=1.2, label="key : fill, board as a point")
    good = curve.rule_good_from_m
    if x[0] < _along(good, units):
        end = min(_along(good, units), x[-1])
        words = f"up to {length_text(round(float(good), 1), units=units)}" if np.isfinite(good) else "all along"
        ax.axvspan(x[0], end, facecolor=FAINT, alpha=0.6, lw=0, zorder=0, label=f"rule of thumb over 1/3 stop out, {words}")
    if wanted is not None:
        ax.axhline(wanted, color=QUIET, lw=0.9, ls=":", label=f"wanted, {ratio_text(wanted)}")
    _ratio_axis(ax, np.concatenate([curve.ratio, curve.key_to_fill, curve.point_ratio]))
    ax.set_xlim(x[0], x[-1])
    _frame(ax, f"Mark to middle of board ({'m' if units == 'metric' else 'ft'})", "Ratio, to one", size)


def board_figure(
    setup: Setup,
    *,
    board: str,
    mark: str,
    nearest_m: float = 0.6,
    furthest_m: float = 6.0,
    steps: int = 13,
    units: str = "metric",
    wanted: float | None = None,
    quality: str = "draft",
) -> Figure:
    """
    `ratio_against_distance` of a setup on a figure of its own, with a dot where the board stands now.

    Parameters
    ----------
    setup : Setup
    board, mark : str
        What walks, and where the ratio is read.
    nearest_m, furthest_m : float
        The walk, > 0. [m]
    steps : int, default 13
        Places read.
    units : {"metric", "feet"}, default "metric"
    wanted : float, optional
        A (key + fill) : fill drawn as a level line.
    quality : {"draft", "final"}
        As for `readings.readings`; a draft is quick enough to follow a hand.

    Returns
    -------
    matplotlib.figure.Figure
        8.4 x 3.6 inches, readable at 900 pixels across.

    Raises
    ------
    ValueError
        If there is no such board or mark, or units are unknown.
    """
    curve = ratio_curve(setup, np.geomspace(nearest_m, furthest_m, steps), board=board, mark=mark, quality=quality)
    figure = Figure(figsize=(8.4, 3.6), dpi=100, layout="constrained")
    ax = figure.add_subplot()
    ratio_against_distance(ax, curve, units=units, wanted=wanted, size=9)
    here = float(np.linalg.norm(np.subtract(setup.part(board).at, setup.part(mark).at)))
    if nearest_m <= here <= furthest_m:
        now = np.exp(np.interp(np.log(here), np.log(curve.distance_m), np.log(curve.ratio)))
        ax.plot(_along([here], units), [now], "o", ms=9, mfc="none", mec=BLACK, mew=1.5, zorder=5)
    text = f"{one_line(board, most=30)} {length_text(round(here, 2), units=units)} from {one_line(mark, most=30)}"
    ax.set_title(f"Setup {one_line(setup.name, most=30)}: {text} now (ring)", fontsize=9.5, loc="left", parse_math=False)
    return figure


def _along(distance_m, units):
    """Metres as the reader counts them."""
    length_text(1.0, units=units)  # refuses unknown units
    return np.asarray(distance_m, dtype=float) if units == "metric" else ft_from_m(distance_m)


def _ratio_axis(ax, values):
    """A scale that is even in stops, marked in ratios."""
    ax.set_yscale("log", base=2)
    values = values[np.isfinite(values) & (values > 0)]
    low, high = np.floor(np.log2(values.min()) - 0.05), np.ceil(np.log2(values.max()) + 0.05)
    ax.set_ylim(2.0**low, 2.0**high)
    ticks = [2.0**k * f for k in np.arange(low, high + 1) for f in ((1.0, 1.5) if high - low < 5 and k >= 0 else (1.0,))]
    ax.yaxis.set_major_locator(FixedLocator([t for t in ticks if t <= 2.0**high]))
    ax.yaxis.set_minor_locator(NullLocator())
    ax.yaxis.set_major_formatter(
        FuncFormatter(lambda value, _: f"{number_text(value)} : 1" if value >= 1 else f"1 : {number_text(1 / value)}")
    )


def _frame(ax, x_words, y_words, size, columns=1):
    ax.grid(True, color=FAINT, lw=0.5)
    ax.set_axisbelow(True)
    ax.set_xlabel(x_words, fontsize=size)
    ax.set_ylabel(y_words, fontsize=size)
    ax.tick_params(labelsize=size)
    ax.legend(fontsize=size - 0.5, frameon=True, framealpha=0.9, edgecolor="none", ncols=columns)


def falloff_curves(ax: Axes, distance_m: Numbers, levels: dict, *, units: str = "metric", size: float = 8.0) -> None:
    """
    How light from sources of several sizes falls with distance.

    Parameters
    ----------
    ax : matplotlib.axes.Axes
    distance_m : array, shape (n,)
        [m]
    levels : dict of str to array, shape (n,)
        Levels by what the source is called, each from its own first. [stops]
    units : {"metric", "feet"}, default "metric"
        Metres or feet along the axis.
    size : float, default 8
        Type size. [pt]

    Raises
    ------
    ValueError
        If units are unknown.
    """
    x = _along(distance_m, units)
    for k, (name, stops) in enumerate(levels.items()):
        ax.plot(x, stops, color=COLOURS[k % 4], ls=DASHES[k % 4], marker=MARKERS[k % 4], ms=3.5, lw=1.4, label=one_line(name))
    unit = "m" if units == "metric" else "ft"
    _frame(ax, f"Distance ({unit})", f"Level (stops from the one at {float(x[0]):.2g} {unit})", size)


def contrast_in_haze(ax: Axes, distance_m: Numbers, levels: dict, *, units: str = "metric", size: float = 8.0) -> None:
    """
    What haze leaves of a light and a dark card as they go away.

    Parameters
    ----------
    ax : matplotlib.axes.Axes
    distance_m : array, shape (n,)
        Card to lens. [m]
    levels : dict of str to array, shape (n,)
        Levels by what the card is called, the brightest first. [stops]
    units : {"metric", "feet"}, default "metric"
        Metres or feet along the axis.
    size : float, default 8
        Type size. [pt]

    Raises
    ------
    ValueError
        If units are unknown.
    """
    x = _along(distance_m, units)
    for k, (name, stops) in enumerate(levels.items()):
        ax.plot(x, stops, color=COLOURS[k % 4], ls=DASHES[k % 4], lw=1.5, label=one_line(name))
    _frame(ax, f"Card to lens ({'m' if units == 'metric' else 'ft'})", "Level (stops from middle grey)", size)
