"""Readings: against inverse square and ISO 2720 by hand, and against the same setup read another way."""

import dataclasses
import json
from functools import cache

import numpy as np
import pytest

from lightcalc import wording
from lightcalc.answers import readings
from lightcalc.engine.solve import light as lit_of
from lightcalc.kit.candela import Beam, Lambert
from lightcalc.kit.materials import Stuff
from lightcalc.scene.parts import Board, Camera, Exterior, Haze, Light, Mark, Sky, Spot, Sun, Target, Window
from lightcalc.scene.solids import cheeks

from light_parts import CAMERA, lamp, loft, setup, unit

# 250 lx s x 4^2 / (1/48 s x ISO 800) = 240 lx
METERED = dataclasses.replace(CAMERA, t_stop=4.0, iso=800.0, fps=24.0, shutter_deg=180.0)
AT, AIM = (3.9, 3.2, 1.3), (2.4, 0.9, 1.6)
FACE = Mark(name="face", at=AT, aim=AIM)
KEY, FILL = lamp("key", (1.9, 1.6, 2.6), 2500.0), lamp("fill", (5.3, 0.8, 1.9), 600.0)
FACING = unit(np.subtract(AIM, AT))


def square_law(light, cd, take=lambda cosine: cosine):
    """I cos / d^2 at the face."""
    to = np.subtract(light.at, AT)
    return cd * take(to @ FACING / np.linalg.norm(to)) / (to @ to)


def read(**parts):
    return readings.readings(setup(camera=METERED, **parts), quality="draft")


# --- marks ---------------------------------------------------------------------------------------------------


def test_level_by_hand():
    # PUBLISHED: ISO 2720:1974, N^2 / t = E S / C with C = 250 lx s for a flat receptor: 240 lx at T4, 1/48 s, ISO 800.
    # DERIVED: inverse square for the lux; log2 for the stops.
    got = read(lights=(KEY, FILL), marks=(FACE,))
    key, fill = square_law(KEY, 2500), square_law(FILL, 600)
    mark = got.marks[0]
    assert got.reference_lx == pytest.approx(240.0, rel=1e-12)
    assert got.reference_cd_m2 == pytest.approx(0.18 * 240 / np.pi, rel=1e-12)
    assert list(mark.by_source) == ["key", "fill", "room"]
    assert mark.by_source["key"] == pytest.approx(key, rel=1e-6)
    assert mark.by_source["fill"] == pytest.approx(fill, rel=1e-6)
    assert mark.by_source["room"] == 0.0  # black, no haze
    assert mark.illuminance_lx == pytest.approx(key + fill, rel=1e-6)
    assert mark.level_stops == pytest.approx(np.log2((key + fill) / 240.0), abs=1e-5)


@pytest.mark.parametrize(
    ("change", "moves"),
    [
        (dict(nd_stops=2.0), -2.0), (dict(iso=1600.0), 1.0), (dict(t_stop=8.0), -2.0), (dict(fps=48.0), -1.0),
        (dict(shutter_deg=90.0), -1.0),
    ],
)  # fmt: skip
def test_the_camera_moves_the_level(change, moves):
    # DERIVED: from the same equation; the lux do not move.
    before = read(lights=(KEY,), marks=(FACE,)).marks[0]
    scene = setup(camera=dataclasses.replace(METERED, **change), lights=(KEY,), marks=(FACE,))
    after = readings.readings(scene, quality="draft").marks[0]
    assert after.level_stops - before.level_stops == pytest.approx(moves, abs=1e-9)
    assert after.illuminance_lx == before.illuminance_lx


def test_a_dome_reads_from_the_side_too():
    # DERIVED: weight (1 + cos) / 2, so light from behind still counts.
    behind = lamp("behind", (4.6, 4.4, 2.0), 900.0)
    dome = read(lights=(behind,), marks=(dataclasses.replace(FACE, receptor="dome"),)).marks[0]
    assert dome.illuminance_lx == pytest.approx(square_law(behind, 900, lambda c: 0.5 * (1 + c)), rel=1e-6)
    assert read(lights=(behind,), marks=(FACE,)).marks[0].illuminance_lx == 0.0


