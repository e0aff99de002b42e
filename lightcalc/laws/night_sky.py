"""What light there is at night, and whether stars register: starlight, skyglow, limiting magnitude, trails. The moon is in `sun`."""

from __future__ import annotations

import numpy as np

from lightcalc.laws.sensor import electrons_for_snr, grey_lx_s
from lightcalc.units import Numbers, check_range, stops

NIGHT_SKY_LX = 0.0005  # open ground, no moon, no lamps: USNO Circular 171 (1987) adds this at all hours
DARK_SKY_MAG = 22.0  # mag/arcsec2 overhead far from towns, FROM MEMORY; a village 21, a suburb 19, a city 17 to 18
ZERO_MAG_LX = 2.54e-6  # a star of magnitude 0 on a surface that faces it, before the air's loss
SKY_ZERO_CD_M2 = 10.8e4  # a sky of 0 mag/arcsec2
STAR_SPOT_PX = 4.0  # pixels a star's light is spread over by lens and filter: two by two, at best
ROSE_SNR = 5.0  # a speck is told from noise at five times it: A. Rose, J. Opt. Soc. Am. 38 (1948) 196
SIDEREAL_DAY_S = 86164.0905  # IAU: one turn of the stars


def sky_luminance_cd_m2(*, mag_arcsec2: Numbers) -> Numbers:
    r"""
    Luminance of a night sky from its surface brightness. [cd/m2]

    Parameters
    ----------
    mag_arcsec2 : float or array
        Brightness as sky meters and maps of light pollution give it, 0 to 26; more is darker. [mag/arcsec2]

    Returns
    -------
    float or array
        Luminance. [cd/m2]

    Raises
    ------
    ValueError
        If a number is outside its range.

    Notes
    -----
    .. math:: L = 10.8 \times 10^4 \cdot 10^{-0.4\, m}

    Even over the sky it gives pi L on open ground. The zero point hangs on the sky's spectrum: 11 to 14 x 10^4 for real
    skies (Bara et al.), so up to a third of a stop.

    References
    ----------
    .. [1] Conversion in use with sky meters. S. Bara et al., Magnitude to luminance conversions and visual brightness of
       the night sky (2020): the spread of the zero point.

    Examples
    --------
    >>> round(1e6 * float(sky_luminance_cd_m2(mag_arcsec2=21.31)), 1)
    323.2
    """
    check_range("mag_arcsec2", mag_arcsec2, low=0.0, high=26.0, hint="22 far from towns, 18 in one")
    return SKY_ZERO_CD_M2 * np.power(10.0, -0.4 * np.asarray(mag_arcsec2, dtype=float))[()]


def star_illuminance_lx(*, magnitude: Numbers) -> Numbers:
    r"""
    Illuminance from one star on a surface that faces it. [lx]

    Parameters
    ----------
    magnitude : float or array
        Visual magnitude as it reaches the lens: the air takes some 0.2 overhead, 0.6 at 20 degrees, 2 at 5. [mag]

    Returns
    -------
    float or array
        Illuminance. [lx]

    Raises
    ------
    ValueError
        If a magnitude is not finite.

    Notes
    -----
    .. math:: E = 2.54 \times 10^{-6} \cdot 10^{-0.4\, m}

    References
    ----------
    .. [1] The same zero point as `sky_luminance_cd_m2`: 10.8e4 cd/m2 times a square second of arc, 2.3504e-11 sr.

    Examples
    --------
    >>> float(star_illuminance_lx(magnitude=5))
    2.54e-08
    """
    check_range("magnitude", magnitude)
    return ZERO_MAG_LX * np.power(10.0, -0.4 * np.asarray(magnitude, dtype=float))[()]


