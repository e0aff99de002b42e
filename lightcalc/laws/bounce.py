"""What a lit board gives back: by lamp, low sun or torch, near or far, and the ratio it makes."""

from __future__ import annotations

import numpy as np

from lightcalc.laws import falloff
from lightcalc.units import Numbers, check_range, stops

#   board                        All in one plane, seen from above. The board's middle is the origin, it
#   |--                          faces +z, its width runs along x. The lamp and the subject each stand at an
#   |   \_ board_angle           angle from its normal; the lamp is aimed at the middle. A receptor angle of
#   |______ z     o subject      0 looks at the middle of the board.


def board_luminance(*, reflectance: Numbers, illuminance_lx: Numbers) -> Numbers:
    r"""
    Luminance of a matt board. [cd/m2]

    Parameters
    ----------
    reflectance : float or array
        Share sent back, 0 to 1. [1]
    illuminance_lx : float or array
        Illuminance on the board, >= 0. [lx]

    Returns
    -------
    float or array
        Luminance, the same every way, the inputs broadcast together. [cd/m2]

    Raises
    ------
    ValueError
        If a reflectance is outside 0 to 1 or an illuminance negative.

    Notes
    -----
    .. math:: L = \rho E / \pi

    Foam board, card and muslin are near matt. Silver is not: near its mirror direction it gives several
    times this, elsewhere less; measure it.

    References
    ----------
    .. [1] CIE S 017 International Lighting Vocabulary, "Lambert's cosine law".

    Examples
    --------
    >>> round(float(board_luminance(reflectance=0.85, illuminance_lx=1000)), 2)
    270.56
    """
    check_range("reflectance", reflectance, low=0.0, high=1.0)
    check_range("illuminance_lx", illuminance_lx, low=0.0)
    return np.multiply(reflectance, illuminance_lx) / np.pi


def sun_on_board_lx(*, normal_lx: Numbers, incidence_deg: Numbers) -> Numbers:
    r"""
    Illuminance the sun gives a board. [lx]

    Parameters
    ----------
    normal_lx : float or array
        Illuminance square to the sun's rays, >= 0. [lx]
    incidence_deg : float or array
        Sun to board normal; 90 or more gives 0 lx. [deg]

    Returns
    -------
    float or array
        Illuminance, the inputs broadcast together. [lx]

    Raises
    ------
    ValueError
        If an illuminance is negative or an angle not finite.

    Notes
    -----
    .. math:: E = E_n \cos\theta

    The sky's share comes on top. To throw the light at right angles to the sun a board stands at 45 deg
    to it and loses half a stop here.

    References
    ----------
    .. [1] CIE S 017 International Lighting Vocabulary, "illuminance", for parallel rays.

    Examples
    --------
    >>> round(float(sun_on_board_lx(normal_lx=38_000, incidence_deg=45)))
    26870
    """
    check_range("normal_lx", normal_lx, low=0.0)
    check_range("incidence_deg", incidence_deg)
    return np.multiply(normal_lx, np.maximum(np.cos(np.radians(incidence_deg)), 0.0))


def board_factor(
    *, width_m: Numbers, height_m: Numbers, subject_m: Numbers, board_angle_deg: Numbers = 0.0, receptor_angle_deg: Numbers = 0.0
) -> Numbers:
    r"""
    Configuration factor of a board at the subject. [1]

    Parameters
    ----------
    width_m, height_m : float or array
        Board, > 0; the subject moves off to the side of its width. [m]
    subject_m : float or array
        Middle of the board to the subject, > 0. [m]
    board_angle_deg : float or array, default 0
        Board normal to the subject, above -90 and below 90. [deg]
    receptor_angle_deg : float or array, default 0
        How far the receptor looks past the middle of the board, same turn. [deg]

    Returns
    -------
    float or array
        Factor, 0 to 1, the inputs broadcast together. [1]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    Exact in the near field, by `lightcalc.laws.falloff.polygon_factor`; what is behind the receptor is cut off.

    References
    ----------
    .. [1] J. H. Lambert, "Photometria" (1760).

    Examples
    --------
    >>> round(float(board_factor(width_m=1.2, height_m=1.2, subject_m=2)), 6)
    0.102372
    """
    point, normal = _subject(subject_m, board_angle_deg, receptor_angle_deg)
    corners = _rectangle(0.0, 0.0, *_board(width_m, height_m))
    return falloff.polygon_factor(vertices=corners, point=point, normal=normal)


