"""Readings: what an incident meter reads at the marks, what a spot meter reads from the camera, and how targets fare."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from lightcalc import wording
from lightcalc.answers.colour_mix import Mix, mark_mix
from lightcalc.engine.direct import SOFT, airlight, gauss_nodes
from lightcalc.engine.indirect import FAR_M, facet_air, open_air
from lightcalc.engine.picture import sight_line, soft_reach
from lightcalc.engine.solve import Lit, light
from lightcalc.kit.materials import BLACK
from lightcalc.laws.exposure import GREY_REFLECTANCE
from lightcalc.scene.parts import BODIES, Mark, Setup, Target
from lightcalc.scene.solids import cheeks
from lightcalc.units import stops
from lightcalc.wording import near

LEAST_FILL = 1e-3  # of the key: ten stops under it no meter at the mark tells fill from nothing
HEAD_M = 0.25  # two places within a head's width
TURNED = 0.5  # cosine: cheeks face at least 60 degrees apart
FACET_STEPS = 24  # along a sight line, as `sight_line` takes


@dataclass(frozen=True)
class MarkReading:
    """An incident reading at a mark, and the air between it and the lens."""

    name: str
    illuminance_lx: float
    by_source: dict  # lx, by source; the last is what room or ground, and the air, send back
    level_stops: float  # from middle grey
    key: tuple  # names of the key sources
    key_lx: float
    fill_lx: float
    ratio: float  # (key + fill) : fill; of a face marked on both cheeks lit : far cheek; infinite without measurable fill
    key_to_fill: float  # one less
    ratio_stops: float  # log2 of ratio
    fill_under_stops: float  # fill alone from key + fill, a minus: -2 is 4 : 1
    transmittance: float  # mark to lens
    veil_cd_m2: float  # light the air adds in front of the mark
    veil_stops: float  # the veil alone, from middle grey
    veil_share: float  # of what the lens sees of a grey card there
    mix_kelvin: float = np.nan  # correlated colour temperature of the light there; NaN where a source has none
    mix_duv: float = np.nan  # its distance from the blackbody locus in CIE 1960 u, v; plus is green
    mix_without: tuple = ()  # sources that light it and have no colour temperature
    mixed: bool = False  # whether lights of different colours meet there
    no_ratio: str = ""  # why there is no ratio to print: no light, no key, no fill, no measurable fill
    other_cheek: str = ""  # the mark on the other cheek of this face, with which the ratio is read
    cheeks_lx: tuple = ()  # of a person without such a mark: flat on the own left cheek, and on the right
    cheeks_stops: tuple = ()  # from middle grey

    @property
    def cheek_ratio(self) -> float:
        """Lit : far cheek; infinite where the far one has no measurable light, NaN where no cheeks are read."""
        far, lit = sorted(self.cheeks_lx) or (0.0, 0.0)
        return lit / far if far > LEAST_FILL * lit else np.inf if lit > 0 else np.nan

    @property
    def no_cheeks(self) -> str:
        """Why there is no ratio of the cheeks to print."""
        return "" if np.isfinite(self.cheek_ratio) else "no measurable light on one" if self.cheek_ratio > 0 else "no light"

    @property
    def mix(self) -> Mix:
        """The colour of the light there, as `colour_mix.Mix`; surfaces are taken as grey, so bounced light has its source's."""
        return Mix(self.mix_kelvin, self.mix_duv, self.mix_without, self.mixed)


@dataclass(frozen=True)
class SpotReading:
    """A spot reading from the camera; with a source, of its shaft against the same line without it."""

    name: str
    luminance_cd_m2: float
    level_stops: float
    air_cd_m2: float
    source: str
    background_cd_m2: float  # NaN without a source
    beam_over_stops: float  # NaN without a source


@dataclass(frozen=True)
class TargetReading:
    """A target against what was read."""

    of: str
    quantity: str
    wanted_stops: float
    within: float
    got_stops: float
    met: bool
    miss_stops: float  # got - wanted
    bound: str = "about"  # or "at least", "at most", where `within` says nothing

    @property
    def low_stops(self) -> float:
        """The least that meets it."""
        return -np.inf if self.bound == "at most" else self.wanted_stops - (self.within if self.bound == "about" else 0.0)

    @property
    def high_stops(self) -> float:
        """The most that meets it."""
        return np.inf if self.bound == "at least" else self.wanted_stops + (self.within if self.bound == "about" else 0.0)


