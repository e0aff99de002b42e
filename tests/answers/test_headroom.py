"""What the lights can still give: by the arithmetic of a dimmer, and by reading the raised setup afresh."""

import dataclasses

import numpy as np
import pytest

from lightcalc.answers import headroom, readings
from lightcalc.scene.parts import SURFACES, Exterior, Mark, SceneError, Sky

from light_parts import CAMERA, lamp, loft, setup

GREY = loft(**dict.fromkeys(SURFACES, 0.4))
FACE = Mark(name="face", at=(3.9, 3.2, 1.3), aim=(2.4, 0.9, 1.6))
BACK = Mark(name="back", at=(3.9, 3.3, 1.3), aim=(4.4, 4.6, 1.6))
KEY = lamp("key", (1.9, 1.6, 2.6), 2500.0, dim=0.3)
RIM = lamp("rim", (4.3, 4.4, 2.6), 900.0, dim=0.125)
OFF = lamp("spare", (5.3, 0.8, 1.9), 900.0, dim=0.0)
INDOORS = setup(place=GREY, lights=(KEY, RIM, OFF), marks=(FACE, BACK), camera=dataclasses.replace(CAMERA, iso=1600.0))
OUT = setup(
    place=Exterior(name="dyke", width_m=40, depth_m=30), camera=dataclasses.replace(CAMERA, nd_stops=1.0), lights=(KEY,), marks=(FACE,),
    sky=Sky(zenith_cd_m2=9.0, horizon_cd_m2=9.0), key=(),
)  # fmt: skip


def test_stops_to_full_by_hand():
    # DERIVED: -log2 of the dims: .3 is 1.737 stops, an eighth 3; the first at full sets what all can give.
    held = headroom.reserve(INDOORS, quality="draft")
    assert [light.reserve_stops for light in held.lights] == [pytest.approx(1.7370, abs=1e-4), 3.0, np.inf]
    assert (held.reserve_stops, held.first_at_full) == (pytest.approx(1.7370, abs=1e-4), "key")
    assert all(mark.lamp_share == 1.0 and mark.gain_stops == pytest.approx(held.reserve_stops) for mark in held.marks)


@pytest.mark.parametrize("planned", [INDOORS, OUT], ids=["room", "under a sky"])
def test_the_gain_is_what_the_raised_setup_reads(planned):
    # INDEPENDENT: the setup with its lamps turned up, read afresh, room, sky and all; drafts bounce with their own dice.
    held = headroom.reserve(planned, quality="draft")
    after = readings.readings(headroom.raised(planned, held.reserve_stops), quality="draft")
    for mark, now in zip(held.marks, after.marks):
        assert now.level_stops - mark.level_stops == pytest.approx(mark.gain_stops, abs=5e-3)
    assert max(light.dim for light in headroom.raised(planned, held.reserve_stops).lights) == pytest.approx(1.0, rel=1e-12)


def test_sky_does_not_follow():
    # DERIVED: share s of lamps gains log2(1 + s (2^r - 1)), less than the lamps' own r.
    held = headroom.reserve(OUT, quality="draft")
    mark = held.marks[0]
    assert 0.1 < mark.lamp_share < 0.9 and 0.1 < mark.gain_stops < held.reserve_stops - 0.1
    lamps = readings.readings(OUT, quality="draft").marks[0].by_source["key"]
    assert mark.lamp_share * readings.readings(OUT, quality="draft").marks[0].illuminance_lx >= lamps * (1 - 1e-9)


def test_sixty_frames_answered():
    # DERIVED: 24 to 60 fps costs log2(60/24) = 1.322, and the lamps have 1.737: all up by 1.322.
    said = headroom.answer(INDOORS, fps=60, quality="draft")
    assert said.cost_stops == pytest.approx(1.3219, abs=1e-4) and said.paid and said.ways == ()
    assert said.raise_stops == pytest.approx(1.3219, abs=1e-4)
    up = headroom.raised(INDOORS.with_part("camera", fps=60.0), said.raise_stops)
    before, after = (readings.readings(s, quality="draft").marks[0].level_stops for s in (INDOORS, up))
    assert after == pytest.approx(before, abs=5e-3)
    assert "60 fps costs 1.3 stops; the lamps can give 1.7: every lamp up by 1.3" in said.lines()[0]


def test_what_is_short_and_what_would_pay():
    # DERIVED: 24 to 240 fps costs 3.322; 1.737 is there, 1.585 short: the next third is 1.667: T2.83 to 1.59 (1.6), 1600 to
    # 5080 (5000); the shutter has a stop, from 180 to 360; there is no ND to take out.
    said = headroom.answer(INDOORS, fps=240, quality="draft")
    assert said.short_stops == pytest.approx(3.3219 - 1.7370, abs=1e-3) and not said.paid
    ways = {field: (old, new, pays) for field, old, new, pays in said.ways}
    assert ways["t_stop"] == (2.8, 1.6, pytest.approx(5 / 3, abs=1e-9))
    assert ways["iso"] == (1600.0, 5000.0, pytest.approx(5 / 3, abs=1e-9))
    assert ways["shutter_deg"] == (180.0, 360.0, pytest.approx(1.0)) and "nd_stops" not in ways
    text = "\n".join(said.lines())
    assert (
        "short by 1.6" in text and "T 2.8 to 1.6 pays for it" in text and "shutter 180 to 360 pays 1.0, still short by 0.6" in text
    )


