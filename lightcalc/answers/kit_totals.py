"""What the truck carries: lamps, boards, cloths, gels, stands, cable, batteries and fluid, for a day and for the shoot."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from lightcalc.answers.circuits import setup_load
from lightcalc.answers.haze_course import AirError
from lightcalc.answers.haze_plan import air_plan
from lightcalc.kit.materials import ROW_OF, Kit, default_kit
from lightcalc.scene.parts import Setup
from lightcalc.scene.shoot import Shoot
from lightcalc.wording import number_text, one_line, plain, size_text

if TYPE_CHECKING:
    from lightcalc.answers.shoot_order import ShootOrder, Slot

LARGE_M = 1.5  # a board, flag or frame wider or higher stands on two
HIGH_M = 2.0  # above, a stand takes two bags
CABLE_STEP_M = 5.0
LAP = 1.25  # spare of what is used up
KINDS = ("lamp", "board", "frame", "flag", "gel", "diffusion", "stand", "sandbag", "cable", "battery", "fluid")
ASSUMED = (
    "Counts are the most that one setup asks for, for what goes on to the next. Stands and bags are implied, common practice: one stand a "
    f"lamp, board, flag or frame, two for one of the last three over {LARGE_M:g} m; one bag a stand, two over {HIGH_M:g} m of height. Cable is the sum of a setup's runs, each "
    f"rounded up to {CABLE_STEP_M:g} m. Fluid and batteries are used up: a day's need and a quarter more. What stands in a hand, on a table or on "
    "a wall still counts one stand. Grip, spares, safety wires, tape and distribution are not in it."
)


@dataclass(frozen=True)
class Item:
    """One thing on the list."""

    kind: str  # of KINDS
    name: str
    count: float
    unit: str  # "" for pieces; m, g
    setups: tuple[str, ...]  # that ask for it
    rests_on: str  # what the number rests on

    @property
    def count_words(self) -> str:
        """How many."""
        return f"{number_text(self.count, figures=4)}{' ' * bool(self.unit)}{self.unit}"

    def line(self) -> str:
        """One line of text."""
        return f"{self.count_words} x {self.name}" if not self.unit else f"{self.count_words}, {self.name}"


@dataclass(frozen=True)
class Totals:
    """What is carried for some setups."""

    title: str
    items: tuple[Item, ...]
    notes: tuple[str, ...] = ()

    def lines(self) -> list[str]:
        """The list as plain text."""
        rows = [f"{self.title}:"]
        return (
            rows + [f"  {item.kind}: {item.line()} ({item.rests_on})" for item in self.items] + [f"  {note}" for note in self.notes]
        )

    def as_json(self) -> dict[str, Any]:
        """The list as plain data."""
        return plain(self)


def setup_items(shoot: Shoot, setup: Setup, *, kit: Kit | None = None) -> list[Item]:
    """
    What one setup asks for, without what is used up.

    Parameters
    ----------
    shoot : Shoot
    setup : Setup
    kit : materials.Kit, optional
        Where evidence is looked up; the package's without it.

    Returns
    -------
    list of Item
    """
    rows = [*_lamps(setup, kit or default_kit()), *_boards(setup), *_over_lamps(setup), *_stands(setup), *_cables(shoot, setup)]
    counts: Counter = Counter()
    rests: dict[tuple[str, str, str], str] = {}
    for kind, name, count, unit, why in rows:
        counts[kind, name, unit] += count
        rests.setdefault((kind, name, unit), why)
    return [Item(kind, name, count, unit, (setup.name,), rests[kind, name, unit]) for (kind, name, unit), count in counts.items()]


def _lamps(setup, kit):
    for light in setup.lights:
        if light.kit:
            lamp = kit.lamp.get(light.kit)
            yield "lamp", light.kit, 1, "", f"kit: {lamp.evidence}" if lamp else "the crew's own kit"
        else:
            yield "lamp", light.name, 1, "", light.evidence or "its own numbers, as typed"


def _boards(setup):
    for board in setup.boards:
        yield "board", f"{board.stuff.name}, {size_text(board.width_m, board.height_m)}", 1, "", "as planned"
    for frame in setup.frames:
        yield "frame", f"{frame.diffusion.name}, {size_text(frame.width_m, frame.height_m)}", 1, "", "as planned"
    for flag in setup.flags:
        yield "flag", f"black, {size_text(flag.width_m, flag.height_m)}", 1, "", "as planned"


def _over_lamps(setup):
    """Gels and diffusion on lamps, and a sheer over a window is the room's own."""
    for light in setup.lights:
        for kind in ("gel", "diffusion"):
            part = getattr(light, kind)
            if part is not None:
                for sheet in part.name.split(ROW_OF):
                    yield kind, f"{sheet}, for {light.kit or light.name}", 1, "", "as planned"


