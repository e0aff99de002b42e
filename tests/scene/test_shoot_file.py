"""Shoot files: what is refused and how it is said; what comes back; what a save touches; what an interruption leaves."""

import difflib
import os
import re
import stat
import subprocess
import sys
import textwrap
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lightcalc.kit import materials
from lightcalc.kit.candela import Beam, Lambert, Photometry
from lightcalc.scene import shoot_edit, shoot_file
from lightcalc.scene.parts import Board, Exterior, Flag, Frame, Haze, Mark, Sky, Spot, Sun, Target, Window
from lightcalc.scene.shoot_edit import same
from lightcalc.scene.shoot_file import ShootFile, load, new_text, save
from lightcalc.scene.shoot_read import ShootError, loads

GOOD = """\
# the crew's own words
title = "Tide"        # working title
days = 2

[camera]
t_stop = 2.8
iso = 800             # base

[rooms.loft]          # upstairs
width_m = 6.4
depth_m = 9
height_m = 3.40
far = "old timber"

[[rooms.loft.windows]]
name = "barred"
wall = "right"
centre_m = 5.9
sill_m = 1.6
width_m = 1.2
height_m = 1.4

[exteriors.dyke]
width_m = 40
depth_m = 30

# the beam comes first
[[setups]]
name = "1"
place = "loft"
haze = { visibility_m = 80 }   # by eye
cuts_to = "2"
targets = [
    { of = "face", quantity = "level", stops = -0.33 },   # dark is fine
    { of = "face", quantity = "veil", stops = 1 },
]

[setups.camera]       # on the box
at = [ 1.2, 0.80, 1.5 ]
aim = [2.4, 3.6, 1.4]

# key, two bags
[[setups.lights]]
name = "key"          # do not move
kit = "1 kW tungsten spot"
at = [5.2, 5.6, 2.6]
aim = [2.4, 3.6, 1.3]

# kitchen panel
[[setups.lights]]
name = "fill"
lux = 300
at_m = 2.5            # metered
face_width_m = 0.6
face_height_m = 0.6
at = [0.9, 1.4, 1.9]
aim = [2.4, 3.6, 1.4]

[[setups.boards]]
name = "board"
stuff = "white"
at = [0.9, 3.4, 1.2]
aim = [2.4, 3.6, 1.4]
width_m = 1.2
height_m = 1.2

[[setups.marks]]
name = "face"
at = [2.4, 3.6, 1.4]
aim = [3.4, 2.6, 1.4]

# the dyke, if the weather holds
[[setups]]
name = "2"
place = "dyke"
day = 2
marks = [
    { name = "runner", at = [10, 12, 1.6], aim = [10, 2, 1.5] },   # our tallest
    { name = "cart", at = [11, 12, 0.6], aim = [10, 2, 1.5] },
]
[setups.camera]
at = [10, 2, 1.2]
aim = [10, 12, 1.4]
shutter_s = 0.01
# end of the second day
"""
LIGHT = 'name = "key"          # do not move\n'


def changed(old, new, text=GOOD):
    """GOOD with one piece swapped; the piece must be there."""
    assert text.count(old) >= 1
    return text.replace(old, new, 1)


# --- reading ------------------------------------------------------------------------------------------------


def test_reads_what_is_written():
    shoot = loads(GOOD)
    one, two = shoot.setups
    assert (shoot.title, shoot.days, shoot.units) == ("Tide", 2, "metric")
    assert one.camera.at == (1.2, 0.8, 1.5)
    assert one.camera.t_stop == pytest.approx(np.sqrt(8))  # PUBLISHED: ISO 517:2008, engraved 2.8 is 2 sqrt 2
    assert one.place.far == materials.surface("old timber").reflectance
    assert one.place.windows[0].width_m == 1.2
    assert one.part("key").distribution == materials.lamp("1 kW tungsten spot").beam
    assert one.part("key").watts == 1000
    assert one.part("fill").distribution == Lambert(peak_cd=300 * 2.5**2)  # DERIVED: lux x metres squared
    assert one.part("board").stuff == materials.stuff("white")
    assert one.haze.extinction_per_m == pytest.approx(3.912023 / 80)  # PUBLISHED: AMS Glossary, ln 50 / V
    assert one.targets[0] == Target(of="face", quantity="level", stops=-0.33)
    assert two.place == Exterior(name="dyke", width_m=40, depth_m=30)
    assert two.camera.shutter_deg == pytest.approx(86.4)  # DERIVED: 360 x 24 x 0.01
    assert two.camera.iso == 800  # from the package


def test_demo_is_eight_setups_over_two_days():
    demo = load(shoot_file.demo_path())
    assert demo.title == "The Salt Ledger"
    assert [setup.day for setup in demo.setups] == [1, 1, 1, 1, 2, 2, 2, 2]
    assert demo.setup("1").cuts_to == "2"
    assert all(setup.targets for setup in demo.setups)
    assert demo.setup("6").camera.fps == 120
    assert demo.setup("7").place.windows[0].sheer.direct == 0.0  # or the curtain would let a beam through


def test_new_text_is_sound_and_carries_the_title():
    for title in ("Low Tide", 'A "quoted" \\ title', "TITLE"):
        shoot = loads(new_text(title))
        assert shoot.title == title
    assert new_text("x").count("#") > 15
    with pytest.raises(ShootError, match="title must be text without control characters"):
        new_text("bell \a")


@pytest.mark.parametrize(
    "engraved, exact",  # PUBLISHED: ISO 517:2008, stops are powers of the square root of two
    [(2, 2.0), (2.8, 2**1.5), (3.5, 2 ** (11 / 6)), (5.6, 2**2.5), (11, 2**3.5), (1.3, 1.3), (2.35, 2.35)],
)
def test_a_stop_is_read_as_engraved(engraved, exact):
    assert loads(changed("t_stop = 2.8", f"t_stop = {engraved}")).setups[0].camera.t_stop == pytest.approx(exact, rel=1e-12)


@pytest.mark.parametrize(
    "haze, extinction",
    [
        ("extinction_per_m = 0.05", 0.05),
        ("visibility_m = 78.24046", 0.05),  # PUBLISHED: AMS Glossary, 3.912 / 0.05
        ("visibility_ft = 256.694423", 0.05),  # DERIVED: 78.24046 / 0.3048
        ("loss_percent_per_m = 4.877058", 0.05),  # DERIVED: 100 (1 - exp(-0.05))
    ],
)
def test_haze_in_three_ways(haze, extinction):
    shoot = loads(changed("visibility_m = 80", haze))
    assert shoot.setups[0].haze.extinction_per_m == pytest.approx(extinction, rel=1e-6)


