"""
What a shoot file may say, and the scene it says: TOML text to frozen, checked parts.

Nothing in a file is ever run. What a table may hold follows from the fields of its part (`fields.keys`). Everything unknown
or impossible is refused: all of it in one run, each in one sentence with file, line and thing.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from lightcalc.kit import materials
from lightcalc.kit.candela import Lambert
from lightcalc.kit.lm63 import read_photometry
from lightcalc.laws.engraved import t_stop_as_typed
from lightcalc.scene import shoot_lines
from lightcalc.scene.fields import MOST, NUMBERS, Part, Quantity, is_number, keys, quantities, show
from lightcalc.scene.own_kit import inside, kit_beside
from lightcalc.scene.parts import (
    Board,
    Camera,
    Circuit,
    Exterior,
    Flag,
    Frame,
    Haze,
    HazeMachine,
    Light,
    Mark,
    Piece,
    Room,
    Setup,
    Sky,
    Spot,
    Sun,
    Target,
    Window,
    from_kit,
)  # fmt: skip
from lightcalc.scene.shoot import Shoot
from lightcalc.scene.shoot_lines import LIMIT_BYTES, UNREAD
from lightcalc.units import FT
from lightcalc.wording import near, nearest

if TYPE_CHECKING:
    Made = TypeVar("Made", bound=Part)


class FileFault(NamedTuple):
    """What is wrong with a file, in one sentence, and the line it is on, or None."""

    line: int | None
    sentence: str


class ShootError(ValueError):
    """A shoot file that cannot be read or written: `faults`, a `FileFault` each, sorted by line; as text, one line each."""

    def __init__(self, *faults: FileFault | str) -> None:
        self.faults = tuple(fault if isinstance(fault, FileFault) else FileFault(None, fault) for fault in faults)
        super().__init__("\n".join(fault.sentence for fault in self.faults))


CLASS = {
    part.kind: part
    for part in (
        Shoot, HazeMachine, Room, Window, Circuit, Exterior, Setup, Haze, Sun, Sky, Camera, Light, Board, Flag, Frame, Piece, Mark, Spot, Target,
    )
}  # fmt: skip
FROM_TIME, NONE = "from time", "none"  # what may stand for a sun or a sky
LISTS = ("lights", "boards", "flags", "frames", "pieces", "marks", "spots", "targets")
POWERS = (*materials.POWERS, "photometry")  # how strong a light is: one of these
SOMEWHERE = {"at": [0, 0, 1], "aim": [0, 1, 1]}
_LIGHT_KEYS = tuple(quantities(Light)["distribution"].ways[0].keys)
_FRAMEWORK = {  # what only the file has: how its lengths are meant, and what its setups share
    "lengths": Quantity(kind="text", choices=("metres", "feet"), default="metres"),
    "camera": Quantity(kind="one", default=None),
    "rooms": Quantity(kind="one", default=None),
    "exteriors": Quantity(kind="one", default=None),
}
_WANTED = {
    **dict.fromkeys(NUMBERS, "a number"), "whole": "a whole number", "yes": "true or false", "name": "a text in quotes",
    "text": "a text in quotes", "notes": "a text in quotes", "place": "the name of a room or exterior in quotes",
    "point": "a point [x, y, z] of three numbers", "aim": "a point [x, y, z] of three numbers or the name of a mark",
    "names": "a list of names in quotes", "dates": "a list of dates such as 2028-08-20",
    "rows": "a list of [bearing, height] rows of two numbers", "points": "a list of points [x, y, z] of three numbers", "one": "a table", "many": "a list of tables",
    "share": "the name of a surface or a number", "dim": "stops in quotes such as '-2 stops', or a number",
    "stuff": "the name of a board's stuff", "diffusion": "the name of a diffusion", "gel": "the name of a gel",
}  # fmt: skip
_MOST = {"names": MOST, "dates": MOST, "many": MOST, "points": MOST, "rows": 360}  # items of a list
_STOPS = re.compile(r"\s*([-+\u2212]?)\s*(\d+(?:\.\d+)?)\s*stops?\s*")


def _typed_number(value):
    return is_number(value) and not (isinstance(value, int) and abs(value) >= 10**15)


def _list_of(good, size=None):
    return lambda value: isinstance(value, list) and size in (None, len(value)) and all(good(v) for v in value)


def _is_text(value):
    return isinstance(value, str)


_POINT = _list_of(_typed_number, 3)
_TYPED = {  # the values of TOML that a kind takes; all others are texts
    **dict.fromkeys(NUMBERS, _typed_number),
    "whole": lambda value: isinstance(value, int) and _typed_number(value),
    "yes": lambda value: isinstance(value, bool),
    "point": _POINT,
    "aim": lambda value: _POINT(value) or _is_text(value),
    "names": _list_of(_is_text),
    "dates": _list_of(lambda value: type(value) is dt.date),
    "rows": _list_of(_list_of(_typed_number, 2)),
    "points": _list_of(_POINT),
    "one": lambda value: isinstance(value, dict),
    "many": _list_of(lambda value: isinstance(value, dict)),
    "share": lambda value: _typed_number(value) or _is_text(value),
    "dim": lambda value: _typed_number(value) or (_is_text(value) and _STOPS.fullmatch(value) is not None),
}


@dataclass
class Edge:
    """
    What the reader knows of the file it stands at: its name, folder and lengths, and what it found wrong so far.

    A path leads from the top of the file to a field: ``("setups", 0, "camera", "t_stop")``.
    """

    file: str
    folder: Path | None = None
    foot_m: float = 1.0  # metres in one unit of `at` and `aim`
    faults: list = field(default_factory=list)  # (path, sentence)
    bad: set = field(default_factory=set)  # paths without a value that can be used
    kit: materials.Kit = field(default_factory=materials.default_kit)  # the package's, or with the crew's own over it
    mended: bool = False  # whether the text had lines that could not be read, of which `UNREAD` is left
    typed: dict = field(default_factory=dict)  # the path of a field as the file says it: width_ft for width_m

    def fault(self, path: tuple, where: str, sentence: str, rests: Sequence[tuple] = ()) -> None:
        """
        Note a fault, unless it is the consequence of one noted before.

        Parameters
        ----------
        path : tuple
            Of the field.
        where : str
            The thing: "setup '1', light 'key'"; empty for the file itself.
        sentence : str
            Field, value, and what would be accepted.
        rests : sequence of tuple
            Paths of what else it rests on.
        """
        if not any(one[:size] in self.bad for one in (path, *rests) for size in range(1, len(one) + 1)):
            self.faults.append((path, f"{where}: {sentence}" if where else sentence))
        self.bad.add(path)

    def sound(self, path: tuple) -> bool:
        """Whether nothing was wrong with a field, or with anything in a table."""
        return not any(one[: len(path)] == path for one in self.bad)

    def made(self, path: tuple, within: str, part: type[Made], values: dict) -> Made:
        """
        A part of the scene; what it finds wrong with itself is noted.

        Parameters
        ----------
        path : tuple
            Of its table.
        within : str
            What the part is in: "setup '1'".
        part : type
            A class of `parts`.
        values : dict
            Its fields; something stands in for what the file could not say.

        Returns
        -------
        Part
        """
        lacking = {name: _stand_in(name, about, path) for name, about in quantities(part).items() if about.default is ...}  # type: ignore[arg-type]
        made = part.unchecked(**{**lacking, **values})
        for sentence, at, rests in made.faults():
            sentence = f"{within}, {sentence}" if within else sentence
            self.fault(path + at, "", sentence, [path + rest for rest in rests])
        return made

    def error(self, text: str, early: Sequence[tuple[int | None, str]] = ()) -> ShootError:
        """
        The error with all faults, sorted by line.

        Parameters
        ----------
        text : str
            The file's.
        early : sequence of (int, str), optional
            Lines and sentences about the text's form.

        Returns
        -------
        ShootError
        """
        lines = shoot_lines.line_numbers(text) if self.faults else {}
        found = [*early, *((shoot_lines.line_of(lines, self.typed.get(path, path)), said) for path, said in self.faults)]
        return _error(self.file, found)


def _error(name, found):
    found = sorted(dict.fromkeys(found), key=lambda fault: fault[0] or 0)
    return ShootError(*(FileFault(n, f"{name}, line {n}: {said}" if n else f"{name}: {said}") for n, said in found))


def _stand_in(name, about, path):
    """A value for a field that the file could not say, so that the rest can be looked at; such a shoot is never given out."""
    if about.kind == "name":
        return f"(no name {path[-1]})"
    if about.kind in ("point", "aim"):
        return (0.0, float(about.kind == "aim"), 1.0)
    if about.kind in ("stuff", "diffusion"):
        return next(iter(getattr(materials.default_kit(), about.kind).values()))
    if about.kind in NUMBERS:
        return next(v for v in (1.0, about.high, about.low) if about.wrong(name, v) is None)
    others = {"distribution": Lambert(peak_cd=1.0), "place": Exterior(name="?", width_m=1e3, depth_m=1e3), "many": ()}
    others["one"] = Camera.unchecked(at=(0.0, 0.0, 1.0), aim=(0.0, 1.0, 1.0))
    return others.get(about.kind, about.choices[0] if about.choices else "?")


def loads(text: str, name: str = "shoot", folder: Path | None = None) -> Shoot:
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
        If it holds anything unknown or impossible: all of that, a sentence each.

    Examples
    --------
    >>> try:
    ...     loads('titel = "Low Tide"\\nsetups = []')
    ... except ShootError as error:
    ...     print(error)
    shoot, line 1: no field 'titel'; did you mean 'title'?
    shoot, line 2: needs at least one setup under [[setups]]
    """
    try:
        tables, early, text = shoot_lines.tables(text)
    except shoot_lines.Unreadable as error:
        raise _error(name, error.faults) from None
    edge = Edge(file=name, folder=folder, foot_m=FT if tables.get("lengths") == "feet" else 1.0, mended=bool(early))
    use_own_kit(edge, tables)
    shoot = _shoot(edge, tables)
    if edge.faults or early:
        raise edge.error(text, early)
    return shoot


