"""What hazy air takes out of a beam, and what it sends to the lens: closed forms, one scattering."""

from __future__ import annotations

import numpy as np

from lightcalc.units import Numbers, check_range, stops

CONTRAST_THRESHOLD = 0.02  # Koschmieder's limit of sight: a black target against the horizon
MOR_TRANSMITTANCE = 0.05  # meteorological optical range: the beam is down to 5 % (WMO, CIE)
HAZE_CAUTION = (
    "Haze: the lowest level that shows; announce it on the call sheet and ventilate between set-ups. Never isolate "
    "a smoke detector yourself: building management and the fire authority decide, with a fire watch while it is "
    "off and a check that it is back on. Local limits for air breathed at work apply."
)


def extinction_from_visibility(*, visibility_m: Numbers) -> Numbers:
    r"""
    Extinction coefficient of air you can see so far through. [1/m]

    Parameters
    ----------
    visibility_m : float or array
        Distance at which a black target is just lost against the horizon, > 0. [m]

    Returns
    -------
    float or array
        Extinction coefficient. [1/m]

    Raises
    ------
    ValueError
        If a distance is not positive.

    Notes
    -----
    .. math:: \sigma = \ln(1/0.02) / V = 3.912 / V

    A judgement by eye. Where a 5 % threshold is meant, use `extinction_from_mor`: it gives 23 % less.

    References
    ----------
    .. [1] H. Koschmieder, Beitr. Phys. freien Atmosph. 12 (1924); AMS Glossary of Meteorology,
       "meteorological range".

    Examples
    --------
    >>> round(float(extinction_from_visibility(visibility_m=78.24)), 5)
    0.05
    """
    check_range("visibility_m", visibility_m, above=0.0, hint="metres; a hazed stage is some 40 to 400")
    return np.divide(-np.log(CONTRAST_THRESHOLD), visibility_m)


def visibility_from_extinction(*, extinction_per_m: Numbers) -> Numbers:
    r"""
    How far a black target can be seen through this air. [m]

    Parameters
    ----------
    extinction_per_m : float or array
        Extinction coefficient, > 0. [1/m]

    Returns
    -------
    float or array
        Visibility at a contrast of 0.02. [m]

    Raises
    ------
    ValueError
        If an extinction is not positive.

    Notes
    -----
    .. math:: V = \ln(1/0.02) / \sigma

    References
    ----------
    .. [1] AMS Glossary of Meteorology, "meteorological range".

    Examples
    --------
    >>> round(float(visibility_from_extinction(extinction_per_m=0.05)), 2)
    78.24
    """
    check_range("extinction_per_m", extinction_per_m, above=0.0, hint="clear air has no limit to give")
    return np.divide(-np.log(CONTRAST_THRESHOLD), extinction_per_m)


def extinction_from_mor(*, mor_m: Numbers) -> Numbers:
    r"""
    Extinction coefficient from the meteorological optical range. [1/m]

    Parameters
    ----------
    mor_m : float or array
        Path over which a beam drops to 5 %, > 0. [m]

    Returns
    -------
    float or array
        Extinction coefficient. [1/m]

    Raises
    ------
    ValueError
        If a range is not positive.

    Notes
    -----
    .. math:: \sigma = \ln(1/0.05) / \mathrm{MOR} = 2.996 / \mathrm{MOR}

    References
    ----------
    .. [1] CIE S 017 International Lighting Vocabulary, 17-31-018; IEC 60050-845, 845-11-20.

    Examples
    --------
    >>> round(float(extinction_from_mor(mor_m=59.91)), 5)
    0.05
    """
    check_range("mor_m", mor_m, above=0.0, hint="metres over which the beam falls to 5 %")
    return np.divide(-np.log(MOR_TRANSMITTANCE), mor_m)


