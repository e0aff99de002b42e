"""What a camera setting needs in light, and what each change of it costs in stops."""

from __future__ import annotations

import numpy as np

from lightcalc.units import Numbers, check_range, stops

ISO2720_C_FLAT = 250.0  # lx s, incident meter with a flat receptor; ISO 2720:1974 allows 240 to 400
ISO2720_C_FLAT_RANGE = (240.0, 400.0)  # lx s
ISO2720_C_DOME_RANGE = (320.0, 540.0)  # lx s, dome receptor
ISO2720_K = 12.5  # cd s/m2, reflected meter, in common use
ISO2720_K_RANGE = (10.6, 13.4)  # cd s/m2
GREY_REFLECTANCE = 0.18  # the grey card
ISO12232_MIDTONE = 10.0  # lx s over the ISO speed
ENGRAVED_STEPS = np.arange(-3, 37)  # thirds of a stop from T1
ENGRAVED_T_STOPS = np.array(
    [0.7, 0.8, 0.9, 1, 1.1, 1.2, 1.4, 1.6, 1.8, 2, 2.2, 2.5, 2.8, 3.2, 3.5, 4, 4.5, 5, 5.6, 6.3, 7.1, 8, 9, 10, 11, 13,
     14, 16, 18, 20, 22, 25, 29, 32, 36, 40, 45, 51, 57, 64]
)  # fmt: skip  # what the ring says for 2 ** (step / 6)


def shutter_time_s(*, shutter_deg: Numbers, fps: Numbers) -> Numbers:
    r"""
    Exposure time of a shutter angle. [s]

    Parameters
    ----------
    shutter_deg : float or array
        Open part of a turn, above 0 to 360. [deg]
    fps : float or array
        Frames per second, > 0; "23.976" is 24000/1001. [1/s]

    Returns
    -------
    float or array
        Time, the inputs broadcast together. [s]

    Raises
    ------
    ValueError
        If an angle or a frame rate is outside its range.

    Notes
    -----
    .. math:: t = \alpha / (360\, f)

    References
    ----------
    .. [1] Definition of the shutter angle.

    Examples
    --------
    >>> round(1 / float(shutter_time_s(shutter_deg=172.8, fps=24)), 6)
    50.0
    """
    check_range("shutter_deg", shutter_deg, above=0.0, high=360.0, hint="degrees of a full turn")
    check_range("fps", fps, above=0.0, hint="frames per second")
    return np.divide(shutter_deg, np.multiply(fps, 360.0))


def shutter_angle_deg(*, time_s: Numbers, fps: Numbers) -> Numbers:
    r"""
    Shutter angle of an exposure time. [deg]

    Parameters
    ----------
    time_s : float or array
        Exposure time, > 0, no longer than a frame. [s]
    fps : float or array
        Frames per second, > 0. [1/s]

    Returns
    -------
    float or array
        Angle, the inputs broadcast together. [deg]

    Raises
    ------
    ValueError
        If a time does not fit into a frame or an input is not positive.

    Notes
    -----
    .. math:: \alpha = 360\, f\, t

    References
    ----------
    .. [1] Definition of the shutter angle.

    Examples
    --------
    >>> round(float(shutter_angle_deg(time_s=1 / 60, fps=24)), 6)
    144.0
    """
    check_range("time_s", time_s, above=0.0, hint="seconds; 1/48 is 0.0208")
    check_range("fps", fps, above=0.0, hint="frames per second")
    angle_deg = 360.0 * np.multiply(fps, time_s)
    check_range("shutter angle", angle_deg, high=360.0 + 1e-6, hint="the time is longer than a frame")
    return angle_deg


