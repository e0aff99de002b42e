"""What to move so that every target is met: the smallest change, in the order a crew would make it, and what stands in the way."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import numpy as np

from lightcalc.answers.camera_change import Way, exposed, one_way
from lightcalc.answers.light_response import Response, light_response
from lightcalc.answers.readings import Readings, readings
from lightcalc.laws import haze, power
from lightcalc.scene.parts import Room, Setup, basis
from lightcalc.units import stops
from lightcalc.wording import (
    QUANTITIES,
    dim_text,
    nd_text,
    near,
    number_text,
    one_line,
    plain,
    reading_text,
    stops_text,
    t_stop_text,
    target_text,
    verdict_text,
)  # fmt: skip

MOVES = {  # what may move, in the order a crew would; what it costs to touch it, and each stop, metre or doubling of haze
    "dim": (0.2, 0.3), "stop": (0.3, 0.4), "iso": (0.4, 0.4), "nd": (0.5, 0.4), "shutter": (1.5, 1.0), "board": (2.0, 1.0),
    "lamp": (3.0, 1.0), "haze": (4.0, 2.0),
}  # fmt: skip
ON_CAMERA = {"stop": "t_stop", "iso": "iso", "nd": "nd_stops", "shutter": "shutter_deg"}
USUAL = ("dim", "stop", "iso", "nd", "board", "lamp", "haze")  # the shutter changes how motion looks: only when asked for
DIM_STEP, DIM_LEAST = 0.1, -6.0  # stops
CAMERA_MOST = 15  # thirds of a stop, either way
BOARD_M, LAMP_M = (-0.8, -0.6, -0.4, -0.2, 0.2, 0.4, 0.6, 0.8, 1.2), (-2.0, -1.5, -1.0, -0.5, 0.5, 1.0, 1.5, 2.0)  # away is plus
HAZE_TIMES, HAZE_FROM_NONE = (0.4, 0.5, 0.63, 0.8, 1.25, 1.6, 2.0, 2.5), (0.01, 0.02, 0.04, 0.08)
LEAST_APART_M = 0.3  # a lamp or board from what it faces
OFF_CLICK = 0.1  # stops by which a ring's click may miss a third
SPARE = 0.03  # stops that a plan stays inside each target: drafts and finals differ by less
AGAIN = 4  # times that the whole is read and planned again


@dataclass(frozen=True)
class Step:
    """One thing to do."""

    move: str  # one of MOVES
    part: str
    field: str
    old: Any
    new: Any
    cost: float
    effect_stops: tuple[float, ...] = ()  # on each target, those before it done
    away: bool = False  # of a lamp or board: away from what it faces

    def words(self) -> str:
        """What to do, for a crew."""
        if self.move == "dim":
            change = float(stops(self.new / self.old))
            turned = f"{'dim' if change < 0 else 'raise'} {self.part} by {stops_text(abs(change), sign=False)}"
            return f"{turned} stops, to {dim_text(self.new)}"
        if self.move == "haze":
            return f"haze from {number_text(self.old)} to {number_text(self.new)} /m"
        if self.field == "at":
            apart = float(np.linalg.norm(np.subtract(self.new, self.old)))
            where = ", ".join(number_text(value, figures=4) for value in self.new)
            return f"{self.part} {number_text(apart, figures=2)} m {'away' if self.away else 'nearer'}, to {where}"
        words = {"t_stop": t_stop_text, "nd_stops": nd_text}.get(self.field, lambda value: number_text(value, figures=4))
        name = {"t_stop": "stop", "iso": "ISO", "nd_stops": "filter", "shutter_deg": "shutter"}[self.field]
        return f"{name} from {words(self.old)} to {words(self.new)}"

    def apply(self, setup: Setup) -> Setup:
        """The setup with this done."""
        if self.move == "haze":
            return replace(setup, haze=replace(setup.haze, extinction_per_m=self.new))
        return setup.with_part("camera" if self.move in ON_CAMERA else self.part, **{self.field: self.new})


@dataclass(frozen=True)
class Advice:
    """The smallest change that meets all targets, or the nearest to it."""

    setup: Setup
    before: Readings
    after: Readings  # of the setup with all steps taken, worked out in full
    steps: tuple[Step, ...]
    blocks: tuple[str, ...] = ()  # targets that are still missed
    frees: str = ""  # what would free them
    may: tuple[str, ...] = USUAL

    @property
    def met(self) -> bool:
        """Whether every target is met with all steps taken."""
        return self.after.met

    def apply(self) -> Setup:
        """The setup with all steps taken."""
        return self.apply_to(self.setup)

    def apply_to(self, setup: Setup) -> Setup:
        """The setup as another holds it, its file say, with all steps taken."""
        for step in self.steps:
            setup = step.apply(setup)
        return setup

    def lines(self) -> list[str]:
        """The advice as plain text."""
        if not self.before.targets:
            return [f"{self.setup.name}: no target, so nothing to advise"]
        if self.before.met:
            return [f"{self.setup.name}: every target is met; nothing to move"]
        head = "meets every target" if self.met else "comes nearest"
        rows = [f"{self.setup.name}: {head if self.steps else 'nothing that may move brings it nearer'}"]
        rows[0] += ", in this order:" if self.steps else ""
        for number, step in enumerate(self.steps, 1):
            effects = [
                f"{one_line(target.of, most=60)} {QUANTITIES[target.quantity][0]} by {stops_text(change)}"
                for target, change in zip(self.before.targets, step.effect_stops)
                if np.isfinite(change) and abs(change) >= 0.05
            ]
            rows.append(f"  {number}. {step.words()}" + (f" (moves {', '.join(effects)})" if effects else ""))
        for old, new in zip(self.before.targets, self.after.targets):
            was, now = (reading_text(one.quantity, one.got_stops) for one in (old, new))
            rows.append(f"  {target_text(new, within=True)}: {was} before, then {now}, {verdict_text(new)}")
        return rows + ([f"  {self.frees}"] if self.frees else []) + self.cautions()

    def cautions(self) -> list[str]:
        """What to mind with these steps."""
        thicker = any(step.move == "haze" and step.new > step.old for step in self.steps)
        nearer = any(step.move == "lamp" and not step.away for step in self.steps)
        return [haze.HAZE_CAUTION] * thicker + [power.HEAT_CAUTION] * nearer

    def as_json(self) -> dict[str, Any]:
        """The advice as plain data, units in the key names."""
        return {
            "setup": self.setup.name, "met": self.met, "may": list(self.may),
            "steps": [plain(replace(step, effect_stops=())) | {"effect_stops": plain(step.effect_stops), "words": step.words()} for step in self.steps],
            "before": plain(self.before.targets), "after": plain(self.after.targets), "blocked_by": list(self.blocks), "frees": self.frees,
        }  # fmt: skip


@dataclass(frozen=True)
class _Place:
    """The setup with at most one thing moved on the floor or in the air, and how its readings go with its lamps."""

    setup: Setup
    steps: tuple[Step, ...]
    response: Response
    cost: float


@dataclass(frozen=True)
class _Plan:
    """A place, its lamps and its camera turned, and what that costs."""

    place: _Place
    dims: tuple[float, ...]  # stops, by lamp of the response
    brighter: float  # stops, by the camera
    cost: float
    over: float  # stops by which targets are missed, together, beyond what they allow


def advise(
    setup: Setup, *, may: Sequence[str] = USUAL, cost: dict[str, float] | None = None, read: Readings | None = None,
    told: Callable[[str], Any] | None = None, look_further: bool = True,
) -> Advice:  # fmt: skip
    """
    The smallest change that meets all targets of a setup.

    Parameters
    ----------
    setup : Setup
    may : sequence of str
        What may move: of `MOVES`.
    cost : dict of str to float, optional
        Times what a kind of move costs otherwise.
    read : Readings, optional
        Final readings of the setup, where they are already worked out.
    told : callable, optional
        Told what is being tried, a few words at a time.
    look_further : bool, default True
        Where no change does, ask which other kind of move would.

    Returns
    -------
    Advice
        Its `after` is read from the changed setup in full, never from the model.

    Raises
    ------
    ValueError
        If something that may move is not known.

    Notes
    -----
    What is looked through, whole: at most one board, lamp or the haze moved by one of a few steps, and at most two of lamps
    (tenths of a stop) and camera (thirds). Where that does not do, one after the other is turned for as long as it comes
    nearer. A change costs what it takes to touch a thing, and so much for each stop, metre or doubling. A keyboard interrupt ends
    the looking; the best so far is given.
    """
    _known(may, cost)
    read = read or readings(setup)
    if not setup.targets or read.met:
        return Advice(setup, read, read, (), may=tuple(may))
    weigh = {move: (cost or {}).get(move, 1.0) for move in MOVES}
    plan = _planned(setup, read, setup.targets, may, weigh, told or (lambda _: None))
    steps, after = _verified(setup, read, plan, may, weigh)
    advice = Advice(setup, read, after, steps, may=tuple(may))
    if advice.met:
        return advice
    blocks = tuple(target_text(target) for target in after.targets if not target.met)
    frees = _what_frees(setup, read, may, weigh, after) if look_further else ""
    return replace(advice, blocks=blocks, frees=frees)


def _known(may, cost):
    for move in [*may, *(cost or {})]:
        if move not in MOVES:
            raise ValueError(f"may must be of {', '.join(MOVES)}, got '{move}'{near(move, list(MOVES))}")


# places -----------------------------------------------------------------------------------------------------------


def _place(setup, step, scale) -> _Place | None:
    """The setup with one thing moved; none where it would stand in a wall."""
    try:
        moved = step.apply(setup)
    except ValueError:
        return None
    response = light_response(moved)
    return _Place(moved, (step,), replace(response, table=response.table * scale), step.cost)


def _finer(coarse, fine):
    """Column by column, what finer readings are times a draft's."""
    sums, wanted = coarse.table.sum(axis=0), fine.table.sum(axis=0)
    return np.divide(wanted, sums, out=np.ones_like(sums), where=(sums > 0) & (wanted > 0))


