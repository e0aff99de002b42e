"""Rooms and spheres by radiosity: judges of the light engine that share no code with it."""

import numpy as np

from lightcalc.units import check_range

ROOM_SURFACES = ("floor", "ceiling", "x0", "x1", "y0", "y1")  # x0: the wall at x = 0, and so on


def parallel_rectangles_factor(*, width_m, depth_m, gap_m):
    r"""
    Exchange factor between two equal rectangles facing each other. [1]

    Parameters
    ----------
    width_m, depth_m : float or array
        Sides, > 0. [m]
    gap_m : float or array
        Distance between their planes, > 0. [m]

    Returns
    -------
    float or array
        Share of the light leaving one that lands on the other, the inputs broadcast together. [1]

    Raises
    ------
    ValueError
        If a length is not positive.

    Notes
    -----
    With :math:`X, Y` the sides over the gap and :math:`x = \sqrt{1+X^2}`, :math:`y = \sqrt{1+Y^2}`:

    .. math:: F = \frac{2}{\pi X Y} \left[\ln\frac{x y}{\sqrt{1+X^2+Y^2}} + X y \tan^{-1}\frac{X}{y} +
        Y x \tan^{-1}\frac{Y}{x} - X \tan^{-1} X - Y \tan^{-1} Y\right]

    References
    ----------
    .. [1] D. C. Hamilton, W. R. Morgan, NACA TN 2836 (1952); R. Siegel, J. R. Howell, "Thermal Radiation Heat
       Transfer", app. C.

    Examples
    --------
    >>> round(float(parallel_rectangles_factor(width_m=1, depth_m=1, gap_m=1)), 6)
    0.199825
    """
    for name, value in (("width_m", width_m), ("depth_m", depth_m), ("gap_m", gap_m)):
        check_range(name, value, above=0.0)
    x, y = np.divide(width_m, gap_m), np.divide(depth_m, gap_m)
    one_x, one_y = np.sqrt(1.0 + x**2), np.sqrt(1.0 + y**2)
    bracket = np.log(one_x * one_y / np.sqrt(1.0 + x**2 + y**2)) - x * np.arctan(x) - y * np.arctan(y)
    bracket = bracket + x * one_y * np.arctan(x / one_y) + y * one_x * np.arctan(y / one_x)
    return 2.0 / (np.pi * x * y) * bracket


def perpendicular_rectangles_factor(*, edge_m, depth_m, height_m):
    r"""
    Exchange factor from one rectangle to another at right angles, along a common edge. [1]

    Parameters
    ----------
    edge_m : float or array
        Length of the common edge, > 0. [m]
    depth_m : float or array
        Other side of the rectangle the light leaves, > 0. [m]
    height_m : float or array
        Other side of the rectangle it lands on, > 0. [m]

    Returns
    -------
    float or array
        Share of the light leaving the first that lands on the second. [1]

    Raises
    ------
    ValueError
        If a length is not positive.

    Notes
    -----
    With :math:`W, H` the depth and height over the edge, :math:`a = 1+W^2`, :math:`b = 1+H^2`,
    :math:`c = W^2+H^2`, :math:`e = 1+c`:

    .. math:: \pi W F = W \tan^{-1}\frac1W + H \tan^{-1}\frac1H - \sqrt c \tan^{-1}\frac{1}{\sqrt c} +
        \tfrac14 \left[\ln\frac{a b}{e} + W^2 \ln\frac{W^2 e}{a c} + H^2 \ln\frac{H^2 e}{b c}\right]

    References
    ----------
    .. [1] D. C. Hamilton, W. R. Morgan, NACA TN 2836 (1952); R. Siegel, J. R. Howell, "Thermal Radiation Heat
       Transfer", app. C.

    Examples
    --------
    >>> round(float(perpendicular_rectangles_factor(edge_m=1, depth_m=1, height_m=1)), 6)
    0.200044
    """
    for name, value in (("edge_m", edge_m), ("depth_m", depth_m), ("height_m", height_m)):
        check_range(name, value, above=0.0)
    w, h = np.divide(depth_m, edge_m), np.divide(height_m, edge_m)
    a, b, c = 1.0 + w**2, 1.0 + h**2, w**2 + h**2
    angles = w * np.arctan(1.0 / w) + h * np.arctan(1.0 / h) - np.sqrt(c) * np.arctan(1.0 / np.sqrt(c))
    logs = np.log(a * b / (1.0 + c)) + w**2 * np.log(w**2 * (1.0 + c) / (a * c))
    logs = logs + h**2 * np.log(h**2 * (1.0 + c) / (b * c))
    return (angles + logs / 4.0) / (np.pi * w)


