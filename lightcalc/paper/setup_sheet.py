"""
The printed page of a setup: plan to scale, camera, lights, expected readings, cautions. One A4 PDF.

Everything is black on white with a second cue beside each colour, so it survives a grey printer and a
wet pocket. The same setup gives the same bytes: no date, no clock.
"""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import lru_cache
from io import BytesIO
from pathlib import Path

import matplotlib
import numpy as np
from matplotlib import style
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.textpath import text_to_path

from lightcalc import wording
from lightcalc.drawing import ladder, picture_figures, plan
from lightcalc.kit.materials import default_kit
from lightcalc.laws.haze import HAZE_CAUTION, loss_percent_per_m, visibility_from_extinction
from lightcalc.laws.power import HEAT_CAUTION, POWER_CAUTION
from lightcalc.scene.numbering import call_signs, lit_mark
from lightcalc.scene.parts import Exterior, Room
from lightcalc.units import FT, fc_from_lx

PAGE_W, PAGE_H, EDGE = 210.0, 297.0, 11.0  # A4, and the margin a home printer keeps. [mm]
WIDE = PAGE_W - 2 * EDGE
PLAN_W, SIDE_W, GAP = 120.0, 64.0, 4.0
PLAN_EDGE = 9.0  # round the plan, for dimension lines. [mm]
PT = 25.4 / 72  # mm
SIZES = (7.5, 7.0, 6.5, 6.0, 5.5, 5.0, 4.5)  # type, largest that lets the page fit. [pt]
ROOM = ((84.0, 5.5), (70.0, 5.0), (62.0, 4.5))  # least height for the plan, down to which type. [mm, pt]
SCALES = {
    "metric": (
        5, 10, 20, 25, 50, 75, 100, 125, 150, 200, 250, 300, 400, 500, 750, 1000, 1500, 2000, 2500, 5000, 10000, 20000,
        50000, 100000,
    ),
    "feet": (6, 12, 24, 48, 96, 120, 192, 240, 360, 480, 600, 720, 1200, 2400, 3600, 6000, 12000, 24000, 60000, 120000),
}  # fmt: skip
INCHES_TO_FOOT = {6: "2 in", 12: "1 in", 24: "1/2 in", 48: "1/4 in", 96: "1/8 in", 192: "1/16 in"}
HEIGHT_CAUTION = (
    "Height: weight every stand, tie a safety line on everything overhead, keep people out from under; rigging and "
    "work at height are for trained people under local rules."
)
OUTSIDE_CAUTION = (
    "Outside: wind takes frames, boards and stands; guy and weight them, keep lamps and cables dry and the way past clear."
)
SUN_CAUTION = "Sun: never look at it through the lens or a finder; it blinds eyes and burns sensors."


# --- one page, in millimetres from the upper left --------------------------------------------------


@lru_cache(maxsize=20_000)
def _width_mm(text, size, bold=False):
    """Width of a line of type, unhinted, as the PDF sets it. [mm]"""
    font = FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal", size=size)
    return text_to_path.get_text_width_height_descent(text, font, ismath=False)[0] * PT if text else 0.0


def _wrap(text, size, width_mm, bold=False):
    """Lines no wider than that; a word wider than a line is broken."""
    lines = [""]
    for word in wording.one_line(text, most=2_000).split(" "):
        trial = f"{lines[-1]} {word}".strip()
        if _width_mm(trial, size, bold) <= width_mm:
            lines[-1] = trial
            continue
        while _width_mm(word, size, bold) > width_mm and len(word) > 1:
            cut = next(n for n in range(len(word) - 1, 0, -1) if n == 1 or _width_mm(word[:n], size, bold) <= width_mm)
            lines.append(word[:cut])
            word = word[cut:]
        lines.append(word)
    return [line for line in lines if line] or [""]