def star_electrons(
    *,
    magnitude: Numbers,
    focal_mm: Numbers,
    t_stop: Numbers,
    time_s: Numbers,
    quantum_efficiency: Numbers,
    photons_per_lx_s_um2: Numbers,
) -> Numbers:
    r"""
    Electrons that a star leaves in all, over the pixels it touches. [1]

    Parameters
    ----------
    magnitude : float or array
        Visual magnitude as it reaches the lens. [mag]
    focal_mm : float or array
        Focal length, > 0. [mm]
    t_stop : float or array
        T-stop, > 0. [1]
    time_s : float or array
        Exposure time, > 0. [s]
    quantum_efficiency : float or array
        Electrons a photon of the band, filters included, above 0 to 1. [1]
    photons_per_lx_s_um2 : float or array
        Photons of the band, > 0. [1/(lx s um2)]

    Returns
    -------
    float or array
        Electrons, the inputs broadcast together. [1]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: n = \eta P\, E t\; \frac{\pi}{4}\left(\frac{f}{N}\right)^2

    A star is a point: the width of the opening counts, f/N, not the stop alone. A longer lens of the same stop shows
    fainter stars.

    References
    ----------
    .. [1] Light through an opening of diameter f/N, the loss of the glass in the T-stop.

    Examples
    --------
    >>> camera = dict(focal_mm=50, t_stop=1.4, time_s=1 / 48, quantum_efficiency=0.2, photons_per_lx_s_um2=11_000)
    >>> round(float(star_electrons(magnitude=6, **camera)))
    464
    """
    check_range("focal_mm", focal_mm, above=0.0, hint="such as 35")
    check_range("t_stop", t_stop, above=0.0, hint="2.8 or 5.6")
    check_range("time_s", time_s, above=0.0, hint="seconds; 1/48 is 0.0208")
    check_range("quantum_efficiency", quantum_efficiency, above=0.0, high=1.0, hint="electrons a photon, filters included")
    check_range("photons_per_lx_s_um2", photons_per_lx_s_um2, above=0.0, hint="about 11 000 from 400 to 700 nm")
    opening_um2 = np.pi / 4.0 * np.square(1e3 * np.divide(focal_mm, t_stop))
    caught = np.multiply(photons_per_lx_s_um2, quantum_efficiency) * time_s * opening_um2
    return star_illuminance_lx(magnitude=magnitude) * caught


def limiting_magnitude(
    *, focal_mm: Numbers, t_stop: Numbers, time_s: Numbers, pixel_um: Numbers, quantum_efficiency: Numbers, read_noise_e: Numbers, photons_per_lx_s_um2: Numbers, sky_cd_m2: Numbers=2e-4,
    spot_px: Numbers=STAR_SPOT_PX, trail_px: Numbers=0.0, wanted_snr: Numbers=ROSE_SNR,
) -> Numbers:  # fmt: skip
    r"""
    The faintest star that stands out of the noise of one picture. [mag]

    Parameters
    ----------
    focal_mm, t_stop, time_s, quantum_efficiency, photons_per_lx_s_um2 : float or array
        As for `star_electrons`.
    pixel_um : float or array
        Pixel pitch, > 0. [um]
    read_noise_e : float or array
        What reading a pixel adds, >= 0. [electrons]
    sky_cd_m2 : float or array, default 2e-4
        Luminance of the sky round it, >= 0: 2e-4 far from towns. [cd/m2]
    spot_px : float or array, default 4
        Pixels its light is spread over when it stands still, >= 1. [1]
    trail_px : float or array, default 0
        Length of its trail, >= 0, from `trail_um`. [px]
    wanted_snr : float or array, default 5
        Signal to noise at which a speck is told from noise, > 0. [1]

    Returns
    -------
    float or array
        Magnitude as it reaches the lens, the inputs broadcast together. [mag]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: n = \tfrac12\left(F^2 + F\sqrt{F^2 + 4 k (n_\mathrm{sky} + \sigma_r^2)}\right), \quad
              k = s + \sqrt{s}\, l

    Noise alone: whether it *shows* also hangs on where its pixels sit against middle grey, see `star_level_stops`.
    Focus a little off, haze, noise reduction and compression each take stars first of all: shoot a test.

    References
    ----------
    .. [1] A. Rose, J. Opt. Soc. Am. 38 (1948) 196: a signal of five times the noise is seen surely.

    Examples
    --------
    >>> camera = dict(focal_mm=50, t_stop=1.4, time_s=1 / 48, quantum_efficiency=0.2, photons_per_lx_s_um2=11_000)
    >>> round(float(limiting_magnitude(**camera, pixel_um=6.0, read_noise_e=3.0)), 1)
    8.5
    """
    check_range("pixel_um", pixel_um, above=0.0, hint="micrometres from pixel to pixel, 4 to 9 for most cinema cameras")
    check_range("sky_cd_m2", sky_cd_m2, low=0.0, hint="0.0002 far from towns")
    check_range("spot_px", spot_px, low=1.0)
    check_range("trail_px", trail_px, low=0.0)
    light = dict(focal_mm=focal_mm, t_stop=t_stop, time_s=time_s, quantum_efficiency=quantum_efficiency,
                 photons_per_lx_s_um2=photons_per_lx_s_um2)  # fmt: skip
    one = star_electrons(magnitude=0.0, **light)
    per_lx_s = np.multiply(photons_per_lx_s_um2, quantum_efficiency) * np.square(pixel_um)
    sky = np.pi / 4.0 * np.multiply(sky_cd_m2, time_s) / np.square(t_stop) * per_lx_s  # electrons a pixel
    held = np.add(spot_px, np.sqrt(spot_px) * trail_px)
    behind = np.sqrt(held * (sky + np.square(read_noise_e)))
    return 2.5 * np.log10(one / electrons_for_snr(wanted_snr=wanted_snr, read_noise_e=behind))


