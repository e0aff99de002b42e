"""What moves and how it is drawn: blur on the sensor, the gap between images, depth of field."""

from __future__ import annotations

import numpy as np

from lightcalc.units import Numbers, check_range

PAN_SECONDS = 7.0  # COMMON PRACTICE: a picture width in seven seconds at 24 fps, no faster
RULE_STEP_PERCENT = 100.0 / (PAN_SECONDS * 24.0)  # of the picture's width from image to image: 0.6
RULE_GAP_PERCENT = RULE_STEP_PERCENT / 2.0  # what a 180 degree shutter leaves dark of that


def magnification(*, focal_mm: Numbers, distance_m: Numbers) -> Numbers:
    r"""
    Size on the sensor over size at the subject. [1]

    Parameters
    ----------
    focal_mm : float or array
        Focal length, > 0. [mm]
    distance_m : float or array
        Lens to subject in focus, more than a focal length. [m]

    Returns
    -------
    float or array
        Magnification, the inputs broadcast together. [1]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: m = f / (d - f)

    Thin lens; f/d is the far-subject short cut, low by f/d of itself.

    References
    ----------
    .. [1] E. Hecht, Optics, 5.2.3, thin-lens magnification.

    Examples
    --------
    >>> round(float(magnification(focal_mm=50, distance_m=3)), 6)
    0.016949
    """
    check_range("focal_mm", focal_mm, above=0.0, hint="such as 35")
    focal_m = np.multiply(focal_mm, 1e-3)
    check_range("distance_m less the focal length", np.subtract(distance_m, focal_m), above=0.0, hint="metres to the subject")
    return focal_m / np.subtract(distance_m, focal_m)


def blur_mm(
    *,
    speed_m_s: Numbers,
    distance_m: Numbers,
    focal_mm: Numbers,
    time_s: Numbers,
    direction_deg: Numbers = 90.0,
    offset_m: Numbers = 0.0,
) -> Numbers:
    r"""
    Length of the streak that a moving point draws on the sensor in one exposure. [mm]

    Parameters
    ----------
    speed_m_s : float or array
        Speed past a camera at rest, >= 0. [m/s]
    distance_m : float or array
        Lens to the point at the middle of the exposure, along the axis. [m]
    focal_mm : float or array
        Focal length, > 0. [mm]
    time_s : float or array
        Exposure time, > 0. [s]
    direction_deg : float or array, default 90
        From straight at the lens (0) over across the picture (90) to straight away (180). [deg]
    offset_m : float or array, default 0
        How far the point is off the axis, on the side it moves towards; a head 1 m over the axis that comes nearer
        moves too. [m]

    Returns
    -------
    float or array
        Streak, the inputs broadcast together. [mm]

    Raises
    ------
    ValueError
        If an input is outside its range, or the point reaches the lens within the exposure.

    Notes
    -----
    .. math:: b = m\, d \left|\frac{X_2}{Z_2} - \frac{X_1}{Z_1}\right|, \quad
              X_{1,2} = X \mp \tfrac12 v t \sin\theta, \quad Z_{1,2} = d \pm \tfrac12 v t \cos\theta

    With m the magnification at d, in focus. Across, it is m v t exactly. Straight at the lens only what is off the axis
    moves: near m X v t / d. Limbs move up to twice as fast as the body they hang on.

    References
    ----------
    .. [1] Pinhole projection; DERIVED in notebooks/05_exposure_motion.ipynb.

    Examples
    --------
    >>> round(float(blur_mm(speed_m_s=1, distance_m=3, focal_mm=50, time_s=1 / 48)), 5)
    0.35311
    """
    check_range("speed_m_s", speed_m_s, low=0.0, hint="metres a second; a run is 5")
    check_range("time_s", time_s, above=0.0, hint="seconds; 1/48 is 0.0208")
    check_range("direction_deg", direction_deg, low=0.0, high=180.0, hint="0 at the lens, 90 across, 180 away")
    check_range("offset_m", offset_m)
    m = magnification(focal_mm=focal_mm, distance_m=distance_m)
    half_m, turn = 0.5 * np.multiply(speed_m_s, time_s), np.radians(direction_deg)
    along, across = half_m * np.cos(turn), half_m * np.sin(turn)
    check_range("distance_m at the end of the exposure", distance_m - np.abs(along), above=0.0, hint="it runs into the lens")
    moved = np.add(offset_m, across) / (distance_m - along) - np.subtract(offset_m, across) / (distance_m + along)
    return 1e3 * m * distance_m * np.abs(moved)


