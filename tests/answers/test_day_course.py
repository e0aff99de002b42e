"""The day over a setup: sun and sky against printed tables, rates and rides against arithmetic, the demo against its own plan."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from lightcalc.answers import day_course, readings
from lightcalc.answers.day_course import DayCurve, day_curve, spans
from lightcalc.scene import shoot_file
from lightcalc.scene.parts import SceneError
from lightcalc.scene.shoot import Shoot
from lightcalc.scene.sun_and_sky import Clock, DayError, clock, day_lines, light_at, sun_and_sky
from lightcalc.sky.clock import LocalDay
from lightcalc.sky.positions import Place, event_minute, events, sun_at

DEMO = shoot_file.load(shoot_file.demo_path())
COAST, DATE = DEMO.where, DEMO.dates[0]


def moment(sun_deg, rising=False, place=COAST, date=DATE):
    """The first (or last) minute of a date with the sun's true height over (or under) so many degrees."""
    today = LocalDay(date, place.time_zone)
    minutes = np.arange(0, today.minutes)
    up = np.array([sun_at(place, today.at(m)).altitude_deg > sun_deg for m in minutes])
    return today.at(minutes[up][0 if rising else -1])


def test_sky_adds_up_to_the_table_of_its_hour():
    # PUBLISHED: Explanatory Supplement, 29.9 lx at -4 degrees, 189 at -2; IES 1984 overcast 10.8 klx at 30 degrees, clear
    # sky 11.76 and disc 83.87 klx (that with Kasten & Young's air), times the day's distance, .9775 on 20 August (J = 233).
    for height, lux in ((-4, 29.9), (-2, 189)):
        disc, sky = sun_and_sky(COAST, moment(height))
        assert sky.horizontal_lx == pytest.approx(lux, rel=0.1) and disc.normal_lx == 0.0  # a minute is a tenth of a degree
    grey = sun_and_sky(COAST, moment(30), outlook="overcast")
    assert grey[1].horizontal_lx == pytest.approx(10_800, rel=0.01) and grey[0].normal_lx == 0.0
    assert grey[1].horizon_cd_m2 == pytest.approx(grey[1].zenith_cd_m2 / 3)  # PUBLISHED: CIE overcast sky
    disc, sky = sun_and_sky(COAST, moment(30))
    assert sky.horizontal_lx == pytest.approx(11_760, rel=0.01)
    assert disc.normal_lx == pytest.approx(83_870 * 0.9775, rel=0.01)
    # PUBLISHED: ISO 15469:2004 type 12, gradation 1 - exp(-0.32 / sin h): horizon 1, zenith .2739.
    assert sky.zenith_cd_m2 / sky.horizon_cd_m2 == pytest.approx(0.2739, rel=1e-3)


def test_the_demo_s_typed_suns_are_those_of_its_hours():
    # DERIVED: setup 3 types 285 degrees, 4 up, 9000 lx, 2800 K; setup 5 a sun 3 under and a rim; 6 overcast at 30.
    at = {name: DEMO.setup(name) for name in "3456"}
    now = {n: clock(DEMO, s, start=s.time, end=s.time).setup_at(s, LocalDay(DEMO.date_of(s), DEMO.time_zone).minute(s.time))
           for n, s in at.items()}  # fmt: skip
    dusk, typed = now["3"].sun, at["3"].sun
    assert (dusk.bearing_deg, dusk.elevation_deg) == pytest.approx((typed.bearing_deg, typed.elevation_deg), abs=0.5)
    assert abs(np.log2(dusk.normal_lx / typed.normal_lx)) < 0.15 and abs(dusk.kelvin - typed.kelvin) < 100
    assert abs(np.log2(now["3"].sky.horizontal_lx / at["3"].sky.horizontal_lx)) < 0.7
    assert now["5"].sun.elevation_deg == pytest.approx(-3.0, abs=0.3)
    assert abs(np.log2(now["5"].sky.horizon_cd_m2 / at["5"].sky.horizon_cd_m2)) < 0.5
    assert now["6"].sky.horizontal_lx == pytest.approx(at["6"].sky.horizontal_lx, rel=0.05)
    assert now["4"].sky.horizontal_lx == pytest.approx(at["4"].sky.horizontal_lx, rel=0.1)