def board_fill_illuminance(
    *,
    board_lx: Numbers,
    reflectance: Numbers,
    width_m: Numbers,
    height_m: Numbers,
    subject_m: Numbers,
    board_angle_deg: Numbers = 0.0,
    receptor_angle_deg: Numbers = 0.0,
) -> Numbers:
    r"""
    Illuminance an evenly lit matt board gives the subject. [lx]

    Parameters
    ----------
    board_lx : float or array
        Illuminance on the board, the same all over, >= 0. [lx]
    reflectance : float or array
        Board, 0 to 1. [1]
    width_m, height_m : float or array
        Board, > 0. [m]
    subject_m : float or array
        Middle of the board to the subject, > 0. [m]
    board_angle_deg : float or array, default 0
        Board normal to the subject, above -90 and below 90. [deg]
    receptor_angle_deg : float or array, default 0
        How far the receptor looks past the middle of the board. [deg]

    Returns
    -------
    float or array
        Illuminance at the receptor, the inputs broadcast together. [lx]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: E = \rho E_b F

    One bounce: what walls and ground add is left out.

    References
    ----------
    .. [1] `board_factor`; `lightcalc.laws.falloff.area_illuminance_lx`.

    Examples
    --------
    >>> round(float(board_fill_illuminance(board_lx=1000, reflectance=0.85, width_m=1.2, height_m=1.2,
    ...                                    subject_m=2)), 2)
    87.02
    """
    factor = board_factor(
        width_m=width_m,
        height_m=height_m,
        subject_m=subject_m,
        board_angle_deg=board_angle_deg,
        receptor_angle_deg=receptor_angle_deg,
    )
    luminance = board_luminance(reflectance=reflectance, illuminance_lx=board_lx)
    return falloff.area_illuminance_lx(luminance_cd_m2=luminance, factor=factor)


def board_point_illuminance(
    *,
    board_lx: Numbers,
    reflectance: Numbers,
    width_m: Numbers,
    height_m: Numbers,
    subject_m: Numbers,
    board_angle_deg: Numbers = 0.0,
    receptor_angle_deg: Numbers = 0.0,
) -> Numbers:
    r"""
    The same fill by the inverse square law, as if the board were a point. [lx]

    Parameters
    ----------
    board_lx : float or array
        Illuminance on the board, the same all over, >= 0. [lx]
    reflectance : float or array
        Board, 0 to 1. [1]
    width_m, height_m : float or array
        Board, > 0. [m]
    subject_m : float or array
        Middle of the board to the subject, > 0. [m]
    board_angle_deg : float or array, default 0
        Board normal to the subject, above -90 and below 90. [deg]
    receptor_angle_deg : float or array, default 0
        How far the receptor looks past the middle of the board. [deg]

    Returns
    -------
    float or array
        Illuminance at the receptor, the inputs broadcast together. [lx]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: E = \frac{\rho E_b\, w h \cos\alpha \cos\beta}{\pi d^2}

    For comparison and for rules of thumb. A square board read on its axis is 33 % too high one side away,
    8 % at two, 1.3 % at five: `lightcalc.laws.falloff.point_formula_error`.

    References
    ----------
    .. [1] IES Lighting Definitions, 9.1.1 "inverse square law".

    Examples
    --------
    >>> round(float(board_point_illuminance(board_lx=1000, reflectance=0.85, width_m=1.2, height_m=1.2,
    ...                                     subject_m=2)), 2)
    97.4
    """
    _subject(subject_m, board_angle_deg, receptor_angle_deg)  # the same limits as the exact one
    area_m2 = np.multiply(*_board(width_m, height_m))
    luminance = board_luminance(reflectance=reflectance, illuminance_lx=board_lx)
    intensity_cd = luminance * area_m2 * np.cos(np.radians(board_angle_deg))
    return falloff.illuminance(intensity_cd=intensity_cd, distance_m=subject_m, incidence_deg=receptor_angle_deg)


