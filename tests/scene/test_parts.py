"""The set as data: what it refuses, and the geometry that everything else stands on."""

from dataclasses import FrozenInstanceError, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightcalc.engine.direct import prepare, straight
from lightcalc.kit import materials
from lightcalc.kit.candela import Beam, Lambert
from lightcalc.scene.fields import show
from lightcalc.scene.parts import (
    MOST,
    Board,
    Camera,
    Exterior,
    Flag,
    Haze,
    Light,
    Mark,
    Room,
    SceneError,
    Setup,
    Sky,
    Spot,
    Sun,
    Target,
    Window,
    basis,
    from_kit,
    rectangle_corners,
)  # fmt: skip
from lightcalc.scene.shoot import Shoot

from light_parts import bulb
from light_parts import setup as one_setup

ROOM = Room(name="loft", width_m=6.3, depth_m=8.7, height_m=3.1)
CAMERA = Camera(at=(1.1, 1.3, 1.5), aim=(3.2, 4.1, 1.2))
FACE = Mark(name="face", at=(3.2, 4.1, 1.2), aim=(1.1, 1.3, 1.5))
KEY = Light(name="key", at=(5.1, 6.2, 2.4), aim=(3.2, 4.1, 1.2), distribution=Beam(peak_cd=9_000, beam_deg=24, field_deg=37))
SETUP = Setup(name="1", title="Window", place=ROOM, camera=CAMERA, lights=(KEY,), marks=(FACE,))

coordinate = st.floats(-50, 50)
point = st.tuples(coordinate, coordinate, coordinate)


@pytest.fixture
def white():
    return materials.stuff("white")


# --- directions --------------------------------------------------------------------------------------------


@given(point, point, st.floats(-360, 360))
def test_basis_is_right_handed_and_unit(at, aim, roll_deg):
    # DERIVED: right, forward, up lie like x, y, z, so right x forward = up.
    if np.linalg.norm(np.subtract(aim, at)) < 1e-3:
        return
    right, up, forward = basis(at, aim, roll_deg)
    frame = np.stack([right, up, forward])
    assert frame @ frame.T == pytest.approx(np.eye(3), abs=1e-9)
    assert np.cross(right, forward) == pytest.approx(up, abs=1e-9)
    assert forward == pytest.approx(np.subtract(aim, at) / np.linalg.norm(np.subtract(aim, at)), abs=1e-9)


@pytest.mark.parametrize(
    "aim, right, up",  # DERIVED: standing at the origin, facing there, upright
    [
        ((0, 2.3, 0), (1, 0, 0), (0, 0, 1)),  # facing north, right is east
        ((2.3, 0, 0), (0, -1, 0), (0, 0, 1)),  # facing east, right is south
        ((0, -2.3, 0), (-1, 0, 0), (0, 0, 1)),
        ((0, 2.3, 2.3), (1, 0, 0), (0, -np.sqrt(0.5), np.sqrt(0.5))),  # tilted up, the top leans back
        ((0, 0, 2.3), (1, 0, 0), (0, -1, 0)),  # straight up: right stays +x
        ((0, 0, -2.3), (1, 0, 0), (0, 1, 0)),
    ],
)
def test_basis_as_a_person_stands(aim, right, up):
    got_right, got_up, _ = basis((0, 0, 0), aim)
    assert got_right == pytest.approx(right, abs=1e-12)
    assert got_up == pytest.approx(up, abs=1e-12)


def test_roll_turns_clockwise_from_behind():
    # DERIVED: looking along +y, right is +x and up +z; a clock hand at 12 turned 90 degrees points at 3.
    right, up, _ = basis((0, 0, 0), (0, 1, 0), roll_deg=90)
    assert up == pytest.approx((1, 0, 0), abs=1e-12)
    assert right == pytest.approx((0, 0, -1), abs=1e-12)