def test_colour_of_the_sky():
    # COMMON PRACTICE. INDEPENDENT: Bird & Riordan's diffuse light (pvlib) with colour-science's temperature, clean to hazy
    # air, sun 3 and 30 degrees up: 7 900 to 11 200 K lies round the 10 000 of a clear sky.
    from make_low_sun import kelvin

    found = [kelvin(height, aerosol, part="dhi") for height in (3, 30) for aerosol in (0.1, 0.27)]
    assert min(found) < sun_and_sky(COAST, moment(30))[1].kelvin < max(found) and min(found) > 7_500 and max(found) < 12_000
    assert (
        sun_and_sky(COAST, moment(30), outlook="overcast")[1].kelvin == 6_500 and sun_and_sky(COAST, moment(-15))[1].kelvin == 0.0
    )


def test_a_hill_takes_the_disc_and_leaves_the_sky():
    hill = replace(COAST, horizon=((0.0, 10.0), (360.0, 10.0)))
    disc, sky = sun_and_sky(hill, moment(5))
    assert disc.normal_lx == 0.0 and disc.elevation_deg == pytest.approx(5.2, abs=0.3)
    assert sky == sun_and_sky(COAST, moment(5))[1] and sun_and_sky(COAST, moment(5))[0].normal_lx > 10_000


def test_clock_puts_the_hour_into_a_setup_and_leaves_the_rest():
    setup = DEMO.setup("3")
    hours = clock(DEMO, setup, start="19:00", end="21:00", step_min=20)
    assert hours.minutes == (1140, 1160, 1180, 1200, 1220, 1240, 1260) and hours.outlook == "clear"
    assert [hours.text(m) for m in hours.minutes[:2]] == ["19:00", "19:20"]
    moved = hours.setup_at(setup, 1200)
    assert moved.time == "20:00" and replace(moved, sun=setup.sun, sky=setup.sky, time=setup.time) == setup
    heights = [hours.setup_at(setup, m).sun.elevation_deg for m in hours.minutes]
    assert heights == sorted(heights, reverse=True) and hours.setup_at(setup, 1260).sun.normal_lx == 0.0
    assert all(hours.setup_at(setup, m).source_names == moved.source_names for m in hours.minutes)  # a slider needs that


def test_the_stage_s_slider_runs_along_this_clock():
    from lightcalc.panels.stage import Stage

    setup = DEMO.setup("3")
    hours = clock(DEMO, setup, start="19:30", end="20:50")
    stage = Stage(setup, clock=hours, parts=("readings",))
    for minute in (1170, 1210):
        stage.minute = minute
        assert stage.setup == hours.setup_at(setup, minute)
        assert stage.readings.marks[0].level_stops == readings.readings(hours.setup_at(setup, minute)).marks[0].level_stops
    with pytest.raises(SceneError, match="minute must be one of the clock's, 19:30 to 20:50, got 1211"):
        stage.minute = 1211


def test_clock_on_the_day_it_changes():
    # PUBLISHED: EU summer time ends 2028-10-29: 25 hours.
    there = Clock(COAST, dt.date(2028, 10, 29), tuple(range(0, 1501, 60)))
    assert [there.text(m) for m in (120, 180, 240, 1440)] == ["02:00", "02:00", "03:00", "23:00"]
    assert len(there.minutes) == 26
    spring = replace(DEMO, dates=(dt.date(2028, 3, 26), dt.date(2028, 3, 27)))
    assert clock(spring, spring.setups[0], step_min=60).minutes[-1] == 1380
    with pytest.raises(ValueError, match="time must be one that the clock shows on 2028-03-26, got '02:30'"):
        clock(spring, spring.setups[0], start="02:30")


def test_polar_day_and_night_run_through():
    north = Place(70.0, 25.0, "Europe/Oslo")
    for date, low, high in ((dt.date(2028, 6, 21), 3.0, 44.0), (dt.date(2028, 12, 21), -44.0, -3.0)):
        there = Clock(north, date, tuple(range(0, 1441, 120)))
        setups = [there.setup_at(DEMO.setup("5"), m) for m in there.minutes]
        assert all(low < max(there.sun_at(m).elevation_deg, -43.0) < high for m in there.minutes)
        assert all((there.sun_at(m).normal_lx > 0) == (low > 0) for m in there.minutes)
        assert all((s.sun.body == "sun") or low < 0 for s in setups)  # in the polar night the moon takes its place
    assert "does not set (polar day)" in "\n".join(day_lines(north, dt.date(2028, 6, 21)))