@dataclass(frozen=True)
class Tick:
    """A place on the stop ladder."""

    label: str
    stops: float
    kind: str  # mark, fill, spot, beam, background, veil


class NotRead(KeyError):
    """Nothing of that name was read; one sentence."""

    def __str__(self):
        return self.args[0]  # a KeyError would put the sentence in quotes


@dataclass(frozen=True)
class Readings:
    """Everything a crew reads of one setup."""

    setup: str
    reference_lx: float  # illuminance that puts a grey card on middle grey
    reference_cd_m2: float
    marks: tuple
    spots: tuple
    targets: tuple
    balance_kelvin: float = 0.0  # what the camera is balanced to; 0 is not given
    daylight: str = ""  # where sun and sky come from; empty where there are none

    @property
    def met(self) -> bool:
        """Whether every target is met."""
        return all(target.met for target in self.targets)

    def mark(self, name: str) -> MarkReading:
        """
        The reading at a mark, by its name.

        Parameters
        ----------
        name : str

        Returns
        -------
        MarkReading

        Raises
        ------
        KeyError
            If no mark is called that; with the name that was meant, if one is near.
        """
        return self._named(name, "mark", self.marks)

    def spot(self, name: str) -> SpotReading:
        """
        A spot reading, by its name.

        Parameters
        ----------
        name : str

        Returns
        -------
        SpotReading

        Raises
        ------
        KeyError
            If no spot is called that; with the name that was meant, if one is near.
        """
        return self._named(name, "spot", self.spots)

    def __getitem__(self, name):
        return self._named(name, "mark or spot", self.marks + self.spots)

    def _named(self, name, kind, parts):
        for part in parts:
            if part.name == name:
                return part
        raise NotRead(f"setup '{self.setup}': no {kind} '{name}'{near(name, [part.name for part in parts], 'there is')}")

    def ladder(self) -> tuple[Tick, ...]:
        """The ticks of the stop ladder; what has no light has no tick."""
        ticks = []
        for mark in self.marks:
            ticks.append(Tick(mark.name, mark.level_stops, "mark"))
            if np.isfinite(mark.fill_under_stops):
                ticks.append(Tick(f"{mark.name}: fill", mark.level_stops + mark.fill_under_stops, "fill"))
            ticks.append(Tick(f"veil at {mark.name}", mark.veil_stops, "veil"))
        for spot in self.spots:
            kind = "beam" if spot.source else "spot"
            ticks.append(Tick(spot.name, spot.level_stops, kind))
            if spot.source:
                behind = float(stops(spot.background_cd_m2 / self.reference_cd_m2))
                ticks.append(Tick(f"behind {spot.name}", behind, "background"))
        return tuple(tick for tick in ticks if np.isfinite(tick.stops))

    def lines(self, units: str = "metric") -> list[str]:
        """The readings as plain text, stops to a tenth."""
        rows = [f"{self.setup}: middle grey at {wording.light_text(self.reference_lx, units)}"]
        rows += [f"  daylight: {self.daylight}"] if self.daylight else []
        for mark in self.marks:
            level = wording.stops_text(mark.level_stops, unit=" stops")
            rows.append(f"  {mark.name}: {wording.light_text(mark.illuminance_lx, units)}, {level}; {ratio_words(mark)}")
            least = 0.0005 * mark.illuminance_lx
            parts = [f"{name} {wording.light_text(lx, units)}" for name, lx in mark.by_source.items() if lx >= least > 0]
            rows.append(f"    from {', '.join(parts) or 'nothing'}")
            rows += [f"    {words}" for words in cheek_words(mark, units)]
            if mark.mixed or (self.balance_kelvin and np.isfinite(mark.mix_kelvin)):
                rows.append(f"    colour: {mark.mix.words(self.balance_kelvin)}")
            if mark.transmittance < 0.9995:
                through, share = (wording.percent_text(part) for part in (mark.transmittance, mark.veil_share))
                veil = wording.reading_text("veil", mark.veil_stops)
                rows.append(f"    haze lets through {through}, veil {veil} from middle grey, {share} of a grey card as seen")
        for spot in self.spots:
            level, over = (
                wording.stops_text(spot.level_stops, unit=" stops"),
                wording.reading_text("beam_over", spot.beam_over_stops),
            )
            shaft = f"; shaft of {spot.source} {over} over background" if spot.source else ""
            rows.append(f"  {spot.name}: {wording.luminance_text(spot.luminance_cd_m2, units)}, {level}{shaft}")
        for target in self.targets:
            got = wording.reading_text(target.quantity, target.got_stops)
            rows.append(f"  target {wording.target_text(target, within=True)}: {got}, {wording.verdict_text(target)}")
        return rows

    def as_json(self) -> dict[str, Any]:
        """The readings as plain data, units in the key names; numbers that do not exist are None, and `no_ratio` says why."""
        row = wording.plain(self) | {"marks": [_mark_json(mark) for mark in self.marks], "met": self.met}
        return row | {"balance_kelvin": self.balance_kelvin or None}


