"""All faults of a shoot file in one run, each with its line: forty files with several faults, and what is not TOML."""

import random
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lightcalc.scene import shoot_file
from lightcalc.scene.shoot_file import load, new_text
from lightcalc.scene.shoot_lines import line_numbers, line_of
from lightcalc.scene.shoot_read import ShootError, loads

TIDE = """\
title = "Tide"
days = 2
units = "metric"
notes = '''
two lines,
[not] = a table
'''

[camera]
iso = 800
fps = 24
focal_mm = 35

[rooms."the loft"]
width_m = 6.4
depth_m = 9
height_m = 3.4
floor = "old timber"
bearing_deg = 90

[[rooms."the loft".windows]]
name = "barred"
wall = "right"
centre_m = 5.9
sill_m = 1.6
width_m = 1.2
height_m = 1.4
[[rooms."the loft".windows]]
name = "hatch"
wall = "far"
centre_m = 2.0
sill_m = 1.0
width_m = 0.6
height_m = 0.6

[exteriors.dyke]
width_m = 40
depth_m = 30
ground = "asphalt"

[[setups]]
name = "1"
place = "the loft"
key = [
    "key",
    "fill",
]
haze.visibility_m = 80
targets = [
    { of = "face", quantity = "level", stops = -0.33 },
    { of = "face", quantity = "veil", stops = 1, within = 0.5 },
]

[setups.camera]
at = [1.2, 0.8, 1.5]
aim = "face"
t_stop = 2.8

[[setups.lights]]
name = "key"
kit = "1 kW tungsten spot"
at = [5.2, 5.6, 2.6]
aim = [2.4, 3.6, 1.3]
dim = "-1 stops"

[[setups.lights]]
name = "fill"
lux = 300
at_m = 2.5
face_width_m = 0.6
face_height_m = 0.6
at = [0.9, 1.4, 1.9]
pan_deg = 34
tilt_deg = -11

[[setups.boards]]
name = "board"
stuff = "white"
at = [0.9, 3.4, 1.2]
aim = "face"
width_m = 1.2
height_m = 1.2

[[setups.marks]]
name = "face"
at = [2.4, 3.6, 1.4]
aim = [3.4, 2.6, 1.4]
receptor = "flat"

[[setups]]
name = "2"
place = "dyke"
day = 2
marks = [
    { name = "runner", at = [10, 12, 1.6], aim = [10, 2, 1.5] },
    { name = "cart", at = [11, 12, 0.6], aim = [10, 2, 1.5] },
]
sky = { zenith_cd_m2 = 2000, horizon_cd_m2 = 900 }
camera = { at = [10, 2, 1.2], aim = [10, 12, 1.4], shutter_s = 0.01 }
"""

