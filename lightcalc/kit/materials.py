"""
What light comes from, falls on and goes through: the kit and the surfaces of data/kit.toml, by name.

`lamp`, `stuff`, `diffusion`, `gel` and `surface` look a name up. The file is read once, when first asked.
Every entry says what its number rests on; a meter reading of your own kit beats all of them.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field, fields, replace
from functools import lru_cache, reduce
from pathlib import Path
from typing import Any

import numpy as np

from lightcalc.kit.candela import Beam, Lambert, Photometry
from lightcalc.kit.lm63 import read_photometry
from lightcalc.units import check_range, lx_from_fc

KIT = Path(__file__).parents[2] / "data" / "kit.toml"
EVIDENCE = ("published", "derived", "independent", "common practice", "from memory", "measured")
SOURCES = ("tungsten", "discharge", "led")
TINTS = ("green", "magenta")
SHAPES = ("spot", "soft", "all round")
MOST_BYTES = 1_000_000
MOST_ENTRIES = 500
WHITEST = 0.98  # pressed barium sulphate, the white of the integrating sphere; no board is whiter
BLACK = 0.06  # boards no lighter than this take light away; dusty black cloth is 0.05


class KitError(ValueError):
    """A kit that cannot be, or a name it does not have: one sentence with the way out."""


def _check_words(part):
    """A name, and what kind of evidence the numbers rest on."""
    if not isinstance(part.name, str) or not 0 < len(part.name) <= 60:
        raise ValueError(f"name must be a text of 1 to 60 characters, got {part.name!r:.80}")
    if part.evidence not in EVIDENCE:
        raise ValueError(f"evidence must be one of {', '.join(EVIDENCE)}, got {part.evidence!r}")


@dataclass(frozen=True, kw_only=True)
class Stuff:
    """
    What a board is covered with.

    Parameters
    ----------
    name : str
        What the crew calls it.
    reflectance : float
        Share of the light sent back, all directions together, 0 to 0.98. [1]
    gloss : float, default 0
        Share of `reflectance` sent into a lobe about the mirror direction; the rest leaves evenly. [1]
    lobe_deg : float, default 0
        Full width of that lobe to half its peak, above 0 if there is gloss. [deg]
    back : float, optional
        Reflectance of the back, which is matt; by default the front's. [1]
    note, evidence : str
        Remarks, and what the numbers rest on: one of `EVIDENCE`.

    Raises
    ------
    ValueError
        If a number is outside its limits.

    Examples
    --------
    >>> Stuff(name="white", reflectance=0.85).back
    0.85
    """

    name: str
    reflectance: float
    gloss: float = 0.0
    lobe_deg: float = 0.0
    back: float | None = None
    note: str = ""
    evidence: str = "common practice"

    def __post_init__(self):
        _check_words(self)
        check_range("reflectance", self.reflectance, low=0.0, high=WHITEST, hint="share sent back, 0.18 is a grey card")
        check_range("gloss", self.gloss, low=0.0, high=1.0, hint="share of the reflectance that goes mirror-wise")
        check_range("lobe_deg", self.lobe_deg, low=0.0, high=120.0)
        if self.gloss > 0.0:
            check_range("lobe_deg", self.lobe_deg, above=0.0, hint="a glossy board needs the width of its lobe")
        if self.back is None:
            object.__setattr__(self, "back", self.reflectance)
        check_range("back", self.back, low=0.0, high=WHITEST)


@dataclass(frozen=True, kw_only=True)
class Diffusion:
    """
    What is stretched in a frame or clipped to a lamp: part goes straight on, part leaves evenly, part goes back.

    Parameters
    ----------
    name : str
        What the crew calls it.
    direct : float
        Share of the light that goes straight on, 0 to 1. [1]
    diffuse : float
        Share that leaves the far side evenly (Lambert), 0 to 1. [1]
    back : float, default 0
        Share that a frame sends back evenly from the lit side, 0 to 1; what is then missing to 1 is lost. [1]
    note, evidence : str
        Remarks, and what the numbers rest on: one of `EVIDENCE`.

    Raises
    ------
    ValueError
        If a share is outside 0 to 1, or together they are nothing or more than all.

    Examples
    --------
    >>> round(Diffusion(name="half", direct=0.15, diffuse=0.35).loss_stops, 2)
    1.0
    """

    name: str
    direct: float
    diffuse: float
    back: float = 0.0
    note: str = ""
    evidence: str = "common practice"

    def __post_init__(self):
        _check_words(self)
        check_range("direct", self.direct, low=0.0, high=1.0, hint="share that goes straight on")
        check_range("diffuse", self.diffuse, low=0.0, high=1.0, hint="share that leaves evenly")
        check_range("back", self.back, low=0.0, high=1.0, hint="share that goes back")
        check_range("direct + diffuse", self.transmittance, above=0.0, high=1.0, hint="what comes through, of 1")
        check_range("direct + diffuse + back", self.transmittance + self.back, high=1.0 + 1e-9, hint="of 1")

    @property
    def transmittance(self) -> float:
        """Share of the light that comes through. [1]"""
        return self.direct + self.diffuse

    @property
    def loss_stops(self) -> float:
        """
        Stops lost by the light as a whole. [stops]

        A meter behind a lit frame reads another loss: it sees the direct part and the frame as a source.
        """
        return -math.log2(self.transmittance)


@dataclass(frozen=True, kw_only=True)
class Gel:
    """
    A colour or grey filter on a lamp or a window.

    Parameters
    ----------
    name : str
        What the crew calls it.
    transmittance : float
        Share of the light that comes through, above 0, to 1. [1]
    mired_shift : float
        What it adds to 1e6 / kelvin; plus is warmer, 0 is grey. [mired]
    tint : str, default ""
        One of `TINTS`, for what a colour temperature cannot say: such a gel leaves light without one.
    note, evidence : str
        Remarks, and what the numbers rest on: one of `EVIDENCE`.

    Raises
    ------
    ValueError
        If a number is outside its limits.

    Examples
    --------
    >>> round(Gel(name="full warm", transmittance=0.58, mired_shift=134).kelvin_through(kelvin=5600))
    3199
    """

    name: str
    transmittance: float
    mired_shift: float
    tint: str = ""
    note: str = ""
    evidence: str = "common practice"

    def __post_init__(self):
        _check_words(self)
        check_range("transmittance", self.transmittance, above=0.0, high=1.0, hint="half a stop is 0.71")
        check_range("mired_shift", self.mired_shift, low=-300.0, high=300.0, hint="5600 to 3200 K is +134")
        if self.tint not in ("", *TINTS):
            raise ValueError(f"tint must be one of {', '.join(TINTS)}, or left out, got {self.tint!r}")

    @property
    def loss_stops(self) -> float:
        """Stops lost. [stops]"""
        return -math.log2(self.transmittance)

    def kelvin_through(self, *, kelvin: float) -> float:
        """
        The colour temperature behind the gel. [K]

        Parameters
        ----------
        kelvin : float
            The light's colour temperature before the gel, > 0. [K]

        Returns
        -------
        float
            Colour temperature behind it. [K]

        Raises
        ------
        ValueError
            If `kelvin` is not positive, or so high that a cooling gel leaves less than 0 mired.

        Notes
        -----
        .. math:: T' = 10^6 / (10^6 / T + shift)
        """
        check_range("kelvin", kelvin, above=0.0, hint="the lamp's colour temperature")
        mired = 1e6 / kelvin + self.mired_shift
        check_range("mired behind the gel", mired, above=0.0, hint=f"{kelvin:g} K is too blue for '{self.name}'")
        return 1e6 / mired


@dataclass(frozen=True, kw_only=True)
class Surface:
    """
    What a wall, the ground or a figure is made of: a name for a matt reflectance.

    Parameters
    ----------
    name : str
        What the crew calls it.
    reflectance : float
        Share of the light sent back evenly, 0 to 0.98. [1]
    note, evidence : str
        Remarks, and what the number rests on: one of `EVIDENCE`.

    Raises
    ------
    ValueError
        If the reflectance is outside 0 to 0.98.
    """

    name: str
    reflectance: float
    note: str = ""
    evidence: str = "common practice"

    def __post_init__(self):
        _check_words(self)
        check_range("reflectance", self.reflectance, low=0.0, high=WHITEST, hint="share sent back, 0.18 is a grey card")


def _share_behind(beam):
    """Share of a lamp's lumens sent more than a right angle off its axis: 2 pi sum(I sin(theta) dtheta). [1]"""
    theta = np.linspace(0.5 * np.pi, np.pi, 181)
    return float(2.0 * np.pi * np.trapezoid(beam.mean_cd(theta) * np.sin(theta), theta) / beam.lumens())


