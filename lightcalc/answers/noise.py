"""How noisy a setup's picture is: at each mark, in each stop of shadow, at each ISO, and what changes it most."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from lightcalc.answers.readings import Readings, readings
from lightcalc.laws import sensor as photons
from lightcalc.laws.engraved import thirds
from lightcalc.laws.exposure import GREY_REFLECTANCE
from lightcalc.scene.parts import Camera, Setup
from lightcalc.units import Row, check_range
from lightcalc.wording import number_text, plain, stops_text

USUAL_ISO = (800.0, 1600.0, 3200.0, 6400.0, 12_800.0, 20_000.0, 25_600.0)


@dataclass(frozen=True)
class IsoRow:
    """Middle grey at one ISO, the camera's stop and time held."""

    iso: float
    reference_lx: float  # light that puts a grey card on grey
    electrons: float  # in a pixel there
    snr: float  # as the picture is seen
    margin_stops: float  # over the floor chosen
    error_stops: float  # one standard deviation of it
    range_under_stops: float  # from grey down to where noise hides all (SNR 1)


@dataclass(frozen=True)
class MarkNoise:
    """A grey card at a mark, in its light."""

    name: str
    level_stops: float
    electrons: float
    snr: float
    margin_stops: float
    error_stops: float


@dataclass(frozen=True)
class Noise:
    """The noise of a setup. Signal to noise is that of the picture as it is seen, `seen_px` across."""

    setup: str
    iso: float
    floor_snr: float
    seen_px: float
    grey: IsoRow
    by_cause_stops: dict  # what each cause gives to grey's error bar
    marks: tuple
    shadow_stops: np.ndarray  # 0, -1, -2 ... from middle grey, shape (n,)
    shadow_snr: np.ndarray  # shape (n,)

    def lines(self) -> list[str]:
        """The noise as plain text."""
        g = self.grey
        rows = [
            f"{self.setup}: ISO {number_text(self.iso, figures=4)}, middle grey holds {g.electrons:.0f} electrons a pixel, signal to noise "
            f"{g.snr:.0f} in a picture {self.seen_px:g} across",
            f"  {stops_text(g.margin_stops)} stops over a floor of {self.floor_snr:g}, give or take {stops_text(g.error_stops, sign=False)}; "
            f"shadows end {stops_text(g.range_under_stops, sign=False)} stops under",
        ]
        rows += [
            f"  {m.name}: {stops_text(m.level_stops)}, {m.electrons:.0f} electrons, signal to noise {m.snr:.0f}, margin "
            f"{stops_text(m.margin_stops)}, give or take {stops_text(m.error_stops, sign=False)}"
            for m in self.marks
        ]
        causes = sorted(self.by_cause_stops.items(), key=lambda item: -item[1])
        return rows + [f"  the doubt is {', '.join(f'{cause} {stops:.2f}' for cause, stops in causes)} stop"]

    def as_json(self) -> dict[str, Any]:
        """The noise as plain data, units in the key names; a mark without light has None."""
        return plain(self)


def sensor_of(camera: Camera) -> dict[str, float]:
    """
    The numbers of a camera that `photons` asks for.

    Parameters
    ----------
    camera : Camera

    Returns
    -------
    dict
        `pixel_um`, `quantum_efficiency`, `read_noise_e`, `photons_per_lx_s_um2`.
    """
    return {name: getattr(camera, name) for name in ("pixel_um", "quantum_efficiency", "read_noise_e", "photons_per_lx_s_um2")}


def _seen(camera, seen_px):
    return float(photons.pixels_seen_as_one(sensor_width_mm=camera.sensor_width_mm, pixel_um=camera.pixel_um, seen_px=seen_px))


def _patch(camera, exposure_lx_s, floor_snr, seen_px, spread):
    """Electrons, SNR, margin, its error and its causes, of a patch with so many lx s on the sensor."""
    sensor, k = sensor_of(camera), _seen(camera, seen_px)
    if exposure_lx_s <= 0:
        return 0.0, 0.0, -np.inf, np.nan, {}
    catch = {name: sensor[name] for name in sensor if name != "read_noise_e"}
    n = float(photons.electrons(exposure_lx_s=exposure_lx_s, **catch))
    seen = float(photons.snr(electrons=n, read_noise_e=camera.read_noise_e, pixels=k))
    held = dict(exposure_lx_s=exposure_lx_s, floor_snr=floor_snr, pixels=k, **sensor)
    return n, seen, float(photons.margin_stops(**held)), *photons.margin_error_stops(**held, spread=spread)