def test_a_little_short_is_a_whole_click():
    # DERIVED: 24 to 84 fps costs log2 3.5 = 1.807, .070 more than there is: a third pays, nothing less is on the ring.
    said = headroom.answer(INDOORS, fps=84, quality="draft")
    ways = {field: (old, new, pays) for field, old, new, pays in said.ways}
    assert said.short_stops == pytest.approx(0.070, abs=2e-3)
    assert ways["t_stop"] == (2.8, 2.5, pytest.approx(1 / 3)) and ways["iso"] == (1600.0, 2000.0, pytest.approx(1 / 3))


def test_the_package_has_its_ends():
    # DERIVED: a lens of T2 pays only a stop; an ISO held at 1600 nothing.
    said = headroom.answer(INDOORS, fps=240, widest_t=2.0, highest_iso=1600.0, quality="draft")
    ways = {field: pays for field, _, _, pays in said.ways}
    assert ways["t_stop"] == pytest.approx(1.0, abs=1e-9) and "iso" not in ways
    said = headroom.answer(OUT, fps=480, shutter_deg=360, quality="draft")  # asked for, so not offered
    assert {field for field, *_ in said.ways} == {"t_stop", "iso", "nd_stops"}
    assert {f: (a, b) for f, a, b, _ in said.ways}["nd_stops"] == (1.0, 0.0)


def test_a_change_that_gives_costs_nothing():
    said = headroom.answer(INDOORS, fps=12, quality="draft")
    assert said.cost_stops == pytest.approx(-1.0) and said.paid and "costs nothing (+1.0 stops)" in said.lines()[0]


def test_what_was_asked_is_said_as_it_was_typed():
    # PUBLISHED: ISO 517: 2.8284 is engraved 2.8. A number no ring has stays itself; no filter is 0 stops of ND.
    said = headroom._asked_words({"t_stop": 8**0.5, "iso": 730.0, "shutter_deg": 172.8, "fps": 60, "nd_stops": 0.0})
    assert said == "T2.8, ISO 730, 172.8 degrees, 60 fps, no ND"


def test_without_a_lamp():
    bare = dataclasses.replace(OUT, lights=())
    held = headroom.reserve(bare, quality="draft")
    assert (held.reserve_stops, held.first_at_full, held.marks[0].gain_stops) == (0.0, "", 0.0)
    assert "no lamp is on" in held.lines()[0]
    assert headroom.answer(bare, fps=48, quality="draft").short_stops == pytest.approx(1.0)


def test_lamps_for_a_level():
    # INDEPENDENT: the setup they ask for, read afresh, has its mark there; under a sky too.
    for planned, at in ((INDOORS, 0.4), (OUT, readings.readings(OUT, quality="draft").marks[0].level_stops + 0.3)):
        change = headroom.lamps_for(planned, mark="face", at_stops=at, quality="draft")
        got = readings.readings(headroom.raised(planned, min(change, 1.7)), quality="draft").marks[0].level_stops
        assert change < 1.7 and got == pytest.approx(at, abs=5e-3)


def test_the_reserve_in_words():
    rows = headroom.reserve(INDOORS, quality="draft").lines()
    assert rows[0] == "loft: 1.7 stops in hand, all lamps together; key is at full first"
    assert rows[1:4] == ["  key: 30 %, 1.7 stops to full", "  rim: 12 %, 3.0 stops to full", "  spare: 0 %, off"]


@pytest.mark.parametrize(("call", "message"), [
    (lambda: headroom.raised(INDOORS, 2.0), r"light 'key': 2.0 stops up is 0.3 stops more than it has at full"),
    (lambda: headroom.raised(INDOORS, np.nan), r"change_stops must be a finite number"),
    (lambda: headroom.lamps_for(INDOORS, mark="cheek", at_stops=0, quality="draft"), r"mark must be one of face, back, got 'cheek'"),
    (lambda: headroom.lamps_for(OUT, mark="face", at_stops=-12, quality="draft"), r"sun and sky alone give it more than −12.0"),
    (lambda: headroom.lamps_for(dataclasses.replace(OUT, lights=()), mark="face", at_stops=0, quality="draft"), r"no lamp lights it"),
    (lambda: headroom.answer(INDOORS), r"nothing is asked; give one or more of fps, shutter_deg"),
    (lambda: headroom.answer(INDOORS, fps=-1), r"camera: fps must be"),
    (lambda: headroom.answer(INDOORS, shutter_deg=400), r"camera: shutter_deg must be > 0 and <= 360 degrees, got 400"),
    (lambda: headroom.answer(INDOORS, fps=60, widest_t=0), r"widest_t must be > 0, got 0"),
])  # fmt: skip
def test_bad_input_is_refused_in_one_sentence(call, message):
    with pytest.raises((ValueError, SceneError), match=message):
        call()