def test_ratio_both_ways():
    # COMMON PRACTICE: (key + fill) : fill, for fill lands on the key side too; DERIVED: the other is one less.
    mark = read(lights=(FILL, KEY), marks=(FACE,)).marks[0]
    key, fill = square_law(KEY, 2500), square_law(FILL, 600)
    assert mark.key == ("key",)  # the brightest, though named second
    assert (mark.key_lx, mark.fill_lx) == (pytest.approx(key, rel=1e-6), pytest.approx(fill, rel=1e-6))
    assert mark.ratio == pytest.approx((key + fill) / fill, rel=1e-6)
    assert mark.key_to_fill == pytest.approx(key / fill, rel=1e-6)
    assert mark.ratio_stops == pytest.approx(np.log2((key + fill) / fill), abs=1e-5)
    assert mark.fill_under_stops == pytest.approx(np.log2(fill / (key + fill)), abs=1e-5)


def test_the_setup_may_name_its_key():
    # DERIVED: then the rest is fill, be it brighter.
    mark = read(lights=(KEY, FILL), marks=(FACE,), key=("fill",)).marks[0]
    assert mark.key_to_fill == pytest.approx(square_law(FILL, 600) / square_law(KEY, 2500), rel=1e-6)
    both = read(lights=(KEY, FILL), marks=(FACE,), key=("key", "fill")).marks[0]
    assert (both.fill_lx, both.ratio) == (0.0, np.inf)


def test_without_light_nothing_is_made_up():
    # DERIVED: no light is no stop: minus infinity, said so in words, and no tick on the ladder.
    got = read(marks=(FACE,))
    mark = got.marks[0]
    assert (mark.illuminance_lx, mark.level_stops, mark.key) == (0.0, -np.inf, ())
    assert got.ladder() == ()
    assert "no light" in " ".join(got.lines())
    assert readings.readings(setup(camera=METERED), quality="draft").marks == ()
    one = read(lights=(KEY,), marks=(FACE,)).marks[0]
    assert one.fill_lx == 0.0
    assert one.no_ratio == readings.ratio_words(one) == "no fill"


def test_room_light_counts_as_fill():
    # DERIVED: what walls send back is under 'room', and is the fill of a lone key. A floor of 0.5 and a wall of 0.5
    # cannot give back more than half of all there is.
    mark = readings.readings(setup(loft(floor=0.5, left=0.5), camera=METERED, lights=(KEY,), marks=(FACE,))).marks[0]
    assert mark.fill_lx == pytest.approx(mark.by_source["room"], rel=1e-12)
    assert 0 < mark.fill_lx < 0.5 * mark.illuminance_lx


CHEEK = Mark(name="cheek", at=tuple(np.add(AT, (0.1, 0.05, 0.0))), aim=(6.0, 2.9, 1.3))  # 0.11 m off, turned by 107 degrees


def square_law_at(mark, light, cd):
    """I cos / d^2 at any mark."""
    to = np.subtract(light.at, mark.at)
    return cd * max(to @ unit(np.subtract(mark.aim, mark.at)) / np.linalg.norm(to), 0.0) / (to @ to)


def test_two_cheeks_give_the_ratio_of_their_face():
    # DERIVED: the meter at the lit cheek against the meter at the far one; fill alone from key + fill stays each mark's own.
    got = read(lights=(KEY, FILL), marks=(FACE, CHEEK))
    lux = [sum(square_law_at(mark, light, cd) for light, cd in ((KEY, 2500.0), (FILL, 600.0))) for mark in (FACE, CHEEK)]
    lit, far = got.marks
    assert [lit.illuminance_lx, far.illuminance_lx] == pytest.approx(lux, rel=1e-6)
    assert lit.ratio == far.ratio == pytest.approx(lux[0] / lux[1], rel=1e-6) and lit.ratio > 2
    assert lit.key_to_fill == pytest.approx(lit.ratio - 1, rel=1e-9) and lit.ratio_stops == pytest.approx(np.log2(lit.ratio))
    alone = read(lights=(KEY, FILL), marks=(FACE,)).marks[0]
    assert lit.fill_under_stops == alone.fill_under_stops == -alone.ratio_stops != -lit.ratio_stops
    assert (lit.other_cheek, far.other_cheek, alone.other_cheek) == ("cheek", "face", "")
    assert f"lit : far cheek {lit.ratio:.1f} : 1" in got.lines()[1] and got.as_json()["marks"][1]["other_cheek"] == "face"


