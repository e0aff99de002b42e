"""The colour at a mark: by hand from what each source gives, and by what lights a board."""

import dataclasses
import json

import numpy as np
import pytest

from lightcalc.answers import colour_mix, readings
from lightcalc.engine.solve import light as lit_of
from lightcalc.kit import materials
from lightcalc.kit.materials import Stuff
from lightcalc.laws.colour import mix_cct_duv
from lightcalc.scene.parts import SURFACES, Board, Frame, Mark, Sky

from light_parts import CAMERA, lamp, loft, setup

GREY = loft(**dict.fromkeys(SURFACES, 0.5))
FACE = Mark(name="face", at=(3.9, 3.2, 1.3), aim=(2.4, 0.9, 1.6))
WARM = lamp("warm", (1.9, 1.6, 2.6), 2500.0, kelvin=3200.0)
COOL = lamp("cool", (5.3, 0.8, 1.9), 1400.0, kelvin=5600.0)
PLAIN = lamp("plain", (2.9, 0.9, 1.9), 900.0)


def read(**parts):
    return readings.readings(setup(**parts), quality="draft").marks[0]


def test_two_lamps_by_hand():
    # DERIVED: in a black room nothing bounces, so the mix is that of the two readings, added as tristimulus values.
    mark = read(lights=(WARM, COOL), marks=(FACE,))
    wanted = mix_cct_duv(illuminance_lx=[mark.by_source["warm"], mark.by_source["cool"]], kelvin=[3200.0, 5600.0])
    assert (mark.mix_kelvin, mark.mix_duv) == (pytest.approx(wanted[0], rel=1e-9), pytest.approx(wanted[1], rel=1e-6))
    assert 3200 < mark.mix_kelvin < 5600 and mark.mix_duv < -0.001 and mark.mixed and mark.mix_without == ()


def test_one_colour_stays_itself_however_it_bounces():
    # DERIVED: grey surfaces change no colour.
    mark = read(place=GREY, lights=(WARM, dataclasses.replace(COOL, kelvin=3200.0)), marks=(FACE,))
    assert mark.by_source["room"] > 0.1 * mark.illuminance_lx
    assert (mark.mix_kelvin, mark.mix_duv, mark.mixed) == (3200.0, 0.0, False)


def test_a_dimmed_tungsten_lamp_warms_the_mark_and_a_scrim_does_not():
    # DERIVED: 27 mired a stop (laws.colour.dimmed_kelvin): 3200 K two stops down is 2729 K, and a quarter of the light; a scrim
    # takes the light and leaves the colour. Lamps of no stated kind keep theirs.
    two_down = dataclasses.replace(WARM, dim=0.25, source="tungsten")
    full, dimmed = read(lights=(WARM,), marks=(FACE,)), read(lights=(two_down,), marks=(FACE,))
    scrimmed = read(lights=(dataclasses.replace(WARM, scrim_stops=2.0, source="tungsten"),), marks=(FACE,))
    assert dimmed.mix_kelvin == pytest.approx(2729, abs=1) and scrimmed.mix_kelvin == full.mix_kelvin == 3200.0
    assert dimmed.illuminance_lx == pytest.approx(full.illuminance_lx / 4) == pytest.approx(scrimmed.illuminance_lx)
    assert read(lights=(dataclasses.replace(WARM, dim=0.25, source="led"),), marks=(FACE,)).mix_kelvin == 3200.0
    # DERIVED: a gel adds its own shift to what the dimmer left.
    gel = materials.gel("half warm")
    mired = 1e6 / colour_mix.light_kelvin(dataclasses.replace(two_down, gel=gel))
    assert mired == pytest.approx(1e6 / dimmed.mix_kelvin + gel.mired_shift)


def test_the_room_sends_back_the_mix_of_the_straight_light():
    # DERIVED: so the mix at the mark is that of the straight light alone.
    mark = read(place=GREY, lights=(WARM, COOL), marks=(FACE,))
    wanted = mix_cct_duv(illuminance_lx=[mark.by_source["warm"], mark.by_source["cool"]], kelvin=[3200.0, 5600.0])
    assert mark.by_source["room"] > 0.1 * mark.illuminance_lx and mark.mix_kelvin == pytest.approx(wanted[0], rel=1e-9)