LAMP = 'kit = "1 kW tungsten spot"'


@pytest.mark.parametrize(
    "lines, distribution",
    [
        ("peak_cd = 9000\nbeam_deg = 24\nfield_deg = 37", Beam(peak_cd=9000, beam_deg=24, field_deg=37)),
        ("lux = 1000\nat_m = 3.0\nbeam_deg = 24\nfield_deg = 37", Beam(peak_cd=9000, beam_deg=24, field_deg=37)),
        ("fc = 100\nat_ft = 10.0\nbeam_deg = 24\nfield_deg = 37",  # DERIVED: fc x ft^2 is candela
         Beam(peak_cd=10_000, beam_deg=24, field_deg=37)),
        ("lumens = 4000\nbeam_deg = 24\nfield_deg = 37", Beam.from_lumens(lumens=4000, beam_deg=24, field_deg=37)),
        ("lumens = 4000\nface_width_m = 1\nface_height_m = 1", Lambert(peak_cd=4000 / np.pi)),  # DERIVED: pi I0
        (LAMP + "\npeak_cd = 9000", Beam(peak_cd=9000, beam_deg=50, field_deg=62)),
        (LAMP + "\nlux = 1000\nat_m = 3\nbeam_deg = 24", Beam(peak_cd=9000, beam_deg=24, field_deg=62)),
        ('kit = "60x60 cm soft panel"\nlux = 500\nat_m = 3', Lambert(peak_cd=4500)),
    ],
)  # fmt: skip
def test_a_light_from_its_own_numbers(lines, distribution):
    assert same(loads(changed(LAMP, lines)).setups[0].part("key").distribution, distribution)


@pytest.mark.parametrize("power, factor", [("lumens = 2100", 2.0), ("peak_cd = 200", 200 * 4 * np.pi / 1050)])
def test_a_lantern_of_the_kit_turned_up(power, factor):
    # DERIVED: the kit's paper lantern is 1050 lm the same all round, 1050 / (4 pi) cd.
    light = loads(changed(LAMP, f'kit = "paper lantern"\n{power}')).setups[0].part("key")
    assert light.distribution.lumens() == pytest.approx(1050 * factor)


def test_own_fields_win_over_the_kit():
    key = loads(changed(LAMP, LAMP + "\nwatts = 970\nkelvin = 3150")).setups[0].part("key")
    assert (key.watts, key.kelvin, key.kit) == (970, 3150, "1 kW tungsten spot")


def test_feet_are_converted_at_the_door():
    text = changed('title = "Tide"', 'title = "Tide"\nlengths = "feet"')
    text = text.replace("width_m = 6.4", "width_ft = 41").replace("depth_m = 9", "depth_ft = 40", 1)
    shoot = loads(text.replace("height_m = 3.40", "height_ft = 20"))
    assert shoot.setups[0].place.width_m == pytest.approx(41 * 0.3048)
    assert shoot.setups[0].camera.aim == pytest.approx((2.4 * 0.3048, 3.6 * 0.3048, 1.4 * 0.3048))
    assert shoot.setups[0].part("board").width_m == 1.2  # a name that says metres means metres


# --- a photometric file --------------------------------------------------------------------------------------

IES = """IESNA:LM-63-2002
[TEST] LC-0001
[TESTLAB] lightcalc project (invented data)
[ISSUEDATE] 01-JAN-2025
[MANUFAC] None (invented for tests)
TILT=NONE
1 -1 1.0 3 1 1 2 0.0 0.0 0.0
1.0 1.0 40.0
0 45 90
0
1000.0 707.1 0.0
"""


@pytest.fixture
def measured(tmp_path):
    (tmp_path / "lamps").mkdir()
    (tmp_path / "lamps" / "cosine.ies").write_text(IES)
    path = tmp_path / "shoot" / "tide.toml"
    path.parent.mkdir()
    (path.parent / "cosine.ies").write_text(IES)
    return path


def photometry(path, name):
    path.write_text(changed(LAMP, f'photometry = "{name}"'))
    return path


def test_photometry_lies_beside_the_shoot_file(measured):
    light = load(photometry(measured, "cosine.ies")).setups[0].part("key")
    assert light.distribution.peak_cd == 1000


@pytest.mark.parametrize(
    "name, sentence",
    [
        ("../lamps/cosine.ies", "photometry must lie in the shoot file's folder, got '../lamps/cosine.ies'"),
        ("ABSOLUTE", "photometry must lie in the shoot file's folder, got "),
        ("link.ies", "photometry must lie in the shoot file's folder, got 'link.ies'"),
        ("none.ies", "photometry 'none.ies' is not there; it is looked for beside the shoot file"),
        ("pipe.ies", "photometry 'pipe.ies' is not there; it is looked for beside the shoot file"),
        ("large.ies", "photometry 'large.ies' may have 1,000,000 bytes"),
        ("bad.ies", "bad.ies, line "),
    ],
)
def test_photometry_from_elsewhere_or_broken_is_refused(measured, name, sentence):
    folder = measured.parent
    (folder / "link.ies").symlink_to(folder.parent / "lamps" / "cosine.ies")
    (folder / "large.ies").write_bytes(b"0" * 1_000_001)
    (folder / "bad.ies").write_text("not a lamp")
    os.mkfifo(folder / "pipe.ies")  # reading it would wait for ever
    name = str(folder.parent / "lamps" / "cosine.ies") if name == "ABSOLUTE" else name
    with pytest.raises(ShootError) as caught:
        load(photometry(measured, name))
    assert str(caught.value).startswith(f"tide.toml, line 45: setup '1', light 'key': {sentence}")


def test_photometry_needs_a_folder():
    with pytest.raises(ShootError, match="photometry 'a.ies' needs a shoot file on disk, in whose folder it lies"):
        loads(changed(LAMP, 'photometry = "a.ies"'))


# --- what is refused -----------------------------------------------------------------------------------------