def sun_bounce_illuminance(
    *,
    normal_lx: Numbers,
    incidence_deg: Numbers,
    reflectance: Numbers,
    width_m: Numbers,
    height_m: Numbers,
    subject_m: Numbers,
    board_angle_deg: Numbers = 0.0,
    receptor_angle_deg: Numbers = 0.0,
) -> Numbers:
    r"""
    Fill from a matt board in the sun. [lx]

    Parameters
    ----------
    normal_lx : float or array
        Illuminance square to the sun's rays, >= 0. [lx]
    incidence_deg : float or array
        Sun to board normal; 90 or more gives 0 lx. [deg]
    reflectance : float or array
        Board, 0 to 1. [1]
    width_m, height_m : float or array
        Board, > 0. [m]
    subject_m : float or array
        Middle of the board to the subject, > 0. [m]
    board_angle_deg : float or array, default 0
        Board normal to the subject, above -90 and below 90. [deg]
    receptor_angle_deg : float or array, default 0
        How far the receptor looks past the middle of the board. [deg]

    Returns
    -------
    float or array
        Illuminance at the receptor, the inputs broadcast together. [lx]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: E = \rho E_n \cos\theta\, F

    References
    ----------
    .. [1] `sun_on_board_lx`, `board_fill_illuminance`.

    Examples
    --------
    >>> round(float(sun_bounce_illuminance(normal_lx=38_000, incidence_deg=45, reflectance=0.85, width_m=1.2,
    ...                                    height_m=1.2, subject_m=2)))
    2338
    """
    return board_fill_illuminance(
        board_lx=sun_on_board_lx(normal_lx=normal_lx, incidence_deg=incidence_deg), reflectance=reflectance,
        width_m=width_m, height_m=height_m, subject_m=subject_m, board_angle_deg=board_angle_deg,
        receptor_angle_deg=receptor_angle_deg,
    )  # fmt: skip


def lamp_bounce_illuminance(
    *, intensity_cd: Numbers, lamp_m: Numbers, reflectance: Numbers, width_m: Numbers, height_m: Numbers, subject_m: Numbers, lamp_angle_deg: Numbers=0.0, board_angle_deg: Numbers=0.0,
    receptor_angle_deg: Numbers=0.0, cells: int=32,
) -> Numbers:  # fmt: skip
    r"""
    Fill from a matt board lit by a small lamp that covers all of it. [lx]

    Parameters
    ----------
    intensity_cd : float or array
        Luminous intensity, the same over the whole board, >= 0. [cd]
    lamp_m : float or array
        Lamp to the middle of the board, > 0. [m]
    reflectance : float or array
        Board, 0 to 1. [1]
    width_m, height_m : float or array
        Board, > 0. [m]
    subject_m : float or array
        Middle of the board to the subject, > 0. [m]
    lamp_angle_deg : float or array, default 0
        Board normal to the lamp, above -90 and below 90, counted the same way as `board_angle_deg`. [deg]
    board_angle_deg : float or array, default 0
        Board normal to the subject, above -90 and below 90. [deg]
    receptor_angle_deg : float or array, default 0
        How far the receptor looks past the middle of the board. [deg]
    cells : int, default 32
        Patches each way; each is lit as its middle is and seen exactly.

    Returns
    -------
    float or array
        Illuminance at the receptor, the inputs broadcast together. [lx]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: E = \rho \sum_k \frac{I \cos\theta_k}{d_k^2} F_k

    The lamp is near, so the board's middle is brighter than its corners. Error of 32 patches: 2e-4 down to
    a third of a board width for the lamp and a quarter for the subject.

    References
    ----------
    .. [1] `lightcalc.laws.falloff.illuminance` for each patch, `lightcalc.laws.falloff.polygon_factor` back.

    Examples
    --------
    >>> round(float(lamp_bounce_illuminance(intensity_cd=9000, lamp_m=2.5, reflectance=0.85, width_m=1.2,
    ...                                     height_m=1.2, subject_m=2)), 1)
    118.8
    """
    return _patch_sum(
        intensity_cd, lambda off_axis: 1.0, np.inf, lamp_m, lamp_angle_deg, reflectance, width_m, height_m,
        _subject(subject_m, board_angle_deg, receptor_angle_deg), cells,
    )  # fmt: skip