def coaxial_discs_factor(*, from_radius_m, to_radius_m, gap_m):
    r"""
    Exchange factor from one disc to another on the same axis. [1]

    Parameters
    ----------
    from_radius_m : float or array
        Radius of the disc the light leaves, > 0. [m]
    to_radius_m : float or array
        Radius of the disc it lands on, > 0. [m]
    gap_m : float or array
        Distance between their planes, > 0. [m]

    Returns
    -------
    float or array
        Share of the light leaving the first that lands on the second. [1]

    Raises
    ------
    ValueError
        If a length is not positive.

    Notes
    -----
    With :math:`R_i = r_i/h` and :math:`X = 1 + (1+R_2^2)/R_1^2`:

    .. math:: F = \tfrac12 \left[X - \sqrt{X^2 - 4 (R_2/R_1)^2}\right]

    References
    ----------
    .. [1] D. C. Hamilton, W. R. Morgan, NACA TN 2836 (1952).

    Examples
    --------
    >>> round(float(coaxial_discs_factor(from_radius_m=1, to_radius_m=1, gap_m=1)), 6)
    0.381966
    """
    for name, value in (("from_radius_m", from_radius_m), ("to_radius_m", to_radius_m), ("gap_m", gap_m)):
        check_range(name, value, above=0.0)
    share = np.square(np.divide(to_radius_m, from_radius_m))
    x = 1.0 + np.square(np.divide(gap_m, from_radius_m)) + share
    return 2.0 * share / (x + np.sqrt(x**2 - 4.0 * share))  # the usual form without its cancellation


def room_factors(*, width_m, depth_m, height_m):
    r"""
    Exchange factors between the six surfaces of an empty box room. [1]

    Parameters
    ----------
    width_m, depth_m, height_m : float or array
        Room along x, y and z, > 0. [m]

    Returns
    -------
    array, shape (..., 6, 6)
        Row: surface the light leaves; column: surface it lands on, in the order of `ROOM_SURFACES`.

    Raises
    ------
    ValueError
        If a length is not positive.

    Notes
    -----
    Rows add up to 1: all that leaves a surface lands on the other five.

    References
    ----------
    .. [1] `parallel_rectangles_factor`, `perpendicular_rectangles_factor`.

    Examples
    --------
    >>> [round(float(f), 6) for f in room_factors(width_m=6, depth_m=5, height_m=3)[0]]
    [0.0, 0.383455, 0.139097, 0.139097, 0.169176, 0.169176]
    """
    side = dict(zip("zxy", np.broadcast_arrays(height_m, width_m, depth_m)))
    blocks = []
    for leaves in "zxy":  # the axis the surface is square to: floor and ceiling, then x walls, then y walls
        row = []
        for lands in "zxy":
            if leaves == lands:
                a, b = (axis for axis in "xyz" if axis != leaves)
                across = parallel_rectangles_factor(width_m=side[a], depth_m=side[b], gap_m=side[leaves])
                row.append(across[..., None, None] * np.array([[0.0, 1.0], [1.0, 0.0]]))
            else:  # the first runs along the second's axis, and the other way round
                (edge,) = set("xyz") - {leaves, lands}
                corner = perpendicular_rectangles_factor(edge_m=side[edge], depth_m=side[lands], height_m=side[leaves])
                row.append(corner[..., None, None] * np.ones((2, 2)))
        blocks.append(np.concatenate(row, axis=-1))
    return np.concatenate(blocks, axis=-2)