@pytest.mark.parametrize("aside_deg", [30.0, 60.0, 120.0])
def test_a_person_s_cheeks_are_read_without_being_marked(aside_deg):
    # DERIVED: I cos / d^2 on each cheek, which looks 45 degrees aside; from 60 degrees on the far one faces away and has nothing.
    person = dataclasses.replace(FACE, aim=(AT[0], 0.0, AT[2]), figure=True)  # looks towards -y, its own left towards +x
    turn = np.radians(aside_deg)
    key = lamp("key", tuple(np.add(AT, (2.0 * np.sin(turn), -2.0 * np.cos(turn), 0.2))), 2500.0)
    mark = read(lights=(key,), marks=(person,)).marks[0]
    at, facing = cheeks(person)
    by_hand = []
    for point, way in zip(at, facing):
        to = np.subtract(key.at, point)
        by_hand.append(2500.0 * max(to @ way, 0.0) / (to @ to) ** 1.5)
    assert mark.cheeks_lx == pytest.approx(by_hand, rel=1e-3, abs=0.1) and by_hand[0] > 0  # skin and clothes send back a little
    assert mark.cheeks_stops[0] == pytest.approx(np.log2(by_hand[0] / 240.0), abs=2e-3)
    assert (mark.cheek_ratio < 5) is bool(by_hand[1] > 0)
    assert readings.cheek_words(mark)[0].startswith("cheeks: own left ")
    assert json.loads(json.dumps(read(lights=(key,), marks=(person,)).as_json()))["marks"][0]["cheeks_lx"] == list(mark.cheeks_lx)


def test_cheeks_that_are_marked_are_not_read_twice_and_nobody_has_none():
    assert read(lights=(KEY,), marks=(dataclasses.replace(FACE, figure=True), CHEEK)).marks[0].cheeks_lx == ()
    assert read(lights=(KEY,), marks=(FACE,)).marks[0].cheeks_lx == () and readings.cheek_words(read(marks=(FACE,)).marks[0]) == []
    dark = read(marks=(dataclasses.replace(FACE, figure=True),)).marks[0]
    assert dark.cheeks_lx == (0.0, 0.0) and np.isnan(dark.cheek_ratio) and "lit : far no light" in readings.cheek_words(dark)[0]


@pytest.mark.parametrize(
    "marks",
    [
        (FACE, dataclasses.replace(CHEEK, at=tuple(np.add(AT, (0.26, 0.0, 0.0))))),  # further off than a head is wide
        (FACE, dataclasses.replace(CHEEK, aim=(3.0, 0.7, 1.3))),  # facing as the face does, within 60 degrees
        (FACE, dataclasses.replace(CHEEK, receptor="dome")), (FACE, dataclasses.replace(CHEEK, reflectance=0.8)),  # a letter it reads
        (  # two people, their heads side by side
            dataclasses.replace(FACE, figure=True),
            dataclasses.replace(CHEEK, at=tuple(np.add(AT, (0.2, 0.1, 0.0))), figure=True),
        ),
        (FACE, CHEEK, dataclasses.replace(CHEEK, name="third", aim=(3.9, 6.0, 1.3))),  # which two?
    ],
)  # fmt: skip
def test_marks_that_are_no_two_cheeks_keep_their_own_ratio(marks):
    # DERIVED: the ratio of the sources, as if the mark stood alone.
    alone = read(lights=(KEY, FILL), marks=(FACE,)).marks[0]
    found = read(lights=(KEY, FILL), marks=marks).marks
    people = any(mark.figure for mark in marks)  # the other's skin sends a little
    assert found[0].ratio == pytest.approx(alone.ratio, rel=1e-3 if people else 1e-12)
    assert not any(mark.other_cheek for mark in found)