@pytest.fixture(scope="module")
def dusk():
    """Setup 3 against the clock."""
    setup = DEMO.setup("3")
    return day_curve(setup, clock(DEMO, setup, start="18:00", end="21:00", step_min=5))


@pytest.mark.slow
def test_a_curve_is_its_readings(dusk):
    # INDEPENDENT of the curve: one minute read on its own.
    minute = dusk.clock.minutes[26]
    alone = readings.readings(dusk.clock.setup_at(dusk.setup, minute), quality="draft")
    assert dusk.of("raker")[26] == alone.marks[0].level_stops
    assert dusk.of("sky over the pans")[26] == alone.spots[0].level_stops
    assert dusk.level_stops.shape == (37, 2) and dusk.sun_deg[26] == pytest.approx(4.0, abs=0.1)


def test_the_dusk_bounce_is_possible_when_it_is_planned(dusk):
    # COMMON PRACTICE: the shot is planned for an hour; the day must allow it then, and not an hour and a half before.
    planned = LocalDay(DATE, COAST.time_zone).minute(dusk.setup.time)
    held = dusk.possible(ride_stops=1.0)
    assert any(start < planned < end for start, end in held)
    assert not any(start < planned - 90 < end for start, end in dusk.possible())
    near = np.abs(dusk.minutes - planned) <= 10
    assert np.all(dusk.stops_per_minute("raker")[near] < -0.03)
    # DERIVED: light on the raker falls by what the two readings say.
    drop = dusk.of("raker")[near]
    assert drop[0] - drop[-1] == pytest.approx(-np.mean(dusk.stops_per_minute("raker")[near]) * 20, rel=0.15)


def flat(levels, minutes=None, t_stop=None):
    """A curve with a made-up level of one mark."""
    setup = DEMO.setup("3")
    setup = setup if t_stop is None else setup.with_part("camera", t_stop=t_stop)
    minutes = tuple(range(600, 600 + len(levels))) if minutes is None else minutes
    return DayCurve(setup, Clock(COAST, DATE, minutes), np.zeros(len(levels)), ("raker",), np.array(levels)[:, None], ())


def test_a_ride_by_hand():
    # DERIVED: a tenth of a stop a minute, from right on: the first third is due when half of it, 1/6 stop, is gone:
    # 1:40 after the start, then every 3:20. T 5 opens to 4.5, 4, 3.5, ... (a third each).
    ride = flat(-0.1 * np.arange(31)).ride("raker", at_stops=0.0)
    assert [step.minute for step in ride] == pytest.approx([600] + [600 + 5 / 3 + 10 / 3 * k for k in range(9)], abs=0.02)
    assert [step.label for step in ride[:4]] == [5.0, 4.5, 4.0, 3.5]
    assert [step.closed_stops for step in ride[:3]] == pytest.approx([0, -1 / 3, -2 / 3])
    assert [step.text for step in ride[:3]] == ["10:00", "10:02", "10:05"]


def test_a_ride_never_leaves_the_level_by_more_than_a_sixth(dusk):
    ride = dusk.ride("raker", at_stops=-1 / 3, from_minute=1200, to_minute=1225)
    turns = np.array([step.minute for step in ride])
    for minute in np.arange(1200, 1225, 0.25):
        set_now = ride[np.searchsorted(turns, minute, side="right") - 1].closed_stops
        level = np.interp(minute, dusk.minutes, dusk.of("raker")) - set_now
        assert abs(level + 1 / 3) < 1 / 6 + 0.01
    assert len(ride) >= 4 and all(a.t_stop > b.t_stop for a, b in zip(ride, ride[1:]))


def test_a_lens_opens_only_so_far():
    ride = flat(-0.5 * np.arange(20)).ride("raker", at_stops=0.0, widest_t_stop=2.8)
    assert min(step.label for step in ride) == 2.8 and len(ride) == 6  # 5 to 2.8: five thirds
    assert flat([-np.inf] * 3).ride("raker", at_stops=0.0) == ()  # no light, no stop


