"""
What a shoot file may say, and the scene it says: TOML text to frozen, checked parts.

Nothing in a file is ever run. Everything unknown or impossible is refused in one sentence that starts with
the file and the thing.
"""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from dataclasses import dataclass, replace
from difflib import get_close_matches
from pathlib import Path

from lightcalc.kit import materials
from lightcalc.kit.candela import Beam, Lambert, Photometry
from lightcalc.kit.droplets import PRESETS
from lightcalc.kit.lm63 import read_photometry
from lightcalc.laws import haze
from lightcalc.laws.engraved import t_stop_as_typed
from lightcalc.scene.parts import (
    MOST,
    Board,
    Camera,
    Exterior,
    Flag,
    Frame,
    Haze,
    HazeMachine,
    Light,
    Mark,
    Room,
    SceneError,
    Setup,
    Shoot,
    Sky,
    Spot,
    Sun,
    Target,
    Window,
)  # fmt: skip
from lightcalc.units import FT, lx_from_fc

LIMIT_BYTES = 1_000_000  # the demo shoot is 20 kB
LIMIT_LINE = 2_000  # characters in a line; the reader's time grows with the square of a line of dots
LIMIT_TEXT, LIMIT_NOTES = 300, 20_000  # characters in a name or title; in notes


class ShootError(ValueError):
    """A shoot file that cannot be read or written: one sentence with file, thing, field, value and what would do."""


# --- what a file may hold ------------------------------------------------------------------------------------
# One line a field: its kind decides what is accepted and how it is written back. A length `x_m` may be given
# as `x_ft` instead; `at` and `aim` are in metres, or in feet where the file says lengths = "feet".

