"""What the day's meter says of lamps, haze, walls and daylight: the plan corrected, with intervals, and which reading is wild."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.optimize import least_squares

from lightcalc.answers.light_response import Response, light_response
from lightcalc.answers.placement import placements
from lightcalc.answers.readings import Readings, readings
from lightcalc.kit.materials import WHITEST
from lightcalc.scene.meter_log import Metered
from lightcalc.scene.parts import SURFACES, Room, Setup
from lightcalc.scene.shoot import Shoot
from lightcalc.wording import light_text, luminance_text, one_line, plain, stops_text

LAMP, HAZE, WALLS, DAYLIGHT = 0.4, 0.6, 0.4, 1.0  # how far each may be off before anything is read: standard deviations [stops]
METER = 0.1  # of a reading, beside its steps: standard deviation [stops]
WILD, WILD_SHARE = 2.5, 0.03  # of a reading gone wrong: standard deviation [stops], and how often one does
TRY = 0.5  # stops by which haze and walls are moved to see what follows
NINETY = 1.645  # standard deviations to either side that hold 90 percent
TOLD = 0.66  # two lamps of which only the sum is known leave each 0.71 of what it was
ROUNDS = 30


@dataclass(frozen=True)
class Found:
    """Something of the plan, and what it is by the meter: stops over the plan, with the ends of its 90 percent interval."""

    name: str
    kind: str  # lamp, haze, walls, daylight
    stops: float
    low: float
    high: float
    planned_within: float  # the interval before anything was read, to either side

    @property
    def told(self) -> bool:
        """Whether the readings say something of it: the interval is at least a third narrower than it was."""
        return (self.high - self.low) / 2 < TOLD * self.planned_within

    def words(self) -> str:
        """In words, as a crew says it."""
        said = f"{stops_text(self.stops)} ({stops_text(self.low)} to {stops_text(self.high)})"
        return f"{one_line(self.name)}: {said}" + ("" if self.told else "; the readings do not tell")


@dataclass(frozen=True)
class Checked:
    """A reading of the log against plan and correction."""

    metered: Metered
    amount: float  # lx, or cd/m2
    luminance: bool
    off_plan_stops: float  # what was read over what was planned
    off_stops: float  # and over what the corrected plan says
    wild: bool  # it disagrees with all the rest

    def words(self, units: str = "metric") -> str:
        """In words."""
        text = (luminance_text if self.luminance else light_text)(self.amount, units)
        alone = f", {'; '.join(self.metered.only)} alone" if self.metered.only else ""
        alone = f", {self.metered.receptor}{alone}" if self.metered.receptor else alone
        said = f"{one_line(self.metered.where)}{alone}: {text}, {stops_text(self.off_plan_stops)} from the plan"
        return said + (f"; DISAGREES with the rest by {stops_text(self.off_stops)}: read it again" if self.wild else "")


@dataclass(frozen=True)
class Expected:
    """What a mark or a spot reads by the corrected plan, with the ends of its 90 percent interval from middle grey. [stops]"""

    name: str
    level_stops: float
    low: float
    high: float


@dataclass(frozen=True)
class Correction:
    """The plan as the meter has corrected it."""

    setup: Setup  # as planned
    corrected: Setup
    before: Readings
    after: Readings  # of the corrected setup
    found: tuple[Found, ...]
    checked: tuple[Checked, ...]
    expected: tuple[Expected, ...]

    @property
    def wild(self) -> tuple[Metered, ...]:
        """Readings that disagree with all the rest."""
        return tuple(one.metered for one in self.checked if one.wild)

    def lines(self, units: str = "metric") -> list[str]:
        """The correction as plain text."""
        count = sum(not one.wild for one in self.checked)
        rows = [f"{self.setup.name}: corrected by {count} of {len(self.checked)} readings, stops over the plan (90 % between):"]
        rows += [f"  {one.words()}" for one in self.found]
        rows += ["  readings:"] + [f"    {one.words(units)}" for one in self.checked]
        rows += ["  now expected, from middle grey:"]
        rows += [
            f"    {one_line(one.name)}: {stops_text(one.level_stops)} ({stops_text(one.low)} to {stops_text(one.high)})"
            for one in self.expected
        ]
        return rows + (self.after.lines(units)[-len(self.after.targets) :] if self.after.targets else [])

    def as_json(self) -> dict[str, Any]:
        """The correction as plain data, units in the key names."""
        return {
            "setup": self.setup.name, "found": [plain(one) | {"told": one.told} for one in self.found],
            "readings": [
                {"where": one.metered.where, "only": list(one.metered.only), "cd_m2" if one.luminance else "lx": one.amount,
                 "off_plan_stops": one.off_plan_stops, "off_stops": one.off_stops, "wild": one.wild}
                for one in self.checked
            ],
            "expected": [plain(one) for one in self.expected], "targets": plain(self.after.targets),
        }  # fmt: skip


@dataclass(frozen=True)
class Model:
    """
    How readings go with lamps, haze, walls and daylight.

    Logarithms of each lamp's part of each reading go with haze and with walls as parabolas through three runs.
    """

    response: Response
    turns: dict[str, tuple[np.ndarray, np.ndarray]]  # by 'haze' and 'walls': slope and bend of the logarithm of the table
    alone_lx: dict[str, float]  # in front of each lamp
    names: tuple[str, ...]  # of the parameters: the lamps, then 'haze', 'walls', 'daylight' as far as there are any
    priors: np.ndarray  # [stops]

    def table(self, x: np.ndarray) -> np.ndarray:
        """Each lamp's part of each reading, daylight last, for parameters in stops over the plan."""
        at, lamps = dict(zip(self.names, x)), len(self.response.lamps)
        power = np.append(x[:lamps], at.get("daylight", 0.0))
        exponent = power[:, None] + sum(
            slope * at[name] + bend * at[name] ** 2 for name, (slope, bend) in self.turns.items()
        )  # a table of 0 stays 0
        return self.response.table * 2.0**exponent

    def log2_of(self, log: Sequence[Metered], x: np.ndarray) -> np.ndarray:
        """
        What a log would read.

        Parameters
        ----------
        log : sequence of Metered
        x : array (p,)
            Stops over the plan, in the order of `names`.

        Returns
        -------
        array (n,)
            Stops over one lx or cd/m2.
        """
        table, lamps = self.table(x), self.response.lamps
        found = []
        for one in log:
            if one.where in self.alone_lx:
                found.append(np.log2(self.alone_lx[one.where]) + x[lamps.index(one.where)])
                continue
            column = next(
                i for i, (name, what) in enumerate(self.response.columns) if name == one.where and what in ("lux", "luminance")
            )
            burning = [i for i, lamp in enumerate(lamps) if not one.only or lamp in one.only]
            found.append(np.log2(max(table[[*burning, -1], column].sum(), 1e-12)))
        return np.array(found)