@dataclass(frozen=True, kw_only=True)
class Lamp:
    """
    A light of the kit.

    Parameters
    ----------
    name : str
        What the crew calls it.
    beam : Beam, Lambert or Photometry
        What it sends where, at full output. [cd]
    watts : float
        What it draws from the mains or its battery, above 0. [W]
    kelvin : float
        Colour temperature, 1000 to 20 000. [K]
    face_width_m, face_height_m : float, default 0
        The lit face; both 0 for a point. A round lens is the square of the same area. [m]
    source : str
        One of `SOURCES`.
    spot : Beam, optional
        What it sends spotted in, of a lamp whose `beam` is the flooded end. [cd]
    note, evidence : str
        Remarks, and what the numbers rest on: one of `EVIDENCE`.

    Raises
    ------
    ValueError
        If a number is outside its limits or a word is not known.
    """

    name: str
    beam: Beam | Lambert | Photometry
    watts: float
    kelvin: float
    face_width_m: float = 0.0
    face_height_m: float = 0.0
    source: str = "led"
    note: str = ""
    evidence: str = "common practice"
    spot: Beam | None = None

    def __post_init__(self):
        _check_words(self)
        if self.spot is not None and not (isinstance(self.beam, Beam) and self.spot.beam_deg < self.beam.beam_deg):
            raise ValueError("spot_beam_deg must be narrower than the beam of the flooded end, a spot with two angles")
        if not isinstance(self.beam, Beam | Lambert | Photometry):
            raise ValueError(f"beam must be a Beam, a Lambert or a Photometry, got {type(self.beam).__name__}")
        check_range("watts", self.watts, above=0.0, high=50_000.0, hint="drawn from the mains or the battery")
        check_range("kelvin", self.kelvin, low=1000.0, high=20_000.0)
        check_range("face_width_m", self.face_width_m, low=0.0, high=10.0)
        check_range("face_height_m", self.face_height_m, low=0.0, high=10.0)
        if (self.face_width_m == 0.0) != (self.face_height_m == 0.0):
            raise ValueError("face_width_m and face_height_m must both be 0 (a point) or both above 0, "
                             f"got {self.face_width_m:g} and {self.face_height_m:g}")  # fmt: skip
        if self.face_width_m > 0.0 and _share_behind(self.beam) > 0.05:
            raise ValueError(f"face_width_m must be 0 for a lamp that sends {100 * _share_behind(self.beam):.0f} % of "
                             "its light backwards: a flat face cannot")  # fmt: skip
        if self.source not in SOURCES:
            raise ValueError(f"source must be one of {', '.join(SOURCES)}, got {self.source!r}")

    @property
    def lumens_per_watt(self) -> float | None:
        """Light out of the face for the power drawn. [lm/W]"""
        return self.beam.lumens() / self.watts