def test_a_board_has_the_colour_of_what_lights_it():
    # DERIVED: the board stands with its back to the cool lamp, so what it gives is warm, though the mark sees both lamps.
    board = Board(
        name="board",
        at=(5.2, 2.8, 1.5),
        aim=(2.4, 2.6, 1.5),
        width_m=1.6,
        height_m=1.6,
        stuff=Stuff(name="white", reflectance=0.85),
    )
    cool = dataclasses.replace(COOL, at=(5.6, 0.6, 1.9))
    both = setup(lights=(WARM, cool), boards=(board,), marks=(dataclasses.replace(FACE, receptor="dome"),))
    lit = lit_of(both, "draft")
    mark = readings.readings(both, lit=lit).marks[0]
    by = mark.by_source
    assert min(by["board"], by["cool"]) > 0.02 * mark.illuminance_lx and by["room"] == 0.0
    wanted = mix_cct_duv(illuminance_lx=[by["warm"] + by["board"], by["cool"]], kelvin=[3200.0, 5600.0])
    assert (mark.mix_kelvin, mark.mix_duv) == (pytest.approx(wanted[0], rel=1e-6), pytest.approx(wanted[1], rel=1e-4))
    lighting = colour_mix._lighting(lit, board, FACE, colour_mix.given_kelvin(both))
    assert lighting["warm"] > 50.0 and lighting["cool"] == 0.0
    # DERIVED: at its middle the warm lamp gives I cos / d^2.
    to = np.subtract(WARM.at, board.at)
    normal = np.subtract(board.aim, board.at) / np.linalg.norm(np.subtract(board.aim, board.at))
    assert lighting["warm"] == pytest.approx(2500.0 * (to @ normal) / np.linalg.norm(to) ** 3, rel=5e-3)


def test_a_frame_has_the_colour_of_the_light_behind_it():
    frame = Frame(
        name="frame", at=(2.9, 2.4, 1.6), aim=(3.9, 3.2, 1.4), width_m=1.2, height_m=1.2, diffusion=materials.diffusion("full")
    )
    behind = dataclasses.replace(WARM, at=(2.1, 1.76, 1.76), kelvin=2700.0)
    mark = read(lights=(behind, dataclasses.replace(COOL, at=(3.4, 4.4, 2.0), dim=0.2)), frames=(frame,),
                marks=(dataclasses.replace(FACE, receptor="dome"),))  # fmt: skip
    by = mark.by_source
    assert by["frame"] > 0.3 * mark.illuminance_lx and by["cool"] > 0.1 * mark.illuminance_lx
    wanted = mix_cct_duv(illuminance_lx=[by["frame"] + by["warm"], by["cool"]], kelvin=[2700.0, 5600.0])[0]
    # what the cool lamp puts on the frame's near face goes into the mix with it, here a few hundredths of the frame's
    assert mark.mix_kelvin == pytest.approx(wanted, rel=0.02)
    without_back = mix_cct_duv(illuminance_lx=[by["warm"], by["frame"] + by["cool"]], kelvin=[2700.0, 5600.0])[0]
    assert abs(mark.mix_kelvin - without_back) > 0.2 * wanted


def test_only_bounced_light_of_two_colours_is_said_to_be_unknown():
    # Facing the wall, away from both lamps: nothing straight to weigh them by.
    away = Mark(name="away", at=(3.9, 4.5, 1.3), aim=(3.9, 4.69, 1.3))
    mark = read(place=GREY, lights=(WARM, COOL), marks=(away,))
    assert mark.illuminance_lx == pytest.approx(mark.by_source["room"]) and mark.illuminance_lx > 1.0
    assert np.isnan(mark.mix_kelvin) and mark.mix_without == ("what bounced",)
    one = read(place=GREY, lights=(WARM,), marks=(away,))
    assert one.mix_kelvin == 3200.0


def test_a_gel_moves_its_lamp():
    # DERIVED: 134 mired more than 5600 K is 3199 K; COMMON PRACTICE: that is the full warming gel.
    gelled = dataclasses.replace(COOL, gel=materials.gel("full warm"))
    assert read(lights=(gelled,), marks=(FACE,)).mix_kelvin == pytest.approx(1e6 / (1e6 / 5600 + 134), rel=1e-9)