def flicker_free_angles_deg(*, fps: float, mains_hz: float) -> Numbers:
    r"""
    Shutter angles that hold a whole number of pulses of a lamp on the mains. [deg]

    Parameters
    ----------
    fps : float
        Frames per second, > 0. [1/s]
    mains_hz : float
        Mains frequency, > 0: 50 or 60 nearly everywhere. [Hz]

    Returns
    -------
    array, shape (n,)
        Angles from the smallest up to 360; empty when a frame is shorter than a pulse. [deg]

    Raises
    ------
    ValueError
        If an input is not positive.

    Notes
    -----
    .. math:: \alpha_k = 360\, f k / (2 f_\mathrm{mains})

    A lamp on AC pulses twice a cycle. Dimmed LEDs pulse at rates of their own, which this does not know:
    shoot a test.

    References
    ----------
    .. [1] Two pulses of power in each cycle of a sine.

    Examples
    --------
    >>> [round(float(a), 1) for a in flicker_free_angles_deg(fps=24, mains_hz=50)]
    [86.4, 172.8, 259.2, 345.6]
    """
    check_range("fps", fps, above=0.0, hint="frames per second")
    check_range("mains_hz", mains_hz, above=0.0, hint="50 or 60")
    pulses = np.arange(1, int(2.0 * mains_hz / fps + 1e-9) + 1)  # 1e-9: 120/24 must count as 5
    return 360.0 * fps * pulses / (2.0 * mains_hz)


def reference_illuminance_lx(*, t_stop: Numbers, time_s: Numbers, iso: Numbers, nd_stops: Numbers = 0.0) -> Numbers:
    r"""
    Illuminance that puts a grey card at middle grey. [lx]

    Parameters
    ----------
    t_stop : float or array
        T-stop, > 0; 2.8 on the ring is 2.8284, see `t_stop_from_engraved`. [1]
    time_s : float or array
        Exposure time, > 0. [s]
    iso : float or array
        ISO speed or exposure index, > 0. [1]
    nd_stops : float or array, default 0
        Neutral density in front of the lens; n stops need 2^n times the light. [stops]

    Returns
    -------
    float or array
        Reference illuminance, the inputs broadcast together. [lx]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: E_\mathrm{ref} = \frac{C N^2}{t S}\, 2^{n}, \quad C = 250\ \mathrm{lx\,s}

    ISO 2720:1974 lets makers choose C from 240 to 400 for a flat receptor (0.74 stop) and 320 to 540 for
    a dome: two honest meters may differ by that much. Compare yours once and note the offset.

    References
    ----------
    .. [1] ISO 2720:1974, incident-light exposure equation and range of C.

    Examples
    --------
    >>> round(float(reference_illuminance_lx(t_stop=4, time_s=1 / 48, iso=100)), 3)
    1920.0
    """
    _check_settings(t_stop=t_stop, time_s=time_s, iso=iso)
    check_range("nd_stops", nd_stops, low=0.0, hint="stops of density; ND 0.9 is 3")
    return ISO2720_C_FLAT * np.square(t_stop) / np.multiply(time_s, iso) * np.exp2(nd_stops)


def reference_luminance_cd_m2(*, t_stop: Numbers, time_s: Numbers, iso: Numbers, nd_stops: Numbers = 0.0) -> Numbers:
    r"""
    Luminance of a grey card at middle grey. [cd/m2]

    Parameters
    ----------
    t_stop : float or array
        T-stop, > 0. [1]
    time_s : float or array
        Exposure time, > 0. [s]
    iso : float or array
        ISO speed or exposure index, > 0. [1]
    nd_stops : float or array, default 0
        Neutral density in front of the lens. [stops]

    Returns
    -------
    float or array
        Reference luminance, the inputs broadcast together. [cd/m2]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: L_\mathrm{ref} = 0.18\, E_\mathrm{ref} / \pi

    So an incident reading and a spot reading of a matt 18 % card agree. It amounts to a reflected-meter
    constant K of 0.18 x 250 / pi = 14.3. ISO 2720:1974 gives K from 10.6 to 13.4, and 12.5 is in common
    use: a spot meter built so reads our middle grey as 0.2 stop over its own.

    References
    ----------
    .. [1] ISO 2720:1974, reflected-light exposure equation and range of K.

    Examples
    --------
    >>> round(float(reference_luminance_cd_m2(t_stop=4, time_s=1 / 48, iso=100)), 2)
    110.01
    """
    reference_lx = reference_illuminance_lx(t_stop=t_stop, time_s=time_s, iso=iso, nd_stops=nd_stops)
    return GREY_REFLECTANCE * reference_lx / np.pi  # matt card: L = rho E / pi