def use_own_kit(edge: Edge, tables: dict) -> None:
    """
    Look names up in the kit beside the file, if there is one; what is wrong with it is noted.

    Parameters
    ----------
    edge : Edge
        The file; its kit is set.
    tables : dict
        The file's.
    """
    named = tables.get("kit", "")
    try:
        edge.kit = kit_beside(edge.folder, named if isinstance(named, str) and named != UNREAD else "").whole
    except materials.KitError as error:
        edge.fault(("kit",), "", str(error))


def _shoot(edge, tables):
    values = _values(edge, (), "", tables, Shoot)
    values.pop("lengths", None)
    package = camera_package(edge, values.pop("camera", {}))
    places = places_by_name(edge, values.pop("rooms", {}), values.pop("exteriors", {}))
    values = _said(edge, (), "", values, Shoot)
    if values.get("setups") == []:
        edge.fault(("setups",), "", "needs at least one setup under [[setups]]")
    setups = enumerate(values.pop("setups", ()))
    values["setups"] = tuple(_setup(edge, ("setups", index), table, package, places) for index, table in setups)
    if "haze_machine" in values:
        values["haze_machine"] = _part(edge, ("haze_machine",), "", HazeMachine, values["haze_machine"])
    if edge.sound(("days",)):
        values.setdefault("days", max([setup.day for setup in values["setups"]], default=1))
    return edge.made((), "", Shoot, values)


