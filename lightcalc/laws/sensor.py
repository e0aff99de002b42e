"""Light counted: photons and electrons in a pixel, their noise, and the margin to the noise that one will accept."""

from __future__ import annotations

import numpy as np

from lightcalc.laws.colour import observer, planck_power
from lightcalc.laws.exposure import GREY_REFLECTANCE, ISO2720_C_FLAT
from lightcalc.units import Numbers, Row, check_range, stops

PLANCK_J_S, LIGHT_M_S = 6.62607015e-34, 299_792_458.0  # exact, SI 2019
LM_PER_W = 683.0  # at 555 nm, SI
ACCEPTABLE_SNR, EXCELLENT_SNR = 10.0, 40.0  # ISO 12232:2019, 6.3.2 note 3, judged by eye at 30 pixels a degree
FLOOR_SNR = 1.0  # ISO 15739:2023, dynamic range: the darkest level that can be told from noise
SEEN_PX = 2048  # pixels across the picture as it is shown; at 30 a degree it fills 68 degrees, a front row
CAUSES = ("quantum efficiency", "read noise", "transmission", "band")
SPREAD = (0.25, 0.30, 0.10, 0.15)  # one standard deviation of each, of itself; FROM MEMORY, for a camera not measured


def photons_of_spectrum(*, wavelength_nm: Numbers, power: Numbers, low_nm: float = 400.0, high_nm: float = 700.0) -> float:
    r"""
    Photons of a band in one lux second on one square micrometre. [1/(lx s um2)]

    Parameters
    ----------
    wavelength_nm : array, shape (n,)
        Wavelengths in even steps. [nm]
    power : array, shape (n,)
        Spectral power there, >= 0, in any unit. [any]
    low_nm, high_nm : float, default 400 and 700
        The band that is counted: what filters and silicon let through. [nm]

    Returns
    -------
    float
        Photons. [1/(lx s um2)]

    Raises
    ------
    ValueError
        If a power is negative, or none of it is light.

    Notes
    -----
    .. math:: \frac{10^{-12}}{683}\; \frac{\sum_\mathrm{band} S\, \lambda / (h c)}{\sum S\, V}

    Lux weigh by the eye, photons by nothing: the band moves the answer by 28 % in daylight and 75 % in tungsten light
    when it is taken to 780 nm. Always state it.

    References
    ----------
    .. [1] SI Brochure, 9th ed. 2019: h, c and Kcd; CIE 018:2019: V(lambda).

    Examples
    --------
    >>> round(photons_of_spectrum(wavelength_nm=[555.0], power=[1.0]), 1)
    4090.7
    """
    nm, power = np.asarray(wavelength_nm, dtype=float), np.asarray(power, dtype=float)
    check_range("wavelength_nm", nm, above=0.0)
    check_range("power", power, low=0.0)
    known_nm, bars = observer()
    seen = float(np.sum(power * np.interp(nm, known_nm, bars[:, 1], left=0.0, right=0.0)))
    check_range("luminous part of the power", seen, above=0.0, hint="a spectrum between 380 and 780 nm")
    half = 0.5 * (nm[1] - nm[0]) if nm.size > 1 else 0.5
    inside = np.clip(np.minimum(nm + half, high_nm) - np.maximum(nm - half, low_nm), 0.0, None) / (2.0 * half)
    return float(1e-12 * np.sum(power * nm * inside) * 1e-9 / (PLANCK_J_S * LIGHT_M_S) / (LM_PER_W * seen))