def _moves(setup, may, weigh) -> Iterator[Step]:
    for move, parts, ways in (("board", setup.boards, BOARD_M), ("lamp", setup.lights, LAMP_M)):
        if move in may:
            yield from (step for part in parts for away in ways for step in _along(setup, move, part, away, weigh))
    if "haze" in may and isinstance(setup.place, Room):
        touch, each = MOVES["haze"]
        now = setup.haze.extinction_per_m
        for new in [float(f"{now * times:.2g}") for times in HAZE_TIMES] if now else HAZE_FROM_NONE:
            far = abs(np.log2(new / now)) if now else 2.0 + np.log2(new / HAZE_FROM_NONE[0])
            yield Step("haze", "haze", "extinction_per_m", now, new, weigh["haze"] * (touch + each * far))


def _along(setup, move, part, away_m, weigh):
    """A lamp or board along the line it faces, height kept where it stands low enough to be carried."""
    ahead = basis(part.at, part.aim)[2]
    level = np.array([ahead[0], ahead[1], 0.0])
    if np.linalg.norm(level) < 0.2:
        return  # it faces the floor or the ceiling
    at = np.asarray(part.at) - away_m * level / np.linalg.norm(level)
    flat_m = float(np.linalg.norm(np.subtract(part.aim, at)[:2] * 1.0))
    passed = (np.subtract(part.aim, at) @ level) <= 0 or flat_m < LEAST_APART_M
    crossed = isinstance(setup.place, Room) and setup.place.contains(part.at) != setup.place.contains(at)
    if not passed and not crossed:
        touch, each = MOVES[move]
        new = tuple(round(float(value), 2) for value in at)
        yield Step(move, part.name, "at", part.at, new, weigh[move] * (touch + each * abs(away_m)), away=away_m > 0)


