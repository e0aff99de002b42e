"""Questions without a shoot file: answers by hand, words for what is typed wrongly, and where each number comes from."""

import datetime as dt
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import lightcalc as lc
from lightcalc.answers import pocket
from lightcalc.answers.pocket import QUESTIONS, AskError, ask

HOME = Path(__file__).resolve().parents[2]


def answer(verb, **typed):
    return ask(verb, typed)[0]


def test_stop_and_lux_are_each_other():
    # DERIVED from ISO 2720: E = 250 T^2 / (t S), half of 1/24 s: T2.8 (2.8284), ISO 800 needs 250 x 8 x 48 / 800 = 120 lx.
    assert answer("lux", t="2.8")["illuminance_lx"] == pytest.approx(120.0, rel=1e-9)
    found = answer("stop", lux="120")
    assert found["t_stop"] == pytest.approx(8**0.5) and found["engraved_t_stop"] == 2.8 and abs(found["off_stops"]) < 1e-9
    # A filter of one stop and a stop under grey undo each other; 1/50 s is 0.059 stop less than 1/48.
    assert answer("lux", t="2.8", nd="1", at="-1")["illuminance_lx"] == pytest.approx(120.0)
    assert answer("lux", t="2.8", time="1/50")["illuminance_lx"] == pytest.approx(125.0)


def test_exposure_value_is_the_meter_s():
    # DERIVED: EV = log2(T^2 / t) at ISO 100: T4 at 1/60 s, ISO 100 is log2(960).
    assert answer("lux", t="4", time="1/60", iso="100")["ev100"] == pytest.approx(np.log2(960), abs=1e-9)


def test_falloff_of_a_point_and_of_a_face():
    # DERIVED: twice as far is two stops. INDEPENDENT: a disc's own sum, 1 / (d^2 + r^2) on its axis.
    found = answer("falloff", lux="100 fc", at="8ft", to="16 ft", size="1.2")
    assert found["illuminance_lx"] == pytest.approx(25 / 0.3048**2) and found["change_stops"] == pytest.approx(-2.0)
    near, far = 8 * 0.3048, 16 * 0.3048
    assert found["soft_change_stops"] == pytest.approx(np.log2((near**2 + 0.36) / (far**2 + 0.36)), abs=1e-9)


def test_ratio_of_two_readings():
    # COMMON PRACTICE: 400 on the lit side, 100 with the key shaded off, is 4 : 1, two stops; key alone 3 : 1.
    found = answer("ratio", lit="400", shade="100")
    assert found == pytest.approx({"ratio": 4.0, "key_to_fill": 3.0, "ratio_stops": 2.0})
    assert "swap the readings" in ask("ratio", {"lit": "50", "shade": "100"})[1][0]
    with pytest.raises(AskError, match=r"--shade must be > 0, got 0"):
        answer("ratio", lit="400", shade="0")


def test_extinction_of_two_readings():
    # DERIVED: Beer-Lambert, ln(800 / 560) / 9; limits of sight 3.912 and 2.996 over it (AMS Glossary; CIE e-ILV 17-31-018).
    found = answer("extinction", clear="800", hazy="560", path="9")
    sigma = np.log(800 / 560) / 9
    assert found["extinction_per_m"] == pytest.approx(sigma)
    assert found["visibility_m"] == pytest.approx(3.912 / sigma, rel=2e-4) and found["mor_m"] == pytest.approx(
        2.996 / sigma, rel=2e-4
    )
    assert found["loss_percent_per_m"] == pytest.approx(100 * (1 - np.exp(-sigma)))


def test_blur_of_a_runner_and_of_a_pan():
    # DERIVED: similar triangles, 35 mm at 4 m: 35 / 3965 x 3 m/s / 48; a pan draws f omega t on the axis.
    found = answer("blur", speed="3", distance="4")
    assert found["blur_mm"] == pytest.approx(35 / 3965 * 3000 / 48, rel=2e-3)
    assert answer("blur", pan="30")["blur_mm"] == pytest.approx(35 * np.radians(30) / 48, rel=2e-3)
    assert answer("blur", speed="10.8 km/h", distance="4") == found


def test_a_box_of_haze():
    # DERIVED: well-mixed box, m = G (1 - exp(-l t)) / (V l), put back: the time it says fills the room to what was asked.
    found = answer("box", volume="90", extinction="0.05", fluid="2", share="0.2")
    rate, t = found["loss_per_h"], found["build_min"] / 60
    assert 24_000 / 90 * (1 - np.exp(-rate * t)) / rate == pytest.approx(found["mass_mg_m3"], rel=1e-9)
    assert found["hold_share"] == pytest.approx(found["mass_mg_m3"] * rate * 90 / 24_000)
    values, lines = ask("box", {"volume": "4000", "extinction": "0.5", "fluid": "1"})
    assert "build_min" not in values and lines[0].startswith("never")


def test_amps_cable_and_battery():
    # DERIVED: 3650 / 230 A over 16 x 0.8 = 12.8 (NEC 210.20(A)); IEC 60028 copper: 2 x .017241 x 25 x I / 2.5.
    values, lines = ask("amps", {"watts": "3.65 kW", "cable": "25", "battery": "500"})
    amps = 3650 / 230
    assert values["load_amps"] == pytest.approx(amps) and "does NOT fit: 2 circuits" in lines[0]
    assert values["drop_v"] == pytest.approx(2 * 0.017241 * 25 * amps / 2.5)
    assert "fits on 16 A" in ask("amps", {"watts": "2900"})[1][0] and "electrician" in lines[-1]


