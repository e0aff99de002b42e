"""Daylight that enters by itself: a kitchen at two in the afternoon, a quay at six, a yard by full moon."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

import lightcalc as lc
from lightcalc.scene import sun_and_sky
from lightcalc.scene.shoot_edit import edited
from lightcalc.scene.shoot_read import loads
from lightcalc.sky.positions import next_moon

from daylit_parts import KITCHEN, PLACE, QUAY, YARD


def solis(elevation_deg):
    """INDEPENDENT: pvlib's Solis clear sky, middling air, by a usual 100 lm/W (disc) and 125 lm/W (blue sky). [lx]"""
    from pvlib import clearsky

    found = clearsky.simplified_solis(elevation_deg, aod700=0.1, precipitable_water=1.5)
    return 100.0 * float(found["dni"]), 125.0 * float(found["dhi"])


def spa(when):
    """INDEPENDENT: pvlib's coding of NREL's algorithm: apparent height and azimuth. [deg]"""
    from pvlib import spa as nrel

    slow_s = nrel.calculate_deltat(when.year, when.month)
    row = nrel.solar_position(np.array([when.timestamp()]), 54.1, 8.6, 0.0, 1013.25, 12.0, slow_s, 0.5667)
    return row[2][0], row[4][0]


def test_a_quay_at_six():
    # Third of a stop: the clear skies of two models in middling air. Nothing but a time was typed.
    shoot = loads(QUAY)
    setup = shoot.setup("1")
    height, azimuth = spa(dt.datetime(2028, 8, 20, 16, tzinfo=dt.UTC))
    assert setup.sun.elevation_deg == pytest.approx(height, abs=0.02) and setup.sun.bearing_deg == pytest.approx(azimuth, abs=0.02)
    disc, sky = solis(height)
    read = lc.readings(setup)
    assert read.daylight == "clear sky of 18:00 on 2028-08-20, model: half to twice" and read.daylight in "\n".join(read.lines())
    ground = disc * np.sin(np.radians(height)) + sky
    assert abs(np.log2(read.mark("bollard").illuminance_lx / ground)) < 1 / 3
    assert abs(np.log2(read.mark("bollard").by_source["sky"] / sky)) < 1 / 3


def test_a_quay_under_cloud():
    # PUBLISHED: IES 1984, overcast sky: .3 + 21 sin h klx, no sun. Half a stop, and here the same table.
    setup = loads(QUAY.replace('time = "18:00"', 'time = "18:00"\noutlook = "overcast"')).setup("1")
    height, _ = spa(dt.datetime(2028, 8, 20, 16, tzinfo=dt.UTC))
    lux = lc.readings(setup).mark("bollard").illuminance_lx
    assert abs(np.log2(lux / (300.0 + 21_000.0 * np.sin(np.radians(height))))) < 0.05
    assert setup.sun.normal_lx == 0.0 and "overcast sky" in setup.daylight_said


def test_a_kitchen_at_two():
    # The table stands in the sun: disc by Solis through the glass, and the sky seen through the window, summed over the pane
    # as the CIE's clear sky, type 12 (its relative luminance on its own, ISO 15469:2004), scaled to Solis's level.
    setup = loads(KITCHEN).setup("1")
    height, azimuth = spa(dt.datetime(2028, 8, 20, 12, tzinfo=dt.UTC))
    disc, sky = solis(height)
    read = lc.readings(setup).mark("table")
    assert read.by_source["sun"] > 10 * read.by_source["sky"] > 0
    sun_lx = 0.9 * disc * np.sin(np.radians(height))
    assert abs(np.log2(read.by_source["sun"] / sun_lx)) < 1 / 3
    x, z = np.meshgrid(1.8 + (np.arange(70) + 0.5) * 0.02, 0.9 + (np.arange(65) + 0.5) * 0.02)
    ray = np.stack([x - 2.2, np.full_like(x, -0.95), z - 0.75], axis=-1)
    far = np.linalg.norm(ray, axis=-1)
    up, share = ray[..., 2] / far, 0.95 / far * 0.02**2 / far**2  # cosine on a level card; solid angle of a pane's piece
    towards = np.array(
        [
            np.sin(np.radians(azimuth)) * np.cos(np.radians(height)),
            np.cos(np.radians(azimuth)) * np.cos(np.radians(height)),
            np.sin(np.radians(height)),
        ]
    )

    def cie_clear(rays, zenith_cos):
        away = np.arccos(np.clip(rays @ towards, -1, 1))
        gradation = 1 - np.exp(-0.32 / np.maximum(zenith_cos, 1e-3))
        return gradation * (1 + 10 * (np.exp(-3 * away) - np.exp(-3 * np.pi / 2)) + 0.45 * np.cos(away) ** 2)

    theta, phi = np.meshgrid((np.arange(90) + 0.5) / 90 * np.pi / 2, (np.arange(180) + 0.5) / 180 * 2 * np.pi)
    dome = np.stack([np.sin(theta) * np.sin(phi), np.sin(theta) * np.cos(phi), np.cos(theta)], axis=-1)
    whole = np.sum(cie_clear(dome, np.cos(theta)) * np.cos(theta) * np.sin(theta)) * (np.pi / 180) * (2 * np.pi / 180)
    seen = np.sum(cie_clear(ray / far[..., None], up) * np.maximum(up, 0) * share) * sky / whole * 0.9
    assert abs(np.log2(read.by_source["sky"] / seen)) < 1 / 3
    # The reading as a whole is the sun's: half a stop with the walls' light on top.
    assert 0.0 < np.log2(read.illuminance_lx / (sun_lx + seen)) < 1.0