class _Page:
    """A figure the size of the paper; y runs down. [mm]"""

    def __init__(self):
        self.figure = Figure(figsize=(PAGE_W / 25.4, PAGE_H / 25.4), dpi=144)

    def text(self, x, y, words, size, *, bold=False, ha="left", va="top", color="black", **look):
        return self.figure.text(
            x / PAGE_W, 1 - y / PAGE_H, words, fontsize=size, weight="bold" if bold else "normal", ha=ha, va=va,
            color=color, parse_math=False, **look,
        )  # fmt: skip

    def rule(self, x0, x1, y, width=0.4, color="black"):
        ends = ([x0 / PAGE_W, x1 / PAGE_W], [1 - y / PAGE_H] * 2)
        self.figure.add_artist(Line2D(*ends, lw=width, color=color))

    def box(self, x, y, width, height, color, edge="black"):
        corner = (x / PAGE_W, 1 - (y + height) / PAGE_H)
        look = dict(facecolor=color, edgecolor=edge, lw=0.4, transform=self.figure.transFigure)
        self.figure.add_artist(Rectangle(corner, width / PAGE_W, height / PAGE_H, **look))

    def axes(self, x, y, width, height, label):
        place = (x / PAGE_W, 1 - (y + height) / PAGE_H, width / PAGE_W, height / PAGE_H)
        return self.figure.add_axes(place, label=label)


def _air(size):
    """Clear space in a table's row, beside the words. [mm]"""
    return 0.11 * size


def _leading(size):
    return 1.2 * size * PT


# --- blocks: each knows its height at a type size, and draws itself --------------------------------


@dataclass(frozen=True)
class _Table:
    """A titled table. Columns in `wraps` may break their words; `right` ones are set to the right."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    wraps: tuple[int, ...] = ()
    right: tuple[int, ...] = ()
    width: float = WIDE
    more: int = 0  # rows that had no room

    def cut(self, most):
        """The same with no more rows than that, saying how many went."""
        if len(self.rows) <= most:
            return self
        return replace(self, rows=self.rows[:most], more=len(self.rows) - most)

    def widths(self, size):
        """Column widths: what the words ask for, the wrapping ones squeezed evenly if that is too much. [mm]"""
        ask = [
            max([_width_mm(h, size, True)] + [_width_mm(row[i], size) for row in self.rows]) + 2.2 for i, h in enumerate(self.heads)
        ]
        spare = self.width - sum(ask)
        if spare < 0 and self.wraps:
            fixed = sum(a for i, a in enumerate(ask) if i not in self.wraps)
            share = max(self.width - fixed, 11.0 * len(self.wraps))
            level = _level([ask[i] for i in self.wraps], share)
            ask = [min(a, level) if i in self.wraps else a for i, a in enumerate(ask)]
        elif spare > 0:
            ask = [a + spare / (len(ask) - 1) if i else a for i, a in enumerate(ask)]
        return ask

    def cells(self, size):
        widths = self.widths(size)
        wrapped = [
            [_wrap(text, size, widths[i] - 2.0) if i in self.wraps else [text] for i, text in enumerate(row)] for row in self.rows
        ]
        return widths, wrapped

    def height(self, size):
        if not self.rows:
            return 0.0
        _, cells = self.cells(size)
        lines = sum(max(len(cell) for cell in row) for row in cells)
        return _leading(size) * (lines + 2.2 + bool(self.more)) + _air(size) * len(cells) + 1.0

    def draw(self, page, x, y, size):
        if not self.rows:
            return
        widths, cells = self.cells(size)
        lefts, step = x + np.concatenate([[0.0], np.cumsum(widths)]), _leading(size)
        page.text(x, y, self.title, size + 0.5, bold=True)
        y += 1.15 * step
        for i, head in enumerate(self.heads):
            self._cell(page, lefts, i, y, head, size, True)
        y += step + 0.3
        page.rule(x, x + self.width, y, 0.6)
        for row in cells:
            for i, lines in enumerate(row):
                for k, line in enumerate(lines):
                    self._cell(page, lefts, i, y + 0.75 * _air(size) + k * step, line, size, False)
            y += step * max(len(lines) for lines in row) + _air(size)
            page.rule(x, x + self.width, y, 0.2, "#999999")
        if self.more:
            page.text(x, y + 0.5, f"and {self.more} more, in the shoot file", size, style="italic")

    def _cell(self, page, lefts, i, y, text, size, bold):
        if i in self.right:
            page.text(lefts[i + 1] - 2.2, y, text, size, bold=bold, ha="right")
        else:
            page.text(lefts[i], y, text, size, bold=bold)


def _level(asks, share):
    """The common ceiling at which the asks add up to the share (water filling)."""
    asks = sorted(asks)
    for i, ask in enumerate(asks):
        if ask * (len(asks) - i) >= share:
            return share / (len(asks) - i)
        share -= ask
    return asks[-1]


@dataclass(frozen=True)
class _Words:
    """A titled run of paragraphs."""

    title: str
    paragraphs: tuple[str, ...]
    width: float = WIDE

    def lines(self, size):
        return [line for text in self.paragraphs for line in _wrap(text, size, self.width)]

    def height(self, size):
        return _leading(size) * (len(self.lines(size)) + 1.15) + 0.8 if self.paragraphs else 0.0

    def draw(self, page, x, y, size):
        if not self.paragraphs:
            return
        page.text(x, y, self.title, size + 0.5, bold=True)
        for k, line in enumerate(self.lines(size)):
            page.text(x, y + _leading(size) * (1.15 + k), line, size)


@dataclass(frozen=True)
class _Pair:
    """Two blocks side by side."""

    left: _Table | _Words
    right: _Table | _Words
    gap: float = 4.0

    def height(self, size):
        return max(self.left.height(size), self.right.height(size))

    def draw(self, page, x, y, size):
        self.left.draw(page, x, y, size)
        self.right.draw(page, x + self.left.width + self.gap, y, size)

    def cut(self, most):
        return _Pair(*(b.cut(most) if hasattr(b, "cut") else b for b in (self.left, self.right)), self.gap)


# --- what stands in the blocks ---------------------------------------------------------------------


def _place_text(point, units):
    if units == "metric":
        return ", ".join(wording.signed(v, places=2, sign=False) for v in point)
    return ", ".join(wording.length_text(v, units=units) for v in point)


def _aim_text(setup, part, units):
    """The mark it aims at, if the aim point is within a head's width of one; else the point."""
    mark = lit_mark(setup, part)
    if mark is not None and np.linalg.norm(np.subtract(mark.at, part.aim)) < 0.25:
        return wording.one_line(mark.name)
    return _place_text(part.aim, units)


