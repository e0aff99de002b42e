"""
A scene back into the text of a shoot file: only the values that differ are touched.

    text, old shoot, new shoot --tomlkit--> the same text with those values replaced --read back--> compared
"""

from __future__ import annotations

import math
import re
import tomllib
from dataclasses import MISSING, fields, is_dataclass

import numpy as np
import tomlkit
from tomlkit.items import AoT, Array, Table

from lightcalc.kit import materials
from lightcalc.kit.candela import Beam, Photometry
from lightcalc.laws import haze
from lightcalc.laws.engraved import ring_number
from lightcalc.scene.parts import Camera, Room, Setup
from lightcalc.scene.shoot_read import (
    CLASS,
    KEYS,
    LISTS,
    POWERS,
    SOMEWHERE,
    Edge,
    ShootError,
    camera_over,
    camera_package,
    from_kit,
    loads,
    places_by_name,
)  # fmt: skip
from lightcalc.units import FT, lx_from_fc


def dumps(shoot):
    """
    A shoot as the text of a new file.

    Parameters
    ----------
    shoot : Shoot
        Any shoot whose materials come from the kit.

    Returns
    -------
    str
        TOML, lengths in metres.

    Raises
    ------
    ShootError
        If two places of different make share a name.

    Examples
    --------
    >>> from lightcalc.scene.shoot_file import demo_path, load
    >>> demo = load(demo_path())
    >>> same(loads(dumps(demo)), demo)
    True
    """
    edge = Edge(file="shoot")
    places = _by_name(shoot)
    parts = [_pairs(_lines("shoot", shoot, {}, edge))]
    if shoot.haze_machine is not None:
        parts.append(f"[haze_machine]\n{_pairs(_lines('haze_machine', shoot.haze_machine, {}, edge))}")
    parts += [_place_text(place, edge) for place in places.values()]
    parts += [_setup_text(setup, edge) for setup in shoot.setups]
    return "\n".join(parts)


def edited(text, old, new, name="shoot", folder=None):
    """
    The text of a shoot file with the values that differ between two shoots replaced.

    Parameters
    ----------
    text : str
        TOML that reads as `old`.
    old, new : Shoot
        The shoot in the text, and the shoot wanted.
    name, folder
        See `loads`.

    Returns
    -------
    str
        TOML that reads as `new`: it has been read back and compared.

    Raises
    ------
    ShootError
        If the file's form cannot hold the new shoot.
    """
    ends = "\r\n" if "\r\n" in text and "\n" not in text.replace("\r\n", "") else "\n"
    plain = text.replace("\r\n", "\n") if ends == "\r\n" else text
    result = _Edit(plain, old, new, Edge(name, folder, _foot_m(plain))).text()
    result = result.replace("\n", ends) if ends == "\r\n" else result
    back = loads(result, name, folder)
    if not same(back, new):
        raise ShootError(f"{name}: {_differing(back, new)} cannot be written into this file")
    return result


def same(one, other):
    """
    Whether two parts say the same.

    Parameters
    ----------
    one, other : Shoot, or anything in one
        What to compare.

    Returns
    -------
    bool
        Numbers count as the same within 1e-12: feet are converted both ways.

    Examples
    --------
    >>> same((0.1 + 0.2, "key"), (0.3, "key"))
    True
    """
    if is_dataclass(one):
        return type(one) is type(other) and all(same(getattr(one, f.name), getattr(other, f.name)) for f in fields(one))
    if isinstance(one, tuple) and isinstance(other, tuple):
        return len(one) == len(other) and all(same(a, b) for a, b in zip(one, other))
    if one is None or other is None:
        return one is other
    if isinstance(one, float) or isinstance(other, float):
        return math.isclose(one, other, rel_tol=1e-12, abs_tol=1e-12)
    return one == other


def _differing(one, other, path=""):
    """Where two shoots first differ, as a person would say it."""
    if is_dataclass(one) and type(one) is type(other):
        here = f"{path} {getattr(one, 'name', '')}".strip()
        for f in fields(one):
            if not same(getattr(one, f.name), getattr(other, f.name)):
                return _differing(getattr(one, f.name), getattr(other, f.name), f"{here} {f.name}")
    if isinstance(one, tuple) and isinstance(other, tuple) and len(one) == len(other):
        return next((_differing(a, b, path) for a, b in zip(one, other) if not same(a, b)), path)
    return path.strip() or "this"


def _foot_m(text):
    return FT if tomllib.loads(text).get("lengths") == "feet" else 1.0


