"""How haze droplets scatter: Mie theory averaged over sizes and over what the eye sees, kept as tables in data/."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.polynomial import chebyshev

from lightcalc.laws.haze import henyey_greenstein
from lightcalc.units import Numbers, check_range

DATA = Path(__file__).resolve().parents[2] / "data"
ANGLES = 1801  # every 0.1 degree; the narrowest forward lobe of a preset falls to half in 2.7 degrees
ORDERS = 9  # Legendre moments 0 to 8
DRAWS = 1024  # entries of the inverse cumulative
LOG_SIZE_STEP = 0.002  # halved, no g or mass extinction moves by 1e-4; the phase by 5e-3 in mist, 6e-4 in haze


@dataclass(frozen=True)
class Droplets:
    r"""
    Clear spheres with a lognormal spread of sizes.

    Parameters
    ----------
    name : str
        What the set calls it.
    median_um : float
        Number median diameter, 0.01 to 50: half of the droplets are smaller. [um]
    geometric_sd : float
        Geometric standard deviation, 1 (all alike) to 3. [1]
    index : float
        Refractive index, 1.01 to 2, real: nothing is absorbed. [1]
    density_g_cm3 : float
        Density of the liquid, 0.1 to 20. [g/cm3]
    note, evidence : str
        What it stands for, and where each number comes from.

    Raises
    ------
    ValueError
        If a number is outside its limits.

    Notes
    -----
    .. math:: n(\ln d) = \frac{1}{s\sqrt{2\pi}} \exp\frac{-\ln^2(d/d_0)}{2 s^2}, \quad s = \ln \sigma_g

    Half of the mass is in droplets larger than `mass_median_um`, :math:`d_0 e^{3 s^2}`.

    References
    ----------
    .. [1] T. Hatch, S. P. Choate, J. Franklin Inst. 207, 369 (1929): number, area and mass medians.

    Examples
    --------
    >>> round(Droplets("haze", 0.5, 1.6, 1.43, 1.04).mass_median_um, 3)
    0.97
    """

    name: str
    median_um: float
    geometric_sd: float
    index: float
    density_g_cm3: float
    note: str = ""
    evidence: str = ""

    def __post_init__(self):
        check_range("median_um", self.median_um, low=0.01, high=50.0, hint="micrometres; stage haze is 0.3 to 3")
        check_range("geometric_sd", self.geometric_sd, low=1.0, high=3.0, hint="1 is all alike, haze is 1.4 to 1.8")
        check_range("index", self.index, low=1.01, high=2.0, hint="water 1.333, glycols 1.43, oil 1.48")
        check_range("density_g_cm3", self.density_g_cm3, low=0.1, high=20.0, hint="g/cm3; water is 1")

    @property
    def mass_median_um(self) -> float:
        """Diameter with half of the mass on either side. [um]"""
        return float(self.median_um * np.exp(3.0 * np.log(self.geometric_sd) ** 2))


_SIZES = "Sizes: COMMON PRACTICE, not measured here; published air sampling only says 'in the respirable range'. "
PRESETS = {
    d.name: d
    for d in (
        Droplets(
            "fine glycol haze",
            0.5,
            1.6,
            1.43,
            1.04,
            "Mixed glycols from a hazer, settled in the room.",
            _SIZES + "Index: propylene glycol 1.431 to 1.433 (pharmacopoeia limits) and triethylene glycol 1.455 (FROM "
            "MEMORY), each with the water that ideal mixing holds at 50 % humidity, 1.412 and 1.441 (DERIVED). "
            "Density: propylene glycol 1.035 to 1.037 (pharmacopoeia limits), heavier with the triethylene glycol.",
        ),
        Droplets(
            "coarse glycol fog",
            1.0,
            1.5,
            1.41,
            1.03,
            "Propylene glycol and water soon after a fog machine; it thins as it dries.",
            _SIZES + "Index and density: propylene glycol 1.432 and 1.036 (pharmacopoeia limits) with a fifth of water "
            "by volume, the balance of an ideal mixture at 50 % humidity (DERIVED).",
        ),
        Droplets(
            "glycerol haze",
            0.5,
            1.6,
            1.445,
            1.21,
            "Glycerol and water haze, settled in the room.",
            _SIZES + "Index: glycerol 1.473 (Int. Tables for Crystallography C, table 3.3.2.1) with a fifth of water "
            "by volume, the balance of an ideal mixture at 50 % humidity (DERIVED). Density: glycerol 1.261 (FROM MEMORY) with "
            "that water (DERIVED).",
        ),
        Droplets(
            "oil haze",
            0.5,
            1.5,
            1.477,
            0.85,
            "White mineral oil from a cracker or an oil hazer; it does not dry.",
            _SIZES + "Index: petroleum oil 1.477 (Int. Tables for Crystallography C, table 3.3.2.1). "
            "Density: 0.83 to 0.88, FROM MEMORY.",
        ),
        Droplets(
            "water mist",
            3.0,
            1.5,
            1.333,
            0.998,
            "Ultrasonic water mist; it dries within metres unless the air is near saturation.",
            "Size: a few micrometres from capillary waves at megahertz frequencies (Kooij et al., Sci. Rep. 9, 6128, "
            "2019, on ultrasonic nebulizers); median and spread chosen, not measured here. Index: water 1.333 (Int. "
            "Tables for Crystallography C, table 3.3.2.1). Density: water at 20 C.",
        ),
    )
}


@dataclass(frozen=True, eq=False)
class PhaseTable:
    """
    Where scattered light goes, in the one form the light engine reads.

    Parameters
    ----------
    name : str
        Name of the droplets, or of the formula.
    theta_rad : array, shape (1801,)
        Scattering angles, evenly spaced, 0 (straight on) to pi (straight back). [rad]
    phase_per_sr : array, shape (1801,)
        Phase function there; its integral over the sphere is 1. [1/sr]
    legendre : array, shape (9,)
        Moments of order 0 to 8, the means of the Legendre polynomials of the cosine; g^l for
        Henyey-Greenstein. [1]
    inverse_cosine : array, shape (1024,)
        Cosine at the cumulative probabilities 0, 1/1023 ... 1, rising from -1 to 1. A draw u in [0, 1)
        reads it at 1023 u, linearly between neighbours. [1]
    mass_extinction_m2_g : float
        Extinction of one gram of droplets per cubic metre; NaN for a formula. [m2/g]
    """

    name: str
    theta_rad: np.ndarray
    phase_per_sr: np.ndarray
    legendre: np.ndarray
    inverse_cosine: np.ndarray
    mass_extinction_m2_g: float = float("nan")

    def __post_init__(self):
        for part in (self.theta_rad, self.phase_per_sr, self.legendre, self.inverse_cosine):
            part.setflags(write=False)  # tables are shared by everyone who asks for the same name

    @property
    def cosine(self) -> np.ndarray:
        """Cosine of every angle of the table, 1 down to -1, shape (1801,). [1]"""
        return np.cos(self.theta_rad)

    @property
    def g(self) -> float:
        """Mean cosine of scattering. [1]"""
        return float(self.legendre[1])

    def at(self, *, cosine: Numbers) -> Numbers:
        """
        Phase function at a cosine, linear in angle between entries, any shape. [1/sr]

        Raises
        ------
        ValueError
            If a cosine is not within -1 to 1.
        """
        check_range("cosine", cosine, low=-1.0, high=1.0, hint="+1 is straight on, -1 straight back")
        return np.interp(np.arccos(cosine), self.theta_rad, self.phase_per_sr)

    @classmethod
    def from_phase(cls, name: str, phase_per_sr: Numbers, mass_extinction_m2_g: float = float("nan")) -> PhaseTable:
        r"""
        Complete a table from its phase function alone.

        Parameters
        ----------
        name : str
            Name of the table.
        phase_per_sr : array, shape (n,)
            Phase function at n evenly spaced angles from 0 to pi, not negative. [1/sr]
        mass_extinction_m2_g : float, default NaN
            Passed through. [m2/g]

        Returns
        -------
        PhaseTable
            With moments and inverse cumulative.

        Raises
        ------
        ValueError
            If a value is negative or the integral over the sphere is not 1 to 1e-4.

        Notes
        -----
        .. math:: c_l = 2\pi \int_{-1}^{1} p(\mu) P_l(\mu)\, d\mu, \quad
            F(\mu) = 2\pi \int_{-1}^{\mu} p(\mu')\, d\mu'

        Even angles are the Chebyshev points of the cosine, so both integrals are exact for a Mie sum of
        up to 900 terms.

        References
        ----------
        .. [1] C. W. Clenshaw, A. R. Curtis, Numer. Math. 2, 197 (1960).
        """
        phase = np.array(phase_per_sr, dtype=float)
        check_range("phase_per_sr", phase, low=0.0)
        theta = np.linspace(0.0, np.pi, phase.size)
        legendre = _moments(phase, ORDERS)
        check_range("integral of phase_per_sr", legendre[0], low=1.0 - 1e-4, high=1.0 + 1e-4)
        return cls(name, theta, phase, legendre, _inverse_cosine(phase, DRAWS), float(mass_extinction_m2_g))

    @classmethod
    def henyey_greenstein(cls, g: float) -> PhaseTable:
        r"""
        The Henyey-Greenstein formula as a table, every entry in closed form.

        Parameters
        ----------
        g : float
            Mean cosine, above -1 and below 1. [1]

        Returns
        -------
        PhaseTable
            Named by its g; mass extinction NaN.

        Raises
        ------
        ValueError
            If g is not inside (-1, 1).

        Notes
        -----
        .. math:: c_l = g^l, \quad \mu(u) = \frac{s(1+g^2) + \frac{g}{2}\left(3 - g^2 + (1+g^2)s^2\right)}{(1+gs)^2},
            \quad s = 2u - 1

        The usual inverse, multiplied out so that it has no hole at g = 0.

        References
        ----------
        .. [1] L. G. Henyey, J. L. Greenstein, Astrophys. J. 93, 70 (1941), eq. 2.
        .. [2] A. N. Witt, Astrophys. J. Suppl. 35, 1 (1977), eq. 19: the inverse.

        Examples
        --------
        >>> table = PhaseTable.henyey_greenstein(0.7)
        >>> round(float(table.at(cosine=0.0)), 6), round(table.g, 12)
        (0.022314, 0.7)
        """
        check_range("g", g, above=-1.0, below=1.0, hint="0 scatters evenly, 0.75 mostly forward")
        theta, s = np.linspace(0.0, np.pi, ANGLES), np.linspace(-1.0, 1.0, DRAWS)
        inverse = (s * (1 + g**2) + g / 2 * (3 - g**2 + (1 + g**2) * s**2)) / (1 + g * s) ** 2
        phase = henyey_greenstein(g=g, cosine=np.cos(theta))
        return cls(f"henyey-greenstein {g:g}", theta, phase, float(g) ** np.arange(ORDERS), np.clip(inverse, -1.0, 1.0))


@cache
def phase_table(name: str) -> PhaseTable:
    """
    The stored table of one preset; nothing is computed.

    Parameters
    ----------
    name : str
        A key of `PRESETS`.

    Returns
    -------
    PhaseTable
        Photopic average, equal-energy light; the same object for the same name.

    Raises
    ------
    ValueError
        If no preset has that name, or the stored table was made for other droplets.

    Examples
    --------
    >>> 0.7 < phase_table("fine glycol haze").g < 0.8
    True
    """
    if name not in PRESETS:
        raise ValueError(f"droplets must be one of {', '.join(map(repr, PRESETS))}, got {name!r}")
    with np.load(DATA / "droplets.npz") as stored:
        row = list(stored["name"]).index(name) if name in stored["name"] else None
        if row is None or not np.array_equal(stored["recipe"][row], _recipe(PRESETS[name])):
            raise ValueError(
                f"data/droplets.npz must hold {name!r} as {_recipe(PRESETS[name])} (median um, geometric sd, index, "
                "g/cm3), got none or others: run python -m lightcalc.kit.droplets --make"
            )
        phase, legendre, inverse = (stored[key][row] for key in ("phase_per_sr", "legendre", "inverse_cosine"))
        return PhaseTable(
            name, np.linspace(0.0, np.pi, ANGLES), phase, legendre, inverse, float(stored["mass_extinction_m2_g"][row])
        )


def make_table(droplets: Droplets, *, wavelength_um: float | None = None, log_size_step: float = LOG_SIZE_STEP) -> PhaseTable:
    r"""
    Compute a phase table by Mie theory: a second or so, and it imports miepython.

    Parameters
    ----------
    droplets : Droplets
        What is in the air.
    wavelength_um : float, optional
        One wavelength, 0.2 to 2; left out, the photopic average over equal-energy light. [um]
    log_size_step : float, default 0.002
        Step of the size sum in ln(size), above 0, at most 0.1; narrow spreads take a finer one. [1]

    Returns
    -------
    PhaseTable
        Phase function, moments, inverse cumulative and mass extinction.

    Raises
    ------
    ValueError
        If a number is outside its limits.

    Notes
    -----
    .. math:: p(\theta) = \frac{\sum_\lambda V_\lambda \int n(d)\, \frac{d^2}{4x^2}\,
        \tfrac12 \left(|S_1|^2 + |S_2|^2\right) d\ln d}
        {\sum_\lambda V_\lambda \int n(d)\, \frac{\pi d^2}{4} Q(x)\, d\ln d}, \quad x = \pi d/\lambda

    Numbers of droplets, each by its scattering cross-section, each wavelength by the CIE 1924 eye.
    With one index for all colours everything hangs on x alone, so sizes and colours are summed together.
    Error: D65 daylight instead of equal-energy light moves g by 0.0005, mass extinction by 0.3 % and the
    phase function by 1.2 %; tungsten (illuminant A) by 0.0015, 1 % and 4 % (0.06 stop). Leaving out
    dispersion costs g 0.0013 and mass extinction 0.1 %. The sizes are worth far more: half as large
    again is 0.6 of the mass extinction, and 0.03 in g.

    References
    ----------
    .. [1] C. F. Bohren, D. R. Huffman, "Absorption and Scattering of Light by Small Particles" (1983),
       eqs. 4.74 (amplitudes), 4.47 (angular functions), 4.61 (cross-section).
    """
    size, area_um2 = _sizes(droplets, wavelength_um, log_size_step)
    efficiency, _ = _efficiency_and_g(droplets.index, size)
    section_um2 = np.pi / 4.0 * np.sum(area_um2 * efficiency)
    angular_um2 = _angular_section(droplets.index, size, area_um2, np.linspace(0.0, np.pi, ANGLES))
    mass = _mass_extinction(droplets, section_um2)
    return PhaseTable.from_phase(droplets.name, angular_um2 / section_um2, mass)


def mass_extinction_m2_g(droplets: Droplets, *, wavelength_um: float | None = None) -> float:
    r"""
    Extinction coefficient of one gram of droplets per cubic metre of air, by Mie theory. [m2/g]

    Parameters
    ----------
    droplets : Droplets
        What is in the air; for a preset, `phase_table` holds the stored number.
    wavelength_um : float, optional
        One wavelength, 0.2 to 2; left out, the photopic average over equal-energy light. [um]

    Returns
    -------
    float
        Mass extinction; times mg/m3 times 0.001 it is the extinction coefficient in 1/m. [m2/g]

    Raises
    ------
    ValueError
        If the wavelength is outside its limits.

    Notes
    -----
    .. math:: k = \frac{\langle Q\, \pi d^2/4 \rangle}{\rho\, \langle \pi d^3/6 \rangle}

    For droplets all alike, :math:`k = 1.5\,Q/(\rho d)`.

    References
    ----------
    .. [1] C. F. Bohren, D. R. Huffman (1983), section 3.4.

    Examples
    --------
    >>> one = Droplets("all alike", 1.0, 1.0, 1.43, 1.04)
    >>> round(mass_extinction_m2_g(one, wavelength_um=0.55), 3)
    5.291
    """
    size, area_um2 = _sizes(droplets, wavelength_um, LOG_SIZE_STEP)
    efficiency, _ = _efficiency_and_g(droplets.index, size)
    return _mass_extinction(droplets, np.pi / 4.0 * np.sum(area_um2 * efficiency))


def asymmetry(droplets: Droplets, *, wavelength_um: float | None = None) -> float:
    r"""
    Mean cosine of scattering, by Mie theory. [1]

    Parameters
    ----------
    droplets : Droplets
        What is in the air; for a preset, `phase_table` holds the stored number.
    wavelength_um : float, optional
        One wavelength, 0.2 to 2; left out, the photopic average over equal-energy light. [um]

    Returns
    -------
    float
        Mean cosine g; droplets weigh in by their scattering cross-section. [1]

    Raises
    ------
    ValueError
        If the wavelength is outside its limits.

    Notes
    -----
    .. math:: g = \langle Q\, d^2\, g(x) \rangle / \langle Q\, d^2 \rangle

    References
    ----------
    .. [1] C. F. Bohren, D. R. Huffman (1983), section 4.5.

    Examples
    --------
    >>> round(asymmetry(Droplets("all alike", 1.0, 1.0, 1.43, 1.04), wavelength_um=0.55), 4)
    0.7573
    """
    size, area_um2 = _sizes(droplets, wavelength_um, LOG_SIZE_STEP)
    efficiency, g = _efficiency_and_g(droplets.index, size)
    return float(np.sum(area_um2 * efficiency * g) / np.sum(area_um2 * efficiency))


def mixture_index(*, indices: Numbers, volume_shares: Numbers) -> float:
    r"""
    Refractive index of liquids mixed by volume. [1]

    Parameters
    ----------
    indices : array, shape (n,)
        Index of each liquid, >= 1. [1]
    volume_shares : array, shape (n,)
        Volume of each, >= 0; scaled to a sum of 1. [1]

    Returns
    -------
    float
        Index of the mixture. [1]

    Raises
    ------
    ValueError
        If an index is under 1, a share is negative, or all shares are 0.

    Notes
    -----
    .. math:: \frac{n^2-1}{n^2+2} = \sum_i \phi_i \frac{n_i^2-1}{n_i^2+2}

    Takes volumes as additive; glycols and glycerol shrink a little in water, which reads low by up to 0.005.

    References
    ----------
    .. [1] H. A. Lorentz, Ann. Phys. 245, 641 (1880); L. Lorenz, Ann. Phys. 247, 70 (1880).

    Examples
    --------
    >>> round(mixture_index(indices=[1.473, 1.333], volume_shares=[0.8, 0.2]), 3)
    1.444
    """
    check_range("indices", indices, low=1.0)
    check_range("volume_shares", volume_shares, low=0.0)
    check_range("sum of volume_shares", np.sum(volume_shares), above=0.0)
    square = np.square(indices)
    mean = np.sum(np.multiply(volume_shares, (square - 1.0) / (square + 2.0))) / np.sum(volume_shares)
    return float(np.sqrt((1.0 + 2.0 * mean) / (1.0 - mean)))


def make(path: str | Path = DATA / "droplets.npz") -> list[PhaseTable]:
    """Compute every preset and store them all in one file; some seconds. [writes `path`]"""
    tables = [make_table(droplets) for droplets in PRESETS.values()]
    keys = ("phase_per_sr", "legendre", "inverse_cosine", "mass_extinction_m2_g")
    columns: dict[str, Any] = {key: np.array([getattr(t, key) for t in tables]) for key in keys}
    np.savez_compressed(
        path,
        name=np.array(list(PRESETS)),
        recipe=np.array([_recipe(droplets) for droplets in PRESETS.values()]),  # um, 1, 1, g/cm3
        **columns,
    )
    return tables


def _recipe(droplets):
    """The four numbers a stored table depends on. [um, 1, 1, g/cm3]"""
    return (droplets.median_um, droplets.geometric_sd, droplets.index, droplets.density_g_cm3)


def _sight(wavelength_um):
    """Wavelengths and the share of luminance each carries in equal-energy light, shapes (n,). [um, 1]"""
    if wavelength_um is not None:
        check_range("wavelength_um", wavelength_um, low=0.2, high=2.0, hint="micrometres; green is 0.55")
        return np.array([float(wavelength_um)]), np.array([1.0])
    table = np.loadtxt(DATA / "cie_photopic_1924.csv", delimiter=",", comments=("#", "w"))
    return table[:, 0] / 1000.0, table[:, 1] / np.sum(table[:, 1])


def _sizes(droplets, wavelength_um, step):
    """Size parameters, and the mean squared diameter that each stands for, shapes (n,). [1, um2]"""
    check_range("log_size_step", step, above=0.0, high=0.1)
    wave_um, share = _sight(wavelength_um)
    spread, centre = np.log(droplets.geometric_sd), np.log(np.pi * droplets.median_um / wave_um)
    if spread == 0.0:
        return np.exp(centre), share * droplets.median_um**2
    step = min(step, spread / 8.0)
    # the forward peak goes with d^4 and more, its own median 4 spread^2 up: 4.5 spreads beyond that
    log_size = np.arange(centre.min() - 4.5 * spread, centre.max() + 4 * spread**2 + 4.5 * spread, step)
    off = (log_size[:, None] - centre) / spread
    number = np.exp(-0.5 * off**2) / (spread * np.sqrt(2.0 * np.pi)) * step
    return np.exp(log_size), (number * np.square(np.exp(log_size)[:, None] * wave_um / np.pi)) @ share


def _mass_extinction(droplets, section_um2):
    """Mean cross-section over mean mass; um2 / (um3 g/cm3) is m2/g. [m2/g]"""
    mean_cube_um3 = droplets.median_um**3 * np.exp(4.5 * np.log(droplets.geometric_sd) ** 2)  # Hatch & Choate 1929
    return float(section_um2 / (droplets.density_g_cm3 * np.pi / 6.0 * mean_cube_um3))


def _efficiency_and_g(index, size):
    """Scattering efficiency and mean cosine of single spheres, shapes (n,). [1, 1]"""
    import miepython  # here, not above: only making a table needs it

    _, scattered, _, g = miepython.efficiencies_mx(np.full(size.shape, complex(index)), size)
    return scattered, g


def _angular_section(index, size, area_um2, theta):
    """Mean differential scattering cross-section at each angle, shape (angles,). [um2/sr]"""
    total = np.zeros(theta.size)
    for rows in np.array_split(np.arange(size.size), -(-size.size // 128)):  # 128 sizes at a time: 4 MB an array
        a, b = _coefficients(index, size[rows])
        pi_n, tau_n = _angular_functions(np.cos(theta), a.shape[1])
        s1, s2 = a @ pi_n + b @ tau_n, a @ tau_n + b @ pi_n  # Bohren & Huffman 4.74
        intensity = (np.abs(s1) ** 2 + np.abs(s2) ** 2) / 2.0
        total += (area_um2[rows] / (4.0 * size[rows] ** 2)) @ intensity  # 1/k^2 = d^2 / 4x^2
    return total


def _coefficients(index, size):
    """Mie coefficients a_n and b_n times (2n+1)/(n(n+1)), padded with zeros, each (sizes, terms). [1]"""
    import miepython

    pairs = [miepython.an_bn(complex(index), x) for x in size]
    padded = np.zeros((2, len(pairs), max(len(a) for a, _ in pairs)), dtype=complex)
    for row, pair in enumerate(pairs):
        padded[:, row, : len(pair[0])] = pair
    n = np.arange(1, padded.shape[2] + 1)
    return padded * (2 * n + 1) / (n * (n + 1))


def _angular_functions(cosine, terms):
    """pi_n and tau_n for n = 1 to terms, each (terms, angles); Bohren & Huffman 4.47. [1]"""
    pi_n, tau_n = np.zeros((terms + 1, cosine.size)), np.zeros((terms + 1, cosine.size))
    pi_n[1], tau_n[1] = 1.0, cosine
    for n in range(2, terms + 1):
        pi_n[n] = ((2 * n - 1) * cosine * pi_n[n - 1] - n * pi_n[n - 2]) / (n - 1)
        tau_n[n] = n * cosine * pi_n[n] - (n + 1) * pi_n[n - 1]
    return pi_n[1:], tau_n[1:]


def _chebyshev(values):
    """Chebyshev series in the cosine, from values at even angles 0 to pi, shape (n,)."""
    series = np.fft.rfft(np.concatenate([values, values[-2:0:-1]])).real / (values.size - 1)
    series[[0, -1]] /= 2.0
    return series


def _moments(phase, orders):
    """Mean Legendre polynomial of the cosine, order 0 to orders - 1. [1]"""
    cosine = np.cos(np.linspace(0.0, np.pi, phase.size))
    polynomials = np.polynomial.legendre.legvander(cosine, orders - 1).T
    order = np.arange(0, phase.size, 2)
    weight = 2.0 / (1.0 - order**2.0)  # integral of T_k over -1..1; odd ones vanish
    return np.array([2.0 * np.pi * np.sum(_chebyshev(phase * p)[::2] * weight) for p in polynomials])


def _inverse_cosine(phase, draws):
    """Cosine at evenly spaced cumulative probabilities, rising from -1 to 1, shape (draws,). [1]"""
    cosine = np.cos(np.linspace(0.0, np.pi, phase.size))[::-1]
    cumulative = chebyshev.chebval(cosine, chebyshev.chebint(_chebyshev(phase), lbnd=-1))
    return np.interp(np.linspace(0.0, 1.0, draws), cumulative / cumulative[-1], cosine)


if __name__ == "__main__":
    if sys.argv[1:] != ["--make"]:
        sys.exit("usage: python -m lightcalc.kit.droplets --make")
    for table in make():
        print(f"{table.name}: g {table.g:.4f}, {table.mass_extinction_m2_g:.3f} m2/g")
