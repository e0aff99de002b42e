"""
The printed pages of a setup, as one PDF: what rigs it (plan and side view to scale, camera, tape, lights), then what meters it.

Everything is black on white with a second cue beside each colour, so it survives a grey printer and a
wet pocket. The same setup gives the same bytes: no date of today, no clock.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from lightcalc import __version__, wording
from lightcalc.answers.ahead import Ahead
from lightcalc.drawing import ladder, picture_figures, plan
from lightcalc.drawing.symbols import extent
from lightcalc.paper import meter_blocks, rig_blocks
from lightcalc.paper.blocks import Words, flow
from lightcalc.paper.page import EDGE, PT, Page, leading, paper_of, pdf_bytes, plain_look, width_mm, wrap
from lightcalc.scene.parts import Exterior, Setup
from lightcalc.units import FT

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from lightcalc.answers.readings import Readings
    from lightcalc.engine.picture import Picture
    from lightcalc.scene.shoot import Shoot

SIDE_W, GAP, AXIS = 64.0, 4.0, 8.0  # the column of words, clear beside it, and the figures left of a drawing. [mm]
PLAN_EDGE, SIDE_EDGE = 9.0, 4.0  # round plan and side view, for dimension lines and labels. [mm]
UNDER = 14.0  # axis figures and scale bar under the plan; as much goes to figures and name of the side view. [mm]
HEADER, FOOTER, BETWEEN = 15.0, 3.0, 2.2  # [mm]
SIZES = (7.5, 7.0, 6.5)  # type, largest that needs no page more. [pt]
DRAWN = (180.0, 160.0, 140.0, 120.0, 100.0)  # height of both drawings, largest that needs no page more. [mm]
UNITS = (*wording.UNITS, "both")
SCALES = {
    "metric": (
        5, 10, 20, 25, 50, 75, 100, 125, 150, 200, 250, 300, 400, 500, 750, 1000, 1500, 2000, 2500, 5000, 10000, 20000,
        50000, 100000,
    ),
    "feet": (6, 12, 24, 48, 96, 120, 192, 240, 360, 480, 600, 720, 1200, 2400, 3600, 6000, 12000, 24000, 60000, 120000),
}  # fmt: skip
INCHES_TO_FOOT = {6: "2 in", 12: "1 in", 24: "1/2 in", 48: "1/4 in", 96: "1/8 in", 192: "1/16 in"}
FOOT = (
    "Calculated from the plan, not measured: trust the meter. Lengths along the floor, heights from it; focus through the air. "
    "Lit air is drawn past people and furniture."
)


def _units(units):
    """What is drawn and said first, and whether lengths are said in the other too."""
    if units not in UNITS:
        raise ValueError(f"units must be one of {', '.join(UNITS)}, got {units!r}")
    return ("metric" if units == "both" else units), units == "both"


def plan_scale(setup: Setup, *, width_mm: float, height_mm: float, units: str = "metric", margin_mm: float = PLAN_EDGE) -> int:
    """
    The largest usual scale at which a setup's plan fits a box on paper.

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
    return _usual(float(np.max(1000 * plan.plan_size_m(setup) / room)), units)


def _usual(least, units):
    return next((n for n in SCALES[units] if n >= least * (1 - 1e-9)), SCALES[units][-1])


