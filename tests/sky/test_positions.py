"""Where sun and moon stand, and when: against a published worked example, printed almanacs and a second package."""

import datetime as dt

import numpy as np
import pytest

from lightcalc.sky import positions
from lightcalc.sky.clock import LocalDay, clock_time
from lightcalc.sky.positions import Place, event_minute, events, moon_at, sun_at

OSLO_NORTH = Place(latitude_deg=70.0, longitude_deg=25.0, time_zone="Europe/Oslo")


def at_utc(year, month, day, hour=0, minute=0):
    return dt.datetime(year, month, day, hour, minute, tzinfo=dt.UTC)


def test_published_worked_example():
    # PUBLISHED: Reda & Andreas, NREL/TP-560-34302 (2008), worked example: elevation 39.888378 with refraction (820 mbar,
    # 11 C), 39.872046 without, azimuth 194.340241. They take delta-T as 67 s, ephem 64.5: under 3e-5 degrees.
    place = Place(latitude_deg=39.742476, longitude_deg=-105.1786, time_zone="Etc/GMT+7")
    when = dt.datetime(2003, 10, 17, 12, 30, 30, tzinfo=dt.timezone(dt.timedelta(hours=-7)))
    seen = sun_at(place, when, pressure_mbar=820.0, temperature_c=11.0)
    assert seen.altitude_deg == pytest.approx(39.872046, abs=1e-4)
    assert seen.apparent_deg == pytest.approx(39.888378, abs=1e-4)
    assert seen.bearing_deg == pytest.approx(194.340241, abs=1e-4)


@pytest.mark.slow
def test_four_hundred_places_and_dates_against_a_second_package():
    # INDEPENDENT: pvlib's coding of NREL's algorithm shares no code with ephem (both rest on VSOP87). Geometric height,
    # and bearing as an angle on the sky; 0.02 degrees is asked for.
    from pvlib import spa

    rng = np.random.default_rng(1707)
    latitudes, longitudes = np.degrees(np.arcsin(rng.uniform(-1, 1, 400))), rng.uniform(-180, 180, 400)
    start = at_utc(1950, 1, 1)
    moments = [start + dt.timedelta(minutes=float(m)) for m in rng.uniform(0, 100 * 365.25 * 1440, 400)]
    worst = 0.0
    for latitude, longitude, when in zip(latitudes, longitudes, moments):
        seen = sun_at(Place(latitude, longitude, "UTC"), when)
        slow_s = spa.calculate_deltat(when.year, when.month)
        found = spa.solar_position(np.array([when.timestamp()]), latitude, longitude, 0.0, 1013.25, 12.0, slow_s, 0.5667)
        elevation, azimuth = found[3][0], found[4][0]
        turned = (seen.bearing_deg - azimuth + 180.0) % 360.0 - 180.0
        across = turned * np.cos(np.radians(seen.altitude_deg))
        worst = max(worst, abs(across), abs(seen.altitude_deg - elevation))
    assert 1e-6 < worst < 1e-3  # 0.0003 when this was written


# PUBLISHED: USNO rise and set as printed in pvlib's and skyfield's test data (hours of the given zone), minute for minute.
ROWS = [
    (39.0, -105.0, "Etc/GMT+7", (2015, 1, 2), {"sunrise": "07:19", "sunset": "16:49"}),
    (39.0, -105.0, "Etc/GMT+7", (2015, 4, 2), {"sunrise": "05:43", "sunset": "18:24"}),
    (39.0, -105.0, "Etc/GMT+7", (2015, 8, 2), {"sunrise": "05:01", "sunset": "19:10"}),
    (39.0, -105.0, "Etc/GMT+7", (2015, 12, 2), {"sunrise": "07:01", "sunset": "16:38"}),
    (39.917, 116.383, "Etc/GMT-8", (2015, 1, 2), {"sunrise": "07:36", "sunset": "17:00"}),
    (39.917, 116.383, "Etc/GMT-8", (2015, 8, 2), {"sunrise": "05:13", "sunset": "19:28"}),
    (40.8939, -83.8917, "UTC", (2018, 9, 12), {"sunrise": "11:13", "sunset": "23:50"}),
    (41.281944, -84.362778, "UTC", (2019, 11, 8), {
        "astronomical dawn": "10:42", "nautical dawn": "11:15", "civil dawn": "11:48", "sunrise": "12:17", "sunset": "22:25",
        "civil dusk": "22:54", "nautical dusk": "23:27", "astronomical dusk": "23:59"}),
    (51.5, -0.1333, "Europe/London", (2015, 12, 1), {
        "astronomical dawn": "05:41", "nautical dawn": "06:22", "civil dawn": "07:04", "sunrise": "07:43",
        "sunset": "15:55", "civil dusk": "16:34"}),
]  # fmt: skip


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone", "date", "wanted"), ROWS, ids=lambda v: "" if isinstance(v, dict) else str(v)
)
def test_rise_set_and_twilights_to_the_minute(latitude, longitude, zone, date, wanted):
    found = events(Place(latitude, longitude, zone), dt.date(*date))
    day = LocalDay(dt.date(*date), zone)
    for name, clock in wanted.items():  # on a day of Greenwich a dusk of Ohio may happen just after both midnights
        assert min(abs(e.minute - day.minute(clock)) for e in found if e.name == name) <= 1.0, name