# One line of TIDE, what stands there instead, and what must be said of that line. None is the consequence of another.
SLIPS = [
    ('units = "metric"', 'units = "yards"', "units must be one of metric, feet, got 'yards'"),
    ("iso = 800", "iso = 0", "camera: iso must be > 0.9 and <= 10000000, got 0"),
    ("fps = 24", "fps = 24,5", "24,5 has a decimal comma; TOML takes a point, 24.5"),
    ("focal_mm = 35", 'focal_mm = "35"', "camera: focal_mm must be a number > 2 and <= 2000 mm, got '35'"),
    ('floor = "old timber"', 'doors = "old timber"', "room 'the loft': no field 'doors'; it takes width_m, "),
    ("bearing_deg = 90", "bearing_deg = east", "not TOML: invalid value (column 15)"),
    ("centre_m = 5.9", "centre_m = 8.9", "room 'the loft', window 'barred': centre_m and width_m must keep it on the right wall"),
    ("sill_m = 1.6", "sill_ft = 9", "room 'the loft', window 'barred': sill_m + height_m must be <= 3.4 m (the ceiling), got 4.1432 m"),
    ('wall = "far"', 'wall = "north"', "room 'the loft', window 'hatch': wall must be one of left, right, near, far, got 'north'"),
    ('ground = "asphalt"', "ground = “asphalt”", "“ is a curly quote; TOML takes straight ones, \" or '"),
    ("depth_m = 30", "depth_m = 3000", "exterior 'dyke': depth_m must be > 0.5 and <= 1000 m, got 3000: ground on the plan"),
    ('    "fill",', '    "fil",', "setup '1': key must name its sources (key, fill, board), got 'fil'"),
    ("haze.visibility_m = 80", "haze.visiblity_m = 80", "setup '1', haze: no field 'visiblity_m'; did you mean 'visibility_m'?"),
    ('{ of = "face", quantity = "level"', '{ of = "nose", quantity = "level"', "setup '1': a target must be of a mark or spot (face), got 'nose'"),
    ('quantity = "veil", stops = 1', 'quantity = "haze", stops = 1', "setup '1', target of 'face': quantity must be one of level, "),
    ("within = 0.5", "within = 0", "setup '1', target of 'face': within must be > 0 and <= 10 stops, got 0"),
    ("at = [1.2, 0.8, 1.5]", "at = [1.2, 0.8, 4.5]", "setup '1', camera: at must be inside the 6.4 x 9 x 3.4 m room, got [1.2, 0.8, 4.5]"),
    ("t_stop = 2.8", "t_stop = true", "setup '1', camera: t_stop must be a number > 0.4 and <= 128, got true: a T-stop such as 2.8"),
    ('kit = "1 kW tungsten spot"', 'kit = "1 kW tungsten spt"',
     "setup '1', light 'key': kit: no lamp of the kit is called '1 kW tungsten spt'; did you mean '1 kW tungsten spot'?"),
    ("at = [5.2, 5.6, 2.6]", "at = [5,2, 5,6, 2,6]",
     "setup '1', light 'key': at must be a point [x, y, z] of three numbers, got [5, 2, 5, 6, 2, 6]: a decimal takes a point, not a comma"),
    ('dim = "-1 stops"', 'dim = "half"', "setup '1', light 'key': dim must be stops in quotes such as '-2 stops', or a number >= 0 and <= 1"),
    ("lux = 300", "lux = -300", "setup '1', light 'fill': lux must be > 0 lx, got -300: on the axis, at at_m"),
    ("tilt_deg = -11", "tilt_deg = -110", "setup '1', light 'fill': tilt_deg must be >= -90 and <= 90 degrees, got -110: plus is up"),
    ("face_height_m = 0.6", "face_height_m = 0", "setup '1', light 'fill': face_width_m and face_height_m must both be 0", "face_width_m = 0.6"),
    ('stuff = "white"', "stuff = white", "not TOML: invalid value (column 9)"),
    ("at = [0.9, 3.4, 1.2]", "# at", "setup '1', board 'board': needs at, a point [x, y, z] of three numbers", '[[setups.boards]]'),
    ('receptor = "flat"', 'receptor = "dom"', "setup '1', mark 'face': receptor must be one of flat, dome, got 'dom'"),
    ("day = 2", "day = 3", "setup '2': day must be >= 1 and <= 2, got 3"),
    ("at = [10, 12, 1.6]", "at = [10, 12]", "setup '2', mark 'runner': at must be a point [x, y, z] of three numbers, got [10, 12]"),
    ('name = "cart"', 'name = "runner"', "setup '2': mark names must differ, got 'runner' twice", "at = [11, 12, 0.6]"),
    ("zenith_cd_m2 = 2000", "zenith_cd_m2 = -2", "setup '2', sky: zenith_cd_m2 must be >= 0 and <= 1000000 cd/m2, got -2"),
    ("shutter_s = 0.01", "shutter_s = 0.05", "setup '2', camera: shutter_deg must be > 0 and <= 360 degrees, got 432: 180 is half"),
]  # fmt: skip


def slipped(slips):
    """TIDE with some slips, and what must be said: (line, words), by line."""
    text, wanted = TIDE, []
    for old, new, *_ in slips:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    for _, new, words, *where in slips:
        wanted.append((1 + text[: text.index(where[0] if where else new)].count("\n"), words))
    return text, sorted(wanted)


def test_the_file_they_slip_in_is_sound():
    assert [setup.name for setup in loads(TIDE).setups] == ["1", "2"]