def room_radiosity(*, width_m, depth_m, height_m, reflectances, flux_on_each_lm):
    r"""
    Mean illuminance on each surface of an empty box room, all bounces counted. [lx]

    Parameters
    ----------
    width_m, depth_m, height_m : float or array
        Room along x, y and z, > 0. [m]
    reflectances : array, shape (..., 6)
        Matt reflectance of each surface in the order of `ROOM_SURFACES`, 0 to below 1. [1]
    flux_on_each_lm : array, shape (..., 6)
        Light that lands on each straight from the lamps, spread evenly over it, >= 0. [lm]

    Returns
    -------
    array, shape (..., 6)
        Illuminance, straight and bounced, mean over each surface. [lx]

    Raises
    ------
    ValueError
        If a length is not positive, a reflectance outside 0 to below 1, a flux negative or a shape wrong.

    Notes
    -----
    .. math:: E_i = \Phi_i/A_i + \sum_j F_{ij}\, \rho_j E_j

    Six even surfaces: right for the mean, not for the gradient along a wall. Haze and people are left out.

    References
    ----------
    .. [1] P. Moon, D. E. Spencer, "Lighting Design" (1948), interflection; R. Siegel, J. R. Howell, "Thermal
       Radiation Heat Transfer", enclosures of diffuse-gray surfaces.

    Examples
    --------
    >>> e = room_radiosity(width_m=6, depth_m=5, height_m=3, reflectances=[0.2, 0.8, 0.5, 0.5, 0.5, 0.5],
    ...                    flux_on_each_lm=[1000, 0, 0, 0, 0, 0])
    >>> [round(float(x), 3) for x in e]
    [35.651, 3.866, 3.66, 3.66, 3.682, 3.682]
    """
    rho, flux = np.asarray(reflectances, dtype=float), np.asarray(flux_on_each_lm, dtype=float)
    if rho.shape[-1:] != (6,) or flux.shape[-1:] != (6,):
        raise ValueError(
            f"reflectances and flux_on_each_lm must have one value for each of "
            f"{', '.join(ROOM_SURFACES)}, got shapes {rho.shape} and {flux.shape}"
        )
    check_range("reflectances", rho, low=0.0, below=1.0)
    check_range("flux_on_each_lm", flux, low=0.0)
    factors = room_factors(width_m=width_m, depth_m=depth_m, height_m=height_m)
    straight_lx = flux / _room_areas(width_m, depth_m, height_m)
    system, straight_lx = np.eye(6) - factors * rho[..., None, :], straight_lx[..., None]
    return np.linalg.solve(system, straight_lx)[..., 0]  # E = E0 + F rho E


def _room_areas(width_m, depth_m, height_m):
    """Areas in the order of ROOM_SURFACES, last axis. [m2]"""
    width_m, depth_m, height_m = np.broadcast_arrays(width_m, depth_m, height_m)
    level, x_wall, y_wall = width_m * depth_m, depth_m * height_m, width_m * height_m
    return np.stack([level, level, x_wall, x_wall, y_wall, y_wall], axis=-1)


