"""Rooms, lamps and plain numpy optics that the light engine's tests share; nothing here comes from the engine."""

import numba
import numpy as np

from lightcalc.kit.candela import Photometry
from lightcalc.scene.parts import SURFACES, Camera, Light, Room, Setup

BLACK = dict.fromkeys(SURFACES, 0.0)
CAMERA = Camera(at=(1.2, 0.7, 1.5), aim=(3.9, 3.2, 1.3))
LN2 = np.log(2.0)


def bulb(cd):
    """The same candela every way."""
    return Photometry(vertical_deg=(0, 180), horizontal_deg=(0,), candela=((cd, cd),))


def lamp(name, at, cd, **more):
    """A bare bulb; where it aims makes no difference."""
    return Light(name=name, at=at, aim=(at[0], at[1] + 1.0, at[2]), distribution=bulb(cd), **more)


def loft(*windows, **surfaces):
    """6.3 x 4.7 x 3.1 m, black where nothing else is said."""
    return Room(name="loft", width_m=6.3, depth_m=4.7, height_m=3.1, windows=windows, **(BLACK | surfaces))


def setup(place=None, **parts):
    """A setup in the black loft, from its camera."""
    return Setup(**(dict(name="loft", title="Loft", place=place or loft(), camera=CAMERA) | parts))


def henyey_greenstein(g, cosine):
    """The phase function as printed. [1/sr]"""
    return (1 - g * g) / (4 * np.pi * (1 + g * g - 2 * g * cosine) ** 1.5)


def beam_cd(beam, cosine):
    """Candela of a lamp with half its peak at beam / 2 and a tenth at field / 2, by its definition."""
    theta = np.arccos(np.clip(cosine, -1, 1))
    power = np.log(np.log(10) / LN2) / np.log(beam.field_deg / beam.beam_deg)
    return np.where(cosine > 0, beam.peak_cd * np.exp(-LN2 * (theta / np.radians(beam.beam_deg / 2)) ** power), 0.0)


def unit(vector):
    """A vector at length one."""
    return np.asarray(vector, float) / np.linalg.norm(vector)


def sides(facet):
    """Unit vectors across and up a board, flag or frame that is not rolled, and its normal."""
    normal = unit(np.subtract(facet.aim, facet.at))
    across = unit(np.cross(normal, (0, 0, 1)))
    return across, np.cross(across, normal), normal


def from_python(inner):
    """A function that compiled code alone calls, as one that a test can."""
    return numba.njit(lambda *given: inner(*given))