@dataclass(frozen=True, kw_only=True)
class Kit:
    """Everything one kit file holds, by name."""

    lamp: dict[str, Lamp] = field(default_factory=dict)
    stuff: dict[str, Stuff] = field(default_factory=dict)
    diffusion: dict[str, Diffusion] = field(default_factory=dict)
    gel: dict[str, Gel] = field(default_factory=dict)
    surface: dict[str, Surface] = field(default_factory=dict)


POWERS = ("peak_cd", "lumens", "lux", "fc")  # how strong a lamp is: one of these, or a measured table
_LIGHT = ("shape", *POWERS, "file", "at_m", "beam_deg", "field_deg")
_SPOT = {"spot_peak_cd": "peak_cd", "spot_beam_deg": "beam_deg", "spot_field_deg": "field_deg"}  # the other end of a focus
_LAMP_KEYS = (*_LIGHT, *_SPOT, "watts", "kelvin", "face_width_m", "face_height_m", "source", "note", "evidence")
_PARTS = {"stuff": Stuff, "diffusion": Diffusion, "gel": Gel, "surface": Surface}
ROW_OF = " + "  # between the names of sheets or cloths in a row
_TEXTS = ("shape", "source", "tint", "note", "evidence", "file")


def read_kit(path: str | Path) -> Kit:
    """
    A kit from a TOML file.

    Parameters
    ----------
    path : path or str
        A file laid out like data/kit.toml.

    Returns
    -------
    Kit

    Raises
    ------
    KitError
        If the file is missing, too large or not TOML, or an entry is wrong. One sentence names the file,
        the entry, the value and what would be accepted.
    """
    path = Path(path)
    tables = _tables(path)
    kinds = [one.name for one in fields(Kit)]
    unknown = sorted(set(tables) - set(kinds))
    if unknown:
        raise KitError(f"{path.name}: found [{unknown[0]}]; would accept {', '.join(kinds)}")
    kit = Kit()
    for kind, entries in tables.items():
        if not isinstance(entries, dict) or len(entries) > MOST_ENTRIES:
            raise KitError(f'{path.name}: {kind} must hold at most {MOST_ENTRIES} tables [{kind}."a name"]')
        for name, values in entries.items():
            me = f"{path.name}, {kind} '{name:.60}'"
            getattr(kit, kind)[name] = _made(me, kind, name, values, path.parent)
    return kit