KEY = "tide.toml: setup '1', light 'key': "
BAD = [
    # not TOML
    (changed('title = "Tide"', "title = Tide"), "tide.toml, line 2: not TOML: invalid value (column 9)"),
    (changed("days = 2", "days 2"), "tide.toml, line 3: not TOML: expected '=' after a key in a key/value pair (column 6)"),
    (changed("days = 2", "days = 2\ndays = 3"), "tide.toml, line 4: not TOML: cannot overwrite a value (column 9)"),
    (GOOD + '[setups.sun]\nelevation_deg = 9\nnormal_lx = 9\nbearing_deg = "',
     f"tide.toml, line {GOOD.count(chr(10)) + 4}: not TOML: unterminated string (the text ends too early)"),
    (changed("days = 2", "days = " + "[" * 1500 + "]" * 400), "tide.toml: nested too deeply; a shoot file needs four levels"),
    (changed("days = 2", "days = " + "9" * 1990), "tide.toml: days must be a whole number >= 1 and <= 64, got a very large number"),
    (changed("days = 2", "days = 2 #" + "x" * 2000), "tide.toml, line 3: a line may have 2,000 characters, got 2,010"),
    ("#" * 10 + "\n" + "# x\n" * 250_000, "tide.toml: a shoot file may have 1,000,000 characters, got 1,000,011"),
    # unknown or missing
    (changed("[camera]", "[camra]"), "tide.toml: no field 'camra'; did you mean 'camera'?"),
    (changed("iso = 800", "isoo = 800"), "tide.toml: camera: no field 'isoo'; did you mean 'iso'?"),
    (changed(LIGHT, LIGHT + "dimm = 0.5\n"), KEY + "no field 'dimm'; did you mean 'dim'?"),
    (changed("wall =", "walls ="), "tide.toml: room 'loft', window 'barred': no field 'walls'; did you mean 'wall'?"),
    (changed('stuff = "white"\n', 'stuff = "white"\nqq = 1\n'),
     "tide.toml: setup '1', board 'board': no field 'qq'; it takes name, at, aim, pan_deg, tilt_deg, width_m, height_m, roll_deg, stuff"),
    (changed("visibility_m", "visiblity_m"), "tide.toml: setup '1', haze: no field 'visiblity_m'; did you mean 'visibility_m'?"),
    (changed(LIGHT, ""), "tide.toml: setup '1', light 1: needs name, a text in quotes"),
    (changed("at = [5.2, 5.6, 2.6]\n", ""), KEY + "needs at, a point [x, y, z] of three numbers"),
    (changed('title = "Tide"        # working title\n', ""), "tide.toml: needs title, a text in quotes"),
    ('title = "Tide"\n', "tide.toml: needs setups, a list of tables"),
    ('title = "Tide"\nsetups = []\n', "tide.toml: needs at least one setup under [[setups]]"),
    (changed('place = "loft"\n', ""), "tide.toml: setup '1': needs place, the name of a room or exterior in quotes"),
    (changed('place = "loft"', 'place = "attic"'),
     "tide.toml: setup '1': place 'attic' is not in this file; it must be one of loft, dyke"),
    # the wrong kind of value
    (changed("days = 2", "days = 2.5"), "tide.toml: days must be a whole number >= 1 and <= 64, got 2.5"),
    (changed("days = 2", "days = true"), "tide.toml: days must be a whole number >= 1 and <= 64, got true"),
    (changed('title = "Tide"', 'title = "be\\u0007ll"'), "tide.toml: title must be text without control characters, got 'be(U+0007)ll'"),
    (changed('title = "Tide"', f'title = "{"x" * 301}"'),
     f"tide.toml: title must be at most 300 characters, got '{'x' * 37}...'"),
    (changed('title = "Tide"', "title = 2024-05-01"), "tide.toml: title must be a text in quotes, got 2024-05-01"),
    (changed(LIGHT, LIGHT + 'dim = "half"\n'), KEY + "dim must be stops in quotes such as '-2 stops', or a number >= 0 and <= 1, got 'half': share of full output, 1 is full"),
    (changed(LIGHT, LIGHT + "dim = nan\n"), KEY + "dim must be a finite number, got nan: share of full output, 1 is full"),
    (changed("at = [5.2, 5.6, 2.6]", "at = [5.2, 5.6]"), KEY + "at must be a point [x, y, z] of three numbers, got [5.2, 5.6]"),
    (changed("at = [5.2, 5.6, 2.6]", "at = [5.2, 5.6, true]"),
     KEY + "at must be a point [x, y, z] of three numbers, got [5.2, 5.6, true]"),
    (changed("haze = { visibility_m = 80 }", "haze = 80"), "tide.toml: setup '1': haze must be a table, got 80"),
    (changed('cuts_to = "2"', 'cuts_to = "2"\nkey = "key"'), "tide.toml: setup '1': key must be a list of names in quotes, got 'key'"),
    (changed("[rooms.loft]", "[rooms]\nshed = 3\n[rooms.loft]"), "tide.toml: room 'shed': must be a table under [rooms.NAME], got 3"),
    (changed('cuts_to = "2"', "flags = [" + "{}," * 65 + "]"),
     "tide.toml: setup '1': flags must be a list of tables, at most 64, got a list of 65"),
    # names the kit does not have
    (changed(LAMP, 'kit = "1 kW tungsten spt"'),
     KEY + "kit: no lamp of the kit is called '1 kW tungsten spt'; did you mean '1 kW tungsten spot'?"),
    (changed('stuff = "white"', 'stuff = "whit"'),
     "tide.toml: setup '1', board 'board': stuff: no stuff of the kit is called 'whit'; did you mean 'white'?"),
    (changed('far = "old timber"', 'far = "old timbr"'),
     "tide.toml: room 'loft': far: no surface of the kit is called 'old timbr'; did you mean 'old timber'?"),
    (changed("visibility_m = 80", 'visibility_m = 80, droplets = "tea"'),
     "tide.toml: setup '1', haze: droplets must be one of fine glycol haze, coarse glycol fog, glycerol haze, oil haze, "
     "water mist, got 'tea'"),
    # one of several
    (changed(LAMP, ""), KEY + "needs kit, or one of peak_cd, lumens, lux or fc with at_m, or photometry"),
    (changed(LAMP, LAMP + "\npeak_cd = 9\nlumens = 9"), KEY + "needs one of peak_cd, lumens, lux, fc, photometry, got peak_cd and lumens"),
    (changed("at_m = 2.5", "# at_m"),
     "tide.toml: setup '1', light 'fill': lux or fc and at_m go together: so much light at so many metres from the face"),
    (changed(LAMP, "peak_cd = 9"), KEY + "needs beam_deg and field_deg, or a soft face: face_width_m and face_height_m, lit evenly"),
    (changed(LAMP, "peak_cd = 9\nfield_deg = 20"), KEY + "a spot needs beam_deg and field_deg, got field_deg"),
    (changed(LIGHT, LIGHT + "pan_deg = 20\n"), KEY + "give one of aim, pan_deg with tilt_deg, got aim and pan_deg"),
    (changed("aim = [2.4, 3.6, 1.3]", "pan_deg = 20"), KEY + "pan_deg and tilt_deg go together, got only pan_deg"),
    (changed("aim = [2.4, 3.6, 1.3]", "pan_deg = 20\ntilt_deg = 95"), KEY + "tilt_deg must be >= -90 and <= 90 degrees, got 95: plus is up"),
    (changed("aim = [2.4, 3.6, 1.3]", 'aim = "nose"'), KEY + "aim must be a point or the name of a mark (face), got 'nose'"),
    (changed(LAMP, 'photometry = "a.ies"\nbeam_deg = 20'),
     KEY + "photometry brings its own shape and angles; take beam_deg away"),
    (changed("visibility_m = 80", "visibility_m = 80, extinction_per_m = 0.1"),
     "tide.toml: setup '1', haze: give one of extinction_per_m, visibility_m, loss_percent_per_m, "
     "got extinction_per_m and visibility_m"),
    (changed("visibility_m = 80", 'g = 0.7, droplets = "oil haze"'), "tide.toml: setup '1', haze: give g or droplets, not both"),
    (changed("shutter_s = 0.01", "shutter_s = 0.01\nshutter_deg = 180"),
     "tide.toml: setup '2', camera: give one of shutter_deg, shutter_s, got shutter_deg and shutter_s"),
    (changed("width_m = 6.4", "width_m = 6.4\nwidth_ft = 21"), "tide.toml: room 'loft': give width_m or width_ft, not both"),
    (changed("[camera]", "[camera]\nat = [1, 2, 3]"),
     "tide.toml: camera: at belongs to a setup's own camera, under [setups.camera]"),
    # out of range: the scene's own sentence, with the file and the setup before it
    (changed(LIGHT, LIGHT + "dim = 1.5\n"), KEY + "dim must be >= 0 and <= 1, got 1.5: share of full output, 1 is full"),
    (changed(LAMP, "peak_cd = -9\nbeam_deg = 20\nfield_deg = 30"),
     KEY + "peak_cd must be > 0 cd, got -9: on the axis: lux times metres squared"),
    (changed("visibility_m = 80", "visibility_m = 0"),
     "tide.toml: setup '1', haze: visibility_m must be > 0 m, got 0: a hazed stage is some 40 to 400"),
    (changed("iso = 800", "iso = 0"), "tide.toml: camera: iso must be > 0.9 and <= 10000000, got 0"),
    (changed("iso = 800", "pixel_um = 0"),
     "tide.toml: camera: pixel_um must be > 0.2 and <= 100 micrometres, got 0: from pixel to pixel, such as 6"),
    (changed("iso = 800", "balance_kelvin = -3200"),
     "tide.toml: camera: balance_kelvin must be 0 (not given) or >= 1000 and <= 100000 K, got -3200: a colour temperature such as 3200"),
    (changed("iso = 800", 'read_noise_e = "low"'), "tide.toml: camera: read_noise_e must be a number >= 0 and <= 1000 electrons, got 'low': added by reading a pixel"),
    (changed("shutter_s = 0.01", "shutter_s = 0.05"),
     "tide.toml: setup '2', camera: shutter_deg must be > 0 and <= 360 degrees, got 432: 180 is half the frame time"),
    (changed("centre_m = 5.9", "centre_m = 8.9"),
     "tide.toml: room 'loft', window 'barred': centre_m and width_m must keep it on the right wall (0 to 9 m), got 8.3 to 9.5 m"),
    (changed("at = [2.4, 3.6, 1.4]\n", "at = [2.4, 3.6, 4.4]\n"),
     "tide.toml: setup '1', mark 'face': at must be inside the 6.4 x 9 x 3.4 m room, got [2.4, 3.6, 4.4]"),
    (changed('cuts_to = "2"', 'cuts_to = "3"'), "tide.toml: setup '1': cuts_to must be one of 1, 2, got '3'"),
    (changed('of = "face"', 'of = "nose"'), "tide.toml: setup '1': a target must be of a mark or spot (face), got 'nose'"),
    (changed('name = "fill"', 'name = "key"'), "tide.toml: setup '1': light names must differ, got 'key' twice"),
    (changed('name = "2"', 'name = "1"', changed('cuts_to = "2"\n', "")), "tide.toml: shoot 'Tide': setup names must differ, got '1' twice"),
    (changed("day = 2", "day = 3"), "tide.toml: setup '2': day must be >= 1 and <= 2, got 3"),
    (changed("days = 2", 'days = 2\nunits = "yards"'), "tide.toml: units must be one of metric, feet, got 'yards'"),
    (changed("days = 2", 'days = 2\nlengths = "yards"'), "tide.toml: lengths must be one of metres, feet, got 'yards'"),
    (changed("[exteriors.dyke]", "[exteriors.loft]\nwidth_m = 3\ndepth_m = 3\n[exteriors.dyke]"), "tide.toml: exterior 'loft': an exterior must not have the name of a room"),
]  # fmt: skip