def pan_blur_mm(*, pan_deg_s: Numbers, focal_mm: Numbers, time_s: Numbers, off_axis_deg: Numbers = 0.0) -> Numbers:
    r"""
    Length of the streak that a far point at rest draws while the camera pans. [mm]

    Parameters
    ----------
    pan_deg_s : float or array
        Speed of the pan or tilt, >= 0. [deg/s]
    focal_mm : float or array
        Focal length, > 0. [mm]
    time_s : float or array
        Exposure time, > 0. [s]
    off_axis_deg : float or array, default 0
        Angle of the point from the lens's axis at the middle of the exposure, under 80. [deg]

    Returns
    -------
    float or array
        Streak, the inputs broadcast together. [mm]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: b = f\,[\tan(\varphi + \tfrac12\omega t) - \tan(\varphi - \tfrac12\omega t)] \approx f\,\omega\,t

    At the edge of the picture it is longer by 1/cos^2: a third at 30 deg. Focus at infinity, the camera turning about
    the lens's entrance pupil.

    References
    ----------
    .. [1] Pinhole projection.

    Examples
    --------
    >>> round(float(pan_blur_mm(pan_deg_s=30, focal_mm=50, time_s=1 / 48)), 4)
    0.5454
    """
    check_range("pan_deg_s", pan_deg_s, low=0.0, hint="degrees a second")
    check_range("focal_mm", focal_mm, above=0.0, hint="such as 35")
    check_range("time_s", time_s, above=0.0, hint="seconds; 1/48 is 0.0208")
    half = 0.5 * np.radians(np.multiply(pan_deg_s, time_s))
    middle = np.radians(off_axis_deg)
    check_range("off_axis_deg with the pan", np.degrees(np.abs(middle) + half), high=80.0, hint="inside a lens's picture")
    return focal_mm * (np.tan(middle + half) - np.tan(middle - half))


def pixels(*, length_mm: Numbers, pixel_um: Numbers) -> Numbers:
    r"""
    A length on the sensor in pixels. [px]

    Parameters
    ----------
    length_mm : float or array
        Length, >= 0. [mm]
    pixel_um : float or array
        Pixel pitch, > 0. [um]

    Returns
    -------
    float or array
        Pixels, the inputs broadcast together. [px]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: n = 1000\, b / p

    References
    ----------
    .. [1] Definition of the pitch.

    Examples
    --------
    >>> round(float(pixels(length_mm=0.34722, pixel_um=6.0)), 1)
    57.9
    """
    check_range("length_mm", length_mm, low=0.0)
    check_range("pixel_um", pixel_um, above=0.0, hint="micrometres from pixel to pixel, 4 to 9 for most cinema cameras")
    return 1e3 * np.divide(length_mm, pixel_um)


def percent_of_width(*, length_mm: Numbers, sensor_width_mm: Numbers) -> Numbers:
    r"""
    A length on the sensor in percent of the picture's width. [%]

    Parameters
    ----------
    length_mm : float or array
        Length, >= 0. [mm]
    sensor_width_mm : float or array
        Width of the part of the sensor in use, > 0. [mm]

    Returns
    -------
    float or array
        Percent, the inputs broadcast together. [%]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: 100\, b / w

    The same on every screen, which pixels are not: half a percent is 10 pixels of a 2048 picture.

    References
    ----------
    .. [1] Definition.

    Examples
    --------
    >>> round(float(percent_of_width(length_mm=0.249, sensor_width_mm=24.9)), 6)
    1.0
    """
    check_range("length_mm", length_mm, low=0.0)
    check_range("sensor_width_mm", sensor_width_mm, above=0.0, hint="millimetres across the picture")
    return 100.0 * np.divide(length_mm, sensor_width_mm)


def strobing(*, blur_mm: Numbers, shutter_deg: Numbers, sensor_width_mm: Numbers) -> tuple[Numbers, Numbers, Numbers]:
    r"""
    How a moving thing breaks into separate images.

    Parameters
    ----------
    blur_mm : float or array
        Streak in one exposure, >= 0, from `blur_mm` or `pan_blur_mm`. [mm]
    shutter_deg : float or array
        Shutter angle, above 0 to 360. [deg]
    sensor_width_mm : float or array
        Width of the picture, > 0. [mm]

    Returns
    -------
    step_percent : float or array
        From image to image, of the picture's width. [%]
    gap_percent : float or array
        Of that, what is between the end of one streak and the start of the next. [%]
    risk : float or array
        The gap over the one that the seven-second rule leaves; over 1 is faster than the rule. [1]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: s = b\,\frac{360}{\alpha}, \quad g = s - b, \quad
              \mathrm{risk} = g / 0.30\,\%

    Step and gap are geometry. The criterion is COMMON PRACTICE: nothing crosses the picture in less than 7 s at 24 fps
    with 180 deg, a step of 0.60 % and a gap of 0.30 % of the width. It is no law: soft, dark or followed things go
    faster unseen, hard bright edges break up sooner. Shown at more images a second than 24, the same gap is less seen.

    References
    ----------
    .. [1] Rule of thumb in camera makers' public guides to panning.

    Examples
    --------
    >>> step, gap, risk = strobing(blur_mm=0.0741, shutter_deg=180, sensor_width_mm=24.9)
    >>> round(float(step), 2), round(float(gap), 2), round(float(risk), 1)
    (0.6, 0.3, 1.0)
    """
    check_range("shutter_deg", shutter_deg, above=0.0, high=360.0, hint="degrees of a full turn")
    blur_percent = percent_of_width(length_mm=blur_mm, sensor_width_mm=sensor_width_mm)
    step = blur_percent * 360.0 / np.asarray(shutter_deg, dtype=float)
    return step[()], (step - blur_percent)[()], ((step - blur_percent) / RULE_GAP_PERCENT)[()]