# lamps and camera -------------------------------------------------------------------------------------------------


def _planned(setup, read, targets, may, weigh, told) -> _Plan:
    """The cheapest plan that meets the targets, or the one that comes nearest."""
    here = light_response(setup, read=read)
    best, scale = _turned(_Place(setup, (), here, 0.0), targets, may, weigh), None
    try:
        for step in sorted(_moves(setup, may, weigh), key=lambda step: step.cost):
            if best.over <= 0.0 and step.cost >= best.cost:
                break  # all that follow cost more
            told(step.words())
            scale = _finer(light_response(setup), here) if scale is None else scale
            place = _place(setup, step, scale)
            plan = best if place is None else _turned(place, targets, may, weigh)
            best = plan if (plan.over, plan.cost) < (best.over, best.cost) else best
    except KeyboardInterrupt:
        pass  # the best so far is an answer too
    return best


def _turned(place, targets, may, weigh) -> _Plan:
    """The cheapest two turns of lamps and camera at a place; where none does, one turn after another."""
    knobs = list(_knobs(place, may, weigh))
    best = _best(place, targets, knobs, ())
    for chosen in [*combinations(range(len(knobs)), 1), *combinations(range(len(knobs)), 2)]:
        plan = _best(place, targets, knobs, chosen)
        best = plan if (plan.over, plan.cost) < (best.over, best.cost) else best
    while best.over > 0.0:
        plans = [_best(place, targets, knobs, (index,), held=best) for index in range(len(knobs))]
        plan = min(plans, key=lambda one: (one.over, one.cost), default=best)
        if plan.over > best.over - 1e-3:
            break
        best = plan
    return best


