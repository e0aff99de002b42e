"""Readings: what an incident meter reads at the marks, what a spot meter reads from the camera, and how targets fare."""

from __future__ import annotations

from dataclasses import asdict, dataclass

import numpy as np

from lightcalc.answers.colour_mix import Mix, mark_mix
from lightcalc.engine.direct import SOFT, airlight, gauss_nodes
from lightcalc.engine.indirect import open_air, sheet_air
from lightcalc.engine.picture import GREY, sight_line, soft_reach
from lightcalc.engine.solve import light
from lightcalc.units import fc_from_lx, stops
from lightcalc.wording import near_miss

SHEET_STEPS = 24  # along a sight line, as `sight_line` takes


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
    ratio: float  # (key + fill) : fill
    key_to_fill: float
    ratio_stops: float  # log2 of ratio
    fill_under_stops: float  # the same, as a minus: fill alone from key + fill
    transmittance: float  # mark to lens
    veil_cd_m2: float  # light the air adds in front of the mark
    veil_stops: float  # the veil alone, from middle grey
    veil_share: float  # of what the lens sees of a grey card there
    mix_kelvin: float = np.nan  # correlated colour temperature of the light there; NaN where a source has none
    mix_duv: float = np.nan  # its distance from the blackbody locus in CIE 1960 u, v; plus is green
    mix_without: tuple = ()  # sources that light it and have no colour temperature
    mixed: bool = False  # whether lights of different colours meet there

    @property
    def mix(self):
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

    @property
    def met(self):
        """Whether every target is met."""
        return all(target.met for target in self.targets)

    def mark(self, name):
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

    def spot(self, name):
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
        raise NotRead(f"setup '{self.setup}': no {kind} '{name}'{near_miss(name, [part.name for part in parts])}")

    def ladder(self):
        """The ticks of the stop ladder; what has no light has no tick."""
        ticks = []
        for mark in self.marks:
            ticks.append(Tick(mark.name, mark.level_stops, "mark"))
            ticks.append(Tick(f"{mark.name}: fill", float(stops(mark.fill_lx / self.reference_lx)), "fill"))
            ticks.append(Tick(f"veil at {mark.name}", mark.veil_stops, "veil"))
        for spot in self.spots:
            kind = "beam" if spot.source else "spot"
            ticks.append(Tick(spot.name, spot.level_stops, kind))
            if spot.source:
                behind = float(stops(spot.background_cd_m2 / self.reference_cd_m2))
                ticks.append(Tick(f"behind {spot.name}", behind, "background"))
        return tuple(tick for tick in ticks if np.isfinite(tick.stops))

    def lines(self, units="metric"):
        """The readings as plain text, stops to a tenth."""
        rows = [f"{self.setup}: middle grey at {light_text(self.reference_lx, units)}"]
        for mark in self.marks:
            rows.append(
                f"  {mark.name}: {light_text(mark.illuminance_lx, units)}, {stop_text(mark.level_stops)} stops; {ratio_text(mark)}"
            )
            parts = [f"{name} {light_text(lx, units)}" for name, lx in mark.by_source.items() if lx >= 0.0005 * mark.illuminance_lx]
            rows.append(f"    from {', '.join(parts) or 'nothing'}")
            if mark.mixed or (self.balance_kelvin and np.isfinite(mark.mix_kelvin)):
                rows.append(f"    colour: {mark.mix.words(self.balance_kelvin)}")
            if mark.transmittance < 0.9995:
                rows.append(
                    f"    haze lets through {100 * mark.transmittance:.0f} %, veil {stop_text(mark.veil_stops)} stops, "
                    f"{100 * mark.veil_share:.0f} % of a grey card as seen"
                )
        for spot in self.spots:
            text = f"  {spot.name}: {spot.luminance_cd_m2:.3g} cd/m2, {stop_text(spot.level_stops)} stops"
            if spot.source:
                text += f"; shaft of {spot.source} {stop_text(spot.beam_over_stops)} stops over what is behind it"
            rows.append(text)
        for target in self.targets:
            verdict = "met" if target.met else f"missed by {stop_text(target.miss_stops)}"
            rows.append(
                f"  target {target.of} {target.quantity.replace('_', ' ')} {stop_text(target.wanted_stops)} "
                f"within {target.within:.1f}: {stop_text(target.got_stops)}, {verdict}"
            )
        return rows

    def as_json(self):
        """The readings as plain data, units in the key names; numbers that do not exist are None."""
        return _plain(
            dict(
                setup=self.setup, reference_lx=self.reference_lx, reference_cd_m2=self.reference_cd_m2,
                marks=[_mark_json(m) for m in self.marks], spots=[asdict(s) for s in self.spots],
                targets=[asdict(t) for t in self.targets], met=self.met, balance_kelvin=self.balance_kelvin or None,
            )
        )  # fmt: skip


def light_text(illuminance_lx, units="metric"):
    """
    An illuminance as a person reads it.

    Parameters
    ----------
    illuminance_lx : float
        [lx]
    units : {'metric', 'feet'}
        Lux, or foot-candles.

    Returns
    -------
    str
    """
    value, unit = (illuminance_lx, "lx") if units == "metric" else (float(fc_from_lx(illuminance_lx)), "fc")
    if value >= 100:
        return f"{value:.0f} {unit}"
    return f"{value:.1f} {unit}" if value >= 10 else f"{value:.2g} {unit}" if value >= 0.01 else f"{value:.1e} {unit}"