def mor_from_extinction(*, extinction_per_m: Numbers) -> Numbers:
    r"""
    Meteorological optical range of this air. [m]

    Parameters
    ----------
    extinction_per_m : float or array
        Extinction coefficient, > 0. [1/m]

    Returns
    -------
    float or array
        Path over which a beam drops to 5 %. [m]

    Raises
    ------
    ValueError
        If an extinction is not positive.

    Notes
    -----
    .. math:: \mathrm{MOR} = \ln(1/0.05) / \sigma

    References
    ----------
    .. [1] CIE S 017 International Lighting Vocabulary, 17-31-018.

    Examples
    --------
    >>> round(float(mor_from_extinction(extinction_per_m=0.05)), 2)
    59.91
    """
    check_range("extinction_per_m", extinction_per_m, above=0.0, hint="clear air has no limit to give")
    return np.divide(-np.log(MOR_TRANSMITTANCE), extinction_per_m)


def extinction_from_loss_per_m(*, loss_percent: Numbers) -> Numbers:
    r"""
    Extinction coefficient from the percentage a beam loses in each metre. [1/m]

    Parameters
    ----------
    loss_percent : float or array
        Share of the beam lost in one metre, 0 to below 100. [percent]

    Returns
    -------
    float or array
        Extinction coefficient. [1/m]

    Raises
    ------
    ValueError
        If a loss is below 0 or not below 100.

    Notes
    -----
    .. math:: \sigma = -\ln(1 - p/100)

    Below 10 % this is nearly p/100: reading 5 % as 0.05 /m errs by 2.5 %.

    References
    ----------
    .. [1] Beer-Lambert law over one metre.

    Examples
    --------
    >>> round(float(extinction_from_loss_per_m(loss_percent=5)), 5)
    0.05129
    """
    check_range("loss_percent", loss_percent, low=0.0, below=100.0, hint="percent lost in one metre")
    return -np.log1p(np.divide(loss_percent, -100.0))


def loss_percent_per_m(*, extinction_per_m: Numbers) -> Numbers:
    r"""
    Percentage a beam loses in each metre of this air. [percent]

    Parameters
    ----------
    extinction_per_m : float or array
        Extinction coefficient, >= 0. [1/m]

    Returns
    -------
    float or array
        Share lost in one metre. [percent]

    Raises
    ------
    ValueError
        If an extinction is negative.

    Notes
    -----
    .. math:: p = 100 (1 - e^{-\sigma})

    References
    ----------
    .. [1] Beer-Lambert law over one metre.

    Examples
    --------
    >>> round(float(loss_percent_per_m(extinction_per_m=0.05)), 3)
    4.877
    """
    check_range("extinction_per_m", extinction_per_m, low=0.0)
    return -100.0 * np.expm1(np.negative(extinction_per_m))


def extinction_from_mass(*, mass_mg_m3: Numbers, mass_extinction_m2_g: Numbers) -> Numbers:
    r"""
    Extinction coefficient of so much fluid hanging in the air. [1/m]

    Parameters
    ----------
    mass_mg_m3 : float or array
        Droplet mass in a cubic metre of air, >= 0. [mg/m3]
    mass_extinction_m2_g : float or array
        Light stopped per gram of droplets, >= 0; 2 to 8 for the haze fluids. [m2/g]

    Returns
    -------
    float or array
        Extinction coefficient. [1/m]

    Raises
    ------
    ValueError
        If a mass or a mass extinction is negative.

    Notes
    -----
    .. math:: \sigma = k\, c

    The mass extinction hangs on droplet size: eight times less at 3 um than at 0.5 um for droplets of one
    index, 1.43. What people breathe has to be measured; this arithmetic does not replace that.

    References
    ----------
    .. [1] C. F. Bohren, D. R. Huffman, "Absorption and Scattering of Light by Small Particles" (1983), ch. 3
       (cross-section times number density).

    Examples
    --------
    >>> round(float(extinction_from_mass(mass_mg_m3=10.0, mass_extinction_m2_g=5.291)), 5)
    0.05291
    """
    check_range("mass_mg_m3", mass_mg_m3, low=0.0)
    check_range("mass_extinction_m2_g", mass_extinction_m2_g, low=0.0)
    return np.multiply(mass_mg_m3, mass_extinction_m2_g) / 1000.0  # mg to g