@dataclass(frozen=True)
class _Drawings:
    """Plan and, under it, the view from the side: widths and heights on paper at one scale. [m, mm]"""

    setup: object
    units: str
    width_mm: float

    @property
    def _size_m(self):
        """Across, up the plan, and up the side view."""
        (x0, _), (x1, _) = extent(self.setup, (0, 1))[0], extent(self.setup, (0, 1))[1]
        low, high = extent(self.setup, (0, 2))
        return max(x1 - x0, high[0] - low[0]), plan.plan_size_m(self.setup)[1], high[1] - low[1]

    def heights_mm(self, scale):
        """Of both boxes with what stands under them."""
        _, deep, high = self._size_m
        return 1000 * deep / scale + 2 * PLAN_EDGE + UNDER, 1000 * high / scale + 2 * SIDE_EDGE + UNDER

    def scale(self, height_mm):
        """The largest usual scale at which both fit a height."""
        across, deep, high = self._size_m
        down = max(height_mm - 2 * (PLAN_EDGE + SIDE_EDGE + UNDER), 5.0)
        return _usual(1000 * max(across / max(self.width_mm - AXIS - 2 * PLAN_EDGE, 5.0), (deep + high) / down), self.units)

    def wanted_mm(self, free_mm):
        """No higher than they need at the scale that the free height allows."""
        return sum(self.heights_mm(self.scale(free_mm)))

    def draw(self, page, readings, y, height_mm, size):
        """Both, and the scale bar between them; spare height goes to the plan."""
        scale = self.scale(height_mm)
        side_mm = self.heights_mm(scale)[1]
        plan_mm, x, wide = height_mm - side_mm, EDGE + AXIS, self.width_mm - AXIS
        type_pt = min(max(size - 0.5, 5.5), 6.5)
        ax = page.axes(x, y, wide, plan_mm - UNDER, "plan")
        plan.plan(ax, self.setup, units=self.units, scale=scale, readings=readings, size=type_pt)
        _scale_bar(page, x, y + plan_mm - 5.6, scale, self.units, size)
        y += plan_mm
        edge = "edge" if isinstance(self.setup.place, Exterior) else "wall"
        page.text(EDGE, y, f"From the near {edge}, same scale", size, bold=True)
        ax = page.axes(x, y + 4.0, wide, side_mm - UNDER, "side")
        plan.elevation(ax, self.setup, units=self.units, scale=scale, size=type_pt)


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
    page.text(x + count * mm + 8.0, y - 0.7, words, size, bold=True)
    page.text(x + count * mm + 8.0, y + 2.2, f"printed at 100 % on {page.paper.name}", size - 1)


@dataclass(frozen=True)
class _Side:
    """Picture, camera, day and air, in the column beside the drawings."""

    groups: tuple  # (title, rows of (name, words))
    picture: object
    width: float = SIDE_W

    def _lines(self, size):
        """(title, None), or (name, line), for every line."""
        found = []
        for title, rows in self.groups:
            found.append((title, None))
            for name, words in rows:
                lines = wrap(words, size, self.width - 2.7 * size)
                found += [(name if k == 0 else "", line) for k, line in enumerate(lines)]
        return found

    def words_mm(self, size):
        return leading(size) * sum(1.5 if line is None else 1.0 for _, line in self._lines(size))

    def wanted_mm(self, size):
        """With the picture as wide as the column."""
        rows, cols = self.picture.luminance_cd_m2.shape
        return self.words_mm(size) + 1.085 * min(self.width * rows / cols, 60.0) + 9.0

    def draw(self, page, x, y, height_mm, size):
        rows, cols = self.picture.luminance_cd_m2.shape
        room = max((height_mm - self.words_mm(size) - 9.0) / 1.085, 12.0)
        pic_w = min(self.width, room * cols / rows)
        pic_h = pic_w * rows / cols
        caption = f"Expected luminance; grey is {wording.number_text(self.picture.reference_cd_m2)} cd/m²"
        picture_figures.picture(page.axes(x, y + 2.6, pic_w, pic_h, "picture"), self.picture, size=5.5, caption=caption)
        y += 2.6 + 1.085 * pic_h + 6.4
        for name, line in self._lines(size):
            if line is None:
                page.text(x, y + 0.3 * leading(size), name, size + 0.5, bold=True)
                y += 1.5 * leading(size)
                continue
            page.text(x, y, name, size, color="#444444")
            page.text(x + 2.6 * size, y, line, size)
            y += leading(size)


@dataclass(frozen=True)
class _Ladder:
    """The stop ladder as a block of the page."""

    readings: object
    setup: object
    units: str
    width: float

    def height(self, size):
        """Room for the rows of words that so many ticks need; none where nothing is read. [mm]"""
        if not self.readings.ladder():
            return 0.0
        return min(34.0 + 0.6 * max(0, len(self.readings.ladder()) + len(self.readings.targets) - 10), 44.0)

    def draw(self, page, x, y, size):
        """Figures and words of its axis stand below."""
        ax = page.axes(x, y + 3.5, self.width, self.height(size) - 12.0, "ladder")
        ladder.ladder(ax, self.readings, self.setup, units=self.units, size=min(size, 6.5))


