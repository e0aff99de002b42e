"""What a small slip does to every reading: a third of a stop, a tenth more haze, half a metre, a board turned by ten degrees."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np

from lightcalc.answers.readings import Readings, judged, readings
from lightcalc.scene.parts import Room, SceneError, Setup
from lightcalc.wording import one_line, plain, stops_text, target_text

THIRD, HAZE_TIMES, AWAY_M, TURN_DEG = 1.0 / 3.0, 1.1, 0.5, 10.0
WORTH = 0.05  # stops under which an effect is not printed
SHOWN = ("level", "fill_under", "beam_over", "veil")


@dataclass(frozen=True)
class Effect:
    """What a slip does to one reading. [stops]"""

    of: str  # a mark or spot
    quantity: str  # one of SHOWN
    stops: float


@dataclass(frozen=True)
class Slip:
    """One small change, alone, and what follows."""

    said: str
    effects: tuple[Effect, ...]  # every reading that the setup gives, in one order
    lost: tuple[str, ...] = ()  # targets met by the plan and no longer
    cannot: str = ""  # why it was not tried

    @property
    def largest(self) -> float:
        """The largest effect, whichever way. [stops]"""
        return max((abs(one.stops) for one in self.effects), default=0.0)

    def line(self) -> str:
        """In words, effects of a twentieth of a stop and more."""
        if self.cannot:
            return f"  {self.said}: not tried, {self.cannot}"
        said = [f"{_called(one)} {stops_text(one.stops)}" for one in self.effects if abs(one.stops) >= WORTH]
        lost = f"; LOST: {', '.join(self.lost)}" if self.lost else ""
        return f"  {self.said}: {', '.join(said) or 'nothing to speak of'}{lost}"


@dataclass(frozen=True)
class Sensitivity:
    """A setup's readings against every small slip."""

    setup: str
    read: Readings
    slips: tuple[Slip, ...]

    def lines(self) -> list[str]:
        """As plain text, in stops."""
        return [f"{self.setup}: what a small slip does, each alone, in stops", *(slip.line() for slip in self.slips)]

    def as_json(self) -> dict[str, Any]:
        """As plain data, units in the key names."""
        return {
            "setup": self.setup,
            "slips": [
                {"change": slip.said, "cannot": slip.cannot, "targets_lost": list(slip.lost)} | plain({"effects": slip.effects})
                for slip in self.slips
            ],
        }


def sensitivity(
    setup: Setup, *, read: Readings | None = None, quality: str = "final", told: Callable[[float], Any] | None = None
) -> Sensitivity:
    """
    What a small slip does to every reading of a setup.

    Parameters
    ----------
    setup : Setup
    read : Readings, optional
        Final readings of it, where they are already worked out; effects are laid on them to judge the targets.
    quality : {'final', 'draft'}
        Of the runs. An effect is the difference of two runs alike; of drafts it may be 0.06 stop off.
    told : callable, optional
        Called with the share that is done, now and then.

    Returns
    -------
    Sensitivity
        Each lamp a third of a stop up, and half a metre further off; each board as far, and turned by ten degrees about its
        stand; the haze a tenth thicker; sun and sky a third of a stop up; the camera a third of a stop more open.

    Notes
    -----
    A lamp that is moved keeps its aim; one of even light goes down by the inverse square. What cannot stand where the slip puts
    it is said, not left out.
    """
    told = told or (lambda _: None)
    told(0.0)
    read = read or readings(setup)
    base = read if quality == "final" else readings(setup, quality=quality)
    trials = list(_trials(setup))
    slips = []
    for done, (said, change) in enumerate(trials, 1):
        try:
            after = readings(change(), quality=quality)
        except SceneError as error:
            slips.append(Slip(said, (), cannot=one_line(str(error))))
        else:
            slips.append(_slip(said, setup, read, _effects(base, after)))
        told(done / (len(trials) + 1))
    opened = (replace(one, stops=THIRD if one.quantity in ("level", "veil") else 0.0) for one in _effects(base, base))
    slips.append(_slip("the camera 1/3 stop more open", setup, read, tuple(opened)))
    told(1.0)
    return Sensitivity(setup.name, read, tuple(slips))


