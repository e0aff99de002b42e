"""
A scene back into the text of a shoot file: only the values that differ are touched.

    text, old shoot, new shoot --tomlkit--> the same text with those values replaced --read back--> compared
"""

from __future__ import annotations

import math
import re
import tomllib
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import tomlkit
from tomlkit.items import AoT, Array, Table

from lightcalc.kit import materials
from lightcalc.kit.candela import Beam, Photometry
from lightcalc.laws.engraved import ring_number
from lightcalc.scene.fields import keys, quantities
from lightcalc.scene.parts import Aim, Camera, Setup, followed, from_kit
from lightcalc.scene.shoot_read import (
    FROM_TIME,
    LISTS,
    NONE,
    POWERS,
    SOMEWHERE,
    Edge,
    ShootError,
    camera_over,
    camera_package,
    loads,
    places_by_name,
    use_own_kit,
)  # fmt: skip
from lightcalc.units import FT, lx_from_fc

if TYPE_CHECKING:
    from lightcalc.scene.shoot import Shoot


def dumps(shoot: Shoot, folder: Path | None = None) -> str:
    """
    A shoot as the text of a new file.

    Parameters
    ----------
    shoot : Shoot
        Any shoot whose materials come from the kit.
    folder : Path, optional
        Where the file will lie, and an own kit lies already.

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
    edge = _edge("shoot", folder, {"kit": shoot.kit})
    places = _by_name(shoot)
    parts = [_pairs(_lines(shoot, {}, edge))]
    if shoot.haze_machine is not None:
        parts.append(f"[haze_machine]\n{_pairs(_lines(shoot.haze_machine, {}, edge))}")
    parts += [_place_text(place, edge) for place in places.values()]
    parts += [_setup_text(setup, edge) for setup in shoot.setups]
    return "\n".join(parts)


def edited(text: str, old: Shoot, new: Shoot, name: str = "shoot", folder: Path | None = None) -> str:
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
    result = _Edit(plain, old, new, _edge(name, folder, tomllib.loads(plain))).text()
    result = result.replace("\n", ends) if ends == "\r\n" else result
    back = loads(result, name, folder)
    if not same(back, new):
        raise ShootError(f"{name}: {_differing(back, new)} cannot be written into this file")
    return result


def same(one: Any, other: Any) -> bool:
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
        return type(one) is type(other) and all(same(getattr(one, name), getattr(other, name)) for name in _told(one))
    if isinstance(one, tuple) and isinstance(other, tuple):
        said = [aim.said if isinstance(aim, Aim) else None for aim in (one, other)]
        if said != [None, None]:  # of pan and tilt, the point is only one of many on their line
            return same(*said) and (isinstance(said[0], tuple) or same(tuple(one), tuple(other)))
        return len(one) == len(other) and all(same(a, b) for a, b in zip(one, other))
    if one is None or other is None:
        return one is other
    if isinstance(one, float) or isinstance(other, float):
        return math.isclose(one, other, rel_tol=1e-12, abs_tol=1e-12)
    return one == other


def _told(part):
    """The fields that count; the spotted end of a lamp's focus is its kit's, and does only where it is focused."""
    return [f.name for f in fields(part) if f.name != "narrow" or part.focus]


def _differing(one, other, path=""):
    """Where two shoots first differ, as a person would say it."""
    if is_dataclass(one) and type(one) is type(other):
        here = f"{path} {getattr(one, 'name', '')}".strip()
        for name in _told(one):
            if not same(getattr(one, name), getattr(other, name)):
                return _differing(getattr(one, name), getattr(other, name), f"{here} {name}")
    if isinstance(one, tuple) and isinstance(other, tuple) and len(one) == len(other):
        return next((_differing(a, b, path) for a, b in zip(one, other) if not same(a, b)), path)
    return path.strip() or "this"


def _edge(name, folder, tables):
    """What the reader knows of a file, with the kit beside it."""
    edge = Edge(name, folder, FT if tables.get("lengths") == "feet" else 1.0)
    use_own_kit(edge, tables)
    if edge.faults:
        raise ShootError(f"{name}: {edge.faults[0][1]}")
    return edge


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


def _lines(part, style, edge, defaults=None):
    """
    A part as keys and plain values.

    `style` is the part's table in the file now: its keys are always given, so that they are replaced where
    they stand, and where a thing can be said in two ways, the file's way is kept.
    """
    lines, typed = {}, {key[:-3] + "_m" if key.endswith("_ft") else key for key in style}
    for name, about in quantities(type(part)).items():
        if not about.in_file or about.kind in ("one", "many") or getattr(part, name) is None:
            continue
        said, told = {name: getattr(part, name)}, any(key in typed for way in about.ways for key in way.keys)
        for way in about.ways:
            said = (way.write and way.write(part, typed)) or said
        for key, value in said.items():
            feet = key[:-2] + "_ft" in style
            default = about.default if defaults is None or name not in defaults else defaults[name]
            if key in typed or told or key != name or value != default:
                how = keys(type(part))[key]
                unit_m = edge.foot_m if how.kind in ("point", "points", "aim") else FT if feet else 1.0
                lines[key[:-2] + "_ft" if feet else key] = _plain(value, how.kind, unit_m, style.get(key))
    if part.kind == "light":
        lines = _light_lines(part, style, edge, lines)
    elif part.kind == "haze":
        lines.pop("g" if part.droplets else "droplets", None)  # whichever counts
    return {key: _tidy(value) if isinstance(value, float) else value for key, value in lines.items()}


def _plain(value, kind, unit_m, typed):
    """A value as TOML holds it; where the file has `typed` it as a text, as such a text."""
    if kind == "aim" and followed(value):
        return followed(value)
    if kind in ("point", "aim"):
        return [_in_units(v, unit_m) for v in value]
    if kind == "points":
        return [[_in_units(v, unit_m) for v in point] for point in value]
    if kind == "length":
        return _in_units(value, unit_m)
    if kind == "t_stop":
        return ring_number(t_stop=value)
    if kind == "dim" and isinstance(typed, str) and value > 0.0:
        return _stops_from_share(value)
    if isinstance(value, float):
        return _tidy(value)
    if kind == "rows":
        return [[_tidy(v) for v in row] for row in value]
    return list(value) if isinstance(value, tuple) else getattr(value, "name", value)


def _stops_from_share(share):
    """The shortest '-2 stops' that reads back as this share."""
    exact = math.log2(share)
    short = (round(exact, digits) for digits in range(13))
    return f"{_tidy(next((x for x in short if math.isclose(2.0**x, share, rel_tol=1e-12)), exact) + 0.0)} stops"


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


def _light_lines(light, style, edge, lines):
    """The light over its kit: fields equal to the kit's are left to the kit unless the file spells them out."""
    start = from_kit(materials.lamp(light.kit, kit=edge.kit)) if light.kit else {}
    if not light.kit:
        lines.pop("kit", None)
    for key in ("face_width_m", "face_height_m", "watts", "kelvin", "source"):
        feet = key[:-2] + "_ft"
        if key in start and key not in style and feet not in style:
            lines.pop(key, None)
            if getattr(light, key) != start[key]:
                lines[key] = light.source if key == "source" else float(getattr(light, key))
    lines.update(_power_lines(light.distribution, start.get("distribution"), style))
    return lines