@pytest.mark.parametrize(("cd", "said"), [(2.0, "no measurable fill"), (20.0, "")])
def test_fill_under_a_thousandth_of_the_key_is_none(cd, said):
    # DERIVED: the fill's 600 cd are under a tenth of the key here, so that 2 cd are under a thousandth and 20 cd over.
    weak = lamp("fill", FILL.at, cd)
    share = square_law(weak, cd) / square_law(KEY, 2500)
    mark = read(lights=(KEY, weak), marks=(FACE,)).marks[0]
    assert bool(share < 1e-3) is bool(said) and mark.no_ratio == said
    assert bool(np.isinf(mark.ratio)) is bool(said) is not bool(np.isfinite(mark.fill_under_stops))


@pytest.mark.parametrize(("reflectance", "said"), [(0.03, "no measurable fill"), (0.8, "")])
def test_a_black_board_under_the_sky_is_no_fill(reflectance, said):
    # DERIVED: what black cloth sends back is nobody's fill, though it be over a thousandth of the sky; a white one's is.
    board = Board(name="sheet", at=(2.7, 3.6, 1.3), aim=(3.9, 3.2, 1.3), width_m=2.4, height_m=2.4,
                  stuff=Stuff(name="sheet", reflectance=reflectance))  # fmt: skip
    scene = setup(Exterior(name="dyke", width_m=40, depth_m=30), camera=METERED, boards=(board,), marks=(dataclasses.replace(FACE, receptor="dome"),),
                  sky=Sky(zenith_cd_m2=4420, horizon_cd_m2=1473),
                  targets=(Target(of="face", quantity="fill_under", stops=-6.0),))  # fmt: skip
    got = readings.readings(scene, quality="draft")
    mark = got.marks[0]
    assert mark.key == ("sky",) and mark.by_source["sheet"] > 1e-3 * mark.key_lx
    assert mark.no_ratio == said and ("missed: no measurable fill" in got.lines()[-1]) is bool(said)
    assert (got.as_json()["marks"][0]["ratio"] is None) is bool(said)


# --- spots ---------------------------------------------------------------------------------------------------

GREY_CARD = Board(
    name="card", at=(3.9, 3.2, 1.3), aim=(2.4, 0.9, 1.6), width_m=0.6, height_m=0.6, stuff=Stuff(name="grey card", reflectance=0.18)
)


def test_incident_and_spot_agree_on_a_grey_card():
    # PUBLISHED: a grey card is 0.18; by L_ref = 0.18 E_ref / pi both meters put it at the same level. The incident
    # meter is held a millimetre before the card.
    before = Mark(name="card", at=tuple(np.add(AT, 1e-3 * FACING)), aim=tuple(np.add(AIM, 1e-3 * FACING)))
    got = read(lights=(KEY, FILL), boards=(GREY_CARD,), marks=(before,), spots=(Spot(name="card", at=AT),))
    assert got.spots[0].level_stops == pytest.approx(got.marks[0].level_stops, abs=2e-3)
    assert got.spots[0].luminance_cd_m2 == pytest.approx(0.18 / np.pi * (square_law(KEY, 2500) + square_law(FILL, 600)), rel=2e-3)
    assert np.isnan(got.spots[0].beam_over_stops)