def mass_from_extinction(*, extinction_per_m: Numbers, mass_extinction_m2_g: Numbers) -> Numbers:
    r"""
    Droplet mass in air of this extinction. [mg/m3]

    Parameters
    ----------
    extinction_per_m : float or array
        Extinction coefficient, >= 0. [1/m]
    mass_extinction_m2_g : float or array
        Light stopped per gram of droplets, > 0. [m2/g]

    Returns
    -------
    float or array
        Mass concentration. [mg/m3]

    Raises
    ------
    ValueError
        If an extinction is negative or a mass extinction is not positive.

    Notes
    -----
    .. math:: c = \sigma / k

    References
    ----------
    .. [1] C. F. Bohren, D. R. Huffman, "Absorption and Scattering of Light by Small Particles" (1983), ch. 3.

    Examples
    --------
    >>> round(float(mass_from_extinction(extinction_per_m=0.05291, mass_extinction_m2_g=5.291)), 2)
    10.0
    """
    check_range("extinction_per_m", extinction_per_m, low=0.0)
    check_range("mass_extinction_m2_g", mass_extinction_m2_g, above=0.0)
    return np.divide(extinction_per_m, mass_extinction_m2_g) * 1000.0  # g to mg


def transmittance(*, extinction_per_m: Numbers, path_m: Numbers) -> Numbers:
    r"""
    Share of a beam that comes through so much air. [1]

    Parameters
    ----------
    extinction_per_m : float or array
        Extinction coefficient, >= 0. [1/m]
    path_m : float or array
        Length of air crossed, >= 0. [m]

    Returns
    -------
    float or array
        Transmittance, 0 to 1, the inputs broadcast together. [1]

    Raises
    ------
    ValueError
        If an extinction or a length is negative.

    Notes
    -----
    .. math:: T = e^{-\sigma d}

    Straight light only. A narrow meter loses this much; a wide one also gathers light scattered a
    little aside, so it loses less.

    References
    ----------
    .. [1] Beer-Lambert law; CIE S 017, 17-31-018 defines the optical range by it.

    Examples
    --------
    >>> round(float(transmittance(extinction_per_m=0.05291, path_m=10.0)), 3)
    0.589
    """
    check_range("extinction_per_m", extinction_per_m, low=0.0)
    check_range("path_m", path_m, low=0.0)
    return np.exp(-np.multiply(extinction_per_m, path_m))  # Beer-Lambert


def airlight_fraction(*, extinction_per_m: Numbers, path_m: Numbers) -> Numbers:
    r"""
    Share of the far, evenly lit air's own luminance that so much of it already shows. [1]

    Parameters
    ----------
    extinction_per_m : float or array
        Extinction coefficient, >= 0. [1/m]
    path_m : float or array
        Length of air looked through, >= 0. [m]

    Returns
    -------
    float or array
        Fraction, 0 to 1, the inputs broadcast together. [1]

    Raises
    ------
    ValueError
        If an extinction or a length is negative.

    Notes
    -----
    .. math:: a = 1 - e^{-\sigma d}

    Exact where every metre of the air is lit alike (Koschmieder's horizon). A beam across a dark room
    is not like that: see `side_beam_luminance`.

    References
    ----------
    .. [1] H. Koschmieder, Beitr. Phys. freien Atmosph. 12 (1924).

    Examples
    --------
    >>> round(float(airlight_fraction(extinction_per_m=0.05, path_m=10.0)), 4)
    0.3935
    """
    check_range("extinction_per_m", extinction_per_m, low=0.0)
    check_range("path_m", path_m, low=0.0)
    return -np.expm1(-np.multiply(extinction_per_m, path_m))  # expm1 keeps thin air exact