def level_stops(*, illuminance_lx: Numbers, reference_lx: Numbers) -> Numbers:
    r"""
    Level of light falling on a mark, from middle grey; minus is under. [stops]

    Parameters
    ----------
    illuminance_lx : float or array
        Illuminance at the mark, >= 0; 0 gives minus infinity. [lx]
    reference_lx : float or array
        The camera's reference illuminance, > 0. [lx]

    Returns
    -------
    float or array
        Level, the inputs broadcast together. [stops]

    Raises
    ------
    ValueError
        If an illuminance is negative or a reference not positive.

    Notes
    -----
    .. math:: \ell = \log_2(E / E_\mathrm{ref})

    References
    ----------
    .. [1] `reference_illuminance_lx`.

    Examples
    --------
    >>> float(level_stops(illuminance_lx=960, reference_lx=1920))
    -1.0
    """
    check_range("illuminance_lx", illuminance_lx, low=0.0)
    check_range("reference_lx", reference_lx, above=0.0)
    return stops(np.divide(illuminance_lx, reference_lx))


def luminance_level_stops(*, luminance_cd_m2: Numbers, reference_cd_m2: Numbers) -> Numbers:
    r"""
    Level of a surface as the lens sees it, from middle grey; minus is under. [stops]

    Parameters
    ----------
    luminance_cd_m2 : float or array
        Luminance of the surface, >= 0; 0 gives minus infinity. [cd/m2]
    reference_cd_m2 : float or array
        The camera's reference luminance, > 0. [cd/m2]

    Returns
    -------
    float or array
        Level, the inputs broadcast together. [stops]

    Raises
    ------
    ValueError
        If a luminance is negative or a reference not positive.

    Notes
    -----
    .. math:: \ell = \log_2(L / L_\mathrm{ref})

    References
    ----------
    .. [1] `reference_luminance_cd_m2`.

    Examples
    --------
    >>> float(luminance_level_stops(luminance_cd_m2=440, reference_cd_m2=110))
    2.0
    """
    check_range("luminance_cd_m2", luminance_cd_m2, low=0.0)
    check_range("reference_cd_m2", reference_cd_m2, above=0.0)
    return stops(np.divide(luminance_cd_m2, reference_cd_m2))


def t_stop_for(
    *, illuminance_lx: Numbers, time_s: Numbers, iso: Numbers, nd_stops: Numbers = 0.0, at_stops: Numbers = 0.0
) -> Numbers:
    r"""
    T-stop that puts a mark where it is wanted. [1]

    Parameters
    ----------
    illuminance_lx : float or array
        Illuminance at the mark, > 0. [lx]
    time_s : float or array
        Exposure time, > 0. [s]
    iso : float or array
        ISO speed or exposure index, > 0. [1]
    nd_stops : float or array, default 0
        Neutral density in front of the lens. [stops]
    at_stops : float or array, default 0
        Wanted level of the mark from middle grey; minus is under. [stops]

    Returns
    -------
    float or array
        T-stop, not yet rounded to the ring, see `engraved_t_stop`. [1]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: N = \sqrt{E\, t\, S / (C\, 2^{n+\ell})}

    References
    ----------
    .. [1] ISO 2720:1974, incident-light exposure equation.

    Examples
    --------
    >>> round(float(t_stop_for(illuminance_lx=1920, time_s=1 / 48, iso=100)), 6)
    4.0
    """
    check_range("illuminance_lx", illuminance_lx, above=0.0, hint="no light, no stop")
    check_range("at_stops", at_stops)
    wide_lx = reference_illuminance_lx(t_stop=1.0, time_s=time_s, iso=iso, nd_stops=nd_stops)
    return np.sqrt(illuminance_lx / (wide_lx * np.exp2(at_stops)))


def iso_for(
    *, illuminance_lx: Numbers, t_stop: Numbers, time_s: Numbers, nd_stops: Numbers = 0.0, at_stops: Numbers = 0.0
) -> Numbers:
    r"""
    ISO that puts a mark where it is wanted. [1]

    Parameters
    ----------
    illuminance_lx : float or array
        Illuminance at the mark, > 0. [lx]
    t_stop : float or array
        T-stop, > 0. [1]
    time_s : float or array
        Exposure time, > 0. [s]
    nd_stops : float or array, default 0
        Neutral density in front of the lens. [stops]
    at_stops : float or array, default 0
        Wanted level of the mark from middle grey; minus is under. [stops]

    Returns
    -------
    float or array
        ISO speed, the inputs broadcast together. [1]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: S = C N^2\, 2^{n+\ell} / (t E)

    References
    ----------
    .. [1] ISO 2720:1974, incident-light exposure equation.

    Examples
    --------
    >>> round(float(iso_for(illuminance_lx=240, t_stop=4, time_s=1 / 48)), 6)
    800.0
    """
    check_range("illuminance_lx", illuminance_lx, above=0.0, hint="no light, no speed is enough")
    check_range("at_stops", at_stops)
    slow_lx = reference_illuminance_lx(t_stop=t_stop, time_s=time_s, iso=1.0, nd_stops=nd_stops)
    return slow_lx * np.exp2(at_stops) / illuminance_lx