def _by_name(shoot):
    """The places of a shoot by name; one name is one place."""
    places = {}
    for setup in shoot.setups:
        place = places.setdefault(setup.place.name, setup.place)
        if not same(place, setup.place):
            raise ShootError(
                f"setup '{setup.name}': place '{place.name}' is shared with another setup and differs there; "
                "change it in all of them or give it another name"
            )
    return places


# a part as the file would say it ............................................................


def _defaults(kind):
    """What a field is when the file does not say."""
    return {f.name: f.default for f in fields(CLASS[kind]) if f.default is not MISSING}


def _lines(kind, part, style, edge, defaults=None):
    """
    A part as keys and plain values.

    `style` is the part's table in the file now: its keys are always given, so that they are replaced where
    they stand, and where a thing can be said in two ways, the file's way is kept.
    """
    defaults = _defaults(kind) if defaults is None else defaults
    lines = {}
    for key, sort in KEYS[kind].items():
        if sort in ("table", "tables") or not hasattr(part, key):
            continue
        value = getattr(part, key)
        as_ft = sort == "length" and key[:-2] + "_ft" in style
        shown = key[:-2] + "_ft" if as_ft else key
        if value is not None and (shown in style or key not in defaults or value != defaults[key]):
            lines[shown] = _plain(value, sort, FT if as_ft else (edge.foot_m if sort == "point" else 1.0))
    if kind == "setup":
        lines["place"] = part.place.name
        lines = {key: value for key, value in lines.items() if value != "" or key in style}
    special = {"light": _light_lines, "camera": _camera_lines, "haze": _haze_lines}.get(kind)
    lines = special(part, style, lines) if special else lines
    return {key: _tidy(value) if isinstance(value, float) else value for key, value in lines.items()}


def _plain(value, sort, unit_m):
    """A value as TOML holds it."""
    if sort == "point":
        return [_in_units(v, unit_m) for v in value]
    if sort == "length":
        return _in_units(value, unit_m)
    if sort in ("number", "share"):
        return _tidy(float(value))
    if sort in ("names", "dates"):
        return list(value)
    if sort == "rows":
        return [[_tidy(v) for v in row] for row in value]
    return value if sort in ("text", "notes", "whole", "yes") else value.name


def _in_units(length_m, unit_m):
    """The shortest number that reads back as this length: 12 ft comes back as 12, not 11.999999999999998."""
    exact = float(length_m) / unit_m
    for digits in range(12):
        if round(exact, digits) * unit_m == float(length_m):
            return _tidy(round(exact, digits))
    return _tidy(exact)


def _tidy(number):
    """400 rather than 400.0."""
    return int(number) if number == int(number) else number


def _camera_lines(camera, style, lines):
    """The stop as it is engraved; the shutter as a time where the file gives a time."""
    if "t_stop" in lines:
        lines["t_stop"] = ring_number(t_stop=camera.t_stop)
    if "shutter_s" in style:
        lines.pop("shutter_deg", None)
        lines["shutter_s"] = camera.time_s
    return lines


def _haze_lines(air, style, lines):
    """The thickness in the file's own way; air that has become clear has no visibility, so extinction then."""
    thick = lines.pop("extinction_per_m", None)
    feet = "visibility_ft" in style
    if (feet or "visibility_m" in style) and air.extinction_per_m > 0:
        seen_m = float(haze.visibility_from_extinction(extinction_per_m=air.extinction_per_m))
        lines["visibility_ft" if feet else "visibility_m"] = _in_units(seen_m, FT) if feet else seen_m
    elif "loss_percent_per_m" in style:
        lines["loss_percent_per_m"] = float(haze.loss_percent_per_m(extinction_per_m=air.extinction_per_m))
    elif thick is not None or feet or "visibility_m" in style:
        lines["extinction_per_m"] = air.extinction_per_m
    lines.pop("g" if air.droplets else "droplets", None)
    return lines


def _light_lines(light, style, lines):
    """The light over its kit: fields equal to the kit's are left to the kit unless the file spells them out."""
    start = from_kit(materials.lamp(light.kit)) if light.kit else {}
    if not light.kit:
        lines.pop("kit", None)
    for key in ("face_width_m", "face_height_m", "watts", "kelvin"):
        feet = key[:-2] + "_ft"
        if key in start and key not in style and feet not in style:
            lines.pop(key, None)
            if getattr(light, key) != start[key]:
                lines[key] = float(getattr(light, key))
    lines.update(_power_lines(light.distribution, start.get("distribution"), style))
    return lines