def luminance_through_haze(
    *, luminance_cd_m2: Numbers, extinction_per_m: Numbers, path_m: Numbers, airlight_cd_m2: Numbers
) -> Numbers:
    r"""
    Luminance of a thing seen through so much air, veil included. [cd/m2]

    Parameters
    ----------
    luminance_cd_m2 : float or array
        Luminance of the thing itself, >= 0. [cd/m2]
    extinction_per_m : float or array
        Extinction coefficient, >= 0. [1/m]
    path_m : float or array
        Thing to lens, >= 0. [m]
    airlight_cd_m2 : float or array
        Light the air between adds at the lens, >= 0. [cd/m2]

    Returns
    -------
    float or array
        Luminance at the lens, the inputs broadcast together. [cd/m2]

    Raises
    ------
    ValueError
        If any input is negative.

    Notes
    -----
    .. math:: L' = L e^{-\sigma d} + L_a

    References
    ----------
    .. [1] H. Koschmieder, Beitr. Phys. freien Atmosph. 12 (1924), with the airlight left free.

    Examples
    --------
    >>> round(float(luminance_through_haze(luminance_cd_m2=20, extinction_per_m=0.05, path_m=10,
    ...                                    airlight_cd_m2=1.5)), 3)
    13.631
    """
    check_range("luminance_cd_m2", luminance_cd_m2, low=0.0)
    check_range("airlight_cd_m2", airlight_cd_m2, low=0.0)
    return luminance_cd_m2 * transmittance(extinction_per_m=extinction_per_m, path_m=path_m) + airlight_cd_m2


def contrast_through_haze(
    *, target_cd_m2: Numbers, background_cd_m2: Numbers, extinction_per_m: Numbers, path_m: Numbers, airlight_cd_m2: Numbers
) -> Numbers:
    r"""
    Contrast of a target with its background, both seen through so much air. [1]

    Parameters
    ----------
    target_cd_m2 : float or array
        Luminance of the target itself, >= 0. [cd/m2]
    background_cd_m2 : float or array
        Luminance of what it stands against, at the same distance, > 0. [cd/m2]
    extinction_per_m : float or array
        Extinction coefficient, >= 0. [1/m]
    path_m : float or array
        Target to lens, >= 0. [m]
    airlight_cd_m2 : float or array
        Light the air between adds at the lens, >= 0. [cd/m2]

    Returns
    -------
    float or array
        (target - background) / background at the lens; minus is darker than the background. [1]

    Raises
    ------
    ValueError
        If a luminance, extinction or length is negative, or a background is not positive.

    Notes
    -----
    .. math:: C = \frac{(L_t - L_b) T}{L_b T + L_a}, \quad T = e^{-\sigma d}

    With the airlight of a background that is the far air itself, :math:`L_a = L_b (1 - T)`, this is
    Koschmieder's :math:`C = C_0 T`.

    References
    ----------
    .. [1] H. Koschmieder, Beitr. Phys. freien Atmosph. 12 (1924); AMS Glossary, "visual range".

    Examples
    --------
    >>> round(float(contrast_through_haze(target_cd_m2=2, background_cd_m2=8, extinction_per_m=0.05,
    ...                                   path_m=10, airlight_cd_m2=1.5)), 4)
    -0.5729
    """
    check_range("background_cd_m2", background_cd_m2, above=0.0)
    air = {"extinction_per_m": extinction_per_m, "path_m": path_m, "airlight_cd_m2": airlight_cd_m2}
    target = luminance_through_haze(luminance_cd_m2=target_cd_m2, **air)
    background = luminance_through_haze(luminance_cd_m2=background_cd_m2, **air)
    return (target - background) / background


