"""What there is to light with: every lamp, board stuff, cloth, gel and surface, its main number and what that rests on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from lightcalc.kit.candela import Lambert
from lightcalc.kit.materials import Kit, Lamp
from lightcalc.laws.falloff import rectangle_factor
from lightcalc.scene.own_kit import KitBeside
from lightcalc.units import FT
from lightcalc.wording import light_text, number_text, percent_text, signed

LAMP_AT_M = 3.0
OWN = "*"
HEADS = {
    "lamp": "lamps: light {at} in front, on the axis, at full",
    "stuff": "board stuffs: reflectance",
    "diffusion": "diffusions and nets: stops lost",
    "gel": "gels: stops lost, mired shift (plus is warmer)",
    "surface": "surfaces: reflectance",
}


@dataclass(frozen=True)
class Row:
    """One thing of the kit, with its main number."""

    kind: str
    name: str
    value: float  # lx at 3 m for a lamp, stops lost for what light goes through, else reflectance
    shift_mired: float  # of a gel; NaN for anything else
    tint: str  # of a gel: green, magenta or nothing
    evidence: str
    own: bool
    note: str


def lux_before(lamp: Lamp, *, at_m: float = LAMP_AT_M) -> float:
    """
    Illuminance straight in front of a lamp at full. [lx]

    Parameters
    ----------
    lamp : materials.Lamp
    at_m : float, default 3
        From its face, > 0. [m]

    Returns
    -------
    float
        [lx]

    Notes
    -----
    A spot or a measured lamp by I / d2; an even face by its configuration factor, which is less when it is near.

    Examples
    --------
    >>> from lightcalc.kit.materials import lamp
    >>> round(lux_before(lamp("1 kW tungsten spot")))
    1278
    """
    if isinstance(lamp.beam, Lambert) and lamp.face_width_m > 0.0:
        area = lamp.face_width_m * lamp.face_height_m
        factor = rectangle_factor(width_m=lamp.face_width_m, height_m=lamp.face_height_m, distance_m=at_m)
        return float(np.pi * lamp.beam.peak_cd / area * factor)  # E = pi L F, L = I / A
    return lamp.beam.peak_cd / at_m**2


def kit_rows(beside: KitBeside) -> tuple[Row, ...]:
    """
    Every thing of a kit, by kind.

    Parameters
    ----------
    beside : own_kit.KitBeside

    Returns
    -------
    tuple of Row
        In the kit's order, own things last.
    """
    value = {"lamp": lux_before, "diffusion": lambda one: one.loss_stops, "gel": lambda one: one.loss_stops}
    return tuple(
        Row(
            kind, name, float(value.get(kind, lambda one: one.reflectance)(one)), getattr(one, "mired_shift", np.nan),
            getattr(one, "tint", ""), one.evidence, name in getattr(beside.own, kind), one.note,
        )
        for kind in (one.name for one in fields(Kit))
        for name, one in getattr(beside.whole, kind).items()
    )  # fmt: skip


def kit_lines(rows: Sequence[Row], units: str = "metric") -> list[str]:
    """
    The kit as plain text.

    Parameters
    ----------
    rows : sequence of Row
    units : {"metric", "feet"}, default "metric"

    Returns
    -------
    list of str
        A heading for each kind, then a line for each thing; what is the crew's own is starred.
    """
    wide = max((len(row.name) for row in rows), default=0) + 2
    at = f"{LAMP_AT_M:g} m" if units == "metric" else f"{LAMP_AT_M / FT:.1f} ft"
    lines: list[str] = []
    for kind, head in HEADS.items():
        of_kind = [row for row in rows if row.kind == kind]
        lines += [*([""] if lines else []), head.format(at=at)] if of_kind else []
        lines += [f"{OWN if row.own else ' '} {row.name:{wide}}{_main(row, units):>22}  {row.evidence}" for row in of_kind]
    return lines + (["", f"{OWN} your own"] if any(row.own for row in rows) else [])


def _main(row, units):
    """The main number in words."""
    if row.kind == "lamp":
        return light_text(row.value, units)
    if row.kind in ("diffusion", "gel"):
        shift = f", {signed(row.shift_mired)} mired" if row.kind == "gel" and row.shift_mired else ""
        return number_text(row.value, figures=2) + shift + (f", {row.tint}" if row.tint else "")
    return percent_text(row.value)


def kit_json(rows: Sequence[Row]) -> list[dict]:
    """
    The kit as plain data, units in the key names.

    Parameters
    ----------
    rows : sequence of Row

    Returns
    -------
    list of dict
    """
    key = {"lamp": f"lux_at_{LAMP_AT_M:g}_m", "diffusion": "loss_stops", "gel": "loss_stops"}
    return [
        {"kind": row.kind, "name": row.name, key.get(row.kind, "reflectance"): row.value, "evidence": row.evidence, "own": row.own}
        | ({"mired_shift": row.shift_mired, "tint": row.tint or None} if row.kind == "gel" else {})
        | {"note": row.note}
        for row in rows
    ]