def photons_per_lx_s_um2(*, kelvin: float, low_nm: float = 400.0, high_nm: float = 700.0) -> float:
    r"""
    Photons of a band in one lux second of blackbody light on one square micrometre. [1/(lx s um2)]

    Parameters
    ----------
    kelvin : float
        Colour temperature, 1000 to 100 000. [K]
    low_nm, high_nm : float, default 400 and 700
        The band that is counted. [nm]

    Returns
    -------
    float
        Photons. [1/(lx s um2)]

    Raises
    ------
    ValueError
        If the temperature is outside its range.

    Notes
    -----
    `photons_of_spectrum` of Planck's law, every nanometre. White LEDs send next to nothing past 700 nm.

    References
    ----------
    .. [1] `photons_of_spectrum`, `colour.planck_power`.

    Examples
    --------
    >>> round(photons_per_lx_s_um2(kelvin=3200), -1)
    11470.0
    """
    check_range("kelvin", kelvin, low=1000.0, high=100_000.0, hint="a colour temperature such as 3200 or 5600")
    nm = np.arange(380.0, 781.0)
    power = planck_power(wavelength_nm=nm, kelvin=kelvin)
    return photons_of_spectrum(wavelength_nm=nm, power=power, low_nm=low_nm, high_nm=high_nm)


def focal_plane_lx_s(
    *, illuminance_lx: Numbers, reflectance: Numbers, t_stop: Numbers, time_s: Numbers, nd_stops: Numbers = 0.0
) -> Numbers:
    r"""
    Light that lands on the sensor from a matt surface. [lx s]

    Parameters
    ----------
    illuminance_lx : float or array
        On the surface, >= 0. [lx]
    reflectance : float or array
        Of the surface, 0 to 1; a grey card is 0.18. [1]
    t_stop : float or array
        T-stop, > 0: the glass's loss is in it. [1]
    time_s : float or array
        Exposure time, > 0. [s]
    nd_stops : float or array, default 0
        Neutral density in front of the lens. [stops]

    Returns
    -------
    float or array
        Exposure at the middle of the picture, the inputs broadcast together. [lx s]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: H = \frac{\pi}{4} \frac{L\, t}{N^2\, 2^n} = \frac{\rho\, E\, t}{4 N^2\, 2^n}

    Corners get less; near focus gets 1/(1 + m)^2 of it. Clear air between.

    References
    ----------
    .. [1] ISO 12232:2019, focal-plane exposure, with q = pi/4 because a T-stop is meant.

    Examples
    --------
    >>> round(float(focal_plane_lx_s(illuminance_lx=1920, reflectance=0.18, t_stop=4, time_s=1 / 48)), 6)
    0.1125
    """
    check_range("illuminance_lx", illuminance_lx, low=0.0)
    check_range("reflectance", reflectance, low=0.0, high=1.0, hint="share sent back, 0.18 is a grey card")
    check_range("t_stop", t_stop, above=0.0, hint="2.8 or 5.6")
    check_range("time_s", time_s, above=0.0, hint="seconds; 1/48 is 0.0208")
    check_range("nd_stops", nd_stops, low=0.0, hint="stops of density; ND 0.9 is 3")
    return np.multiply(illuminance_lx, reflectance) * time_s / (4.0 * np.square(t_stop) * np.exp2(nd_stops))


def grey_lx_s(*, iso: Numbers) -> Numbers:
    r"""
    Light on the sensor where a grey card sits at middle grey. [lx s]

    Parameters
    ----------
    iso : float or array
        ISO speed or exposure index, > 0. [1]

    Returns
    -------
    float or array
        Exposure. [lx s]

    Raises
    ------
    ValueError
        If a speed is not positive.

    Notes
    -----
    .. math:: H = \frac{0.18\, C}{4 S} = \frac{11.25}{S}

    Stop, time and light have cancelled: at middle grey the ISO alone says how much light a pixel gets, so it alone
    says how noisy grey is. ISO 12232 puts the mid-tone at 10/S, 0.17 stop less, through its own lens constant.

    References
    ----------
    .. [1] ISO 2720:1974, C = 250 lx s; `focal_plane_lx_s`.

    Examples
    --------
    >>> float(grey_lx_s(iso=800))
    0.0140625
    """
    check_range("iso", iso, above=0.0, hint="100 to 25 600")
    return GREY_REFLECTANCE * ISO2720_C_FLAT / 4.0 / np.asarray(iso, dtype=float)[()]