def _power_lines(distribution, kit, style):
    """Candela in the file's own way: peak, lumens, lux at a distance, or a table."""
    power = next((key for key in POWERS if key in style), None)
    if isinstance(distribution, Photometry) and (power == "photometry" or not _alike(distribution, kit)):
        return {"photometry": style["photometry"] if power == "photometry" else distribution.name}
    lines = {}
    if isinstance(distribution, Beam):
        for key in ("beam_deg", "field_deg"):
            if key in style or not isinstance(kit, Beam) or getattr(kit, key) != getattr(distribution, key):
                lines[key] = float(getattr(distribution, key))
    if power is None and kit is not None and kit.peak_cd == distribution.peak_cd:
        return lines
    if power == "lumens":
        return {"lumens": distribution.lumens(), **lines}
    if power in ("lux", "fc"):
        at_key = "at_ft" if "at_ft" in style else "at_m"
        at_m = style[at_key] * (FT if at_key == "at_ft" else 1.0)
        lux = distribution.peak_cd / at_m**2
        return {power: lux / float(lx_from_fc(1.0)) if power == "fc" else lux, at_key: style[at_key], **lines}
    return {"peak_cd": float(distribution.peak_cd), **lines}


def _alike(one, other):
    """Whether two tables differ only by a factor."""
    if not isinstance(other, Photometry):
        return False
    scaled = np.array(other.candela) * (one.peak_cd / other.peak_cd) if other.peak_cd else np.array(other.candela)
    angles = (one.vertical_deg, one.horizontal_deg) == (other.vertical_deg, other.horizontal_deg)
    return angles and np.allclose(one.candela, scaled, rtol=1e-9)


# new text ...........................................................................


def _toml(value):
    """A plain value in TOML."""
    if isinstance(value, list):
        return f"[{', '.join(_toml(v) for v in value)}]"
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{k} = {_toml(v)}' for k, v in value.items())} }}" if value else "{}"
    if isinstance(value, str):
        return tomlkit.string(value).as_string()
    return tomlkit.item(value).as_string()


def _pairs(lines):
    return "".join(f"{key} = {_toml(value)}\n" for key, value in lines.items())


def _header(*keys):
    return ".".join(tomlkit.key(key).as_string() for key in keys)


def _blocks(parts, kind, path, edge):
    """A block of text for each part: [[setups.lights]] and so on."""
    return "".join(f"\n[[{_header(*path)}]]\n{_pairs(_lines(kind, part, {}, edge))}" for part in parts)


def _place_text(place, edge):
    kind = "room" if isinstance(place, Room) else "exterior"
    lines = {k: v for k, v in _lines(kind, place, {}, edge).items() if k != "name"}
    text = f"[{_header(kind + 's', place.name)}]\n{_pairs(lines)}"
    return text + _blocks(getattr(place, "windows", ()), "window", (kind + "s", place.name, "windows"), edge)


def _setup_text(setup, edge):
    text = f"[[setups]]\n{_pairs(_lines('setup', setup, {}, edge))}"
    for kind in ("haze", "sun", "sky"):
        part = getattr(setup, kind)
        if part is not None and part != Setup.__dataclass_fields__[kind].default:
            text += f"{kind} = {_toml(_lines(kind, part, {}, edge))}\n"
    text += f"\n[setups.camera]\n{_pairs(_lines('camera', setup.camera, {}, edge))}"
    return text + "".join(_blocks(getattr(setup, key), key[:-1], ("setups", key), edge) for key in LISTS)


# changed text .......................................................................