AT = {  # lines that are not the first one that differs from GOOD: the head of a table, the second of two
    "setup '1', light 1: needs name": 43, "light 'key': needs at": 43, "tide.toml: needs title": None,
    "tide.toml: needs setups": None, "needs at least one": 2, "setup '1': needs place": 28, "room 'shed'": 10,
    "light 'key': needs kit": 43, "light 'fill': lux or fc": 52, "give one of shutter_deg": 84, "setup names must differ": 73,
    "nested too deeply": None, "a shoot file may have": None, "tilt_deg must be": 48, "give one of aim, pan_deg": 45,
    "a spot needs": 46,
}  # fmt: skip


def lined(text, sentence):
    """The sentence with the line that it is about."""
    line = 1 + next((n for n, (a, b) in enumerate(zip(text.split("\n"), GOOD.split("\n"))) if a != b), 0)
    line = next((n for part, n in AT.items() if part in sentence), line)
    return (
        sentence if line is None or "tide.toml, line" in sentence else sentence.replace("tide.toml", f"tide.toml, line {line}", 1)
    )


def test_at_least_thirty_kinds_are_refused():
    assert len({sentence for _, sentence in BAD}) == len(BAD) >= 30


@pytest.mark.parametrize("text, sentence", BAD, ids=[re.sub(r"^tide.toml[:,] ", "", s)[:60] for _, s in BAD])
def test_a_bad_file_is_refused_in_one_sentence(text, sentence):
    with pytest.raises(ShootError) as caught:
        loads(text, "tide.toml")
    assert str(caught.value) == lined(text, sentence)
    assert "\n" not in sentence and len(caught.value.faults) == 1