def electrons(*, exposure_lx_s: Numbers, pixel_um: Numbers, quantum_efficiency: Numbers, photons_per_lx_s_um2: Numbers) -> Numbers:
    r"""
    Electrons that light leaves in a pixel. [1]

    Parameters
    ----------
    exposure_lx_s : float or array
        On the sensor, >= 0. [lx s]
    pixel_um : float or array
        Pixel pitch, > 0. [um]
    quantum_efficiency : float or array
        Electrons a photon of the band, filters included, above 0 to 1. [1]
    photons_per_lx_s_um2 : float or array
        Photons of that band, > 0. [1/(lx s um2)]

    Returns
    -------
    float or array
        Electrons on average, the inputs broadcast together. [1]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: n = \eta\, P\, p^2 H

    Behind a colour filter a pixel catches about a third of the band: a peak of 0.5 is some 0.2 over all of it.

    References
    ----------
    .. [1] EMVA 1288 release 4.0, 2.1: mean number of electrons from irradiation and quantum efficiency.

    Examples
    --------
    >>> round(float(electrons(exposure_lx_s=0.0125, pixel_um=1, quantum_efficiency=1, photons_per_lx_s_um2=10_851)), 1)
    135.6
    """
    check_range("exposure_lx_s", exposure_lx_s, low=0.0)
    check_range("pixel_um", pixel_um, above=0.0, hint="micrometres from pixel to pixel, 4 to 9 for most cinema cameras")
    check_range("quantum_efficiency", quantum_efficiency, above=0.0, high=1.0, hint="electrons a photon, filters included")
    check_range("photons_per_lx_s_um2", photons_per_lx_s_um2, above=0.0, hint="about 11 000 from 400 to 700 nm")
    return np.multiply(exposure_lx_s, photons_per_lx_s_um2) * quantum_efficiency * np.square(pixel_um)


def snr(*, electrons: Numbers, read_noise_e: Numbers, pixels: Numbers = 1.0) -> Numbers:
    r"""
    Signal over noise of an even patch. [1]

    Parameters
    ----------
    electrons : float or array
        In a pixel on average, >= 0. [1]
    read_noise_e : float or array
        What reading a pixel adds, >= 0. [electrons]
    pixels : float or array, default 1
        Pixels averaged into one that is seen, >= 1. [1]

    Returns
    -------
    float or array
        Signal to noise, the inputs broadcast together; 0 for no light. [1]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: \mathrm{SNR} = \sqrt{k}\; \frac{n}{\sqrt{n + \sigma_r^2}}

    Photons come at random, so n of them scatter by the root of n. Left out: the pattern noise of bright parts (about
    1 %, an SNR of 100), dark current in a frame's time, and what noise reduction and compression do to it.

    References
    ----------
    .. [1] EMVA 1288 release 4.0, 2.4; DERIVED in notebooks/07_night.ipynb.

    Examples
    --------
    >>> round(float(snr(electrons=100, read_noise_e=0)), 6), round(float(snr(electrons=16, read_noise_e=3)), 6)
    (10.0, 3.2)
    """
    check_range("electrons", electrons, low=0.0)
    check_range("read_noise_e", read_noise_e, low=0.0, hint="electrons; 2 to 5 for most cinema cameras at high ISO")
    check_range("pixels", pixels, low=1.0)
    below = np.add(electrons, np.square(read_noise_e, dtype=float))
    return np.sqrt(pixels) * np.divide(electrons, np.sqrt(np.where(below > 0, below, 1.0)))