def separation_stops_through_haze(
    *, target_cd_m2: Numbers, background_cd_m2: Numbers, extinction_per_m: Numbers, path_m: Numbers, airlight_cd_m2: Numbers
) -> Numbers:
    r"""
    Stops between a target and its background, both seen through so much air. [stops]

    Parameters
    ----------
    target_cd_m2 : float or array
        Luminance of the target itself, >= 0. [cd/m2]
    background_cd_m2 : float or array
        Luminance of what it stands against, at the same distance, > 0. [cd/m2]
    extinction_per_m : float or array
        Extinction coefficient, >= 0. [1/m]
    path_m : float or array
        Target to lens, >= 0. [m]
    airlight_cd_m2 : float or array
        Light the air between adds at the lens, >= 0. [cd/m2]

    Returns
    -------
    float or array
        Target over background at the lens; minus is darker than the background. [stops]

    Raises
    ------
    ValueError
        If a luminance, extinction or length is negative, or a background is not positive.

    Notes
    -----
    .. math:: \Delta = \log_2 \frac{L_t T + L_a}{L_b T + L_a}

    References
    ----------
    .. [1] `contrast_through_haze`, read in stops.

    Examples
    --------
    >>> round(float(separation_stops_through_haze(target_cd_m2=2, background_cd_m2=8, extinction_per_m=0.05,
    ...                                           path_m=10, airlight_cd_m2=1.5)), 3)
    -1.227
    """
    contrast = contrast_through_haze(
        target_cd_m2=target_cd_m2,
        background_cd_m2=background_cd_m2,
        extinction_per_m=extinction_per_m,
        path_m=path_m,
        airlight_cd_m2=airlight_cd_m2,
    )
    return stops(1.0 + contrast)


def henyey_greenstein(*, g: Numbers, cosine: Numbers) -> Numbers:
    r"""
    Henyey-Greenstein phase function: where scattered light goes. [1/sr]

    Parameters
    ----------
    g : float or array
        Mean cosine of scattering, above -1 and below 1; 0 is even all round. [1]
    cosine : float or array
        Cosine between the light's old and new direction, -1 to 1; +1 is straight on. [1]

    Returns
    -------
    float or array
        Share per steradian, integral 1 over the sphere, the inputs broadcast together. [1/sr]

    Raises
    ------
    ValueError
        If g is not inside (-1, 1) or a cosine is outside [-1, 1].

    Notes
    -----
    .. math:: p = \frac{1 - g^2}{4 \pi (1 + g^2 - 2 g \mu)^{3/2}}

    A teaching form. Real haze droplets have a sharper forward peak and a weak rise backwards.

    References
    ----------
    .. [1] L. G. Henyey, J. L. Greenstein, Astrophys. J. 93, 70 (1941).

    Examples
    --------
    >>> round(float(henyey_greenstein(g=0.7, cosine=1.0)), 4)
    1.5031
    """
    check_range("g", g, above=-1.0, below=1.0)
    check_range("cosine", cosine, low=-1.0, high=1.0, hint="+1 is straight on, -1 straight back")
    forward = 1.0 + np.square(g) - 2.0 * np.multiply(g, cosine)
    return (1.0 - np.square(g)) / (4.0 * np.pi * forward**1.5)