def model_of(setup: Setup, read: Readings, *, quality: str = "draft", told: Callable[[float], Any] | None = None) -> Model:
    """
    How a setup's readings go with what may differ from the plan.

    Parameters
    ----------
    setup : Setup
    read : Readings
        Final readings of it, which the model gives where nothing differs.
    quality : {'draft', 'final'}
        Of the runs.
    told : callable, optional
        Called with the share that is done, now and then.

    Returns
    -------
    Model
    """
    response = light_response(setup, read=read, quality=quality)
    names, priors = list(response.lamps), [LAMP] * len(response.lamps)
    turns: dict[str, tuple[np.ndarray, np.ndarray]] = {}
    for name, prior, changed in (("haze", HAZE, _hazed), ("walls", WALLS, _painted)):
        if name == "haze" and setup.haze.extinction_per_m <= 0.0:
            continue
        names.append(name)
        priors.append(prior)
        drafts = []
        for by in (-TRY, 0.0, TRY):
            drafts.append(light_response(changed(setup, by), quality=quality).table)
            if told is not None:
                told((len(drafts) + 3 * len(turns)) / 6.0)
        turns[name] = _parabola(drafts)
    if setup.sun is not None or setup.sky is not None:
        names.append("daylight")
        priors.append(DAYLIGHT)
    check = {
        one.name: one.check_lx
        for one in placements(setup)
        if one.kind == "light" and one.name in response.lamps and one.check_lx > 0
    }
    return Model(response, turns, check, tuple(names), np.array(priors))