def electrons_for_snr(*, wanted_snr: Numbers, read_noise_e: Numbers, pixels: Numbers = 1.0) -> Numbers:
    r"""
    Electrons a pixel needs for a signal to noise. [1]

    Parameters
    ----------
    wanted_snr : float or array
        Signal to noise of what is seen, > 0. [1]
    read_noise_e : float or array
        What reading a pixel adds, >= 0. [electrons]
    pixels : float or array, default 1
        Pixels averaged into one that is seen, >= 1. [1]

    Returns
    -------
    float or array
        Electrons in a pixel, the inputs broadcast together. [1]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: n = \tfrac12\left(F^2 + F\sqrt{F^2 + 4\sigma_r^2}\right), \quad F = \mathrm{SNR}/\sqrt{k}

    References
    ----------
    .. [1] `snr`, solved for n.

    Examples
    --------
    >>> round(float(electrons_for_snr(wanted_snr=3.2, read_noise_e=3)), 6)
    16.0
    """
    check_range("wanted_snr", wanted_snr, above=0.0, hint="10 is acceptable, 40 excellent (ISO 12232)")
    check_range("read_noise_e", read_noise_e, low=0.0, hint="electrons; 2 to 5 for most cinema cameras at high ISO")
    check_range("pixels", pixels, low=1.0)
    f = np.divide(wanted_snr, np.sqrt(pixels))
    return 0.5 * (np.square(f) + f * np.sqrt(np.square(f) + 4.0 * np.square(read_noise_e)))


def pixels_seen_as_one(*, sensor_width_mm: Numbers, pixel_um: Numbers, seen_px: Numbers = SEEN_PX) -> Numbers:
    r"""
    Sensor pixels averaged into one of the picture as it is seen. [1]

    Parameters
    ----------
    sensor_width_mm : float or array
        Width of the picture on the sensor, > 0. [mm]
    pixel_um : float or array
        Pixel pitch, > 0. [um]
    seen_px : float or array, default 2048
        Pixels across the picture as it is shown, > 0. [1]

    Returns
    -------
    float or array
        Pixels, at least 1. [1]

    Raises
    ------
    ValueError
        If an input is not positive.

    Notes
    -----
    .. math:: k = \max\!\left[1, \left(\frac{1000\, w}{p\, n}\right)^2\right]

    ISO 12232 judged noise at 30 pixels a degree. 2048 across is that for a picture filling 68 degrees, a front row;
    further back noise is seen less, in proportion.

    References
    ----------
    .. [1] ISO 12232:2019, 6.3.2 note 3: the wanted SNR goes with 70/P pixels a centimetre, seen from 25 cm.

    Examples
    --------
    >>> round(float(pixels_seen_as_one(sensor_width_mm=24.576, pixel_um=6.0)), 3)
    4.0
    """
    check_range("sensor_width_mm", sensor_width_mm, above=0.0, hint="millimetres across the picture")
    check_range("pixel_um", pixel_um, above=0.0, hint="micrometres from pixel to pixel, 4 to 9 for most cinema cameras")
    check_range("seen_px", seen_px, above=0.0, hint="2048 is a cinema picture")
    return np.maximum(np.square(1e3 * np.divide(sensor_width_mm, np.multiply(pixel_um, seen_px))), 1.0)


def margin_stops(
    *,
    exposure_lx_s: Numbers,
    floor_snr: Numbers,
    pixel_um: Numbers,
    quantum_efficiency: Numbers,
    read_noise_e: Numbers,
    photons_per_lx_s_um2: Numbers,
    pixels: Numbers = 1.0,
) -> Numbers:
    r"""
    Stops of light between a patch and the noise one will accept; minus is noisier than that. [stops]

    Parameters
    ----------
    exposure_lx_s : float or array
        On the sensor, > 0; `grey_lx_s` for middle grey. [lx s]
    floor_snr : float or array
        Signal to noise that just passes, > 0. [1]
    pixel_um : float or array
        Pixel pitch, > 0. [um]
    quantum_efficiency : float or array
        Electrons a photon of the band, filters included, above 0 to 1. [1]
    read_noise_e : float or array
        What reading a pixel adds, >= 0. [electrons]
    photons_per_lx_s_um2 : float or array
        Photons of the band, > 0. [1/(lx s um2)]
    pixels : float or array, default 1
        Pixels averaged into one that is seen, >= 1. [1]

    Returns
    -------
    float or array
        Margin, the inputs broadcast together. [stops]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: \log_2 (n / n_F)

    with n_F of `electrons_for_snr`. For middle grey it is how far the ISO may still go up.

    References
    ----------
    .. [1] `electrons`, `electrons_for_snr`.

    Examples
    --------
    >>> camera = dict(pixel_um=6.0, quantum_efficiency=0.2, read_noise_e=3.0, photons_per_lx_s_um2=11_000)
    >>> round(float(margin_stops(exposure_lx_s=grey_lx_s(iso=6400), floor_snr=10, pixels=4, **camera)), 1)
    2.1
    """
    check_range("exposure_lx_s", exposure_lx_s, above=0.0, hint="no light, no margin")
    n = electrons(
        exposure_lx_s=exposure_lx_s, pixel_um=pixel_um, quantum_efficiency=quantum_efficiency,
        photons_per_lx_s_um2=photons_per_lx_s_um2,
    )  # fmt: skip
    return stops(n / electrons_for_snr(wanted_snr=floor_snr, read_noise_e=read_noise_e, pixels=pixels))