@pytest.mark.parametrize(
    "raw, sentence",
    [
        (None, "tide.toml: no such file"),
        ("folder", "tide.toml: not a file"),
        (b"\xff\xfe" + "title".encode("utf-16-le"), "tide.toml, line 1: not UTF-8 text; save it as UTF-8"),
        (b'title = "x"\n# caf\xe9\n', "tide.toml, line 2: not UTF-8 text; save it as UTF-8"),
        (b"#" * 1_000_001, "tide.toml: a shoot file may have 1,000,000 bytes, got more"),
        (b"", "tide.toml: needs title, a text in quotes\ntide.toml: needs setups, a list of tables"),
    ],
)
def test_a_file_that_cannot_be_read(tmp_path, raw, sentence):
    path = tmp_path / "tide.toml"
    if raw == "folder":
        path.mkdir()
    elif raw is not None:
        path.write_bytes(raw)
    with pytest.raises(ShootError) as caught:
        load(path)
    assert str(caught.value) == sentence


def test_errors_are_value_errors():
    assert issubclass(ShootError, ValueError)


@given(st.text(alphabet="[]{}=\"\\'#.,\n ax1-", max_size=200))
@settings(max_examples=300)
def test_whatever_is_typed_is_refused_not_crashed_on(text):
    with pytest.raises(ShootError):
        loads(text)


@pytest.mark.slow
@given(st.recursive(st.none() | st.booleans() | st.integers() | st.text(max_size=5), lambda x: st.lists(x, max_size=3)))
def test_any_value_anywhere_is_refused_or_read(value):
    # Every field of the format gets a value of any kind: a shoot or a ShootError, never another error.
    toml = repr(value).replace("None", "1979-05-27").replace("True", "true").replace("False", "false")
    for line in ("days = 2", 'name = "key"', 'wall = "right"', "visibility_m = 80", "iso = 800", "width_m = 6.4"):
        key = line.split(" = ")[0]
        try:
            loads(changed(line, f"{key} = {toml}"))
        except ShootError:
            pass


# --- there and back ------------------------------------------------------------------------------------------


def diff(old, new):
    """The lines that a save took away and put in."""
    lines = list(difflib.unified_diff(old.splitlines(), new.splitlines(), lineterm="", n=0))[2:]
    return [line for line in lines if not line.startswith("@@")]


@pytest.fixture
def opened(tmp_path):
    path = tmp_path / "tide.toml"
    path.write_text(GOOD)
    return ShootFile.open(path)


def put(shoot, setup):
    """The shoot with one setup replaced by its new self."""
    return replace(shoot, setups=tuple(setup if s.name == setup.name else s for s in shoot.setups))


def test_nothing_changed_nothing_written(opened):
    before = opened.path.stat()
    assert opened.save(opened.shoot) is opened
    assert opened.path.read_text() == GOOD
    assert opened.path.stat().st_mtime_ns == before.st_mtime_ns


def saved(opened, setup):
    again = opened.save(put(opened.shoot, setup))
    assert same(load(opened.path), again.shoot)
    return diff(GOOD, opened.path.read_text())


def test_a_moved_light_changes_one_number(opened):
    one = opened.shoot.setup("1")
    assert saved(opened, one.with_part("key", at=(5.2, 5.85, 2.6))) == [
        "-at = [5.2, 5.6, 2.6]", "+at = [5.2, 5.85, 2.6]",
    ]  # fmt: skip


def test_layout_of_what_did_not_move_stays(opened):
    one = opened.shoot.setup("1")
    assert saved(opened, one.with_part("camera", at=(1.2, 0.8, 1.75))) == [
        "-at = [ 1.2, 0.80, 1.5 ]", "+at = [ 1.2, 0.80, 1.75 ]",
    ]  # fmt: skip


def test_a_renamed_light_keeps_its_lines(opened):
    one = opened.shoot.setup("1")
    new = replace(one, lights=(replace(one.lights[0], name="lamp"), one.lights[1]))
    assert saved(opened, new) == ['-name = "key"          # do not move', '+name = "lamp"          # do not move']


def test_swapped_lights_take_their_comments_along(opened):
    one = opened.shoot.setup("1")
    saved(opened, replace(one, lights=one.lights[::-1]))
    text = opened.path.read_text()
    assert '# kitchen panel\n[[setups.lights]]\nname = "fill"' in text
    assert '# key, two bags\n[[setups.lights]]\nname = "key"' in text
    assert sorted(text.split("\n")) == sorted(GOOD.split("\n"))


def test_a_new_field_lands_above_the_next_part_s_comment(opened):
    one = opened.shoot.setup("1")
    assert saved(opened, one.with_part("key", dim=0.5)) == ["+dim = 0.5"]
    text = opened.path.read_text()
    assert "aim = [2.4, 3.6, 1.3]\ndim = 0.5\n\n# kitchen panel\n" in text


def test_a_reading_stays_in_the_way_it_was_typed(opened):
    # DERIVED: the panel is typed as 300 lx at 2.5 m; half a stop up is 300 sqrt 2, at the same 2.5 m.
    fill = opened.shoot.setup("1").part("fill").distribution
    up = opened.shoot.setup("1").with_part("fill", distribution=Lambert(peak_cd=fill.peak_cd * 1.5))
    assert saved(opened, up) == ["-lux = 300", "+lux = 450"]


def test_haze_stays_a_visibility(opened):
    one = opened.shoot.setup("1")
    lines = saved(opened, replace(one, haze=Haze(extinction_per_m=one.haze.extinction_per_m * 2)))
    assert lines[0] == "-haze = { visibility_m = 80 }   # by eye"
    assert re.fullmatch(r"\+haze = \{ visibility_m = (40(\.0*\d?)?|39\.9{6,}\d*) \}   # by eye", lines[1])
    clear = replace(one, haze=Haze(extinction_per_m=0.0))
    assert re.fullmatch(r"\+haze = \{ +extinction_per_m = 0 ?\}   # by eye", saved(ShootFile.open(opened.path), clear)[1])