_PLACED = {"name": "text", "at": "point", "aim": "point"}
_SHEET = {**_PLACED, "width_m": "length", "height_m": "length", "roll_deg": "number"}
LISTS = ("lights", "boards", "flags", "frames", "marks", "spots", "targets")
KEYS = {
    "shoot": {
        "title": "text", "units": "text", "lengths": "text", "days": "whole", "notes": "notes",
        "latitude_deg": "number", "longitude_deg": "number", "time_zone": "text", "dates": "dates", "horizon": "rows",
        "haze_machine": "table", "camera": "table", "rooms": "table", "exteriors": "table", "setups": "tables",
    },
    "room": {
        "width_m": "length", "depth_m": "length", "height_m": "length", "floor": "share", "ceiling": "share",
        "left": "share", "right": "share", "near": "share", "far": "share", "bearing_deg": "number",
        "outside_ground": "share", "air_changes_per_h": "number", "windows": "tables",
    },
    "window": {
        "name": "text", "wall": "text", "centre_m": "length", "sill_m": "length", "width_m": "length",
        "height_m": "length", "glass": "number", "sheer": "diffusion", "bars_upright": "whole",
        "bars_across": "whole", "bar_m": "length",
    },
    "exterior": {"width_m": "length", "depth_m": "length", "ground": "share", "bearing_deg": "number"},
    "setup": {
        "name": "text", "title": "text", "day": "whole", "place": "text", "cuts_to": "text", "key": "names",
        "time": "text", "outlook": "text", "notes": "notes", "haze": "table", "sun": "table", "sky": "table",
        "camera": "table",
        **dict.fromkeys(LISTS, "tables"),
    },
    "camera": {
        "at": "point", "aim": "point", "focal_mm": "number", "sensor_width_mm": "number",
        "sensor_height_mm": "number", "t_stop": "number", "iso": "number", "fps": "number", "shutter_deg": "number",
        "shutter_s": "number", "nd_stops": "number", "range_over_stops": "number", "range_under_stops": "number",
        "pixel_um": "number", "quantum_efficiency": "number", "read_noise_e": "number", "photons_per_lx_s_um2": "number",
        "balance_kelvin": "number",
    },
    "light": {
        **_PLACED, "kit": "text", "peak_cd": "number", "lumens": "number", "lux": "number", "fc": "number",
        "at_m": "length", "photometry": "text", "beam_deg": "number", "field_deg": "number",
        "face_width_m": "length", "face_height_m": "length", "dim": "number", "gel": "gel",
        "diffusion": "diffusion", "watts": "number", "kelvin": "number", "roll_deg": "number", "evidence": "text",
    },
    "board": {**_SHEET, "stuff": "stuff"},
    "flag": {**_SHEET, "reflectance": "share"},
    "frame": {**_SHEET, "diffusion": "diffusion"},
    "mark": {**_PLACED, "receptor": "text", "figure": "yes", "reflectance": "share", "body": "share"},
    "spot": {"name": "text", "at": "point", "source": "text"},
    "haze": {
        "extinction_per_m": "number", "visibility_m": "length", "loss_percent_per_m": "number", "g": "number",
        "droplets": "text",
    },
    "haze_machine": {"fluid_g_per_min": "number", "droplet_share": "number", "fluid": "text"},
    "sun": {"bearing_deg": "number", "elevation_deg": "number", "normal_lx": "number", "kelvin": "number"},
    "sky": {"zenith_cd_m2": "number", "horizon_cd_m2": "number", "kelvin": "number"},
    "target": {"of": "text", "quantity": "text", "stops": "number", "within": "number"},
}  # fmt: skip
CLASS = {
    "window": Window, "camera": Camera, "light": Light, "board": Board, "flag": Flag, "frame": Frame, "mark": Mark,
    "spot": Spot, "haze": Haze, "haze_machine": HazeMachine, "sun": Sun, "sky": Sky, "target": Target, "room": Room,
    "exterior": Exterior, "setup": Setup, "shoot": Shoot,
}  # fmt: skip
_WANTED = {
    "text": "a text in quotes", "notes": "a text in quotes", "number": "a number", "length": "a number",
    "whole": "a whole number", "yes": "true or false", "point": "a point [x, y, z] of three numbers",
    "names": "a list of names in quotes", "table": "a table", "tables": "a list of tables",
    "share": "a reflectance from 0 to 0.98 or the name of a surface", "stuff": "the name of a board's stuff",
    "diffusion": "the name of a diffusion", "gel": "the name of a gel", "dates": "a list of dates such as 2028-08-20",
    "rows": "a list of [bearing, height] rows of two numbers",
}  # fmt: skip
_MUST = {
    "shoot": ("title", "setups"), "room": ("width_m", "depth_m", "height_m"), "exterior": ("width_m", "depth_m"),
    "window": ("name", "wall", "centre_m", "sill_m", "width_m", "height_m"), "setup": ("name", "place", "camera"),
    "camera": ("at", "aim"), "light": ("name", "at", "aim"), "board": ("name", "at", "aim", "width_m", "height_m", "stuff"),
    "flag": ("name", "at", "aim", "width_m", "height_m"), "mark": ("name", "at", "aim"), "spot": ("name", "at"),
    "frame": ("name", "at", "aim", "width_m", "height_m", "diffusion"), "haze": (),
    "haze_machine": ("fluid_g_per_min", "droplet_share"),
    "sun": ("bearing_deg", "elevation_deg", "normal_lx"), "sky": ("zenith_cd_m2", "horizon_cd_m2"),
    "target": ("of", "quantity", "stops"),
}  # fmt: skip
POWERS = ("peak_cd", "lumens", "lux", "fc", "photometry")  # how strong a light is: one of these
SOMEWHERE = {"at": [0, 0, 1], "aim": [0, 1, 1]}
_AIRS = ("extinction_per_m", "visibility_m", "loss_percent_per_m")  # how thick the air is: one of these


@dataclass(frozen=True)
class Edge:
    """What the reader must know about the file it stands at: its name, its folder, its lengths."""

    file: str
    folder: Path | None = None
    foot_m: float = 1.0  # metres in one unit of `at` and `aim`

    def refuse(self, where, sentence):
        """
        The error for this file; the caller raises it.

        Parameters
        ----------
        where : str
            The thing: "setup '1', light 'key'"; empty for the file itself.
        sentence : str
            Field, value, and what would be accepted.

        Returns
        -------
        ShootError
        """
        return ShootError(f"{self.file}: {where}: {sentence}" if where else f"{self.file}: {sentence}")

    def made(self, part, within="", /, **values):  # a target has a field `within` of its own, hence the slash
        """
        A part of the scene; what it finds wrong with itself is said with the file and where it stands.

        Parameters
        ----------
        part : type
            A class of `scene`.
        within : str, default ""
            What the part is in: "setup '1'".
        **values
            Its fields.

        Returns
        -------
        part

        Raises
        ------
        ShootError
            If the part cannot be.
        """
        try:
            return part(**values)
        except SceneError as error:
            raise self.refuse("", f"{within}, {error}" if within else str(error)) from None