@cache
def hazy(**lights):
    """A shaft through a window on the right, and a bulb on the left, in thin haze and a black room."""
    window = Window(name="door", wall="right", centre_m=2.6, sill_m=0.9, width_m=1.1, height_m=1.4)
    beam = Light(
        name="sun gun",
        at=(9.4, 2.9, 3.3),
        aim=(4.4, 2.5, 0.8),
        distribution=Beam(peak_cd=4_000, beam_deg=24, field_deg=40),
        dim=lights.get("dim", 1.0),
    )
    soft = Light(
        name="soft",
        at=(2.2, 3.9, 2.1),
        aim=(3.9, 2.6, 1.4),
        distribution=Lambert(peak_cd=900.0),
        face_width_m=0.6,
        face_height_m=0.6,
        dim=lights.get("soft", 1.0),
    )
    return readings.readings(
        setup(
            loft(window), camera=METERED, lights=(beam, lamp("bulb", (1.2, 2.4, 2.2), 400.0), soft), marks=(FACE,),
            spots=(
                Spot(name="beam", at=(4.9, 2.55, 1.5), source="sun gun"), Spot(name="glow", at=(2.6, 3.6, 2.0), source="soft"), Spot(name="wall", at=(4.9, 2.55, 1.5)),
            ),
            haze=Haze(extinction_per_m=0.003, g=0.6),
        )
    )  # fmt: skip


@pytest.mark.parametrize("sigma", [0.04, 0.3])
def test_haze_in_the_open_leaves_sky_and_sun_and_dims_lamps(sigma):
    # DERIVED: sky and sun are given as they arrive, so a card reads what it reads in clear air (closed forms: an even sky
    # gives an upright card half of pi L, the ground under it the other half); a lamp's light has to come through, and the
    # haze round it gives back part of what it took. It used to read up to 0.8 stop high.
    even, sun, bulb = (
        Sky(zenith_cd_m2=1_900.0, horizon_cd_m2=1_900.0),
        Sun(bearing_deg=180.0, elevation_deg=30.0, normal_lx=20_000.0),
        lamp("bulb", (20.0, 9.0, 1.5), 4_000.0),
    )
    mark = Mark(name="card", at=(20.0, 14.0, 1.5), aim=(20.0, 2.0, 1.5))
    day, night = (
        read(
            place=Exterior(name="pans", width_m=40.0, depth_m=26.0, ground=0.2),
            marks=(mark,),
            haze=Haze(extinction_per_m=sigma, g=0.7),
            **light,
        )
        .marks[0]
        .illuminance_lx
        for light in (dict(sky=even, sun=sun), dict(lights=(bulb,)))
    )
    on_ground = np.pi * 1_900.0 + 20_000.0 * np.sin(np.radians(30.0))
    assert day == pytest.approx(np.pi * 1_900.0 / 2 + 0.2 * on_ground / 2 + 20_000.0 * np.cos(np.radians(30.0)), rel=2e-3)
    straight = 4_000.0 / 25.0 * np.exp(-5.0 * sigma)
    assert straight < night < 4_000.0 / 25.0 * 1.4


def test_beam_over_is_with_and_without_its_source():
    # INDEPENDENT: the source itself is put out and the same line read again. In a black room all it takes away is its
    # scattered light; that part of it which was scattered twice, half a per cent in so thin a haze, the reading leaves
    # with the background: 0.03 stop.
    with_, without = hazy(), hazy(dim=0.0)
    beam = with_.spots[0]
    assert beam.beam_over_stops > 0.5
    assert beam.beam_over_stops == pytest.approx(np.log2(beam.luminance_cd_m2 / without.spots[0].luminance_cd_m2), abs=0.03)
    assert beam.background_cd_m2 == pytest.approx(without.spots[0].luminance_cd_m2, rel=0.02)
    assert with_.spots[2].luminance_cd_m2 == beam.luminance_cd_m2  # naming a source changes nothing in the light


def test_beam_over_of_an_area_lamp():
    # INDEPENDENT: as above; a soft lamp's light in the air has no edges, but it is its own.
    with_, without = hazy(), hazy(soft=0.0)
    assert with_.spots[1].beam_over_stops > 0.3
    measured = np.log2(with_.spots[1].luminance_cd_m2 / without.spots[1].luminance_cd_m2)
    assert with_.spots[1].beam_over_stops == pytest.approx(measured, abs=0.03)