def test_what_is_missing_is_named_and_what_is_next_to_nothing_is_not():
    mark = read(lights=(WARM, PLAIN), marks=(FACE,))
    assert np.isnan(mark.mix_kelvin) and np.isnan(mark.mix_duv) and mark.mix_without == ("plain",)
    assert mark.mix.words() == "no colour: plain has no kelvin"
    faint = read(lights=(WARM, dataclasses.replace(PLAIN, dim=0.002)), marks=(FACE,))
    assert faint.mix_kelvin == pytest.approx(3200.0, rel=1e-6) and faint.mix_without == ()
    # DERIVED: what may be left out, a hundredth of 10 000 K sky in 3200 K, is 2 mired, under the 5 that an eye tells apart.
    tinted = mix_cct_duv(illuminance_lx=[99.0, 1.0], kelvin=[3200.0, 10_000.0])[0]
    assert 1e6 / 3200 - 1e6 / tinted < 3.0
    for lx, left_out in ((0.9, True), (1.1, False)):
        mix = colour_mix.mix_of({"warm": 100.0 - lx, "sky": lx}, {"warm": 3200.0, "sky": 10_000.0})
        assert (mix.kelvin == pytest.approx(3200.0, rel=1e-6)) == left_out


def test_no_light_has_no_colour():
    dark = colour_mix.mix_of({"warm": 0.0}, {"warm": 3200.0})
    assert np.isnan(dark.kelvin) and dark.words() == "no light, no colour" and colour_mix.mix_of({}, {}).without == ()
    with pytest.raises(ValueError, match="shares must be >= 0, got -1"):
        colour_mix.mix_of({"warm": -1.0}, {"warm": 3200.0})


def test_lines_and_json_say_it():
    balanced = dataclasses.replace(CAMERA, balance_kelvin=5600.0)
    both = readings.readings(setup(camera=balanced, lights=(WARM, COOL), marks=(FACE,)), quality="draft")
    mark = both.marks[0]
    said = next(line for line in both.lines() if "colour:" in line)
    off = 1e6 / mark.mix_kelvin - 1e6 / 5600
    assert (
        f"{round(mark.mix_kelvin, -1):.0f} K, Duv {mark.mix_duv:+.3f}, {off:.0f} mired warmer than the balance".replace("-", "−")
        in said
    )
    data = json.loads(json.dumps(both.as_json(), allow_nan=False))
    assert data["balance_kelvin"] == 5600.0 and data["marks"][0]["mix_kelvin"] == pytest.approx(mark.mix_kelvin)
    assert data["marks"][0]["mix_duv"] == pytest.approx(mark.mix_duv) and data["marks"][0]["mix_without"] == []
    # One colour and no balance: nothing to say. Unknown colours: said in JSON as null.
    assert not [
        line for line in readings.readings(setup(lights=(WARM,), marks=(FACE,)), quality="draft").lines() if "colour" in line
    ]
    unknown = readings.readings(setup(lights=(PLAIN, WARM), marks=(FACE,)), quality="draft")
    assert unknown.as_json()["marks"][0]["mix_kelvin"] is None and unknown.as_json()["balance_kelvin"] is None
    assert "    colour: no colour: plain has no kelvin" in unknown.lines()


def test_words():
    assert colour_mix.Mix(5605.0, 0.0).words(5600.0) == "5600 K, the camera's balance"
    assert colour_mix.Mix(7000.0, 0.0021).words(5600.0) == "7000 K, Duv +0.002, 36 mired cooler than the balance"
    assert colour_mix.Mix(np.nan, 0.06).words() == "no colour temperature: too far from white"
    assert colour_mix.Mix(np.nan, np.nan, ("a", "b")).words() == "no colour: a, b have no kelvin"


def test_sun_and_sky_count():
    sky = Sky(zenith_cd_m2=900.0, horizon_cd_m2=900.0, kelvin=9000.0)
    assert colour_mix.given_kelvin(setup(lights=(WARM,), sky=sky)) == {"warm": 3200.0, "sky": 9000.0}