def _knobs(place, may, weigh) -> Iterator[tuple[str, int, np.ndarray, np.ndarray]]:
    """Each lamp that may be dimmed and the camera: its values [stops] and what they cost."""
    lights = {light.name: light for light in place.setup.lights}
    if "dim" in may:
        touch, each = MOVES["dim"]
        for index, name in enumerate(place.response.lamps):
            spare = -float(stops(lights[name].dim))
            values = np.arange(round(DIM_LEAST / DIM_STEP), int(spare / DIM_STEP + 1e-6) + 1) * DIM_STEP
            values = values[np.abs(values) > 1e-9]
            yield "dim", index, values, weigh["dim"] * (touch + each * np.abs(values))
    ways = camera_ways(place.setup, may, weigh)
    if ways:
        yield "camera", -1, np.array(list(ways)), np.array([price for _, price in ways.values()])


def camera_ways(setup: Setup, may: Sequence[str], weigh: dict[str, float]) -> dict[float, tuple[Way, float]]:
    """
    For each third of a stop the cheapest turn of the camera.

    Parameters
    ----------
    setup : Setup
    may : sequence of str
    weigh : dict of str to float
        Times what a kind of move costs.

    Returns
    -------
    dict of float to (Way, float)
        By how much brighter it shows [stops]: the turn, and what it costs.
    """
    cheapest: dict[int, tuple[float, Way, float]] = {}
    for third in (third for third in range(-CAMERA_MOST, CAMERA_MOST + 1) if third):
        for move in (move for move in ON_CAMERA if move in may):
            way = one_way(setup, field=ON_CAMERA[move], brighter_stops=third / 3)
            touch, each = MOVES[move]
            price = weigh[move] * (touch + each * abs(third / 3))
            on_click = np.isfinite(way.off_stops) and abs(way.off_stops) < OFF_CLICK
            if on_click and (third not in cheapest or price < cheapest[third][2]):
                cheapest[third] = (third / 3 + way.off_stops, way, price)
    return {exact: (way, price) for exact, way, price in cheapest.values()}


def _best(place, targets, knobs, chosen, held=None) -> _Plan:
    """The best values of some knobs, the others at rest or as a plan holds them."""
    lamps = len(place.response.lamps)
    grids = np.meshgrid(*[knobs[index][2] for index in chosen], indexing="ij")
    count = grids[0].size if chosen else 1
    dims = np.tile(held.dims if held else np.zeros(lamps), (count, 1)).astype(float)
    brighter = np.full(count, held.brighter if held else 0.0)
    for index, grid in zip(chosen, grids):
        move, lamp = knobs[index][:2]
        if move == "dim":
            dims[:, lamp] = grid.ravel()
        else:
            brighter = grid.ravel()
    over = _over(place, targets, dims, brighter)
    price = place.cost + sum(_price(knob, dims, brighter) for knob in knobs)
    first = np.lexsort([price, over])[0] if np.ndim(price) else 0
    return _Plan(place, tuple(dims[first]), float(brighter[first]), float(np.broadcast_to(price, count)[first]), float(over[first]))


def _over(place, targets, dims, brighter):
    """By how much the targets are missed, together, beyond what they allow. [stops]"""
    got = place.response.target_stops(targets, 2.0**dims, brighter)
    low, high = (np.array([getattr(target, name) for target in targets]) for name in ("low_stops", "high_stops"))
    with np.errstate(invalid="ignore"):  # infinite, and nothing is too much
        over = np.fmax(low - got, got - high) + np.minimum(SPARE, (high - low) / 8)
    return np.where(np.isnan(got) | (over == np.inf), 100.0, np.maximum(over, 0.0)).sum(axis=1).round(6)


def _price(knob, dims, brighter):
    """What each row's value of a knob costs; nothing at rest."""
    move, lamp, values, prices = knob
    at = dims[:, lamp] if move == "dim" else brighter
    nearest = np.abs(at[:, None] - values[None]).argmin(axis=1) if len(values) else np.zeros(len(at), dtype=int)
    return np.where(np.abs(at) > 1e-9, prices[nearest] if len(values) else 0.0, 0.0)


# steps, and what they do --------------------------------------------------------------------------------------------


