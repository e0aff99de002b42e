"""Which stop, ISO, filter or shutter angle puts a mark on its target, and what a changed camera reads everywhere."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from lightcalc.answers.readings import Readings, judged, readings
from lightcalc.laws.engraved import nearest_third
from lightcalc.laws.exposure import t_stop_from_engraved
from lightcalc.scene.parts import Camera, SceneError, Setup
from lightcalc.units import check_range, stops
from lightcalc.wording import nd_text, near, number_text, plain, reading_text, stops_text, t_stop_text, target_text, verdict_text

FIELDS = ("t_stop", "iso", "nd_stops", "shutter_deg")
MOST_ND = 20.0  # as a camera of the scene takes


@dataclass(frozen=True)
class Way:
    """One field of the camera that alone puts the mark where it is wanted."""

    field: str
    exact: float  # NaN where no value of it does
    click: float  # the nearest that ring or dial has
    off_stops: float  # how far the mark then sits from where it is wanted
    read: Readings | None  # everything else, at that click

    def line(self) -> str:
        """The way in words, with every level and target it leaves behind."""
        names = {"t_stop": "stop", "iso": "ISO", "nd_stops": "filter", "shutter_deg": "shutter"}
        if not np.isfinite(self.click) or self.read is None:
            return f"  {names[self.field]}: none does"
        words = {"t_stop": t_stop_text, "nd_stops": nd_text}.get(self.field, lambda value: number_text(value, figures=4))
        unit = " degrees" if self.field == "shutter_deg" else ""
        off = f" ({stops_text(self.off_stops)} off)" if abs(self.off_stops) >= 0.05 else ""
        return f"  {names[self.field]}: {words(self.click)}{unit}{off}; {after_words(self.read)}"


@dataclass(frozen=True)
class CameraFor:
    """What on the camera puts a mark on its target."""

    setup: str
    mark: str
    at_stops: float
    now_stops: float
    ways: tuple[Way, ...]

    def lines(self) -> list[str]:
        """The answer as plain text, stops to a tenth."""
        change = stops_text(self.at_stops - self.now_stops)
        head = (
            f"{self.setup}: {self.mark} reads {stops_text(self.now_stops)}, wanted {stops_text(self.at_stops)}: {change} stops, by"
        )
        return [head, *(way.line() for way in self.ways)]

    def as_json(self) -> dict[str, Any]:
        """The answer as plain data, units in the key names."""
        row = plain(replace(self, ways=()))
        row["ways"] = [plain(replace(way, read=None)) | {"read": way.read and way.read.as_json()} for way in self.ways]
        return row


def exposed(read: Readings, setup: Setup, camera: Camera) -> Readings:
    r"""
    The same light with another exposure: every level moves by as much, ratios and beams stay, targets are judged again.

    Parameters
    ----------
    read : Readings
        Of `setup`, with its own camera.
    setup : Setup
    camera : Camera
        Same place and lens; stop, time, ISO and filter may differ.

    Returns
    -------
    Readings

    Notes
    -----
    .. math:: \Delta = \log_2 (E_\mathrm{ref,old} / E_\mathrm{ref,new})

    Light does not change, so nothing is worked out again.
    """
    change = float(stops(read.reference_lx / camera.reference_lx))
    marks = tuple(replace(m, level_stops=m.level_stops + change, veil_stops=m.veil_stops + change) for m in read.marks)
    spots = tuple(replace(spot, level_stops=spot.level_stops + change) for spot in read.spots)
    targets = tuple(judged(target, marks, spots) for target in setup.targets)
    lx, cd_m2 = camera.reference_lx, camera.reference_cd_m2
    return replace(read, marks=marks, spots=spots, targets=targets, reference_lx=lx, reference_cd_m2=cd_m2)


def after_words(read: Readings) -> str:
    """Levels of all marks and spots, and what of the targets is then missed, in a line."""
    levels = ", ".join(f"{part.name} {stops_text(part.level_stops)}" for part in read.marks + read.spots)
    missed = [
        f"{target_text(target)} {verdict_text(target)} ({reading_text(target.quantity, target.got_stops)})"
        for target in read.targets
        if not target.met
    ]
    return levels + ("; " + "; ".join(missed) if missed else "; every target met" if read.targets else "")


def camera_for(
    setup: Setup, *, mark: str, at_stops: float | None = None, read: Readings | None = None, quality: str = "final"
) -> CameraFor:
    """
    What on the camera puts a mark on its target: stop, ISO, filter, shutter angle, each alone.

    Parameters
    ----------
    setup : Setup
    mark : str
        A mark or a spot.
    at_stops : float, optional
        Where it shall sit, from middle grey; without it its own level target, or else middle grey. [stops]
    read : Readings, optional
        The setup's readings, where they are already worked out.
    quality : {'final', 'draft'}
        Used for what has to be read.

    Returns
    -------
    CameraFor

    Raises
    ------
    SceneError
        If nothing of that name is read, or no light comes from it.

    Notes
    -----
    The reference illuminance has to change by the difference: T by half of it in stops, ISO, time and filter by all of it.
    T and ISO go to the nearest third of a stop, filters and angles to a tenth of a stop and a degree.
    """
    read = read or readings(setup, quality=quality)
    there = {part.name: part for part in read.marks + read.spots}
    if mark not in there:
        raise SceneError(f"setup '{setup.name}': no mark or spot '{mark}'{near(mark, list(there), 'there are')}")
    now = there[mark].level_stops
    if not np.isfinite(now):
        raise SceneError(f"setup '{setup.name}', '{mark}': no light, so no camera puts it anywhere")
    if at_stops is None:
        at_stops = next((t.stops for t in setup.targets if t.of == mark and t.quantity == "level"), 0.0)
    check_range("at_stops", at_stops)
    ways = tuple(one_way(setup, field=field, brighter_stops=float(at_stops) - now, read=read) for field in FIELDS)
    return CameraFor(setup.name, mark, float(at_stops), now, ways)


def one_way(setup: Setup, *, field: str, brighter_stops: float, read: Readings | None = None) -> Way:
    """
    One field of the camera, turned until everything shows brighter by so much.

    Parameters
    ----------
    setup : Setup
    field : {'t_stop', 'iso', 'nd_stops', 'shutter_deg'}
    brighter_stops : float
        [stops]
    read : Readings, optional
        The setup's readings; with them the way says what it leaves behind.

    Returns
    -------
    Way
        Its `off_stops` is NaN where no ring, dial, filter or shutter has it.
    """
    camera, old = setup.camera, getattr(setup.camera, field)
    exact = {
        "t_stop": old / 2.0 ** (brighter_stops / 2.0), "iso": old * 2.0**brighter_stops, "nd_stops": old - brighter_stops,
        "shutter_deg": old * 2.0**brighter_stops,
    }[field]  # fmt: skip
    try:
        click = _click(field, exact)
        changed = replace(camera, **{field: click})
    except ValueError:  # no ring, no dial, no filter and no shutter has that
        return Way(field, float("nan"), float("nan"), float("nan"), None)
    off = float(stops(camera.reference_lx / changed.reference_lx)) - brighter_stops
    return Way(field, exact, click, off, exposed(read, setup, changed) if read else None)


def _click(field, exact):
    """The nearest that can be set."""
    if field == "t_stop":
        return float(t_stop_from_engraved(label=nearest_third(scale="t_stop", value=exact)))
    if field == "iso":
        return float(nearest_third(scale="iso", value=exact))
    if field == "nd_stops":
        check_range("nd_stops", round(exact, 1), low=0.0, high=MOST_ND)
        return round(exact, 1) + 0.0
    check_range("shutter_deg", round(exact), low=1.0, high=360.0)
    return float(round(exact))
