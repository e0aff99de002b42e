"""Two setups that are to match across a cut: where their shared marks and spots differ, and what brings one to the other."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from lightcalc.answers.readings import MarkReading, Readings, SpotReading, readings
from lightcalc.laws.colour import mired_from_kelvin
from lightcalc.scene.parts import Setup, Target
from lightcalc.units import stops
from lightcalc.wording import one_line, plain, ratio_text, reading_text, shutter_text, signed, stops_text

TOLERANCE_STOPS = 1.0 / 3.0
TOLERANCE_MIRED = 20.0  # COMMON PRACTICE: an eighth of a full correction gel, the least that is put on to match two shots
CALLED = {
    "level": "level", "ratio": "ratio", "veil": "veil", "colour": "colour", "beam_over": "over background", "blur": "blur",
}  # fmt: skip


@dataclass(frozen=True)
class Difference:
    """One quantity of one mark or spot in two setups."""

    of: str  # a mark or spot, or camera
    quantity: str  # one of CALLED
    first: str  # what each reads, in words
    second: str
    difference: float  # second less first, in stops; of a colour in mired; NaN where one of them says nothing
    flagged: bool

    def line(self) -> str:
        """In words."""
        said = f"  {one_line(self.of)} {CALLED[self.quantity]}: {self.first}, then {self.second}"
        if not np.isfinite(self.difference):
            return said + (": not compared" if not self.flagged else ": DOES NOT MATCH")
        by = f"{signed(self.difference)} mired" if self.quantity == "colour" else f"{stops_text(self.difference)} stops"
        return f"{said}: {by}" + (", DOES NOT MATCH" if self.flagged else "")


@dataclass(frozen=True)
class Cut:
    """A cut from one setup to another."""

    first: str
    second: str
    differences: tuple[Difference, ...]

    @property
    def matches(self) -> bool:
        """Whether nothing is flagged."""
        return not any(one.flagged for one in self.differences)

    def lines(self) -> list[str]:
        """As plain text, stops to a tenth."""
        flagged = sum(one.flagged for one in self.differences)
        said = "they match" if not flagged else f"{flagged} of {len(self.differences)} do not match"
        return [f"cut from {self.first} to {self.second}, within a third of a stop: {said}", *(d.line() for d in self.differences)]

    def as_json(self) -> dict[str, Any]:
        """As plain data."""
        return {"from": self.first, "to": self.second, "matches": self.matches, "differences": plain(self.differences)}


def compare_setups(first: Setup, second: Setup, *, read: tuple[Readings, Readings] | None = None) -> Cut:
    """
    Compare two setups at the marks and spots that both have, by name, and their cameras' blur.

    Parameters
    ----------
    first, second : Setup
        In the order of the cut.
    read : (Readings, Readings), optional
        Their readings, where they are already worked out.

    Returns
    -------
    Cut
        Marks by level, ratio, veil and colour; spots by level and by the beam over what is behind it. What differs by more than
        a third of a stop, or by more than 20 mired, is flagged. Where one setup gives a quantity and the other does not (no fill, no light),
        that is a difference too.

    Raises
    ------
    ValueError
        If the setups share no mark and no spot.
    """
    one, other = read or (readings(first), readings(second))
    found = [row for a in one.marks for b in other.marks if a.name == b.name for row in _marks(a, b)]
    found += [row for a in one.spots for b in other.spots if a.name == b.name for row in _spots(a, b)]
    if not found:
        raise ValueError(
            f"setups '{first.name}' and '{second.name}' share no mark or spot: give what is compared the same name in both, "
            f"such as {_some(first)} or {_some(second)}"
        )
    times = first.camera.time_s, second.camera.time_s
    found.append(_row("camera", "blur", [shutter_text(time_s) for time_s in times], [float(stops(time_s)) for time_s in times]))
    return Cut(first.name, second.name, tuple(found))


def matched_targets(first: Setup, second: Setup, *, read: Readings | None = None) -> Setup:
    """
    The second setup with the first one's readings for targets, wherever both have the mark or spot.

    Parameters
    ----------
    first, second : Setup
    read : Readings, optional
        The first one's, where they are already worked out.

    Returns
    -------
    Setup
        For `advise`: levels, fills and beams within a third of a stop; its own targets are put aside.
    """
    read = read or readings(first)
    marks, spots = ({part.name for part in parts} for parts in (second.marks, second.spots))
    targets = []
    for part in (*read.marks, *read.spots):
        if part.name not in (marks if isinstance(part, MarkReading) else spots):
            continue
        for quantity in ("level", "fill_under", "beam_over"):
            wanted = float(getattr(part, f"{quantity}_stops", np.nan))
            no_ratio = isinstance(part, MarkReading) and part.no_ratio and quantity == "fill_under"
            if np.isfinite(wanted) and not no_ratio:
                targets.append(Target(of=part.name, quantity=quantity, stops=round(wanted, 2), within=TOLERANCE_STOPS))
    return replace(second, targets=tuple(targets))


def _some(setup):
    names = [part.name for part in setup.marks + setup.spots][:2]
    return ", ".join(f"'{one_line(name)}'" for name in names) or "a mark"


def _marks(a: MarkReading, b: MarkReading) -> Iterator[Difference]:
    for quantity in ("level", "veil"):
        yield _level(a, b, quantity)
    ratios = [np.nan if mark.no_ratio else mark.ratio_stops for mark in (a, b)]
    yield _row(a.name, "ratio", [ratio_text(mark.ratio, mark.no_ratio) for mark in (a, b)], ratios)
    kelvins = [mark.mix_kelvin for mark in (a, b)]
    if np.isfinite(kelvins).any():
        said = [f"{kelvin:.0f} K" if np.isfinite(kelvin) else "not known" for kelvin in kelvins]
        mired = [float(mired_from_kelvin(kelvin=kelvin)) if np.isfinite(kelvin) else np.nan for kelvin in kelvins]
        yield _row(a.name, "colour", said, mired, TOLERANCE_MIRED)


def _spots(a: SpotReading, b: SpotReading) -> Iterator[Difference]:
    yield _level(a, b, "level")
    if a.source and b.source:
        yield _level(a, b, "beam_over")


def _level(a, b, quantity):
    values = [float(getattr(part, f"{quantity}_stops")) for part in (a, b)]
    return _row(a.name, quantity, [reading_text(quantity, value) for value in values], values)


def _row(of, quantity, said, values, tolerance=TOLERANCE_STOPS):
    """Flagged over the tolerance; and where one setup has a value and the other has none."""
    there = np.isfinite(values)
    difference = float(values[1] - values[0]) if there.all() else np.nan
    flagged = there.any() and (not there.all() or abs(difference) > tolerance + 1e-9)
    return Difference(of, quantity, *said, difference, bool(flagged))