def time_s_for(
    *, illuminance_lx: Numbers, t_stop: Numbers, iso: Numbers, nd_stops: Numbers = 0.0, at_stops: Numbers = 0.0
) -> Numbers:
    r"""
    Exposure time that puts a mark where it is wanted. [s]

    Parameters
    ----------
    illuminance_lx : float or array
        Illuminance at the mark, > 0. [lx]
    t_stop : float or array
        T-stop, > 0. [1]
    iso : float or array
        ISO speed or exposure index, > 0. [1]
    nd_stops : float or array, default 0
        Neutral density in front of the lens. [stops]
    at_stops : float or array, default 0
        Wanted level of the mark from middle grey; minus is under. [stops]

    Returns
    -------
    float or array
        Time; whether it fits into a frame is for `shutter_angle_deg` to say. [s]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: t = C N^2\, 2^{n+\ell} / (S E)

    References
    ----------
    .. [1] ISO 2720:1974, incident-light exposure equation.

    Examples
    --------
    >>> round(1 / float(time_s_for(illuminance_lx=1920, t_stop=4, iso=100)), 6)
    48.0
    """
    check_range("illuminance_lx", illuminance_lx, above=0.0, hint="no light, no time is enough")
    check_range("at_stops", at_stops)
    second_lx = reference_illuminance_lx(t_stop=t_stop, time_s=1.0, iso=iso, nd_stops=nd_stops)
    return second_lx * np.exp2(at_stops) / illuminance_lx


def nd_stops_for(*, illuminance_lx: Numbers, t_stop: Numbers, time_s: Numbers, iso: Numbers, at_stops: Numbers = 0.0) -> Numbers:
    r"""
    Neutral density that puts a mark where it is wanted; minus means light is missing. [stops]

    Parameters
    ----------
    illuminance_lx : float or array
        Illuminance at the mark, > 0. [lx]
    t_stop : float or array
        T-stop, > 0. [1]
    time_s : float or array
        Exposure time, > 0. [s]
    iso : float or array
        ISO speed or exposure index, > 0. [1]
    at_stops : float or array, default 0
        Wanted level of the mark from middle grey; minus is under. [stops]

    Returns
    -------
    float or array
        Density in stops, the inputs broadcast together. [stops]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: n = \log_2(E / E_\mathrm{ref}) - \ell

    References
    ----------
    .. [1] ISO 2720:1974, incident-light exposure equation.

    Examples
    --------
    >>> round(float(nd_stops_for(illuminance_lx=64_000, t_stop=4, time_s=1 / 48, iso=800)), 2)
    8.06
    """
    check_range("illuminance_lx", illuminance_lx, above=0.0)
    check_range("at_stops", at_stops)
    reference_lx = reference_illuminance_lx(t_stop=t_stop, time_s=time_s, iso=iso)
    return stops(np.divide(illuminance_lx, reference_lx)) - at_stops


def illuminance_lx_for(
    *, t_stop: Numbers, time_s: Numbers, iso: Numbers, nd_stops: Numbers = 0.0, at_stops: Numbers = 0.0
) -> Numbers:
    r"""
    Light that puts a mark where it is wanted. [lx]

    Parameters
    ----------
    t_stop : float or array
        T-stop, > 0. [1]
    time_s : float or array
        Exposure time, > 0. [s]
    iso : float or array
        ISO speed or exposure index, > 0. [1]
    nd_stops : float or array, default 0
        Neutral density in front of the lens. [stops]
    at_stops : float or array, default 0
        Wanted level of the mark from middle grey; minus is under. [stops]

    Returns
    -------
    float or array
        Illuminance at the mark, the inputs broadcast together. [lx]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: E = C N^2\, 2^{n+\ell} / (t S)

    References
    ----------
    .. [1] ISO 2720:1974, incident-light exposure equation.

    Examples
    --------
    >>> round(float(illuminance_lx_for(t_stop=4, time_s=1 / 48, iso=800, at_stops=-1)), 6)
    120.0
    """
    check_range("at_stops", at_stops)
    return reference_illuminance_lx(t_stop=t_stop, time_s=time_s, iso=iso, nd_stops=nd_stops) * np.exp2(at_stops)