def test_within_a_band_and_rates_by_hand():
    # DERIVED: level falls 1, 0, -1, -2 at 10-minute steps: within -1.5 to 0.5 from minute 5 to minute 25.
    curve = flat([1.0, 0.0, -1.0, -2.0], minutes=(600, 610, 620, 630))
    assert curve.within("raker", -1.5, 0.5) == ((605.0, 625.0),)
    assert curve.stops_per_minute("raker") == pytest.approx([-0.1] * 4)
    assert curve.within("raker", 3.0, 4.0) == () and curve.within("raker", -9.0, 9.0) == ((600.0, 630.0),)


def test_spans():
    # DERIVED: lines between the rows; open at either end; a touch of zero counts.
    assert spans(np.array([0.0, 4.0, 8.0, 12.0]), np.array([1.0, -1.0, -1.0, 3.0])) == ((0.0, 2.0), (9.0, 12.0))
    assert spans(np.array([0.0, 1.0]), np.array([-1.0, -2.0])) == ()


def test_exposure_may_be_moved_for_the_targets_but_only_so_far():
    # DERIVED: level one stop over its target, within a third: possible with a ride of 2/3, not with 0.6; what a ride
    # cannot change, a ratio, is not forgiven.
    def target(quantity, got, wanted, within=1 / 3):
        return readings.TargetReading("a", quantity, wanted, within, got, abs(got - wanted) <= within, got - wanted)

    over = [target("level", 1.0, 0.0)]
    assert day_course._room_left(over, 0.0) == pytest.approx(-2 / 3) and day_course._room_left(over, 2 / 3) == pytest.approx(0.0)
    assert day_course._room_left(over, 0.6) < 0 < day_course._room_left(over, 0.7)
    assert day_course._room_left(over + [target("fill_under", -4.0, -3.0)], 5.0) == pytest.approx(-2 / 3)
    assert day_course._room_left([target("level", 1.0, 0.0), target("level", -1.0, 0.0)], 5.0) == pytest.approx(-2 / 3)
    assert day_course._room_left([], 0.0) > 0 and day_course._room_left([target("level", -np.inf, 0.0)], 5.0) < 0


def test_silhouette_at_first_light():
    # DERIVED: figure and sky by hand at one minute: face rho E / pi, sky L_h + L_s cos h + (L_z - L_h) sin h, over L_ref; the
    # lens looks along the place's bearing, the bright side lies where the sun comes from.
    setup = DEMO.setup("5")
    curve = day_curve(setup, clock(DEMO, setup, start="05:00", end="07:00", step_min=10))
    seen = day_course.silhouette(curve, "clerk on the dyke")
    mark, row = setup.part("clerk on the dyke"), 6
    sky, lux = curve.clock.setup_at(setup, curve.clock.minutes[row]).sky, curve.read[row].marks[0].illuminance_lx
    rise = (1.7 - 0.6) / np.hypot(12.0, 1.1)
    side = sky.side_cd_m2 * np.cos(np.radians(setup.place.bearing_deg - sky.side_bearing_deg)) * 12.0 / np.hypot(12.0, 1.1)
    assert side > 0
    behind = sky.horizon_cd_m2 + side + (sky.zenith_cd_m2 - sky.horizon_cd_m2) * rise
    assert seen.sky_stops[row] == pytest.approx(np.log2(behind / setup.camera.reference_cd_m2))
    assert seen.face_stops[row] == pytest.approx(np.log2(mark.reflectance * lux / np.pi / setup.camera.reference_cd_m2))
    assert seen.face_stops[row] - seen.body_stops[row] == pytest.approx(np.log2(mark.reflectance / mark.body))
    assert np.all(seen.face_under_sky_stops > 1.0)  # a silhouette all along
    # INDEPENDENT: the engine's own spot on the horizon, which knows nothing of this arithmetic; its spot is 2 degrees up.
    assert seen.sky_stops == pytest.approx(curve.of("rim of sky"), abs=0.15)
    assert seen.spans_at_least(1.0) and seen.spans_at_least(20.0) == ()


