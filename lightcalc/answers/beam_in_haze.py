"""How the readings of a setup move as its haze thickens and its camera walks round the beam."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from lightcalc.answers.readings import MarkReading, readings
from lightcalc.engine.picture import sight_line
from lightcalc.engine.solve import light
from lightcalc.laws.exposure import GREY_REFLECTANCE
from lightcalc.scene.parts import SURFACES, Setup
from lightcalc.units import Numbers, Row, check_range, stops


@dataclass(frozen=True)
class HazeSweep:
    """Readings of one setup at several densities of haze; every array has shape (n,)."""

    extinction_per_m: np.ndarray
    beam_over_stops: np.ndarray  # the shaft over what is behind it
    bright_stops: np.ndarray  # a grey card at the bright mark, as the lens sees it through the haze
    dark_stops: np.ndarray  # and at the dark mark

    @property
    def contrast_stops(self) -> Numbers:
        """Bright mark over dark mark, as the lens sees them. [stops]"""
        return self.bright_stops - self.dark_stops


def with_haze(setup: Setup, extinction_per_m: float) -> Setup:
    """
    The setup in thicker or thinner air of the same droplets.

    Parameters
    ----------
    setup : Setup
    extinction_per_m : float
        Extinction coefficient, 0 to 10. [1/m]

    Returns
    -------
    Setup

    Raises
    ------
    SceneError
        If the extinction is outside its range.
    """
    return replace(setup, haze=replace(setup.haze, extinction_per_m=float(extinction_per_m)))


def seen_stops(mark: MarkReading, *, reference_cd_m2: float) -> float:
    r"""
    Level of a grey card at a mark as the lens sees it, haze included. [stops]

    Parameters
    ----------
    mark : readings.MarkReading
    reference_cd_m2 : float
        Luminance of middle grey, > 0. [cd/m2]

    Returns
    -------
    float
        Stops from middle grey; minus infinity where there is no light.

    Raises
    ------
    ValueError
        If the reference is not positive.

    Notes
    -----
    .. math:: \log_2 \frac{T \, 0.18 E / \pi + L_\mathrm{veil}}{L_\mathrm{ref}}

    with T the transmittance from mark to lens. An incident meter at the mark reads neither T nor the veil.
    """
    check_range("reference_cd_m2", reference_cd_m2, above=0.0)
    card_cd_m2 = GREY_REFLECTANCE * mark.illuminance_lx / np.pi
    return float(stops((mark.transmittance * card_cd_m2 + mark.veil_cd_m2) / reference_cd_m2))


def haze_sweep(setup: Setup, extinction_per_m: Row, *, beam: str, bright: str, dark: str, quality: str = "final") -> HazeSweep:
    """
    Read a setup at several densities of haze.

    Parameters
    ----------
    setup : Setup
    extinction_per_m : sequence of float, shape (n,)
        Extinction coefficients, 0 to 10. [1/m]
    beam : str
        Name of a spot with a source.
    bright, dark : str
        Names of two marks, a lit and a shaded cheek say.
    quality : {'final', 'draft'}
        As for `readings.readings`.

    Returns
    -------
    HazeSweep

    Raises
    ------
    ValueError
        If the setup has no such mark or no such spot with a source, or an extinction is outside its range.
    """
    _choice("beam", beam, [spot.name for spot in setup.spots if spot.source])
    _choice("bright", bright, [mark.name for mark in setup.marks])
    _choice("dark", dark, [mark.name for mark in setup.marks])
    rows = [_row(readings(with_haze(setup, k), quality=quality), beam, bright, dark) for k in extinction_per_m]
    over, lit, shaded = np.array(rows, dtype=float).reshape(-1, 3).T
    return HazeSweep(np.array(extinction_per_m, dtype=float), over, lit, shaded)


def _row(read, beam, bright, dark):
    marks = {mark.name: mark for mark in read.marks}
    over = next(spot.beam_over_stops for spot in read.spots if spot.name == beam)
    return over, *(seen_stops(marks[name], reference_cd_m2=read.reference_cd_m2) for name in (bright, dark))


def _choice(field, name, known):
    if name not in known:
        raise ValueError(f"{field} must be one of {', '.join(known) or 'none'}, got {name!r}")


@dataclass(frozen=True)
class BeamMap:
    """A beam over what is behind it, by where the camera stands and how thick the air is."""

    angle_deg: np.ndarray  # (m,) from the way the light goes: 0 the camera looks against it, 180 along with it
    extinction_per_m: np.ndarray  # (n,)
    beam_over_stops: np.ndarray  # (m, n)


def painted(setup: Setup, reflectance: float) -> Setup:
    """
    The setup with every surface of its room of one reflectance.

    Parameters
    ----------
    setup : Setup
        In a room.
    reflectance : float
        0 to 0.98. [1]

    Returns
    -------
    Setup

    Raises
    ------
    SceneError
        If the reflectance is outside its range.
    """
    faces: dict[str, Any] = dict.fromkeys(SURFACES, float(reflectance))
    return replace(setup, place=replace(setup.place, **faces))


def beam_map(
    setup: Setup, extinction_per_m: Row, angle_deg: Row, *, beam: str, camera_m: float = 2.0, quality: str = "final"
) -> BeamMap:
    """
    Walk the camera round a beam, in thinner and thicker air.

    Parameters
    ----------
    setup : Setup
    extinction_per_m : sequence of float, shape (n,)
        Extinction coefficients, 0 to 10. [1/m]
    angle_deg : sequence of float, shape (m,)
        On the plan, from the way the light goes: at 0 the camera looks against the light, at 180 along with it.
    beam : str
        Name of a spot with a source; the camera looks at it.
    camera_m : float, default 2
        Camera to spot on the plan, > 0; its height stays. [m]
    quality : {'final', 'draft'}
        As for `readings.readings`.

    Returns
    -------
    BeamMap

    Raises
    ------
    ValueError
        If the setup has no such spot with a source, a number is out of range, or the camera would leave the room.
    """
    check_range("camera_m", camera_m, above=0.0, high=100.0)
    _choice("beam", beam, [spot.name for spot in setup.spots if spot.source])
    spot = setup.part(beam)
    way = np.subtract(spot.at, setup.part(spot.source).at)[:2]
    bearing = np.arctan2(way[1], way[0]) + np.radians(np.asarray(angle_deg, dtype=float))
    places = [(spot.at[0] + camera_m * np.cos(b), spot.at[1] + camera_m * np.sin(b), setup.camera.at[2]) for b in bearing]
    walked = [setup.with_part("camera", at=at, aim=spot.at) for at in places]
    over = np.array([[_shaft_over(light, s, spot) for s in walked] for light in _airs(setup, extinction_per_m, quality)])
    return BeamMap(np.array(angle_deg, dtype=float), np.array(extinction_per_m, dtype=float), over.T)


def _airs(setup, extinction_per_m, quality):
    """The setup's light in each air; where the camera stands makes no difference to it."""
    return [light(with_haze(setup, k), quality) for k in extinction_per_m]


def _shaft_over(lit, setup, spot):
    """The shaft at a spot over the same line without it, from the setup's camera. [stops]"""
    ray = np.subtract(spot.at, setup.camera.at)
    line = sight_line(replace(lit, setup=setup), ray / np.linalg.norm(ray))
    shaft = float(line.shafts_cd_m2[setup.source_names.index(spot.source)])
    return float(stops(line.luminance_cd_m2 / (line.luminance_cd_m2 - shaft)))