def loads(text, name="shoot", folder=None):
    """
    Read a shoot from text.

    Parameters
    ----------
    text : str
        TOML, at most 1 MB.
    name : str, default "shoot"
        What errors call it.
    folder : Path, optional
        Where photometric files named in it lie; without it they are refused.

    Returns
    -------
    Shoot

    Raises
    ------
    ShootError
        If it holds anything unknown or impossible, in one sentence.

    Examples
    --------
    >>> try:
    ...     loads('titel = "Low Tide"')
    ... except ShootError as error:
    ...     print(error)
    shoot: no field 'titel'; did you mean 'title'?
    """
    tables = _tables(text, name)
    edge = Edge(file=name, folder=folder)
    values = _values(edge, "", tables, "shoot")
    lengths = values.pop("lengths", "metres")
    if lengths not in ("metres", "feet"):
        raise edge.refuse("", f"lengths must be 'metres' or 'feet', got {_show(lengths)}")
    edge = Edge(file=name, folder=folder, foot_m=FT if lengths == "feet" else 1.0)
    package = camera_package(edge, values.pop("camera", {}))
    places = places_by_name(edge, values.pop("rooms", {}), values.pop("exteriors", {}))
    tables = values.pop("setups")
    if not tables:
        raise edge.refuse("", "needs at least one setup under [[setups]]")
    setups = tuple(_setup(edge, index, table, package, places) for index, table in enumerate(tables, 1))
    if "haze_machine" in values:
        machine = _values(edge, "haze_machine", values["haze_machine"], "haze_machine")
        values["haze_machine"] = edge.made(HazeMachine, **machine)
    values.setdefault("days", max(setup.day for setup in setups))
    return edge.made(Shoot, setups=setups, **values)


def _tables(text, name):
    """Bounded TOML as plain dicts; what is wrong with it is said with its line."""
    if len(text) > LIMIT_BYTES:
        raise ShootError(f"{name}: a shoot file may have {LIMIT_BYTES:,} characters, got {len(text):,}")
    for number, line in enumerate(text.split("\n"), 1):
        if len(line) > LIMIT_LINE:
            raise ShootError(f"{name}, line {number}: a line may have {LIMIT_LINE:,} characters, got {len(line):,}")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise ShootError(f"{name}: nested too deeply; a shoot file needs four levels") from None
    except ValueError as error:
        raise ShootError(_syntax(str(error), text, name)) from None


def _syntax(said, text, name):
    """The TOML reader's complaint as one sentence that starts with file and line."""
    found = re.search(r" \(at line (\d+), column (\d+)\)$", said)
    line = int(found[1]) if found else text.rstrip("\n").count("\n") + 1
    said = re.sub(r" \(at [^()]*\)$", "", said)
    column = f" (column {found[2]})" if found else " (the text ends too early)"
    return f"{name}, line {line}: not TOML: {said[:1].lower() + said[1:]}{column}"


def _show(value):
    """A value as a person wrote it, short, however large or deep it is."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return repr(value if len(value) <= 40 else value[:37] + "...")
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        plain = len(value) <= 4 and all(isinstance(v, (int, float, str)) for v in value)
        return f"[{', '.join(_show(v) for v in value)}]" if plain else f"a list of {len(value)}"
    if isinstance(value, int) and abs(value) >= 10**15:
        return "a very large number"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _near(wrong, known, lead="did you mean"):
    """'; did you mean X?', or what there is."""
    close = get_close_matches(str(wrong)[:60], known, n=1, cutoff=0.6)
    return f"; {lead} '{close[0]}'?" if close else f"; it takes {', '.join(known)}"


def _number(value):
    return isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) < 1e15  # NaN fails too


def _pair(value):
    return isinstance(value, list) and len(value) == 2 and all(_number(x) for x in value)


def _text(value, most, controls=""):
    return isinstance(value, str) and len(value) <= most and all(c.isprintable() or c in controls for c in value)


def _values(edge, where, table, kind):
    """A table's values, each checked against its kind; lengths in metres, points in metres, names looked up."""
    values, keys = {}, KEYS[kind]
    for key, value in table.items():
        name = key
        if key not in keys:
            name = key[:-3] + "_m"
            if not key.endswith("_ft") or keys.get(name) != "length":
                raise edge.refuse(where, f"no field '{key[:60]}'{_near(key, list(keys))}")
        if name in values:
            raise edge.refuse(where, f"give {name} or {name[:-2]}_ft, not both")
        checked = _value(edge, where, key, value, keys[name])
        values[name] = checked if name == key else checked * FT
    for key in _MUST[kind]:
        if key not in values:
            raise edge.refuse(where, f"needs {key}, {_WANTED[keys[key]]}")
    return values