def _unit(units):
    return "m" if units == "metric" else "ft in"


def _lights(setup, units):
    rows, signs = [], call_signs(setup)
    for light in setup.lights:
        mark = lit_mark(setup, light)
        away = wording.length_text(float(np.linalg.norm(np.subtract(light.at, mark.at))), units=units) if mark else "–"
        cloth = ", ".join(wording.one_line(p.name) for p in (light.gel, light.diffusion) if p is not None) or "–"
        kelvin = f"{light.kelvin:.0f}" if light.kelvin else "–"
        watts = wording.number_text(light.watts, figures=4) if light.watts else "–"
        rows.append(
            (signs[light.name], wording.one_line(light.name), wording.one_line(light.kit) or "–", _place_text(light.at, units),
             _aim_text(setup, light, units), away, wording.dim_text(light.dim), cloth, kelvin, watts)
        )  # fmt: skip
    place = f"x, y, height ({_unit(units)})"
    heads = ("", "Light", "Kit", place, "Aimed at", "To mark", "Dim", "Gel, diffusion", "K", "W")
    total = sum(light.watts for light in setup.lights)
    title = f"Lights, {wording.number_text(total, figures=5)} W in all" if total else "Lights"
    return _Table(title, heads, tuple(rows), wraps=(1, 2, 4, 7), right=(5, 8, 9))


def _boards(setup, units):
    signs, rows = call_signs(setup), []
    groups = (("board", setup.boards, "stuff"), ("frame", setup.frames, "diffusion"), ("flag", setup.flags, ""))
    for kind, group, cover in groups:
        for part in group:
            sign = signs[("flag", part.name) if kind == "flag" else part.name]
            size = wording.size_text(part.width_m, part.height_m, units=units)
            made_of = wording.one_line(getattr(part, cover).name) if cover else "black"
            place, faces = _place_text(part.at, units), _aim_text(setup, part, units)
            rows.append((sign, kind, wording.one_line(part.name), size, made_of, place, faces))
    heads = ("", "Kind", "Name", "Width x height", "Of", f"x, y, height ({_unit(units)})", "Faces")
    return _Table("Boards, frames and flags", heads, tuple(rows), wraps=(2, 4, 6))