@given(point, point, st.floats(0.1, 9.0), st.floats(0.1, 9.0), st.floats(-180, 180))
def test_rectangle_corners_face_the_aim(at, aim, width_m, height_m, roll_deg):
    # DERIVED: anticlockwise corners have their right-hand normal towards the viewer; area is width x height.
    way = np.subtract(aim, at)
    if np.linalg.norm(way) < 1e-2:
        return
    corners = rectangle_corners(at, aim, width_m, height_m, roll_deg)
    normal = np.cross(corners[1] - corners[0], corners[2] - corners[1])
    assert normal == pytest.approx(width_m * height_m * way / np.linalg.norm(way), abs=1e-6)
    assert corners.mean(axis=0) == pytest.approx(at, abs=1e-9)


def test_rectangle_corners_one_case_by_hand():
    # DERIVED: a 2.4 x 1.2 m board at the origin facing -y; the aim point sees +x on its right.
    corners = rectangle_corners((0, 0, 1), (0, -3, 1), 2.4, 1.2)
    assert corners == pytest.approx(np.array([[-1.2, 0, 0.4], [1.2, 0, 0.4], [1.2, 0, 1.6], [-1.2, 0, 1.6]]), abs=1e-12)


@pytest.mark.parametrize(
    "sun, place_bearing_deg, wanted",  # DERIVED: bearings run clockwise from north; +y lies at the place's bearing
    [
        (Sun(bearing_deg=0, elevation_deg=0, normal_lx=1), 0, (0, 1, 0)),  # north sun, +y north
        (Sun(bearing_deg=90, elevation_deg=0, normal_lx=1), 0, (1, 0, 0)),  # east sun comes from the right
        (Sun(bearing_deg=90, elevation_deg=0, normal_lx=1), 90, (0, 1, 0)),  # +y looks east, straight at it
        (Sun(bearing_deg=90, elevation_deg=0, normal_lx=1), 180, (-1, 0, 0)),  # +y looks south, east is on the left
        (Sun(bearing_deg=180, elevation_deg=30, normal_lx=1), 180, (0, np.sqrt(0.75), 0.5)),
    ],
)
def test_sun_direction(sun, place_bearing_deg, wanted):
    assert sun.direction(place_bearing_deg) == pytest.approx(wanted, abs=1e-12)


def test_overcast_sky_on_open_ground():
    # PUBLISHED: CIE standard overcast sky (ISO 15469:2004, sky 1): horizon a third of the zenith, and
    # horizontal illuminance 7 pi / 9 of the zenith luminance.
    assert Sky(zenith_cd_m2=2_300, horizon_cd_m2=2_300 / 3).horizontal_lx == pytest.approx(7 * np.pi / 9 * 2_300)


@given(st.floats(0, 1e5), st.floats(0, 1e5))
def test_sky_illuminance_is_the_hemisphere_summed(zenith, horizon):
    # INDEPENDENT: rings of sky by altitude, L cos(zenith angle) summed over solid angle; still assumes the sky's law.
    altitude = (np.arange(4_000) + 0.5) * np.pi / 8_000
    luminance = horizon + (zenith - horizon) * np.sin(altitude)
    ring_lx = luminance * np.sin(altitude) * 2 * np.pi * np.cos(altitude) * np.pi / 8_000
    assert Sky(zenith_cd_m2=zenith, horizon_cd_m2=horizon).horizontal_lx == pytest.approx(ring_lx.sum(), rel=1e-6, abs=1e-6)


def test_camera_reference_is_the_meter_equation():
    # PUBLISHED: ISO 2720:1974, E = C N^2 / (t S) with C = 250 lx s; T2.8 (sqrt 8), ISO 800, 24 fps, 180 degrees:
    # 250 x 8 x 48 / 800 = 120 lx.
    camera = replace(CAMERA, t_stop=np.sqrt(8), iso=800, fps=24, shutter_deg=180)
    assert camera.time_s == pytest.approx(1 / 48)
    assert camera.reference_lx == pytest.approx(120.0)
    assert replace(camera, nd_stops=3).reference_lx == pytest.approx(960.0)
    assert camera.reference_cd_m2 == pytest.approx(0.18 * 120 / np.pi)


# --- what cannot be ----------------------------------------------------------------------------------------

WINDOW = Window(name="east", wall="right", centre_m=4.1, sill_m=0.9, width_m=1.3, height_m=1.2)