def torch_bounce_illuminance(
    *, intensity_cd: Numbers, beam_deg: Numbers, field_deg: Numbers, lamp_m: Numbers, reflectance: Numbers, width_m: Numbers, height_m: Numbers, subject_m: Numbers, lamp_angle_deg: Numbers=0.0,
    board_angle_deg: Numbers=0.0, receptor_angle_deg: Numbers=0.0, cells: int=32,
) -> Numbers:  # fmt: skip
    r"""
    Fill from a matt board lit by a torch or spot, whose patch may be smaller than the board. [lx]

    Parameters
    ----------
    intensity_cd : float or array
        Peak luminous intensity, >= 0; aimed at the middle of the board. [cd]
    beam_deg : float or array
        Full angle to half the peak, > 0. [deg]
    field_deg : float or array
        Full angle to a tenth of the peak, more than the beam, at most 170. [deg]
    lamp_m : float or array
        Torch to the middle of the board, > 0. [m]
    reflectance : float or array
        Board, 0 to 1. [1]
    width_m, height_m : float or array
        Board, > 0. [m]
    subject_m : float or array
        Middle of the board to the subject, > 0. [m]
    lamp_angle_deg : float or array, default 0
        Board normal to the torch, above -90 and below 90, counted the same way as `board_angle_deg`. [deg]
    board_angle_deg : float or array, default 0
        Board normal to the subject, above -90 and below 90. [deg]
    receptor_angle_deg : float or array, default 0
        How far the receptor looks past the middle of the board. [deg]
    cells : int, default 32
        Patches each way over the lit part of the board.

    Returns
    -------
    float or array
        Illuminance at the receptor, the inputs broadcast together. [lx]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: E = \rho \sum_k \frac{I_0\, 2^{-(\vartheta_k/\vartheta_b)^p} \cos\theta_k}{d_k^2} F_k

    with p fixed by the two angles. What the torch sends past the board is lost. Once the patch is inside
    the board, going nearer with the torch changes the patch and hardly the fill: it is the lumens that
    count. Error of 32 patches: 2e-4; 3e-3 with the subject as near as the patch is wide.

    References
    ----------
    .. [1] Half and tenth peak define beam and field angle: IES Lighting Definitions, "beam angle",
       "field angle".

    Examples
    --------
    >>> round(float(torch_bounce_illuminance(intensity_cd=12_000, beam_deg=9, field_deg=16, lamp_m=1.8,
    ...                                      reflectance=0.7, width_m=2.0, height_m=1.5, subject_m=1.6)), 1)
    27.7
    """
    check_range("beam_deg", beam_deg, above=0.0, hint="full angle to half the peak")
    check_range("field_deg", field_deg, high=170.0, hint="full angle to a tenth of the peak")
    check_range(
        "field_deg over beam_deg", np.divide(field_deg, beam_deg), above=1.0, hint="a tenth of the peak lies further out than half"
    )
    half = np.radians(beam_deg) / 2.0
    power = np.log(np.log(10.0) / np.log(2.0)) / np.log(np.divide(field_deg, beam_deg))
    rim = half * (np.log(1e4) / np.log(2.0)) ** (1.0 / power)  # beyond 1/10 000 of the peak nothing is counted
    return _patch_sum(
        intensity_cd, lambda off_axis: np.exp2(-((off_axis / _spread(half)) ** _spread(power))), rim, lamp_m,
        lamp_angle_deg, reflectance, width_m, height_m, _subject(subject_m, board_angle_deg, receptor_angle_deg), cells,
    )  # fmt: skip