def _split(mark, signs):
    """What each source gives a mark: the eight largest in the setup's order, the rest in one. [lx]"""
    given = {signs.get(k, k): v for k, v in mark.by_source.items() if v > 0}
    largest = sorted(given, key=given.get, reverse=True)[:8]
    words = [f"{k} {wording.number_text(v)}" for k, v in given.items() if k in largest]
    rest = sum(v for k, v in given.items() if k not in largest)
    return ", ".join(words + [f"rest {wording.number_text(rest)}"] * (rest > 0)) or "none"


def _marks(setup, readings):
    signs, rows = call_signs(setup), []
    for mark in readings.marks:
        rows.append(
            (wording.one_line(mark.name), wording.number_text(mark.illuminance_lx), wording.number_text(float(fc_from_lx(mark.illuminance_lx))),
             wording.stops_text(mark.level_stops), wording.ratio_text(mark.ratio, mark.no_ratio, in_stops=True),
             wording.ratio_text(mark.key_to_fill, mark.no_ratio, in_stops=True), wording.percent_text(mark.transmittance),
             wording.reading_text("veil", mark.veil_stops), _split(mark, signs))
        )  # fmt: skip
    heads = (
        "Mark", "lx", "fc", "Stops", "(Key+fill) : fill", "Key : fill", "Clear", "Veil", "lx by source",
    )  # fmt: skip
    cheeks = "; on two cheeks lit : far" if any(mark.other_cheek for mark in readings.marks) else ""
    title = f"Expected readings at the marks (stops from middle grey; clear: light left at the lens{cheeks})"
    if not any(np.isfinite(mark.mix_kelvin) for mark in readings.marks):
        return _Table(title, heads, tuple(rows), wraps=(0, 8), right=(1, 2, 3, 4, 5, 6, 7))
    heads = heads[:8] + ("Colour",) + heads[8:]
    rows = [
        row[:8] + (mark.mix.words() if np.isfinite(mark.mix_kelvin) else "–",) + row[8:] for row, mark in zip(rows, readings.marks)
    ]
    return _Table(title, heads, tuple(rows), wraps=(0, 8, 9), right=(1, 2, 3, 4, 5, 6, 7))


def _spots(readings, width):
    levels = [(wording.stops_text(s.level_stops), wording.reading_text("beam_over", s.beam_over_stops)) for s in readings.spots]
    rows = [(wording.one_line(s.name), wording.number_text(s.luminance_cd_m2), *level) for s, level in zip(readings.spots, levels)]
    heads = ("Spot", "cd/m²", "Stops", "Beam over background")
    return _Table("Expected spot readings", heads, tuple(rows), wraps=(0,), right=(1, 2, 3), width=width)


def _targets(readings, width):
    rows = []
    for t in readings.targets:
        wanted = f"{wording.stops_text(t.wanted_stops)} ± {wording.number_text(t.within, figures=2)}"
        got = wording.reading_text(t.quantity, t.got_stops)
        rows.append((wording.one_line(t.of), wording.QUANTITIES[t.quantity][0], wanted, got, wording.verdict_text(t)))
    title = "Targets (stops)"
    if rows:
        missed = sum(not t.met for t in readings.targets)
        title += ": all met" if not missed else f": {missed} of {len(rows)} missed"
    return _Table(title, ("Of", "What", "Wanted", "Expected", ""), tuple(rows), wraps=(0,), right=(2, 3), width=width)


def _camera_lines(setup, units):
    cam = setup.camera
    angle = 2 * np.degrees(np.arctan(cam.sensor_width_mm / 2 / cam.focal_mm))
    mark = lit_mark(setup, cam)
    rows = [
        ("Lens", f"{cam.focal_mm:g} mm ({angle:.0f}° across) at {wording.t_stop_text(cam.t_stop)}"),
        ("Sensor", f"{cam.sensor_width_mm:g} x {cam.sensor_height_mm:g} mm, ISO {wording.number_text(cam.iso, figures=4)}"),
        ("Shutter", f"{cam.fps:g} fps, {cam.shutter_deg:g}°, {wording.shutter_text(cam.time_s)}"),
        ("Filter", wording.nd_text(cam.nd_stops)),
        ("Middle grey", wording.light_text(cam.reference_lx, units, both=True)),
        ("Holds", f"{wording.number_text(cam.range_over_stops)} stops over, {wording.number_text(cam.range_under_stops)} under"),
        *([("Balance", f"{cam.balance_kelvin:.0f} K")] if cam.balance_kelvin else []),
        ("Stands", _place_text(cam.at, units)),
    ]
    if mark is not None:
        away = wording.length_text(float(np.linalg.norm(np.subtract(cam.at, mark.at))), units=units)
        rows.append(("To mark", f"{away}, {wording.one_line(mark.name, most=30)}"))
    return rows