@pytest.mark.parametrize(
    "make, sentence",
    [
        (lambda: Light(name="key", at=(1, 2, 3), aim=(1, 2, 3), distribution=KEY.distribution),
         "light 'key': aim must differ from at, got [1, 2, 3] for both"),
        (lambda: Light(name="key", at=(1, 2), aim=(1, 2, 3), distribution=KEY.distribution),
         "light 'key': at must be three metres [x, y, z], got 2 numbers"),
        (lambda: Light(name="key", at=(1, 2, "high"), aim=(1, 2, 3), distribution=KEY.distribution),
         "light 'key': at must be three metres [x, y, z], got [1, 2, 'high']"),
        (lambda: Light(name="key", at=(1, 2, float("nan")), aim=(1, 2, 3), distribution=KEY.distribution),
         "light 'key': at must be a finite number, got nan"),
        (lambda: Light(name="key", at=(1, 2, 2_001), aim=(1, 2, 3), distribution=KEY.distribution),
         "light 'key': at must be >= -2000 and <= 2000 m, got 2001"),
        (lambda: replace(KEY, dim=1.2), "light 'key': dim must be >= 0 and <= 1, got 1.2: share of full output, 1 is full"),
        (lambda: replace(KEY, face_width_m=0.6),
         "light 'key': face_width_m and face_height_m must both be 0 (a point) or both be > 0"),
        (lambda: Window(name="east", wall="east", centre_m=1, sill_m=1, width_m=1, height_m=1),
         "window 'east': wall must be one of left, right, near, far, got 'east'"),
        (lambda: replace(WINDOW, bars_upright=1.5), "window 'east': bars_upright must be a whole number >= 0 and <= 24, got 1.5"),
        (lambda: replace(WINDOW, bars_upright=13, bar_m=0.1),
         "window 'east': bars_upright x bar_m must leave an opening in 1.3 m, got 13 x 0.1 m"),
        (lambda: replace(ROOM, windows=(replace(WINDOW, centre_m=8.2),)),
         "room 'loft', window 'east': centre_m and width_m must keep it on the right wall (0 to 8.7 m), got 7.55 to 8.85 m"),
        (lambda: replace(ROOM, windows=(replace(WINDOW, wall="far", centre_m=0.6),)),
         "room 'loft', window 'east': centre_m and width_m must keep it on the far wall (0 to 6.3 m), got -0.05 to 1.25 m"),
        (lambda: replace(ROOM, windows=(replace(WINDOW, sill_m=2.0),)),
         "room 'loft', window 'east': sill_m + height_m must be <= 3.1 m (the ceiling), got 3.2 m"),
        (lambda: replace(ROOM, windows=(WINDOW, WINDOW)), "room 'loft': window names must differ, got 'east' twice"),
        (lambda: replace(ROOM, far=1.0), "room 'loft': far must be >= 0 and <= 0.98, got 1: reflectance, 0 black to 0.98 white"),
        (lambda: replace(ROOM, width_m=-2), "room 'loft': width_m must be > 0.1 and <= 500 m, got -2: inside the walls"),
        (lambda: Exterior(name="dyke", width_m=0.2, depth_m=30), "exterior 'dyke': width_m must be > 0.5 and <= 1000 m, got 0.2: ground on the plan"),
        (lambda: replace(CAMERA, shutter_deg=361), "camera: shutter_deg must be > 0 and <= 360 degrees, got 361: 180 is half the frame time"),
        (lambda: replace(CAMERA, fps=1e-9), "camera: fps must be > 0.0001 and <= 100000 frames/s, got 1e-09"),
        (lambda: Flag(name="cutter", at=(1, 1, 1), aim=(2, 1, 1), width_m=1, height_m=1, roll_deg=np.inf), "flag 'cutter': roll_deg must be a finite number, got inf"),
        (lambda: replace(CAMERA, t_stop=0), "camera: t_stop must be > 0.4 and <= 128, got 0: a T-stop such as 2.8"),
        (lambda: Haze(extinction_per_m=-0.1), "haze: extinction_per_m must be >= 0 and <= 10 1/m, got -0.1: 0.05 sees about 80 m"),
        (lambda: Haze(extinction_per_m=0.1, g=1), "haze: g must be >= -0.95 and <= 0.95, got 1: 0 scatters evenly, 0.75 mostly forward"),
        (lambda: Sun(bearing_deg=90, elevation_deg=91, normal_lx=1_000), "sun: elevation_deg must be >= -18 and <= 90 degrees, got 91: above the horizon"),
        (lambda: Sky(zenith_cd_m2=-1, horizon_cd_m2=2), "sky: zenith_cd_m2 must be >= 0 and <= 1000000 cd/m2, got -1"),
        (lambda: Mark(name="face", at=(1, 1, 1), aim=(2, 2, 2), receptor="round"), "mark 'face': receptor must be one of flat, dome, got 'round'"),
        (lambda: replace(CAMERA, pixel_um=0), "camera: pixel_um must be > 0.2 and <= 100 micrometres, got 0: from pixel to pixel, such as 6"),
        (lambda: replace(CAMERA, quantum_efficiency=1.4), "camera: quantum_efficiency must be > 0 and <= 1, got 1.4: electrons a photon, colour filters included"),
        (lambda: replace(CAMERA, read_noise_e=-1), "camera: read_noise_e must be >= 0 and <= 1000 electrons, got -1: added by reading a pixel"),
        (lambda: replace(CAMERA, photons_per_lx_s_um2=11), "camera: photons_per_lx_s_um2 must be > 100 and <= 100000, got 11: photons in a lux second on a square micrometre, about 11 000"),
        (lambda: replace(CAMERA, balance_kelvin=32), "camera: balance_kelvin must be 0 (not given) or >= 1000 and <= 100000 K, got 32: a colour temperature such as 3200"),
        (lambda: replace(CAMERA, t_stop=0), "camera: t_stop must be > 0.4 and <= 128, got 0: a T-stop such as 2.8"),
        (lambda: replace(KEY, kelvin=-3200), "light 'key': kelvin must be 0 (not given) or >= 1000 and <= 100000 K, got -3200: a colour temperature such as 3200"),
        (lambda: Sun(bearing_deg=90, elevation_deg=20, normal_lx=9000, kelvin=-1), "sun: kelvin must be 0 (not given) or >= 1000 and <= 100000 K, got -1: a colour temperature such as 3200"),
        (lambda: Sky(zenith_cd_m2=20, horizon_cd_m2=20, kelvin=65), "sky: kelvin must be 0 (not given) or >= 1000 and <= 100000 K, got 65: a colour temperature such as 3200"),
        (lambda: Target(of="face", quantity="ratio", stops=2), "target of 'face': quantity must be one of level, fill_under, beam_over, veil, got 'ratio'"),
        (lambda: Target(of="face", quantity="fill_under", stops=2),
         "target of 'face': stops must be 0 or a minus for fill_under, got 2: fill alone from key + fill, -2 is 4 : 1"),
        (lambda: Target(of="face", quantity="level", stops=2, within=0), "target of 'face': within must be > 0 and <= 10 stops, got 0"),
        (lambda: replace(SETUP, lights=(KEY, KEY)), "setup '1': light names must differ, got 'key' twice"),
        (lambda: replace(SETUP, lights=(replace(KEY, name=" "),)), "light ' ': name must be a text of 1 to 60 characters, got ' '"),
        (lambda: replace(SETUP, lights=tuple(replace(KEY, name=f"{n}") for n in range(MOST + 1))),
         "setup '1': at most 64 lights, got 65"),
        (lambda: replace(SETUP, marks=(replace(FACE, at=(3.2, 4.1, 3.2)),)),
         "setup '1', mark 'face': at must be inside the 6.3 x 8.7 x 3.1 m room, got [3.2, 4.1, 3.2]"),
        (lambda: replace(SETUP, camera=replace(CAMERA, at=(-0.1, 1, 1))),
         "setup '1', camera: at must be inside the 6.3 x 8.7 x 3.1 m room, got [-0.1, 1, 1]"),
        (lambda: replace(SETUP, lights=(replace(KEY, name="sun"),)),  # readings by source would show one of the two
         "setup '1': lights, boards and frames must not be named sun, the moon, sky, room, ground, camera, got 'sun'"),
        (lambda: replace(SETUP, marks=(replace(FACE, name="camera"),)),
         "setup '1': only the camera may be named 'camera', got a mark of that name"),
        (lambda: replace(SETUP, place=Exterior(name="dyke", width_m=40, depth_m=30), marks=(replace(FACE, at=(3, 4, -0.2)),)),
         "setup '1', mark 'face': at must be above the ground, got [3, 4, -0.2]"),
        (lambda: replace(SETUP, key=("sun",)), "setup '1': key must name its sources (key), got 'sun'"),
        (lambda: replace(SETUP, spots=(Spot(name="beam", at=(3, 4, 1), source="window"),)),
         "setup '1', spot 'beam': source must be one of key, got 'window'"),
        (lambda: replace(SETUP, targets=(Target(of="wall", quantity="level", stops=-2),)),
         "setup '1': a target must be of a mark or spot (face), got 'wall'"),
        (lambda: SETUP.with_part("fill", dim=0.5), "setup '1': nothing here is called 'fill'; there are key, face"),
        (lambda: SETUP.part("fill"), "setup '1': nothing here is called 'fill'; there are key, face"),
        (lambda: Shoot(title="Salt", setups=(SETUP, SETUP)), "shoot 'Salt': setup names must differ, got '1' twice"),
        (lambda: Shoot(title="Salt", setups=(SETUP,), units="yards"), "shoot 'Salt': units must be one of metric, feet, got 'yards'"),
        (lambda: replace(SETUP, spots=(Spot(name="air", at=SETUP.camera.at),)),
         f"setup '1', spot 'air': at must differ from the camera's, which looks at it, got {show(SETUP.camera.at)} for both"),
        (lambda: Shoot(title="Salt", setups=(replace(SETUP, cuts_to="9"),)), "setup '1': cuts_to must be one of 1, got '9'"),
        (lambda: Shoot(title="Salt", setups=(replace(SETUP, day=3),), days=2), "setup '1': day must be >= 1 and <= 2, got 3"),
        (lambda: Shoot(title="Salt", setups=(SETUP,)).setup("9"), "no setup '9' in this shoot; it has 1"),
    ],
)  # fmt: skip
def test_what_cannot_be_says_so_in_one_sentence(make, sentence):
    with pytest.raises(SceneError) as caught:
        make()
    assert str(caught.value) == sentence