def ratio_words(mark: MarkReading) -> str:
    """A mark's ratio both ways, or why it has none."""
    if mark.no_ratio:
        return mark.no_ratio
    of = "lit : far cheek" if mark.other_cheek else "key + fill : fill"
    return f"{of} {wording.ratio_text(mark.ratio, in_stops=True)}, key : fill {wording.ratio_text(mark.key_to_fill, in_stops=True)}"


def cheek_words(mark: MarkReading, units: str = "metric") -> list[str]:
    """
    One line on a person's cheeks.

    Parameters
    ----------
    mark : MarkReading
    units : {"metric", "feet"}

    Returns
    -------
    list of str
        Empty where they are not read.
    """
    if not mark.cheeks_lx:
        return []
    sides = [
        f"{side} {wording.light_text(lx, units)}, {wording.stops_text(level)}"
        for side, lx, level in zip(("own left", "own right"), mark.cheeks_lx, mark.cheeks_stops)
    ]
    return [f"cheeks: {'; '.join(sides)}; lit : far {wording.ratio_text(mark.cheek_ratio, mark.no_cheeks, in_stops=True)}"]


def readings(setup: Setup, *, lit: Lit | None = None, quality: str = "final") -> Readings:
    """
    Read a setup.

    Parameters
    ----------
    setup : Setup
    lit : solve.Lit, optional
        The setup's light, where it is already worked out.
    quality : {'final', 'draft'}
        Used when `lit` is not given.

    Returns
    -------
    Readings
        Marks, spots and targets in the setup's order.

    Notes
    -----
    A level is log2(E / E_ref) for a mark and log2(L / L_ref) for a spot, with L_ref = 0.18 E_ref / pi, so an
    incident and a spot reading of a grey card agree. The key is the setup's own, or else the one source that
    gives the mark most; everything else is fill, the room included.

    The ratio is read as on set. Where a face is marked on both cheeks it is the one reading against the other: two
    marks of one receptor and reflectance (where the second has one), within 0.25 m of each other and facing 60 degrees
    or more apart, at most one of them a figure, and no third such mark near either. Else it is worked out from what each source
    gives, and a person's cheeks are read besides, flat on the skin (`solids.cheeks`). Fill under a thousandth of the key is not
    measurable; nor, where sun or sky are the key, is what black boards send back.
    """
    lit = lit or light(setup, quality)
    reference_lx = setup.camera.reference_lx
    marks = _marks(setup, lit, reference_lx)
    spots = tuple(_spot(setup, lit, spot) for spot in setup.spots)
    return Readings(
        setup=setup.name, reference_lx=reference_lx, reference_cd_m2=setup.camera.reference_cd_m2,
        marks=marks, spots=spots, targets=tuple(judged(target, marks, spots) for target in setup.targets),
        balance_kelvin=setup.camera.balance_kelvin, daylight=setup.daylight_said,
    )  # fmt: skip