def _air_lines(setup, units):
    """Haze, sun, sky and the place, as far as there are any."""
    rows, place = [], setup.place
    k = setup.haze.extinction_per_m
    if k > 0:
        seen = float(visibility_from_extinction(extinction_per_m=k))
        loss = float(loss_percent_per_m(extinction_per_m=k))
        rows.append(("Haze", f"{wording.number_text(k)} /m, {wording.percent_text(loss / 100)} lost a metre"))
        rows.append(("Visibility", wording.distance_text(seen, units)))
    else:
        rows.append(("Haze", "none"))
    if setup.sun is not None:
        up = f"{abs(setup.sun.elevation_deg):.1f}° {'up' if setup.sun.elevation_deg >= 0 else 'under the horizon'}"
        square_on = wording.light_text(setup.sun.normal_lx, units, both=True)
        rows.append(("Sun", f"from {setup.sun.bearing_deg % 360:.0f}°, {up}, {square_on} square on"))
    if setup.sky is not None:
        rows.append(("Sky", f"{wording.light_text(float(setup.sky.horizontal_lx), units, both=True)} on open ground"))
    size = wording.size_text(*place.size_m[: 2 if isinstance(place, Exterior) else 3], units=units)
    rows.append(("Place", f"{wording.one_line(place.name, most=40)}, {size}"))
    if isinstance(place, Room):
        sides = ", ".join(f"{s} {getattr(place, s):g}" for s in ("floor", "ceiling", "left", "right", "near", "far"))
        rows.append(("Reflects", sides))
    return rows


def cautions(setup):
    """
    The usual cautions that apply to a setup, and only those.

    Parameters
    ----------
    setup : Setup

    Returns
    -------
    tuple of str
        One sentence or two each; local codes and licensed people decide.
    """
    kit = default_kit().lamp
    stands = setup.lights + setup.boards + setup.flags + setup.frames
    powered = [light for light in setup.lights if light.watts > 0]
    hot = [light for light in powered if light.kit not in kit or kit[light.kit].source != "led"]
    outside = [p for p in stands if isinstance(setup.place, Exterior) or not setup.place.contains(p.at)]
    applies = (
        (setup.haze.extinction_per_m > 0, HAZE_CAUTION),
        (powered, POWER_CAUTION),
        (hot, HEAT_CAUTION),
        (any(p.at[2] > 2.0 for p in stands), HEIGHT_CAUTION),
        (outside, OUTSIDE_CAUTION),
        (setup.sun is not None and setup.sun.elevation_deg > -1.0, SUN_CAUTION),
    )
    return tuple(words for when, words in applies if when)


# --- the page --------------------------------------------------------------------------------------


def plan_scale(setup, *, width_mm, height_mm, units="metric", margin_mm=PLAN_EDGE):
    """
    The largest usual scale at which a setup fits a box on paper.

    Parameters
    ----------
    setup : Setup
    width_mm, height_mm : float
        The box. [mm]
    units : {"metric", "feet"}
        1 : 50 and its kin, or inches to the foot.
    margin_mm : float, default 9
        Kept free on every side for dimension lines. [mm]

    Returns
    -------
    int
        The n of 1 : n. [1]
    """
    room = np.maximum(np.array([width_mm, height_mm]) - 2 * margin_mm, 5.0)
    least = float(np.max(1000 * plan.plan_size_m(setup) / room))
    return next((n for n in SCALES[units] if n >= least), SCALES[units][-1])