def test_the_kitchen_s_patch_of_sun():
    # DERIVED: the pane's corners along the sun's rays to the floor, by hand; within 1 cm.
    from lightcalc.answers.light_patch import beams

    setup = loads(KITCHEN).setup("1")
    patch = np.concatenate([p.corners_m for b in beams(setup) if b.source == "sun" for p in b.patches if p.surface == "floor"])
    height, azimuth = (np.radians(v) for v in spa(dt.datetime(2028, 8, 20, 12, tzinfo=dt.UTC)))
    for x in (1.8, 3.2):
        for z in (0.9, 2.2):
            run = z / np.tan(height)
            corner = (x - run * np.sin(azimuth), -run * np.cos(azimuth))
            assert np.min(np.linalg.norm(patch[:, :2] - corner, axis=1)) < 0.01


def test_a_yard_by_full_moon():
    # PUBLISHED: .267 lx from a full moon in the zenith (Explanatory Supplement 9.3); 30 degrees up some 0.08 to 0.12.
    full = next_moon(phase="full", after=dt.datetime(2028, 8, 20, tzinfo=dt.UTC))
    assert full.date() == dt.date(2028, 9, 3)
    setup = loads(YARD).setup("1")
    assert setup.sun.body == "moon" and setup.source_names == ("the moon", "sky")
    read = lc.readings(setup).mark("bollard")
    assert 0.07 < read.illuminance_lx < 0.13
    # DERIVED: disc and the sky it lights together are the Supplement's moonlight, to the sky's own starlight.
    from lightcalc.sky.daylight import moonlight_lx
    from lightcalc.sky.positions import Place, moon_at

    seen = moon_at(Place(54.1, 8.6, "Europe/Berlin"), dt.datetime(2028, 9, 3, 22, 30, tzinfo=dt.UTC))
    moon = moonlight_lx(altitude_deg=seen.altitude_deg, phase_angle_deg=seen.phase_angle_deg)
    assert read.illuminance_lx == pytest.approx(moon, abs=0.004)
    assert read.key == ("the moon",) and setup.sun.kelvin == 4100.0


def schaefer(zenith_deg, azimuth_deg, depression_deg, mag):
    """
    A clear twilight sky, on a scale of its own.

    PUBLISHED: B. E. Schaefer, "To the Visual Limits", Sky & Telescope 95 (5), 57 (1998), the twilight term of its program: dimmer
    by 1 / 360 of the zenith angle's degrees per magnitude of extinction, by 100 / (degrees from the sun), and filled up by the
    airmass (Rozenberg's). Read in two public programs that cite it, not in the magazine.
    """
    up = np.cos(np.radians(zenith_deg))
    airmass = 1 / (up + 0.025 * np.exp(-11 * up))
    down = np.radians(depression_deg)
    towards = -up * np.sin(down) + np.sqrt(1 - up**2) * np.cos(down) * np.cos(np.radians(azimuth_deg))
    from_sun = np.degrees(np.arccos(np.clip(towards, -1, 1)))
    return 10 ** (0.4 * zenith_deg / (360 * mag)) * 100 / from_sun * (1 - 10 ** (-0.4 * mag * airmass))


@pytest.mark.parametrize("depression_deg", [4.5, 6.0, 8.5])
def test_a_clear_twilight_s_rim(depression_deg):
    # PUBLISHED, see above; 0.2 to 0.3 mag of extinction is clear air by the sea. Ours is a straight line in the sine of height: it is
    # held to their illuminance, and to their luminance a third of the way up; nearer the horizon theirs rises on, to twice ours at five degrees and more.
    height = (np.arange(400) + 0.5) / 400
    zenith_deg = np.degrees(np.arccos(height))
    ours = sun_and_sky._gradient(-depression_deg, "clear")
    line = ours + (1 - ours) * height
    for mag, off in ((0.3, 0.1), (0.25, 0.35)):
        ring = schaefer(zenith_deg[:, None], np.arange(0.5, 360), depression_deg, mag).mean(axis=1)
        ring /= schaefer(0.01, 0.0, depression_deg, mag)
        assert abs(np.log2((line * height).mean() / (ring * height).mean())) < off
        assert abs(np.log2(np.interp(0.5, height, line / ring))) < 0.25


