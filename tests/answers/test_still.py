"""Readings off a still: curves as printed, pictures made from luminances that are known, and what may not be believed."""

import json

import numpy as np
import pytest
from PIL import Image

import lightcalc as lc
from lightcalc import __main__ as command
from lightcalc.answers.correction import correct
from lightcalc.answers.still import (
    FLARE,
    Picture,
    StillError,
    bt709_to_linear,
    curve_of,
    read_places,
    read_still,
    srgb_to_linear,
)  # fmt: skip
from lightcalc.scene.meter_log import read_log

SETUP = lc.load(lc.demo_path()).setup("1")  # its spots: beam, far wall
CARD_LX = 180.0
CARD_CD_M2 = 0.18 * CARD_LX / np.pi


def srgb_code(light):
    """PUBLISHED: IEC 61966-2-1, light to code value."""
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055)


def bt709_code(light):
    """PUBLISHED: ITU-R BT.709-6, item 1.2."""
    return np.where(light < 0.018, 4.5 * light, 1.099 * np.maximum(light, 1e-9) ** 0.45 - 0.099)


ENCODE = {"srgb": srgb_code, "bt709": bt709_code, "linear": lambda light: light}


def still(tmp_path, beam_stops, wall_stops, *, curve="srgb", grey=0.18, noise=0.0, flare=0.0, rest=0.05):
    """A picture of three patches on an even ground, card left, beam middle, wall right, as a camera would keep it."""
    light = np.full((120, 200), rest)
    for x, stops in ((40, 0.0), (100, beam_stops), (160, wall_stops)):
        light[50:70, x - 10 : x + 10] = grey * 2.0**stops
    light += flare * light.mean()
    light *= 1.0 + noise * np.random.default_rng(3).normal(size=light.shape)
    codes = np.rint(255 * np.clip(ENCODE[curve](light), 0, 1)).astype(np.uint8)
    path = tmp_path / "still.png"
    Image.fromarray(np.repeat(codes[:, :, None], 3, axis=2)).save(path)
    return path


AT = {"beam": (0.5, 0.5), "far wall": (0.8, 0.5)}


def read(path, **more):
    return read_places(read_still(path), SETUP, card=(0.2, 0.5), at=AT, **({"card_lx": CARD_LX} | more))


def test_curves_as_printed():
    # PUBLISHED: sRGB 0.5 is 0.21404 (IEC 61966-2-1 worked in many tables); BT.709's knee: 0.081 and 0.018 belong together.
    # INDEPENDENT: the curves the other way round, above.
    assert float(srgb_to_linear(0.5)) == pytest.approx(0.21404, abs=5e-6) and float(srgb_to_linear(0.0)) == 0.0
    assert float(bt709_to_linear(0.081)) == pytest.approx(0.018, rel=4e-3)
    light = np.linspace(0.0, 1.0, 301)
    assert srgb_to_linear(srgb_code(light)) == pytest.approx(light, abs=2e-6)
    assert bt709_to_linear(bt709_code(light)) == pytest.approx(light, abs=2e-4)


@pytest.mark.parametrize("curve", ENCODE)
@pytest.mark.parametrize("noise", [0.0, 0.1])
def test_known_luminances_come_back(tmp_path, curve, noise):
    # DERIVED: the patches were made at these stops over the card; the card at rho E / pi.
    found = read(still(tmp_path, 1.5, -2.0, curve=curve, noise=noise), curve=curve)
    for place, truth in zip(found.places, (1.5, -2.0)):
        assert place.over_card_stops == pytest.approx(truth, abs=0.03 if curve != "linear" else 0.08)
        assert place.low < truth < place.high and place.high - place.low < 0.8
        assert place.luminance_cd_m2 == pytest.approx(CARD_CD_M2 * 2.0**place.over_card_stops)
    assert "It cannot know: flare" in found.lines()[-1]


def test_flare_lifts_what_is_dark_and_the_interval_holds_it(tmp_path):
    # DERIVED: 2 % of the mean laid over everything; four stops under the card that is a large part, and the truth lies low.
    path = still(tmp_path, 0.5, -4.0, flare=FLARE, rest=0.18)
    wall = read(path).places[1]
    assert wall.over_card_stops > -3.7 and wall.low < -4.0 < wall.high and wall.flare_share > 0.2
    assert "may be flare" in wall.words()


def test_without_the_card_s_light_it_is_relative(tmp_path):
    found = read(still(tmp_path, 1.0, -1.0), card_lx=np.nan)
    assert found.log() == () and np.isnan(found.places[0].luminance_cd_m2) and "read it, --card-lux" in found.lines()[3]
    assert json.loads(json.dumps(found.as_json()))["places"][0]["luminance_cd_m2"] is None