@pytest.mark.slow
def test_beam_over_of_a_board_and_of_the_sky():
    # INDEPENDENT: as above; the board is made black, the sky put out. Both light the air softly, from one side.
    def read(reflectance=0.85, zenith_cd_m2=150.0):
        card = Board(
            name="card",
            at=(1.6, 3.9, 1.6),
            aim=(4.6, 3.4, 1.6),
            width_m=1.2,
            height_m=1.2,
            stuff=Stuff(name="card", reflectance=reflectance, back=0.0),
        )
        spot = Light(name="spot", at=(5.4, 2.4, 1.8), aim=card.at, distribution=Beam(peak_cd=20_000, beam_deg=12, field_deg=18))
        window = Window(name="door", wall="right", centre_m=2.6, sill_m=0.9, width_m=1.1, height_m=1.4)
        return readings.readings(
            setup(
                loft(window), camera=METERED, lights=(spot, lamp("bulb", (1.2, 2.4, 2.2), 200.0)), boards=(card,),
                sky=Sky(zenith_cd_m2=zenith_cd_m2, horizon_cd_m2=0.5 * zenith_cd_m2),
                spots=(Spot(name="card", at=(2.3, 3.7, 1.6), source="card"), Spot(name="sky", at=(5.4, 3.0, 1.5), source="sky")), haze=Haze(extinction_per_m=0.003, g=0.6),
            )
        ).spots  # fmt: skip

    for k, without in enumerate((read(reflectance=0.0), read(zenith_cd_m2=0.0))):
        spot = read()[k]
        assert spot.beam_over_stops > 0.3
        assert spot.beam_over_stops == pytest.approx(np.log2(spot.luminance_cd_m2 / without[k].luminance_cd_m2), abs=0.05), (
            spot.name
        )


def test_the_veil_is_what_a_black_thing_at_the_mark_would_show():
    # INDEPENDENT: a black board is hung just behind the mark and read with the spot meter: all it shows is veil.
    scene = setup(
        camera=METERED,
        lights=(KEY, FILL),
        marks=(FACE,),
        spots=(Spot(name="black", at=AT),),
        haze=Haze(extinction_per_m=0.04, g=0.6),
    )
    away = unit(np.subtract(AT, METERED.at))
    black = Board(
        name="black",
        at=tuple(np.add(AT, 1e-3 * away)),
        aim=METERED.at,
        width_m=0.5,
        height_m=0.5,
        stuff=Stuff(name="velvet", reflectance=0.0),
    )
    mark = readings.readings(scene).marks[0]
    shown = readings.readings(dataclasses.replace(scene, boards=(black,))).spots[0]
    assert mark.veil_cd_m2 == pytest.approx(shown.luminance_cd_m2, rel=0.05)
    assert mark.veil_stops == pytest.approx(np.log2(mark.veil_cd_m2 / (0.18 * 240 / np.pi)), abs=1e-9)
    # DERIVED: Beer-Lambert on the way to the lens; a grey card there shows 0.18 E / pi through it, and the veil
    distance = np.linalg.norm(np.subtract(AT, METERED.at))
    assert mark.transmittance == pytest.approx(np.exp(-0.04 * distance), rel=1e-9)
    card = 0.18 * mark.illuminance_lx / np.pi * np.exp(-0.04 * distance)
    assert mark.veil_share == pytest.approx(mark.veil_cd_m2 / (mark.veil_cd_m2 + card), rel=1e-9)
    assert 0 < mark.veil_share < 1


def test_clear_air_has_no_veil():
    # DERIVED: nothing in the way.
    mark = read(lights=(KEY,), marks=(FACE,)).marks[0]
    assert (mark.transmittance, mark.veil_cd_m2, mark.veil_share, mark.veil_stops) == (1.0, 0.0, 0.0, -np.inf)


# --- targets, ladder, text -----------------------------------------------------------------------------------