def test_typed_kept_out_and_from_the_hour():
    typed = QUAY.replace(
        'time = "18:00"', 'time = "18:00"\nsun = { bearing_deg = 260, elevation_deg = 20, normal_lx = 500 }\nsky = "none"'
    )
    setup = loads(typed).setup("1")
    assert setup.sun.normal_lx == 500.0 and setup.sky is None and setup.daylight_said == "as typed"
    assert loads(QUAY.replace('time = "18:00"', 'time = "18:00"\nsun = "from time"')).setup("1") == loads(QUAY).setup("1")
    dark = loads(QUAY.replace('time = "18:00"', 'time = "18:00"\nsun = "none"\nsky = "none"')).setup("1")
    assert dark.sun is None and dark.sky is None and dark.daylight_said == "" and not dark.source_names
    nowhere = loads(QUAY.replace(PLACE, 'title = "Tide"\n').replace("dates = [2028-08-20]\n", ""))
    assert nowhere.setup("1").sun is None
    with pytest.raises(
        lc.ShootError, match=r'line 12: setup .1.: sun must be "from time", "none" or a table of numbers, got .soon.'
    ):
        loads(QUAY.replace('time = "18:00"', 'sun = "soon"'))
    with pytest.raises(lc.ShootError, match='sun = "from time" needs time'):
        loads(QUAY.replace('time = "18:00"', 'sun = "from time"'))
    with pytest.raises(lc.ShootError, match="key names the sun, and it gives no light at 23:00"):
        loads(QUAY.replace('time = "18:00"', 'time = "23:00"\nkey = ["sun"]'))


def test_a_shoot_keeps_its_setups_under_their_hour_and_writes_back_what_was_said():
    shoot = loads(QUAY)
    later = replace(shoot, setups=(replace(shoot.setups[0], time="19:00"),))
    assert later.setups[0].sun.elevation_deg < shoot.setups[0].sun.elevation_deg and "19:00" in later.setups[0].daylight_said
    text = edited(QUAY, shoot, later)
    assert text == QUAY.replace("18:00", "19:00")  # no number of a sun that nobody typed
    out = replace(shoot, setups=(replace(shoot.setups[0], kept_out=("sun",), sun=None),))
    text = edited(QUAY, shoot, out)
    assert 'sun = "none"' in text and loads(text) == out
    hand = replace(shoot, setups=(replace(shoot.setups[0], sun=lc.Sun(bearing_deg=200, elevation_deg=10, normal_lx=900)),))
    text = edited(QUAY, shoot, hand)
    assert "normal_lx = 900" in text and loads(text) == hand
    back = edited(text, loads(text), replace(hand, setups=(replace(hand.setups[0], sun=shoot.setups[0].sun),)))
    assert 'sun = "from time"' in back and loads(back) == shoot


def test_a_window_that_looks_away_from_the_sun_has_the_darker_sky():
    # DERIVED from the CIE's clear sky: at the same hour the kitchen turned round has its window in the north; under cloud the
    # two have one sky. The other half of the sky: `tests/sky/test_distribution.py`.
    south, north = (loads(KITCHEN.replace("bearing_deg = 0", f"bearing_deg = {turn}")).setup("1") for turn in (0, 180))
    assert south.sun == north.sun and south.sky.wall_lx(180.0) > 2.0 * north.sky.wall_lx(0.0)
    cloudy = [
        loads(KITCHEN.replace("bearing_deg = 0", f"bearing_deg = {t}").replace("clear", "overcast")).setup("1") for t in (0, 180)
    ]
    assert cloudy[0].sky == cloudy[1].sky


def test_the_sky_of_a_window_goes_evenly_through_sunset():
    # DERIVED: from minute to minute the light on the window goes with that on open ground, within 0.06 stop, though below twelve
    # degrees down another sky is held.
    setup, place = loads(KITCHEN.replace("bearing_deg = 0", "bearing_deg = 110")).setup("1"), loads(KITCHEN).where
    run = lc.scene.sun_and_sky.Clock(place, dt.date(2028, 8, 20), tuple(range(1200, 1320)), "clear")
    wall = [run.setup_at(setup, minute).sky.wall_lx(setup.place.bearing_deg + 180.0) for minute in run.minutes]
    ground = [lc.scene.sun_and_sky.sun_and_sky(place, run.day.at(minute))[1].horizontal_lx for minute in run.minutes]
    assert np.abs(np.diff(np.log2(wall)) - np.diff(np.log2(ground))).max() < 0.06 and wall[0] > 1000 * wall[-1]