def test_lights_boards_and_frames_share_one_set_of_names(white):
    board = Board(name="key", at=(1, 1, 1), aim=(2, 2, 2), width_m=1.2, height_m=1.2, stuff=white)
    with pytest.raises(SceneError, match="must not share a name, got 'key' twice"):
        replace(SETUP, boards=(board,))
    assert (
        replace(SETUP, flags=(Flag(name="key", at=(1, 1, 1), aim=(2, 2, 2), width_m=1.2, height_m=1.2),)).part("key") is KEY
    )  # a flag is no source


def test_a_camera_without_direction_is_refused():
    with pytest.raises(SceneError, match="^camera: aim must differ from at"):
        Camera(at=(1, 1, 1), aim=(1, 1, 1))


# --- changing ----------------------------------------------------------------------------------------------


def test_parts_are_frozen():
    with pytest.raises(FrozenInstanceError):
        KEY.dim = 0.5


def test_with_part_changes_one_part_and_nothing_else():
    changed = SETUP.with_part("key", dim=0.4, at=(5.0, 6.0, 2.2))
    assert changed.part("key") == replace(KEY, dim=0.4, at=(5.0, 6.0, 2.2))
    assert changed.with_part("key", dim=KEY.dim, at=KEY.at) == SETUP
    assert SETUP.part("key").dim == 1.0
    assert SETUP.with_part("camera", iso=1600).camera == replace(CAMERA, iso=1600)


