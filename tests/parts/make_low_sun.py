"""Make data/low_sun_colour.csv: the colour of the sun's disc by its height, from two packages used only here."""

import sys
from pathlib import Path

import colour
import numpy as np
import pvlib

ALTITUDES_DEG = (1, 1.5, 2, 3, 4, 5, 7, 10, 15, 20, 30, 45, 60, 90)
AEROSOLS = (0.10, 0.27)
HEAD = """\
# Correlated colour temperature of the sun's disc through clear air, by apparent altitude. A MODEL VALUE, not a measurement.
# Spectrum of the direct beam: Bird & Riordan 1986, sea level, water 1.42 cm, ozone 0.344 atm-cm, day 80, albedo 0.2,
# air mass of Kasten & Young 1989 (package pvlib, spectrl2). Temperature: Ohno 2014, 2 degree observer (package colour-science).
# Made by tests/parts/make_low_sun.py; aerosol is optical depth at 500 nm.
"""


def kelvin(altitude_deg, aerosol, part="dni"):
    """Colour temperature of the direct beam (dni), or of the sky's light on open ground (dhi). [K]"""
    zenith = 90.0 - altitude_deg
    mass = pvlib.atmosphere.get_relative_airmass(zenith, model="kastenyoung1989")
    spectrum = pvlib.spectrum.spectrl2(
        apparent_zenith=zenith, aoi=zenith, surface_tilt=0, ground_albedo=0.2, surface_pressure=101325.0,
        relative_airmass=mass, precipitable_water=1.42, ozone=0.344, aerosol_turbidity_500nm=aerosol, dayofyear=80,
    )  # fmt: skip
    return cct(np.asarray(spectrum["wavelength"]).ravel(), np.asarray(spectrum[part]).ravel())


def cct(wavelengths, power):
    """Colour temperature of a spectrum given at these wavelengths [nm]. [K]"""
    visible = np.arange(380, 781, 5)
    distribution = colour.SpectralDistribution(np.interp(visible, wavelengths, power), visible)
    shape = colour.SpectralShape(380, 780, 5)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape)
    xyz = colour.sd_to_XYZ(distribution, cmfs=observer, illuminant=None, method="Integration")
    return float(colour.temperature.uv_to_CCT_Ohno2013(colour.UCS_to_uv(colour.XYZ_to_UCS(xyz)))[0])


if __name__ == "__main__":
    rows = [f"{h:g},{a:.2f},{kelvin(h, a):.0f}\n" for a in AEROSOLS for h in ALTITUDES_DEG]
    path = Path(sys.argv[1]) if sys.argv[1:] else Path(__file__).resolve().parents[2] / "data" / "low_sun_colour.csv"
    path.write_text(HEAD + "altitude_deg,aerosol_500nm,kelvin\n" + "".join(rows), encoding="utf-8")