def _value(edge, where, key, value, kind):
    """One value of a kind, or one sentence."""
    good = {
        "text": lambda v: _text(v, LIMIT_TEXT),
        "notes": lambda v: _text(v, LIMIT_NOTES, controls="\n\t"),
        "number": _number,
        "length": _number,
        "whole": lambda v: isinstance(v, int) and _number(v),
        "yes": lambda v: isinstance(v, bool),
        "point": lambda v: isinstance(v, list) and len(v) == 3 and all(_number(x) for x in v),
        "names": lambda v: isinstance(v, list) and len(v) <= MOST and all(_text(x, LIMIT_TEXT) for x in v),
        "dates": lambda v: isinstance(v, list) and len(v) <= MOST and all(type(x) is dt.date for x in v),
        "rows": lambda v: isinstance(v, list) and len(v) <= 360 and all(_pair(x) for x in v),
        "table": lambda v: isinstance(v, dict),
        "tables": lambda v: isinstance(v, list) and len(v) <= MOST and all(isinstance(x, dict) for x in v),
        "share": lambda v: _number(v) or _text(v, LIMIT_TEXT),
    }.get(kind, lambda v: _text(v, LIMIT_TEXT))
    if not good(value):
        raise edge.refuse(where, f"{key} must be {_wanted(kind, value)}, got {_show(value)}")
    if kind == "point":
        return tuple(float(v) * edge.foot_m for v in value)
    if kind in ("number", "length"):
        return float(value)
    if kind in ("names", "dates"):
        return tuple(value)
    if kind == "rows":
        return tuple((float(bearing), float(height)) for bearing, height in value)
    if kind == "share":
        return _named(edge, where, key, "surface", value) if isinstance(value, str) else float(value)
    return _named(edge, where, key, kind, value) if kind in ("stuff", "diffusion", "gel") else value


def _wanted(kind, value):
    """What would be accepted; says the bound where the value is of the right kind but too much of it."""
    if isinstance(value, list) and kind in ("tables", "names") and len(value) > MOST:
        return f"{_WANTED[kind]}, at most {MOST}"
    if isinstance(value, str) and kind in ("text", "notes"):
        most = LIMIT_NOTES if kind == "notes" else LIMIT_TEXT
        return f"at most {most:,} characters" if len(value) > most else "text without control characters"
    return "a finite number" if isinstance(value, float) and not _number(value) else _WANTED[kind]


def _named(edge, where, key, kind, name):
    """Look a name up in the kit."""
    try:
        found = getattr(materials, kind)(name)
    except materials.KitError:
        known = list(getattr(materials.default_kit(), kind))
        raise edge.refuse(where, f"{key}: no {kind} of the kit is called {_show(name)}{_near(name, known)}") from None
    return found.reflectance if kind == "surface" else found


def _label(kind, index, table):
    """How errors call a part: by its name, or by its place in the list while it has none."""
    name = table.get("name")
    return f"{kind} '{name[:60]}'" if isinstance(name, str) and name.isprintable() else f"{kind} {index}"


def camera_package(edge, table):
    """
    The camera package: what every setup's camera starts from.

    Parameters
    ----------
    edge : Edge
        The file.
    table : dict
        [camera], without at and aim.

    Returns
    -------
    dict
        Its values, checked.

    Raises
    ------
    ShootError
        If a value cannot be, or the package has a place.
    """
    for key in ("at", "aim"):
        if key in table:
            raise edge.refuse("camera", f"{key} belongs to a setup's own camera, under [setups.camera]")
    values = _values(edge, "camera", {**table, **SOMEWHERE}, "camera")
    camera_over(edge, "", SOMEWHERE, values)  # refused here, where it is written, and not in the first setup
    return {key: value for key, value in values.items() if key not in SOMEWHERE}


def places_by_name(edge, rooms, exteriors):
    """
    Rooms and exteriors by name.

    Parameters
    ----------
    edge : Edge
        The file.
    rooms, exteriors : dict
        [rooms.NAME] and [exteriors.NAME].

    Returns
    -------
    dict
        Room or Exterior by name.

    Raises
    ------
    ShootError
        If one cannot be, or two share a name.
    """
    places = {}
    for kind, tables in (("room", rooms), ("exterior", exteriors)):
        if len(tables) > MOST:
            raise edge.refuse("", f"at most {MOST} {kind}s, got {len(tables)}")
        for name, table in tables.items():
            me = f"{kind} '{name[:60]}'"
            if not isinstance(table, dict):
                raise edge.refuse(me, f"must be a table under [{kind}s.NAME], got {_show(table)}")
            if not _text(name, 60) or not name.strip():
                raise edge.refuse("", f"every {kind} needs a name of 1 to 60 characters, got {_show(name)}")
            if name in places:
                raise edge.refuse(me, "an exterior must not have the name of a room")
            values = _values(edge, me, table, kind)
            if kind == "room":
                windows = enumerate(values.pop("windows", []), 1)
                values["windows"] = tuple(_part(edge, "window", index, t, me) for index, t in windows)
            places[name] = edge.made(CLASS[kind], name=name, **values)
    return places