def _trials(setup) -> Iterator[tuple[str, Callable[[], Setup]]]:
    """Each slip in words, and how the setup with it is made."""
    for light in setup.lights:
        if light.output <= 0.0:
            continue
        name = one_line(light.name)
        yield f"{name} 1/3 stop up", partial(setup.with_part, light.name, metered_stops=light.metered_stops + THIRD)
        yield f"{name} {AWAY_M:g} m further off", partial(_further, setup, light)
    for board in setup.boards:
        name = one_line(board.name)
        yield f"{name} {AWAY_M:g} m further off", partial(_further, setup, board)
        yield f"{name} turned {TURN_DEG:g} degrees", partial(setup.with_part, board.name, aim=_turned(board))
    if setup.haze.extinction_per_m > 0.0:
        haze = replace(setup.haze, extinction_per_m=min(setup.haze.extinction_per_m * HAZE_TIMES, 10.0))
        yield "haze 10 % thicker", partial(replace, setup, haze=haze)
    if setup.sun is not None or setup.sky is not None:
        times = 2.0**THIRD
        sun = setup.sun and replace(setup.sun, normal_lx=min(setup.sun.normal_lx * times, 150_000.0))
        yield "sun and sky 1/3 stop up", partial(replace, setup, sun=sun, sky=setup.sky and setup.sky.times(times))


def _further(setup, part):
    """The setup with a lamp or board half a metre further from what it faces; in a room not beyond its walls, in the open not buried."""
    way = np.subtract(part.at, part.aim)
    new = np.asarray(part.at) + AWAY_M * way / np.linalg.norm(way)
    size = setup.place.size_m if isinstance(setup.place, Room) else (np.inf, np.inf, np.inf)
    within = [all(0.0 < x < most for x, most in zip(at, size)) for at in (part.at, new)]
    if new[2] <= 0.0 or (isinstance(setup.place, Room) and within == [True, False]):
        raise SceneError(f"{part.called} would stand in the floor, the ceiling or a wall")
    return setup.with_part(part.name, at=tuple(new.tolist()))


def _turned(part):
    """Where a board aims that its stand has turned by ten degrees, to the left as seen from above."""
    turn = np.radians(TURN_DEG)
    x, y, z = np.subtract(part.aim, part.at)
    new = (x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn), z)
    return tuple(np.add(part.at, new).tolist())


def _effects(before, after):
    """Differences of all that both give."""
    found = []
    for was, now in zip(before.marks + before.spots, after.marks + after.spots, strict=True):
        for quantity in SHOWN:
            old, new = (getattr(part, f"{quantity}_stops", np.nan) for part in (was, now))
            if np.isfinite(old) and np.isfinite(new):
                found.append(Effect(was.name, quantity, float(new - old)))
    return tuple(found)


def _slip(said, setup, read, effects):
    """A slip with the targets that it loses: its effects laid on the final readings."""
    by = {(one.of, one.quantity): one.stops for one in effects}

    def moved(part):
        fields = {f"{quantity}_stops": by[part.name, quantity] for quantity in SHOWN if (part.name, quantity) in by}
        return replace(part, **{field: getattr(part, field) + change for field, change in fields.items()})

    marks, spots = (tuple(map(moved, parts)) for parts in (read.marks, read.spots))
    after = [judged(target, marks, spots) for target in setup.targets]
    lost = tuple(target_text(now) for was, now in zip(read.targets, after) if was.met and not now.met)
    return Slip(said, effects, lost)


def _called(effect):
    what = {"level": "", "fill_under": " fill", "beam_over": " over background", "veil": " veil"}[effect.quantity]
    return f"{one_line(effect.of)}{what}"