def star_level_stops(
    *,
    magnitude: Numbers,
    iso: Numbers,
    focal_mm: Numbers,
    t_stop: Numbers,
    time_s: Numbers,
    pixel_um: Numbers,
    spot_px: Numbers = STAR_SPOT_PX,
    trail_px: Numbers = 0.0,
) -> Numbers:
    r"""
    Level of the pixels that a star lights, from middle grey; minus is under. [stops]

    Parameters
    ----------
    magnitude : float or array
        Visual magnitude as it reaches the lens. [mag]
    iso : float or array
        ISO speed, > 0. [1]
    focal_mm, t_stop, time_s : float or array
        As for `star_electrons`.
    pixel_um : float or array
        Pixel pitch, > 0. [um]
    spot_px, trail_px : float or array, default 4 and 0
        As for `limiting_magnitude`.

    Returns
    -------
    float or array
        Level, the inputs broadcast together. [stops]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: \log_2 \frac{E t\,(\pi/4)(f/N)^2 / (k p^2)}{11.25 / S}

    Some two stops under grey a speck still shows as a star on a black sky (COMMON PRACTICE); ISO moves this and
    nothing else about a star.

    References
    ----------
    .. [1] `star_electrons` spread over its pixels, against `sensor.grey_lx_s`.

    Examples
    --------
    >>> lens = dict(focal_mm=50, t_stop=1.4, time_s=1 / 48, pixel_um=6.0)
    >>> star_level_stops(magnitude=6, iso=[20_000, 800], **lens).round(1).tolist()
    [1.4, -3.3]
    """
    check_range("pixel_um", pixel_um, above=0.0, hint="micrometres from pixel to pixel, 4 to 9 for most cinema cameras")
    check_range("spot_px", spot_px, low=1.0)
    check_range("trail_px", trail_px, low=0.0)
    lens = dict(focal_mm=focal_mm, t_stop=t_stop, time_s=time_s)
    lx_s_um2 = star_electrons(magnitude=magnitude, **lens, quantum_efficiency=1.0, photons_per_lx_s_um2=1.0)
    held_um2 = np.add(spot_px, np.sqrt(spot_px) * trail_px) * np.square(pixel_um)
    return stops(lx_s_um2 / held_um2 / grey_lx_s(iso=iso))


def trail_um(*, focal_mm: Numbers, time_s: Numbers, declination_deg: Numbers = 0.0) -> Numbers:
    r"""
    Length of a star's trail on the sensor of a camera at rest. [um]

    Parameters
    ----------
    focal_mm : float or array
        Focal length, > 0. [mm]
    time_s : float or array
        Exposure time, > 0. [s]
    declination_deg : float or array, default 0
        Of the star, -90 to 90: 0 over the equator, where it is longest. [deg]

    Returns
    -------
    float or array
        Trail, the inputs broadcast together; in the middle of the picture. [um]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: s = f\, \frac{2\pi\, t}{86164.0905\ \mathrm{s}} \cos\delta

    15.04 seconds of arc a second. The habit "500 over the focal length" gives 20.8 s at 24 mm, and a trail of 36 um
    by then: six pixels of 6 um.

    References
    ----------
    .. [1] IAU, mean sidereal day.

    Examples
    --------
    >>> round(float(trail_um(focal_mm=24, time_s=20)), 2)
    35.0
    """
    check_range("focal_mm", focal_mm, above=0.0, hint="such as 35")
    check_range("time_s", time_s, above=0.0, hint="seconds")
    check_range("declination_deg", declination_deg, low=-90.0, high=90.0)
    turn = 2.0 * np.pi * np.asarray(time_s, dtype=float) / SIDEREAL_DAY_S
    return 1e3 * focal_mm * turn * np.cos(np.radians(declination_deg))
