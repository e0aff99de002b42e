"""How light thins with distance: point sources and faces with a size."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from lightcalc.units import Numbers, check_range, stops


def illuminance(*, intensity_cd: Numbers, distance_m: Numbers, incidence_deg: Numbers = 0.0) -> Numbers:
    r"""
    Illuminance on a flat surface lit by one small source. [lx]

    Parameters
    ----------
    intensity_cd : float or array
        Luminous intensity towards the surface, >= 0. [cd]
    distance_m : float or array
        Lamp face to surface along the beam, > 0. [m]
    incidence_deg : float or array, default 0
        Beam to surface normal; 90 or more gives 0 lx. [deg]

    Returns
    -------
    float or array
        Illuminance, the inputs broadcast together. [lx]

    Raises
    ------
    ValueError
        If an intensity is negative or a distance is not positive.

    Notes
    -----
    .. math:: E = I \cos\theta / d^2

    Error: on axis, a uniform disc of diameter D reads high by :math:`(D/2d)^2`: 1 % at d = 5 D,
    25 % at d = D. Lamps with lenses or mirrors depart further; measure those.

    References
    ----------
    .. [1] IES Lighting Definitions, 9.1.1 "inverse square law", note on sources of finite size.

    Examples
    --------
    >>> round(float(illuminance(intensity_cd=45_000, distance_m=3.7)), 1)
    3287.1
    """
    check_range("intensity_cd", intensity_cd, low=0.0)
    check_range("distance_m", distance_m, above=0.0, hint="metres from the lamp face; 12 ft is 3.66")
    check_range("incidence_deg", incidence_deg)
    cosine = np.maximum(np.cos(np.radians(incidence_deg)), 0.0)  # light from behind adds nothing
    return intensity_cd * cosine / np.square(distance_m)


def inverse_square_stops(*, near_m: Numbers, far_m: Numbers) -> Numbers:
    r"""
    Stops lost going from the near to the far place in one small light; minus is darker. [stops]

    Parameters
    ----------
    near_m : float or array
        Distance the stops are counted from, > 0. [m]
    far_m : float or array
        Distance gone to, > 0; may be the shorter. [m]

    Returns
    -------
    float or array
        Level at `far_m` less level at `near_m`. [stops]

    Raises
    ------
    ValueError
        If a distance is not positive.

    Notes
    -----
    .. math:: \Delta = 2 \log_2 (d_\mathrm{near} / d_\mathrm{far})

    References
    ----------
    .. [1] `illuminance`, as a ratio.

    Examples
    --------
    >>> round(float(inverse_square_stops(near_m=2.3, far_m=4.6)), 2)
    -2.0
    """
    check_range("near_m", near_m, above=0.0, hint="metres from the lamp face")
    check_range("far_m", far_m, above=0.0, hint="metres from the lamp face")
    return 2.0 * stops(np.divide(near_m, far_m))


def distance_for_stops(*, distance_m: Numbers, change_stops: Numbers) -> Numbers:
    r"""
    Where a small light has to go to change its level by so many stops. [m]

    Parameters
    ----------
    distance_m : float or array
        Where it stands now, > 0. [m]
    change_stops : float or array
        Wanted change on the subject; plus is brighter, so nearer. [stops]

    Returns
    -------
    float or array
        New distance, the inputs broadcast together. [m]

    Raises
    ------
    ValueError
        If a distance is not positive.

    Notes
    -----
    .. math:: d' = d\, 2^{-\Delta/2}

    References
    ----------
    .. [1] `illuminance`, turned round.

    Examples
    --------
    >>> round(float(distance_for_stops(distance_m=2.3, change_stops=-1)), 3)
    3.253
    """
    check_range("distance_m", distance_m, above=0.0, hint="metres from the lamp face")
    check_range("change_stops", change_stops)
    return distance_m * np.exp2(np.divide(change_stops, -2.0))


def area_illuminance_lx(*, luminance_cd_m2: Numbers, factor: Numbers) -> Numbers:
    r"""
    Illuminance from an even, matt luminous face of known configuration factor. [lx]

    Parameters
    ----------
    luminance_cd_m2 : float or array
        Luminance of the face, the same all over and every way, >= 0. [cd/m2]
    factor : float or array
        Configuration factor of the face at the place lit, 0 to 1. [1]

    Returns
    -------
    float or array
        Illuminance, the inputs broadcast together. [lx]

    Raises
    ------
    ValueError
        If a luminance is negative or a factor is outside 0 to 1.

    Notes
    -----
    .. math:: E = \pi L F

    References
    ----------
    .. [1] D. C. Hamilton, W. R. Morgan, "Radiant-interchange configuration factors", NACA TN 2836 (1952).

    Examples
    --------
    >>> round(float(area_illuminance_lx(luminance_cd_m2=1000, factor=disc_factor(radius_m=0.5, distance_m=2))), 2)
    184.8
    """
    check_range("luminance_cd_m2", luminance_cd_m2, low=0.0)
    check_range("factor", factor, low=0.0, high=1.0)
    return np.pi * np.multiply(luminance_cd_m2, factor)


def rectangle_factor(*, width_m: Numbers, height_m: Numbers, distance_m: Numbers, placement: str = "centred") -> Numbers:
    r"""
    Configuration factor of a rectangular face at a point. [1]

    Parameters
    ----------
    width_m, height_m : float or array
        Sides of the face, > 0. [m]
    distance_m : float or array
        Point to the plane of the face, > 0. [m]
    placement : str, default "centred"
        "centred": facing it, opposite its middle; "corner": facing it, opposite one corner;
        "perpendicular": opposite one corner, turned 90 deg to look along the height.

    Returns
    -------
    float or array
        Factor, 0 to 1, the inputs broadcast together. [1]

    Raises
    ------
    ValueError
        If a length is not positive or the placement is not one of the three.

    Notes
    -----
    Corner, with :math:`X = w/d`, :math:`Y = h/d`; centred is four corners of half the size:

    .. math:: F = \frac{1}{2\pi}\left[\frac{X}{\sqrt{1+X^2}} \tan^{-1}\frac{Y}{\sqrt{1+X^2}} +
        \frac{Y}{\sqrt{1+Y^2}} \tan^{-1}\frac{X}{\sqrt{1+Y^2}}\right]

    Perpendicular, with :math:`X = h/w`, :math:`Y = d/w`:

    .. math:: F = \frac{1}{2\pi}\left[\tan^{-1}\frac1Y -
        \frac{Y}{\sqrt{X^2+Y^2}} \tan^{-1}\frac{1}{\sqrt{X^2+Y^2}}\right]

    References
    ----------
    .. [1] D. C. Hamilton, W. R. Morgan, NACA TN 2836 (1952).
    .. [2] J. R. Howell, "A Catalog of Radiation Heat Transfer Configuration Factors", element to rectangle.

    Examples
    --------
    >>> round(float(rectangle_factor(width_m=1.2, height_m=1.2, distance_m=2)), 6)
    0.102372
    """
    for name, value in (("width_m", width_m), ("height_m", height_m), ("distance_m", distance_m)):
        check_range(name, value, above=0.0)
    if placement not in _PLACEMENTS:
        raise ValueError(f"placement must be one of {', '.join(_PLACEMENTS)}, got {placement!r}")
    return _PLACEMENTS[placement](np.divide(width_m, distance_m), np.divide(height_m, distance_m))


def _corner(x, y):
    """Facing element opposite a corner; sides over distance."""
    one_x, one_y = np.sqrt(1.0 + x**2), np.sqrt(1.0 + y**2)
    return (x / one_x * np.arctan(y / one_x) + y / one_y * np.arctan(x / one_y)) / (2.0 * np.pi)


def _perpendicular(x, y):
    """Element turned 90 deg, opposite a corner; x along the width, y along the height it looks up."""
    far = np.sqrt(1.0 + y**2)  # X^2 + Y^2 of the usual form, times (w/d)^2
    return (np.arctan(x) - np.arctan(x / far) / far) / (2.0 * np.pi)


_PLACEMENTS = {"centred": lambda x, y: 4.0 * _corner(x / 2.0, y / 2.0), "corner": _corner, "perpendicular": _perpendicular}


def disc_factor(*, radius_m: Numbers, distance_m: Numbers, sideways_m: Numbers = 0.0, facing: str = "disc") -> Numbers:
    r"""
    Configuration factor of a round face at a point. [1]

    Parameters
    ----------
    radius_m : float or array
        Radius of the face, > 0. [m]
    distance_m : float or array
        Point to the plane of the face, > 0. [m]
    sideways_m : float or array, default 0
        Point to the axis of the face, >= 0. [m]
    facing : str, default "disc"
        "disc": the surface lit is parallel to the face; "axis": it stands upright and looks at the
        axis, which asks for `sideways_m` > `radius_m`.

    Returns
    -------
    float or array
        Factor, 0 to 1, the inputs broadcast together. [1]

    Raises
    ------
    ValueError
        If a length is outside its range or the facing is not one of the two.

    Notes
    -----
    With :math:`Z = d^2 + l^2 + r^2` and :math:`q = \sqrt{Z^2 - 4 r^2 l^2}`:

    .. math:: F_\mathrm{disc} = \tfrac12 \left[1 - (Z - 2 r^2)/q\right], \quad
        F_\mathrm{axis} = \frac{d}{2 l} \left[Z/q - 1\right]

    On axis the first is :math:`r^2/(r^2 + d^2)`.

    References
    ----------
    .. [1] D. C. Hamilton, W. R. Morgan, NACA TN 2836 (1952).
    .. [2] J. R. Howell, "A Catalog of Radiation Heat Transfer Configuration Factors", element to disc.

    Examples
    --------
    >>> round(float(disc_factor(radius_m=0.5, distance_m=1, sideways_m=0.5)), 6)
    0.146447
    """
    check_range("radius_m", radius_m, above=0.0)
    check_range("distance_m", distance_m, above=0.0)
    check_range("sideways_m", sideways_m, low=0.0)
    if facing not in ("disc", "axis"):
        raise ValueError(f"facing must be one of disc, axis, got {facing!r}")
    z = np.square(distance_m) + np.square(sideways_m) + np.square(radius_m)
    q = np.sqrt(z**2 - 4.0 * np.square(np.multiply(radius_m, sideways_m)))
    if facing == "disc":
        return 0.5 * (1.0 - (z - 2.0 * np.square(radius_m)) / q)
    check_range(
        "sideways_m less radius_m",
        np.subtract(sideways_m, radius_m),
        above=0.0,
        hint="nearer the axis part of the face is behind the surface; use polygon_factor",
    )
    return np.divide(distance_m, sideways_m) * (z / q - 1.0) / 2.0


def polygon_factor(*, vertices: Numbers, point: Numbers, normal: Numbers) -> Numbers:
    r"""
    Configuration factor of a flat polygon at a point, cut off at the point's own horizon. [1]

    Parameters
    ----------
    vertices : array, shape (..., n, 3)
        Corners in order, either way round, n >= 3. [m]
    point : array, shape (..., 3)
        Place lit. [m]
    normal : array, shape (..., 3)
        The way the surface there faces, any length but 0. [1]

    Returns
    -------
    float or array, shape (...)
        Factor, 0 to 1, leading shapes broadcast together. [1]

    Raises
    ------
    ValueError
        If a shape is wrong, a number is not finite or a normal has no length.

    Notes
    -----
    Lambert's formula, over the corners left above the horizon:

    .. math:: F = \frac{1}{2\pi} \left|\sum_i \beta_i\, \hat n \cdot \hat\Gamma_i\right|

    with :math:`\beta_i` the angle an edge spans at the point and :math:`\hat\Gamma_i` the unit normal of
    the plane through edge and point. Exact for an even, matt face. Both sides of the polygon count:
    whoever calls says which one is lit. A point in the polygon's own plane gets 0, facing it squarely.

    References
    ----------
    .. [1] J. H. Lambert, "Photometria" (1760); D. R. Baum, H. E. Rushmeier, J. M. Winget, Computer Graphics
       23(3) 325 (1989).

    Examples
    --------
    >>> square = [[-0.6, -0.6, 2.0], [0.6, -0.6, 2.0], [0.6, 0.6, 2.0], [-0.6, 0.6, 2.0]]
    >>> round(float(polygon_factor(vertices=square, point=[0, 0, 0], normal=[0, 0, 1])), 6)
    0.102372
    """
    vertices, point, normal = (np.asarray(a, dtype=float) for a in (vertices, point, normal))
    if vertices.ndim < 2 or vertices.shape[-2] < 3 or {a.shape[-1:] for a in (vertices, point, normal)} != {(3,)}:
        raise ValueError(
            f"vertices, point and normal must have shapes (..., n >= 3, 3), (..., 3) and (..., 3), "
            f"got {vertices.shape}, {point.shape} and {normal.shape}"
        )
    for name, value in (("vertices", vertices), ("point", point), ("normal", normal)):
        check_range(name, value)
    length = np.linalg.norm(normal, axis=-1, keepdims=True)
    check_range("length of normal", length, above=0.0, hint="it says which way the surface faces")
    corners = np.moveaxis(vertices - point[..., None, :], -2, 0)
    return np.abs(_lambert_sum(corners, normal / length)) / (2.0 * np.pi)


def _lambert_sum(corners, normal):
    """Signed sum over the edges of what is above the horizon; corners (n, ..., 3) seen from the point."""
    #   b        The edge from a to b is cut at the horizon: c. What runs below it is replaced by the
    #  /         straight run from the last corner above to the next, which lies in the horizon.
    # c---- horizon
    height = np.sum(corners * normal, axis=-1)
    total = np.zeros(height.shape[1:])
    last = first = np.zeros(total.shape + (3,))
    begun = np.zeros(total.shape, dtype=bool)
    for i in range(len(corners)):
        start, end = _above_horizon(corners[i - 1], corners[i], height[i - 1], height[i])
        seen = np.maximum(height[i - 1], height[i]) > 0.0
        step = _edge_term(start, end, normal) + np.where(begun, _edge_term(last, start, normal), 0.0)
        total = total + np.where(seen, step, 0.0)
        first = np.where((seen & ~begun)[..., None], start, first)
        last = np.where(seen[..., None], end, last)
        begun = begun | seen
    return total + np.where(begun, _edge_term(last, first, normal), 0.0)


def _above_horizon(a, b, height_a, height_b):
    """The two ends of the part of an edge above the horizon; only true where one end is above."""
    gap = np.where(height_a == height_b, 1.0, height_b - height_a)
    crossing = a - (height_a / gap)[..., None] * (b - a)
    return (np.where((height_a < 0.0)[..., None], crossing, a), np.where((height_b < 0.0)[..., None], crossing, b))


def _edge_term(a, b, normal):
    """Angle between a and b times the cosine between the normal and their common perpendicular."""
    across = np.cross(a, b)
    size = np.linalg.norm(across, axis=-1)
    angle = np.arctan2(size, np.sum(a * b, axis=-1))  # good near 0 and 180 deg, where acos is not
    return np.sum(across * normal, axis=-1) * angle / np.where(size > 0.0, size, 1.0)


def point_formula_error(*, distance_m: Numbers, size_m: Numbers, shape: str = "disc") -> Numbers:
    r"""
    How much too high the inverse square law reads, opposite the middle of an even matt face. [1]

    Parameters
    ----------
    distance_m : float or array
        Point to the face, > 0. [m]
    size_m : float or array
        Diameter of the disc, side of the square, length of the thin strip, > 0. [m]
    shape : str, default "disc"
        "disc", "square" or "strip".

    Returns
    -------
    float or array
        (point formula / exact) - 1. [1]

    Raises
    ------
    ValueError
        If a length is not positive or the shape is not one of the three.

    Notes
    -----
    Disc :math:`(D/2d)^2`; square :math:`s^2 / (\pi d^2 F) - 1`; strip, with :math:`t = s/2d`,
    :math:`2t / (t/(1+t^2) + \tan^{-1} t) - 1`.

    References
    ----------
    .. [1] IES Lighting Definitions, 9.1.1: within 1 % from five times the largest dimension.

    Examples
    --------
    >>> round(float(point_formula_error(distance_m=3.0, size_m=0.6)), 6)
    0.01
    """
    check_range("distance_m", distance_m, above=0.0)
    check_range("size_m", size_m, above=0.0)
    if shape not in _POINT_ERRORS:
        raise ValueError(f"shape must be one of {', '.join(_POINT_ERRORS)}, got {shape!r}")
    return _POINT_ERRORS[shape](np.divide(size_m, distance_m) / 2.0)


_POINT_ERRORS: dict[str, Callable[[Numbers], Numbers]] = {
    "disc": np.square,
    "square": lambda t: t**2 / (np.pi * _corner(t, t)) - 1.0,
    "strip": lambda t: 2.0 * t / (t / (1.0 + t**2) + np.arctan(t)) - 1.0,
}


def window_patch_m(*, out_m: Numbers, lamp_height_m: Numbers, edge_height_m: Numbers) -> Numbers:
    r"""
    How far into the room the light of a lamp outside lands on the floor, over the edge of a window. [m]

    Parameters
    ----------
    out_m : float or array
        Lamp out from the wall, > 0. [m]
    lamp_height_m : float or array
        Height of the lamp over the floor, > 0. [m]
    edge_height_m : float or array
        Height of the window's sill, or of its head, over the floor, >= 0. [m]

    Returns
    -------
    float or array
        From the wall, the inputs broadcast together; infinite for an edge at or over the lamp, past which light goes level
        or up. [m]

    Raises
    ------
    ValueError
        If a length is outside its range.

    Notes
    -----
    .. math:: x = D\,\frac{h}{H - h}

    The patch runs from x of the sill to x of the head, as far as the room is deep; what is over goes on the far wall. A lamp
    with a face has soft edges. At x its breadth is the window's times (D + x) / D. The wall's thickness is left out.

    References
    ----------
    .. [1] Similar triangles; `answers.light_patch` has walls, bars and flags as well, and is held against straight lines.

    Examples
    --------
    >>> round(float(window_patch_m(out_m=3.8, lamp_height_m=4.4, edge_height_m=2.2)), 2)
    3.8
    """
    check_range("out_m", out_m, above=0.0, hint="metres from the wall to the lamp outside")
    check_range("lamp_height_m", lamp_height_m, above=0.0)
    check_range("edge_height_m", edge_height_m, low=0.0)
    drop = np.subtract(lamp_height_m, edge_height_m).astype(float)
    return np.where(drop > 0.0, np.divide(np.multiply(out_m, edge_height_m), np.where(drop > 0.0, drop, 1.0)), np.inf)[()]