def _power_lines(distribution, kit, style):
    """Candela in the file's own way: peak, lumens, lux at a distance, or a table."""
    power = next((key for key in POWERS if key in style), None)
    like, shape = _alike(distribution, kit), materials.shape_of(distribution)
    if shape is None and (power == "photometry" or not like):
        return {"photometry": style["photometry"] if power == "photometry" else distribution.name}
    lines = {"shape": shape} if "shape" in style or (shape == "all round" and not like) else {}
    if isinstance(distribution, Beam):
        assumed = "beam_deg" in style and distribution.field_deg == materials.assumed_field_deg(distribution.beam_deg)
        for key in ("beam_deg", "field_deg"):
            own = not isinstance(kit, Beam) or getattr(kit, key) != getattr(distribution, key)
            if key in style or (own and not (key == "field_deg" and assumed)):
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
    if not isinstance(one, Photometry) or not isinstance(other, Photometry):
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


def _blocks(parts, path, edge):
    """A block of text for each part: [[setups.lights]] and so on."""
    return "".join(f"\n[[{_header(*path)}]]\n{_pairs(_lines(part, {}, edge))}" for part in parts)


def _place_text(place, edge):
    kinds = place.kind + "s"
    text = f"[{_header(kinds, place.name)}]\n{_pairs(_lines(place, {}, edge))}"
    return text + "".join(_blocks(getattr(place, key, ()), (kinds, place.name, key), edge) for key in ("windows", "circuits"))