def side_beam_luminance(
    *,
    illuminance_lx: Numbers,
    width_m: Numbers,
    scattering_per_m: Numbers,
    phase_per_sr: Numbers,
    angle_deg: Numbers = 90.0,
    to_lens_m: Numbers = 0.0,
) -> Numbers:
    r"""
    Luminance of a narrow beam of light crossing the sight line. [cd/m2]

    Parameters
    ----------
    illuminance_lx : float or array
        Illuminance inside the beam, square to it, >= 0. [lx]
    width_m : float or array
        Beam width as the lens sees it, square to the beam, >= 0. [m]
    scattering_per_m : float or array
        Scattering coefficient, >= 0; for haze droplets the whole extinction. [1/m]
    phase_per_sr : float or array
        Phase function at `angle_deg`, >= 0. [1/sr]
    angle_deg : float or array, default 90
        Turn from the beam's direction to the direction of the lens, 0 to 180, ends left out:
        under 90 is back-lit. [deg]
    to_lens_m : float or array, default 0
        Beam to lens, >= 0; the beam is dimmed again on its way. [m]

    Returns
    -------
    float or array
        Luminance the beam adds, the inputs broadcast together. [cd/m2]

    Raises
    ------
    ValueError
        If an input is negative or the angle is not between 0 and 180.

    Notes
    -----
    .. math:: L = \sigma_s\, p(\theta)\, E\, w / \sin\theta \; e^{-\sigma d}

    Thin: the light's own loss across the beam is left out, which reads high by about
    :math:`\sigma w / (2 \sin\theta)`: 0.8 % for 0.3 m in 0.05 /m from the side.

    References
    ----------
    .. [1] S. Chandrasekhar, "Radiative Transfer" (1950), ch. I: the source function of a thin layer
       over the length w / sin(angle) that the sight line spends in the beam.

    Examples
    --------
    >>> round(float(side_beam_luminance(illuminance_lx=10_000, width_m=0.3, scattering_per_m=0.02,
    ...                                 phase_per_sr=henyey_greenstein(g=0.7, cosine=0.0))), 4)
    1.3389
    """
    for name, value in (("illuminance_lx", illuminance_lx), ("width_m", width_m), ("phase_per_sr", phase_per_sr)):
        check_range(name, value, low=0.0)
    check_range("angle_deg", angle_deg, above=0.0, below=180.0, hint="along the beam it is no longer thin")
    dimmed = transmittance(extinction_per_m=scattering_per_m, path_m=to_lens_m)
    inside_m = np.divide(width_m, np.sin(np.radians(angle_deg)))
    return scattering_per_m * phase_per_sr * illuminance_lx * inside_m * dimmed


def beam_over_stops(
    *,
    illuminance_lx: Numbers,
    width_m: Numbers,
    extinction_per_m: Numbers,
    background_cd_m2: Numbers,
    angle_deg: Numbers = 90.0,
    to_lens_m: Numbers = 0.0,
    g: Numbers = 0.75,
) -> Numbers:
    r"""
    How far a beam stands over what is behind it. [stops]

    Parameters
    ----------
    illuminance_lx : float or array
        Illuminance inside the beam, square to it, >= 0. [lx]
    width_m : float or array
        Beam width as the lens sees it, square to the beam, >= 0. [m]
    extinction_per_m : float or array
        Extinction coefficient of the haze, nothing absorbed, >= 0. [1/m]
    background_cd_m2 : float or array
        What a spot meter reads in the same direction with the beam off, > 0. [cd/m2]
    angle_deg : float or array, default 90
        Turn from the beam's direction to the direction of the lens, 0 to 180, ends left out:
        under 90 is back-lit. [deg]
    to_lens_m : float or array, default 0
        Beam to lens, >= 0. [m]
    g : float or array, default 0.75
        Mean cosine of scattering, above -1 and below 1; fine haze is about 0.7 to 0.85. [1]

    Returns
    -------
    float or array
        log2 of (beam + background) over background; 0 is a beam that does not show. [stops]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: \log_2\left(1 + \frac{\sigma\, p(\theta)\, E\, w\, e^{-\sigma d}}{L_b \sin\theta}\right)

    The thin beam of `side_beam_luminance`. What the beam's light does after its first turn brightens beam and background
    alike and is left out here (the light engine has it): pale walls and thick air show less beam than this.

    References
    ----------
    .. [1] `side_beam_luminance` and `henyey_greenstein`, with their sources; stops as log2 of a ratio of luminances.

    Examples
    --------
    >>> round(float(beam_over_stops(illuminance_lx=2000, width_m=0.8, extinction_per_m=0.04, background_cd_m2=1.5,
    ...                             angle_deg=60, to_lens_m=4)), 2)
    1.58
    """
    check_range("background_cd_m2", background_cd_m2, above=0.0, hint="what is behind, read with the beam off")
    beam_cd_m2 = side_beam_luminance(
        illuminance_lx=illuminance_lx, width_m=width_m, scattering_per_m=extinction_per_m, angle_deg=angle_deg, to_lens_m=to_lens_m,
        phase_per_sr=henyey_greenstein(g=g, cosine=np.cos(np.radians(angle_deg))),
    )  # fmt: skip
    return stops(1.0 + np.divide(beam_cd_m2, background_cd_m2))