def test_a_window_s_patch_is_the_room_s():
    # INDEPENDENT: answers.light_patch cuts the beam by the pane as polygons in the room; here it is two similar triangles.
    from lightcalc.answers.light_patch import beams

    room = lc.Room(name="r", width_m=6.0, depth_m=8.0, height_m=3.0, windows=(
        lc.Window(name="w", wall="right", centre_m=4.0, sill_m=0.9, width_m=1.2, height_m=1.3),))  # fmt: skip
    lamp = lc.Light(
        name="l", at=(9.1, 4.0, 4.2), aim=(5.0, 4.0, 1.2), distribution=lc.Beam(peak_cd=1e5, beam_deg=100, field_deg=150)
    )
    setup = lc.Setup(name="s", place=room, camera=lc.Camera(at=(1, 1, 1.5), aim=(3, 4, 1.2)), lights=(lamp,))
    x, y = np.concatenate([patch.corners_m for patch in beams(setup)[0].patches if patch.surface == "floor"])[:, :2].T
    found = answer("patch", out="3.1", height="4.2", sill="0.9", head="2.2", width="1.2", depth="6")
    assert (6.0 - x.max(), 6.0 - x.min()) == pytest.approx((found["near_m"], found["far_m"]), abs=1e-6)
    assert np.ptp(y) == pytest.approx(found["far_width_m"], abs=1e-6)
    up = ask("patch", dict(out="3.1", height="2.6", sill="0.9", head="2.2", width="1.2", depth="4"))[1]
    assert up[1].startswith("and up the wall 4 m off, to 1.68 m")  # 2.6 - .4 x 7.1 / 3.1
    assert "none on the floor" in ask("patch", dict(out="3", height="1", sill="1.2", head="2", width="1"))[1][0]


def test_the_sun_against_a_second_almanac():
    # INDEPENDENT: pvlib's coding of NREL's algorithm, refraction in it; refraction models differ by some hundredths so low.
    spa = pytest.importorskip("pvlib.spa")
    typed = {"lat": "54.1", "lon": "8.6", "zone": "Europe/Berlin", "date": "2028-08-20", "time": "19:40"}
    found = answer("sun", **typed)
    when = dt.datetime(2028, 8, 20, 17, 40, tzinfo=dt.UTC)  # summer time is two hours ahead
    slow_s = spa.calculate_deltat(when.year, when.month)
    there = spa.solar_position(np.array([when.timestamp()]), 54.1, 8.6, 0.0, 1013.25, 12.0, slow_s, 0.5667)
    assert found["altitude_deg"] == pytest.approx(there[2][0], abs=0.03)
    assert found["bearing_deg"] == pytest.approx(there[4][0], abs=0.005)
    low = np.sin(np.radians(found["altitude_deg"]))
    assert found["ground_lx"] == pytest.approx(found["sun_normal_lx"] * low + found["sky_lx"])


@pytest.mark.parametrize(
    ("verb", "typed", "sentence"),
    [
        ("stop", {}, "stop needs --lux (what the meter reads at the face)"),
        ("lux", {"t": "2,8"}, "--t 2,8: a decimal comma; write 2.8"),
        ("falloff", {"lux": "3 kg", "at": "1", "to": "2"}, "--lux is in lx or fc, got '3 kg'"),
        ("stop", {"lux": "bright"}, "--lux must be a number [lx], got 'bright'"),
        ("stop", {"lux": "1/0"}, "--lux must be a number [lx], got '1/0'"),
        ("sun", {"lat": "1", "lon": "2", "date": "20 August"}, "--date must be a date such as 2028-08-20, got '20 August'"),
        ("falloff", {"lux": "5", "at": "0", "to": "2"}, "near_m must be > 0, got 0"),
    ],
)
def test_what_is_typed_wrongly_gets_its_sentence(verb, typed, sentence):
    with pytest.raises(ValueError) as raised:
        ask(verb, typed)
    assert str(raised.value).startswith(sentence)


@pytest.mark.parametrize("verb", QUESTIONS)
def test_every_answer_can_be_traced(verb):
    # Each law named by --why is a function there is, in a file there is, and the test file named with it calls it.
    question = QUESTIONS[verb]
    lines = question.why()
    assert lines[0].startswith("equation: ") and any("source: " in line for line in lines)
    for law in question.laws:
        room, file, name = law.split(".")
        assert f"  lightcalc/{room}/{file}.py, held by tests/{room}/test_{file}.py" in lines
        assert name in (HOME / "tests" / room / f"test_{file}.py").read_text(), law


@pytest.mark.parametrize(
    "typed", ["stop --lux 320", "sun --lat 54.1 --lon 8.6", "amps --watts 2kW --why", "box --volume 90 --extinction .05"]
)
def test_one_line_from_the_shell_without_the_engine(typed):
    code = f"import sys; from lightcalc.__main__ import main; s = main({typed.split()!r}); print(s, 'numba' in sys.modules)"
    said = subprocess.run([sys.executable, "-c", code], cwd=HOME, capture_output=True, text=True, check=True)
    assert said.stdout.splitlines()[-1] == "0 False" and len(said.stdout.splitlines()) >= 2


def test_units_behind_a_number():
    read = pocket.Given("to", "m", "there").read
    assert (read("12 ft"), read("1/2"), read("150cm"), read(" 3.7m ")) == pytest.approx((3.6576, 0.5, 1.5, 3.7))