def test_with_part_checks_again():
    with pytest.raises(SceneError, match="dim must be >= 0 and <= 1, got 3"):
        SETUP.with_part("key", dim=3)
    with pytest.raises(SceneError, match="mark 'face': at must be inside"):
        SETUP.with_part("face", at=(-3, 4, 1))
    with pytest.raises(SceneError, match="light 'key': no field 'dimm'; did you mean 'dim'."):
        SETUP.with_part("key", dimm=0.3)


def test_a_light_may_stand_outside_its_window():
    assert SETUP.with_part("key", at=(9.1, 4.1, 2.2)).part("key").at == (9.1, 4.1, 2.2)


def test_sources_in_the_order_readings_are_split(white):
    board = Board(name="board", at=(1, 1, 1), aim=(2, 2, 2), width_m=1.2, height_m=1.2, stuff=white)
    setup = replace(
        SETUP,
        boards=(board,),
        sun=Sun(bearing_deg=90, elevation_deg=10, normal_lx=20_000),
        sky=Sky(zenith_cd_m2=900, horizon_cd_m2=1_200),
    )
    assert setup.source_names == ("key", "board", "sun", "sky")
    assert replace(setup, key=("sun", "board")).key == ("sun", "board")


def test_a_soft_face_needs_both_sides():
    assert (
        Light(
            name="soft", at=(1, 1, 2), aim=(2, 2, 1), distribution=Lambert(peak_cd=900), face_width_m=0.6, face_height_m=0.6
        ).face_width_m
        == 0.6
    )