def _tables(path):
    """The file as tables, or one sentence."""
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
        if len(data) > MOST_BYTES:
            raise KitError(f"{path.name}: found more than {MOST_BYTES} bytes; would accept at most that")
        return tomllib.loads(data.decode("utf-8"))
    except OSError as error:
        raise KitError(f"{path.name}: found no readable file ({error.strerror}); would accept a kit file") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as error:
        raise KitError(f"{path.name}: not a TOML file: {str(error).splitlines()[0]}") from None


def _made(me, kind, name, values, folder):
    """One entry, checked key by key; the dataclass checks the numbers."""
    known = _LAMP_KEYS if kind == "lamp" else [one.name for one in fields(_PARTS[kind]) if one.name != "name"]
    if not isinstance(values, dict):
        raise KitError(f"{me} must be a table, got {values!r:.40}")
    for key, value in values.items():
        if key not in known:
            raise KitError(f"{me}: found {key}; would accept {', '.join(known)}")
        wanted = str if key in _TEXTS else (int, float)
        if not isinstance(value, wanted) or isinstance(value, bool):
            raise KitError(f"{me}: {key} must be {'a text' if wanted is str else 'a number'}, got {value!r:.40}")
    if "evidence" not in values:
        raise KitError(f"{me}: evidence is missing; would accept {', '.join(EVIDENCE)}")
    try:
        return _lamp(name, values, folder) if kind == "lamp" else _PARTS[kind](name=name, **values)
    except TypeError:
        least = [one.name for one in fields(_PARTS.get(kind, Lamp)) if one.default is one.default_factory]
        lacking = ", ".join(key for key in least if key not in ("name", "beam", *values))
        raise KitError(f"{me}: {lacking} is missing") from None
    except ValueError as error:
        raise KitError(f"{me}: {error}") from None


def _lamp(name, values, folder):
    """A lamp from its table: the light first, the rest as it stands."""
    light = {key: values[key] for key in _LIGHT if key in values}
    beam = distribution(light, shaped=True, read=lambda file: _report(file, folder))
    spot = {own: values[key] for key, own in _SPOT.items() if key in values}
    if spot and len(spot) < len(_SPOT):
        raise ValueError(f"{', '.join(_SPOT)} go together, got only {', '.join(key for key in _SPOT if key in values)}")
    rest = {key: values[key] for key in values if key not in light and key not in _SPOT}
    return Lamp(name=name, beam=beam, spot=Beam(**spot) if spot else None, **rest)


