"""What the camera sees and how it changes: the picture, its contours, the stage on one page, curves against haze and distance."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.colors import BoundaryNorm
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MultipleLocator

from lightcalc.drawing.ladder import ladder
from lightcalc.drawing.palette import BLACK, BLUE, FAINT, ORANGE, PAPER, QUIET, SKY, VERMILLION, Words, fitted
from lightcalc.drawing.plan import plan
from lightcalc.units import ft_from_m
from lightcalc.wording import check_units, distance_text, number_text, one_line, signed

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from lightcalc.answers.beam_in_haze import HazeSweep
    from lightcalc.answers.depth import Layers
    from lightcalc.answers.readings import Readings
    from lightcalc.engine.picture import Picture
    from lightcalc.scene.parts import Setup

# --- picture and contours --------------------------------------------------------------------------


def _grey_strip(ax, picture, size, span=(-6, 6)):
    """A grey scale in stops through the picture's own display curve, under the picture."""
    steps = np.arange(span[0], span[1] + 1)
    strip = np.repeat(picture.reference_cd_m2 * np.exp2(steps.astype(float))[None], 2, axis=0).astype(np.float32)
    bar = ax.inset_axes((0.0, -0.085, 1.0, 0.06))
    look = dict(aspect="auto", extent=(span[0] - 0.5, span[1] + 0.5, 0, 1), interpolation="nearest")
    bar.imshow(replace(picture, luminance_cd_m2=strip).rgba(), **look)
    bar.set_yticks([])
    bar.set_xticks(steps[::2], [signed(s) for s in steps[::2]])
    bar.tick_params(labelsize=size, length=1.5, width=0.5, pad=1)
    for spine in bar.spines.values():
        spine.set_linewidth(0.5)
    bar.set_xlabel("stops from middle grey", fontsize=size, labelpad=1)
    return bar


def picture(ax: Axes, picture: Picture, *, caption: str = "", size: float = 7.0) -> None:
    """
    The camera's picture in luminance, on its display curve, with a grey scale in stops.

    Parameters
    ----------
    ax : matplotlib Axes
        The picture fills it in its own shape; the scale hangs below it.
    picture : Picture
        What the lens sees.
    caption : str, optional
        Words above the picture; by default what middle grey is.
    size : float, default 7
        Type size. [pt]
    """
    ax.imshow(picture.rgba(), interpolation="nearest" if picture.luminance_cd_m2.shape[1] < 80 else "antialiased")
    _bare(ax)
    words = caption or f"Luminance; middle grey is {number_text(picture.reference_cd_m2)} cd/m²"
    ax.set_title(words, fontsize=size, pad=2, loc="left", parse_math=False)
    _grey_strip(ax, picture, size)


def contours(ax: Axes, picture: Picture, *, span: tuple[int, int] = (-6, 6), size: float = 7.0) -> None:
    """
    The picture's luminance in whole stops: filled steps, lines and labels.

    Parameters
    ----------
    ax : matplotlib Axes
        The picture fills it in its own shape; the scale hangs below it.
    picture : Picture
        What the lens sees.
    span : (int, int), default (-6, 6)
        Whole stops from middle grey that are told apart. [stops]
    size : float, default 7
        Type size. [pt]

    Notes
    -----
    Colours step through `cividis` (Nunez, Anderton & Renslow 2018), which rises evenly in lightness.
    """
    edges = np.arange(span[0], span[1] + 1)
    level = np.clip(np.nan_to_num(picture.level_stops, neginf=span[0] - 1), span[0] - 0.99, span[1] + 0.99)
    norm = BoundaryNorm(edges, 256, extend="both")
    image = ax.imshow(level, cmap="cividis", norm=norm, interpolation="nearest")
    inside = [e for e in edges if level.min() < e < level.max()]
    if inside:
        lines = ax.contour(level, levels=inside, colors="black", linewidths=[1.6 if e == 0 else 0.6 for e in inside])
        lines.set_linestyle("solid")
        _contour_words(ax, lines, size)
    _bare(ax)
    bar_ax = ax.inset_axes((0.0, -0.085, 1.0, 0.06))
    bar = ax.figure.colorbar(image, cax=bar_ax, orientation="horizontal", ticks=edges[::2])
    bar.ax.set_xticklabels([signed(e) for e in edges[::2]])
    bar.ax.tick_params(labelsize=size, length=1.5, width=0.5, pad=1)
    bar.set_label("stops from middle grey", fontsize=size, labelpad=1)
    ax.set_title("Whole stops; the heavy line is middle grey", fontsize=size, pad=2, loc="left")