def _values(edge, path, where, table, part):
    """A table's values, each checked against its field; lengths in metres, points in metres, names looked up."""
    values, seen, known = {}, set(), keys(part) | (_FRAMEWORK if part is Shoot else {})
    for key, raw in table.items():
        name = key[:-3] + "_m" if key not in known and key.endswith("_ft") else key
        if name not in known or (name != key and known[name].kind != "length"):
            edge.fault((*path, key), where, f"no field {show(key)}{near(key, list(known))}")
            edge.bad.add((*path, nearest(key, list(known))))  # what was meant is not missing
        elif name in seen:
            edge.fault((*path, key), where, f"give {name} or {name[:-2]}_ft, not both")
        else:
            seen.add(name)
            edge.typed[*path, name] = (*path, key)
            value = _value(edge, (*path, name), where, key, raw, known[name])
            if value is not None:
                values[name] = value
    return values


def _value(edge, path, where, key, raw, about):
    """One value as the scene holds it, or None if it will not do."""
    if edge.mended and raw == UNREAD:
        edge.bad.add(path)
        return None
    if not _TYPED.get(about.kind, _is_text)(raw):
        wanted, shown, hint = about.wanted(_WANTED), show(raw), about.hint
        if about.kind in ("point", "aim") and isinstance(raw, list) and len(raw) > 3:
            hint = "a decimal takes a point, not a comma"
        return edge.fault(path, where, f"{key} must be {wanted}, got {shown}{': ' * bool(hint)}{hint}")
    if len(raw) > _MOST[about.kind] if about.kind in _MOST else False:
        return edge.fault(path, where, f"{key} must be {_WANTED[about.kind]}, at most {_MOST[about.kind]}, got {show(raw)}")
    value = _converted(edge, path, where, key, raw, about)
    if value is None or about.of or about.kind == "one":
        return value
    wrong = about.wrong(path[-1], value)
    return edge.fault(path, where, wrong if path[-1] == key else f"{key}: {wrong}") if wrong else value