def _stands(setup):
    """Stands and their bags, implied."""
    for part in setup.lights + setup.boards + setup.frames + setup.flags:
        large = max(getattr(part, "width_m", 0.0), getattr(part, "height_m", 0.0)) > LARGE_M
        count = 2 if large else 1
        yield "stand", "stand", count, "", "implied, common practice"
        yield "sandbag", "sandbag", count * (2 if part.at[2] > HIGH_M else 1), "", "implied, common practice"


def _cables(shoot, setup):
    for plug in setup_load(shoot, setup).plugs:
        if plug.cable_m == plug.cable_m:
            run = CABLE_STEP_M * math.ceil(plug.cable_m / CABLE_STEP_M - 1e-9)
            why = "as typed" if plug.cable_typed else "assumed: square along the floor from the nearest socket"
            yield "cable", f"cable, {number_text(shoot.cable_mm2)} mm²", run, "m", why


def _used_up(shoot, setup, slot):
    """Fluid and battery hours of a setup: haze is held while it waits and is shot, and first filled where its air takes time."""
    rows, notes, minutes = [], [], slot.shot.minutes
    held_min, building = minutes + slot.idle_min, slot.air_min > 0
    if setup.haze.extinction_per_m > 0:
        try:
            plan = air_plan(shoot, setup)
            if math.isfinite(plan.build_min):
                grams = plan.build_fluid_g * building + plan.hold_fluid_g_per_h * held_min / 60.0
                rows.append(
                    (
                        "fluid",
                        f"haze fluid, {plan.machine.fluid}",
                        LAP * grams,
                        "g",
                        "the machine's numbers, and rooms evenly mixed",
                    )
                )
            else:
                notes.append(f"setup {one_line(setup.name, most=60)}: the machine never gets its room so thick; fluid not counted")
        except AirError as error:
            notes.append(f"setup {one_line(setup.name, most=60)}: fluid not counted: {error}")
    for plug in setup_load(shoot, setup).plugs:
        if plug.battery_h == plug.battery_h:
            light = setup.part(plug.light)
            need = LAP * minutes / 60.0 / plug.battery_h
            rows.append(
                (
                    "battery",
                    f"{number_text(light.battery_wh)} Wh, for {light.kit or light.name}",
                    need,
                    "",
                    "full output while shooting; 80 % usable, common practice",
                )
            )
    return rows, notes


def totals(shoot: Shoot, slots: Sequence[Slot], title: str, *, kit: Kit | None = None) -> Totals:
    """
    What some setups, shot one after the other, need on the truck.

    Parameters
    ----------
    shoot : Shoot
    slots : sequence of shoot_order.Slot
        In their order; they say how long each is shot and where the air has to be filled.
    title : str
    kit : materials.Kit, optional
        Where evidence is looked up; the package's without it.

    Returns
    -------
    Totals
        Of what goes on from setup to setup the most that one asks; of what is used up the sum.
    """
    best: dict[tuple, Item] = {}
    spent: dict[tuple, Item] = {}
    notes: list[str] = []
    for slot in slots:
        setup = slot.shot.setup
        for item in setup_items(shoot, setup, kit=kit):
            key, was = (item.kind, item.name, item.unit), best.get((item.kind, item.name, item.unit))
            users = (*(was.setups if was else ()), setup.name)
            best[key] = Item(
                *key[:2], max(item.count, was.count if was else 0), item.unit, users, was.rests_on if was else item.rests_on
            )
        rows, said = _used_up(shoot, setup, slot)
        notes += said
        for kind, name, count, unit, why in rows:
            was = spent.get((kind, name))
            users = (*(was.setups if was else ()), setup.name)
            spent[kind, name] = Item(kind, name, count + (was.count if was else 0.0), unit, users, why)
    whole = [Item(i.kind, i.name, math.ceil(i.count - 1e-9), i.unit, i.setups, i.rests_on) for i in spent.values()]
    items = sorted([*best.values(), *whole], key=lambda item: (KINDS.index(item.kind), item.name))
    return Totals(title, tuple(items), tuple(dict.fromkeys(notes)))


def shoot_totals(shoot: Shoot, order: ShootOrder, *, kit: Kit | None = None) -> tuple[Totals, tuple[Totals, ...]]:
    """
    Totals of the whole shoot, and of each day.

    Parameters
    ----------
    shoot : Shoot
    order : shoot_order.ShootOrder
    kit : materials.Kit, optional
        Where evidence is looked up; the package's without it.

    Returns
    -------
    (Totals, tuple of Totals)
    """
    slots = [slot for day in order.days for slot in day.own.slots]
    days = tuple(totals(shoot, day.own.slots, f"Day {day.day}", kit=kit) for day in order.days)
    return totals(shoot, slots, "The whole shoot", kit=kit), days