def test_a_stop_is_written_as_engraved(opened):
    one = opened.shoot.setup("1")
    assert saved(opened, one.with_part("camera", t_stop=2**2.5)) == ["+t_stop = 5.6"]


def test_the_sensors_numbers_are_read_and_written():
    # DERIVED: the package's numbers reach every setup, a setup's own go over them, and what was not said is the default.
    shoot = loads(changed("iso = 800", "iso = 800\npixel_um = 8.25\nread_noise_e = 2\nbalance_kelvin = 5600"))
    two = shoot.setup("2").camera
    assert (two.pixel_um, two.read_noise_e, two.balance_kelvin, two.quantum_efficiency) == (8.25, 2.0, 5600.0, 0.2)


def test_a_shutter_time_stays_a_time(opened):
    two = opened.shoot.setup("2")
    assert saved(opened, two.with_part("camera", shutter_deg=172.8)) == ["-shutter_s = 0.01", "+shutter_s = 0.02"]


@pytest.mark.parametrize("own", ["", "fps = 48\n"])  # the setup's rate is the package's, or its own
def test_a_new_frame_rate_keeps_the_angle_the_package_gives_as_a_time(tmp_path, own):
    path = tmp_path / "tide.toml"
    text = changed("iso = 800", "shutter_s = 0.01\niso = 800")
    path.write_text(changed("aim = [2.4, 3.6, 1.4]\n", "aim = [2.4, 3.6, 1.4]\n" + own, text))
    opened = ShootFile.open(path)
    old = opened.shoot.setup("1").camera
    assert old.shutter_deg == pytest.approx(3.6 * old.fps)  # DERIVED: 360 x rate x time
    opened.save(put(opened.shoot, opened.shoot.setup("1").with_part("camera", fps=60.0)))
    again = load(path).setup("1").camera
    assert (again.fps, again.shutter_deg) == (60.0, pytest.approx(old.shutter_deg))


def test_inline_marks_stay_inline(opened):
    two = opened.shoot.setup("2")
    new = replace(two.with_part("runner", receptor="dome"), marks=two.with_part("runner", receptor="dome").marks[:1]
                  + (Mark(name="crew", at=(9, 9, 1), aim=(10, 2, 1.5)),))  # fmt: skip
    lines = saved(opened, new)
    assert [line for line in lines if "runner" in line][1].endswith("# our tallest")
    assert not any("[[setups.marks]]" in line for line in lines)


WHOLE = {
    "board added": lambda one: replace(one, boards=one.boards + (
        Board(name="second", at=(1, 1, 1), aim=(2, 2, 2), width_m=1.2, height_m=2.4, stuff=materials.stuff("black"), roll_deg=12.0),)),
    "all boards gone": lambda one: replace(one, boards=()),
    "lights swapped": lambda one: replace(one, lights=one.lights[::-1]),
    "light renamed": lambda one: replace(one, lights=(replace(one.lights[0], name="lamp"), one.lights[1])),
    "flag, frame, spot": lambda one: replace(
        one, flags=(Flag(name="cut", at=(1, 1, 1), aim=(2, 2, 2), width_m=0.6, height_m=0.9),),
        frames=(Frame(name="silk", at=(1, 1, 2), aim=(2, 2, 2), width_m=1.2, height_m=1.2, diffusion=materials.diffusion("silk")),),
        spots=(Spot(name="beam", at=(3, 3, 1), source="key"),)),
    "sun and sky": lambda one: replace(one, sun=Sun(bearing_deg=120, elevation_deg=20, normal_lx=60_000, kelvin=5_000), sky=Sky(zenith_cd_m2=2_000, horizon_cd_m2=3_000)),
    "no haze": lambda one: replace(one, haze=Haze()),
    "droplets": lambda one: replace(one, haze=replace(one.haze, droplets="oil haze")),
    "g": lambda one: replace(one, haze=replace(one.haze, g=0.6)),
    "key and notes": lambda one: replace(one, key=("key", "fill"), notes='two lines,\n"quoted" \\ and \'so\'', title="Tide in"),
    "targets": lambda one: replace(one, targets=(one.targets[1], Target(of="face", quantity="fill_under", stops=-2, within=0.5))),
    "no targets": lambda one: replace(one, targets=()),
    "another lamp": lambda one: one.with_part(
        "key", kit="2 kW open face", distribution=materials.lamp("2 kW open face").beam, watts=2000,
        face_width_m=0.22, face_height_m=0.22),
    "lamp of its own": lambda one: one.with_part("key", kit="", distribution=Beam(peak_cd=7, beam_deg=9, field_deg=21)),
    "measured output": lambda one: one.with_part("key", distribution=replace(one.part("key").distribution, peak_cd=10_234.5)),
    "panel becomes a spot": lambda one: one.with_part("fill", distribution=Beam(peak_cd=7, beam_deg=9, field_deg=21)),
    "lantern, turned up": lambda one: one.with_part(
        "key", kit="paper lantern", watts=14, kelvin=2700, face_width_m=0.53, face_height_m=0.53,
        distribution=Photometry(vertical_deg=(0, 180), horizontal_deg=(0,), candela=((99, 99),), name="the same all round")),
    "gel and diffusion": lambda one: one.with_part(
        "key", gel=materials.gel("half cool"), diffusion=materials.diffusion("half"), roll_deg=3.5, evidence="metered"),
    "other stuff": lambda one: one.with_part("board", stuff=materials.stuff("soft silver")),
    "camera": lambda one: one.with_part("camera", iso=1250.0, fps=25.0, nd_stops=1.5, shutter_deg=172.8, focal_mm=24.0),
    "the sensor": lambda one: one.with_part(
        "camera", pixel_um=8.25, quantum_efficiency=0.17, read_noise_e=4.2, photons_per_lx_s_um2=11_500.0, balance_kelvin=4300.0),
    "day, cut": lambda one: replace(one, day=2, cuts_to=""),
}  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("change", WHOLE, ids=WHOLE)
def test_any_change_of_a_setup_comes_back(opened, change):
    new = put(opened.shoot, WHOLE[change](opened.shoot.setup("1")))
    assert not same(new, opened.shoot)
    again = opened.save(new)
    assert same(load(opened.path), new)
    for comment in ("# the crew's own words", "# working title", "# base", "# upstairs", "# on the box", "# our tallest",
                    "# the dyke, if the weather holds", "# end of the second day"):  # fmt: skip
        assert comment in again.text
    back = again.save(opened.shoot)  # undo, and the file reads as it did
    assert same(load(opened.path), opened.shoot) and same(back.shoot, opened.shoot)