def _report(file, folder):
    path = (folder / file).resolve()
    if not path.is_relative_to(folder.resolve()):
        raise ValueError(f"file must lie in the kit file's folder or below it, got {file!r:.80}")
    return read_photometry(path)


# COMMON PRACTICE: the middle of the kit's own spots, which run from 1.24 (lens, flooded) to 1.9 (reflector, narrow lens);
# a torch's hot middle is 3.4. DERIVED from `Beam`: inside the beam angle that is at most a quarter of a stop; outside it is more.
FIELD_PER_BEAM = 1.5


def assumed_field_deg(beam_deg: float) -> float:
    """The field angle of a lamp of which only the beam angle is known, `FIELD_PER_BEAM` as wide. [deg]"""
    return min(180.0, FIELD_PER_BEAM * beam_deg)


def distribution(
    own: dict,
    *,
    table: str = "file",
    like: Beam | Lambert | Photometry | None = None,
    soft: bool = False,
    shaped: bool = False,
    read: Callable | None = None,
) -> Beam | Lambert | Photometry:
    """
    What a lamp sends where, from the numbers that a kit or a shoot gives of it.

    Parameters
    ----------
    own : dict
        One of `POWERS` (lux and fc with `at_m`) or the name of a measured table; `shape`, `beam_deg` and `field_deg`. What
        a lamp `like` it has may be left out.
    table : str, default "file"
        What `own` calls its measured table.
    like : Beam, Lambert or Photometry, optional
        The lamp of the kit that it is.
    soft : bool, default False
        Whether it has a lit face; without shape and angles that is lit evenly.
    shaped : bool, default False
        Whether shape and both angles must be given.
    read : callable, optional
        From the name of a measured table to its Photometry.

    Returns
    -------
    Beam, Lambert or Photometry

    Raises
    ------
    ValueError
        If something is missing, does not belong together or is out of range, in one sentence.

    Examples
    --------
    >>> distribution({"lux": 1000, "at_m": 3.0, "beam_deg": 24})  # field angle: assumed
    Beam(peak_cd=9000.0, beam_deg=24, field_deg=36.0)
    """
    powers = [key for key in (*POWERS, table) if key in own]
    if len(powers) > 1 or not (powers or like):
        raise ValueError(f"needs one of {', '.join((*POWERS, table))}, got {' and '.join(powers) or 'none'}")
    if ("at_m" in own) != bool({"lux", "fc"} & own.keys()):
        raise ValueError("lux or fc and at_m go together: so much light at so many metres from the face")
    if table in own:
        if len(own) > 1:
            raise ValueError(f"{table} brings its own shape and angles; take {' and '.join(k for k in own if k != table)} away")
        return read(own[table])  # type: ignore[misc]  # whoever has a table has its reader
    angles = {key: own[key] for key in ("beam_deg", "field_deg") if key in own}
    if isinstance(like, Photometry) and "shape" not in own:
        if angles:
            raise ValueError("beam_deg and field_deg do not belong to a lamp that is measured or shines all round")
        return _turned_up(own, like)
    shape = own.get("shape") if "shape" in own or shaped else _shape(angles, like, soft)
    if shape not in SHAPES:
        raise ValueError(f"shape must be one of {', '.join(SHAPES)}, got {shape!r}")
    if shape == "spot":
        angles = _angles(angles, like, shaped)
    elif angles:
        raise ValueError(f"beam_deg and field_deg belong to a spot; {shape} has none")
    cls: Any = {"spot": Beam, "soft": Lambert, "all round": _AllRound}[shape]
    if "lumens" in own:
        return cls.from_lumens(lumens=own["lumens"], **angles)
    return cls(peak_cd=_peak_cd(own, like), **angles)


def shape_of(beam: Beam | Lambert | Photometry) -> str | None:
    """The shape in `SHAPES` that a distribution has, or None for a measured table."""
    if isinstance(beam, Photometry):
        even = len(beam.candela) == 1 and len(set(beam.candela[0])) == 1
        return "all round" if even and tuple(beam.vertical_deg) == (0.0, 180.0) else None
    return "spot" if isinstance(beam, Beam) else "soft"