def door_stops(light, side, opened_deg, points):
    """Whether a door, as a person would set it out from behind the lamp, stands between the lamp's middle and each point."""
    right, up, forward = basis(light.at, light.aim, light.roll_deg)
    out, along = {"top": (up, right), "bottom": (-up, right), "left": (-right, up), "right": (right, up)}[side]
    hinge, (sine, cosine) = 0.08, (np.sin(np.radians(opened_deg)), np.cos(np.radians(opened_deg)))
    way = (points - light.at) @ np.stack([forward, out, along], axis=1)  # ahead, towards the door's side, along its hinge
    # the door is the line from (0, hinge) to (length cos, hinge + length sin) in the plane of ahead and out: where the ray meets it
    run = hinge * way[:, 0] / (way[:, 1] * cosine - way[:, 0] * sine)
    share = (run * cosine) / way[:, 0]
    return (run > 0) & (run < light.door_m) & (share > 0) & (share < 1) & (np.abs(share * way[:, 2]) < hinge + light.door_m / 2)


@pytest.mark.parametrize("side", ["top", "bottom", "left", "right"])
@pytest.mark.parametrize(
    "opened_deg, aim, roll_deg", [(0.0, (2.9, 4.3, 1.1), 0.0), (35.0, (4.0, 3.9, 0.2), 23.0), (-25.0, (1.1, 4.4, 2.9), -70.0)]
)
def test_a_barn_door_darkens_what_it_hides(side, opened_deg, aim, roll_deg):
    # DERIVED: a door as it is set out from behind the lamp, crossed ray by ray; the engine's light at 600 places all round is
    # nothing where it is crossed and the lamp's own elsewhere.
    key = Light(name="key", at=(3.1, 2.2, 1.6), aim=aim, roll_deg=roll_deg, distribution=bulb(900.0), door_m=0.27)
    doored = replace(key, **{f"door_{side}_deg": opened_deg})
    ways = np.random.default_rng(5).normal(size=(600, 3))
    points = key.at + 0.9 * ways / np.linalg.norm(ways, axis=1)[:, None]
    rigs = [prepare(one_setup(lights=(light,))) for light in (key, doored)]
    facing, dome, on = (key.at - points) / 0.9, np.zeros(600, bool), np.full(600, -1)
    free, got = (straight(rig.row, points, facing, dome, on)[:, 0] for rig in rigs)
    hidden = door_stops(key, side, opened_deg, points)
    assert 15 < hidden.sum() < 500 and free == pytest.approx(900.0 / 0.9**2)
    assert np.all(got[hidden] == 0.0) and got[~hidden] == pytest.approx(free[~hidden])