def _rig(shoot, setup, readings, units, both, wide):
    """What is needed to build it."""
    look = dict(both=both, width=wide)
    return [
        rig_blocks.tape(setup, units, **look), rig_blocks.lights(shoot, setup, units, **look), rig_blocks.boards(setup, readings, units, **look),
        rig_blocks.notes(setup, units, width=wide), Words("Cautions", rig_blocks.cautions(setup), wide),
    ]  # fmt: skip


def _meter(setup, readings, units, both, wide):
    """What is needed to meter it."""
    return [
        meter_blocks.marks(setup, readings, width=wide), meter_blocks.spots_and_targets(readings, width=wide), _Ladder(readings, setup, units, wide),
        meter_blocks.day_block(setup, readings, units, both=both, width=wide),
    ]  # fmt: skip


def _dealt(rig, meter, side, drawings, paper):
    """Blocks of each page and the type size: no page more than needed, then the largest type, then the largest drawings."""
    later, fewest, best = paper.tall - HEADER - FOOTER, np.inf, None
    for size in SIZES:
        for most in DRAWN:
            first = later - max(drawings.wanted_mm(most), side.wanted_mm(size)) - BETWEEN
            pages = flow(rig + meter, size, first, later)
            if len(pages) > 1:  # what meters the setup begins a page, if what rigs it fits on the first
                built = flow(rig, size, first, later)
                left = later - sum(block.height(size) + BETWEEN for block in built[-1]) if len(built) > 1 else 0.0
                read = flow(meter, size, left, later)
                pages = [*built[:-1], built[-1] + read[0], *read[1:]]
            if len(pages) < fewest:
                fewest, best = len(pages), (pages, size)
    return best


def setup_pages(
    shoot: Shoot, setup: Setup, readings: Readings, picture: Picture, *, units: str | None = None, paper: str = "a4"
) -> list[Figure]:
    """
    The pages of one setup as figures of the paper's size.

    Parameters
    ----------
    shoot : Shoot
        Gives the film's title, the days, the mains and the units.
    setup : Setup
    readings : Readings
    picture : Picture
    units : {"metric", "feet", "both"}, optional
        By default the shoot's; "both" is metric with feet in brackets wherever a tape is used.
    paper : {"a4", "letter"}

    Returns
    -------
    list of matplotlib.figure.Figure
        The axes labelled "plan" and "side" of the first are to the scale that it states.

    Raises
    ------
    ValueError
        If units or paper are unknown.
    """
    (units, both), area = _units(units or shoot.units), paper_of(paper)
    groups = (
        ("Camera", meter_blocks.camera_lines(setup, units, both=both)),
        ("Light, air and place", meter_blocks.air_lines(shoot, setup, units)),
    )
    side, drawings = _Side(groups, picture), _Drawings(setup, units, area.wide - SIDE_W - GAP)
    rig = _rig(shoot, setup, readings, units, both, area.wide)
    dealt, size = _dealt(rig, _meter(setup, readings, units, both, area.wide), side, drawings, area)
    return [
        _page(shoot, setup, readings, blocks, (number, len(dealt)), size, area, (drawings, side) if number == 1 else None)
        for number, blocks in enumerate(dealt, 1)
    ]


def _page(shoot, setup, readings, blocks, number, size, paper, front):
    """One page: head, drawings on the first, blocks, foot; spare height goes to the drawings, then between the blocks."""
    page, y = Page(paper), EDGE + HEADER
    _header(page, shoot, setup)
    spare = paper.tall - HEADER - FOOTER - sum(block.height(size) + BETWEEN for block in blocks)
    if front:
        drawings, side = front
        height = min(spare - BETWEEN, max(drawings.wanted_mm(spare - BETWEEN), side.wanted_mm(size)))
        drawings.draw(page, readings, y, height, size)
        side.draw(page, EDGE + paper.wide - SIDE_W, y, height, size)
        y, spare = y + height + BETWEEN, spare - height - BETWEEN
    apart = min(spare / max(len(blocks), 1), 3.0)
    for block in blocks:
        block.draw(page, EDGE, y, size)
        y += block.height(size) + BETWEEN + apart
    _footer(page, number)
    return page.figure


