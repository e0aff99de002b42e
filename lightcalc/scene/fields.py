"""
What a field of the set may hold: kind, unit, range and hint, held on the field itself.

    iso: float = holds("number", 800.0, above=0.9, high=10_000_000.0)

A part's check when made, the keys of a shoot file, what the stage may change, the starter file's notes and every error
message follow from that one line.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import MISSING, dataclass, field, fields
from functools import cache
from typing import Any, ClassVar, NamedTuple, Self

import numpy as np

MOST = 64  # things of one kind in a setup: a bound, so that a file cannot ask for a million
REACH_M = 2_000.0  # nothing stands further out than this
LONGEST = {"name": 60, "text": 300, "notes": 20_000}  # characters
NUMBERS = ("number", "length", "share", "t_stop", "dim")


class Fault(NamedTuple):
    """One sentence about one field: where it is, seen from the thing, and what else it rests on, as paths."""

    sentence: str
    path: tuple = ()
    rests: tuple = ()


class SceneError(ValueError):
    """A setup that cannot be: a sentence for each fault, with the thing, the field, the value and what would do."""

    def __init__(self, *faults: Fault | str) -> None:
        self.faults = tuple(fault if isinstance(fault, Fault) else Fault(fault) for fault in faults)
        super().__init__("\n".join(fault.sentence for fault in self.faults))


# words ..............................................................................


def show(value: object) -> str:
    """
    A value as a person would write it, short however large or deep it is; what has no print is shown by number.

    Examples
    --------
    >>> show("be" + chr(7) + "ll"), show([1, 2.5, "x"]), show(True)
    ("'be(U+0007)ll'", "[1, 2.5, 'x']", 'true')
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        short = value if len(value) <= 40 else value[:37] + "..."
        return "'" + "".join(c if c.isprintable() else f"(U+{ord(c):04X})" for c in short) + "'"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, (list, tuple)):
        plain = len(value) <= 6 and all(isinstance(v, (int, float, str)) for v in value)
        return f"[{', '.join(show(v) for v in value)}]" if plain else f"a list of {len(value)}"
    if isinstance(value, int):
        return "a very large number" if abs(value) >= 10**15 else str(value)
    if isinstance(value, (float, np.floating)):
        return f"{value:g}"
    return str(value) if value is None or isinstance(value, (dt.date, dt.time, np.number)) else f"a {type(value).__name__}"


# what a field may hold ....................................................................


def is_number(value: object) -> bool:
    """Whether it is a number and not a truth value; it may still be no finite one."""
    return isinstance(value, (int, float, np.number)) and not isinstance(value, bool)


def _listed(value, good):
    return isinstance(value, (list, tuple, np.ndarray)) and all(good(v) for v in value)


def _row(value):
    return _listed(value, is_number) and len(value) == 2


_GOOD = {
    **dict.fromkeys(NUMBERS, is_number),
    **dict.fromkeys(LONGEST, lambda value: isinstance(value, str)),
    "whole": lambda value: is_number(value) and value % 1 == 0,
    "yes": lambda value: isinstance(value, bool),
    "point": lambda value: _listed(value, is_number) and len(value) == 3,
    "aim": lambda value: isinstance(value, str) or (_listed(value, is_number) and len(value) == 3),
    "names": lambda value: _listed(value, lambda v: isinstance(v, str)),
    "dates": lambda value: _listed(value, lambda v: type(v) is dt.date),
    "rows": lambda value: _listed(value, _row),
    "points": lambda value: _listed(value, lambda v: _listed(v, is_number) and len(v) == 3),
}
WORDS = {
    **dict.fromkeys(NUMBERS, "a number"), "whole": "a whole number", "yes": "True or False", "name": "a text", "text": "a text",
    "notes": "a text", "point": "three metres [x, y, z]", "aim": "three metres [x, y, z] or the name of a mark",
    "names": "a tuple of names", "dates": "a tuple of dates", "rows": "rows of two numbers",
    "points": "rows of three metres [x, y, z]",
}  # fmt: skip