def _verified(setup, read, plan, may, weigh):
    """The plan's steps and the readings with all of them taken; planned again where draft and final part ways."""
    steps = _steps(setup, plan, may, weigh)
    after = _read(setup, read, steps)
    for _ in range(AGAIN):
        if after.met or plan.over > 0.0:
            break
        now = np.array([_outputs(plan)])
        got = plan.place.response.sums(now)[0]
        wanted = _sums_read(plan.place.response, after, plan.brighter)
        scale = np.divide(wanted, got, out=np.ones_like(got), where=(got > 0) & (wanted > 0))
        place = replace(plan.place, response=replace(plan.place.response, table=plan.place.response.table * scale))
        plan = _turned(place, setup.targets, may, weigh)
        steps = _steps(setup, plan, may, weigh)
        after = _read(setup, read, steps)
    return _with_effects(setup, read, after, plan, steps), after


def _outputs(plan):
    return [2.0**dim for dim in plan.dims]


def _sums_read(response, after, brighter):
    """What adds up, as read in full."""
    there = {one.name: one for one in after.marks + after.spots}
    row = []
    for name, what in response.columns:
        one = there[name]
        value = {"lux": "illuminance_lx", "key": "key_lx", "veil": "veil_cd_m2", "luminance": "luminance_cd_m2"}.get(
            what, "background_cd_m2"
        )
        row.append(getattr(one, value))
    return np.nan_to_num(np.array(row, dtype=float))


def _steps(setup, plan, may, weigh) -> tuple[Step, ...]:
    """A plan as things to do, in the order a crew would."""
    dims = [
        Step("dim", name, "dim", setup.part(name).dim, min(float(f"{setup.part(name).dim * 2.0**dim:.3g}"), 1.0), 0.0)
        for name, dim in zip(plan.place.response.lamps, plan.dims)
        if abs(dim) > 1e-9
    ]
    ways = camera_ways(setup, may, weigh) if abs(plan.brighter) > 1e-9 else {}
    camera = []
    if ways:
        way = ways[min(ways, key=lambda one: abs(one - plan.brighter))][0]
        move = next(move for move, name in ON_CAMERA.items() if name == way.field)
        camera = [Step(move, "camera", way.field, getattr(setup.camera, way.field), way.click, 0.0)]
    return tuple(sorted([*dims, *camera, *plan.place.steps], key=lambda step: list(MOVES).index(step.move)))


def _read(setup, read, steps):
    """The changed setup in full; where only the camera was touched, no light has to be worked out."""
    changed = setup
    for step in steps:
        changed = step.apply(changed)
    if all(step.move in ON_CAMERA for step in steps):
        return exposed(read, setup, changed.camera)
    return readings(changed)


def _with_effects(setup, read, after, plan, steps):
    """Each step with what it does to each target, those before it done; what the model missed goes to what was moved."""
    here, there = light_response(setup, read=read), plan.place.response
    dims, brighter, response, changes = np.zeros((1, len(here.lamps))), 0.0, here, []
    last = before = np.array([target.got_stops for target in read.targets])
    for step in steps:
        if step.move == "dim":
            dims[0, here.lamps.index(step.part)] = float(stops(step.new / step.old))
        elif step.move in ON_CAMERA:
            brighter = plan.brighter
        else:
            response = there
        now = response.target_stops(setup.targets, 2.0**dims, brighter)[0]
        with np.errstate(invalid="ignore"):
            changes.append(now - last)
        last = now
    if steps:
        with np.errstate(invalid="ignore"):
            changes[-1] = changes[-1] + np.array([target.got_stops for target in after.targets]) - before - sum(changes)
    return tuple(replace(step, effect_stops=tuple(change.tolist())) for step, change in zip(steps, changes))


def _what_frees(setup, read, may, weigh, after):
    """Which further kind of move would meet the targets, or which target alone is in the way."""
    quiet = lambda _: None  # noqa: E731
    others = [move for move in MOVES if move not in may]
    for move in others:
        if _planned(setup, read, setup.targets, [*may, move], weigh, quiet).over <= 0.0:
            return f"it would be met if {_called(move)} might move as well"
    missed = [target for target, got in zip(setup.targets, after.targets) if not got.met]
    for target in missed or setup.targets:
        rest = tuple(one for one in setup.targets if one is not target)
        if rest and _planned(setup, read, rest, may, weigh, quiet).over <= 0.0:
            reading = next(one for one in after.targets if (one.of, one.quantity) == (target.of, target.quantity))
            return f"{target_text(reading)} is in the way: without it all others can be met. Change it, or add a lamp or a board."
    return "nothing known here meets them together: change a target, or add a lamp or a board"


def _called(move):
    called = {"dim": "the lamps' output", "iso": "the ISO", "nd": "the filter", "board": "a board", "lamp": "a lamp"}
    return called.get(move, f"the {move}" + (" angle" if move == "shutter" else ""))