def _parabola(tables):
    """Slope and bend of log2 of three tables, `TRY` apart; nothing where one of them is dark."""
    low, middle, high = (np.log2(np.where(table > 0, table, 1.0)) for table in tables)
    dark = np.any([table <= 0 for table in tables], axis=0)
    slope, bend = (high - low) / (2 * TRY), (high - 2 * middle + low) / (2 * TRY**2)
    return np.where(dark, 0.0, slope), np.where(dark, 0.0, bend)


def _hazed(setup, by_stops):
    thicker = float(f"{min(setup.haze.extinction_per_m * 2.0**by_stops, 10.0):.4g}")
    return replace(setup, haze=replace(setup.haze, extinction_per_m=thicker))


def _painted(setup, by_stops):
    """Walls, floor and ceiling, or the ground, as much lighter or darker."""
    fields = SURFACES if isinstance(setup.place, Room) else ("ground",)
    changed = {name: min(getattr(setup.place, name) * 2.0**by_stops, WHITEST) for name in fields}
    return replace(setup, place=replace(setup.place, **changed))


def _lit(setup, by_stops):
    """Sun and sky as much brighter or darker."""
    times = 2.0**by_stops
    sun = setup.sun and replace(setup.sun, normal_lx=min(setup.sun.normal_lx * times, 150_000.0))
    sky = setup.sky and setup.sky.times(times)
    return replace(setup, sun=sun, sky=sky)


def correct(
    setup: Setup, log: Sequence[Metered], *, read: Readings | None = None, model: Model | None = None,
    told: Callable[[float], Any] | None = None,
) -> Correction:  # fmt: skip
    r"""
    Correct a plan by what was metered.

    Parameters
    ----------
    setup : Setup
        As planned.
    log : sequence of Metered
        Its readings (`meter_log.of_setup`).
    read : Readings, optional
        Final readings of the plan, where they are already worked out.
    model : Model, optional
        `model_of` the setup, where it is already made; it knows each mark's own receptor only.
    told : callable, optional
        Called with the share that is done, now and then.

    Returns
    -------
    Correction

    Raises
    ------
    ValueError
        If there is no reading, or one where the plan has no light.

    Notes
    -----
    .. math:: \min_x \sum_j -\ln\left[(1 - w) N(y_j - f_j(x), s_j) + w N(y_j - f_j(x), S)\right] + \tfrac12 \sum_i (x_i / p_i)^2

    with x the lamps', the haze's, the walls' and the daylight's difference from the plan and p how far each may be off, all in stops;
    s is 0.1 stop and the meter's own steps, taken as even; now and then (w) a reading is wild (S). Begun from the plan, and once
    with each reading left out; the most probable is kept. Intervals are those of the quadratic about it.
    """
    if not log:
        raise ValueError(f"setup '{setup.name}': the log has no reading of it")
    told = told or (lambda _: None)
    told(0.0)
    read = read or readings(setup)
    held, log_held = _with_receptors(setup, log)
    if model is None or held is not setup:
        model = model_of(held, read if held is setup else readings(held), told=lambda share: told(0.1 + 0.6 * share))
    spots = {spot.name for spot in setup.spots}
    amounts = np.array([one.amount(setup.camera, one.where in spots) for one in log])
    planned = model.log2_of(log_held, np.zeros(len(model.names)))
    for one, base in zip(log, planned):
        if base < -30.0:
            raise ValueError(
                f"setup '{setup.name}': the plan has no light at '{one.where}' with {', '.join(one.only) or 'all lamps'}"
            )
    x, spread, sure = fitted(model, log_held, np.log2(amounts))
    told(0.9)
    off = np.log2(amounts) - model.log2_of(log_held, x)
    found = tuple(
        Found(_named(model, name), _kind(model, name), value, value - NINETY * sd, value + NINETY * sd, NINETY * prior)
        for name, value, sd, prior in zip(model.names, x.tolist(), np.sqrt(np.diag(spread)).tolist(), model.priors.tolist())
    )
    checked = tuple(
        Checked(one, float(amount), one.where in spots, float(np.log2(amount) - base), float(miss), bool(weight < 0.5))
        for one, amount, base, miss, weight in zip(log, amounts, planned, off, sure)
    )
    corrected = corrected_setup(setup, dict(zip(model.names, x.tolist())))
    after = readings(corrected)
    told(1.0)
    return Correction(setup, corrected, read, after, found, checked, _expected(setup, model, after, x, spread))