def test_targets_met_and_missed():
    # DERIVED: met within the tolerance, edge included; missed by got - wanted.
    level = np.log2((square_law(KEY, 2500) + square_law(FILL, 600)) / 240.0)
    under = np.log2(square_law(FILL, 600) / (square_law(KEY, 2500) + square_law(FILL, 600)))
    wanted = (
        Target(of="face", quantity="level", stops=level + 0.3), Target(of="face", quantity="level", stops=level - 0.5), Target(of="face", quantity="fill_under", stops=under + 0.1, within=0.2),
        Target(of="face", quantity="level", stops=level + 0.4, within=0.5), Target(of="face", quantity="veil", stops=-4.0),
    )  # fmt: skip
    got = read(lights=(KEY, FILL), marks=(FACE,), targets=wanted)
    assert [target.met for target in got.targets] == [True, False, True, True, False]
    assert [target.miss_stops for target in got.targets[:4]] == pytest.approx([-0.3, 0.5, -0.1, -0.4], abs=1e-5)
    assert got.targets[0].got_stops == pytest.approx(level, abs=1e-5)
    assert not got.met
    assert read(lights=(KEY, FILL), marks=(FACE,), targets=wanted[:1]).met


def test_a_target_on_a_shaft():
    # DERIVED: the quantity asked for is the one compared.
    got = hazy()
    over = readings.judged(Target(of="beam", quantity="beam_over", stops=1.0), got.marks, got.spots)
    level = readings.judged(Target(of="beam", quantity="level", stops=1.0), got.marks, got.spots)
    veil = readings.judged(Target(of="face", quantity="veil", stops=1.0), got.marks, got.spots)
    assert (over.got_stops, level.got_stops) == (got.spots[0].beam_over_stops, got.spots[0].level_stops)
    assert veil.got_stops == got.marks[0].veil_stops


def test_the_ladder_holds_what_can_be_seen():
    # DERIVED: one tick a level, in stops from middle grey, all of them finite.
    got = hazy()
    ticks = {(tick.kind, tick.label): tick.stops for tick in got.ladder()}
    assert np.isfinite(list(ticks.values())).all()
    assert ticks["mark", "face"] == got.marks[0].level_stops
    assert ticks["fill", "face: fill"] == pytest.approx(np.log2(got.marks[0].fill_lx / 240.0), abs=1e-9)
    assert ticks["veil", "veil at face"] == got.marks[0].veil_stops
    assert ticks["beam", "beam"] - ticks["background", "behind beam"] == pytest.approx(got.spots[0].beam_over_stops, abs=1e-9)
    assert ticks["spot", "wall"] == got.spots[2].level_stops


def test_lines_say_lux_or_footcandles():
    # DERIVED: 1 fc is 1 lm/ft2 = 1 / 0.3048^2 lx. Three figures, stops to a tenth, ratio both ways.
    target = Target(of="face", quantity="level", stops=2.0)
    got = read(lights=(KEY, FILL), marks=(FACE,), targets=(target,))
    key, fill = square_law(KEY, 2500), square_law(FILL, 600)
    text, feet = got.lines(), got.lines("feet")
    assert text[0] == "loft: middle grey at 240 lx"
    assert feet[0] == f"loft: middle grey at {240 * 0.3048**2:.1f} fc"
    assert f"face: {key + fill:.0f} lx, {np.log2((key + fill) / 240):+.1f} stops".replace("-", "−") in text[1]
    assert f"face: {(key + fill) * 0.3048**2:.1f} fc" in feet[1]
    assert f"key + fill : fill {(key + fill) / fill:.1f} : 1 ({np.log2((key + fill) / fill):.1f} stops)" in text[1]
    assert f"key : fill {key / fill:.1f} : 1 ({np.log2(key / fill):.1f} stops)" in text[1]
    assert text[2].split() == f"from key {key:.0f} lx, fill {fill:.3g} lx".split()
    assert text[-1].endswith(f"missed by {np.log2((key + fill) / 240) - 2:+.1f}".replace("-", "−"))
    assert "target face level +2.0 within 0.33: " in text[-1]
    assert "lx" not in " ".join(feet)


def test_lines_speak_of_haze_and_shafts_only_where_there_are_any():
    # DERIVED: words follow the numbers.
    misty, clear = " ".join(hazy().lines()), " ".join(read(lights=(KEY,), marks=(FACE,)).lines())
    assert "haze lets through" in misty and "shaft of sun gun" in misty
    assert f"{100 * hazy().marks[0].transmittance:.0f} %" in misty
    assert "haze" not in clear and "shaft" not in clear


