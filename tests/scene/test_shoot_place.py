"""Place, dates, hours and the haze machine in a shoot file: read, refused in one sentence, and written back."""

import datetime as dt
import difflib
from dataclasses import replace

import pytest

from lightcalc.scene import shoot_file
from lightcalc.scene.parts import HazeMachine, SceneError
from lightcalc.scene.shoot import Shoot
from lightcalc.scene.shoot_edit import dumps, edited, same
from lightcalc.scene.shoot_read import ShootError, loads
from lightcalc.sky.positions import Place

PLACED = """\
# a coast that is not on any map
title = "Tide"
days = 2
latitude_deg = 54.1      # north
longitude_deg = 8.6
time_zone = "Europe/Berlin"
dates = [2028-08-20, 2028-08-21]   # new moon
horizon = [[200, 0], [250, 2.5]]   # the dyke

[haze_machine]
fluid_g_per_min = 3      # on the box
droplet_share = 0.2

[rooms.loft]
width_m = 6
depth_m = 9
height_m = 3
air_changes_per_h = 0.8  # doors shut

# at dusk
[[setups]]
name = "1"
place = "loft"
time = "20:10"
outlook = "clear"
camera = { at = [1, 1, 1], aim = [2, 2, 1] }

[[setups]]
name = "2"
day = 2
place = "loft"
camera = { at = [1, 1, 1], aim = [2, 2, 1] }
"""


def changed(old, new):
    assert PLACED.count(old) == 1
    return PLACED.replace(old, new)


def test_place_dates_and_machine_are_read():
    shoot = loads(PLACED)
    assert shoot.where == Place(54.1, 8.6, "Europe/Berlin", ((200.0, 0.0), (250.0, 2.5)))
    assert [shoot.date_of(setup) for setup in shoot.setups] == [dt.date(2028, 8, 20), dt.date(2028, 8, 21)]
    assert shoot.haze_machine == HazeMachine(fluid_g_per_min=3.0, droplet_share=0.2, fluid="glycol")
    assert shoot.setups[0].place.air_changes_per_h == 0.8
    assert [(setup.time, setup.outlook) for setup in shoot.setups] == [("20:10", "clear"), ("", "")]


def test_all_of_it_may_be_left_out():
    shoot = Shoot(title="Tide", setups=loads(PLACED).setups, days=2)
    assert shoot.where is None and shoot.date_of(shoot.setups[0]) is None and shoot.haze_machine is None
    bare = loads(dumps(shoot))
    assert bare.where is None and "latitude" not in dumps(shoot) and "haze_machine" not in dumps(shoot)


def test_a_new_file_holds_it_all():
    shoot = loads(PLACED)
    assert same(loads(dumps(shoot)), shoot) and "dates = [2028-08-20, 2028-08-21]" in dumps(shoot)


@pytest.mark.parametrize(("change", "line"), [
    (lambda s: replace(s, latitude_deg=-33.5), "latitude_deg = -33.5      # north"),
    (lambda s: replace(s, time_zone="UTC"), 'time_zone = "UTC"'),
    (lambda s: replace(s, dates=(dt.date(2029, 1, 2), dt.date(2029, 1, 3))), "dates = [2029-01-02, 2029-01-03]"),
    (lambda s: replace(s, horizon=((200.0, 0.0), (250.0, 4.0))), "horizon = [[200, 0], [250, 4]]"),
    (lambda s: replace(s, horizon=()), "horizon = []"),
    (lambda s: replace(s, haze_machine=HazeMachine(fluid_g_per_min=5.0, droplet_share=0.2)), "fluid_g_per_min = 5      # on the box"),
    (lambda s: replace(s, setups=(replace(s.setups[0], time="20:25"), s.setups[1])), 'time = "20:25"'),
    (lambda s: replace(s, setups=(replace(s.setups[0], outlook="overcast"), s.setups[1])), 'outlook = "overcast"'),
    (lambda s: replace(s, setups=(s.setups[0], replace(s.setups[1], time="6:00"))), 'time = "6:00"'),
])  # fmt: skip
def test_what_changes_is_written_where_it_stands(change, line):
    old = loads(PLACED)
    new = change(old)
    text = edited(PLACED, old, new)
    assert same(loads(text), new) and line in text
    assert "# a coast that is not on any map" in text and "# doors shut" in text and "# at dusk" in text
    touched = [row for row in difflib.ndiff(PLACED.splitlines(), text.splitlines()) if row[0] in "+-"]
    assert 1 <= len(touched) <= 2, touched