@dataclass(frozen=True)
class Way:
    """
    Another way in which a file may say a field: its keys, all of them together.

    `read(typed, part)` gives the field's value from the typed numbers and the part's other values, `write(part, style)`
    the numbers to type, or None where the file, whose keys are `style`, does not say it so.
    """

    keys: dict[str, Quantity]
    read: Callable | None = None
    write: Callable | None = None


@dataclass(frozen=True, kw_only=True)
class Quantity:
    """Kind, unit, limits and hint of one field; `off` is the number that stands for "not given"."""

    kind: str
    unit: str = ""
    low: float | None = None
    above: float | None = None
    high: float | None = None
    below: float | None = None
    off: float | None = None
    hint: str = ""
    choices: tuple[str, ...] = ()
    of: tuple[type, ...] = ()  # of a field that holds a part: what it may be
    ways: tuple[Way, ...] = ()
    in_file: bool = True  # whether a file may give it under its own name
    on_stage: bool = False  # whether a hand may change it there
    default: Any = ...  # an ellipsis: it must be given

    @property
    def limits(self) -> str:
        """The range in words, with its unit; empty where there is none."""
        signs = ((">=", self.low), (">", self.above), ("<=", self.high), ("<", self.below))
        text = " and ".join(f"{sign} {limit:.12g}" for sign, limit in signs if limit is not None)
        text += f" {self.unit}" * bool(text and self.unit)
        return text if self.off is None else f"{self.off:g} (not given) or {text}"

    def wanted(self, words: dict[str, str] = WORDS) -> str:
        """
        What would be accepted.

        Parameters
        ----------
        words : dict of str, optional
            What each kind is called: in Python, when not given.

        Returns
        -------
        str
        """
        if self.choices:
            return f"one of {', '.join(self.choices)}"
        if self.kind not in words:
            kinds = " or ".join(one.__name__ for one in self.of)
            return f"a tuple of {kinds}" if self.kind == "many" else f"a {kinds}"
        return words[self.kind] if self.kind in ("point", "points", "aim") else f"{words[self.kind]} {self.limits}".rstrip()

    def wrong(self, name: str, value: object) -> str | None:
        """
        What is wrong with a value.

        Parameters
        ----------
        name : str
            The field.
        value : object
            What it was given.

        Returns
        -------
        str or None
            A sentence without the thing's name: field, what would be accepted, value, hint. None if nothing is wrong.
        """
        if value is None and self.default is None:
            return None
        wanted, shown = self._refused(value)
        if wanted is None:
            return None
        return f"{name} must be {wanted}, got {shown}{': ' * bool(self.hint)}{self.hint}"

    def _refused(self, value):
        """What would be accepted and what came instead, in words; two Nones for a value that does."""
        kind = self.kind
        if self.choices:
            good = isinstance(value, str) and (value in self.choices or value == self.default == "")
        elif self.of:
            good = _listed(value, lambda v: isinstance(v, self.of)) if kind == "many" else isinstance(value, self.of)
        else:
            good = _GOOD[kind](value)
        if not good:
            count = kind == "point" and _listed(value, is_number) and f"{len(value)} numbers"
            return self.wanted(), count or show(value)
        if kind in LONGEST or (kind == "aim" and isinstance(value, str)):
            return _unsaid(kind if kind in LONGEST else "name", value)
        if kind == "names":
            return next((found for v in value if (found := _unsaid("text", v))[0]), (None, None))
        if kind in NUMBERS or kind in ("whole", "point", "aim"):
            return next(
                (found for v in (value if kind in ("point", "aim") else (value,)) if (found := self._outside(v))[0]), (None, None)
            )
        if kind == "points":
            return next((found for v in np.ravel(value) if (found := self._outside(v))[0]), (None, None))
        return None, None

    def _outside(self, number):
        if not abs(number) < 1e15:  # nor is NaN
            return "a finite number", show(number)
        low = (self.low is None or number >= self.low) and (self.above is None or number > self.above)
        high = (self.high is None or number <= self.high) and (self.below is None or number < self.below)
        return (None, None) if number == self.off or (low and high) else (self.limits, show(number))

    def tidy(self, value: Any) -> Any:
        """A value that does, as the part holds it: tuples for lists, plain numbers for numpy's."""
        if self.kind == "point" or (self.kind == "aim" and type(value) in (tuple, list, np.ndarray)):
            return tuple(float(v) for v in value)
        if self.kind == "points":
            return tuple(tuple(float(v) for v in point) for point in value)
        if self.kind == "rows":
            return tuple(tuple(row) for row in value)
        if self.kind in ("names", "dates", "many"):
            return tuple(value)
        if self.kind == "whole":
            return int(value)
        return value.item() if isinstance(value, np.number) else value