class _Edit:
    """One pass over a file's text: values in place first, then what is new, then the order of setups."""

    def __init__(self, text, old, new, edge):
        self.old, self.new, self.edge = old, new, edge
        self.document = tomlkit.parse(text)
        self.package = camera_package(edge, self.document.unwrap().get("camera", {}))
        self.late = []  # (table, text): blocks to add below a table, once all values stand

    def text(self):
        self._values(self.document, "shoot", self.old, self.new)
        self._optional(self.document, "haze_machine", self.old.haze_machine, self.new.haze_machine)
        tail = self._places()
        olds = {setup.name: setup for setup in self.old.setups}
        for table, setup in zip(self.document["setups"], self.old.setups):
            new = next((s for s in self.new.setups if s.name == setup.name), None)
            if new is not None:
                self._setup(table, setup, new)
        for table, text in self.late:
            _write_below(table, text)
        added = [setup for setup in self.new.setups if setup.name not in olds]
        tail += [_setup_text(setup, self.edge) for setup in added]
        text = tomlkit.dumps(self.document)
        text += "".join("\n" + block for block in tail)
        return _in_order(text, self.new)

    def _places(self):
        """Rooms and exteriors changed in place; the text of those that are new."""
        olds, tail = _by_name(self.old), []
        for name, place in _by_name(self.new).items():
            kind = "room" if isinstance(place, Room) else "exterior"
            table = self.document.get(kind + "s", {}).get(name)
            if table is None:
                tail.append(_place_text(place, self.edge))
                continue
            old = olds.get(name) or self._unused_place(name)
            self._values(table, kind, old, place)
            if kind == "room":
                self._list(table, "windows", old.windows, place.windows, ("rooms", name, "windows"))
        return tail

    def _unused_place(self, name):
        """A place in the file that no setup of the opened shoot stood in."""
        tables = self.document.unwrap()
        return places_by_name(self.edge, tables.get("rooms", {}), tables.get("exteriors", {}))[name]

    def _setup(self, table, old, new):
        self._values(table, "setup", old, new)
        for kind in ("haze", "sun", "sky"):
            self._optional(table, kind, getattr(old, kind), getattr(new, kind))
        self._camera(table["camera"], old.camera, new.camera)
        for key in LISTS:
            self._list(table, key, getattr(old, key), getattr(new, key), ("setups", key))

    def _camera(self, table, old, new):
        base = camera_over(self.edge, "", SOMEWHERE, self.package)
        defaults = {f.name: getattr(base, f.name) for f in fields(Camera) if f.name not in SOMEWHERE}
        before, after = (_lines("camera", part, table, self.edge, defaults) for part in (old, new))
        if "shutter_s" in self.package and old.fps != new.fps and "shutter_s" not in table:
            before.pop("shutter_deg", None)  # the package's time would give another angle at the new rate
            after["shutter_deg"] = float(new.shutter_deg)
        _apply(table, before, after)

    def _values(self, table, kind, old, new):
        if not same(old, new):
            before, after = (_lines(kind, part, table, self.edge) for part in (old, new))
            if kind in ("room", "exterior"):
                before.pop("name", None), after.pop("name", None)
            _apply(table, before, after)

    def _optional(self, table, kind, old, new):
        """Haze, sun or sky: changed in place, added as one line, or taken out."""
        if same(old, new):
            return
        if kind not in table:
            _add(table, kind, _lines(kind, new, {}, self.edge))
        elif new is None:
            table.remove(kind)
        else:
            self._values(table[kind], kind, old, new)

    def _list(self, table, key, olds, news, path):
        """The parts of one kind, matched by name."""
        if same(olds, news):
            return
        kind = key[:-1]
        olds, news = _named_parts(olds), _named_parts(news)
        held, renamed = table.get(key), _renamed(list(olds), list(news))
        for index, name in reversed(list(enumerate(olds))):
            if renamed.get(name, name) in news:
                self._values(held[index], kind, olds[name], news[renamed.get(name, name)])
            else:
                del held[index]
        if held is not None and len(held) == 0:
            table.remove(key)
            held = None
        for name in [name for name in news if name not in olds and name not in renamed.values()]:
            if isinstance(held, Array):
                held.append(_inline(_lines(kind, news[name], {}, self.edge)))
            else:
                self.late.append((table, _blocks([news[name]], kind, path, self.edge)))


def _renamed(olds, news):
    """Which old name stands for which new one: as many parts as before, and only names differ."""
    pairs = list(zip(olds, news)) if len(olds) == len(news) else []
    return {old: new for old, new in pairs if old not in news and new not in olds}


def _named_parts(parts):
    """Parts by name; targets, which have none, by what they are of, and by their place when that repeats."""
    named = {}
    for part in parts:
        name = getattr(part, "name", None) or f"{part.of} {part.quantity}"
        while name in named:
            name += "'"
        named[name] = part
    return named


def _inline(lines):
    table = tomlkit.inline_table()
    table.update(lines)
    return table


def _apply(table, before, after):
    """
    Take out, replace, add: only keys whose value differs.

    In this order: what is added hangs on the table's last line, which must not be taken out afterwards.
    """
    for key in before:
        if key not in after and key in table:
            table.remove(key)
    for key, value in after.items():
        if before.get(key) != value:
            _put(table, key, value) if key in table else _add(table, key, value)


def _put(table, key, value):
    """Replace a value where it stands; of a point, only the numbers that moved."""
    held = table[key]
    if isinstance(value, list) and isinstance(held, Array) and len(held) == len(value) and key not in ("key", "dates", "horizon"):
        for index, number in enumerate(value):
            if float(held[index]) != number:
                held[index] = number
    elif isinstance(value, str) and "\n" in value:
        table[key] = tomlkit.string(value, multiline=True)
    else:
        table[key] = value


