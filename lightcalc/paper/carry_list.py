"""The carry list on paper: what each day and the whole shoot need on the truck, with a box to tick, and what it rests on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from lightcalc.answers.kit_totals import ASSUMED, Totals, shoot_totals
from lightcalc.answers.shoot_order import ShootOrder
from lightcalc.kit.materials import Kit
from lightcalc.laws.power import HEAT_CAUTION, POWER_CAUTION
from lightcalc.paper.blocks import Table, Words
from lightcalc.paper.frame import Head, framed
from lightcalc.paper.page import paper_of
from lightcalc.paper.rig_blocks import HEIGHT_CAUTION
from lightcalc.scene.shoot import Shoot
from lightcalc.wording import count_text, one_line

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FOOT = "Counted from the plan: what a setup does not draw is not in it."
BOX = "☐"


def carry_pages(shoot: Shoot, order: ShootOrder, *, kit: Kit | None = None, paper: str = "a4") -> list[Figure]:
    """
    The pages of the carry list.

    Parameters
    ----------
    shoot : Shoot
    order : shoot_order.ShootOrder
    kit : materials.Kit, optional
        Where evidence is looked up; the package's without it.
    paper : {"a4", "letter"}

    Returns
    -------
    list of matplotlib.figure.Figure
    """
    area = paper_of(paper)
    whole, days = shoot_totals(shoot, order, kit=kit)
    head = Head(over=shoot.title, when=count_text(len(days), "day"), title="Carry list", foot=FOOT)
    notes = tuple(dict.fromkeys(note for part in (whole, *days) for note in part.notes))
    blocks = [_table(whole, days, area.wide), Words("Assumed", (ASSUMED, *notes), area.wide),
              Words("Cautions", (POWER_CAUTION, HEAT_CAUTION, HEIGHT_CAUTION), area.wide)]  # fmt: skip
    return framed(blocks, head, area)


def _table(whole: Totals, days: Sequence[Totals], width: float) -> Table:
    """A row a thing: how many in all and on each day, who asks for it, what it rests on; boxes for out and back."""
    by_day = [{(item.kind, item.name): item.count_words for item in day.items} for day in days][:5]
    rows, last = [], ""
    for item in whole.items:
        counts = [day.get((item.kind, item.name), "") for day in by_day]
        kind = item.kind if item.kind != last else ""
        last = item.kind
        asked = ", ".join(one_line(name, most=20) for name in dict.fromkeys(item.setups))
        rows.append((kind, one_line(item.name, most=80), item.count_words, *counts, asked, item.rests_on, BOX, BOX))
    heads = ("", "What", "All", *(day.title.replace("Day", "D") for day in days[:5]), "Setups", "Rests on", "Out", "Back")
    right, many = tuple(range(2, 3 + len(by_day))), 3 + len(by_day)
    foot = "" if len(days) <= 5 else f"Only the first five of {len(days)} days have a column of their own."
    return Table("What goes on the truck", heads, tuple(rows), wraps=(1, many, many + 1), right=right, width=width, foot=foot)