def range_under_stops(camera: Camera, *, floor_snr: float = photons.FLOOR_SNR, seen_px: float = photons.SEEN_PX) -> float:
    """
    Stops from middle grey down to where noise hides all: a camera's range under, from its own numbers. [stops]

    Parameters
    ----------
    camera : Camera
    floor_snr : float, default 1
        Signal to noise at which a level is gone, > 0; 1 is the standard's, 2 is kinder to a dark picture. [1]
    seen_px : float, default 2048
        Pixels across the picture as it is seen, > 0. [1]

    Returns
    -------
    float
        At least 0, at most 20. [stops]

    Raises
    ------
    ValueError
        If a number is not positive.

    Notes
    -----
    Noise only. A camera's coding may end its blacks earlier, never later.

    References
    ----------
    .. [1] ISO 15739:2023: dynamic range ends where signal to temporal noise is 1 (CIE e-ILV 17-612).
    """
    grey = float(photons.grey_lx_s(iso=camera.iso))
    found = photons.margin_stops(exposure_lx_s=grey, floor_snr=floor_snr, pixels=_seen(camera, seen_px), **sensor_of(camera))
    return float(np.clip(found, 0.0, 20.0))


def with_own_range(setup: Setup, *, floor_snr: float = photons.FLOOR_SNR, seen_px: float = photons.SEEN_PX) -> Setup:
    """
    The setup with its camera's range under taken from its noise, so that ladders shade it.

    Parameters
    ----------
    setup : Setup
    floor_snr, seen_px : float
        As for `range_under_stops`.

    Returns
    -------
    Setup

    Raises
    ------
    ValueError
        If a number is not positive.
    """
    under = range_under_stops(setup.camera, floor_snr=floor_snr, seen_px=seen_px)
    return replace(setup, camera=replace(setup.camera, range_under_stops=under))


def iso_table(
    camera: Camera,
    iso: Row = USUAL_ISO,
    *,
    floor_snr: float = photons.ACCEPTABLE_SNR,
    seen_px: float = photons.SEEN_PX,
    spread: Row = photons.SPREAD,
) -> tuple[IsoRow, ...]:
    """
    What each ISO gives at middle grey.

    Parameters
    ----------
    camera : Camera
        Its stop, time and density are held; its own ISO is not used.
    iso : sequence of float, shape (n,)
        Speeds, > 0. [1]
    floor_snr : float, default 10
        Signal to noise that just passes, > 0: 10 is acceptable, 40 excellent (ISO 12232). [1]
    seen_px : float, default 2048
        Pixels across the picture as it is seen, > 0. [1]
    spread : four floats
        As for `sensor.margin_error_stops`.

    Returns
    -------
    tuple of IsoRow

    Raises
    ------
    ValueError
        If a number is outside its range.
    """
    return tuple(_row(replace(camera, iso=float(s)), floor_snr, seen_px, spread)[0] for s in iso)


def _row(camera, floor_snr, seen_px, spread):
    n, seen, margin, error, causes = _patch(camera, float(photons.grey_lx_s(iso=camera.iso)), floor_snr, seen_px, spread)
    under = range_under_stops(camera, seen_px=seen_px)
    return IsoRow(camera.iso, camera.reference_lx, n, seen, margin, error, under), causes


def noise(
    setup: Setup, *, read: Readings | None=None, floor_snr: float=photons.ACCEPTABLE_SNR, seen_px: float=photons.SEEN_PX, spread: Row=photons.SPREAD, shadows: int=8,
    quality: str="final",
) -> Noise:  # fmt: skip
    """
    The noise of a setup, from its camera's own numbers.

    Parameters
    ----------
    setup : Setup
    read : readings.Readings, optional
        The setup's readings, where they are already worked out.
    floor_snr : float, default 10
        Signal to noise that just passes, > 0. [1]
    seen_px : float, default 2048
        Pixels across the picture as it is seen, > 0. [1]
    spread : four floats
        How sure the camera's numbers are, as for `sensor.margin_error_stops`.
    shadows : int, default 8
        Stops under grey to list, 0 to 20.
    quality : {'final', 'draft'}
        Used for what has to be read.

    Returns
    -------
    Noise

    Raises
    ------
    ValueError
        If a number is outside its range.

    Notes
    -----
    A mark stands for a grey card there: its electrons go as its light, its stop and its time, whatever the ISO. What the
    air adds or takes on the way is not in it.
    """
    check_range("shadows", shadows, low=0, high=20)
    read, camera = read or readings(setup, quality=quality), setup.camera
    grey, causes = _row(camera, floor_snr, seen_px, spread)
    down = -np.arange(int(shadows) + 1.0)
    seen = photons.snr(electrons=grey.electrons * 2.0**down, read_noise_e=camera.read_noise_e, pixels=_seen(camera, seen_px))
    marks = tuple(_mark(mark, camera, floor_snr, seen_px, spread) for mark in read.marks)
    return Noise(setup.name, camera.iso, floor_snr, seen_px, grey, causes, marks, down, seen)


