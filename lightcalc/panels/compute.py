"""What a stage computes with, what of it can be kept, and how fine a draft may be."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from lightcalc.answers.readings import Tick
    from lightcalc.engine.solve import Lit
    from lightcalc.scene.parts import Setup

LIGHTING = (
    "place",
    "lights",
    "boards",
    "flags",
    "frames",
    "pieces",
    "haze",
    "sun",
    "sky",
)  # the light depends on these, and on people
STEP_PX = 32  # a draft's width changes by so much at a time
GRADES = {"draft": 1.0, "brisk": 0.72, "hasty": 0.52}  # how fine a draft is, and what it takes of the first one's time


@dataclass(frozen=True)
class Engine:
    """What the stage computes with: `light(setup)`, `readings(setup)`, `picture(setup)`, `veils(lit)` and their options."""

    light: Callable
    readings: Callable
    picture: Callable
    veils: Callable | None = None

    @classmethod
    def default(cls) -> Engine:
        """The package's own; brought in late so that the compiled parts load when first used."""
        from lightcalc.answers import readings as meter
        from lightcalc.engine import picture as view
        from lightcalc.engine import solve

        return cls(light=solve.light, readings=meter.readings, picture=view.picture, veils=veils)


def veils(lit: Lit) -> tuple[Tick, ...]:
    """
    The veil at foreground, middle ground and background along the middle of the picture.

    Parameters
    ----------
    lit : solve.Lit

    Returns
    -------
    tuple of readings.Tick
        In stops from middle grey; none for a plane without a veil. A quarter, half and all of the way to what the
        line ends on, as in `depth.layers`, but without its second setup in clear air, so quick enough for a draft.
    """
    from lightcalc.answers import depth
    from lightcalc.answers.readings import Tick
    from lightcalc.engine.picture import sight_line

    _, ray = lit.pixel_ray(0.5, 0.5)
    end_m, reference = sight_line(lit, ray).reach_m, lit.setup.camera.reference_cd_m2
    planes = zip(depth.PLANES, (0.25, 0.5, 1.0))
    seen = [(name, sight_line(lit, ray, to_m=share * end_m).air_cd_m2) for name, share in planes]
    return tuple(Tick(f"veil at {name}", math.log2(veil / reference), "veil") for name, veil in seen if veil > 0.0)


def relit(lit: Lit | None, setup: Setup) -> Lit | None:
    """
    Light that is already worked out, for another setup that it does for.

    Parameters
    ----------
    lit : solve.Lit or None
    setup : Setup

    Returns
    -------
    solve.Lit or None
        None where the setup changes the light; camera, spots and plain marks do not.

    Notes
    -----
    Parts are compared by identity: a move keeps all that it does not touch.
    """
    old = getattr(lit, "setup", None)
    if lit is None or old is None or not all(getattr(old, name) is getattr(setup, name) for name in LIGHTING):
        return None
    figures, others = ([mark for mark in one.marks if mark.figure] for one in (old, setup))
    same = len(figures) == len(others) and all(a is b for a, b in zip(figures, others)) and old.source_names == setup.source_names
    return replace(lit, setup=setup) if same else None


def next_width(width: int, took_s: float, may_s: float, most: int) -> int:
    """
    How wide the next draft is, so that the picture follows the hand on a slow machine too.

    Parameters
    ----------
    width : int
        Of the draft that was just made. [pixels]
    took_s, may_s : float
        What its picture took, and what it may take. [s]
    most : int
        Full width; half of it is the least. [pixels]

    Returns
    -------
    int
        One step less, the same, or one step more.

    Examples
    --------
    >>> next_width(320, 0.046, 0.017, 320), next_width(288, 0.010, 0.017, 320), next_width(160, 0.046, 0.017, 320)
    (288, 320, 160)
    """
    may_s = max(may_s, 0.01)
    if took_s > 1.15 * may_s:
        return max(most // 2, width - STEP_PX) if width > most // 2 else width
    wider = min(most, width + STEP_PX)
    return wider if took_s * (wider / width) ** 2 < 0.9 * may_s else width  # time grows with the area, at most


def next_grade(grade: str, took_s: Sequence[float], may_s: float) -> str:
    """
    How finely the next draft is worked out, so that numbers follow the hand on a slow machine too.

    Parameters
    ----------
    grade : str
        Of GRADES.
    took_s : sequence of float
        What light and readings took of the drafts of that grade in a row, the last at the end. [s]
    may_s : float
        What they may take. [s]

    Returns
    -------
    str
        The next coarser grade where two in a row took longer, for one may be chance; the next finer one where that would not.

    Examples
    --------
    >>> next_grade("draft", [0.05, 0.05], 0.02), next_grade("draft", [0.05], 0.02), next_grade("hasty", [0.05, 0.05], 0.02)
    ('brisk', 'draft', 'hasty')
    >>> next_grade("brisk", [0.011, 0.010], 0.02), next_grade("brisk", [0.012, 0.018], 0.02)
    ('draft', 'brisk')
    """
    names, k = list(GRADES), list(GRADES).index(grade)
    if len(took_s) < 2:
        return grade
    if min(took_s[-2:]) > may_s:
        return names[min(k + 1, len(names) - 1)]
    finer = names[max(k - 1, 0)]
    return finer if max(took_s[-2:]) * GRADES[finer] / GRADES[grade] < 0.9 * may_s else grade