def room(shoot, place):
    return replace(shoot, setups=tuple(replace(s, place=place) if s.place.name == place.name else s for s in shoot.setups))


def test_a_room_is_changed_where_it_stands(opened):
    loft = opened.shoot.setups[0].place
    new = replace(loft, far=0.4, height_m=3.5, windows=(replace(loft.windows[0], sheer=materials.diffusion("muslin")),
                                                        Window(name="hatch", wall="far", centre_m=2, sill_m=1, width_m=0.6, height_m=0.6)))  # fmt: skip
    opened.save(room(opened.shoot, new))
    assert load(opened.path).setups[0].place == new
    lines = diff(GOOD, opened.path.read_text())
    assert '-far = "old timber"' in lines and "+far = 0.4" in lines and '+sheer = "muslin"' in lines
    assert opened.path.read_text().index("hatch") < opened.path.read_text().index("[exteriors.dyke]")


def test_two_setups_cannot_hold_two_rooms_of_one_name(opened):
    two = replace(opened.shoot.setups[1], place=Exterior(name="loft", width_m=20, depth_m=20))
    with pytest.raises(ShootError) as caught:
        opened.save(put(opened.shoot, two))
    assert str(caught.value) == (
        "setup '2': place 'loft' is shared with another setup and differs there; change it in all of them or give it another name"
    )
    assert opened.path.read_text() == GOOD


def test_setups_added_dropped_and_moved_take_their_comments_along(opened):
    one, two = opened.shoot.setups
    third = replace(two, name="3", title="Night", place=Exterior(name="yard", width_m=12, depth_m=9), day=1)
    new = replace(opened.shoot, setups=(two, third, replace(one, cuts_to="3")), title="Ebb")
    opened.save(new)
    text = opened.path.read_text()
    assert same(load(opened.path), new)
    assert '# the dyke, if the weather holds\n[[setups]]\nname = "2"' in text
    assert text.index("# the beam comes first") > text.index('name = "3"')
    ShootFile.open(opened.path).save(replace(new, setups=(third,)))
    assert [s.name for s in load(opened.path).setups] == ["3"]


def test_a_shoot_that_a_file_cannot_say_is_refused_and_nothing_written(opened):
    odd = replace(opened.shoot.setups[0].part("board").stuff, reflectance=0.33)
    with pytest.raises(ShootError, match="^tide.toml: setups 1 boards board stuff white reflectance cannot be written"):
        opened.save(put(opened.shoot, opened.shoot.setups[0].with_part("board", stuff=odd)))
    assert opened.path.read_text() == GOOD


@pytest.mark.parametrize("raw", [GOOD.replace("\n", "\r\n").encode(), b"\xef\xbb\xbf" + GOOD.encode(), GOOD.rstrip().encode()])
def test_line_ends_byte_order_mark_and_missing_last_line_end_stay(tmp_path, raw):
    path = tmp_path / "tide.toml"
    path.write_bytes(raw)
    opened = ShootFile.open(path)
    opened.save(put(opened.shoot, opened.shoot.setup("1").with_part("key", at=(5.3, 5.6, 2.6), dim=0.5)))
    wanted = raw.replace(b"[5.2, 5.6, 2.6]", b"[5.3, 5.6, 2.6]")
    end = b"\r\n" if b"\r\n" in raw else b"\n"
    aim = b"aim = [2.4, 3.6, 1.3]" + end
    assert path.read_bytes() == wanted.replace(aim, aim + b"dim = 0.5" + end)


@pytest.mark.parametrize(
    "layout",
    [
        lambda text: changed("[setups.camera]       # on the box\nat = [ 1.2, 0.80, 1.5 ]\naim = [2.4, 3.6, 1.4]\n",
                             "camera.at = [1.2, 0.8, 1.5]\ncamera.aim = [2.4, 3.6, 1.4]\n", text),
        lambda text: changed("[setups.camera]       # on the box\nat = [ 1.2, 0.80, 1.5 ]\naim = [2.4, 3.6, 1.4]\n",
                             "camera = { at = [1.2, 0.8, 1.5], aim = [2.4, 3.6, 1.4] }\n", text),
        lambda text: text + "\n[rooms.shed]\nwidth_m = 3\ndepth_m = 3\nheight_m = 2.5\n",
    ],
)  # fmt: skip
def test_other_layouts_are_written_into_too(tmp_path, layout):
    path = tmp_path / "tide.toml"
    path.write_text(layout(GOOD))
    opened = ShootFile.open(path)
    new = put(opened.shoot, WHOLE["camera"](WHOLE["board added"](WHOLE["sun and sky"](opened.shoot.setup("1")))))
    opened.save(new)
    assert same(load(path), new)


metre = st.floats(0.0, 3.3, allow_subnormal=False)
place = st.tuples(metre, metre, metre)


@pytest.mark.slow
@given(at=place, aim=place, camera=place, width=st.floats(0.01, 9.0), feet=st.booleans())
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_position_comes_back(at, aim, camera, width, feet):
    text = changed('title = "Tide"', 'title = "Tide"\nlengths = "feet"' if feet else 'title = "Tide"')
    old = loads(text)
    if min(np.linalg.norm(np.subtract(aim, at)), np.linalg.norm(np.subtract(camera, old.setups[0].camera.aim))) < 1e-5:
        return
    one = old.setups[0].with_part("board", at=at, aim=aim, width_m=width).with_part("camera", at=camera)
    new = put(old, one)
    again = loads(shoot_edit.edited(text, old, new)).setups[0]
    if not feet:  # metres come back to the last bit
        assert (again.part("board"), again.camera) == (one.part("board"), one.camera)
    assert np.allclose(again.part("board").at, at, rtol=1e-12, atol=1e-12)
    assert np.allclose(again.camera.at, camera, rtol=1e-12, atol=1e-12)
    assert again.part("board").width_m == width