def _blocks(setup, readings, units):
    """Tables and words in reading order."""
    half = (WIDE - 4.0) / 2
    notes = [setup.notes] if setup.notes.strip() else []
    if setup.cuts_to:
        notes.append(f"Must match setup {setup.cuts_to} across the cut.")
    blocks = [_lights(setup, units), _boards(setup, units), _marks(setup, readings)]
    if readings.spots and readings.targets:
        blocks.append(_Pair(_spots(readings, half), _targets(readings, half)))
    else:
        blocks += [_spots(readings, WIDE), _targets(readings, WIDE)]
    words = tuple(wording.one_line(n, most=900) for n in notes)
    if words and cautions(setup):
        left, right = 0.36 * WIDE - 2.0, 0.64 * WIDE - 2.0
        blocks.append(_Pair(_Words("Notes", words, left), _Words("Cautions", cautions(setup), right)))
    else:
        blocks += [_Words("Notes", words), _Words("Cautions", cautions(setup))]
    return blocks


def _ladder_height(readings):
    """Room for the rows of words a ladder of so many ticks needs. [mm]"""
    return min(34.0 + 0.6 * max(0, len(readings.ladder()) + len(readings.targets) - 10), 44.0)


def _fit(blocks, fixed_mm):
    """Blocks, type size and their height: the largest type that leaves room for a plan; then rows go."""
    free = PAGE_H - 2 * EDGE - fixed_mm
    for least, smallest in ROOM:
        for size in (s for s in SIZES if s >= smallest):
            if _total(blocks, size) + least <= free:
                return blocks, size, _total(blocks, size)
    for most in range(40, 0, -1):  # the lights, first of the blocks, keep twice as many rows
        short = [b.cut(most if i else 2 * most) if hasattr(b, "cut") else b for i, b in enumerate(blocks)]
        if _total(short, SIZES[-1]) + ROOM[-1][0] <= free or most == 1:
            return short, SIZES[-1], _total(short, SIZES[-1])


def _total(blocks, size):
    return sum(b.height(size) + 2.2 for b in blocks if b.height(size))


@contextmanager
def _plain_look():
    """The reader's own matplotlib settings must not change what is printed; type measures as the PDF sets it."""
    ours = {"pdf.fonttype": 42, "font.family": "DejaVu Sans", "text.hinting": "no_hinting"}
    with style.context("default"), matplotlib.rc_context(ours):
        yield


def setup_page(shoot, setup, readings, picture, *, units=None):
    """
    The page of one setup as a figure of A4 size.

    Parameters
    ----------
    shoot : Shoot
        Gives the film's title, the days and the units.
    setup : Setup
    readings : Readings
    picture : Picture
    units : {"metric", "feet"}, optional
        By default the shoot's.

    Returns
    -------
    matplotlib.figure.Figure
        210 x 297 mm. The axes labelled "plan" is to the scale that the page states.

    Raises
    ------
    ValueError
        If units are unknown.
    """
    units = wording.check_units(units or shoot.units)
    page, ladder_mm, header_mm = _Page(), _ladder_height(readings), 15.0
    blocks, size, total = _fit(_blocks(setup, readings, units), header_mm + ladder_mm + 8.0)
    free = PAGE_H - 2 * EDGE - header_mm - ladder_mm - 8.0 - total
    plan_mm = min(free, max(_plan_height(setup, free, units), _side_height(setup, units, size) + 38.0))
    _header(page, shoot, setup)
    y = EDGE + header_mm
    _plan_block(page, setup, readings, y, plan_mm, units, size)
    _side(page, setup, picture, y, plan_mm, units, size)
    y += plan_mm + 2.0
    for block in blocks:
        if block.height(size):
            block.draw(page, EDGE, y, size)
            y += block.height(size) + 2.2
    spare = free - plan_mm
    ladder_mm += min(spare, 8.0)
    _ladder_block(page, setup, readings, y, ladder_mm, units, size)
    _day_block(page, setup, y + ladder_mm + 4.0, spare - 12.0, size)
    page.text(EDGE, PAGE_H - EDGE + 1.0, _footer(setup), 5.0, va="bottom", color="#444444")
    return page.figure


def _plan_height(setup, free_mm, units):
    """No taller than the plan needs at the scale that the free height allows. [mm]"""
    scale = plan_scale(setup, width_mm=PLAN_W - 8.0, height_mm=free_mm - 14.0, units=units)
    return 1000 * plan.plan_size_m(setup)[1] / scale + 2 * PLAN_EDGE + 14.0