def test_ephem_finds_the_same_rise_and_set_by_its_own_search():
    # INDEPENDENT of our search, not of the ephemeris: ephem's next_rising with pressure 0 and horizon -0:34, and the moon.
    import ephem

    place, day = Place(54.1, 8.6, "UTC"), LocalDay(dt.date(2027, 9, 4), "UTC")
    found = events(place, day.date)
    there = ephem.Observer()
    there.lat, there.lon, there.pressure, there.horizon, there.date = "54.1", "8.6", 0, "-0:34", "2027/9/4"
    for name, theirs in (
        ("sunrise", there.next_rising(ephem.Sun())), ("sunset", there.next_setting(ephem.Sun())),
        ("moonrise", there.next_rising(ephem.Moon())), ("moonset", there.next_setting(ephem.Moon())),
        ("noon", there.next_transit(ephem.Sun())),
    ):  # fmt: skip
        apart = theirs.datetime().replace(tzinfo=dt.UTC) - day.at(event_minute(found, name))
        assert abs(apart.total_seconds()) < 20, name


def test_moon_day_by_day_and_its_phases():
    # PUBLISHED: USNO, lit fraction 2018-09-09 to 18 at 05:00 UT; first quarter 16 Sep 23:15, full 25 Sep 02:52 UT.
    place = Place(0.0, 0.0, "UTC")
    lit = [moon_at(place, at_utc(2018, 9, day, 5)).lit_share for day in range(9, 19)]
    assert lit == pytest.approx([0.00, 0.00, 0.03, 0.08, 0.15, 0.24, 0.33, 0.43, 0.52, 0.62], abs=0.01)
    for phase, when in (("first quarter", at_utc(2018, 9, 16, 23, 15)), ("full", at_utc(2018, 9, 25, 2, 52))):
        apart = positions.next_moon(phase=phase, after=at_utc(2018, 9, 10)) - when
        assert abs(apart.total_seconds()) < 120
    # DERIVED: at the quarter half of the disc is lit, f = 90; at full f is no more than the moon's tilt, 5 degrees.
    assert moon_at(place, at_utc(2018, 9, 16, 23, 15)).phase_angle_deg == pytest.approx(90.0, abs=1.0)
    assert moon_at(place, at_utc(2018, 9, 25, 2, 52)).phase_angle_deg < 5.5


def test_clock_goes_forward_and_back():
    # PUBLISHED: EU directive 2000/84/EC: last Sunday of March and October, at 01:00 UTC.
    spring, autumn = (LocalDay(dt.date(2027, *date), "Europe/Berlin") for date in ((3, 28), (10, 31)))
    assert (spring.minutes, autumn.minutes, LocalDay(dt.date(2027, 6, 1), "Europe/Berlin").minutes) == (1380, 1500, 1440)
    assert [spring.text(m) for m in (119, 120)] == ["01:59", "03:00"]
    assert [autumn.text(m) for m in (179, 180)] == ["02:59", "02:00"]
    assert (spring.minute("03:00"), spring.minute("23:59")) == (120, 1379)
    assert (autumn.minute("02:30"), autumn.minute("03:00")) == (150, 240)  # the first of the two half past twos
    with pytest.raises(ValueError, match="time must be one that the clock shows on 2027-03-28, got '02:30': it is put forward"):
        spring.minute("02:30")


def test_sunset_on_the_day_the_clock_changes():
    # DERIVED: the sun knows no clock; from one day to the next it sets two minutes later, and the clock adds an hour.
    place = Place(54.1, 8.6, "Europe/Berlin")
    clocks = [event_minute(events(place, dt.date(2027, 3, day)), "sunset") for day in (26, 27, 28, 29)]
    walls = [LocalDay(dt.date(2027, 3, day), "Europe/Berlin").text(m) for day, m in zip((26, 27, 28, 29), clocks)]
    hours = [int(wall[:2]) + int(wall[3:]) / 60 for wall in walls]
    assert np.diff(hours) == pytest.approx([0.03, 1.03, 0.03], abs=0.02)


def test_a_day_that_starts_at_one():
    # PUBLISHED: IANA tz data: Lebanon puts its clock forward at midnight, 2022-03-27 begins at 01:00.
    day = LocalDay(dt.date(2022, 3, 27), "Asia/Beirut")
    assert (day.minutes, day.text(0), day.text(1379)) == (1380, "01:00", "23:59")


