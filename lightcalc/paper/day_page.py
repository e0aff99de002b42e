"""A page a day: the clock, the sun, setups in their order with their windows, the air, the power, and the cautions of them all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from lightcalc.answers.circuits import ASSUMED as POWER_ASSUMED
from lightcalc.answers.circuits import setup_load
from lightcalc.answers.haze_course import AirError
from lightcalc.answers.haze_plan import AIR_CAUTION, air_plan
from lightcalc.answers.shoot_order import ASSUMED, Clash, DayOrder, Slot
from lightcalc.answers.shot_list import clock_text
from lightcalc.drawing.day_strip import day_strip
from lightcalc.laws.haze import HAZE_CAUTION
from lightcalc.laws.power import POWER_CAUTION
from lightcalc.paper.blocks import Table, Words
from lightcalc.paper.frame import Head, framed
from lightcalc.paper.page import Page, leading, paper_of
from lightcalc.paper.rig_blocks import cautions
from lightcalc.scene.parts import Setup
from lightcalc.scene.shoot import Shoot
from lightcalc.sky.positions import events, polar_note
from lightcalc.wording import DASH, number_text, one_line, percent_text

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FOOT = "Calculated from the plan and the almanac, not measured; the sky decides. Times are the clock's of the place."
ROW_MM, AXIS_MM, NAMES_MM = 6.2, 5.0, 14.0  # of the strip: a setup's row, the clock under it, the names left of it


@dataclass(frozen=True)
class Strip:
    """The day's bars as a block of the page."""

    slots: Sequence[Slot]
    where: Any
    date: Any
    width: float

    def height(self, size: float) -> float:
        """
        Its height with head and clock. [mm]

        Parameters
        ----------
        size : float
            [pt]
        """
        return 1.2 * leading(size) + ROW_MM * len(self.slots) + AXIS_MM

    def draw(self, page: Page, x: float, y: float, size: float) -> None:
        """
        Draw it.

        Parameters
        ----------
        page : Page
        x, y : float
            Its upper left corner. [mm]
        size : float
            [pt]
        """
        sky = "; grey behind: twilight and night" if self.where is not None and self.date is not None else ""
        page.text(x, y, "The day (hatched: prepare, black: shoot, frame: open to it" + sky + ")", size + 0.5, bold=True)
        tall = ROW_MM * len(self.slots)
        ax = page.axes(x + NAMES_MM, y + 1.2 * leading(size), self.width - NAMES_MM - 1.0, tall, "day")
        day_strip(ax, self.slots, where=self.where, date=self.date, size=size - 0.5)


def day_pages(shoot: Shoot, order: DayOrder, *, rests: Sequence[Clash] = (), paper: str = "a4") -> list[Figure]:
    """
    The pages of one day, in the person's own order.

    Parameters
    ----------
    shoot : Shoot
    order : shoot_order.DayOrder
    rests : sequence of shoot_order.Clash
        Nights before and after it that are too short.
    paper : {"a4", "letter"}

    Returns
    -------
    list of matplotlib.figure.Figure
        One where it fits.
    """
    area = paper_of(paper)
    setups = [slot.shot.setup for slot in order.own.slots]
    date = shoot.dates[order.day - 1] if shoot.dates else None
    head = Head(
        over=shoot.title, when=f"call {clock_text(order.call)}, wrap {clock_text(order.own.wrap)}",
        title=f"Day {order.day} of {max(shoot.days, order.day)}{f', {date:%A} {date}' if date else ''}", foot=FOOT,
    )  # fmt: skip
    blocks = [
        _sun(shoot, date, area.wide), Strip(order.own.slots, shoot.where, date, area.wide), _setups(order, area.wide),
        _clashes(order, rests, area.wide), _air(shoot, setups, area.wide), _power(shoot, setups, area.wide),
        Words("Cautions", _cautions(shoot, setups), area.wide), Words("Assumed", (ASSUMED, POWER_ASSUMED, *order.notes), area.wide),
    ]  # fmt: skip
    return framed(blocks, head, area)


def _sun(shoot, date, width):
    """Twilights, sun and moon, two rows: what and when."""
    if shoot.where is None or date is None:
        return Words("Sun", ("No place or date in the file: no sun and no windows are known.",), width)
    found = events(shoot.where, date)
    note = polar_note(shoot.where, date)
    if not found:
        return Words("Sun", (note,), width)
    short = lambda name: name.replace("astronomical", "astron.").replace("the horizon line", "horizon")  # noqa: E731
    words = " · ".join(f"{event.text} {short(event.name)}" for event in found)
    return Words("Sun and moon", (words, note) if note else (words,), width)