def _marks(setup, lit, reference_lx):
    if not setup.marks:
        return ()
    names = setup.source_names + (setup.place.sends_back,)
    pairs = _cheeks(setup.marks)
    faces = [k for k, mark in enumerate(setup.marks) if mark.figure and not any(k in pair for pair in pairs)]
    skins = [cheeks(setup.marks[k]) for k in faces]
    at = np.concatenate([[mark.at for mark in setup.marks], *(points for points, _ in skins)])
    facing = np.concatenate([[np.subtract(mark.aim, mark.at) for mark in setup.marks], *(ways for _, ways in skins)])
    lux = lit.illuminance_lx(at, facing, dome=[mark.receptor == "dome" for mark in setup.marks] + 2 * len(faces) * [False])
    read = [_mark(setup, lit, mark, dict(zip(names, row.tolist())), reference_lx) for mark, row in zip(setup.marks, lux)]
    for i, j in pairs:
        read[i], read[j] = _as_cheek(read[i], read[j]), _as_cheek(read[j], read[i])
    for k, both in zip(faces, lux[len(setup.marks) :].sum(axis=1).reshape(-1, 2).tolist()):
        read[k] = replace(read[k], cheeks_lx=tuple(both), cheeks_stops=tuple(float(stops(lx / reference_lx)) for lx in both))
    return tuple(read)


def _mark(setup, lit, mark, by_source, reference_lx):
    total = sum(by_source.values())
    sources = {name: lx for name, lx in by_source.items() if name != setup.place.sends_back}
    key = setup.key or ((max(sources, key=sources.get),) if sources else ())
    key_lx = sum(by_source.get(name, 0.0) for name in key)  # a sun that is the key may have made room for the moon
    fill_lx = total - key_lx if key else total
    away = np.subtract(mark.at, setup.camera.at)
    distance = float(np.linalg.norm(away))
    line = sight_line(lit, away / distance, to_m=min(distance, FAR_M)) if distance > 0.05 else None
    veil = line.air_cd_m2 if line else 0.0
    through = line.transmittance if line else 1.0
    card, mix = GREY_REFLECTANCE * total / np.pi * through, mark_mix(lit, mark, by_source)
    return MarkReading(
        name=mark.name, illuminance_lx=total, by_source=by_source, level_stops=float(stops(total / reference_lx)),
        key=tuple(key), key_lx=key_lx, fill_lx=fill_lx, **_ratios(key_lx, fill_lx, _black_lx(setup, key, by_source)),
        transmittance=through, veil_cd_m2=veil, veil_stops=float(stops(veil / setup.camera.reference_cd_m2)),
        veil_share=veil / (card + veil) if card + veil > 0 else 0.0, mix_kelvin=mix.kelvin, mix_duv=mix.duv,
        mix_without=mix.without, mixed=mix.mixed,
    )  # fmt: skip


def _ratios(key_lx, fill_lx, black_lx=0.0):
    """Key and fill as the fields of a mark."""
    none = "no key" if key_lx <= 0 else "no fill" if fill_lx <= 0 else ""
    if fill_lx > 0 and fill_lx - black_lx < LEAST_FILL * key_lx:
        none, fill_lx = "no measurable fill", 0.0
    ratio = (key_lx + fill_lx) / fill_lx if fill_lx > 0 else np.inf
    return dict(
        ratio=ratio, key_to_fill=key_lx / fill_lx if fill_lx > 0 else np.inf, ratio_stops=float(stops(ratio)),
        fill_under_stops=-float(stops(ratio)), no_ratio=none if key_lx + fill_lx > 0 else "no light",
    )  # fmt: skip


def _black_lx(setup, key, by_source):
    """What black boards send back where sun or sky are the key: nobody's fill. [lx]"""
    if not set(key) <= set(BODIES):
        return 0.0
    return sum(by_source[board.name] for board in setup.boards if board.stuff.reflectance <= BLACK and board.name not in key)


def _cheeks(marks):
    """Pairs of marks that are the two cheeks of one face, as places in the list; see `readings`."""
    near = [{j for j, other in enumerate(marks) if j != i and _one_face(mark, other)} for i, mark in enumerate(marks)]
    return [(i, j) for i, found in enumerate(near) for j in found if i < j and found == {j} and near[j] == {i}]