def _part(edge, kind, index, table, within):
    """A part that is in the scene just as it is in the file."""
    me = f"{within}, {_label(kind, index, table)}"
    return edge.made(CLASS[kind], within, **_values(edge, me, table, kind))


def _setup(edge, index, table, package, places):
    """One setup, with its camera over the package and its place by name."""
    me = _label("setup", index, table)
    values = _values(edge, me, table, "setup")
    place = values.pop("place")
    if place not in places:
        there = f"it must be one of {', '.join(places)}" if places else "the file has no rooms or exteriors"
        raise edge.refuse(me, f"place {_show(place)} is not in this file; {there}")
    values["camera"] = camera_over(edge, me, values["camera"], package)
    for kind, reader in (("haze", _haze), ("sun", _sky), ("sky", _sky)):
        if kind in values:
            values[kind] = reader(edge, me, kind, values[kind])
    for key in LISTS:
        kind = key[:-1]
        reader = _light if kind == "light" else _part
        values[key] = tuple(reader(edge, kind, i, t, me) for i, t in enumerate(values.get(key, ()), 1))
    return edge.made(Setup, place=places[place], title=values.pop("title", ""), **values)


def _sky(edge, within, kind, table):
    """Sun or sky."""
    return edge.made(CLASS[kind], within, **_values(edge, f"{within}, {kind}", table, kind))


def _haze(edge, within, kind, table):
    """Haze from whichever of the three ways of saying it the file uses."""
    me = f"{within}, haze"
    values = _values(edge, me, table, "haze")
    if _one_of(edge, me, values, _AIRS, most=1) and "extinction_per_m" not in values:
        try:
            if "visibility_m" in values:
                thick = haze.extinction_from_visibility(visibility_m=values.pop("visibility_m"))
            else:
                thick = haze.extinction_from_loss_per_m(loss_percent=values.pop("loss_percent_per_m"))
        except ValueError as error:
            raise edge.refuse(me, str(error)) from None
        values["extinction_per_m"] = float(thick)
    if "g" in values and "droplets" in values:
        raise edge.refuse(me, "give g or droplets, not both")
    if values.get("droplets", next(iter(PRESETS))) not in PRESETS:
        raise edge.refuse(me, f"droplets must be one of {', '.join(PRESETS)}, got {_show(values['droplets'])}")
    return edge.made(Haze, within, **values)


def _one_of(edge, me, values, names, most):
    """The one of these that is given, or None; two are refused."""
    given = [name for name in names if name in values]
    if len(given) > most:
        raise edge.refuse(me, f"give one of {', '.join(names)}, got {' and '.join(given)}")
    return given[0] if given else None


def camera_over(edge, within, table, package):
    """
    A setup's camera: its own fields over the package; an engraved stop and a shutter time become exact.

    Parameters
    ----------
    edge : Edge
        The file.
    within : str
        The setup, for errors; empty for the package itself.
    table : dict
        [setups.camera].
    package : dict
        From `camera_package`.

    Returns
    -------
    Camera

    Raises
    ------
    ShootError
        If a value cannot be.
    """
    me = f"{within}, camera" if within else "camera"
    own = _values(edge, me, table, "camera")
    shutter = ("shutter_deg", "shutter_s")
    if _one_of(edge, me, own, shutter, most=1):
        package = {key: value for key, value in package.items() if key not in shutter}
    values = {**package, **own}
    _one_of(edge, me, values, shutter, most=1)
    if "t_stop" in values:
        values["t_stop"] = t_stop_as_typed(number=values["t_stop"])
    if "shutter_s" in values:
        values["shutter_deg"] = 360.0 * values.get("fps", Camera.fps) * values.pop("shutter_s")
    return edge.made(Camera, within, **values)