def test_json_keeps_its_units_in_its_names():
    # DERIVED: plain data, every number's unit in its key, and nothing that JSON cannot say.
    scene = setup(
        camera=METERED,
        lights=(KEY,),
        marks=(FACE,),
        spots=(Spot(name="wall", at=(3.0, 4.7, 1.0)),),
        targets=(Target(of="face", quantity="veil", stops=-3.0),),
    )
    data = readings.readings(scene, quality="draft").as_json()
    again = json.loads(json.dumps(data, allow_nan=False))
    assert again == json.loads(json.dumps(data))
    mark, spot, target = again["marks"][0], again["spots"][0], again["targets"][0]
    assert mark["by_source_lx"]["key"] == pytest.approx(square_law(KEY, 2500), rel=1e-6)
    assert (mark["veil_stops"], mark["ratio"], spot["beam_over_stops"], target["got_stops"]) == (None, None, None, None)
    assert (mark["no_ratio"], mark["key_to_fill"], mark["ratio_stops"], mark["other_cheek"]) == ("no fill", None, None, None)
    assert again["reference_lx"] == pytest.approx(240.0)
    assert again["met"] is False
    bare = {"name", "key", "ratio", "key_to_fill", "transmittance", "veil_share", "source", "mix_without", "mixed"}
    bare |= {"no_ratio", "other_cheek"}
    for key in (set(mark) | set(spot)) - bare:
        assert key.endswith(("_lx", "_stops", "_cd_m2", "_kelvin", "_duv")), key


def test_one_light_serves_many_readings():
    # DERIVED: the same Lit gives the same readings, to the last digit; so does the same setup afresh.
    scene = setup(loft(floor=0.3), camera=METERED, lights=(KEY,), marks=(FACE,), haze=Haze(extinction_per_m=0.05, g=0.6))
    once = lit_of(scene, "draft")
    assert readings.readings(scene, lit=once) == readings.readings(scene, lit=once) == readings.readings(scene, quality="draft")


def test_a_mark_at_the_lens():
    # DERIVED: no way to look, no air: transmittance 1, no veil.
    at = tuple(np.add(METERED.at, (0.0, 0.01, 0.0)))
    mark = readings.readings(
        setup(camera=METERED, lights=(KEY,), marks=(Mark(name="lens", at=at, aim=AT),), haze=Haze(extinction_per_m=0.1)),
        quality="draft",
    ).marks[0]
    assert (mark.transmittance, mark.veil_cd_m2) == (1.0, 0.0)
    assert isinstance(METERED, Camera)


@pytest.mark.parametrize(
    "bound, got, met, said",
    [
        ("at least", 1.4, False, "missed by −0.1"), ("at least", 1.5, True, "met"), ("at least", np.inf, True, "met"),
        ("at most", 1.6, False, "missed by +0.1"), ("at most", -9.0, True, "met"), ("at most", np.nan, False, "missed: –"),
        ("about", 1.9, False, "missed by +0.4"), ("about", np.inf, False, "missed: black behind it"),
    ],
)  # fmt: skip
def test_a_target_may_have_one_end(bound, got, met, said):
    # DERIVED: by hand against +1.5 within 0.3, on either side of its ends.
    target = Target(of="beam", quantity="beam_over", stops=1.5, within=0.3, bound=bound)
    spot = readings.SpotReading("beam", 1.0, 0.0, 0.0, "lamp", 1.0, got)
    read = readings.judged(target, (), (spot,))
    assert (read.met, wording.verdict_text(read)) == (met, said)
    words = {"about": "beam over background +1.5 within 0.3", "at least": "beam over background at least +1.5"}
    assert bound == "at most" or wording.target_text(read, within=True) == words[bound]
    assert wording.wanted_text(read) == {"about": "+1.5 ± 0.3", "at least": "at least +1.5", "at most": "at most +1.5"}[bound]