def _shape(angles, like, soft):
    """The shape of a lamp that does not say."""
    if angles or isinstance(like, Beam):
        return "spot"
    if like is None and not soft:
        raise ValueError("needs beam_deg and field_deg, or a soft face: face_width_m and face_height_m, lit evenly")
    return "soft"


def _angles(angles, like, shaped):
    """Both angles of a spot: its own, then those of the lamp it is, then the assumed field."""
    known = {key: getattr(like, key) for key in ("beam_deg", "field_deg")} if isinstance(like, Beam) else {}
    found = {**known, **angles}
    if "beam_deg" not in found or ("field_deg" not in found and shaped):
        raise ValueError(f"a spot needs beam_deg and field_deg, got {' and '.join(found) or 'neither'}")
    return {"field_deg": assumed_field_deg(found["beam_deg"]), **found}


def _peak_cd(own, like):
    if "at_m" in own:
        return Lambert.from_lux(lux=own["lux"] if "lux" in own else float(lx_from_fc(own["fc"])), at_m=own["at_m"]).peak_cd
    return float(own["peak_cd"]) if "peak_cd" in own else like.peak_cd


def _turned_up(own, table):
    """A measured table scaled to another peak, lux or lumens."""
    if "lumens" in own:
        check_range("lumens", own["lumens"], above=0.0)
        factor = own["lumens"] / table.lumens()
    else:
        factor = Lambert(peak_cd=_peak_cd(own, table)).peak_cd / table.peak_cd
    return replace(table, candela=tuple(tuple(factor * cd for cd in row) for row in table.candela))


class _AllRound:
    """A bare bulb or a lantern: the same every way, lumens = 4 pi I."""

    def __new__(cls, *, peak_cd):
        check_range("peak_cd", peak_cd, above=0.0)
        rows = ((peak_cd, peak_cd),)
        return Photometry(vertical_deg=(0.0, 180.0), horizontal_deg=(0.0,), candela=rows, name="the same all round")

    @classmethod
    def from_lumens(cls, *, lumens):
        """So many lumens, sent every way alike."""
        check_range("lumens", lumens, above=0.0)
        return cls(peak_cd=lumens / (4.0 * math.pi))


def merged(base: Kit, own: Kit) -> Kit:
    """
    A kit with another one's things over it: a name in both, in whatever case, is the other one's.

    Parameters
    ----------
    base, own : Kit

    Returns
    -------
    Kit

    Examples
    --------
    >>> ours = Kit(stuff={"White": Stuff(name="White", reflectance=0.8)})
    >>> stuff("white", kit=merged(default_kit(), ours)).reflectance
    0.8
    """
    kinds = {}
    for kind in (one.name for one in fields(Kit)):
        mine = getattr(own, kind)
        taken = {name.casefold() for name in mine}
        kinds[kind] = {name: one for name, one in getattr(base, kind).items() if name.casefold() not in taken} | mine
    return Kit(**kinds)


@lru_cache(maxsize=1)
def default_kit() -> Kit:
    """The kit of data/kit.toml, read once. Raises KitError if the file is wrong."""
    return read_kit(KIT)


def _found(kind, name, kit):
    """An entry by name; the case does not matter. An unknown name is answered with the known ones."""
    entries = getattr(kit or default_kit(), kind)
    if name in entries:
        return entries[name]
    same = [key for key in entries if key.casefold() == str(name).strip().casefold()]
    if len(same) == 1:
        return entries[same[0]]
    raise KitError(f"no {kind} is called {name!r:.60}; there are {', '.join(entries) or 'none'}")


def lamp(name: str, *, kit: Kit | None = None) -> Lamp:
    """
    A light of the kit by name.

    Parameters
    ----------
    name : str
        As in the kit file; the case does not matter.
    kit : Kit, optional
        Another kit than data/kit.toml, from `read_kit`.

    Returns
    -------
    Lamp

    Raises
    ------
    KitError
        If there is no such name; the sentence lists the names there are.

    Examples
    --------
    >>> lamp("1 kW tungsten spot").kelvin
    3200
    """
    return _found("lamp", name, kit)


