"""How the readings of a setup move as its haze thickens: the beam against the wall, one cheek against the other."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from lightcalc.meter import readings
from lightcalc.units import check_range, stops
from lightcalc.view import GREY


@dataclass(frozen=True)
class HazeSweep:
    """Readings of one setup at several densities of haze; every array has shape (n,)."""

    extinction_per_m: np.ndarray
    beam_over_stops: np.ndarray  # the shaft over what is behind it
    bright_stops: np.ndarray  # a grey card at the bright mark, as the lens sees it through the haze
    dark_stops: np.ndarray  # and at the dark mark

    @property
    def contrast_stops(self):
        """Bright mark over dark mark, as the lens sees them. [stops]"""
        return self.bright_stops - self.dark_stops


def with_haze(setup, extinction_per_m):
    """
    The setup in thicker or thinner air of the same droplets.

    Parameters
    ----------
    setup : scene.Setup
    extinction_per_m : float
        Extinction coefficient, 0 to 10. [1/m]

    Returns
    -------
    scene.Setup

    Raises
    ------
    scene.SceneError
        If the extinction is outside its range.
    """
    return replace(setup, haze=replace(setup.haze, extinction_per_m=float(extinction_per_m)))


def seen_stops(mark, *, reference_cd_m2):
    r"""
    Level of a grey card at a mark as the lens sees it, haze included. [stops]

    Parameters
    ----------
    mark : meter.MarkReading
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
    card_cd_m2 = GREY * mark.illuminance_lx / np.pi
    return float(stops((mark.transmittance * card_cd_m2 + mark.veil_cd_m2) / reference_cd_m2))


def haze_sweep(setup, extinction_per_m, *, beam, bright, dark, quality="final"):
    """
    Read a setup at several densities of haze.

    Parameters
    ----------
    setup : scene.Setup
    extinction_per_m : sequence of float, shape (n,)
        Extinction coefficients, 0 to 10. [1/m]
    beam : str
        Name of a spot with a source.
    bright, dark : str
        Names of two marks, a lit and a shaded cheek say.
    quality : {'final', 'draft'}
        As for `meter.readings`.

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