def test_a_table_of_one_s_own(tmp_path):
    # DERIVED: the sRGB curve as a table of 256 lines is the sRGB curve.
    table = tmp_path / "curve.csv"
    code = np.arange(256) / 255
    table.write_text("# code, light\n" + "\n".join(f"{c:.6f},{light:.8f}" for c, light in zip(code, srgb_to_linear(code))))
    path = still(tmp_path, 1.0, -1.0)
    ours, theirs = read(path, curve=str(table)), read(path)
    assert [p.over_card_stops for p in ours.places] == pytest.approx([p.over_card_stops for p in theirs.places], abs=1e-3)


@pytest.mark.parametrize(
    "change, sentence",
    [
        ({"at": {"bean": (0.5, 0.5)}}, "setup '1' has no spot 'bean'; did you mean 'beam'?"),
        ({"at": {"beam": (0.999, 0.5)}}, "beam: 0.999,0.5 with its patch lies outside the picture of 200 x 120 pixels"),
        ({"at": {"beam": (0.5,)}}, "beam: a place is x,y or x,y,width,height, got 0.5"),
        ({"curve": "gamma"}, "curve must be linear, srgb, bt709 or a CSV of code value and light, got 'gamma'"),
        ({"card": (0.8, 0.5, 0.04, 0.04), "at": {"beam": (0.2, 0.5)}}, "card: 100 % of its pixels are black"),
    ],
)
def test_what_cannot_be_is_one_sentence(tmp_path, change, sentence):
    path = still(tmp_path, 1.0, -14.0)
    with pytest.raises(StillError) as said:
        read_places(read_still(path), SETUP, **({"card": (0.2, 0.5), "at": {"beam": (0.5, 0.5)}} | change))
    assert str(said.value).startswith(sentence)


def test_a_clipped_patch_says_nothing(tmp_path):
    with pytest.raises(StillError, match="beam: 100 % of its pixels are clipped: brighter than the picture holds; expose less"):
        read(still(tmp_path, 6.0, -1.0))
    (tmp_path / "no.png").write_bytes(b"not a picture")
    with pytest.raises(StillError, match="no.png: cannot be read: no picture"):
        read_still(tmp_path / "no.png")
    np.save(tmp_path / "light.npy", np.full((20, 20), np.nan))
    with pytest.raises(StillError, match="light.npy: must be a picture of 8 x 8 pixels or more"):
        read_still(tmp_path / "light.npy")


@pytest.mark.slow
def test_a_still_of_the_engine_s_picture_turns_to_the_weak_lamp(tmp_path, capsys):
    # INDEPENDENT of the spots' own sums: the camera's picture of the set with its lamp half a stop down, as linear light, with a
    # card put into its corner; the log that the verb writes turns `correct` to it.
    weak = SETUP.with_part("window lamp", metered_stops=-0.5)
    light = lc.picture(weak, width=640).luminance_cd_m2
    light[-40:, :40] = CARD_CD_M2
    np.save(tmp_path / "still.npy", light)
    rows, columns = light.shape
    camera = SETUP.camera
    from lightcalc.scene.parts import basis

    right, up, forward = basis(camera.at, camera.aim)
    where = []
    for spot in SETUP.spots:
        way = np.subtract(spot.at, camera.at)
        half = camera.sensor_width_mm / 2 / camera.focal_mm
        x = 0.5 + (way @ right) / (way @ forward) / half / 2
        y = 0.5 - (way @ up) / (way @ forward) / half / 2 * columns / rows
        where += ["--at", f"{spot.name}={x:.4f},{y:.4f},0.006,0.01"]
    log = tmp_path / "log.csv"
    given = ["still", str(lc.demo_path()), "1", str(tmp_path / "still.npy"), "--card", f"20,{rows - 20},30,30", "--curve", "linear"]
    assert command.main([*given, "--card-lux", str(CARD_LX), *where, "-o", str(log)]) == 0
    assert "2 readings for `correct`" in capsys.readouterr().out
    (lamp, *_) = correct(SETUP, read_log(log)).found
    assert lamp.low < -0.5 < lamp.high and lamp.stops < -0.15  # two spots alone do not part the lamp from haze and walls
    assert command.main([*given, *where, "-o", str(tmp_path / "other.csv")]) == 2
    assert "a log needs light: give --card-lux" in capsys.readouterr().err


def test_linear_light_has_no_steps():
    picture = Picture(np.full((30, 30, 3), 0.5), 0.0)
    found = read_places(picture, SETUP, card=(0.5, 0.5), at={"beam": (0.5, 0.5)}, curve="linear", card_lx=100.0)
    assert found.places[0].over_card_stops == 0.0 and found.places[0].noise_stops == 0.0
    assert curve_of("LINEAR")(0.3) == 0.3