def _converted(edge, path, where, key, raw, about):
    """A value of the right kind from the file's units and names to the scene's."""
    if about.kind in ("stuff", "diffusion", "gel") or (about.kind == "share" and isinstance(raw, str)):
        return _named(edge, path, where, key, "surface" if about.kind == "share" else about.kind, raw)
    if about.kind in ("point", "aim") and isinstance(raw, list):
        return tuple(float(v) * edge.foot_m for v in raw)
    if about.kind == "points":
        return tuple(tuple(float(v) * edge.foot_m for v in point) for point in raw)
    if about.kind == "dim" and isinstance(raw, str):
        return share_from_stops(raw)
    if about.kind in NUMBERS:
        number = float(raw) * (FT if key != path[-1] else 1.0)
        return t_stop_as_typed(number=number) if about.kind == "t_stop" else number
    if about.kind == "rows":
        return tuple((float(bearing), float(height)) for bearing, height in raw)
    return tuple(raw) if about.kind in ("names", "dates") else raw


def share_from_stops(text: str) -> float:
    """
    The share of full output that '-2 stops' is.

    Examples
    --------
    >>> share_from_stops("-2 stops"), share_from_stops("0 stops")
    (0.25, 1.0)
    """
    sign, number = _STOPS.fullmatch(text).groups()  # type: ignore[union-attr]
    return 2.0 ** (float(number) * (-1.0 if sign in ("-", "\u2212") else 1.0))


def _named(edge, path, where, key, kind, name):
    """Look a name up in the kit."""
    try:
        found = getattr(materials, kind)(name, kit=edge.kit)
    except materials.KitError:
        known = list(getattr(edge.kit, kind))
        if kind in ("gel", "diffusion"):  # of several in a row, the one that is not known
            name = next((one.strip() for one in str(name).split(materials.ROW_OF) if one.strip() not in known), name)
        sentence = f"{key}: no {kind} of the kit is called {show(name)}{near(name, known, 'there are')}"
        return edge.fault(path, where, sentence, [("kit",)])
    return found.reflectance if kind == "surface" else found


def _said(edge, path, where, values, part):
    """The values with every field in the scene's own way; one thing said twice and what is missing are noted."""
    values = dict(values)
    for name, about in quantities(part).items():
        ways = [way for way in about.ways if way.read]
        said = [(name,), *(tuple(way.keys) for way in ways)]
        given = [key for keys_ in said for key in keys_ if key in values]
        if len([keys_ for keys_ in said if set(keys_) & values.keys()]) > 1:
            ask = ", ".join(" with ".join(keys_) for keys_ in said)
            edge.fault((*path, given[-1]), where, f"give one of {ask}, got {' and '.join(given)}")
        for way in ways:
            typed = {key: values.pop(key) for key in way.keys if key in values}
            if typed and len(typed) == len(way.keys):
                edge.typed[*path, name] = edge.typed.get((*path, next(iter(typed))), (*path, next(iter(typed))))
                values[name] = way.read(typed, values)
            elif typed:
                lacking = [(*path, key) for key in way.keys if key not in typed]
                sentence = f"{' and '.join(way.keys)} go together, got only {next(iter(typed))}"
                edge.fault((*path, next(iter(typed))), where, sentence, lacking)
        if about.in_file and about.default is ... and name not in values:
            other = "".join(f", or {' and '.join(way.keys)}" for way in ways)
            rests = [(*path, key) for way in ways for key in way.keys]
            edge.fault((*path, name), where, f"needs {name}, {about.wanted(_WANTED)}{other}", rests)
    return values