def test_feet_are_written_back_short():
    text = changed('title = "Tide"', 'title = "Tide"\nlengths = "feet"')
    old = loads(text)
    new = put(old, old.setups[0].with_part("key", at=(11 * 0.3048, 12.5 * 0.3048, 8 * 0.3048)))
    assert "at = [11, 12.5, 8]" in shoot_edit.edited(text, old, new)


@pytest.mark.parametrize("text", [GOOD, new_text("Low Tide"), shoot_file.demo_path().read_text()], ids=["good", "new", "demo"])
def test_a_whole_shoot_goes_into_a_new_file(tmp_path, text):
    shoot = loads(text)
    path = tmp_path / "copy.toml"
    save(path, shoot)
    assert same(load(path), shoot)
    tomllib.loads(path.read_text())
    save(path, replace(shoot, title="Ebb"))  # and the second time into the one that is there
    assert load(path).title == "Ebb"


# --- the disk ------------------------------------------------------------------------------------------------


@pytest.fixture
def change(opened):
    return put(opened.shoot, opened.shoot.setup("1").with_part("key", dim=0.5))


def leftovers(path):
    return [p.name for p in path.parent.iterdir() if p != path]


def test_a_file_changed_by_someone_else_is_not_overwritten(opened, change):
    theirs = GOOD.replace("Tide", "Ebb")
    opened.path.write_text(theirs)
    with pytest.raises(ShootError) as caught:
        opened.save(change)
    assert str(caught.value) == "tide.toml: changed on disk since it was opened; open it again before saving"
    assert opened.path.read_text() == theirs
    opened.path.unlink()
    with pytest.raises(ShootError, match="changed on disk since it was opened"):
        opened.save(change)
    assert leftovers(opened.path) == [] and not opened.path.exists()


def test_saving_twice_through_the_same_opened_file_needs_the_new_one(opened, change):
    again = opened.save(change)
    other = put(change, change.setup("1").with_part("key", dim=0.4))
    with pytest.raises(ShootError, match="changed on disk"):
        opened.save(other)
    assert again.save(other).shoot == other


STEPS = ["open", "write", "flush", "fsync file", "read back", "replace", "fsync folder"]


def break_at(step, patch, error):
    """Make one step of a save fail; the file handle of the spare is wrapped for write and flush."""

    def fail(*_args, **_kwargs):
        raise error

    class Handle:
        def __init__(self, file):
            self.file = file

        def __enter__(self):
            return self

        def __exit__(self, *_about):
            self.file.close()

        def write(self, raw):
            if step == "write":
                self.file.write(raw[: len(raw) // 2])  # the disk fills up half way
                self.file.flush()
                raise error
            return self.file.write(raw)

        def flush(self):
            return fail() if step == "flush" else self.file.flush()

        def fileno(self):
            return self.file.fileno()

    seen = []

    def fsync(number):
        seen.append(stat.S_ISDIR(os.fstat(number).st_mode))
        if step == ("fsync folder" if seen[-1] else "fsync file"):
            raise error

    real_open, real_fdopen = os.open, os.fdopen
    if step == "open":
        patch.setattr(os, "open", lambda path, flags, *a: fail() if flags & os.O_CREAT else real_open(path, flags, *a))
    patch.setattr(os, "fdopen", lambda number, mode: Handle(real_fdopen(number, mode)))
    patch.setattr(os, "fsync", fsync)
    if step == "read back":
        patch.setattr(ShootFile, "_check_unchanged", fail)
    if step == "replace":
        patch.setattr(os, "replace", fail)
    return seen


@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), KeyboardInterrupt()], ids=["full disk", "interrupt"])
@pytest.mark.parametrize("step", STEPS)
def test_an_interrupted_save_leaves_the_old_file_or_the_new_one(opened, change, monkeypatch, step, error):
    with monkeypatch.context() as patch:
        break_at(step, patch, error)
        with pytest.raises(ShootError if isinstance(error, OSError) else KeyboardInterrupt) as caught:
            opened.save(change)
    if isinstance(error, OSError):
        assert str(caught.value) == "tide.toml: cannot be saved: No space left on device"
    assert same(load(opened.path), change if step == "fsync folder" else opened.shoot)
    assert (opened.path.read_text() == GOOD) == (step != "fsync folder")
    assert leftovers(opened.path) == []


def test_the_steps_above_are_the_steps_there_are(opened, change, monkeypatch):
    # With nothing broken the same wrapping saves, and both the file and the folder are flushed, in that order.
    with monkeypatch.context() as patch:
        flushed = break_at("none", patch, None)
        opened.save(change)
    assert flushed == [False, True]
    assert same(load(opened.path), change)


@pytest.mark.parametrize("step", ["write", "fsync", "replace"])
def test_a_killed_save_leaves_a_whole_file(opened, step):
    # The process dies on the spot: no clean-up runs, as in a power cut.
    program = f"""
        import os
        from dataclasses import replace
        from lightcalc.scene import shoot_file
        die = lambda *a, **k: os._exit(7)
        if {step!r} == "write":
            real = os.fdopen
            def fdopen(number, mode):
                os.write(number, b"title = ")
                os._exit(7)
            os.fdopen = fdopen
        else:
            setattr(os, {step!r}, die)
        opened = shoot_file.ShootFile.open({str(opened.path)!r})
        opened.save(replace(opened.shoot, title="Ebb"))
    """
    done = subprocess.run([sys.executable, "-c", textwrap.dedent(program)], cwd=Path(shoot_file.__file__).parents[2])
    assert done.returncode == 7
    assert opened.path.read_text() == GOOD
    assert opened.save(replace(opened.shoot, title="Ebb")).shoot.title == "Ebb"  # and the next save is not hindered


def test_a_save_keeps_mode_and_goes_through_a_link(opened, change, tmp_path):
    os.chmod(opened.path, 0o640)
    link = tmp_path / "link.toml"
    link.symlink_to(opened.path)
    ShootFile.open(link).save(change)
    assert link.is_symlink() and same(load(opened.path), change)
    assert opened.path.stat().st_mode & 0o777 == 0o640


def test_a_write_protected_file_is_left_alone(opened, change, monkeypatch):
    monkeypatch.setattr(os, "access", lambda path, mode: mode != os.W_OK)  # tests may run as root, whom modes do not stop
    with pytest.raises(ShootError, match="^tide.toml: is write-protected; allow writing, or save under another name$"):
        opened.save(change)
    assert opened.path.read_text() == GOOD and leftovers(opened.path) == []