def _contour_words(ax, lines, size, each=2):
    """The stop of each line, on its longest pieces; short pieces and crowded places go without."""
    words = Words(ax, size)
    for level, pieces in zip(lines.levels, lines.allsegs):
        text = signed(level) if level else "grey"
        pieces = [words.pixels(piece) for piece in pieces if len(piece) > 1]
        lengths = [float(np.sum(np.linalg.norm(np.diff(piece, axis=0), axis=1))) for piece in pieces]
        for i in sorted(range(len(pieces)), key=lambda i: -lengths[i])[:each]:
            if lengths[i] > 8 * size * words.unit:
                _word_on(words, pieces[i], text)


def _word_on(words, piece, text):
    """A word on a line given in pixels, as near its middle as there is room; none if there is no room."""
    half = np.array(words.measure(text)) / 2
    middle = len(piece) / 2
    for i in sorted(range(len(piece)), key=lambda i: abs(i - middle))[:: max(1, len(piece) // 24)]:
        box = np.array([[*(piece[i] - half), *(piece[i] + half)]])
        if np.isfinite(words.cost(box, np.zeros(1), ink_price=0.0))[0]:
            words.write(text, box[0], BLACK, {})
            return


def _bare(ax):
    ax.set_xticks([])
    ax.set_yticks([])
    for spine in ax.spines.values():
        spine.set_linewidth(0.5)


def stage_twin(setup: Setup, readings: Readings, picture_seen: Picture, *, units: str = "metric") -> Figure:
    """
    Plan, picture and ladder on one figure: what the stage shows, for a page without a kernel.

    Parameters
    ----------
    setup : Setup
    readings : Readings
    picture_seen : Picture
    units : {"metric", "feet"}, default "metric"

    Returns
    -------
    matplotlib.figure.Figure
        11 x 6 inches, readable at 900 pixels across.

    Raises
    ------
    ValueError
        If units are unknown.
    """
    figure, size = Figure(figsize=(11, 6), dpi=100), 8.5
    title = f"{one_line(setup.name, most=40)}: {one_line(setup.title)}"
    fitted(figure.text(0.012, 0.985, title, fontsize=12, weight="bold", va="top", parse_math=False), 0.976 * 1100)
    plan(figure.add_axes((0.045, 0.435, 0.51, 0.505)), setup, units=units, readings=readings, size=size)
    picture(figure.add_axes((0.58, 0.5, 0.41, 0.42)), picture_seen, size=size)
    ladder(figure.add_axes((0.012, 0.085, 0.976, 0.27)), readings, setup, units=units, size=size)
    return figure


# --- curves ----------------------------------------------------------------------------------------


def beam_against_haze(ax: Axes, sweep: HazeSweep, *, at_per_m: float | None = None, size: float = 8.0) -> None:
    """
    What more haze does to a beam and to a face: two curves in stops.

    Parameters
    ----------
    ax : matplotlib Axes
    sweep : beam_in_haze.HazeSweep
        Readings at two densities or more.
    at_per_m : float, optional
        The density that the setup has, drawn as an upright line. [1/m]
    size : float, default 8
        Type size. [pt]
    """
    k = sweep.extinction_per_m
    for stops, color, dash, marker, words in (
        (sweep.beam_over_stops, BLUE, "-", "o", "beam over what is behind it"),
        (sweep.contrast_stops, VERMILLION, "--", "s", "lit cheek over far cheek, as the lens sees them"),
    ):
        ax.plot(k, stops, color=color, ls=dash, marker=marker, ms=3.5, lw=1.4, label=words)
    if at_per_m is not None:
        ax.axvline(at_per_m, color=QUIET, lw=0.9, ls=":", label=f"this setup, {number_text(at_per_m)} /m")
    ax.grid(True, color=FAINT, lw=0.5)
    ax.set_xlim(0.0, 1.02 * float(np.max(k)))  # the last marker whole
    ax.set_ylim(bottom=min(0.0, float(np.min(sweep.contrast_stops))))
    ax.set_xlabel("Extinction coefficient of the haze (1/m)", fontsize=size)
    ax.set_ylabel("Difference (stops)", fontsize=size)
    ax.tick_params(labelsize=size)
    ax.legend(fontsize=size, frameon=False)


LAYER_CURVES = (  # values, colour, dash, marker and whether it is filled, label
    ("light_stops", ORANGE, "-", "o", False, "light card"),
    ("dark_stops", BLUE, "-", "o", True, "dark card"),
    ("veil_stops", BLACK, ":", "D", False, "veil"),
    ("clear_light_stops", ORANGE, (0, (5, 2)), "^", False, "light card, clear air"),
    ("clear_dark_stops", BLUE, (0, (5, 2)), "^", True, "dark card, clear air"),
)


def layers_curve(ax: Axes, layers: Layers, *, units: str = "metric", size: float = 8.0) -> None:
    """
    A dark and a light card against distance, through the haze and in clear air, with the veil between.

    Parameters
    ----------
    ax : matplotlib Axes
        Already at its final place and size, with room for a title of two or three lines.
    layers : depth.Layers
    units : {"metric", "feet"}, default "metric"
        Metres or feet along the axis.
    size : float, default 8
        Type size. [pt]

    Raises
    ------
    ValueError
        If units are unknown.

    Notes
    -----
    The shaded band is what the haze leaves between the cards. Full lines are in the haze, broken ones in clear
    air; markers sit on the three planes. Cards that send no light have no place on the curve.
    """
    far = float(layers.distance_m[-1])
    along = (lambda metres: metres) if check_units(units) == "metric" else ft_from_m
    curves = [row for row in LAYER_CURVES if layers.extinction_per_m > 0 or row[0].startswith("clear")]
    levels = {row[0]: np.where(np.isfinite(v := getattr(layers, row[0])), v, np.nan) for row in curves}
    _layers_frame(ax, layers, along(far), list(levels.values()), units, size)
    x, planes = along(layers.distance_m), along(np.array([plane.distance_m for plane in layers.planes]))
    if layers.extinction_per_m > 0:
        ax.fill_between(x, levels["dark_stops"], levels["light_stops"], color=SKY, alpha=0.25, lw=0, zorder=1)
    words = Words(ax, size)
    for field, color, dash, marker, filled, _ in curves:
        at = np.interp(planes, x, levels[field])
        ax.plot(x, levels[field], color=color, ls=dash, lw=1.5, zorder=3, gid=field)
        ax.plot(planes, at, marker, ms=4.5, mfc=color if filled else PAPER, mec=color, ls="none", zorder=4, clip_on=False)
        words.avoid(np.c_[x, levels[field]][np.isfinite(levels[field])])
    _plane_words(ax, words, layers, planes, units)
    for field, color, *_, label in curves:
        _name_curve(words, x, levels, field, label, "#8A4B00" if color == ORANGE else color)


def _layers_frame(ax, layers, far, levels, units, size):
    """Axes, grid and words round the curves; a strip is kept free over them for the names of the planes."""
    values = np.concatenate(levels)
    values = values[np.isfinite(values)]
    low, high = (float(values.min()), float(values.max())) if values.size else (-1.0, 1.0)
    box, line = ax.get_window_extent(), 1.4 * size * ax.figure.dpi / 72
    strip = min(0.4, 3.6 * line / box.height)
    low, high = low - 0.06 * (high - low + 1), high + 0.06 * (high - low + 1)
    ax.set_xlim(0.0, 1.01 * far)  # the last markers whole
    ax.set_ylim(low, low + (high - low) / (1 - strip))
    ax.yaxis.set_major_locator(MultipleLocator(1 if high - low < 12 else 2 if high - low < 24 else 5))
    ax.yaxis.set_major_formatter(FuncFormatter(lambda v, _: signed(v)))
    ax.grid(True, color=FAINT, lw=0.5)
    ax.set_axisbelow(True)
    ax.tick_params(labelsize=size)
    tail = "m" if units == "metric" else "ft"
    cards = f"matte cards of {number_text(layers.dark_reflectance)} and {number_text(layers.light_reflectance)}"
    inputs = f"setup {one_line(layers.setup, most=30)}, towards {one_line(layers.towards, most=40)}; {cards}; haze {number_text(layers.extinction_per_m)} /m"
    across = max(20, int(box.width / (0.5 * size * ax.figure.dpi / 72)))
    ax.set_xlabel(f"Distance from the lens ({tail})\n{textwrap.fill(inputs, across)}", fontsize=size, parse_math=False)
    ax.set_ylabel("Level (stops from middle grey)", fontsize=size)
    finding = textwrap.fill(layers.finding(), max(20, int(0.9 * across)))
    ax.set_title(finding, fontsize=size + 0.5, loc="left", parse_math=False)


def _plane_words(ax, words, layers, places, units):
    """An upright line at each plane; over it the name, the distance and what is left between the cards."""
    edge, top = words.edge, ax.get_ylim()[1]
    for plane, place in zip(layers.planes, places):
        ax.axvline(place, color=QUIET, lw=0.8, ls=(0, (1, 1.5)), zorder=2)
        far = distance_text(plane.distance_m, units)
        full = f"{plane.name}, {far}\n{plane.apart}"
        half = 0.5 * words.measure(full, linespacing=1.1)[0] + 6 * words.unit
        x = np.clip(words.pixels((place, top))[0, 0], edge.x0 + half, max(edge.x0 + half, edge.x1 - half))
        point = ax.transData.inverted().transform((x, edge.y1))
        versions = [full, full.replace(f", {far}", ""), plane.name]
        words.beside(point, versions, radius=2, color=QUIET, linespacing=1.1)


def _name_curve(words, x, levels, field, label, color, places=25):
    """The label of a curve where there is room beside it and the other curves are far; none where it has no place."""
    best = None
    for k in np.linspace(0.08, 0.92, places) * (len(x) - 1):
        k = int(k)
        if not np.isfinite(levels[field][k]):
            continue
        anchor = words.pixels((x[k], levels[field][k]))[0]
        found = words.nearest(anchor, label, 4.0, {})
        others = [words.pixels((x[k], row[k]))[0, 1] for name, row in levels.items() if name != field and np.isfinite(row[k])]
        room = min((abs(y - anchor[1]) for y in others), default=0.0) / words.unit
        cost = found[0] + 60.0 * (found[2] > 9) - 0.5 * min(room, 40.0) if found else np.inf  # leaders cross other curves
        if found and (best is None or cost < best[0]):
            best = (cost, k)
    if best is not None:
        words.beside((x[best[1]], levels[field][best[1]]), [label], color=color)


def layers_figure(layers: Layers, *, units: str = "metric") -> Figure:
    """
    `layers_curve` on a page of its own.

    Parameters
    ----------
    layers : depth.Layers
    units : {"metric", "feet"}, default "metric"

    Returns
    -------
    matplotlib.figure.Figure
        7 x 4.4 inches, 1050 pixels across.

    Raises
    ------
    ValueError
        If units are unknown.
    """
    figure = Figure(figsize=(7, 4.4), dpi=150)
    layers_curve(figure.add_axes((0.085, 0.16, 0.895, 0.71)), layers, units=units)
    return figure


def beam_map(axes: Sequence[Axes], maps: dict, *, size: float = 8.0) -> None:
    """
    Beam over what is behind it against haze, a line for each camera angle, a panel for each room.

    Parameters
    ----------
    axes : sequence of matplotlib.axes.Axes
        One for each room, sharing y.
    maps : dict of str to beam_in_haze.BeamMap
        By the room's description; the same angles in each.
    size : float, default 8
        Type size. [pt]
    """
    colors, dashes = ("#0072B2", "#D55E00", "#009E73", "#CC79A7"), ("-", "--", "-.", ":")
    for ax, (name, found) in zip(axes, maps.items()):
        for k, angle in enumerate(found.angle_deg):
            ax.plot(
                found.extinction_per_m, found.beam_over_stops[k], dashes[k % 4], color=colors[k % 4], marker="osD^"[k % 4],
                markersize=3.5, label=f"{angle:.0f}°",
            )  # fmt: skip
        ax.set_xscale("log")
        ax.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
        ax.set_title(name, fontsize=size + 1)
        ax.set_xlabel("Extinction coefficient (1/m)", fontsize=size)
        ax.tick_params(labelsize=size, which="both")
        ax.grid(color="#cccccc", linewidth=0.5)
    axes[0].set_ylabel("Beam over what is behind it (stops)", fontsize=size)
    axes[0].legend(title="camera from the\nway the light goes", fontsize=size, title_fontsize=size)