def _one_face(one, other):
    ways = [np.subtract(mark.aim, mark.at) / np.linalg.norm(np.subtract(mark.aim, mark.at)) for mark in (one, other)]
    skin = one.reflectance == other.reflectance or (other if one.figure else one).reflectance == Mark.reflectance  # not given
    alike = one.receptor == other.receptor and skin and not (one.figure and other.figure)
    return alike and np.linalg.norm(np.subtract(one.at, other.at)) <= HEAD_M and ways[0] @ ways[1] <= TURNED


def _as_cheek(mark, other):
    """The mark with the ratio of its face: the brighter cheek gets key and fill, the other one the fill."""
    far, lit = sorted((mark.illuminance_lx, other.illuminance_lx))
    read = {name: value for name, value in _ratios(lit - far, far).items() if name != "fill_under_stops"}
    return replace(mark, other_cheek=other.name, **read)


def _spot(setup, lit, spot):
    away = np.subtract(spot.at, setup.camera.at).astype(float)
    ray = away / np.linalg.norm(away)
    line = sight_line(lit, ray)
    background = over = np.nan
    if spot.source:
        own = _own_air(lit, line, ray, setup.source_names.index(spot.source))
        background = max(line.luminance_cd_m2 - own, 0.0)  # both are sums over nodes, not the same ones
        over = float(stops(line.luminance_cd_m2 / background)) if background > 0 else np.inf
    return SpotReading(
        name=spot.name, luminance_cd_m2=line.luminance_cd_m2,
        level_stops=float(stops(line.luminance_cd_m2 / setup.camera.reference_cd_m2)), air_cd_m2=line.air_cd_m2,
        source=spot.source, background_cd_m2=background, beam_over_stops=over,
    )  # fmt: skip


def _own_air(lit, line, ray, source):
    """
    What a source's straight light adds to a sight line: its shafts, and what has no edges, an area lamp's, a board's, the sky's.

    What a lamp or the sun sends through cloth is no beam any more, and is left with the background. The open sky's is its own
    and that of the open ground under it.
    """
    cd_m2, rig = float(line.shafts_cd_m2[source]), lit.rig
    if rig.extinction <= 0:
        return cd_m2
    camera, ray = np.array(lit.setup.camera.at, dtype=float), np.ascontiguousarray(ray)
    facets = {part.name for part in lit.setup.boards + lit.setup.frames} | {"sky"}
    if lit.setup.source_names[source] in facets and (rig.facets["source"] == source).any():
        end_m = float(soft_reach(rig.row, camera, ray[None])[0])
        cd_m2 += facet_air(rig.row, source, camera, ray, min(line.reach_m, end_m), FACET_STEPS)
    if source == rig.sky_source and not rig.enclosed:
        cd_m2 += float(open_air(rig.row, ray[None])[0] * (1.0 - line.transmittance))
    if (rig.lamps["source"][rig.faces["lamp"]] == source).any():
        cd_m2 += float(airlight(rig.row, SOFT, camera[None], ray[None], np.array([line.reach_m]), *gauss_nodes(32))[0, source])
    return cd_m2


def judged(target: Target, marks: Sequence[MarkReading], spots: Sequence[SpotReading]) -> TargetReading:
    """
    A target against what was read.

    Parameters
    ----------
    target : Target
    marks, spots : sequence of readings

    Returns
    -------
    TargetReading
    """
    read: tuple[MarkReading | SpotReading, ...] = (*marks, *spots)
    of = next((one for one in read if one.name == target.of), None)
    field = {"level": "level_stops", "fill_under": "fill_under_stops", "beam_over": "beam_over_stops", "veil": "veil_stops"}
    got = float(getattr(of, field[target.quantity], np.nan))
    miss = got - target.stops
    return TargetReading(
        of=target.of, quantity=target.quantity, wanted_stops=target.stops, within=target.within, got_stops=got,
        met=bool(target.low_stops - 1e-9 <= got <= target.high_stops + 1e-9), miss_stops=miss, bound=target.bound,
    )  # fmt: skip


def _mark_json(mark):
    row = wording.plain(mark)
    row["by_source_lx"] = row.pop("by_source")
    row |= dict.fromkeys(("ratio", "key_to_fill", "ratio_stops")) if mark.no_ratio else {}
    return row | {"no_ratio": mark.no_ratio or None, "other_cheek": mark.other_cheek or None}