def _mark(mark, camera, floor_snr, seen_px, spread):
    lx_s = photons.focal_plane_lx_s(
        illuminance_lx=mark.illuminance_lx, reflectance=GREY_REFLECTANCE, t_stop=camera.t_stop, time_s=camera.time_s,
        nd_stops=camera.nd_stops,
    )  # fmt: skip
    return MarkNoise(mark.name, mark.level_stops, *_patch(camera, float(lx_s), floor_snr, seen_px, spread)[:4])


def levers(
    camera: Camera, *, level_stops: float = 0.0, floor_snr: float = photons.ACCEPTABLE_SNR, seen_px: float = photons.SEEN_PX
) -> tuple[tuple[str, float], ...]:
    """
    What changes the noise of one patch most, the light on it held unless it is what changes.

    Parameters
    ----------
    camera : Camera
    level_stops : float, default 0
        Level of the patch from middle grey before the change. [stops]
    floor_snr : float, default 10
        Signal to noise that just passes, > 0. [1]
    seen_px : float, default 2048
        Pixels across the picture as it is seen, > 0. [1]

    Returns
    -------
    tuple of (str, float)
        What is done, and what it does to the margin [stops]; the most first.

    Raises
    ------
    ValueError
        If a number is outside its range.

    Notes
    -----
    Light, stop and time are each worth what they say. ISO is worth nothing by itself: in the same light it only lays
    the same electrons further up the scale, and read noise may even fall a little.
    """
    check_range("level_stops", level_stops)
    lx_s = float(photons.grey_lx_s(iso=camera.iso)) * 2.0 ** float(level_stops)
    bigger = replace(camera, pixel_um=camera.pixel_um * np.sqrt(2.0), sensor_width_mm=camera.sensor_width_mm * np.sqrt(2.0))
    before = _patch(camera, lx_s, floor_snr, seen_px, photons.SPREAD)[2]
    tries = (
        ("twice the light, a stop wider or twice the time", camera, 2.0 * lx_s, seen_px),
        ("pixels of twice the area, as many of them", bigger, lx_s, seen_px),
        ("half the read noise", replace(camera, read_noise_e=camera.read_noise_e / 2.0), lx_s, seen_px),
        ("a picture seen from twice as far", camera, lx_s, seen_px / 2.0),
        ("a stop of ISO, in the same light", replace(camera, iso=2.0 * camera.iso), lx_s, seen_px),
    )
    found = [(what, _patch(cam, light, floor_snr, px, photons.SPREAD)[2] - before) for what, cam, light, px in tries]
    return tuple(sorted(found, key=lambda pair: -round(pair[1], 9)))  # equals stay in the order above, on every machine


def highest_iso(camera: Camera, *, floor_snr: float = photons.ACCEPTABLE_SNR, seen_px: float = photons.SEEN_PX) -> float:
    """
    The highest ISO on the dial at which middle grey still passes. [1]

    Parameters
    ----------
    camera : Camera
    floor_snr : float, default 10
        Signal to noise that just passes, > 0. [1]
    seen_px : float, default 2048
        Pixels across the picture as it is seen, > 0. [1]

    Returns
    -------
    float
        In thirds of a stop; NaN where even the lowest does not pass.

    Raises
    ------
    ValueError
        If a number is not positive.
    """
    label, exact, _ = thirds(scale="iso")
    margin = photons.margin_stops(
        exposure_lx_s=photons.grey_lx_s(iso=exact), floor_snr=floor_snr, pixels=_seen(camera, seen_px), **sensor_of(camera)
    )
    return float(label[margin >= 0.0].max()) if np.any(margin >= 0.0) else np.nan