def _ladder_block(page, setup, readings, y, height, units, size):
    ax = page.axes(EDGE, y + 3.5, WIDE, height - 7.0, "ladder")  # axis figures and words below
    ladder.ladder(ax, readings, setup, units=units, size=min(size, 6.5))


def _day_block(page, setup, y, height, size):
    """Empty lines to write the meter's readings on, if paper is left."""
    rows = min(len(setup.marks) + len(setup.spots), int((height - 9.0) / 7.0))
    if rows < 1:
        return
    page.text(EDGE, y, "Metered on the day", size + 0.5, bold=True)
    heads, lefts = ("Where", "Reading", "Stops off", "What was moved"), EDGE + np.array([0.0, 48.0, 84.0, 112.0])
    y += 1.3 * _leading(size)
    for head, x in zip(heads, lefts):
        page.text(x, y, head, size, bold=True)
    y += _leading(size) + 0.4
    page.rule(EDGE, PAGE_W - EDGE, y, 0.6)
    for part in (setup.marks + setup.spots)[:rows]:
        y += 7.0
        page.text(EDGE, y - 0.8, wording.one_line(part.name, most=30), size, va="bottom")
        page.rule(EDGE, PAGE_W - EDGE, y, 0.2, "#999999")


def _header(page, shoot, setup):
    top = EDGE
    day = f"Day {setup.day} of {max(shoot.days, setup.day)}"
    page.text(EDGE, top, wording.one_line(shoot.title, most=80), 9.0, color="#333333")
    page.text(PAGE_W - EDGE, top, day, 9.0, ha="right", color="#333333")
    title = f"{wording.one_line(setup.name, most=60)}  {wording.one_line(setup.title, most=300)}"
    for size in (14.0, 12.0, 10.5, 9.0):
        if _width_mm(title, size, True) <= WIDE:
            break
    lines = _wrap(title, size, WIDE, True)
    if len(lines) > 2:
        size = 7.5
        lines = _wrap(title, size, WIDE, True)[:2]
    for k, line in enumerate(lines):
        page.text(EDGE, top + 4.6 + k * 1.15 * size * PT, line, size, bold=True)
    page.rule(EDGE, PAGE_W - EDGE, top + 12.8, 1.0)


def _footer(setup):
    return (
        "Calculated from the plan, not measured: trust the meter. Places are from the lower left corner of the plan at "
        "floor level; distances on the plan lie along the floor, in tables straight through the air."
    )


def _plan_block(page, setup, readings, y, height, units, size):
    box_w, box_h = PLAN_W - 8.0, height - 14.0
    scale = plan_scale(setup, width_mm=box_w, height_mm=box_h, units=units)
    ax = page.axes(EDGE + 8.0, y, box_w, box_h, "plan")
    plan.plan(ax, setup, units=units, scale=scale, readings=readings, size=min(max(size - 0.5, 5.5), 6.5))
    _scale_bar(page, EDGE + 8.0, y + height - 4.6, scale, units, size)


def _scale_bar(page, x, y, scale, units, size):
    """A bar of whole metres or feet, 20 to 60 mm long, and the scale in words."""
    unit = 1.0 if units == "metric" else FT
    mm = 1000 * unit / scale
    count = next((c for c in (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000) if c * mm >= 18), 5000)
    for k in range(2):
        page.box(x + k * count * mm / 2, y, count * mm / 2, 1.3, "black" if k == 0 else "white")
    page.text(x, y + 1.8, "0", size - 1, ha="center")
    page.text(x + count * mm, y + 1.8, f"{count} {'m' if units == 'metric' else 'ft'}", size - 1, ha="center")
    words = f"Scale 1:{scale}"
    if units == "feet" and scale in INCHES_TO_FOOT:
        words += f" ({INCHES_TO_FOOT[scale]} to 1 ft)"
    page.text(x + count * mm + 8.0, y - 0.7, f"{words}, printed at 100 % on A4", size, bold=True)