def torch_patch_m(*, beam_deg: Numbers, lamp_m: Numbers) -> Numbers:
    r"""
    Width of the patch a torch makes on a board square to it, to half the peak. [m]

    Parameters
    ----------
    beam_deg : float or array
        Full angle to half the peak, above 0 and below 180. [deg]
    lamp_m : float or array
        Torch to board, > 0. [m]

    Returns
    -------
    float or array
        Diameter, the inputs broadcast together. [m]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: D = 2 d \tan(\beta/2)

    To half the peak intensity; the illuminance falls a little faster, by the cosine cubed.

    References
    ----------
    .. [1] IES Lighting Definitions, "beam angle".

    Examples
    --------
    >>> round(float(torch_patch_m(beam_deg=9, lamp_m=1.8)), 3)
    0.283
    """
    check_range("beam_deg", beam_deg, above=0.0, below=180.0, hint="full angle to half the peak")
    check_range("lamp_m", lamp_m, above=0.0)
    return 2.0 * lamp_m * np.tan(np.radians(beam_deg) / 2.0)


def board_distance_for_fill(
    *, fill_lx: Numbers, board_lx: Numbers, reflectance: Numbers, width_m: Numbers, height_m: Numbers
) -> Numbers:
    r"""
    How near an evenly lit board has to stand, facing the subject, for a wanted fill. [m]

    Parameters
    ----------
    fill_lx : float or array
        Wanted illuminance at the subject, > 0 and below what the board can give. [lx]
    board_lx : float or array
        Illuminance on the board, the same wherever it stands, > 0. [lx]
    reflectance : float or array
        Board, above 0 to 1. [1]
    width_m, height_m : float or array
        Board, > 0. [m]

    Returns
    -------
    float or array
        Middle of the board to the subject. [m]

    Raises
    ------
    ValueError
        If an input is outside its range, or the fill is more than reflectance times board_lx.

    Notes
    -----
    Solves :math:`F(d) = E / (\rho E_b)` by halving the logarithm of the distance 60 times. Right for a
    board in the sun; a board carried away from its lamp loses light on both legs.

    References
    ----------
    .. [1] `lightcalc.laws.falloff.rectangle_factor`, centred.

    Examples
    --------
    >>> round(float(board_distance_for_fill(fill_lx=87.016, board_lx=1000, reflectance=0.85, width_m=1.2,
    ...                                     height_m=1.2)), 3)
    2.0
    """
    check_range("fill_lx", fill_lx, above=0.0)
    most_lx = np.pi * board_luminance(reflectance=reflectance, illuminance_lx=board_lx)
    check_range("reflectance times board_lx", most_lx, above=0.0, hint="the board gives nothing back")
    share = np.divide(fill_lx, most_lx)
    check_range("fill_lx over reflectance times board_lx", share, below=1.0, hint="even touching it gives no more")
    size_m = np.sqrt(np.multiply(*_board(width_m, height_m)))
    low, high = np.broadcast_arrays(np.log(size_m) - 30.0, np.log(size_m) - np.log(share) + 3.0, share)[:2]
    for _ in range(60):
        middle = (low + high) / 2.0
        factor = falloff.rectangle_factor(width_m=width_m, height_m=height_m, distance_m=np.exp(middle))
        low, high = np.where(factor > share, middle, low), np.where(factor > share, high, middle)
    return np.exp((low + high) / 2.0)


