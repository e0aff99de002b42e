"""What the day does to a setup, and the two verbs that print it: against the day's own functions, and in plain words."""

import datetime as dt
import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from lightcalc import __main__ as command
from lightcalc.answers import readings
from lightcalc.answers.setup_day import light_line, setup_day
from lightcalc.scene import shoot_file, sun_and_sky
from lightcalc.sky.clock import LocalDay
from lightcalc.sky.daylight import moonlight_lx

HOME = Path(command.__file__).resolve().parents[1]
DEMO = shoot_file.load(shoot_file.demo_path())


@pytest.fixture(scope="module")
def dusk():
    return setup_day(DEMO, DEMO.setup("3"))


@pytest.mark.slow
def test_targets_are_met_inside_the_span_and_missed_outside(dusk):
    # INDEPENDENT of the span: readings at single minutes, in final quality, in its middle and a quarter hour beyond it.
    today, setup = LocalDay(DEMO.dates[0], DEMO.time_zone), DEMO.setup("3")
    start, end = dusk.possible[-1]
    assert start < today.minute(setup.time) < end and 8 < end - start < 25
    clock = sun_and_sky.clock(DEMO, setup)
    met = [readings.readings(clock.setup_at(setup, minute)).met for minute in (start - 15, (start + end) / 2, end + 15)]
    assert met == [False, True, False]
    assert dusk.ridden[-1][0] < start and dusk.ridden[-1][1] > end


@pytest.mark.slow
def test_setups_without_daylight_have_no_span_and_rooms_have_windows():
    lamp = setup_day(DEMO, DEMO.setup("1"))
    assert lamp.possible is None and lamp.light.when == "15:00" and [name for name, _ in lamp.windows] == ["barred"]
    assert "its sun and sky kept out of this setup" in lamp.lines()[1]  # the lamp stands in a black tent outside
    assert "  sun in window 'barred': 06:20 to 14:24" in lamp.lines()
    assert "at no time" in "\n".join(
        setup_day(DEMO, replace(DEMO.setup("3"), targets=(replace(DEMO.setup("3").targets[0], stops=20.0),))).lines()
    )


@pytest.mark.slow
def test_lines_say_when_and_how_fast(dusk):
    told = dusk.lines()
    assert told[0] == "setup 3, 2028-08-20, clear: Raking the last pan"
    assert (
        told[1].startswith("  20:10: sun 4.0 degrees up at 285, ")
        and "a model value" in told[1]
        and "falling a third of a stop every" in told[1]
    )
    assert " fc square on" in dusk.lines(units="feet")[1]
    still = replace(dusk.light, stops_per_minute=0.0, third_every_min=np.inf)
    assert light_line(still).endswith("on open ground, steady")


@pytest.mark.slow
def test_moon_of_a_night_setup():
    # DERIVED: the first day's moon is new and down; a week and a half later it is up, and gives what its height and phase say.
    assert setup_day(DEMO, DEMO.setup("4")).lines()[1].endswith("; no moon")
    moonlit = replace(DEMO, dates=(dt.date(2028, 9, 1), dt.date(2028, 9, 2)))
    light = setup_day(moonlit, moonlit.setup("4")).light
    assert light.moon_lit_share > 0.8 and light_line(light).endswith(" lx") and "moon 21 degrees up, 96 % lit" in light_line(light)
    angle = np.degrees(np.arccos(2 * light.moon_lit_share - 1))
    assert light.moon_lx == pytest.approx(moonlight_lx(altitude_deg=light.moon_up_deg, phase_angle_deg=angle), rel=0.02)


@pytest.mark.slow
def test_day_verb(capsys):
    assert command.main(["day", str(shoot_file.demo_path()), "5", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["days"][0]["date"] == "2028-08-21" and {"name": "sunrise", "time": "06:15"} in found["days"][0]["events"]
    (row,) = found["setups"]
    assert row["at_its_time"]["sun_normal_lx"] == 0.0 and row["at_its_time"]["sun_elevation_deg"] == pytest.approx(-3.0, abs=0.5)
    assert row["targets_met"] and row["sun_in_windows"] == {} and "half or twice" in found["cautions"][0]


def test_air_verb(capsys):
    assert command.main(["air", str(shoot_file.demo_path())]) == 0
    told = capsys.readouterr().out
    assert told.count("build up: ") == 3 and "smoke detector" in told and "secondary" in told
    assert command.main(["air", str(shoot_file.demo_path()), "7", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["setups"][0]["extinction_per_m"] == 0.06 and [row["over"] for row in found["setups"][0]["limits"]] == [
        False,
        True,
        False,
    ]


@pytest.mark.parametrize(("argv", "without", "sentence"), [
    (("day", "3"), 'time_zone = "Europe/Berlin"', "a place needs latitude_deg, longitude_deg and time_zone, got none for time_zone"),
    (("day", "3"), "dates = [2028-08-20, 2028-08-21]", "has no dates: give it one for each day, dates = [2028-08-20]"),
    (("air", "1"), "air_changes_per_h = 0.8", "room 'loft' has no air_changes_per_h: add it under [rooms.loft]"),
    (("air", "3"), "", "'pans' is open ground: its air is the wind's"),
])  # fmt: skip
def test_verbs_refuse_in_one_sentence(argv, without, sentence, tmp_path, capsys):
    text = shoot_file.demo_path().read_text(encoding="utf-8")
    assert without in text
    path = tmp_path / "tide.toml"
    path.write_text(text.replace(without, "") if without else text, encoding="utf-8")
    assert command.main([argv[0], str(path), argv[1]]) == 2
    said = capsys.readouterr().err
    assert sentence in said and said.count("\n") == 1


def test_reading_a_file_loads_no_engine():
    code = (
        "import sys; from lightcalc.__main__ import main; main(['check', 'data/salt_ledger.toml']);"
        "print([m for m in ('numba', 'scipy', 'matplotlib') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=HOME, capture_output=True, text=True)
    assert done.stdout.splitlines()[-1] == "[]"