def _side_lines(setup, units, size):
    """Title or (name, line) for every line of the side column."""
    found = []
    for title, rows in (("Camera", _camera_lines(setup, units)), ("Air and place", _air_lines(setup, units))):
        found.append((title, None))
        for name, words in rows:
            lines = _wrap(words, size, SIDE_W - 2.7 * size)
            found += [(name if k == 0 else "", line) for k, line in enumerate(lines)]
    return found


def _side_height(setup, units, size):
    return _leading(size) * sum(1.5 if line is None else 1.0 for _, line in _side_lines(setup, units, size))


def _side(page, setup, picture, y, height, units, size):
    """Picture, camera, air, in the column beside the plan; the words shrink before the picture goes."""
    while size > 4.0 and _side_height(setup, units, size) > height - 30.0:
        size -= 0.5
    rows, cols = picture.luminance_cd_m2.shape
    room = (height - _side_height(setup, units, size) - 9.0) / 1.085
    pic_w = min(SIDE_W, max(room, 10.0) * cols / rows)
    pic_h = pic_w * rows / cols
    x, caption = EDGE + PLAN_W + GAP, f"Expected luminance; grey is {wording.number_text(picture.reference_cd_m2)} cd/m²"
    picture_figures.picture(page.axes(x, y + 2.6, pic_w, pic_h, "picture"), picture, size=5.5, caption=caption)
    y += 2.6 + 1.085 * pic_h + 6.4
    for name, line in _side_lines(setup, units, size):
        if line is None:
            page.text(x, y + 0.3 * _leading(size), name, size + 0.5, bold=True)
            y += 1.5 * _leading(size)
            continue
        page.text(x, y, name, size, color="#444444")
        page.text(x + 2.6 * size, y, line, size)
        y += _leading(size)


def _pdf_bytes(figure, title):
    """The figure as a PDF without dates, so that the same page is the same bytes."""
    stream = BytesIO()
    about = {"CreationDate": None, "Creator": "lightcalc", "Producer": None, "Title": title}
    figure.savefig(stream, format="pdf", metadata=about)
    return stream.getvalue()


def setup_sheet(shoot, setup, path, *, readings=None, picture=None, units=None):
    """
    Write the page of one setup: one A4 PDF.

    Parameters
    ----------
    shoot : Shoot
        Gives the film's title, the days and the units.
    setup : Setup
    path : str or Path
        The file to write; replaced if it is there.
    readings : Readings, optional
        By default computed at final quality.
    picture : Picture, optional
        By default computed at final quality.
    units : {"metric", "feet"}, optional
        By default the shoot's.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    ValueError
        If units are unknown.
    OSError
        If the file cannot be written.
    """
    if readings is None or picture is None:
        readings, picture = _answers(setup, readings, picture)
    with _plain_look():
        figure = setup_page(shoot, setup, readings, picture, units=units)
        data = _pdf_bytes(figure, f"{wording.one_line(shoot.title)}: {wording.one_line(setup.name)}")
    path = Path(path)
    path.write_bytes(data)
    return path


def _answers(setup, readings, picture):
    """Readings and picture from one preparation of the light."""
    from lightcalc.answers import readings as meter
    from lightcalc.engine import picture as view  # compiled code: only when it is needed
    from lightcalc.engine.solve import light

    lit = light(setup)
    readings = meter.readings(setup, lit=lit) if readings is None else readings
    return readings, view.picture(setup, lit=lit) if picture is None else picture


def all_sheets(shoot, folder, *, units=None):
    """
    Write the page of every setup, in shooting order.

    Parameters
    ----------
    shoot : Shoot
    folder : str or Path
        Made if it is not there.
    units : {"metric", "feet"}, optional
        By default the shoot's.

    Returns
    -------
    list of Path
        `01_2a.pdf` and so on: order, then the setup's name in plain letters.

    Raises
    ------
    ValueError
        If units are unknown.
    OSError
        If a file cannot be written.
    """
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    return [
        setup_sheet(shoot, setup, folder / f"{i:02d}_{_file_name(setup.name)}.pdf", units=units)
        for i, setup in enumerate(shoot.setups, 1)
    ]


def _file_name(name):
    """Letters, figures and underscores only: a name in a file never leaves the folder."""
    plain = "".join(c.lower() if c.isascii() and c.isalnum() else "_" for c in name)
    return "_".join(filter(None, plain.split("_")))[:40] or "setup"