def test_light_of_a_minute_and_how_fast_it_goes():
    # DERIVED: the Supplement's 29.9 lx at -4 and 3.41 at -6 degrees are 3.13 stops; the sun takes so many minutes from
    # one to the other; the rate half-way is their quotient within a tenth.
    today = LocalDay(DATE, COAST.time_zone)
    four, six = (today.minute(f"{moment(h):%H:%M}") for h in (-4, -6))
    light = light_at(COAST, today, (four + six) / 2)
    assert light.stops_per_minute == pytest.approx(-np.log2(29.9 / 3.41) / (six - four), rel=0.1)
    assert light.third_every_min == pytest.approx(1 / 3 / abs(light.stops_per_minute))
    noon = light_at(COAST, today, event_minute(events(COAST, DATE), "noon"))
    assert abs(noon.stops_per_minute) < 1e-4 and noon.third_every_min > 1000
    lines = day_lines(COAST, DATE)
    assert any("20:44  sunset, bearing 292" in line for line in lines) and "moon 0 % lit" in lines[-1]


@pytest.mark.parametrize(("call", "sentence"), [
    (lambda: clock(Shoot(title="T", setups=DEMO.setups, days=2), DEMO.setups[0]), "shoot 'T' has no place: give it latitude_deg, longitude_deg and time_zone"),
    (lambda: clock(replace(DEMO, dates=()), DEMO.setups[0]), "shoot 'The Salt Ledger' has no dates: give it one for each day"),
    (lambda: clock(DEMO, DEMO.setups[0], start="21:00", end="20:00"), "start must be before end on 2028-08-20, got 21:00 and 20:00"),
    (lambda: clock(DEMO, DEMO.setups[0], outlook="fog"), "outlook must be one of clear, partly, overcast, got 'fog'"),
    (lambda: clock(DEMO, DEMO.setups[0], start="dawn"), "time must be a time of day such as '19:40', got 'dawn'"),
    (lambda: clock(DEMO, DEMO.setups[0], step_min=0), "step_min must be >= 1 and <= 720, got 0"),
    (lambda: Clock(COAST, DATE, (5, 4)), "minutes must be at least one, each later than the one before, got 2"),
    (lambda: Clock(COAST, DATE, ()), "minutes must be at least one, each later than the one before, got 0"),
    (lambda: Clock(COAST, DATE, (0, 2000)), "minutes must be >= 0 and <= 1440, got 2000: since local midnight of 2028-08-20"),
    (lambda: Clock(COAST, dt.date(2100, 1, 1), (5,)), "date must be of the years 1900 to 2099, got 2100-01-01"),
    (lambda: flat([0.0]).of("clerk"), "setup '3': name must be one of raker, got 'clerk'"),
    (lambda: flat([0.0]).within("raker", 1.0, 0.0), "low_stops must be under high_stops, got 1 and 0"),
    (lambda: day_course.silhouette(replace(flat([0.0]), setup=DEMO.setup("1")), "clerk"), "setup '1': a silhouette needs the sky behind it; loft is a room"),
    (lambda: day_course.silhouette(flat([0.0]), "clerk"), "setup '3': name must be one of raker, got 'clerk'"),
])  # fmt: skip
def test_refusals_are_one_sentence(call, sentence):
    with pytest.raises(ValueError) as refused:
        call()
    assert str(refused.value).startswith(sentence) and "\n" not in str(refused.value)
    assert isinstance(refused.value, (DayError, SceneError, ValueError))


def test_colour_of_the_sky_is_that_of_its_model():
    # INDEPENDENT: Bird & Riordan's diffuse spectrum of a clear sky (pvlib) and its temperature (colour-science), mean of clean
    # and hazy air, sun at 15, 30 and 60 degrees; ours is rounded. PUBLISHED: overcast daylight is CIE D65, 6504 K. DERIVED:
    # half of a broken sky is blue and half is cloud, and mireds nearly add: 7 880 K, rounded.
    from make_low_sun import kelvin

    found = np.mean([kelvin(height, aerosol, part="dhi") for height in (15, 30, 60) for aerosol in (0.1, 0.27)])
    clear, partly, overcast = (sun_and_sky(COAST, moment(30), outlook=name)[1].kelvin for name in ("clear", "partly", "overcast"))
    assert clear == pytest.approx(found, rel=0.05)
    assert overcast == pytest.approx(6504, rel=0.01)
    assert partly == pytest.approx(2e6 / (1e6 / clear + 1e6 / overcast), rel=0.02)