def fps_for(
    *,
    illuminance_lx: Numbers,
    t_stop: Numbers,
    shutter_deg: Numbers,
    iso: Numbers,
    nd_stops: Numbers = 0.0,
    at_stops: Numbers = 0.0,
) -> Numbers:
    r"""
    Frame rate, at a constant shutter angle, that puts a mark where it is wanted. [1/s]

    Parameters
    ----------
    illuminance_lx : float or array
        Illuminance at the mark, > 0. [lx]
    t_stop : float or array
        T-stop, > 0. [1]
    shutter_deg : float or array
        Shutter angle, above 0 to 360. [deg]
    iso : float or array
        ISO speed or exposure index, > 0. [1]
    nd_stops : float or array, default 0
        Neutral density in front of the lens. [stops]
    at_stops : float or array, default 0
        Wanted level of the mark from middle grey; minus is under. [stops]

    Returns
    -------
    float or array
        Frames per second; the fastest that this light allows. [1/s]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: f = \frac{\alpha}{360} \frac{S E}{C N^2\, 2^{n+\ell}}

    References
    ----------
    .. [1] ISO 2720:1974, incident-light exposure equation, with t of the shutter angle.

    Examples
    --------
    >>> round(float(fps_for(illuminance_lx=600, t_stop=4, shutter_deg=180, iso=800)), 6)
    60.0
    """
    check_range("shutter_deg", shutter_deg, above=0.0, high=360.0, hint="degrees of a full turn")
    need_s = time_s_for(illuminance_lx=illuminance_lx, t_stop=t_stop, iso=iso, nd_stops=nd_stops, at_stops=at_stops)
    return np.divide(shutter_deg, 360.0 * need_s)


def slow_motion_stops(*, old_fps: Numbers, new_fps: Numbers, shutter_deg: Numbers = 180.0, keep: str = "angle") -> Numbers:
    r"""
    What another frame rate does to the picture; minus is darker. [stops]

    Parameters
    ----------
    old_fps, new_fps : float or array
        Frames per second before and after, > 0. [1/s]
    shutter_deg : float or array, default 180
        Shutter angle before, above 0 to 360. [deg]
    keep : {"angle", "time"}, default "angle"
        The angle stays, so the time shortens and blur with it; or the time stays and the angle opens, as far as a
        whole frame.

    Returns
    -------
    float or array
        Change of exposure, the inputs broadcast together. [stops]

    Raises
    ------
    ValueError
        If a number is outside its range, or `keep` is not known.

    Notes
    -----
    .. math:: \Delta_\mathrm{angle} = \log_2(f/f'), \quad
              \Delta_\mathrm{time} = \log_2\min\!\left(1, \frac{360}{\alpha}\frac{f}{f'}\right)

    At a constant time nothing is lost until the angle is 360; from there on the two cost alike.

    References
    ----------
    .. [1] ISO 2720:1974, exposure as a ratio of times; definition of the shutter angle.

    Examples
    --------
    >>> round(float(slow_motion_stops(old_fps=24, new_fps=60)), 3)
    -1.322
    >>> round(float(slow_motion_stops(old_fps=24, new_fps=60, keep="time")), 3)
    -0.322
    """
    if keep not in ("angle", "time"):
        raise ValueError(f"keep must be 'angle' or 'time', got {keep!r}")
    old_s = shutter_time_s(shutter_deg=shutter_deg, fps=old_fps)
    new_s = shutter_time_s(shutter_deg=shutter_deg, fps=new_fps)
    if keep == "time":
        new_s = np.minimum(old_s, shutter_time_s(shutter_deg=360.0, fps=new_fps))  # no longer than a frame
    return stops(np.divide(new_s, old_s))