def test_polar_day_and_night_are_answers():
    # PUBLISHED: at 70 N the sun is up from mid May to late July and down from late November to mid January.
    june, december = dt.date(2027, 6, 21), dt.date(2027, 12, 21)
    names = {event.name for event in events(OSLO_NORTH, june)}
    assert not names & {"sunrise", "sunset", "civil dawn", "civil dusk"} and "noon" in names
    # DERIVED: lowest at latitude + declination - 90 = 70 + 23.44 - 90; highest at 90 - 70 - 23.44.
    assert positions.polar_note(OSLO_NORTH, june) == "On 2027-06-21 the sun does not set (polar day); it is lowest at 3.4 degrees."
    assert positions.polar_note(OSLO_NORTH, december) == (
        "On 2027-12-21 the sun does not rise (polar night); it comes to -3.4 degrees at its highest.")  # fmt: skip
    assert {"civil dawn", "civil dusk"} <= {event.name for event in events(OSLO_NORTH, december)}
    assert positions.polar_note(OSLO_NORTH, dt.date(2027, 3, 21)) == ""
    assert positions.polar_note(Place(90.0, 0.0, "UTC"), june).startswith("On 2027-06-21 the sun does not set")


def test_first_day_of_the_polar_day_has_one_of_the_two():
    notes = [positions.polar_note(OSLO_NORTH, dt.date(2027, 5, 10) + dt.timedelta(days=d)) for d in range(12)]
    assert any("does not set (polar day)" in note for note in notes) and notes[0] == ""
    assert [bool(note) for note in notes] == sorted(bool(note) for note in notes)


def test_hills_hide_the_sun():
    # DERIVED: a ridge of 5 degrees in the west: the sun is gone when it stands 5 degrees up, before it sets.
    place = Place(54.1, 8.6, "Europe/Berlin", horizon=((200.0, 0.0), (250.0, 5.0), (300.0, 5.0), (340.0, 0.0)))
    found, day = events(place, dt.date(2027, 9, 4)), LocalDay(dt.date(2027, 9, 4), "Europe/Berlin")
    gone = event_minute(found, "sun goes behind the horizon line")
    assert sun_at(place, day.at(gone)).apparent_deg == pytest.approx(5.0, abs=0.01)
    assert 25 < event_minute(found, "sunset") - gone < 50
    assert place.horizon_deg(np.array([270.0, 225.0, 90.0, 350.0])) == pytest.approx([5.0, 2.5, 0.0, 0.0])
    assert Place(0.0, 0.0, "UTC", horizon=((10.0, 4.0), (350.0, 2.0))).horizon_deg(0.0) == pytest.approx(3.0)  # round north


def test_refraction():
    # PUBLISHED: almanacs take 34' on the horizon; Reda & Andreas's formula gives 29' there for 1010 mbar, 10 C, and
    # 34' at the height from which it lifts a body to the horizon. DERIVED: none in empty space, none far below.
    lift = positions.refraction_deg(altitude_deg=np.array([-0.5667, 0.0, 45.0, -5.0, 90.0]), pressure_mbar=1010, temperature_c=10)
    assert lift * 60 == pytest.approx([34.0, 28.7, 1.0, 0.0, 0.0], abs=0.7)
    assert positions.refraction_deg(altitude_deg=3.0, pressure_mbar=0.0) == 0.0


@pytest.mark.parametrize(("call", "sentence"), [
    (lambda: Place(91, 0, "UTC"), "latitude_deg must be >= -90 and <= 90, got 91: north is plus, south minus"),
    (lambda: Place(0, 181, "UTC"), "longitude_deg must be >= -180 and <= 180, got 181: east is plus, west minus"),
    (lambda: Place(0, 0, ""), "time_zone is missing: give a name of the IANA list, such as 'Europe/Berlin' or 'UTC'"),
    (lambda: Place(0, 0, "Europe/Berln"), "time_zone must be a name of the IANA list, got 'Europe/Berln'; did you mean 'Europe/Berlin'?"),
    (lambda: Place(0, 0, "../etc/passwd"), "time_zone must be a name of the IANA list, got '../etc/passwd'; such as"),
    (lambda: Place(0, 0, "UTC", ((10.0,),)), "horizon must be rows of [bearing, height] in degrees, got [10.0]"),
    (lambda: LocalDay(dt.date(2150, 1, 1), "UTC"), "date must be of the years 1900 to 2099, got 2150-01-01"),
    (lambda: events(Place(0, 0, "UTC"), dt.date(1850, 1, 1)), "date must be of the years 1900 to 2099, got 1850-01-01"),
    (lambda: sun_at(Place(0, 0, "UTC"), dt.datetime(2027, 1, 1)), "when must have a time zone, got 2027-01-01T00:00:00 without one"),
    (lambda: sun_at(Place(0, 0, "UTC"), at_utc(1800, 1, 1)), "date must be of the years 1900 to 2099, got 1800-01-01"),
    (lambda: clock_time("24:00"), "time must be a time of day such as '19:40', got '24:00'"),
    (lambda: positions.refraction_deg(altitude_deg=3.0, temperature_c=101.0), "temperature_c must be"),
    (lambda: clock_time("25:00"), "time must be a time of day such as '19:40', got '25:00'"),
    (lambda: clock_time("half past"), "time must be a time of day such as '19:40', got 'half past'"),
    (lambda: positions.next_moon(phase="gibbous", after=at_utc(2027, 1, 1)), "phase must be one of new, first quarter, full, last quarter, got"),
])  # fmt: skip
def test_refusals_are_one_sentence(call, sentence):
    with pytest.raises(ValueError) as refused:
        call()
    assert str(refused.value).startswith(sentence) and "\n" not in str(refused.value)