def fill_ratio(*, key_lx: Numbers, fill_lx: Numbers) -> Numbers:
    r"""
    Lighting ratio, (key + fill) : fill. [1]

    Parameters
    ----------
    key_lx : float or array
        The key alone, at the subject, >= 0. [lx]
    fill_lx : float or array
        The fill alone, on both sides of the face, > 0. [lx]

    Returns
    -------
    float or array
        Ratio to one, the inputs broadcast together. [1]

    Raises
    ------
    ValueError
        If the key is negative or the fill not positive.

    Notes
    -----
    .. math:: R = (K + F) / F

    The fill lands on the key side too, so this is what a meter sees from one side to the other.

    References
    ----------
    .. [1] Common practice; the other count is `key_fill_ratio`.

    Examples
    --------
    >>> float(fill_ratio(key_lx=300, fill_lx=100))
    4.0
    """
    check_range("key_lx", key_lx, low=0.0)
    check_range("fill_lx", fill_lx, above=0.0, hint="no fill has no ratio")
    return np.divide(np.add(key_lx, fill_lx), fill_lx)


def key_fill_ratio(*, key_lx: Numbers, fill_lx: Numbers) -> Numbers:
    r"""
    Lighting ratio, key : fill. [1]

    Parameters
    ----------
    key_lx : float or array
        The key alone, at the subject, >= 0. [lx]
    fill_lx : float or array
        The fill alone, > 0. [lx]

    Returns
    -------
    float or array
        Ratio to one, the inputs broadcast together. [1]

    Raises
    ------
    ValueError
        If the key is negative or the fill not positive.

    Notes
    -----
    .. math:: R = K / F

    One less than `fill_ratio`; say which of the two is meant.

    References
    ----------
    .. [1] Common practice; the other count is `fill_ratio`.

    Examples
    --------
    >>> float(key_fill_ratio(key_lx=300, fill_lx=100))
    3.0
    """
    check_range("key_lx", key_lx, low=0.0)
    check_range("fill_lx", fill_lx, above=0.0, hint="no fill has no ratio")
    return np.divide(key_lx, fill_lx)


def ratio_stops(*, key_lx: Numbers, fill_lx: Numbers) -> Numbers:
    r"""
    Stops between the two sides of the face, (key + fill) over fill. [stops]

    Parameters
    ----------
    key_lx : float or array
        The key alone, at the subject, >= 0. [lx]
    fill_lx : float or array
        The fill alone, on both sides of the face, > 0. [lx]

    Returns
    -------
    float or array
        Difference, the inputs broadcast together. [stops]

    Raises
    ------
    ValueError
        If the key is negative or the fill not positive.

    Notes
    -----
    .. math:: \Delta = \log_2 (1 + K/F)

    References
    ----------
    .. [1] `fill_ratio`, in stops.

    Examples
    --------
    >>> float(ratio_stops(key_lx=300, fill_lx=100))
    2.0
    """
    return stops(fill_ratio(key_lx=key_lx, fill_lx=fill_lx))


def fill_for_ratio(*, key_lx: Numbers, ratio: Numbers) -> Numbers:
    r"""
    Fill that makes a wanted (key + fill) : fill. [lx]

    Parameters
    ----------
    key_lx : float or array
        The key alone, at the subject, > 0. [lx]
    ratio : float or array
        Wanted ratio to one, > 1. [1]

    Returns
    -------
    float or array
        Fill, the inputs broadcast together. [lx]

    Raises
    ------
    ValueError
        If the key is not positive or the ratio not above 1.

    Notes
    -----
    .. math:: F = K / (R - 1)

    References
    ----------
    .. [1] `fill_ratio`, turned round.

    Examples
    --------
    >>> float(fill_for_ratio(key_lx=300, ratio=4))
    100.0
    """
    check_range("key_lx", key_lx, above=0.0)
    check_range("ratio", ratio, above=1.0, hint="at 1 the key would be nothing")
    return np.divide(key_lx, np.subtract(ratio, 1.0))


def _board(width_m, height_m):
    """Both sides, checked."""
    check_range("width_m", width_m, above=0.0)
    check_range("height_m", height_m, above=0.0)
    return width_m, height_m