def exposure_change_stops(
    *, old_t_stop: Numbers | None=None, new_t_stop: Numbers | None=None, old_iso: Numbers | None=None, new_iso: Numbers | None=None, old_shutter_deg: Numbers | None=None, new_shutter_deg: Numbers | None=None,
    old_fps: Numbers | None=None, new_fps: Numbers | None=None, old_nd_stops: Numbers | None=None, new_nd_stops: Numbers | None=None,
) -> Numbers:  # fmt: skip
    r"""
    What changing some camera settings does to the picture; minus is darker. [stops]

    Parameters
    ----------
    old_t_stop, new_t_stop : float or array, optional
        T-stop before and after, > 0. [1]
    old_iso, new_iso : float or array, optional
        ISO speed before and after, > 0. [1]
    old_shutter_deg, new_shutter_deg : float or array, optional
        Shutter angle before and after, above 0 to 360. [deg]
    old_fps, new_fps : float or array, optional
        Frame rate before and after, > 0; the angle stays unless it is given too. [1/s]
    old_nd_stops, new_nd_stops : float or array, optional
        Neutral density before and after, >= 0. [stops]

    Returns
    -------
    float or array
        Change of exposure, all pairs given together. [stops]

    Raises
    ------
    ValueError
        If only one of a pair is given, or a number is outside its range.

    Notes
    -----
    .. math:: \Delta = 2\log_2\frac{N}{N'} + \log_2\frac{S'}{S} + \log_2\frac{\alpha'}{\alpha} +
        \log_2\frac{f}{f'} + n - n'

    References
    ----------
    .. [1] ISO 2720:1974, incident-light exposure equation, as a ratio.

    Examples
    --------
    >>> round(float(exposure_change_stops(old_fps=24, new_fps=60)), 3)
    -1.322
    """
    total = 0.0
    for name, power, old, new in (
        ("t_stop", -2.0, old_t_stop, new_t_stop), ("iso", 1.0, old_iso, new_iso),
        ("shutter_deg", 1.0, old_shutter_deg, new_shutter_deg), ("fps", -1.0, old_fps, new_fps),
    ):  # fmt: skip
        before, after = _pair(name, old, new, absent=1.0, above=0.0, high=360.0 if name == "shutter_deg" else None)
        total = total + power * stops(np.divide(after, before))
    before, after = _pair("nd_stops", old_nd_stops, new_nd_stops, absent=0.0, low=0.0)
    return total - np.subtract(after, before)


def _pair(name, old, new, *, absent, **limits):
    """The two numbers of one setting, checked; twice `absent` when neither is given."""
    if (old is None) != (new is None):
        given = "new" if old is None else "old"
        raise ValueError(f"old_{name} and new_{name} must be given together, got only the {given} one")
    before, after = (absent, absent) if old is None else (old, new)
    check_range(f"old_{name}", before, **limits)
    check_range(f"new_{name}", after, **limits)
    return before, after


def engraved_t_stop(*, t_stop: Numbers) -> Numbers:
    r"""
    What the lens ring, in thirds of a stop, says nearest this T-stop. [1]

    Parameters
    ----------
    t_stop : float or array
        T-stop, about 0.67 to 68. [1]

    Returns
    -------
    float or array
        Engraved number, from `ENGRAVED_T_STOPS`. [1]

    Raises
    ------
    ValueError
        If a T-stop is beyond the ring.

    Notes
    -----
    .. math:: k = \mathrm{round}(6 \log_2 N)

    Never more than a sixth of a stop away. The numbers engraved are themselves rounded: use
    `t_stop_from_engraved` before computing with them.

    References
    ----------
    .. [1] ISO 517:2008, marking of apertures by powers of the square root of two.

    Examples
    --------
    >>> float(engraved_t_stop(t_stop=2.7))
    2.8
    """
    check_range("t_stop", t_stop, low=2.0 ** (-3.5 / 6.0), high=2.0 ** (36.5 / 6.0), hint="T0.7 to T64")
    step = np.rint(6.0 * np.log2(t_stop)).astype(int)
    return ENGRAVED_T_STOPS[np.clip(step, ENGRAVED_STEPS[0], ENGRAVED_STEPS[-1]) - ENGRAVED_STEPS[0]]