def _unsaid(kind, value):
    """Why a text does not do: empty, too long, or with characters that nobody can see."""
    most = LONGEST[kind]
    if kind == "name" and not (value.strip() and len(value) <= most):
        return f"a text of 1 to {most} characters", show(value)
    if len(value) > most:
        return f"at most {most:,} characters", show(value)
    if not all(c.isprintable() or (kind == "notes" and c in "\n\t") for c in value):
        return "text without control characters", show(value)
    return None, None


def holds(kind: str, default: object = ..., **about: Any) -> Any:
    """
    A field of a part, with what it may hold.

    Parameters
    ----------
    kind : str
        One of `WORDS`, or "one" and "many" for fields that hold parts.
    default : object, optional
        Without it the field must be given; None is then accepted too.
    **about
        The other fields of `Quantity`.

    Returns
    -------
    dataclasses.Field
    """
    quantity = Quantity(kind=kind, default=default, **about)
    return field(default=MISSING if default is ... else default, metadata={"quantity": quantity})


@cache
def quantities(part: Any) -> dict[str, Quantity]:
    """The quantities of a class of parts, by field: {name: Quantity}."""
    return {one.name: one.metadata["quantity"] for one in fields(part)}


@cache
def keys(part: Any) -> dict[str, Quantity]:
    """What a file may say of a class of parts: {key: Quantity}, the other ways beside the field they stand for."""
    found: dict[str, Quantity] = {}
    for name, about in quantities(part).items():
        found |= {name: about} if about.in_file else {}
        for way in about.ways:
            found |= way.keys
    return found


class Part:
    """A part of the set: frozen, made by keywords; it checks itself when made, field by field and then as a whole."""

    kind: ClassVar[str] = ""

    def __post_init__(self):
        if faults := self.faults():
            raise SceneError(*faults)

    @classmethod
    def unchecked(cls, **values: Any) -> Self:
        """
        A part as it is given, to be asked for its `faults`.

        Parameters
        ----------
        **values
            Fields; those left out have their default.

        Returns
        -------
        Part
        """
        part = object.__new__(cls)
        for name, about in quantities(cls).items():  # type: ignore[arg-type]
            object.__setattr__(part, name, values.get(name, None if about.default is ... else about.default))
        return part

    def faults(self) -> list[Fault]:
        """What is wrong with it, a list of `Fault`; with its fields first, and as a whole only if they will do."""
        found, me = [], self.called
        for name, about in quantities(type(self)).items():  # type: ignore[arg-type]
            value = getattr(self, name)
            if wrong := about.wrong(name, value):
                found.append(Fault(f"{me}: {wrong}", (name,)))
            elif value is not None:
                object.__setattr__(self, name, about.tidy(value))
        return found or list(self._between(me))

    @property
    def called(self) -> str:
        """What errors call it: its kind, with its name if it has one."""
        name = getattr(self, "name", None)
        return self.kind if name is None else f"{self.kind} {show(name)}"

    def _between(self, me):
        """Faults that no field has alone."""
        return ()