@pytest.mark.parametrize("slip", SLIPS, ids=[slip[1][:40] for slip in SLIPS])
def test_each_slip_alone(slip):
    text, ((line, words),) = slipped([slip])
    with pytest.raises(ShootError) as caught:
        loads(text, "tide.toml")
    (fault,) = caught.value.faults
    assert fault.line == line and fault.sentence == str(caught.value)
    assert str(caught.value).startswith(f"tide.toml, line {line}: {words}") and "\n" not in str(caught.value)


# Slips whose one hides the other for a good reason: a lamp that is not known has no face, a window on no wall no place.
APART = [("lux = -300", "face_height_m = 0"), ("shutter_s = 0.05", "fps = 24,5")]


@pytest.mark.parametrize("seed", range(40))
def test_forty_files_with_several_faults_each(seed):
    slips = random.Random(seed).sample(SLIPS, 3 + seed % 6)
    for one, other in APART:
        if {one, other} <= {slip[1] for slip in slips}:
            slips = [slip for slip in slips if slip[1] != other]
    text, wanted = slipped(slips)
    with pytest.raises(ShootError) as caught:
        loads(text, "tide.toml")
    faults = caught.value.faults
    assert [fault.line for fault in faults] == [line for line, _ in wanted]
    for line, words in wanted:
        assert any(f.line == line and f.sentence.startswith(f"tide.toml, line {line}: {words}") for f in faults), words
    assert str(caught.value).splitlines() == [fault.sentence for fault in faults]


def test_every_slip_at_once():
    slips = [slip for slip in SLIPS if slip[1] not in [other for _, other in APART]]
    text, wanted = slipped(slips)
    with pytest.raises(ShootError) as caught:
        loads(text)
    assert [fault.line for fault in caught.value.faults] == [line for line, _ in wanted] and len(wanted) >= 30


# --- what follows from a fault is not said again --------------------------------------------------------------


@pytest.mark.parametrize(
    "old, new, sentence",
    [
        ("width_m = 6.4", "width_m = -6.4", "room 'the loft': width_m must be > 0.1"),  # nor the window, mark, camera in it
        ('[rooms."the loft"]', '[room."the loft"]', "no field 'room'; did you mean 'rooms'?"),
        ('name = "key"', 'nmae = "key"', "setup '1', light 1: no field 'nmae'; did you mean 'name'?"),
        ('name = "face"', "name = face", "not TOML: invalid value"),  # whom targets, board and camera are after
        ('place = "dyke"', "place = dyke", "not TOML: invalid value"),
        ('title = "Tide"', "title = “Tide”", "“ is a curly quote"),
    ],
)  # fmt: skip
def test_one_fault_is_one_sentence(old, new, sentence):
    assert TIDE.count(old) >= 1
    with pytest.raises(ShootError) as caught:
        loads(TIDE.replace(old, new, 1))
    assert len(caught.value.faults) == 1 or new.startswith("[room."), caught.value
    line = 1 + TIDE[: TIDE.index(old)].count("\n")
    assert f"shoot, line {line}: {sentence}" in str(caught.value)


# --- what is not TOML ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "line, sentence",
    [
        ("days = 3,2", "3,2 has a decimal comma; TOML takes a point, 3.2"),
        ("camera = { iso = 800, fps = 23,98 }", "23,98 has a decimal comma; TOML takes a point, 23.98"),
        ("title = ‘Tide’", "‘ is a curly quote; TOML takes straight ones, \" or '"),
        ('title = "Tide”', "” is a curly quote; TOML takes straight ones, \" or '"),
        ("title = „Flut“", "„ is a curly quote; TOML takes straight ones, \" or '"),
        ('title = "Ti\x1ade"', "not TOML: illegal character U+001A (column 12)"),
        ('title = "Tide', "not TOML: a text must be closed on its line (column 14)"),
        ("title = 'be\tll\x07'", "not TOML: found invalid character U+0007 (column 15)"),
    ],
)  # fmt: skip
def test_a_line_that_is_no_toml_is_named_as_what_it_is(line, sentence):
    with pytest.raises(ShootError) as caught:
        loads(f"# a shoot\n{line}\nsetups = []\n")
    text = str(caught.value)
    assert f"shoot, line 2: {sentence}" in text, text
    assert "\\x" not in text and all(c.isprintable() or c == "\n" for c in text)
    assert "setups" in text, "and the rest is read"