def hyperfocal_m(*, focal_mm: Numbers, f_number: Numbers, circle_mm: Numbers) -> Numbers:
    r"""
    Focus distance from which on everything to infinity is sharp enough. [m]

    Parameters
    ----------
    focal_mm : float or array
        Focal length, > 0. [mm]
    f_number : float or array
        F-number, > 0; a T-stop is a little more, so it shows a little too much depth. [1]
    circle_mm : float or array
        Largest blur circle that passes for sharp, > 0; see `usual_circle_mm`. [mm]

    Returns
    -------
    float or array
        Hyperfocal distance, the inputs broadcast together. [m]

    Raises
    ------
    ValueError
        If an input is not positive.

    Notes
    -----
    .. math:: H = f^2 / (N c) + f

    References
    ----------
    .. [1] Thin lens; DERIVED: at H the far limit is infinity.

    Examples
    --------
    >>> round(float(hyperfocal_m(focal_mm=50, f_number=2.8, circle_mm=0.025)), 3)
    35.764
    """
    check_range("focal_mm", focal_mm, above=0.0, hint="such as 35")
    check_range("f_number", f_number, above=0.0, hint="2.8 or 5.6")
    check_range("circle_mm", circle_mm, above=0.0, hint="0.025 is usual for a sensor 25 mm wide")
    return 1e-3 * (np.square(focal_mm) / np.multiply(f_number, circle_mm) + focal_mm)


def usual_circle_mm(*, sensor_width_mm: Numbers) -> Numbers:
    r"""
    The blur circle usually let pass: a thousandth of the picture's width. [mm]

    Parameters
    ----------
    sensor_width_mm : float or array
        Width of the picture, > 0. [mm]

    Returns
    -------
    float or array
        Diameter. [mm]

    Raises
    ------
    ValueError
        If a width is not positive.

    Notes
    -----
    COMMON PRACTICE: 0.025 mm for a picture 24.9 mm wide. A large screen shows half of that; take 0.0005 w there.

    References
    ----------
    .. [1] Custom of depth-of-field tables.

    Examples
    --------
    >>> round(float(usual_circle_mm(sensor_width_mm=24.9)), 4)
    0.0249
    """
    check_range("sensor_width_mm", sensor_width_mm, above=0.0, hint="millimetres across the picture")
    return np.multiply(sensor_width_mm, 1e-3)


def depth_of_field_m(*, distance_m: Numbers, focal_mm: Numbers, f_number: Numbers, circle_mm: Numbers) -> tuple[Numbers, Numbers]:
    r"""
    Nearest and farthest distance that is sharp enough.

    Parameters
    ----------
    distance_m : float or array
        Focused distance from the lens, more than a focal length. [m]
    focal_mm : float or array
        Focal length, > 0. [mm]
    f_number : float or array
        F-number, > 0. [1]
    circle_mm : float or array
        Largest blur circle that passes for sharp, > 0. [mm]

    Returns
    -------
    near_m : float or array
        Near limit. [m]
    far_m : float or array
        Far limit; infinity from the hyperfocal distance on. [m]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: d_n = \frac{s (H - f)}{H + s - 2f}, \quad d_f = \frac{s (H - f)}{H - s}

    Thin lens, sharp in the middle of the field, no diffraction.

    References
    ----------
    .. [1] Thin lens; DERIVED: at both limits the blur circle is `circle_mm`.

    Examples
    --------
    >>> near, far = depth_of_field_m(distance_m=3, focal_mm=50, f_number=2.8, circle_mm=0.025)
    >>> round(float(near), 4), round(float(far), 4)
    (2.7711, 3.2701)
    """
    h = hyperfocal_m(focal_mm=focal_mm, f_number=f_number, circle_mm=circle_mm)
    f = np.multiply(focal_mm, 1e-3)
    s = np.asarray(distance_m, dtype=float)
    check_range("distance_m less the focal length", s - f, above=0.0, hint="metres to the subject")
    near = s * (h - f) / (h + s - 2.0 * f)
    far = np.where(s < h, s * (h - f) / np.where(s < h, h - s, 1.0), np.inf)
    return near[()], far[()]