def _with_receptors(setup, log):
    """The setup with a mark more for each that was read with the other receptor, and the log with those marks' names."""
    marks, renamed = {}, []
    for one in log:
        mark = next((mark for mark in setup.marks if mark.name == one.where), None)
        if mark is None or one.receptor in ("", mark.receptor):
            renamed.append(one)
            continue
        name = f"{one.receptor} at {mark.name}"
        marks[name] = replace(mark, name=name, receptor=one.receptor, figure=False)
        renamed.append(replace(one, where=name))
    return (replace(setup, marks=(*setup.marks, *marks.values())) if marks else setup), tuple(renamed)


def fitted(model: Model, log: Sequence[Metered], observed: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """
    The most probable parameters.

    Parameters
    ----------
    model : Model
    log : sequence of Metered
    observed : array (n,)
        log2 of lx or cd/m2.

    Returns
    -------
    x (p,), covariance (p, p), weights (n,)
        Parameters and their covariance [stops], and how probably each reading is no wild one.
    """
    noise = np.sqrt(METER**2 + np.array([one.step_stops for one in log]) ** 2 / 12.0)
    starts = [np.ones(len(log)), *(1.0 - np.eye(len(log)))] if len(log) > 1 else [np.ones(1)]
    runs = [_settled(model, log, observed, noise, start) for start in starts]
    x, sure = min(runs, key=lambda run: _unlikely(model, log, observed, noise, run[0]))
    slopes = _slopes(model, log, x)
    weight = sure / noise**2 + (1.0 - sure) / WILD**2
    return x, np.linalg.inv(slopes.T @ (weight[:, None] * slopes) + np.diag(model.priors**-2.0)), sure


def _settled(model, log, observed, noise, sure):
    """Parameters for given weights, then weights for them, until they stay."""
    x = np.zeros(len(model.names))
    for _ in range(ROUNDS):
        weight = np.sqrt(sure / noise**2 + (1.0 - sure) / WILD**2)
        misses = lambda x, weight=weight: np.append(weight * (observed - model.log2_of(log, x)), x / model.priors)  # noqa: E731
        new = least_squares(misses, x, method="lm", xtol=1e-6, ftol=1e-6).x
        off = observed - model.log2_of(log, new)
        right, wrong = (share * np.exp(-0.5 * (off / sd) ** 2) / sd for share, sd in ((1 - WILD_SHARE, noise), (WILD_SHARE, WILD)))
        now = right / (right + wrong)
        if np.abs(new - x).max() < 1e-4 and np.abs(now - sure).max() < 1e-3:
            break
        x, sure = new, now
    return new, now


def _unlikely(model, log, observed, noise, x):
    off = observed - model.log2_of(log, x)
    right, wrong = (share * np.exp(-0.5 * (off / sd) ** 2) / sd for share, sd in ((1 - WILD_SHARE, noise), (WILD_SHARE, WILD)))
    return float(-np.log(right + wrong).sum() + 0.5 * np.sum((x / model.priors) ** 2))


def _slopes(model, log, x, step=1e-3):
    """How each reading goes with each parameter."""
    ends = [[model.log2_of(log, x + sign * step * unit) for sign in (1, -1)] for unit in np.eye(len(x))]
    return np.stack([(high - low) / (2 * step) for high, low in ends], axis=1)


def _expected(setup, model, after, x, spread):
    """Every mark and spot of the corrected plan, with its interval."""
    parts = [*after.marks, *after.spots]
    lit = [part for part in parts if np.isfinite(part.level_stops)]
    slopes = _slopes(model, [Metered(part.name, 1.0, "stops") for part in lit], x)
    wide = NINETY * np.sqrt(np.einsum("ij,jk,ik->i", slopes, spread, slopes))
    return tuple(
        Expected(part.name, part.level_stops, part.level_stops - by, part.level_stops + by) for part, by in zip(lit, wide.tolist())
    )


def corrected_setup(setup: Setup, x: dict[str, float]) -> Setup:
    """
    A setup with what was found.

    Parameters
    ----------
    setup : Setup
    x : dict of str to float
        By lamp, 'haze', 'walls', 'daylight'. [stops over the plan]

    Returns
    -------
    Setup
    """
    lights = tuple(
        replace(light, metered_stops=round(float(np.clip(light.metered_stops + x.get(light.name, 0.0), -4.0, 4.0)), 3))
        for light in setup.lights
    )
    changed = replace(setup, lights=lights)
    for name, change in (("haze", _hazed), ("walls", _painted), ("daylight", _lit)):
        changed = change(changed, x[name]) if name in x else changed
    return changed


def kept(shoot: Shoot, found: Correction) -> Shoot:
    """
    A shoot with what a meter has found in one setup.

    Parameters
    ----------
    shoot : Shoot
    found : Correction

    Returns
    -------
    Shoot
        Lamps of the same name and kit in other setups are taken for the same lamps, and a place of the same name for the same
        walls. Haze is the setup's own. Daylight is the weather's, and is not kept; nor is what the readings do not tell.
    """
    told = {one.name for one in found.found if one.told}
    lamps = {(light.name, light.kit): light.metered_stops for light in found.corrected.lights if light.name in told}
    walls = any(one.kind == "walls" and one.told for one in found.found)
    hazed = any(one.kind == "haze" and one.told for one in found.found)
    setups = []
    for setup in shoot.setups:
        lights = tuple(replace(one, metered_stops=lamps.get((one.name, one.kit), one.metered_stops)) for one in setup.lights)
        place = found.corrected.place if walls and setup.place.name == found.setup.place.name else setup.place
        haze = found.corrected.haze if hazed and setup.name == found.setup.name else setup.haze
        setups.append(replace(setup, lights=lights, place=_rounded(setup.place, place), haze=haze))
    return replace(shoot, setups=tuple(setups))


def _rounded(old, new):
    """Reflectances to a hundredth, where they changed by as much."""
    if new is old:
        return old
    fields = SURFACES if isinstance(new, Room) else ("ground",)
    told = {name: round(getattr(new, name), 2) for name in fields if abs(getattr(new, name) - getattr(old, name)) >= 0.005}
    return replace(old, **told)


def _kind(model, name):
    return name if name in ("haze", "walls", "daylight") and name not in model.response.lamps else "lamp"


def _named(model, name):
    room = isinstance(model.response.setup.place, Room)
    called = {"haze": "haze", "walls": "walls, floor and ceiling" if room else "the ground", "daylight": "sun and sky"}
    return called[name] if _kind(model, name) != "lamp" else name