def _header(page, shoot, setup):
    top, right = EDGE, page.paper.width - EDGE
    when = meter_blocks.when_words(shoot, setup)
    page.text(right, top, when, 8.0, ha="right", color="#333333")
    title = wrap(wording.one_line(shoot.title, most=80), 9.0, page.paper.wide - width_mm(when, 8.0) - 4.0)[0]
    page.text(EDGE, top, title, 9.0, color="#333333")
    title = f"{wording.one_line(setup.name, most=60)}  {wording.one_line(setup.title, most=300)}"
    wide = page.paper.wide
    one = (size for size in (14.0, 12.0, 10.5, 9.0) if width_mm(title, size, True) <= wide)
    size = next(one, 7.5 if len(wrap(title, 7.5, wide, True)) <= 2 else 6.0)
    lines = wrap(title, size, wide, True)
    for k, line in enumerate(lines):
        page.text(EDGE, top + 4.6 + k * 1.15 * size * PT, line, size, bold=True)
    page.rule(EDGE, right, top + 12.8, 1.0)


def _footer(page, number):
    foot, look = page.paper.height - EDGE + 1.0, dict(va="bottom", color="#444444")
    page.text(EDGE, foot, FOOT, 5.0, **look)
    page.text(page.paper.width - EDGE, foot, f"lightcalc {__version__}, page {number[0]} of {number[1]}", 6.0, ha="right", **look)


def setup_sheet(
    shoot: Shoot,
    setup: Setup,
    path: str | Path,
    *,
    readings: Readings | None = None,
    picture: Picture | None = None,
    units: str | None = None,
    paper: str = "a4",
) -> Path:
    """
    Write the pages of one setup as one PDF.

    Parameters
    ----------
    shoot : Shoot
        Gives the film's title, the days, the mains and the units.
    setup : Setup
    path : str or Path
        The file to write; replaced if it is there.
    readings : Readings, optional
        By default computed at final quality.
    picture : Picture, optional
        By default computed at final quality.
    units : {"metric", "feet", "both"}, optional
        By default the shoot's.
    paper : {"a4", "letter"}

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    ValueError
        If units or paper are unknown.
    OSError
        If the file cannot be written.
    """
    given = {setup.name: (readings, picture)}
    return setup_sheets(shoot, (setup,), path, units=units, paper=paper, given=given)


def setup_sheets(
    shoot: Shoot,
    setups: Sequence[Setup],
    path: str | Path,
    *,
    units: str | None = None,
    paper: str = "a4",
    given: dict | Ahead | None = None,
) -> Path:
    """
    Write the pages of several setups as one PDF.

    Parameters
    ----------
    shoot : Shoot
    setups : sequence of Setup
    path : str or Path
        The file to write; replaced if it is there.
    units : {"metric", "feet", "both"}, optional
        By default the shoot's.
    paper : {"a4", "letter"}
    given : dict or Ahead, optional
        Readings and picture of setups for which they are known, by name, None for either that is not; or begun already.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    ValueError
        If units or paper are unknown.
    OSError
        If the file cannot be written.
    """
    _units(units or shoot.units), paper_of(paper)  # before the light is worked out
    answers = given if isinstance(given, Ahead) else Ahead(setups, given)
    with plain_look():
        figures = [
            page for setup in setups for page in setup_pages(shoot, setup, *answers.get(setup.name), units=units, paper=paper)
        ]
        names = ", ".join(wording.one_line(setup.name) for setup in setups)
        data = pdf_bytes(figures, f"{wording.one_line(shoot.title)}: {names}")
    path = Path(path)
    path.write_bytes(data)
    return path