def margin_error_stops(
    *,
    exposure_lx_s: float,
    floor_snr: float,
    pixel_um: float,
    quantum_efficiency: float,
    read_noise_e: float,
    photons_per_lx_s_um2: float,
    pixels: float = 1.0,
    spread: Row = SPREAD,
) -> tuple[float, dict[str, float]]:
    r"""
    How sure `margin_stops` is: one standard deviation, and what each cause gives to it. [stops]

    Parameters
    ----------
    exposure_lx_s, floor_snr, pixel_um, quantum_efficiency, read_noise_e, photons_per_lx_s_um2, pixels : float
        As for `margin_stops`.
    spread : four floats, default (0.25, 0.30, 0.10, 0.15)
        Standard deviations of quantum efficiency, read noise, transmission (the T-stop's light) and band, each as a
        share of itself, 0 to 0.9. [1]

    Returns
    -------
    total_stops : float
        One standard deviation. [stops]
    by_cause_stops : dict of str to float
        Of each cause alone, in the order of `CAUSES`. [stops]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: \sigma^2 = \sum_i \left(\frac{M(x_i + \sigma_i) - M(x_i - \sigma_i)}{2}\right)^2

    The causes are taken as independent. Two in three times the truth is within it, nineteen in twenty within twice it.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1, by differences.

    Examples
    --------
    >>> camera = dict(pixel_um=6.0, quantum_efficiency=0.2, read_noise_e=3.0, photons_per_lx_s_um2=11_000)
    >>> total, by_cause = margin_error_stops(exposure_lx_s=grey_lx_s(iso=6400), floor_snr=10, pixels=4, **camera)
    >>> round(total, 1), max(by_cause, key=by_cause.get)
    (0.5, 'quantum efficiency')
    """
    check_range("spread", spread, low=0.0, high=0.9, hint="shares: 0.25 is 25 %")
    base = dict(
        exposure_lx_s=exposure_lx_s, quantum_efficiency=quantum_efficiency, read_noise_e=read_noise_e,
        photons_per_lx_s_um2=photons_per_lx_s_um2,
    )  # fmt: skip
    fixed = dict(floor_snr=floor_snr, pixel_um=pixel_um, pixels=pixels)
    fields = ("quantum_efficiency", "read_noise_e", "exposure_lx_s", "photons_per_lx_s_um2")
    by_cause = {
        cause: abs(_half_swing(base, field, share, fixed)) for cause, field, share in zip(CAUSES, fields, spread, strict=True)
    }
    return float(np.sqrt(sum(part**2 for part in by_cause.values()))), by_cause


def _half_swing(base, field, share, fixed):
    """Half of what the margin moves from a share under to a share over; a quantum efficiency cannot pass 1."""
    over, under = ({**base, field: base[field] * (1.0 + way * share)} for way in (1.0, -1.0))
    over["quantum_efficiency"] = min(over["quantum_efficiency"], 1.0)
    return 0.5 * float(margin_stops(**over, **fixed) - margin_stops(**under, **fixed))