def test_curly_quotes_inside_straight_ones_are_text():
    assert loads(TIDE.replace('title = "Tide"', 'title = "The “low” tide"')).title == "The “low” tide"


@pytest.mark.parametrize("line", ["[rooms.loft", 'x = """', "at = [1, 2", "]", "= 3", "a b = 1"])
def test_a_form_that_cannot_be_mended_ends_the_reading_there(line):
    with pytest.raises(ShootError) as caught:
        loads(f'titel = "x"\niso = 1,5\n{line}\nsetups = 5\n')
    assert caught.value.faults[0].line == 2 and len(caught.value.faults) == 2
    assert "not TOML" in caught.value.faults[1].sentence


def test_a_value_that_stands_for_nothing_never_gets_into_a_shoot():
    # The mark that is put in the place of a value that could not be read is a text as any other when a person types it.
    with pytest.raises(ShootError, match="title must be text without control characters|needs title"):
        loads(TIDE.replace('"Tide"', '"\\ue000unread\\ue000"'))


@given(st.lists(st.sampled_from(SLIPS), min_size=1, max_size=5, unique_by=lambda slip: slip[0]), st.integers(0, 90))
@settings(max_examples=40, deadline=None)
def test_whatever_else_is_wrong_a_line_cut_short_is_a_shoot_error(slips, cut):
    lines = slipped(slips)[0].splitlines()
    lines[cut % len(lines)] = lines[cut % len(lines)][: cut % 7]
    try:
        loads("\n".join(lines))
    except ShootError as error:
        assert error.faults and all(fault.sentence for fault in error.faults)


# --- lines ---------------------------------------------------------------------------------------------------

LAYOUTS = 'a."b.c" . d = 1\n[x."y z"]\nk = """\n[t]\nn = 1\n"""\nl = [ # so\n  1, [2,\n 3],\n  { m = "]", n.o = 4 },\n]\n[[x.w]]\n[[x.w]]\nq = 07:32:00\n[x.w.v]\nr = -1e3\n'


@pytest.mark.parametrize("text", [TIDE, LAYOUTS, TIDE.replace("\n", "\r\n"), new_text("Low Tide"), Path(shoot_file.demo_path()).read_text()],
                         ids=["tide", "layouts", "crlf", "starter", "demo"])  # fmt: skip
def test_every_key_is_on_its_line(text):
    # INDEPENDENT: tomllib reads the text; the line we give must hold the key as it is typed, and start with it outside lists.
    lines, found, checked = text.split("\n"), line_numbers(text), 0

    def walk(value, path):
        nonlocal checked
        if path and isinstance(path[-1], str) and path in found:
            assert path[-1] in lines[found[path] - 1], path
            checked += 1
        for key, inner in value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ():
            if not isinstance(inner, dict) or not all(isinstance(v, dict | list) for v in inner.values()):
                assert (*path, key) in found, (*path, key)
            walk(inner, (*path, key))

    walk(tomllib.loads(text), ())
    assert checked > 6


def test_lines_of_one_text_by_hand():
    found = line_numbers(LAYOUTS)
    wanted = {("a", "b.c", "d"): 1, ("x", "y z"): 2, ("x", "y z", "k"): 3, ("x", "y z", "l", 1, 1): 9, ("x", "y z", "l", 2, "n", "o"): 10,
              ("x", "w", 0): 12, ("x", "w", 1, "q"): 14, ("x", "w", 1, "v", "r"): 16}  # fmt: skip
    assert {path: found.get(path) for path in wanted} == wanted
    assert line_of(found, ("x", "w", 1, "v", "none", 3)) == 15 and line_of(found, ("none",)) is None


def test_a_fault_of_a_file_on_disk(tmp_path):
    path = tmp_path / "tide.toml"
    path.write_bytes(b"\xef\xbb\xbf" + TIDE.replace("iso = 800", "iso = 0").replace("\n", "\r\n").encode())
    with pytest.raises(ShootError, match="^tide.toml, line 10: camera: iso must be"):
        load(path)