def stop_text(value):
    """Stops to a tenth with a sign; minus zero is zero; no light is said so."""
    if value == -np.inf:
        return "no light, -inf"
    if not np.isfinite(value):
        return "-"
    return f"{round(value, 1) + 0.0:+.1f}"


def ratio_text(mark):
    """A mark's ratio both ways."""
    if mark.fill_lx <= 0 and mark.key_lx <= 0:
        return "no light"
    if mark.fill_lx <= 0:
        return "no fill"
    if mark.key_lx <= 0:
        return "no key here, all fill"
    return (
        f"key + fill : fill {_ratio(mark.ratio)}:1 ({stop_text(mark.ratio_stops)}), "
        f"key : fill {_ratio(mark.key_to_fill)}:1 ({stop_text(float(stops(mark.key_to_fill)))})"
    )


def _ratio(value):
    return f"{value:.1f}" if value < 99.95 else f"{value:.0f}"


def readings(setup, *, lit=None, quality="final"):
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
    """
    lit = lit or light(setup, quality)
    reference_lx = setup.camera.reference_lx
    marks = _marks(setup, lit, reference_lx)
    spots = tuple(_spot(setup, lit, spot) for spot in setup.spots)
    return Readings(
        setup=setup.name, reference_lx=reference_lx, reference_cd_m2=setup.camera.reference_cd_m2,
        marks=marks, spots=spots, targets=tuple(_target(target, marks, spots) for target in setup.targets),
        balance_kelvin=setup.camera.balance_kelvin,
    )  # fmt: skip


def _marks(setup, lit, reference_lx):
    if not setup.marks:
        return ()
    names = setup.source_names + (setup.place.sends_back,)
    at = [mark.at for mark in setup.marks]
    facing = [np.subtract(mark.aim, mark.at) for mark in setup.marks]
    lux = lit.illuminance_lx(at, facing, dome=[mark.receptor == "dome" for mark in setup.marks])
    return tuple(_mark(setup, lit, mark, dict(zip(names, row.tolist())), reference_lx) for mark, row in zip(setup.marks, lux))


def _mark(setup, lit, mark, by_source, reference_lx):
    total = sum(by_source.values())
    sources = {name: lx for name, lx in by_source.items() if name != setup.place.sends_back}
    key = setup.key or ((max(sources, key=sources.get),) if sources else ())
    key_lx = sum(by_source[name] for name in key)
    fill_lx = total - key_lx if key else total
    away = np.subtract(mark.at, setup.camera.at)
    distance = float(np.linalg.norm(away))
    line = sight_line(lit, away / distance, to_m=min(distance, 300.0)) if distance > 0.05 else None
    veil = line.air_cd_m2 if line else 0.0
    through = line.transmittance if line else 1.0
    card, mix = GREY * total / np.pi * through, mark_mix(lit, mark, by_source)
    ratio = total / fill_lx if fill_lx > 0 else np.inf
    return MarkReading(
        name=mark.name, illuminance_lx=total, by_source=by_source, level_stops=float(stops(total / reference_lx)),
        key=tuple(key), key_lx=key_lx, fill_lx=fill_lx, ratio=ratio,
        key_to_fill=key_lx / fill_lx if fill_lx > 0 else np.inf, ratio_stops=float(stops(ratio)),
        fill_under_stops=-float(stops(ratio)), transmittance=through, veil_cd_m2=veil,
        veil_stops=float(stops(veil / setup.camera.reference_cd_m2)),
        veil_share=veil / (card + veil) if card + veil > 0 else 0.0, mix_kelvin=mix.kelvin, mix_duv=mix.duv,
        mix_without=mix.without, mixed=mix.mixed,
    )  # fmt: skip


def _spot(setup, lit, spot):
    away = np.subtract(spot.at, setup.camera.at).astype(float)
    ray = away / np.linalg.norm(away)
    line = sight_line(lit, ray)
    background = over = np.nan
    if spot.source:
        background = line.luminance_cd_m2 - _own_air(lit, line, ray, setup.source_names.index(spot.source))
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
    sheets = {part.name for part in lit.setup.boards + lit.setup.frames} | {"sky"}
    if lit.setup.source_names[source] in sheets and (rig.sheets["source"] == source).any():
        end_m = float(soft_reach(rig.row, camera, ray[None])[0])
        cd_m2 += sheet_air(rig.row, source, camera, ray, min(line.reach_m, end_m), SHEET_STEPS)
    if source == rig.sky_source and not rig.enclosed:
        cd_m2 += float(open_air(rig.row, ray[None])[0] * (1.0 - line.transmittance))
    if (rig.lamps["source"][rig.faces["lamp"]] == source).any():
        cd_m2 += float(airlight(rig.row, SOFT, camera[None], ray[None], np.array([line.reach_m]), *gauss_nodes(32))[0, source])
    return cd_m2


def _target(target, marks, spots):
    of = next((x for x in marks + spots if x.name == target.of), None)
    field = {"level": "level_stops", "fill_under": "fill_under_stops", "beam_over": "beam_over_stops", "veil": "veil_stops"}
    got = float(getattr(of, field[target.quantity], np.nan))
    miss = got - target.stops
    return TargetReading(
        of=target.of, quantity=target.quantity, wanted_stops=target.stops, within=target.within, got_stops=got,
        met=bool(abs(miss) <= target.within + 1e-9), miss_stops=miss,
    )  # fmt: skip


def _mark_json(mark):
    row = asdict(mark)
    row["by_source_lx"] = row.pop("by_source")
    return row


def _plain(value):
    if isinstance(value, dict):
        return {key: _plain(v) for key, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(v) for v in value]
    if isinstance(value, float) and not np.isfinite(value):
        return None
    return value