def _light(edge, kind, index, table, within):
    """A light: from the kit, from its own numbers, or from the kit with its own numbers on top."""
    me = f"{within}, {_label(kind, index, table)}"
    values = _values(edge, me, table, "light")
    lamp = _named(edge, me, "kit", "lamp", values["kit"]) if "kit" in values else None
    power = _one_of(edge, me, values, POWERS, most=1)
    if lamp is None and power is None:
        raise edge.refuse(me, "needs kit, or one of peak_cd, lumens, lux or fc with at_m, or photometry")
    if ("at_m" in values) != (power in ("lux", "fc")):
        raise edge.refuse(me, "lux or fc and at_m go together: so much light at so many metres from the face")
    own = {key: values.pop(key) for key in POWERS + ("at_m", "beam_deg", "field_deg") if key in values}
    start = from_kit(lamp)
    values = {**start, **values}
    try:
        if own:
            values["distribution"] = _distribution(edge, me, own, values, start.get("distribution"))
    except ValueError as error:
        raise error if isinstance(error, ShootError) else edge.refuse(me, str(error)) from None
    return edge.made(Light, within, **values)


def from_kit(lamp):
    """What a lamp of the kit brings to a light, before the light's own fields."""
    if lamp is None:
        return {}
    same = ("face_width_m", "face_height_m", "watts", "kelvin")
    return {"distribution": lamp.beam, **{key: getattr(lamp, key) for key in same}}


def _distribution(edge, me, own, values, kit):
    """Candela from a light's own numbers; what they leave out comes from the kit's beam."""
    if "photometry" in own:
        if "beam_deg" in own or "field_deg" in own:
            raise edge.refuse(me, "photometry brings its own angles; take beam_deg and field_deg away")
        return _photometry(edge, me, own["photometry"])
    if isinstance(kit, Photometry):
        return _turned_up(edge, me, own, kit)
    angles = {"beam_deg": own.get("beam_deg"), "field_deg": own.get("field_deg")}
    if isinstance(kit, Beam):
        angles = {key: own.get(key, getattr(kit, key)) for key in angles}
    given = [key for key, angle in angles.items() if angle is not None]
    if len(given) == 1:
        raise edge.refuse(me, f"beam_deg and field_deg go together, got only {given[0]}")
    if not given and kit is None and not values.get("face_width_m"):
        raise edge.refuse(me, "needs beam_deg and field_deg, or a soft face: face_width_m and face_height_m, lit evenly")
    cls, angles = (Beam, angles) if given else (Lambert, {})
    if "lumens" in own:
        return cls.from_lumens(lumens=own["lumens"], **angles)
    if "at_m" in own:
        lux = own["lux"] if "lux" in own else float(lx_from_fc(own["fc"]))
        return cls.from_lux(lux=lux, at_m=own["at_m"], **angles)
    peak_cd = own.get("peak_cd", getattr(kit, "peak_cd", None))
    return cls(peak_cd=peak_cd, **angles)


def _turned_up(edge, me, own, table):
    """A measured lamp of the kit, its table scaled to the light's own peak, lumens or lux."""
    if "beam_deg" in own or "field_deg" in own:
        raise edge.refuse(me, "beam_deg and field_deg do not belong to a lamp that is measured or shines all round")
    like = Lambert(peak_cd=table.peak_cd) if "lumens" not in own else None
    wanted = own["lumens"] if like is None else _distribution(edge, me, own, {}, like).peak_cd
    factor = wanted / (table.lumens() if like is None else table.peak_cd)
    return replace(table, candela=tuple(tuple(factor * cd for cd in row) for row in table.candela))


def _photometry(edge, me, name):
    """A measured table from a file in the shoot file's own folder or below it, and from nowhere else."""
    if edge.folder is None:
        raise edge.refuse(me, f"photometry {_show(name)} needs a shoot file on disk, in whose folder it lies")
    folder = Path(edge.folder).resolve()
    try:
        path = (folder / name).resolve()
        if not path.is_relative_to(folder) or Path(name).is_absolute():
            raise edge.refuse(me, f"photometry must lie in the shoot file's folder, got {_show(name)}")
        if not path.is_file():
            raise edge.refuse(me, f"photometry {_show(name)} is not there; it is looked for beside the shoot file")
        if path.stat().st_size > LIMIT_BYTES:
            raise edge.refuse(me, f"photometry {_show(name)} may have {LIMIT_BYTES:,} bytes")
        return read_photometry(path)
    except OSError as error:
        raise edge.refuse(me, f"photometry {_show(name)} cannot be read: {error.strerror}") from None