def _setups(order, width):
    rows = []
    for slot in order.own.slots:
        shot, setup = slot.shot, slot.shot.setup
        open_to = ", ".join(f"{clock_text(a)} to {clock_text(b)}" for a, b in shot.windows or ())
        open_to = open_to or ("at no time" if shot.windows == () else "any time")
        first = f"; after {', '.join(one_line(name, most=20) for name in shot.after)}" if shot.after else ""
        rows.append((
            one_line(setup.name, most=20), one_line(setup.title, most=80), one_line(setup.place.name, most=40),
            clock_text(slot.prepare), one_line(slot.what, most=90), clock_text(slot.ready), f"{clock_text(slot.start)} to {clock_text(slot.end)}",
            open_to + first,
        ))  # fmt: skip
    heads = ("Setup", "Title", "Place", "From", "Prepare", "Ready", "Shoot", "Light is there")
    return Table("Setups in order", heads, tuple(rows), wraps=(1, 2, 4, 6, 7), width=width)


def _clashes(order, rests, width):
    """What cannot be, and what the best order would save."""
    said = [f"{clash.line[0].upper()}{clash.line[1:]}." for clash in (*order.own.clashes, *rests)] or ["None."]
    if order.best.names != order.own.names:
        names = ", ".join(one_line(name, most=20) for name in order.best.names)
        sure = "The best of all orders" if order.exact else "A better order (not proven the best)"
        said.append(f"{sure}: {names}; wrap {clock_text(order.best.wrap)}. It saves {order.saves}.")
    return Words("Clashes", tuple(said), width)


def _air(shoot, setups, width):
    rows = []
    for setup in setups:
        if setup.haze.extinction_per_m <= 0:
            continue
        try:
            plan = air_plan(shoot, setup)
        except AirError as error:
            rows.append(
                (one_line(setup.name, most=20), one_line(setup.place.name, most=40), *[DASH] * 4, one_line(str(error), most=90))
            )
            continue
        build = f"{plan.build_min:.0f} min" if plan.build_min < 1e5 else "never"
        over = [held.limit.measure for held in plan.held if held.over]
        breathed = f"OVER: {', '.join(dict.fromkeys(over))}" if over else "under the limits for 8 h"
        rows.append((
            one_line(setup.name, most=20), one_line(setup.place.name, most=40), f"{number_text(plan.extinction_per_m)} /m",
            build, f"{percent_text(plan.hold_share)}, {number_text(plan.hold_fluid_g_per_h, figures=2)} g/h",
            f"{plan.open_purge_min:.0f} min", breathed,
        ))  # fmt: skip
    heads = ("Setup", "Room", "Haze", "Builds in", "Holds at", "Airs, doors open", "Breathed, if kept up all day")
    return Table("Haze", heads, tuple(rows), wraps=(1, 6), right=(2, 3, 5), width=width)


def _power(shoot, setups, width):
    rows = []
    for setup in setups:
        load = setup_load(shoot, setup)
        for circuit in load.circuits:
            if circuit.lights:
                on = ", ".join(one_line(name, most=40) for name in circuit.lights)
                state = (
                    f"OVER by {number_text(circuit.over_amps)} A" if circuit.over else f"{number_text(-circuit.over_amps)} A left"
                )
                name = one_line(circuit.name, most=40) + ("" if load.declared else " (not in the file)")
                rows.append(
                    (
                        one_line(setup.name, most=20),
                        name,
                        on,
                        f"{number_text(circuit.amps)} of {number_text(circuit.most_amps)} A",
                        state,
                    )
                )
        if load.homeless:
            rows.append(
                (one_line(setup.name, most=20), "none", ", ".join(one_line(n, most=40) for n in load.homeless), DASH, load.would)
            )
        for plug in load.plugs:
            if plug.battery_h == plug.battery_h:
                rows.append(
                    (
                        one_line(setup.name, most=20),
                        "battery",
                        one_line(plug.light, most=40),
                        f"{number_text(plug.watts)} W",
                        f"about {number_text(plug.battery_h, figures=2)} h",
                    )
                )
    heads = ("Setup", "Circuit", "Lamps", "80 % of the breaker", "")
    return Table("Power", heads, tuple(rows), wraps=(1, 2, 4), right=(3,), width=width)


def _cautions(shoot: Shoot, setups: Sequence[Setup]) -> tuple[str, ...]:
    """Of all setups, each once; where haze is planned, the longer one of the air."""
    found = list(dict.fromkeys(words for setup in setups for words in cautions(setup)))
    found = [AIR_CAUTION if words == HAZE_CAUTION else words for words in found]
    return tuple(found) or (POWER_CAUTION,)