def sphere_multiplier(*, reflectance, port_fraction=0.0):
    r"""
    Bounced over straight light inside a hollow sphere, matt and even. [1]

    Parameters
    ----------
    reflectance : float or array
        Reflectance of the wall, 0 to 1; exactly 1 only with a port. [1]
    port_fraction : float or array, default 0
        Share of the sphere's surface that is open, 0 to below 1. [1]

    Returns
    -------
    float or array
        Multiplier on flux over whole area, the inputs broadcast together. [1]

    Raises
    ------
    ValueError
        If a share is outside its range, or nothing is lost at all.

    Notes
    -----
    .. math:: M = \frac{\rho}{1 - \rho (1 - f)}

    References
    ----------
    .. [1] R. Ulbricht, "Das Kugelphotometer" (1920); the sum of the bounces, each 1 - f of the last times rho.

    Examples
    --------
    >>> round(float(sphere_multiplier(reflectance=0.98, port_fraction=0.05)), 3)
    14.203
    """
    check_range("reflectance", reflectance, low=0.0, high=1.0)
    check_range("port_fraction", port_fraction, low=0.0, below=1.0)
    kept = np.multiply(reflectance, np.subtract(1.0, port_fraction))
    check_range("reflectance times closed share", kept, below=1.0, hint="some light has to be lost")
    return reflectance / (1.0 - kept)


def sphere_interreflection(*, flux_lm, radius_m, reflectance, port_fraction=0.0):
    r"""
    Bounced illuminance on the wall of a hollow sphere, matt and even. [lx]

    Parameters
    ----------
    flux_lm : float or array
        Light put in, >= 0. [lm]
    radius_m : float or array
        Radius, > 0. [m]
    reflectance : float or array
        Reflectance of the wall, 0 to 1. [1]
    port_fraction : float or array, default 0
        Share of the sphere's surface that is open, 0 to below 1. [1]

    Returns
    -------
    float or array
        Illuminance without the straight light, the inputs broadcast together. [lx]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: E = \frac{\Phi}{4 \pi R^2} \frac{\rho}{1 - \rho (1 - f)}

    Exact: in a sphere every bounce lands evenly. A room is checked against it, not modelled by it.

    References
    ----------
    .. [1] R. Ulbricht, "Das Kugelphotometer" (1920).

    Examples
    --------
    >>> round(float(sphere_interreflection(flux_lm=1000, radius_m=2, reflectance=0.8)), 3)
    79.577
    """
    check_range("flux_lm", flux_lm, low=0.0)
    check_range("radius_m", radius_m, above=0.0)
    area_m2 = 4.0 * np.pi * np.square(radius_m)
    return np.divide(flux_lm, area_m2) * sphere_multiplier(reflectance=reflectance, port_fraction=port_fraction)


def cavity_illuminance_lx(*, first_reflected_lm, area_m2, mean_reflectance):
    r"""
    Bounced illuminance in a room, taken as one even hollow. [lx]

    Parameters
    ----------
    first_reflected_lm : float or array
        Light leaving the surfaces after its first bounce, >= 0. [lm]
    area_m2 : float or array
        All inner surface, > 0. [m2]
    mean_reflectance : float or array
        Reflectance averaged over that area, 0 to below 1. [1]

    Returns
    -------
    float or array
        Illuminance, the inputs broadcast together. [lx]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: E = \frac{\Phi_1}{A (1 - \bar\rho)}

    One number for the whole room. Against six surfaces, in a 6 x 5 x 3 m room of 0.2 (floor), 0.5 and
    0.8 (ceiling) lit on its floor: 7 % under their mean, 37 % over at the floor, 18 % under at the ceiling.

    References
    ----------
    .. [1] R. G. Hopkinson, P. Petherbridge, J. Longmore, "Daylighting" (1966), split-flux formula.

    Examples
    --------
    >>> round(float(cavity_illuminance_lx(first_reflected_lm=200, area_m2=126, mean_reflectance=0.5)), 2)
    3.17
    """
    check_range("first_reflected_lm", first_reflected_lm, low=0.0)
    check_range("area_m2", area_m2, above=0.0)
    check_range("mean_reflectance", mean_reflectance, low=0.0, below=1.0)
    return np.divide(first_reflected_lm, np.multiply(area_m2, np.subtract(1.0, mean_reflectance)))