def _label(part, index, table):
    """How errors call a part: by its name, or by its place in the list while it has none."""
    name = table.get("of" if part is Target else "name")
    if not isinstance(name, str) or name == UNREAD:
        return f"{part.kind} {index + 1}"
    return f"{part.kind} of {show(name)}" if part is Target else f"{part.kind} {show(name)}"


def _part(edge, path, within, part, table):
    """A part that is in the scene just as it is in the file."""
    label = _label(part, path[-1], table) if isinstance(path[-1], int) else part.kind
    me = f"{within}, {label}" if within else label
    return edge.made(path, within, part, _said(edge, path, me, _values(edge, path, me, table, part), part))


def camera_package(edge: Edge, table: dict) -> dict[str, Any]:
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
        Those of its values that will do.
    """
    for key in SOMEWHERE.keys() & table.keys():
        edge.fault(("camera", key), "camera", f"{key} belongs to a setup's own camera, under [setups.camera]")
    values = _values(edge, ("camera",), "camera", {key: raw for key, raw in table.items() if key not in SOMEWHERE}, Camera)
    camera_over(edge, ("camera",), "", SOMEWHERE, values)  # refused here, where it is written, and not in each setup
    of = {key: name for name, about in quantities(Camera).items() for way in about.ways for key in way.keys}
    return {key: v for key, v in values.items() if edge.sound(("camera", key)) and edge.sound(("camera", of.get(key, key)))}


def camera_over(edge: Edge, path: tuple, within: str, table: dict, package: dict) -> Camera:
    """
    A setup's camera: its own fields over the package; an engraved stop and a shutter time become exact.

    Parameters
    ----------
    edge : Edge
        The file.
    path : tuple
        Of the table.
    within : str
        The setup, for errors; empty for the package itself.
    table : dict
        [setups.camera].
    package : dict
        From `camera_package`.

    Returns
    -------
    Camera
    """
    me = f"{within}, camera" if within else "camera"
    own = _values(edge, path, me, table, Camera)
    shutter = ("shutter_deg", "shutter_s")
    if any(key in own for key in shutter):
        package = {key: value for key, value in package.items() if key not in shutter}
    return edge.made(path, within, Camera, _said(edge, path, me, {**package, **own}, Camera))


def places_by_name(edge: Edge, rooms: dict, exteriors: dict) -> dict[str, Room | Exterior]:
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
    """
    places = {}
    for part, tables in ((Room, rooms), (Exterior, exteriors)):
        kind = part.kind
        if len(tables) > MOST:
            edge.fault((kind + "s",), "", f"at most {MOST} {kind}s, got {len(tables)}")
        for name, table in list(tables.items())[:MOST]:
            path, me = (kind + "s", name), f"{kind} {show(name)}"
            if not isinstance(table, dict):
                edge.fault(path, me, f"must be a table under [{kind}s.NAME], got {show(table)}")
            elif wrong := quantities(part)["name"].wrong("name", name):
                edge.fault(path, kind, wrong)
            elif name in places:
                edge.fault(path, me, "an exterior must not have the name of a room")
            else:
                places[name] = _place(edge, path, me, part, table)
    return places


def _place(edge, path, me, part, table):
    values = _said(edge, path, me, _values(edge, path, me, table, part), part)
    for key, within in (("windows", Window), ("circuits", Circuit)):
        if key in values:
            values[key] = tuple(_part(edge, (*path, key, i), me, within, table) for i, table in enumerate(values[key]))
    return edge.made(path, "", part, {"name": path[-1], **values})


