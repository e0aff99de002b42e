"""Layers: what haze does to depth. A dark and a light card against distance along one sight line, with haze and without."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from lightcalc.answers.readings import Tick
from lightcalc.engine.direct import SHARP, airlight, gauss_nodes
from lightcalc.engine.indirect import FAR_M, open_air, soft_air
from lightcalc.engine.picture import sight_line
from lightcalc.engine.solve import Lit, light
from lightcalc.laws.haze import transmittance
from lightcalc.scene.parts import SceneError, Setup
from lightcalc.units import Row, check_range, stops
from lightcalc.wording import distance_text, light_text, number_text, percent_text, plain, reading_text, stops_text

PLANES = ("foreground", "middle ground", "background")
STEPS = 48  # places along the line; a multiple of 4, so that the planes a quarter and a half of the way are among them
HELD_OFF_M = 0.05  # a card is never nearer than this to what the line ends on


@dataclass(frozen=True)
class Plane:
    """The two cards at one distance, as the lens sees them. Stops are from middle grey but for separations."""

    name: str
    distance_m: float
    transmittance: float  # plane to lens
    illuminance_lx: float  # on a card that faces the lens
    veil_cd_m2: float  # light the air adds in front of it
    veil_stops: float
    dark_stops: float
    light_stops: float
    separation_stops: float  # light card over dark card
    clear_illuminance_lx: float  # from here on: the same setup without haze
    clear_dark_stops: float
    clear_light_stops: float
    clear_separation_stops: float

    @property
    def apart(self) -> str:
        """How far apart the haze leaves the cards, in words."""
        return apart_text(self.separation_stops)


@dataclass(frozen=True)
class Gap:
    """What lies between two planes: how far the same card moves from the nearer to the farther one. [stops]"""

    nearer: str
    farther: str
    dark_stops: float
    light_stops: float
    clear_dark_stops: float
    clear_light_stops: float


@dataclass(frozen=True)
class Layers:
    """Two matte cards along a sight line, held square to it; every array has shape (n,), the nearest place first."""

    setup: str
    towards: str
    extinction_per_m: float
    reference_cd_m2: float  # luminance of middle grey
    dark_reflectance: float
    light_reflectance: float
    end_m: float  # where the line ends: on what it meets, or as far as the haze is followed outdoors
    end_cd_m2: float  # what the lens sees there, haze included
    distance_m: np.ndarray
    transmittance: np.ndarray  # place to lens
    illuminance_lx: np.ndarray  # on a card, in the haze
    clear_illuminance_lx: np.ndarray  # and without haze
    veil_cd_m2: np.ndarray  # light the air adds up to there
    planes: tuple  # of Plane: foreground, middle ground, background
    gaps: tuple  # of Gap: between neighbours, then from first to last

    @property
    def veil_stops(self) -> np.ndarray:
        """Level of the veil alone, (n,). [stops]"""
        return stops(self.veil_cd_m2 / self.reference_cd_m2)

    @property
    def dark_stops(self) -> np.ndarray:
        """Level of the dark card through the haze, (n,). [stops]"""
        return stops(self._seen_cd_m2(self.dark_reflectance) / self.reference_cd_m2)

    @property
    def light_stops(self) -> np.ndarray:
        """Level of the light card through the haze, (n,). [stops]"""
        return stops(self._seen_cd_m2(self.light_reflectance) / self.reference_cd_m2)

    @property
    def clear_dark_stops(self) -> np.ndarray:
        """Level of the dark card without haze, (n,). [stops]"""
        return stops(self.dark_reflectance * self.clear_illuminance_lx / np.pi / self.reference_cd_m2)

    @property
    def clear_light_stops(self) -> np.ndarray:
        """Level of the light card without haze, (n,). [stops]"""
        return stops(self.light_reflectance * self.clear_illuminance_lx / np.pi / self.reference_cd_m2)

    @property
    def separation_stops(self) -> np.ndarray:
        """Light card over dark card through the haze, (n,); NaN where neither sends any light. [stops]"""
        return _apart(self.light_stops, self.dark_stops)

    @property
    def clear_separation_stops(self) -> np.ndarray:
        """Light card over dark card without haze, (n,). [stops]"""
        return _apart(self.clear_light_stops, self.clear_dark_stops)

    def _seen_cd_m2(self, reflectance):
        return reflectance * self.illuminance_lx / np.pi * self.transmittance + self.veil_cd_m2

    def ticks(self) -> tuple[Tick, ...]:
        """
        The veil at each plane, for the stop ladder.

        Returns
        -------
        tuple of readings.Tick
            None for a plane without a veil.
        """
        return tuple(Tick(f"veil at {p.name}", p.veil_stops, "veil") for p in self.planes if np.isfinite(p.veil_stops))

    def finding(self) -> str:
        """What the curve shows, in one sentence."""
        last, whole = self.planes[-1], self.gaps[-1]
        if not np.isfinite([whole.dark_stops, last.separation_stops]).all():
            return "Not both cards get light all along this line, so there is nothing to tell apart"
        if not np.isfinite([whole.clear_dark_stops, last.clear_separation_stops]).all():
            return "Only the haze brings light to the cards along this line; without it there is nothing to tell apart"
        clear = stops_text(last.clear_separation_stops, sign=False)
        if self.extinction_per_m <= 0:
            return f"No haze: light and dark stay {clear} stops apart at every distance"
        return (
            f"From {whole.nearer} to {whole.farther} the darks move {stops_text(whole.dark_stops)} stops "
            f"({stops_text(whole.clear_dark_stops)} in clear air); there light and dark keep {stops_text(last.separation_stops, sign=False)} "
            f"of their {clear} stops"
        )

    def lines(self, units: str = "metric") -> list[str]:
        """The layers as plain text, stops to a tenth."""
        ends = "ends" if self.end_m < FAR_M else "is followed no further,"  # nothing in the way out there
        rows = [
            f"{self.setup}: towards {self.towards}, the line {ends} after {distance_text(self.end_m, units)} at "
            f"{stops_text(float(stops(self.end_cd_m2 / self.reference_cd_m2)), unit=' stops')}; haze {number_text(self.extinction_per_m)} /m; "
            f"cards reflect {number_text(self.dark_reflectance)} and {number_text(self.light_reflectance)}"
        ]
        for p in self.planes:
            rows.append(
                f"  {p.name}, {distance_text(p.distance_m, units)}: dark {stops_text(p.dark_stops)}, light "
                f"{stops_text(p.light_stops)}, {p.apart}; veil {reading_text('veil', p.veil_stops)}; "
                f"{light_text(p.illuminance_lx, units)}"
            )
            if self.extinction_per_m <= 0:
                continue
            rows.append(
                f"    in clear air: dark {stops_text(p.clear_dark_stops)}, light {stops_text(p.clear_light_stops)}, "
                f"{apart_text(p.clear_separation_stops)}; {light_text(p.clear_illuminance_lx, units)}"
            )
        for g in self.gaps:
            clear = f"; in clear air {stops_text(g.clear_dark_stops)} and {stops_text(g.clear_light_stops)}"
            rows.append(
                f"  from {g.nearer} to {g.farther}: dark {stops_text(g.dark_stops)}, light {stops_text(g.light_stops)} stops"
                f"{clear if self.extinction_per_m > 0 else ''}"
            )
        return rows + [f"  {self.finding()}"]

    def as_json(self) -> dict[str, Any]:
        """The layers as plain data, units in the key names; numbers that do not exist are None."""
        levels = ("veil", "dark", "light", "separation", "clear_dark", "clear_light", "clear_separation")
        return plain(self) | {f"{name}_stops": plain(getattr(self, f"{name}_stops")) for name in levels}


def apart_text(separation_stops: float) -> str:
    """
    How far apart the two cards are: infinitely where the dark card sends no light, NaN where neither does.

    Examples
    --------
    >>> apart_text(1.42), apart_text(float("inf")), apart_text(float("nan"))
    ('1.4 stops apart', 'dark is black', 'both black')
    """
    if np.isfinite(separation_stops):
        return f"{stops_text(separation_stops, sign=False)} stops apart"
    return "both black" if np.isnan(separation_stops) else "dark is black"


def layers(
    setup: Setup,
    *,
    towards: str | Row = (0.5, 0.5),
    lit: Lit | None = None,
    quality: str = "final",
    targets: Row = (0.04, 0.9),
    distances_m: Row | None = None,
) -> Layers:
    r"""
    The level of a dark and of a light card against distance along a sight line, with haze and without.

    Parameters
    ----------
    setup : Setup
    towards : str, or three floats, or two floats, default (0.5, 0.5)
        Where the camera's line goes: through the mark or spot of that name, through a point [m], or through a
        place on the picture as shares of its width from the left and of its height from the top.
    lit : solve.Lit, optional
        The setup's light, where it is already worked out.
    quality : {'final', 'draft'}
        Used when `lit` is not given.
    targets : (float, float), default (0.04, 0.9)
        Reflectances of the two cards, the darker first, 0 to 1.
    distances_m : three floats, optional
        Foreground, middle ground and background; by default 1/4, 1/2 and all of the way to the line's end. [m]

    Returns
    -------
    Layers

    Raises
    ------
    ValueError
        If there is no such mark or spot, the point is the camera's own, a picture place is off the picture, the
        reflectances do not rise from dark to light, or the distances do not grow or go past the line's end.

    Notes
    -----
    .. math:: L(d) = \frac{\rho E(d)}{\pi} e^{-\sigma d} + L_\mathrm{veil}(d)

    E(d) is the illuminance on a card that faces the lens at that distance, in the haze; the card itself shades
    nothing. Haze lifts the dark card more than the light one, so the two close up with distance; and it lifts the
    far dark over the near one, which is what the eye reads as depth. In the open under an even light the contrast
    with the horizon falls as exp(-sigma d) [1]_. At its end the line meets what is there, so the last card is held
    5 cm off it; its veil is taken over the whole line. Diffusion frames in the way are not counted.

    Error: the veil is one running sum, so that it never falls with distance; it was within 0.5 % (0.01 stop) of
    single readings (`picture.sight_line`) in a barred room. Outdoors the engine follows a line for 300 m, so contrast
    with the horizon obeys the law to 0.02 % where sigma is 0.04 /m and drifts where 300 m of air still let sky
    through (in 0.006 /m: 0.59 left of black at 100 m, not 0.55). There the cards' illuminance is the sky's and the
    sun's as given: the haze is taken to turn as much of it towards a card as it takes away.

    References
    ----------
    .. [1] H. Koschmieder, Beitr. Phys. freien Atmosph. 12 (1924); AMS Glossary, "visual range".
    """
    dark, pale = _reflectances(targets)
    lit = lit or light(setup, quality)
    name, ray = _line_towards(setup, lit, towards)
    end = sight_line(lit, ray)
    planes_m = _plane_distances(distances_m, end.reach_m)
    distance = np.union1d(end.reach_m * np.arange(1, STEPS + 1) / STEPS, planes_m)
    clear = light(replace(setup, haze=replace(setup.haze, extinction_per_m=0.0)), lit.quality) if lit.rig.extinction > 0 else lit
    found = Layers(
        setup=setup.name, towards=name, extinction_per_m=float(lit.rig.extinction),
        reference_cd_m2=setup.camera.reference_cd_m2, dark_reflectance=dark, light_reflectance=pale, end_m=end.reach_m,
        end_cd_m2=end.luminance_cd_m2, distance_m=distance, transmittance=transmittance(extinction_per_m=lit.rig.extinction, path_m=distance),
        illuminance_lx=_on_cards_lx(lit, ray, distance, end.reach_m),
        clear_illuminance_lx=_on_cards_lx(clear, ray, distance, end.reach_m),
        veil_cd_m2=_veil_cd_m2(lit, ray, distance, end.reach_m), planes=(), gaps=(),
    )  # fmt: skip
    planes = tuple(_plane(found, *pair) for pair in zip(PLANES, planes_m))
    gaps = tuple(_gap(*pair) for pair in (planes[:2], planes[1:], planes[::2]))
    return replace(found, planes=planes, gaps=gaps)


def _reflectances(targets):
    values = tuple(float(value) for value in targets)
    if len(values) != 2:
        raise ValueError(f"targets must be two reflectances, dark then light, got {len(values)}")
    check_range("targets", values, low=0.0, high=1.0, hint="reflectances, 0 black to 1 white")
    if values[0] >= values[1]:
        raise ValueError(f"targets must rise from dark to light, got {values[0]:g} then {values[1]:g}")
    return values


def _line_towards(setup, lit, towards):
    """What the line is called, and its unit direction from the camera."""
    if isinstance(towards, str):
        known = {part.name: part.at for part in setup.marks + setup.spots}
        if towards not in known:
            raise SceneError(
                f"setup '{setup.name}': towards must be one of its marks and spots ({', '.join(known) or 'none'}), got '{towards}'"
            )
        name, place = towards, known[towards]
    else:
        place = tuple(float(value) for value in towards)
        name = f"[{', '.join(f'{value:g}' for value in place)}] m"
    check_range("towards", place)
    if len(place) == 2:
        check_range("towards", place, low=0.0, high=1.0, hint="shares of the picture's width and height")
        across, down = map(percent_text, place)
        middle = place == (0.5, 0.5)
        return "the middle of the picture" if middle else f"{across} across and {down} down the picture", lit.pixel_ray(*place)[1]
    if len(place) != 3:
        raise ValueError(f"towards must be a name, a point [x, y, z] or a picture place [u, v], got {len(place)} numbers")
    away = np.subtract(place, setup.camera.at).astype(float)
    if np.linalg.norm(away) < 1e-6:
        raise SceneError(f"setup '{setup.name}': towards must lie away from the camera, got its own place {list(place)}")
    return name, away / np.linalg.norm(away)


def _plane_distances(distances_m, end_m):
    if distances_m is None:
        return end_m * np.array([0.25, 0.5, 1.0])
    planes = np.array(distances_m, dtype=float)
    if planes.shape != (3,):
        raise ValueError(f"distances_m must be three: {', '.join(PLANES)}; got {planes.size}")
    check_range("distances_m", planes, above=0.0, high=end_m, hint="the line ends there")
    if (np.diff(planes) <= 0).any():
        raise ValueError(f"distances_m must grow from foreground to background, got {', '.join(f'{d:g}' for d in planes)}")
    return planes


def _on_cards_lx(lit, ray, distance_m, end_m):
    """Illuminance on cards that face the camera, held just off what the line ends on, (n,). [lx]"""
    held = np.minimum(distance_m, max(end_m - HELD_OFF_M, 0.5 * end_m))
    at = np.array(lit.setup.camera.at) + held[:, None] * ray
    return lit.illuminance_lx(at, np.broadcast_to(-ray, at.shape)).sum(axis=1)


def _veil_cd_m2(lit, ray, distance_m, end_m):
    """
    Light the air adds up to each distance, (n,). [cd/m2]

    Shafts are summed to each distance as they stand. The soft light is summed once along the whole line, since
    sums that each cut the line anew would scatter by half a percent and could fall with distance. Between its
    steps it is read against 1 - exp(-sigma d), which is exact where the air is evenly lit.
    """
    n = len(distance_m)
    if lit.rig.extinction <= 0:
        return np.zeros(n)
    origin, rays, nodes = np.array(lit.setup.camera.at, dtype=float), np.ascontiguousarray(ray[None]), gauss_nodes(16)
    shafts = airlight(lit.rig.row, SHARP, np.repeat(origin[None], n, 0), np.repeat(rays, n, 0), distance_m, *nodes)
    soft = soft_air(lit.rig.row, origin, rays, np.array([end_m]), np.zeros(1), STEPS, *nodes)[0]
    turned = lambda metres: -np.expm1(-lit.rig.extinction * metres)  # noqa: E731
    near = np.interp(turned(distance_m), turned(end_m * np.arange(STEPS + 1) / STEPS), [0.0, *soft])
    return shafts.sum(axis=1) + near + open_air(lit.rig.row, rays)[0] * turned(distance_m)


def _plane(found, name, distance_m):
    k = int(np.argmin(np.abs(found.distance_m - distance_m)))
    levels = ("veil", "dark", "light", "separation", "clear_dark", "clear_light", "clear_separation")
    arrays = ("transmittance", "illuminance_lx", "veil_cd_m2", "clear_illuminance_lx", *(f"{level}_stops" for level in levels))
    return Plane(name=name, distance_m=float(distance_m), **{field: float(getattr(found, field)[k]) for field in arrays})


def _gap(near, far):
    fields = ("dark_stops", "light_stops", "clear_dark_stops", "clear_light_stops")
    return Gap(near.name, far.name, **{field: float(_apart(getattr(far, field), getattr(near, field))) for field in fields})


def _apart(one_stops, other_stops):
    """The difference of two levels; NaN where both have no light at all."""
    with np.errstate(invalid="ignore"):
        return np.subtract(one_stops, other_stops)