def _setup_text(setup, edge):
    text = f"[[setups]]\n{_pairs(_lines(setup, {}, edge))}"
    for kind in ("haze", "sun", "sky"):
        part = getattr(setup, kind)
        if kind in setup.kept_out:
            text += f'{kind} = "{NONE}"\n'
        elif part is not None and part != Setup.__dataclass_fields__[kind].default and not getattr(part, "model", ""):
            text += f"{kind} = {_toml(_lines(part, {}, edge))}\n"
    text += f"\n[setups.camera]\n{_pairs(_lines(setup.camera, {}, edge))}"
    return text + "".join(_blocks(getattr(setup, key), ("setups", key), edge) for key in LISTS)


def _typed(setup, kind):
    """Haze, sun or sky as a file says it: a part, a word, or None for nothing."""
    part = getattr(setup, kind)
    if kind in setup.kept_out:
        return NONE
    return FROM_TIME if getattr(part, "model", "") else part


# changed text .......................................................................


class _Edit:
    """One pass over a file's text: values in place first, then what is new, then the order of setups."""

    def __init__(self, text, old, new, edge):
        self.old, self.new, self.edge = old, new, edge
        self.document = tomlkit.parse(text)
        self.package = camera_package(edge, self.document.unwrap().get("camera", {}))
        self.late = []  # (table, text): blocks to add below a table, once all values stand

    def text(self):
        self._values(self.document, self.old, self.new)
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
            table = self.document.get(place.kind + "s", {}).get(name)
            if table is None:
                tail.append(_place_text(place, self.edge))
                continue
            old = olds.get(name) or self._unused_place(name)
            self._values(table, old, place)
            for key in ("windows", "circuits"):
                if hasattr(place, key):
                    self._list(table, key, getattr(old, key), getattr(place, key), (place.kind + "s", name, key))
        return tail

    def _unused_place(self, name):
        """A place in the file that no setup of the opened shoot stood in."""
        tables = self.document.unwrap()
        return places_by_name(self.edge, tables.get("rooms", {}), tables.get("exteriors", {}))[name]

    def _setup(self, table, old, new):
        self._values(table, old, new)
        for kind in ("haze", "sun", "sky"):
            before, after = (_typed(setup, kind) for setup in (old, new))
            if isinstance(before, str) or isinstance(after, str):
                self._daylight(table, kind, before, after)
            else:
                self._optional(table, kind, before, after)
        self._camera(table["camera"], old.camera, new.camera)
        for key in LISTS:
            self._list(table, key, getattr(old, key), getattr(new, key), ("setups", key))

    def _daylight(self, table, kind, old, new):
        """A sun or a sky that is, or was, a word and no table: nothing is written where nothing was and the hour still gives it."""
        if isinstance(new, str):
            if new != old and (kind in table or new == NONE):
                table[kind] = new
        else:
            if kind in table:
                table.remove(kind)
            if new is not None:
                _add(table, kind, _lines(new, {}, self.edge))

    def _camera(self, table, old, new):
        base = camera_over(self.edge, ("camera",), "", SOMEWHERE, self.package)
        defaults = {f.name: getattr(base, f.name) for f in fields(Camera) if f.name not in SOMEWHERE}
        before, after = (_lines(part, table, self.edge, defaults) for part in (old, new))
        if "shutter_s" in self.package and old.fps != new.fps and "shutter_s" not in table:
            before.pop("shutter_deg", None)  # the package's time would give another angle at the new rate
            after["shutter_deg"] = float(new.shutter_deg)
        _apply(table, before, after)

    def _values(self, table, old, new):
        if not same(old, new):
            _apply(table, *(_lines(part, table, self.edge) for part in (old, new)))

    def _optional(self, table, kind, old, new):
        """Haze, sun or sky: changed in place, added as one line, or taken out."""
        if same(old, new):
            return
        if kind not in table:
            _add(table, kind, _lines(new, {}, self.edge))
        elif new is None:
            table.remove(kind)
        else:
            self._values(table[kind], old, new)

    def _list(self, table, key, olds, news, path):
        """The parts of one kind, matched by name."""
        if same(olds, news):
            return
        olds, news = _named_parts(olds), _named_parts(news)
        held, renamed = table.get(key), _renamed(list(olds), list(news))
        for index, name in reversed(list(enumerate(olds))):
            if renamed.get(name, name) in news:
                self._values(held[index], olds[name], news[renamed.get(name, name)])
            else:
                del held[index]
        if held is not None and len(held) == 0:
            table.remove(key)
            held = None
        for name in [name for name in news if name not in olds and name not in renamed.values()]:
            if isinstance(held, Array):
                held.append(_inline(_lines(news[name], {}, self.edge)))
            else:
                self.late.append((table, _blocks([news[name]], path, self.edge)))


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