def _subject(subject_m, board_angle_deg, receptor_angle_deg):
    """Where the subject is and which way its receptor looks, each (..., 3)."""
    check_range("subject_m", subject_m, above=0.0, hint="metres from the middle of the board")
    check_range("board_angle_deg", board_angle_deg, above=-90.0, below=90.0, hint="behind the board there is no fill")
    check_range("receptor_angle_deg", receptor_angle_deg, low=-180.0, high=180.0)
    away = _in_plane(np.radians(board_angle_deg))
    return np.asarray(subject_m)[..., None] * away, -_in_plane(np.radians(np.add(board_angle_deg, receptor_angle_deg)))


def _in_plane(angle):
    """Unit vector at an angle from the board's normal, (..., 3)."""
    return np.stack(np.broadcast_arrays(np.sin(angle), 0.0, np.cos(angle)), axis=-1)


def _rectangle(x, y, width, height):
    """Corners of a rectangle in the board's plane, (..., 4, 3)."""
    corners = [
        np.stack(np.broadcast_arrays(np.add(x, a * np.divide(width, 2.0)), np.add(y, b * np.divide(height, 2.0)), 0.0), axis=-1)
        for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]
    return np.stack(corners, axis=-2)


def _spread(value):
    """A number for each case, ready to meet patches: two more axes."""
    return np.asarray(value, dtype=float)[..., None, None]


def _lit_half(rim, lamp_m, angle, width_m, height_m):
    """Half sides of what is worth cutting into patches: the cone of half angle rim, at most the whole board."""
    low = np.cos(angle) * lamp_m  # lamp above the board's plane
    lean = np.minimum(np.abs(angle), np.pi / 2)
    inside = lean + rim < np.radians(88.0)  # else the cone runs along the board
    rim = np.where(inside, rim, 0.0)
    reach_x = np.where(inside, low * (np.tan(lean + rim) - np.tan(lean)), np.inf)
    reach_y = np.where(inside, low * np.sin(rim) / np.sqrt(np.cos(lean + rim) * np.cos(lean - rim)), np.inf)
    return np.minimum(reach_x, np.divide(width_m, 2.0)), np.minimum(reach_y, np.divide(height_m, 2.0))


def _patch_sum(intensity_cd, shape, rim, lamp_m, lamp_angle_deg, reflectance, width_m, height_m, subject, cells):
    """Fill from an unevenly lit board: each patch lit as its middle is, and seen exactly. [lx]"""
    check_range("intensity_cd", intensity_cd, low=0.0)
    check_range("lamp_m", lamp_m, above=0.0, hint="metres from the middle of the board")
    check_range("lamp_angle_deg", lamp_angle_deg, above=-90.0, below=90.0, hint="the lamp lights the back of the board")
    check_range("reflectance", reflectance, low=0.0, high=1.0)
    check_range("cells", cells, low=1)
    angle = np.radians(lamp_angle_deg)
    half_x, half_y = _lit_half(rim, lamp_m, angle, *_board(width_m, height_m))
    middle = (2.0 * np.arange(int(cells)) + 1.0) / int(cells) - 1.0
    x, y = np.broadcast_arrays(_spread(half_x) * middle[:, None], _spread(half_y) * middle)
    lamp = np.asarray(lamp_m)[..., None] * _in_plane(angle)
    ray = np.stack([x, y, np.zeros_like(x)], axis=-1) - lamp[..., None, None, :]
    far = np.linalg.norm(ray, axis=-1)
    axis = -_in_plane(angle)[..., None, None, :]
    off_axis = np.arctan2(np.linalg.norm(np.cross(ray, axis), axis=-1), np.sum(ray * axis, axis=-1))
    board_lx = shape(off_axis) * -ray[..., 2] / far**3  # cos / d^2, the lamp's height over the board
    patches = _rectangle(x, y, 2.0 * _spread(half_x) / cells, 2.0 * _spread(half_y) / cells)
    point, normal = (v[..., None, None, :] for v in subject)
    seen = falloff.polygon_factor(vertices=patches, point=point, normal=normal)
    return np.multiply(intensity_cd, reflectance) * np.sum(board_lx * seen, axis=(-2, -1))
