"""What one meters by on paper: splits that add up, blanks beside every expected value, and where daylight comes from."""

import datetime as dt
import re
from dataclasses import replace

import numpy as np
import pytest

from lightcalc import wording
from lightcalc.answers.placement import placements
from lightcalc.paper import meter_blocks
from lightcalc.scene import numbering, shoot_file

import drawn_parts as parts

WIDE = 188.0
DEMO = shoot_file.load(shoot_file.demo_path())


def test_split_by_source_adds_up():
    # DERIVED: eight largest named, the others summed; figures are to three digits.
    setup = parts.crowd()
    mark = parts.readings(setup).marks[0]
    words = meter_blocks._split(mark, numbering.call_signs(setup))
    values = [float(word.rsplit(" ", 1)[1]) for word in words.split(", ")]
    assert len(values) == 9 and "rest" in words
    assert sum(values) == pytest.approx(mark.illuminance_lx, rel=0.005)


def test_colour_is_in_the_words_of_every_page():
    # DERIVED: to ten kelvins; Duv from .0015 on, with a true minus sign; a dash where there is no colour.
    read = parts.readings(parts.loft())
    marks = [replace(read.marks[0], mix_kelvin=k, mix_duv=d) for k, d in ((4138.0, -0.0026), (3204.0, 0.0014), (np.nan, 0))]
    table = meter_blocks.marks(parts.loft(), replace(read, marks=tuple(marks)), width=WIDE)
    assert [row[table.heads.index("Colour")] for row in table.rows] == ["4140 K, Duv −0.003", "3200 K", "–"]


@pytest.mark.parametrize("name", ["loft", "crowd", "pans", "bare"])
def test_every_lamp_mark_and_spot_has_a_blank_with_its_expected_value(name):
    setup = parts.SETUPS[name]()
    read = parts.readings(setup)
    rows = meter_blocks.day_block(setup, read, width=WIDE).rows
    assert len(rows) == len(setup.lights) + len(setup.marks) + len(setup.spots)
    expected = [wording.light_text(placed.check_lx, both=True) for placed in placements(setup) if placed.kind == "light"]
    expected += [f"{wording.light_text(m.illuminance_lx, both=True)}, {wording.stops_text(m.level_stops)}" for m in read.marks]
    expected += [f"{wording.luminance_text(s.luminance_cd_m2)}, {wording.stops_text(s.level_stops)}" for s in read.spots]
    assert [row[1] for row in rows] == expected and {row[2:] for row in rows} <= {("", "", "")}


def test_where_daylight_comes_from():
    # The model's own words are held in test_sun_and_sky; here, which of them a page has.
    assert meter_blocks.daylight_words(DEMO, DEMO.setup("3")) == "clear sky of 20:10 on 2028-08-20, model: half to twice"
    assert meter_blocks.daylight_words(DEMO, DEMO.setup("6")).startswith("overcast sky of 10:00 on 2028-08-21")
    assert meter_blocks.daylight_words(DEMO, DEMO.setup("1")) == "kept out"
    assert meter_blocks.daylight_words(DEMO, DEMO.setup("8")) == "none: without a time no hour has one"
    pans = parts.pans()
    assert meter_blocks.daylight_words(parts.shoot(pans), pans) == "as typed"
    half = replace(pans, sun=None, kept_out=("sun",))
    assert meter_blocks.daylight_words(parts.shoot(half), half) == "as typed; sun kept out"
    bare = parts.bare()
    assert meter_blocks.daylight_words(parts.shoot(bare), bare) == "none: without a place and dates and a time no hour has one"


def test_day_date_time_and_outlook_are_always_said():
    assert meter_blocks.when_words(DEMO, DEMO.setup("6")) == "Day 2 of 2, 2028-08-21, 10:00, overcast"
    clear = replace(DEMO.setup("3"), outlook="")
    assert meter_blocks.when_words(DEMO, clear) == "Day 1 of 2, 2028-08-20, 20:10, clear sky assumed"
    assert meter_blocks.when_words(DEMO, DEMO.setup("1")) == "Day 1 of 2, 2028-08-20, 15:00"  # daylight is kept out
    assert meter_blocks.when_words(DEMO, DEMO.setup("8")) == "Day 2 of 2, 2028-08-21, no time"
    bare = parts.bare()
    assert meter_blocks.when_words(parts.shoot(bare), bare) == "Day 1 of 2, no date, no time"


def test_the_nearer_of_sunrise_and_sunset():
    # INDEPENDENT: the sunrise equation, cos H = (sin -0.833 - sin lat sin dec) / (cos lat cos dec), declination by Cooper's
    # formula and the equation of time from Spencer's series, for 2028-08-20 at 54.1 N, 8.6 E, clock UTC + 2; good to 3 min.
    day, lat = dt.date(2028, 8, 20).timetuple().tm_yday, np.radians(54.1)
    dec = np.radians(23.45 * np.sin(np.radians(360 * (284 + day) / 365)))
    b = 2 * np.pi * (day - 1) / 366
    equation = 229.18 * (7.5e-5 + 1.868e-3 * np.cos(b) - 0.032077 * np.sin(b) - 0.014615 * np.cos(2 * b) - 0.040849 * np.sin(2 * b))
    half = np.degrees(np.arccos((np.sin(np.radians(-0.833)) - np.sin(lat) * np.sin(dec)) / (np.cos(lat) * np.cos(dec)))) * 4
    noon = 720 - 4 * 8.6 - equation + 120
    for time, name, minute in (("20:10", "sunset", noon + half), ("05:00", "sunrise", noon - half)):
        said = meter_blocks.twilight_words(DEMO, replace(DEMO.setup("3"), time=time))
        found = re.fullmatch(rf"{name} (\d+):(\d+)", said)
        assert 60 * int(found[1]) + int(found[2]) == pytest.approx(minute, abs=4)
    both = meter_blocks.twilight_words(DEMO, replace(DEMO.setup("3"), time="", sun=None, sky=None))
    assert re.fullmatch(r"sunrise \d\d:\d\d, sunset \d\d:\d\d", both)
    polar = replace(DEMO, latitude_deg=78.0)
    assert "the sun does not set" in meter_blocks.twilight_words(polar, polar.setup("3"))
    assert meter_blocks.twilight_words(parts.shoot(parts.pans()), parts.pans()) == ""


def test_sun_and_its_day_are_said_only_where_they_matter():
    lines = dict(meter_blocks.air_lines(DEMO, DEMO.setup("3")))
    assert lines["Sun"].startswith("from 285°, 4.") and "Sunset" in lines
    assert {"Sun", "Sky", "Sunset", "Sunrise"}.isdisjoint(dict(meter_blocks.air_lines(DEMO, DEMO.setup("1"))))
    night = dict(meter_blocks.air_lines(DEMO, DEMO.setup("4")))
    assert "under the horizon, gives no light" in night["Sun"] and "Sunset" in night
    assert "Sunrise" in dict(meter_blocks.air_lines(DEMO, DEMO.setup("5")))