def t_stop_from_engraved(*, label: Numbers) -> Numbers:
    r"""
    T-stop that an engraved number stands for. [1]

    Parameters
    ----------
    label : float or array
        Number on the ring, one of `ENGRAVED_T_STOPS`. [1]

    Returns
    -------
    float or array
        T-stop: 2.8 gives 2.8284. [1]

    Raises
    ------
    ValueError
        If a number is not on a ring in thirds of a stop.

    Notes
    -----
    .. math:: N = 2^{k/6}

    Taking 2.8 at its word costs 2 % of exposure; 3.5 costs 4 %, 1.2 costs 9 % (0.14 stop).

    References
    ----------
    .. [1] ISO 517:2008, marking of apertures by powers of the square root of two.

    Examples
    --------
    >>> round(float(t_stop_from_engraved(label=2.8)), 4)
    2.8284
    """
    check_range("label", label)
    gap = np.abs(np.asarray(label, dtype=float)[..., None] - ENGRAVED_T_STOPS)
    if np.any(np.min(gap, axis=-1) > 1e-9):
        stray = np.extract(np.min(gap, axis=-1) > 1e-9, label)[0]
        raise ValueError(f"label must be one of {', '.join(f'{n:g}' for n in ENGRAVED_T_STOPS)}, got {stray:g}")
    return np.exp2(ENGRAVED_STEPS[np.argmin(gap, axis=-1)] / 6.0)


def exposure_value(*, t_stop: Numbers, time_s: Numbers, iso: Numbers = 100.0) -> Numbers:
    r"""
    Exposure value at ISO 100 that a camera setting answers to. [EV]

    Parameters
    ----------
    t_stop : float or array
        T-stop, > 0. [1]
    time_s : float or array
        Exposure time, > 0. [s]
    iso : float or array, default 100
        ISO speed, > 0. [1]

    Returns
    -------
    float or array
        EV referred to ISO 100, the inputs broadcast together. [EV]

    Raises
    ------
    ValueError
        If an input is not positive.

    Notes
    -----
    .. math:: \mathrm{EV}_{100} = \log_2(N^2/t) - \log_2(S/100)

    References
    ----------
    .. [1] ISO 2720:1974, with S = 100.

    Examples
    --------
    >>> round(float(exposure_value(t_stop=8, time_s=1 / 250, iso=400)), 5)
    11.96578
    """
    _check_settings(t_stop=t_stop, time_s=time_s, iso=iso)
    return stops(np.square(t_stop) / np.multiply(time_s, iso) * 100.0)


def illuminance_from_ev(*, ev: Numbers) -> Numbers:
    r"""
    Illuminance an incident meter turns into this exposure value at ISO 100. [lx]

    Parameters
    ----------
    ev : float or array
        Exposure value at ISO 100. [EV]

    Returns
    -------
    float or array
        Illuminance. [lx]

    Raises
    ------
    ValueError
        If a value is not finite.

    Notes
    -----
    .. math:: E = (C/100)\, 2^{\mathrm{EV}} = 2.5 \times 2^{\mathrm{EV}}

    References
    ----------
    .. [1] ISO 2720:1974, C = 250.

    Examples
    --------
    >>> float(illuminance_from_ev(ev=10))
    2560.0
    """
    check_range("ev", ev)
    return ISO2720_C_FLAT / 100.0 * np.exp2(ev)


def luminance_from_ev(*, ev: Numbers) -> Numbers:
    r"""
    Luminance a common spot meter turns into this exposure value at ISO 100. [cd/m2]

    Parameters
    ----------
    ev : float or array
        Exposure value at ISO 100. [EV]

    Returns
    -------
    float or array
        Luminance. [cd/m2]

    Raises
    ------
    ValueError
        If a value is not finite.

    Notes
    -----
    .. math:: L = (K/100)\, 2^{\mathrm{EV}} = 0.125 \times 2^{\mathrm{EV}}

    K = 12.5, the meters' constant, not the 14.3 of `reference_luminance_cd_m2`: for reading a meter that
    shows EV.

    References
    ----------
    .. [1] ISO 2720:1974, K from 10.6 to 13.4.

    Examples
    --------
    >>> float(luminance_from_ev(ev=10))
    128.0
    """
    check_range("ev", ev)
    return ISO2720_K / 100.0 * np.exp2(ev)


_SETTING_HINTS = {"t_stop": "2.8 or 5.6", "f_number": "2.8 or 5.6", "time_s": "seconds; 1/48 is 0.0208",
                  "iso": "100 to 25 600"}  # fmt: skip


def _check_settings(**settings):
    """Each camera setting must be above 0."""
    for name, value in settings.items():
        check_range(name, value, above=0.0, hint=_SETTING_HINTS[name])