def _setup(edge, path, table, package, places):
    """One setup, with its camera over the package and its place by name."""
    me = _label(Setup, path[-1], table)
    table, kept_out = _daylight_said(edge, path, me, table)
    values = _said(edge, path, me, _values(edge, path, me, table, Setup), Setup) | {"kept_out": kept_out}
    name = values.pop("place", None)
    if name in places and all(edge.sound((places[name].kind + "s", name, f"{side}_m")) for side in ("width", "depth", "height")):
        values["place"] = places[name]
    elif name is not None and name not in places:
        there = f"it must be one of {', '.join(places)}" if places else "the file has no rooms or exteriors"
        edge.fault((*path, "place"), me, f"place {show(name)} is not in this file; {there}", [("rooms", name), ("exteriors", name)])
    if "camera" in values:
        values["camera"] = camera_over(edge, (*path, "camera"), me, values["camera"], package)
    for kind in ("haze", "sun", "sky"):
        if kind in values:
            values[kind] = _part(edge, (*path, kind), me, CLASS[kind], values[kind])
    if {"g", "droplets"} <= table.get("haze", {}).keys() if isinstance(table.get("haze"), dict) else False:
        edge.fault((*path, "haze", "g"), f"{me}, haze", "give g or droplets, not both")
    for key in LISTS:
        read = _light if key == "lights" else _part
        values[key] = tuple(read(edge, (*path, key, i), me, CLASS[key[:-1]], t) for i, t in enumerate(values.get(key, ())))
    return edge.made(path, "", Setup, values)


def _daylight_said(edge, path, me, table):
    """A setup's table without the words that stand for a sun or a sky, and which of the two are kept out."""
    words = {kind: table[kind] for kind in ("sun", "sky") if isinstance(table.get(kind), str)}
    for kind, said in words.items():
        if said not in (FROM_TIME, NONE):
            edge.fault((*path, kind), me, f'{kind} must be "{FROM_TIME}", "{NONE}" or a table of numbers, got {show(said)}')
        elif said == FROM_TIME and not table.get("time"):
            edge.fault((*path, kind), me, f'{kind} = "{FROM_TIME}" needs time, such as "19:40"', [(*path, "time")])
    rest = {key: value for key, value in table.items() if key not in words}
    return rest, tuple(kind for kind, said in words.items() if said == NONE)


def _light(edge, path, within, part, table):
    """A light: from the kit, from its own numbers, or from the kit with its own numbers on top."""
    me = f"{within}, {_label(part, path[-1], table)}"
    values = _said(edge, path, me, _values(edge, path, me, table, Light), Light)
    lamp = _named(edge, (*path, "kit"), me, "kit", "lamp", values["kit"]) if "kit" in values else None
    own = {key: values.pop(key) for key in _LIGHT_KEYS if key in values}
    start = from_kit(lamp) if lamp else {}
    values = {**start, **values}
    rests = [(*path, key) for key in ("kit", *_LIGHT_KEYS)]
    edge.typed[*path, "distribution"] = (*path, next(iter(own), "kit"))
    if not own and "kit" not in values:
        edge.fault((*path, "distribution"), me, "needs kit, or one of peak_cd, lumens, lux or fc with at_m, or photometry", rests)
    elif own:
        try:
            soft, read = bool(values.get("face_width_m")), lambda name: _photometry(edge, name)
            values["distribution"] = materials.distribution(
                own, table="photometry", like=start.get("distribution"), soft=soft, read=read
            )
        except ValueError as error:
            named = [key for key in re.findall(r"\w+", str(error)) if key in own]
            edge.typed[*path, "distribution"] = (*path, (named or list(own))[0])
            edge.fault((*path, "distribution"), me, str(error), rests)
    return edge.made(path, within, Light, values)


def _photometry(edge, name):
    """A measured table from a file in the shoot file's own folder or below it, and from nowhere else."""
    if edge.folder is None:
        raise ValueError(f"photometry {show(name)} needs a shoot file on disk, in whose folder it lies")
    path = inside(edge.folder, name, "photometry")
    try:
        if not path.is_file():
            raise ValueError(f"photometry {show(name)} is not there; it is looked for beside the shoot file")
        if path.stat().st_size > LIMIT_BYTES:
            raise ValueError(f"photometry {show(name)} may have {LIMIT_BYTES:,} bytes")
        return read_photometry(path)
    except OSError as error:
        raise ValueError(f"photometry {show(name)} cannot be read: {error.strerror}") from None