def _add(table, key, value):
    """A new line after the table's last one, above any comment that belongs to what follows."""
    if not isinstance(table, (Table, tomlkit.TOMLDocument)):  # inline, or in dotted keys here and there
        table[key] = _inline(value) if isinstance(value, dict) else value
        return
    last, dotted = None, False
    for known, item in _body(table):
        if known is not None and isinstance(item, (Table, AoT)):
            dotted = dotted or known.is_dotted()
            break
        last = item if known is not None else last
    if dotted or (last is None and not hasattr(table, "display_name")):
        table[key] = _inline(value) if isinstance(value, dict) else value
    else:
        _write_after(table if last is None else last, f"{key} = {_toml(value)}\n")


def _body(table):
    return table.body if isinstance(table, tomlkit.TOMLDocument) else table.value.body


def _write_after(item, text):
    """
    Text after an item's line.

    An item keeps the line end that follows it; putting the text there leaves comments below where they are,
    which adding to the table would not.
    """
    trail = item.trivia.trail
    item.trivia.trail = (trail if trail.endswith("\n") else trail + "\n") + text


def _write_below(table, text):
    """Text after the last line of a table and of all tables under it."""
    item = table
    while isinstance(item, (Table, AoT)):
        if isinstance(item, AoT):
            item = item[-1]
            continue
        inner = [part for known, part in item.value.body if known is not None]
        if not inner:
            break
        item = inner[-1]
    _write_after(item, text)


# order ..............................................................................

_HEAD = re.compile(r"""\s*\[\[?\s*[\w"'.\s,-]+\]\]?\s*(#.*)?$""")


def _in_order(text, new):
    """Setups, and the parts in each, in the new shoot's order; a comment right above a block moves with it."""
    lines = text.splitlines(keepends=True)
    lines[-1] = lines[-1].rstrip("\n") + "\n"
    tables = tomllib.loads(text)["setups"]
    now, wanted = [table["name"] for table in tables], [setup.name for setup in new.setups]
    if now != wanted:
        lines = _moved(lines, _blocks_at(lines, "setups", "setups"), now, wanted)
        tables = [next(table for table in tables if table["name"] == name) for name in wanted]
    for index, (setup, table) in enumerate(zip(new.setups, tables)):
        for key in LISTS:
            now, wanted = list(_named_tables(table.get(key, []))), list(_named_parts(getattr(setup, key)))
            if now != wanted and sorted(now) == sorted(wanted):
                low, high = _blocks_at(lines, "setups", "setups")[index]
                path = r"setups\s*\.\s*" + key
                blocks = [(low + start, low + end) for start, end in _blocks_at(lines[low:high], key, path)]
                lines = _moved(lines, blocks, now, wanted) if blocks else _moved_inline(lines, index, key, now, wanted)
    moved = "".join(lines)
    return moved if text.endswith("\n") else moved.rstrip("\n")


def _blocks_at(lines, key, path):
    """First and last line of each block [[path]]: a setup runs to the next setup, a part to the next header."""
    heads = [i for i, line in enumerate(lines) if re.match(rf"\s*\[\[\s*{path}\s*\]\]", line)]
    stops = heads if key == "setups" else [i for i, line in enumerate(lines) if _HEAD.match(line)]
    starts = {}
    for head in stops:
        starts[head] = head
        while starts[head] > 0 and lines[starts[head] - 1].lstrip().startswith("#"):
            starts[head] -= 1
    ends = {head: starts[after] for head, after in zip(stops, stops[1:])}
    return [(starts[head], ends.get(head, len(lines))) for head in heads]


def _moved(lines, blocks, now, wanted):
    """The blocks in another order in the places they take now; those not wanted are left out."""
    if now == wanted or len(blocks) != len(now):
        return lines
    kept = {name: lines[start:end] for name, (start, end) in zip(now, blocks)}
    moved, last = [], 0
    for name, (start, end) in zip(wanted + [None] * len(now), blocks):
        moved += lines[last:start] + (kept[name] if name is not None else [])
        last = end
    return moved + lines[last:]


def _moved_inline(lines, index, key, now, wanted):
    """A list of inline tables in another order."""
    document = tomlkit.parse("".join(lines))
    held = document["setups"][index][key]
    items = [held[now.index(name)] for name in wanted]
    for place in reversed(range(len(held))):
        del held[place]
    for item in items:
        held.append(item)
    return tomlkit.dumps(document).splitlines(keepends=True)


def _named_tables(tables):
    """The same names as `_named_parts`, from what a file holds."""
    named = {}
    for table in tables:
        name = table.get("name") or f"{table.get('of')} {table.get('quantity')}"
        while name in named:
            name += "'"
        named[name] = table
    return named