def test_a_place_is_written_into_a_file_that_had_none():
    old = loads('title = "T"\n[rooms.loft]\nwidth_m = 6\ndepth_m = 9\nheight_m = 3\n' + PLACED[PLACED.index("# at dusk") :])
    text = 'title = "T"\n[rooms.loft]\nwidth_m = 6\ndepth_m = 9\nheight_m = 3\n' + PLACED[PLACED.index("# at dusk") :]
    new = replace(old, latitude_deg=54.1, longitude_deg=8.6, time_zone="UTC", dates=(dt.date(2028, 8, 20), dt.date(2028, 8, 21)),
                  haze_machine=HazeMachine(fluid_g_per_min=3.0, droplet_share=0.2, fluid="mineral oil"))  # fmt: skip
    assert same(loads(edited(text, old, new)), new)
    gone = edited(PLACED, loads(PLACED), replace(loads(PLACED), haze_machine=None))
    assert loads(gone).haze_machine is None and "fluid_g_per_min" not in gone


@pytest.mark.parametrize(("text", "sentence"), [
    (changed("54.1  ", "98.1  "), "latitude_deg must be >= -90 and <= 90 degrees, got 98.1: north is plus, south minus"),
    (changed("longitude_deg = 8.6\n", ""), "shoot 'Tide': a place needs latitude_deg, longitude_deg and time_zone, got none for longitude_deg"),
    (changed('time_zone = "Europe/Berlin"\n', ""), "shoot 'Tide': a place needs latitude_deg, longitude_deg and time_zone, got none for time_zone"),
    (changed("Europe/Berlin", "Europe/Berln"), "shoot 'Tide': time_zone must be a name of the IANA list, got 'Europe/Berln'; did you mean 'Europe/Berlin'?"),
    (changed(", 2028-08-21]", "]"), "shoot 'Tide': dates must be one for each of 2 days, got 1"),
    (changed("2028-08-20,", "2208-08-20,"), "shoot 'Tide': date must be of the years 1900 to 2099, got 2208-08-20"),
    (changed("2028-08-20,", '"20 August",'), "dates must be a list of dates such as 2028-08-20, got a list of 2"),
    (changed("2028-08-20,", "2028-08-20T10:00:00,"), "dates must be a list of dates such as 2028-08-20, got a list of 2"),
    (changed("[250, 2.5]", "[250]"), "horizon must be a list of [bearing, height] rows of two numbers, got a list of 2"),
    (changed("[250, 2.5]", "[400, 2.5]"), "shoot 'Tide': horizon bearing must be >= 0 and <= 360, got 400: compass degrees"),
    (changed('"20:10"', '"20.10"'), "setup '1': time must be a time of day such as '19:40', got '20.10'"),
    (changed('"clear"', '"sunny"'), "setup '1': outlook must be one of clear, partly, overcast, got 'sunny'"),
    (changed("= 0.8 ", "= -2 "), "room 'loft': air_changes_per_h must be >= 0 and <= 200, got -2: a closed old room is 0.3 to 1"),
    (changed("fluid_g_per_min = 3 ", "fluid_g_per_min = 0 "), "haze_machine: fluid_g_per_min must be > 0 and <= 1000 g/min, got 0: a small hazer is 1 to 5"),
    (changed("droplet_share = 0.2", ""), "haze_machine: needs droplet_share, a number > 0 and <= 1"),
    (changed("droplet_share = 0.2", 'droplet_share = 0.2\nfluid = "tea"'), "haze_machine: fluid must be one of glycol, mineral oil, got 'tea'"),
])  # fmt: skip
def test_what_cannot_be_is_refused_in_one_sentence(text, sentence):
    with pytest.raises(ShootError) as refused:
        loads(text)
    said = str(refused.value)
    line = 1 + next(n for n, (a, b) in enumerate(zip(text.split("\n"), PLACED.split("\n"))) if a != b)
    heads = {"got none for longitude_deg": 4, "got none for time_zone": 4, "needs droplet_share": 10}
    line = next((n for part, n in heads.items() if part in sentence), line)
    assert said.startswith(f"shoot, line {line}: ") and sentence in said and "\n" not in said


def test_a_horizon_without_a_place_is_refused():
    setups = loads(PLACED).setups
    with pytest.raises(SceneError, match="shoot 'T': horizon needs a place: latitude_deg, longitude_deg and time_zone"):
        Shoot(title="T", setups=setups, days=2, horizon=((10.0, 1.0),))


def test_the_demo_has_a_place_by_the_sea_and_its_hours():
    demo = shoot_file.load(shoot_file.demo_path())
    assert demo.where is not None and len(demo.dates) == 2
    assert {setup.name: setup.time for setup in demo.setups if setup.time}.keys() >= {"3", "4", "5", "6"}
    assert demo.haze_machine is not None and demo.setup("1").place.air_changes_per_h