def stuff(name: str, *, kit: Kit | None = None) -> Stuff:
    """
    What a board is covered with, by name.

    Parameters
    ----------
    name : str
        As in the kit file; the case does not matter.
    kit : Kit, optional
        Another kit than data/kit.toml, from `read_kit`.

    Returns
    -------
    Stuff

    Raises
    ------
    KitError
        If there is no such name; the sentence lists the names there are.

    Examples
    --------
    >>> stuff("white").reflectance
    0.85
    """
    return _found("stuff", name, kit)


def diffusion(name: str, *, kit: Kit | None = None) -> Diffusion:
    """
    A diffusion by name, or several in a row: "quarter + half".

    Parameters
    ----------
    name : str
        As in the kit file; the case does not matter.
    kit : Kit, optional
        Another kit than data/kit.toml, from `read_kit`.

    Returns
    -------
    Diffusion

    Raises
    ------
    KitError
        If there is no such name; the sentence lists the names there are.

    Notes
    -----
    Of two sheets with shares direct d, all through t and back b, 1 before 2: straight d1 d2, all through t1 t2 / (1 - b1 b2), back
    b1 + t1^2 b2 / (1 - b1 b2), once scattered light being taken as even from both sides.

    References
    ----------
    .. [1] G. G. Stokes, "On the intensity of the light reflected from or transmitted through a pile of plates", Proceedings of
       the Royal Society 11 (1862), 545-556. FROM MEMORY; DERIVED again in the tests by following the light.

    Examples
    --------
    >>> diffusion("half").transmittance
    0.5
    """
    sheets = _in_a_row("diffusion", name, kit)
    return sheets[0] if len(sheets) == 1 else reduce(_behind, sheets)


def _behind(first, second):
    """Two cloths close together as one, light passing to and fro between them."""
    between = 1.0 / (1.0 - first.back * second.back)
    passed, sent = first.transmittance, second.back * between
    return Diffusion(
        name=f"{first.name}{ROW_OF}{second.name}", direct=first.direct * second.direct,
        diffuse=passed * second.transmittance * between - first.direct * second.direct,
        back=first.back + passed * sent * passed, evidence="derived", note="cloths in a row, with what goes to and fro between them",
    )  # fmt: skip


def _in_a_row(kind, name, kit):
    """The sheets of a name such as 'half warm + one stop grey', from the lamp out."""
    if name in getattr(kit or default_kit(), kind):
        return [_found(kind, name, kit)]
    return [_found(kind, one.strip(), kit) for one in str(name).split(ROW_OF)]


def gel(name: str, *, kit: Kit | None = None) -> Gel:
    """
    A gel by name, or several in a row: "half warm + one stop grey".

    Parameters
    ----------
    name : str
        As in the kit file; the case does not matter.
    kit : Kit, optional
        Another kit than data/kit.toml, from `read_kit`.

    Returns
    -------
    Gel

    Raises
    ------
    KitError
        If there is no such name; the sentence lists the names there are.

    Examples
    --------
    >>> gel("full warm").mired_shift
    134
    """
    sheets = _in_a_row("gel", name, kit)
    if len(sheets) == 1:
        return sheets[0]
    try:
        return Gel(
            name=ROW_OF.join(one.name for one in sheets), transmittance=math.prod(one.transmittance for one in sheets),
            mired_shift=sum(one.mired_shift for one in sheets), tint=next((one.tint for one in sheets if one.tint), ""),
            evidence="derived", note="sheets in a row: shares multiplied, shifts added",
        )  # fmt: skip
    except ValueError as error:
        raise KitError(f"gel {name!r:.60}: {error}") from None


def surface(name: str, *, kit: Kit | None = None) -> Surface:
    """
    What a wall, the ground or a figure is made of, by name.

    Parameters
    ----------
    name : str
        As in the kit file; the case does not matter.
    kit : Kit, optional
        Another kit than data/kit.toml, from `read_kit`.

    Returns
    -------
    Surface

    Raises
    ------
    KitError
        If there is no such name; the sentence lists the names there are.

    Examples
    --------
    >>> surface("old timber").reflectance
    0.2
    """
    return _found("surface", name, kit)