@pytest.mark.parametrize("aim, roll_deg", [((2.9, 4.3, 1.1), 0.0), ((1.1, 4.4, 2.9), -70.0)])
def test_a_snoot_lets_out_what_its_mouth_shows(aim, roll_deg):
    # DERIVED: from a point on the axis the mouth, 0.16 m square and 0.25 m ahead, is a square cone; outside it there is nothing,
    # but behind the lamp, which a tube open at that end leaves as it is.
    key = Light(name="key", at=(3.1, 2.2, 1.6), aim=aim, roll_deg=roll_deg, distribution=bulb(900.0))
    ways = np.random.default_rng(6).normal(size=(800, 3))
    points = key.at + 0.9 * ways / np.linalg.norm(ways, axis=1)[:, None]
    rig = prepare(one_setup(lights=(replace(key, snoot_m=0.25),)))
    got = straight(rig.row, points, (key.at - points) / 0.9, np.zeros(800, bool), np.full(800, -1))[:, 0]
    right, up, forward = basis(key.at, aim, roll_deg)
    ahead, aside, above = ((points - key.at) @ axis for axis in (forward, right, up))
    through = (ahead > 0) & (np.maximum(abs(aside), abs(above)) < ahead * 0.08 / 0.25)
    assert 10 < through.sum() < 200
    assert got[through] == pytest.approx(900.0 / 0.9**2) and np.all(got[(ahead > 0) & ~through] == 0.0)


def test_a_focus_goes_from_flood_to_spot_by_equal_ratios():
    # DERIVED: the ends as the kit gives them, half way the geometric mean; brighter and narrower all the way.
    ends = materials.lamp("1 kW tungsten spot")
    key = Light(name="key", at=(3.1, 2.2, 1.6), aim=(2.0, 4.0, 1.0), **from_kit(ends))
    assert key.distribution_now == ends.beam
    spotted = replace(key, focus=1.0).distribution_now
    assert (spotted.peak_cd, spotted.beam_deg, spotted.field_deg) == pytest.approx((95_000, 10, 17), rel=1e-12)
    half = replace(key, focus=0.5).distribution_now
    assert (half.peak_cd, half.beam_deg) == pytest.approx((np.sqrt(11_500 * 95_000), np.sqrt(50 * 10)), rel=1e-12)
    steps = [replace(key, focus=share).distribution_now for share in np.linspace(0, 1, 11)]
    assert all(a.peak_cd < b.peak_cd and a.beam_deg > b.beam_deg and a.lumens() > b.lumens() for a, b in zip(steps, steps[1:]))
    lit = [prepare(one_setup(lights=(replace(key, focus=share),))) for share in (0.0, 1.0)]
    ahead, facing = np.array([[2.0, 4.0, 1.0]]), np.array([np.subtract(key.at, (2.0, 4.0, 1.0))])
    facing /= np.linalg.norm(facing)
    flood, spot = (straight(rig.row, ahead, facing, np.zeros(1, bool), np.full(1, -1))[0, 0] for rig in lit)
    assert spot / flood == pytest.approx(95_000 / 11_500, rel=0.03)  # the lens is 13 cm wide: not all of it is on the axis
    with pytest.raises(SceneError, match="focus must be 0 for a lamp whose kit does not give both ends of its focus, got 0.5"):
        Light(name="key", at=(3.1, 2.2, 1.6), aim=(2.0, 4.0, 1.0), distribution=bulb(900.0), focus=0.5)
    with pytest.raises(SceneError, match="focus needs a flooded beam wider than the spotted one, got 10 degrees spotted in and 8"):
        replace(key, distribution=Beam(peak_cd=9e4, beam_deg=8.0, field_deg=12.0), focus=0.5)


def test_doors_folded_back_are_not_there():
    key = Light(name="key", at=(3.1, 2.2, 1.6), aim=(2.0, 4.0, 1.0), distribution=bulb(900.0))
    assert key.doors == () and one_setup(lights=(key,)).cutters == ()
    assert [door.name for door in replace(key, door_left_deg=10.0).doors] == ["key, left door"]
    with pytest.raises(SceneError, match="door_top_deg must be >= -60 and <= 90"):
        replace(key, door_top_deg=95.0)


def test_open_ground_holds_what_is_over_it():
    # DERIVED: without a margin the ground itself is the edge.
    dyke = Exterior(name="dyke", width_m=40, depth_m=30)
    assert dyke.contains((3.0, 4.0, 0.0)) and not dyke.contains((3.0, 4.0, -0.05)) and dyke.contains((3.0, 4.0, -0.05), 0.1)
