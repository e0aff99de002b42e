"""What is surely not meant: each finding on a set that has it, and gone where that is mended."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from lightcalc.answers import sense as asked
from lightcalc.answers.readings import readings
from lightcalc.answers.sense import sense, setup_sense
from lightcalc.kit import materials
from lightcalc.kit.candela import Beam, Lambert
from lightcalc.scene.parts import (
    Board,
    Camera,
    Exterior,
    Flag,
    Frame,
    Haze,
    Light,
    Mark,
    Piece,
    Room,
    Setup,
    Sky,
    Spot,
    Sun,
    Window,
)
from lightcalc.scene.shoot import Shoot
from lightcalc.scene.shoot_file import demo_path, load, new_text
from lightcalc.scene.shoot_read import loads
from lightcalc.scene.sun_and_sky import moon_and_sky, sun_and_sky

# A room of 5 x 4 x 2.6 m with a window, 1.2 m wide, in the middle of its near wall (y = 0, sill 0.9 m, head 2.1 m).
WINDOW = Window(name="south", wall="near", centre_m=2.5, sill_m=0.9, width_m=1.2, height_m=1.2)
KITCHEN = Room(name="kitchen", width_m=5.0, depth_m=4.0, height_m=2.6, windows=(WINDOW,))
YARD = Exterior(name="yard", width_m=20.0, depth_m=15.0)
FACE = Mark(name="face", at=(2.6, 2.3, 1.4), aim=(2.6, 0.0, 1.4))
CAMERA = Camera(at=(0.7, 3.1, 1.5), aim=(2.6, 2.3, 1.4))
SPOT = Beam(peak_cd=11_500.0, beam_deg=24.0, field_deg=36.0)
SKY = Sky(zenith_cd_m2=2_000.0, horizon_cd_m2=3_000.0)


def lamp(**more):
    return Light(**dict(name="lamp", at=(2.1, 0.7, 2.2), aim=(2.6, 2.3, 1.4), distribution=SPOT) | more)


def board(**more):
    stuff = materials.stuff("white")
    return Board(**dict(name="board", stuff=stuff, at=(3.9, 1.3, 1.3), aim=(2.6, 2.3, 1.4), width_m=1.2, height_m=0.9) | more)


def setup(**more):
    """Lamp, mark and camera in the kitchen, daylight kept out: nothing wrong with it."""
    return Setup(**dict(name="1", place=KITCHEN, camera=CAMERA, lights=(lamp(),), marks=(FACE,), kept_out=("sun", "sky")) | more)


def said(one, read=None):
    return [found.sentence for found in setup_sense(one, read=read)]


def only(one, read=None):
    """The one finding, its path and the sentence."""
    (found,) = setup_sense(one, read=read)
    return found.path, found.sentence


def test_nothing_is_wrong_with_a_plain_set():
    assert said(setup(boards=(board(),))) == []


# --- lamps ----------------------------------------------------------------------------------------------------


def test_a_lamp_outside_without_a_window_towards_it():
    # The window is in the near wall; the lamp stands beyond the right one.
    path, sentence = only(setup(lights=(lamp(at=(7.3, 2.1, 1.9)),)))
    assert path == ("lights", 0, "aim")
    assert "light 'lamp': it stands outside, and no window opens towards it (it is beyond the right wall): 0 lx inside" in sentence
    assert said(setup(lights=(lamp(at=(2.2, -2.9, 1.9)),))) == []
    assert "beyond floor or ceiling" in only(setup(lights=(lamp(at=(2.2, 2.0, 4.1)),)))[1]


def test_a_window_that_is_boarded_up_opens_to_nobody():
    shut = replace(KITCHEN, windows=(replace(WINDOW, glass=0.0),))
    assert "no window opens towards it" in only(setup(place=shut, lights=(lamp(at=(2.2, -2.9, 1.9)),)))[1]


def test_a_beam_that_misses_the_window():
    # DERIVED: 24 degrees from 3 m off is 1.3 m wide; aimed 3 m beside the window's middle it meets no part of it.
    path, sentence = only(setup(lights=(lamp(at=(4.6, -3.0, 1.5), aim=(4.6, 0.0, 1.5)),)))
    assert path == ("lights", 0, "aim") and "meets no window: only spill comes in" in sentence
    assert said(setup(lights=(lamp(at=(4.6, -3.0, 1.5), aim=(2.5, 0.0, 1.5)),))) == []


def test_a_lamp_outside_into_a_board_outside():
    # Its beam misses the window, and is meant to: the board sends it in. Without the board it is lost.
    stuff = materials.stuff("white")
    bounce = Board(name="bounce", stuff=stuff, at=(2.5, -3.0, 1.2), aim=(2.6, 2.3, 1.4), width_m=2.4, height_m=2.4)
    narrow = lamp(at=(6.4, -0.8, 2.5), aim=(2.3, -3.0, 1.5), distribution=Beam(peak_cd=9e4, beam_deg=4.0, field_deg=7.0))
    assert said(setup(lights=(narrow,), boards=(bounce,))) == []
    assert "only spill comes in" in only(setup(lights=(narrow,)))[1]


def test_a_curtain_that_spreads_the_beam_is_meant():
    hung = replace(KITCHEN, windows=(replace(WINDOW, sheer=materials.diffusion("muslin")),))
    assert said(setup(place=hung, lights=(lamp(at=(2.2, -2.9, 1.9)),))) == []


def test_a_beam_that_flags_stop_whole():
    flag = Flag(name="cutter", at=(2.2, 0.9, 2.1), aim=(2.1, 0.7, 2.2), width_m=1.5, height_m=0.9)
    assert only(setup(flags=(flag,)))[1].startswith("setup '1', light 'lamp': flags stop all of its beam; move a flag")
    assert said(setup(flags=(replace(flag, width_m=0.02),))) == []
    # The same sheet as a board or a frame is what the lamp is meant to meet.
    stuff = materials.stuff("white")
    bounce = Board(name="bounce", stuff=stuff, at=flag.at, aim=flag.aim, width_m=1.5, height_m=0.9)
    assert not any("beam" in one for one in said(setup(boards=(bounce,))))
    frame = Frame(name="frame", diffusion=materials.diffusion("full"), at=flag.at, aim=flag.aim, width_m=1.5, height_m=0.9)
    assert said(setup(frames=(frame,))) == []


def test_a_beam_into_the_blue():
    up = lamp(at=(9.0, 6.0, 1.5), aim=(9.0, 9.0, 4.5))
    outside = setup(place=YARD, lights=(up,), marks=(replace(FACE, at=(2.6, 9.3, 1.4)),), sky=SKY, kept_out=("sun",))
    path, sentence = only(outside)
    assert path == ("lights", 0, "aim") and "its beam lands nowhere" in sentence
    level = replace(up, aim=(2.6, 9.3, 1.4))  # a narrow beam at a face may miss the ground on the plan
    for mended in (
        replace(outside, lights=(replace(up, aim=(9.0, 9.0, 0.0)),)),
        replace(outside, lights=(replace(level, distribution=Beam(peak_cd=14_000.0, beam_deg=7.0, field_deg=24.0)),)),
        replace(outside, haze=Haze(extinction_per_m=0.02)),  # a beam in the air is seen
    ):
        assert said(mended) == []


def test_a_lamp_that_is_off_is_not_asked_where_it_goes():
    assert said(setup(lights=(lamp(), lamp(name="spare", at=(7.3, 2.1, 1.9), dim=0.0)))) == []


def test_every_lamp_dimmed_to_nothing():
    path, sentence = only(setup(lights=(lamp(dim=0.0),)))
    assert path == ("lights", 0, "dim") and "every lamp is dimmed to 0" in sentence
    assert said(setup(lights=(lamp(dim=0.0), lamp(name="two", at=(1.5, 0.8, 2.1))))) == []


# --- boards ---------------------------------------------------------------------------------------------------


def test_a_board_turned_away_from_every_mark():
    away = board(aim=(5.0, 0.3, 1.3))
    path, sentence = only(setup(boards=(away,)))
    assert path == ("boards", 0, "aim") and "its face is turned away from every mark; aim = 'face' turns it" in sentence
    second = Mark(name="hand", at=(4.6, 0.6, 1.1), aim=(4.0, 1.2, 1.2))
    assert said(setup(boards=(away,), marks=(FACE, second), lights=(lamp(at=(4.7, 0.4, 2.4)),))) == []
    assert said(setup(boards=(replace(away, stuff=materials.stuff("black")),))) == []  # it is there to take light away


def test_a_board_behind_every_mark():
    behind = board(at=(2.6, 3.6, 1.4))
    assert "every mark faces away from it" in only(setup(boards=(behind,)))[1]
    assert said(setup(boards=(behind,), marks=(replace(FACE, receptor="dome"),))) == []


def test_a_board_that_no_light_stands_before():
    # The lamp stands behind the board's plane: its face is in its own shadow.
    late = board(at=(2.6, 1.2, 1.4))
    assert "no light stands before its face" in only(setup(boards=(late,)))[1]
    assert said(setup(boards=(late,), lights=(lamp(at=(4.4, 3.6, 2.2), aim=(2.6, 1.2, 1.4)),))) == []
    # So does a window that lets the day in, if the face looks at it.
    sunny = setup(boards=(late,), sky=SKY, kept_out=("sun",))
    assert "no light stands before its face" in only(sunny)[1]
    turned = board(at=(2.6, 3.6, 1.4), aim=(2.6, 0.0, 1.4))
    assert said(setup(boards=(turned,), sky=SKY, kept_out=("sun",), lights=(), marks=(replace(FACE, receptor="dome"),))) == []


def test_out_of_doors_the_sky_lights_every_board():
    yard = setup(place=YARD, lights=(), boards=(board(),), sky=SKY, kept_out=("sun",))
    assert said(yard) == []
    low = Sun(bearing_deg=0.0, elevation_deg=20.0, normal_lx=40_000.0)  # from +y; the board looks to +y, and to -x
    night = replace(yard, sky=None, kept_out=("sky",))
    assert said(replace(night, sun=low)) == []
    assert "no light stands before its face" in only(replace(night, sun=replace(low, bearing_deg=180.0)))[1]


class Read:
    """Readings of one mark, made up."""

    def __init__(self, by_source, key):
        self.by_source, self.key, self.key_lx = by_source, key, sum(by_source[one] for one in key)
        self.illuminance_lx = sum(by_source.values())

    @property
    def marks(self):
        return (self,)


def test_a_board_that_readings_say_gives_nothing():
    # DERIVED: 100 lx of room and board together, of which 3.4 is the board: log2(100 / 96.6) = 0.050 stop of fill.
    one = setup(boards=(board(),))
    for own, there in ((3.3, False), (3.5, True), (0.0, False)):
        read = Read({"lamp": 800.0, "board": own, "room": 100.0 - own}, ("lamp",))
        found = said(one, read)
        assert (found == []) is there
        assert there or "board 'board': it lifts the fill by under 1/20 stop at every mark" in found[0]
    # Where it is measured to give something, geometry is not believed.
    away = setup(boards=(board(aim=(5.0, 0.3, 1.3)),))
    assert said(away, Read({"lamp": 800.0, "board": 30.0, "room": 70.0}, ("lamp",))) == []
    assert "turned away" in only(away, Read({"lamp": 800.0, "board": 0.0, "room": 70.0}, ("lamp",)))[1]
    # As the key itself it is weighed against all the light.
    assert said(one, Read({"lamp": 0.0, "board": 30.0, "room": 70.0}, ("board",))) == []


# --- in the way -----------------------------------------------------------------------------------------------


def test_a_mark_that_looks_into_a_wall():
    wall = replace(FACE, at=(2.6, 0.03, 1.4), aim=(2.6, -1.0, 1.4))
    path, sentence = only(setup(marks=(wall,)))
    assert path == ("marks", 0, "at") and "mark 'face': it looks at the near wall from less than 5 cm" in sentence
    assert said(setup(marks=(replace(wall, aim=(2.6, 1.0, 1.4)),))) == []  # a card on the wall
    assert said(setup(marks=(replace(wall, at=(2.6, 0.06, 1.4)),))) == []
    floor = replace(FACE, at=(2.6, 2.3, 0.01), aim=(2.6, 2.3, -1.0))
    assert "looks at the floor" in only(setup(marks=(floor,)))[1]


def test_a_mark_in_a_board_or_a_flag():
    inside = board(at=(2.6, 2.3, 1.4), aim=(2.6, 0.0, 1.4), name="table top")
    found = said(setup(boards=(inside,)))
    assert "setup '1', mark 'face': it is in board 'table top'; move it into the open" in found
    assert not any("it is in" in one for one in said(setup(boards=(replace(inside, at=(2.6, 2.6, 1.4)),))))
    flag = Flag(name="nose", at=(2.6, 2.26, 1.4), aim=(2.6, 0.0, 1.4), width_m=0.3, height_m=0.3)
    assert "it looks at flag 'nose' from less than 5 cm" in said(setup(flags=(flag,)))[0]
    assert not any("flag 'nose'" in one for one in said(setup(flags=(replace(flag, at=(2.1, 2.26, 1.4)),))))


def test_a_camera_in_a_board_or_at_a_wall():
    blind = board(at=(0.7, 3.1, 1.5), aim=(2.6, 2.3, 1.4))
    assert any("camera: it is in board 'board'" in one for one in said(setup(boards=(blind,))))
    path, sentence = only(setup(camera=replace(CAMERA, at=(0.02, 3.1, 1.5), aim=(-2.0, 3.1, 1.5))))
    assert path == ("camera", "at") and "camera: it looks at the left wall" in sentence
    assert said(setup(camera=replace(CAMERA, at=(0.02, 3.1, 1.5)))) == []


def test_a_spot_where_the_camera_is():
    path, sentence = only(setup(spots=(Spot(name="wall", at=(0.7, 3.1, 1.52)),)))
    assert path == ("spots", 0, "at") and "it stands where the camera is" in sentence
    assert said(setup(spots=(Spot(name="wall", at=(0.7, 3.1, 1.6)),))) == []


def test_two_things_in_one_place():
    twin = lamp(name="twin")
    path, sentence = only(setup(lights=(lamp(), twin)))
    assert path == ("lights", 1, "at") and "light 'twin': it is in the same place as light 'lamp'" in sentence
    assert said(setup(lights=(lamp(), replace(twin, at=(2.1, 0.72, 2.2))))) == []
    assert said(setup(lights=(lamp(), replace(twin, dim=0.0)))) == []  # one is the other's stand-in
    cheek = replace(FACE, name="other cheek", aim=(4.0, 3.0, 1.4))
    assert said(setup(marks=(FACE, cheek))) == []
    assert "mark 'again': it is in the same place as mark 'face'" in only(setup(marks=(FACE, replace(FACE, name="again"))))[1]


def test_windows_that_overlap():
    two = replace(KITCHEN, windows=(WINDOW, replace(WINDOW, name="transom", sill_m=1.9, height_m=0.4)))
    assert "window 'transom': it overlaps window 'south'" in only(setup(place=two))[1]
    above = replace(KITCHEN, windows=(WINDOW, replace(WINDOW, name="transom", sill_m=2.1, height_m=0.4)))
    assert said(setup(place=above)) == []


# --- the key --------------------------------------------------------------------------------------------------

KEYED = setup(key=("lamp",))


@pytest.mark.parametrize(
    "wrong, why",
    [
        (replace(KEYED, marks=(replace(FACE, aim=(2.6, 4.0, 1.4)),)), "the mark faces away from it"),
        (replace(KEYED, lights=(lamp(aim=(2.1, 0.0, 2.2), distribution=Lambert(peak_cd=900.0), face_width_m=0.3,
                                     face_height_m=0.3),)), "it faces away"),
        (replace(KEYED, flags=(Flag(name="nose", at=(2.59, 2.2, 1.44), aim=(2.1, 0.7, 2.2), width_m=0.3, height_m=0.3),)),
         "what stands between stops it"),
        (replace(KEYED, lights=(lamp(at=(4.9, -0.7, 1.6), aim=(2.5, 0.6, 1.5)),)), "no straight way leads in by a window"),
    ],
    ids=["behind", "turned", "flagged", "round the corner"],
)  # fmt: skip
def test_a_key_that_does_not_reach(wrong, why):
    found = [one for one in setup_sense(wrong) if one.path == ("key",)]
    assert [one.sentence for one in found] == [
        f"setup '1', key 'lamp': it gives 0 lx at mark 'face': {why}; turn one to the other, clear the way, or name another key"
    ]
    assert not [one for one in setup_sense(replace(wrong, key=())) if one.path == ("key",)]


@pytest.mark.parametrize(
    "right",
    [
        KEYED,
        replace(KEYED, marks=(replace(FACE, aim=(2.6, 4.0, 1.4), receptor="dome"),)),
        replace(KEYED, lights=(lamp(at=(2.2, -2.9, 1.9)),)),
        replace(KEYED, flags=(Flag(name="nose", at=(2.3, 1.3, 1.1), aim=(2.1, 0.7, 2.2), width_m=0.3, height_m=0.3),)),
        replace(KEYED, place=replace(KITCHEN, windows=(replace(WINDOW, sheer=materials.diffusion("muslin")),)),
                lights=(lamp(at=(4.9, -0.7, 1.6), aim=(2.5, 0.6, 1.5)),)),  # the curtain glows
    ],
)  # fmt: skip
def test_a_key_that_reaches(right):
    assert [one.sentence for one in setup_sense(right) if one.path == ("key",)] == []


def test_cloth_on_a_lamp_spreads_it_forwards_only():
    cloth = materials.diffusion("half")
    bare = Light(name="lamp", at=(2.1, 0.7, 2.2), aim=(2.1, 0.0, 2.2), distribution=Lambert(peak_cd=900.0))
    for aim, there in (((2.1, 0.0, 2.2), False), ((3.4, 0.7, 2.2), True)):
        one = replace(KEYED, lights=(replace(bare, aim=aim, diffusion=cloth),))
        assert bool([found for found in setup_sense(one) if found.path == ("key",)]) is not there


def test_what_is_said_to_give_nothing_gives_nothing():
    # INDEPENDENT: the light engine, which shares no line of sight with `sense`.
    from lightcalc.answers.readings import readings

    for distance, reaches in ((2.2, False), (1.1, True)):
        flag = Flag(name="nose", at=(2.59, distance, 1.44), aim=(2.1, 0.7, 2.2), width_m=0.3, height_m=0.3)
        one = replace(KEYED, flags=(flag,))
        assert (readings(one, quality="draft").marks[0].key_lx > 0.0) is reaches
        assert bool([found for found in setup_sense(one) if found.path == ("key",)]) is not reaches
    late = replace(KEYED, marks=(replace(FACE, aim=(2.6, 4.0, 1.4)),))
    assert [f.path for f in setup_sense(late, read=readings(late, quality="draft"))] == [("key",)]


def test_the_sun_as_key_comes_by_the_window():
    # DERIVED: the face is 2.3 m from the window, 1.4 m up; at 10 degrees the ray leaves the wall 1.4 + 2.3 tan 10 = 1.8 m up,
    # inside 0.9 to 2.1 m; at 20 degrees it would be 2.24 m.
    low = Sun(bearing_deg=180.0, elevation_deg=10.0, normal_lx=30_000.0)
    one = setup(key=("sun",), sun=low, kept_out=("sky",))
    assert said(one) == []
    found = said(replace(one, sun=replace(low, elevation_deg=20.0)))
    assert len(found) == 1 and "no straight way leads in by a window" in found[0]


# --- light at all, and the hour --------------------------------------------------------------------------------


def test_haze_that_nothing_lights():
    dark = setup(lights=(), haze=Haze(extinction_per_m=0.05))
    assert only(dark) == (("haze",), "setup '1', haze: nothing lights it; put up a lamp, or let the day in")
    assert said(replace(dark, sky=SKY, kept_out=("sun",))) == []
    assert said(replace(dark, haze=Haze())) == []


PLACE = dict(latitude_deg=54.1, longitude_deg=8.6, time_zone="Europe/Berlin", dates=(dt.date(2028, 8, 20),))


def shoot(one, **more):
    return Shoot(title="Tide", setups=(one,), **more)


def hours(made):
    (one,) = made.setups
    return [(found.path, found.sentence) for found in sense(made, one)]


def test_a_time_without_a_place_or_dates():
    timed = setup(time="14:00", kept_out=())
    ((path, sentence),) = hours(shoot(timed))
    assert path == ("time",) and "it has a time, but the shoot no place: no daylight is counted" in sentence
    somewhere = {key: value for key, value in PLACE.items() if key != "dates"}
    assert "but the shoot no dates" in hours(shoot(timed, **somewhere))[0][1]
    assert hours(shoot(timed, **PLACE)) == []
    assert hours(shoot(replace(timed, kept_out=("sun", "sky")))) == []
    assert hours(shoot(replace(timed, place=replace(KITCHEN, windows=())))) == []


def test_windows_without_a_time():
    still = setup(kept_out=())
    ((path, sentence),) = hours(shoot(still, **PLACE))
    assert path == ("place",) and 'daylight through its windows is not counted; give time, or sun = "none"' in sentence
    for mended in (
        replace(still, time="14:00"), replace(still, kept_out=("sun",)), replace(still, sky=SKY),
        replace(still, place=replace(KITCHEN, windows=())),
    ):  # fmt: skip
        assert hours(shoot(mended, **PLACE)) == []
    assert hours(shoot(still)) == []  # a set anywhere, at any time: nobody asked for daylight


def test_open_ground_without_a_sky():
    yard = setup(place=YARD, kept_out=())
    ((path, sentence),) = hours(shoot(yard))
    assert path == ("place",) and "yard is open ground without any sky" in sentence
    for mended in (replace(yard, sky=SKY), replace(yard, kept_out=("sky",))):
        assert hours(shoot(mended)) == []
    assert hours(shoot(replace(yard, time="14:00"), **PLACE)) == []


def typed(hour=14, **more):
    """A setup under a typed sun, that of the almanac but for what is changed, and the shoot it is in."""
    made = shoot(setup(time=f"{hour}:00", kept_out=("sky",)), **PLACE)
    when = dt.datetime(2028, 8, 20, hour, tzinfo=asked.zone("Europe/Berlin"))
    sun = replace(sun_and_sky(made.where, when)[0], model="", **more)
    return shoot(replace(made.setups[0], sun=sun), **PLACE)


def test_a_typed_sun_against_the_almanac():
    # INDEPENDENT for the almanac itself: tests/sky/test_positions.py holds it against pvlib.
    right = typed().setups[0].sun
    assert hours(typed()) == []
    for near_ in (
        dict(elevation_deg=right.elevation_deg + 2.9), dict(bearing_deg=right.bearing_deg - 2.9),
        dict(bearing_deg=right.bearing_deg - 360.0), dict(normal_lx=right.normal_lx * 0.55),
    ):  # fmt: skip
        assert hours(typed(**near_)) == []
    for off in (
        dict(elevation_deg=right.elevation_deg - 3.1), dict(bearing_deg=right.bearing_deg + 3.1), dict(normal_lx=0.0),
        dict(normal_lx=right.normal_lx * 0.45),
    ):  # fmt: skip
        ((path, sentence),) = hours(typed(**off))
        assert path == ("sun",)
    # Both are said.
    assert f"it is typed {right.elevation_deg:.0f} degrees up at {right.bearing_deg:.0f}, " in sentence
    assert (
        f"at 14:00 on 2028-08-20 the almanac has it {right.elevation_deg:.0f} degrees up at {right.bearing_deg:.0f}, " in sentence
    )
    assert hours(shoot(typed(normal_lx=0.0).setups[0])) == []  # no place, no almanac


def test_a_typed_moon_against_the_almanac():
    # New moon on the day: after dusk it is down. Five days on it stands in the evening sky.
    moon = Sun(bearing_deg=200.0, elevation_deg=30.0, normal_lx=0.1, body="moon")
    assert (
        "the almanac has it not over the horizon" in hours(shoot(setup(time="23:00", kept_out=("sky",), sun=moon), **PLACE))[0][1]
    )
    later = PLACE | {"dates": (dt.date(2028, 8, 29),)}
    where = shoot(setup(), **later).where
    up = moon_and_sky(where, dt.datetime(2028, 8, 29, 21, 30, tzinfo=asked.zone("Europe/Berlin")))[0]
    right = setup(time="21:30", kept_out=("sky",), sun=replace(up, model=""))
    assert hours(shoot(right, **later)) == []


# --- the demo and the starter -----------------------------------------------------------------------------------


def test_the_demo_and_the_starter_mean_what_they_say():
    for made in (load(demo_path()), loads(new_text("Low Tide"))):
        assert [found.sentence for one in made.setups for found in sense(made, one)] == []


def test_it_is_quick():
    # No engine, and less than a frame of the stage's time a setup.
    import time

    made = load(demo_path())
    start = time.process_time()
    for one in made.setups:
        sense(made, one)
    assert time.process_time() - start < 1.0


def test_lines_through_panes_and_sheets():
    # DERIVED: from (0, -1, 1) to (0, 1, 1) the line meets y = 0 at x = 0; a pane from x = 1 on is missed.
    pane = np.array([(1.0, 0, 0), (2.0, 0, 0), (2.0, 0, 2.0), (1.0, 0, 2.0)])
    starts = np.array([(0.0, -1.0, 1.0), (3.0, -1.0, 1.0), (1.5, -1.0, 5.0)])
    assert asked._through(pane, starts, (0.0, 1.0, 1.0)).tolist() == [False, True, False]
    flag = Flag(name="f", at=(0.0, 0.0, 1.0), aim=(0.0, 1.0, 1.0), width_m=1.0, height_m=0.5)
    assert asked._crosses(flag, starts, (0.0, 1.0, 1.0)).tolist() == [True, False, False]


# --- people ---------------------------------------------------------------------------------------------------


def two_people(between, **more):
    """A lamp at head height, someone at one metre from it and someone at three, the first so far off the line."""
    far = Mark(name="far", at=(4.4, 2.0, 1.5), aim=(1.4, 2.0, 1.5), figure=True)
    near = Mark(name="near", at=(2.6, 2.0 + between, 1.5), aim=(0.4, 2.0, 1.5), figure=True)
    return setup(lights=(lamp(at=(1.4, 2.0, 1.5), aim=(4.4, 2.0, 1.5)),), marks=(near, far), **more)


def test_someone_in_a_lamp_s_way_to_someone_else_is_said():
    # DERIVED: on the line, or 5 cm off it, a body is in the way; half a metre off it is not, nor with the lamp over the head:
    # from 2.55 m down to 1.5 m the line passes the nearer head at 2.1 m, half a metre over it.
    made = two_people(0.05)
    path, sentence = only(made, readings(made))
    assert path == ("marks", 0, "at") and "mark 'near': it stands in the way of lamp to mark 'far', where " in sentence
    assert "% of the light would be that; the reading is in its shadow" in sentence
    for free in (
        two_people(0.5),
        two_people(0.05).with_part("lamp", at=(1.4, 2.0, 2.55)),
        two_people(0.05).with_part("near", figure=False),
    ):
        assert said(free, readings(free)) == []
    strong = lamp(name="other", at=(3.0, 0.3, 2.0), aim=(4.4, 2.0, 1.5), distribution=Beam(peak_cd=2e6, beam_deg=40, field_deg=60))
    lit = replace(made, lights=(*made.lights, strong))
    assert not any("in the way" in one for one in said(lit, readings(lit)))  # a hundredth of what it has from there
    assert said(made) == []  # without readings nobody knows whether that lamp matters there


@pytest.mark.parametrize(
    ("what", "problem"),
    [
        (dict(at=(2.0, 0.1, 0.0), aim=(2.0, 2.0, 0.0), what="table"), "it reaches 30 cm into the near wall"),
        (dict(at=(2.0, 2.5, -0.2), aim=(2.0, 4.0, 0.0), what="box"), "it reaches 20 cm into the floor"),
        (dict(at=(0.2, 2.0, 0.0), aim=(-1.0, 2.0, 0.0), what="door"), "it reaches 65 cm into the left wall"),
        (dict(at=(1.4, 2.0, 0.0), aim=(1.4, 3.0, 0.0), what="box", height_m=2.0), "light 'lamp' is inside it"),
    ],
)
def test_furniture_where_it_cannot_stand_is_said(what, problem):
    # DERIVED: by hand, from the usual sizes: half a table's depth is 0.4 m, a door leaf 0.85 m.
    found = said(setup(lights=(lamp(at=(1.4, 2.0, 1.5), aim=(4.4, 2.0, 1.5)),), pieces=(Piece(name="it", **what),)))
    assert any(f"piece 'it': {problem}" in str(one) for one in found)


def test_someone_half_in_a_wall_is_said():
    # DERIVED: half of .259 x 1.7 m across the shoulders is 22 cm; the face is 5 cm from the wall.
    someone = Mark(name="guard", at=(0.05, 2.0, 1.5), aim=(0.05, 4.0, 1.5), figure=True)
    assert any("mark 'guard': it reaches 17 cm into the left wall" in str(one) for one in said(setup(marks=(someone,))))


@pytest.mark.parametrize(("aim", "wrong"), [((2.0, 3.0, 0.3), True), ((2.0, 2.1, 2.0), False)])
def test_someone_who_lies_and_looks_along_themselves_is_said(aim, wrong):
    # DERIVED: the feet lie the way the face would look: there is the trunk, half of .26 m thick over and under it.
    someone = Mark(name="guard", at=(2.0, 1.0, 0.3), aim=aim, figure=True, pose="lying")
    assert any("mark 'guard': its face is inside its own body" in str(one) for one in said(setup(marks=(someone,)))) == wrong


@pytest.mark.parametrize(
    ("where", "aim", "problem"),
    [
        ((2.6, 2.3, KITCHEN.height_m - 0.3), (2.6, 0.0, KITCHEN.height_m - 0.3), "it reaches 30 cm into the ceiling"),
        ((2.6, 2.3, 0.2), (2.6, 0.0, 0.2), "it reaches 40 cm into the floor"),
        ((0.1, 2.3, 1.2), (0.1, 0.0, 1.2), "it reaches 50 cm into the left wall"),
        ((2.6, 2.3, 1.2), (2.6, 0.0, 1.2), ""), ((2.6, 2.3, 0.0), (2.6, 2.3, 2.0), ""),  # in the open; lying on the floor
    ],
)  # fmt: skip
def test_what_sends_light_and_pokes_through_a_surface_is_said(where, aim, problem):
    # DERIVED: by hand, a square of 1.2 m upright about its middle.
    side = dict(width_m=1.2, height_m=1.2)
    frame = Frame(name="it", at=where, aim=aim, diffusion=materials.diffusion("half"), **side)
    panel = lamp(name="it", at=where, aim=aim, face_width_m=1.2, face_height_m=1.2, distribution=Lambert(peak_cd=900.0))
    for made in (setup(boards=(board(name="it", at=where, aim=aim, **side),)), setup(frames=(frame,)), setup(lights=(panel,))):
        found = [one for one in said(made) if "it reaches" in one]
        assert len(found) == bool(problem) and all(f"'it': {problem}, and counts" in one for one in found)
