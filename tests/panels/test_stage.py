"""The stage without a page: what it answers to messages, sound or odd, and what it leaves in a notebook."""

import asyncio
import base64
import io
import math
import threading
import time
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from lightcalc.answers import depth, noise, readings
from lightcalc.answers.light_patch import beams
from lightcalc.answers.straight_first import SAID
from lightcalc.engine import picture as view
from lightcalc.engine import ready, solve
from lightcalc.panels.compute import Engine
from lightcalc.panels.page_values import moved, values_of
from lightcalc.panels.page_words import level_map, shown_of
from lightcalc.panels.stage import Stage
from lightcalc.scene import shoot_file, sun_and_sky
from lightcalc.scene.parts import Haze, Light, SceneError

from stage_parts import Count, Quarters, loft


@pytest.fixture
def count():
    return Count()


@pytest.fixture
def stage(count):
    return Stage(loft(), engine=count.engine())


def send(stage, *ops, seq=1, client="page"):
    """What the page sends, by the way ipywidgets hands it over."""
    stage._handle_custom_msg({"ops": list(ops), "client": client, "seq": seq}, [])


def move(thing, gesture="g", **fields):
    return {"move": {thing: fields}, "gesture": gesture}


def levels(stage):
    return {row["name"]: row["level"] for row in stage.shown["marks"]}


# ---- moving things --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "thing, fields, expected",
    [
        ("light:key", {"at": [8.7, 3.3, 2.9]}, {"at": (8.7, 3.3, 2.9)}),
        ("light:key", {"aim": [4.0, 2.0, 1.1]}, {"aim": (4.0, 2.0, 1.1)}),
        ("window:loading door", {"centre_m": 3.1, "sill_m": 0.4}, {"centre_m": 3.1, "sill_m": 0.4}),
        ("flag:cutter", {"width_m": 0.7, "roll_deg": 15}, {"width_m": 0.7, "roll_deg": 15.0}),
        ("mark:packer", {"at": [3.3, 2.2, 1.6]}, {"at": (3.3, 2.2, 1.6)}),
        ("spot:beam", {"at": [4.6, 2.3, 1.0]}, {"at": (4.6, 2.3, 1.0)}),
        ("camera", {"at": [0.7, 0.9, 1.2], "t_stop": 8.0, "iso": 1600}, {"at": (0.7, 0.9, 1.2), "t_stop": 8.0, "iso": 1600.0}),
    ],
)
def test_a_message_moves_the_part_it_names(stage, thing, fields, expected):
    send(stage, move(thing, **fields))
    part = stage.setup.place.windows[0] if thing.startswith("window") else stage.setup.part(thing.partition(":")[2] or "camera")
    assert {name: getattr(part, name) for name in expected} == expected
    assert stage.values == values_of(stage.setup)
    assert stage.ack == ["page", 1] and stage.shown["notice"] == ""


def test_the_page_is_given_each_beam_as_it_is_cut(stage):
    # The pieces themselves are held against straight lines in test_light_patch; here they are those of the setup as it stands.
    def sent(stage):
        return {thing: [part for _, part in beam["lands"]] for thing, beam in stage.values["beams"].items()}

    def found(setup):
        return {f"light:{b.source}": [np.round(p.corners_m, 3).tolist() for p in b.patches] for b in beams(setup, corners=48)}

    assert stage.values["beams"]["light:key"]["of"] == {"at": [9.4, 2.9, 3.3], "aim": [4.4, 2.5, 0.8]}
    before = sent(stage)
    assert before == found(stage.setup) and before["light:key"] and before["light:soft"]
    send(stage, move("flag:cutter", at=[5.0, 2.6, 1.6]))  # into the beam of the key
    assert sent(stage) == found(stage.setup) and sent(stage)["light:key"] != before["light:key"]
    send(stage, move("light:key", at=[5.5, 2.9, 2.3]))
    assert stage.values["beams"]["light:key"]["of"]["at"] == [5.5, 2.9, 2.3] and not stage.values["beams"]["light:key"]["approach"]


def test_a_light_and_a_mark_of_one_name_are_told_apart(count):
    setup = loft()
    namesake = Light(name="packer", at=(2.0, 2.0, 2.0), aim=(3.0, 2.0, 1.0), distribution=setup.lights[1].distribution)
    stage = Stage(loft(lights=setup.lights + (namesake,)), engine=count.engine())
    send(stage, move("mark:packer", at=[3.9, 2.6, 1.5]))
    assert stage.setup.marks[0].at == (3.9, 2.6, 1.5)
    assert stage.setup.lights[2].at == (2.0, 2.0, 2.0)


@pytest.mark.parametrize("stops, share", [(-1.0, 0.5), (-2.5, 2**-2.5), (0.0, 1.0), (None, 0.0)])
def test_dim_is_typed_in_stops(stage, stops, share):
    # DERIVED: a stop is a factor of two, so s stops are 2**s of full output; None is off.
    send(stage, move("light:key", dim_stops=stops))
    assert stage.setup.part("key").dim == pytest.approx(share, rel=1e-12)
    back = stage.values["light:key"]["dim_stops"]
    assert back is None if stops is None else back == pytest.approx(stops, abs=1e-12)


@pytest.mark.parametrize("typed, exact", [(5.6, 2**2.5), (2.8, 2**1.5), (3.0, 3.0)])
def test_a_t_stop_is_typed_as_engraved(stage, typed, exact):
    # PUBLISHED: ISO 517:2008, the ring is marked in powers of the square root of two: 5.6 stands for 5.657.
    send(stage, move("camera", t_stop=typed))
    assert stage.setup.camera.t_stop == pytest.approx(exact, rel=1e-12) and stage.values["camera"]["t_stop"] == typed
    assert stage.shown["exposure"].startswith({5.6: "T5.6,", 2.8: "T2.8,", 3.0: "T3 (nearest click T3.2),"}[typed])


def test_only_the_last_of_many_positions_is_computed(stage, count):
    count.asked.clear()
    send(stage, *[move("light:soft", at=[2.0 + 0.01 * i, 3.9, 2.1]) for i in range(1, 60)])
    drafts = [setup for setup, quality in count.asked if quality == "draft"]
    assert [setup.part("soft").at[0] for setup in drafts] == [pytest.approx(2.59)]


def test_the_page_is_answered_in_one_update(stage):
    sent = []
    stage.send_state = lambda key=None: sent.append(set(key))  # one call of this is one message
    stage._settle_later = lambda: None
    send(stage, move("light:soft", at=[2.7, 3.3, 2.0]))
    assert len(sent) == 1
    assert {"values", "shown", "frame", "ack"} <= set(sent[0])


@pytest.mark.parametrize("parts", [("picture",), ("ladder",)])
def test_an_answer_is_too_heavy_to_be_held_back(count, parts):
    # PUBLISHED: Nagle, RFC 896 (1984): a packet that is not full waits while one is unacknowledged. A loopback packet
    # holds 65,536 bytes; an answer of more than three of them left at once when it was measured.
    stage = Stage(loft(), engine=count.engine(), parts=parts, draft_px=64)
    stage._settle_later = lambda: None
    seen = set()
    for i in range(3):
        send(stage, move("light:soft", at=[2.7, 3.3, 2.0 + 0.1 * i]), seq=i)
        assert len(stage.frame) * ("picture" in parts) + len(stage.ballast) > 3 * 65_536
        seen.add(stage.ballast)
    assert len(seen) == 3, "what is equal is not sent"


# ---- draft, then final ---------------------------------------------------------------------------------


def test_draft_while_moving_final_at_rest(count):
    async def session():
        stage = Stage(loft(), engine=count.engine(), draft_px=160, final_px=320)
        count.asked.clear()
        send(stage, move("light:soft", at=[2.7, 3.3, 2.0]), seq=1)
        assert set(stage.shown["quality"].values()) == {"draft"} and stage.shown["size"] == [160, 90] and stage.levels == b""
        await asyncio.sleep(0.1)
        send(stage, move("light:soft", at=[2.8, 3.3, 2.0]), seq=2)
        await asyncio.sleep(0.1)
        assert [quality for _, quality in count.asked] == ["draft", "draft"]  # the hand had not rested 0.15 s yet
        await asyncio.sleep(0.15)
        assert [quality for _, quality in count.asked] == ["draft", "draft", "final"]
        assert set(stage.shown["quality"].values()) == {"final"} and stage.shown["size"] == [320, 180]
        assert len(stage.frame) == 4 * 320 * 180 and len(stage.levels) == 2 * 320 * 180
        return stage

    stage = asyncio.run(session())
    assert stage.setup.part("soft").at == (2.8, 3.3, 2.0)


def test_a_hand_that_is_off_is_not_waited_for(count):
    async def session():
        stage = Stage(loft(), engine=count.engine(), draft_px=160, final_px=320)
        send(stage, move("mark:packer", at=[9, 9, 9]), move("light:soft", at=[2.7, 3.3, 2.0]), seq=1)
        notice = stage.shown["notice"]
        stage._handle_custom_msg({"ops": [], "client": "page", "seq": 2, "rest": True}, [])
        assert stage.ack == ["page", 2] and stage.shown["notice"] == notice != "", "letting go takes back no sentence"
        await asyncio.sleep(0.04)  # far less than the 0.15 s of quiet
        return stage

    assert asyncio.run(session()).shown["quality"] == {"readings": "final", "picture": "final"}


@pytest.fixture
def cold(monkeypatch):
    """An engine that is compiled when `cold.set()` says so; light may be asked of it all the same."""
    done, before = threading.Event(), ready.once

    def once(*, told=None):
        if told:
            told(0.25, 12.0)
            done.wait(10)
        before()

    monkeypatch.setattr(ready, "missing", lambda: [] if done.is_set() else ["one"])
    monkeypatch.setattr(ready, "once", once)
    return done


@pytest.mark.slow
def test_while_the_engine_is_compiled_straight_light_follows_the_hand(cold):
    async def session():
        stage = Stage(shoot_file.load(shoot_file.demo_path()).setup("8"))
        first = levels(stage)
        assert stage.shown["quality"] == {"readings": "straight", "picture": ""} and stage.frame == b""
        assert {row["ratio"] for row in stage.shown["marks"]} == {"not yet"} and stage.shown["targets"] == []
        assert "image/png" not in stage._repr_mimebundle_()[0]
        await asyncio.sleep(0.05)
        assert stage.shown["notice"] == f"{SAID}: about 12 s"
        send(stage, move("light:lantern", dim_stops=-2.0))
        assert stage.ack == ["page", 1] and stage.shown["quality"]["readings"] == "straight" and levels(stage) != first
        assert SAID in stage.shown["notice"]
        send(stage, move("camera", iso=-5), seq=2)
        assert "iso" in stage.shown["notice"], "what cannot be is said all the same"
        cold.set()
        for _ in range(400):
            await asyncio.sleep(0.02)
            if stage.shown["quality"]["picture"]:
                break
        return stage

    stage = asyncio.run(session())
    assert stage.shown["quality"] == {"readings": "final", "picture": "final"} and SAID not in stage.shown["notice"]
    assert stage.setup.part("lantern").dim == 0.25 and len(stage.frame) == 4 * 640 * 360
    assert levels(stage)["clerk"] == shown_of(stage.setup, readings.readings(stage.setup))["marks"][0]["level"]
    assert "image/png" in stage._repr_mimebundle_()[0]


@pytest.mark.slow
def test_who_reads_in_python_while_the_engine_is_compiled_waits_for_all_of_it(cold):
    async def session():
        stage = Stage(shoot_file.load(shoot_file.demo_path()).setup("8"))
        twin = stage.twin(parts=("picture", "readings"))
        assert twin.shown["quality"]["readings"] == "straight"
        cold.set()
        assert stage.readings.targets and stage.shown["quality"]["readings"] == "final"
        assert stage.picture.luminance_cd_m2.shape == (360, 640) and twin.shown["quality"]["picture"] == "final"
        await asyncio.sleep(0.1)
        return stage

    assert asyncio.run(session()).shown["quality"] == {"readings": "final", "picture": "final"}


def test_outside_a_notebook_a_stage_is_whole_at_once(cold):  # no event loop would bring the rest
    assert Stage(shoot_file.load(shoot_file.demo_path()).setup("8"), parts=("readings",)).shown["quality"]["readings"] == "final"


@pytest.mark.slow
def test_slow_numbers_are_worked_out_less_finely_and_quick_ones_as_a_draft_again(count):
    # Two slow ones in a row, not one, a grade; once they are quick by far, back up. What is shown at rest is always final.
    stage = Stage(loft(), engine=count.engine(), draft_px=160, final_px=320)
    stage._settle_later = lambda: None
    count.asked.clear()
    for i, count.slow_s in enumerate((0.04, 0.0, 0.04, 0.04, 0.04, 0.04, 0.04, 0.0, 0.0, 0.0, 0.0, 0.0)):
        send(stage, move("light:soft", at=[2.7 + 0.01 * i, 3.3, 2.0]), seq=i)
    stage.settle()
    asked = [quality for _, quality in count.asked]
    assert asked == ["draft"] * 4 + ["brisk"] * 2 + ["hasty"] * 3 + ["brisk"] * 2 + ["draft", "final"]


@pytest.mark.slow
def test_a_slow_draft_is_made_smaller_and_a_quick_one_full_again(count):
    stage = Stage(loft(), engine=count.engine(), draft_px=320, final_px=640)
    stage._settle_later = lambda: None
    see, widths = count.picture, []

    def slow(setup, width, lit, quality):
        widths.append(width)
        time.sleep(slow.s * (width / 320) ** 2)
        return see(setup, width, lit, quality)

    stage._state.engine = replace(count.engine(), picture=slow)
    for slow.s, expected in ((0.2, [320, 288, 256, 224, 192, 160, 160]), (0.0, [160, 192, 224, 256, 288, 320, 320])):
        widths.clear()
        for i in range(7):
            send(stage, move("light:soft", at=[2.7 + 0.01 * i, 3.3, 2.0 + slow.s]), seq=i)
        assert widths == expected
    assert stage.shown["size"] == [320, 180]


def test_numbers_read_from_python_are_never_drafts(count):
    async def session():
        stage = Stage(loft(), engine=count.engine())
        send(stage, move("light:key", dim_stops=-1.0))
        count.asked.clear()
        packer = stage.readings.marks[0]
        return stage, packer, [quality for _, quality in count.asked]

    stage, packer, asked = asyncio.run(session())
    assert asked == ["final"] and stage.shown["quality"] == {"readings": "final", "picture": "draft"}
    assert packer.by_source["key"] == pytest.approx(0.5 * 4e3 / (5.3**2 + 0.2**2 + 1.8**2))


# ---- what cannot be -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "op, words",
    [
        (move("mark:packer", at=[7.0, 2.0, 1.5]), "must be inside the 6.3 x 4.7 x 3.1 m room"),
        (move("camera", at=[-0.1, 2.0, 1.5]), "camera: at must be inside"),
        (move("light:key", at=[4.4, 2.5, 0.8]), "aim must differ from at"),
        (move("light:key", at=[1.0, 2.0]), "must be three metres"),
        (move("light:key", at=[1.0, None, 2.0]), "must be three metres"),
        (move("light:key", at=[1.0, math.nan, 2.0]), "finite"),
        (move("light:key", at="here"), "three metres"),
        (move("light:key", at={"x": 1}), "three metres"),
        (move("light:key", dim_stops=1.0), "dim must be a number of stops, 0 (full) or less, got 1"),
        (move("light:key", dim_stops=math.nan), "dim must be"),
        (move("light:key", dim_stops="full"), "dim must be a number of stops, 0 (full) or less, got 'full'"),
        (move("light:key", dim_stops=True), "must be a number"),
        (move("light:key", watts=5), "'watts' cannot be changed on the stage"),
        (move("light:nobody", at=[1, 1, 1]), "no light here is called 'nobody'"),
        (move("sun", at=[1, 1, 1]), "nothing called 'sun'"),
        (move("haze", extinction_per_m=-0.1), "haze: extinction_per_m must be >= 0"),
        (move("haze", extinction_per_m=None), "must be a number"),
        (move("camera", t_stop=0), "camera: t_stop must be"),
        (move("camera", iso=1e400), "camera: iso must be a finite number"),
        (move("flag:cutter", width_m=-1), "flag 'cutter': width_m"),
        (move("window:loading door", centre_m=0.3), "must keep it on the right wall (0 to 4.7 m), got -0.25 to 0.85 m"),
        (move("window:loading door", sill_m=2.0), "must be <= 3.1 m (the ceiling), got 3.4 m"),
        (move("window:loading door", sill_m=math.nan), "sill_m must be"),
        (move("window:loading door", sill_m="low"), "sill_m must be a number >= 0 and <= 200 m, got 'low'"),
        (move("window:loading door", wall="far"), "'wall' cannot be changed on the stage; centre_m, sill_m, width_m, height_m can"),
        (move("window:hatch", sill_m=1.0), "no window here is called 'hatch'"),
        (move("time", minute=600), "this stage has no clock"),
        ({"move": ["light:key"]}, "Not done"),
        ({"move": {"light:key": [1, 2]}}, "nothing called"),
        ({"step": "back"}, "Not done"),
        ({"save": True}, "no shoot_file"),
        ({"jump": 3}, "can move, step and save, not jump"),
        ({}, "not nothing"),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(stage, count, op, words):
    before, frame = stage.setup, stage.frame
    count.asked.clear()
    send(stage, op, seq=4)
    assert words in stage.shown["notice"] and "\n" not in stage.shown["notice"]
    assert stage.setup is before and stage.frame == frame and stage.values == values_of(before)
    assert stage.ack == ["page", 4], "the page must be answered, or it waits"
    assert count.asked == [], "nothing changed, so nothing is computed"
    assert stage.shown["undo"] == 0


@pytest.mark.parametrize(
    "message", [None, [], "ops", {}, {"ops": []}, {"client": 7, "ops": []}, {"client": None}, {"kind": "anywidget-command"}]
)
def test_messages_of_others_are_let_pass(stage, message):
    stage._from_page(stage, message, [])
    assert stage.ack == []


@pytest.mark.parametrize("ops", [None, 3, {}, [3, None, "x"], [[]]])
def test_odd_lists_of_changes_are_answered(stage, ops):
    stage._handle_custom_msg({"client": "page", "seq": 2, "ops": ops}, [])
    assert stage.ack == ["page", 2]


def test_one_bad_change_leaves_the_good_ones(stage):
    send(stage, move("light:soft", at=[2.7, 3.3, 2.0]), move("mark:packer", at=[9, 9, 9]), move("haze", extinction_per_m=0.07))
    assert stage.setup.part("soft").at == (2.7, 3.3, 2.0)
    assert stage.setup.haze.extinction_per_m == 0.07
    assert "mark 'packer'" in stage.shown["notice"]


def test_an_engine_that_fails_leaves_the_last_good_state(stage, count):
    send(stage, move("light:soft", at=[2.7, 3.3, 2.0]), seq=1)
    good, frame = stage.setup, stage.frame
    count.fails = True
    send(stage, move("light:soft", at=[3.1, 3.3, 2.0]), seq=2)
    assert stage.setup is good and stage.frame == frame and stage.values == values_of(good)
    assert stage.shown["notice"] == "Not done: the lamp is not in its case"
    assert stage.ack == ["page", 2] and stage.shown["undo"] == 1


def test_an_undo_that_cannot_be_computed_loses_no_history(stage, count):
    send(stage, move("light:soft", at=[2.7, 3.3, 2.0]), seq=1)
    good = stage.setup
    count.fails = True
    send(stage, {"step": -1}, seq=2)
    assert stage.setup is good and (stage.shown["undo"], stage.shown["redo"]) == (1, 0)
    count.fails = False
    send(stage, {"step": -1}, seq=3)
    assert stage.setup.part("soft").at == (2.2, 3.9, 2.1) and (stage.shown["undo"], stage.shown["redo"]) == (0, 1)


@pytest.mark.parametrize(
    "options, words",
    [
        ({"parts": ("plan", "radio")}, "parts must be of plan, picture, ladder, readings, got 'radio'"),
        ({"sliders": ("fog",)}, "sliders must be of haze, key, soft, got 'fog'"),
        ({"units": "yards"}, "units must be of metric, feet, got 'yards'"),
        ({"snap_m": -1}, "snap_m must be 0 to 5, got -1"),
        ({"draft_px": 3}, "draft_px must be 16 to 1920"),
    ],
)
def test_wrong_options_say_what_would_do(count, options, words):
    with pytest.raises(ValueError, match=words):
        Stage(loft(), engine=count.engine(), **options)


def test_a_stage_is_of_a_setup():
    with pytest.raises(ValueError, match="setup must be a scene.Setup, got str"):
        Stage("loft")


def test_ladder_ends_where_the_noise_does_if_asked(count):
    # DERIVED: the noise's floor under grey follows the ISO; the camera's own range, typed once, does not. The file keeps that.
    plain, noisy = (Stage(loft(), engine=count.engine(), noise_range=asked) for asked in (False, True))
    for stage in (plain, noisy):
        under = [stage.shown["range"][0]]
        for iso in (800, 12_800):
            send(stage, move("camera", iso=iso))
            under.append(stage.shown["range"][0])
            wanted = noise.range_under_stops(stage.setup.camera) if stage is noisy else plain.setup.camera.range_under_stops
            assert under[-1] == pytest.approx(-wanted) and stage.setup.camera.range_under_stops == loft().camera.range_under_stops
        assert (under[1] < under[2] - 2) is (stage is noisy)


def test_marks_say_their_colour():
    # PINNED in form; the numbers are `mix`'s. A mark in the dark has none to say.
    there = Stage(shoot_file.load(shoot_file.demo_path()).setup("3"), parts=("readings",))
    assert there.shown["marks"][0]["colour"] == there.readings.marks[0].mix.words(there.setup.camera.balance_kelvin)
    assert " K" in there.shown["marks"][0]["colour"]
    dark = replace(there.readings.marks[0], mix_kelvin=math.nan)
    assert shown_of(there.setup, replace(there.readings, marks=(dark,)))["marks"][0]["colour"] == ""


# ---- history --------------------------------------------------------------------------------------------------


def test_one_drag_is_one_step_back(stage):
    start = stage.setup
    for i in range(1, 6):
        send(stage, move("light:key", gesture="drag-1", at=[9.4 - 0.1 * i, 2.9, 3.3]), seq=i)
    send(stage, move("light:key", gesture="drag-2", dim_stops=-2.0), seq=6)
    end = stage.setup
    assert stage.shown["undo"] == 2
    send(stage, {"step": -1}, seq=7)
    assert stage.setup.part("key").at[0] == pytest.approx(8.9) and stage.setup.part("key").dim == 1.0
    send(stage, {"step": -1}, seq=8)
    assert stage.setup is start and (stage.shown["undo"], stage.shown["redo"]) == (0, 2)
    send(stage, {"step": -5}, seq=9)
    assert stage.setup is start
    send(stage, {"step": 2}, seq=10)
    assert stage.setup is end and (stage.shown["undo"], stage.shown["redo"]) == (2, 0)


def test_a_new_move_ends_what_could_be_redone(stage):
    send(stage, move("light:key", gesture="a", dim_stops=-1.0))
    send(stage, {"step": -1})
    send(stage, move("light:key", gesture="b", dim_stops=-2.0))
    assert (stage.shown["undo"], stage.shown["redo"]) == (1, 0)


def test_a_move_to_the_same_place_is_no_step(stage):
    send(stage, move("light:key", at=[9.4, 2.9, 3.3]))
    assert stage.shown["undo"] == 0


def test_python_can_set_undo_and_redo(stage):
    first = stage.setup
    stage.setup = loft(lights=first.lights[:1])
    assert [thing["name"] for thing in stage.place["things"] if thing["kind"] == "light"] == ["key"]
    assert stage.place["sliders"] == ["haze", "key"]
    assert stage.values.keys() == values_of(stage.setup).keys()
    stage.undo()
    assert stage.setup is first and stage.shown["redo"] == 1
    stage.redo()
    assert len(stage.setup.lights) == 1
    with pytest.raises(ValueError, match="got int"):
        stage.setup = 3


# ---- the time of day --------------------------------------------------------------------------------------------


@pytest.fixture
def timed(count):
    return Stage(loft(), engine=count.engine(), clock=Quarters())


def test_the_time_slider_moves_the_sun_and_the_sky_and_nothing_else(timed):
    assert timed.place["sliders"][0] == "time" and timed.place["clock"]["words"][:2] == ["12:00", "12:15"]
    assert timed.values["time"] == {"minute": None} and timed.setup.sun is None and timed.minute is None
    send(timed, move("light:soft", at=[2.7, 3.3, 2.0]), seq=1)
    send(timed, move("time", gesture="t", minute=780), seq=2)
    assert timed.setup.sun.elevation_deg == 26.0 and timed.setup.sky.zenith_cd_m2 == 3600.0
    assert timed.setup.part("soft").at == (2.7, 3.3, 2.0) and timed.setup.title == "Drying loft, day"
    assert timed.values["time"] == {"minute": 780} and timed.minute == 780
    # DERIVED: 196 degrees on the compass where +y is north, 26 high: x = sin 196 cos 26, y = cos 196 cos 26, z = sin 26.
    assert timed.values["sun"]["to"] == pytest.approx([-0.24774, -0.86397, 0.43837], abs=1e-5)
    assert timed.values["sun"]["words"] == "sun 26\N{DEGREE SIGN} high"


def test_an_hour_on_the_slider_is_one_step_back(timed):
    send(timed, move("time", gesture="a", minute=735), move("time", gesture="a", minute=750), move("time", gesture="a", minute=780))
    send(timed, move("light:key", gesture="b", dim_stops=-1.0))
    send(timed, {"step": -1})
    assert timed.minute == 780 and timed.setup.sun.elevation_deg == 26.0 and timed.setup.part("key").dim == 1.0
    send(timed, {"step": -1})
    assert timed.minute is None and timed.setup.sun is None and timed.values["time"] == {"minute": None}
    send(timed, {"step": 2})
    assert timed.minute == 780 and timed.setup.part("key").dim == 0.5
    timed.minute = 720
    assert timed.setup.sun.elevation_deg == 30.0
    timed.undo()
    assert timed.minute == 780


@pytest.mark.parametrize("minute", [781, -15, None, "noon", True, math.nan, [780]])
def test_a_minute_that_the_clock_lacks_is_refused(timed, minute):
    before = timed.setup
    send(timed, move("time", minute=minute))
    assert "time: minute must be one of the clock's, 12:00 to 15:45, got" in timed.shown["notice"]
    assert timed.setup is before and timed.shown["undo"] == 0


def test_a_sun_that_the_setup_cannot_do_without_is_not_taken(count):
    class Night(Quarters):
        def setup_at(self, setup, minute):
            return loft()

    stage = Stage(Quarters().setup_at(loft(key=()), 720), engine=count.engine(), clock=Night())
    send(stage, move("time", minute=735))
    assert stage.setup.sun is None and stage.values["sun"] == {}
    keyed = Stage(loft(sun=Quarters().setup_at(loft(), 720).sun, key=("sun",)), engine=count.engine(), clock=Night())
    send(keyed, move("time", minute=735))
    assert "key must name its sources" in keyed.shown["notice"] and keyed.setup.sun is not None


def test_the_packages_own_clock_fits_the_slider(count):
    shoot = shoot_file.load(shoot_file.demo_path())
    setup = shoot.setup("3")
    stage = Stage(setup, engine=count.engine(), clock=sun_and_sky.clock(shoot, setup, start="17:00", end="21:00", step_min=10))
    assert stage.place["clock"]["words"][::6] == ["17:00", "18:00", "19:00", "20:00", "21:00"]
    for minute in (1030, 1150, 1260):
        send(stage, move("time", gesture=f"at {minute}", minute=minute))
        expected = stage._state.clock.setup_at(setup, minute)
        assert (stage.setup.sun, stage.setup.sky) == (expected.sun, expected.sky) and stage.shown["notice"] == ""
    stage.undo(3)
    assert stage.setup is setup


# ---- two stages of one setup --------------------------------------------------------------------------------------


def test_twins_are_in_step_and_computed_once(stage, count):
    other = stage.twin(parts=("plan", "readings"), sliders=("haze",))
    assert other.setup is stage.setup and other.place["sliders"] == ["haze"] and other.shown["marks"] == stage.shown["marks"]
    count.asked.clear()
    send(other, move("light:soft", at=[2.7, 3.3, 2.0]), seq=5, client="other page")
    assert [quality for _, quality in count.asked] == ["draft", "final"], "once for both"
    assert stage.values == other.values == values_of(stage.setup) and stage.setup.part("soft").at == (2.7, 3.3, 2.0)
    assert stage.shown["marks"] == other.shown["marks"] and stage.shown["quality"] == {"readings": "final", "picture": "final"}
    assert (other.ack, stage.ack) == (["other page", 5], []), "only who asked is answered"
    assert len(stage.frame) == 4 * 640 * 360 and other.frame == b"", "a page without a picture is not sent one"
    send(stage, {"step": -1})
    assert other.setup.part("soft").at == (2.2, 3.9, 2.1) and (other.shown["undo"], other.shown["redo"]) == (0, 1)


def test_twins_share_units_and_part_when_closed(stage, count):
    other = stage.twin()
    other.units = "feet"
    assert stage.units == "feet" and other.frame == stage.frame and other.levels == stage.levels
    before = other.values
    other.close()
    send(stage, move("haze", extinction_per_m=0.07))
    assert stage.setup.haze.extinction_per_m == 0.07 and other.values is before
    with pytest.raises(ValueError, match="parts must be of plan"):
        stage.twin(parts=("radio",))


def test_a_stage_without_a_picture_does_not_compute_one(count):
    looked = []
    engine = count.engine()
    engine = type(engine)(engine.light, engine.readings, lambda *a, **k: looked.append(1) or count.picture(*a, **k))
    stage = Stage(loft(), engine=engine, parts=("plan", "ladder", "readings"))
    send(stage, move("haze", extinction_per_m=0.07))
    assert looked == [] and stage.shown["quality"]["readings"] == "final"
    assert stage.picture.level_stops.shape == (360, 640) and looked == [1]
    other = stage.twin(parts=("picture",))
    assert looked == [1] and len(other.frame) == 4 * 640 * 360


# ---- words ---------------------------------------------------------------------------------------------------


def test_every_number_shown_is_one_the_engine_gave(stage, count):
    send(stage, move("light:soft", at=[2.7, 3.3, 2.0]))
    rows = {row["name"]: row for row in stage.shown["marks"]}
    for mark in stage.readings.marks:
        row = rows[mark.name]
        assert row["level"].replace("\N{MINUS SIGN}", "-") == f"{mark.level_stops:+.1f}"
        assert row["ratio"] == f"{mark.ratio:.1f} : 1" and row["key_to_fill"] == f"{mark.key_to_fill:.1f} : 1"
        assert float(row["lux"]["metric"].split()[0]) == pytest.approx(mark.illuminance_lx, rel=5e-3)
        # PUBLISHED: one foot-candle is one lumen per square foot (IES LS-1), 10.764 lx.
        assert float(row["lux"]["feet"].split()[0]) == pytest.approx(mark.illuminance_lx / 10.7639, rel=5e-3)
        assert [s["name"] for s in row["sources"]] == list(mark.by_source)


def test_no_light_at_all_is_said_in_words(count):
    stage = Stage(loft(lights=(), haze=Haze(extinction_per_m=0.0), spots=(), targets=(), key=()), engine=count.engine())
    words = repr(stage.shown)
    assert "nan" not in words and "inf" not in words
    assert {row["level"] for row in stage.shown["marks"]} == {"no light"}
    assert stage.shown["ladder"] == []


def test_brackets_stand_where_the_targets_are(stage):
    found = {b["label"]: (round(b["low"], 3), round(b["high"], 3)) for b in stage.shown["brackets"]}
    packer = stage.readings.marks[0].level_stops
    # DERIVED: a level as typed; a fill so far under its mark; a beam so far over its background, log2(1.5 / L_ref).
    over = math.log2(1.5 / stage.setup.camera.reference_cd_m2) + 1.5
    centres = {"packer level": -0.3, "packer fill under": packer - 2.0, "beam over background": over}
    assert found == {k: (pytest.approx(c - 1 / 3, abs=1e-3), pytest.approx(c + 1 / 3, abs=1e-3)) for k, c in centres.items()}


def test_the_level_map_is_hundredths_of_a_stop():
    picture = np.array([[-1.234, 0.0, 2.5], [-np.inf, 1e6, np.nan]])
    assert np.frombuffer(level_map(picture), "<i2").reshape(2, 3).tolist() == [[-123, 0, 250], [-32768, 30000, -32768]]


# ---- what stays in a notebook --------------------------------------------------------------------------------


@pytest.mark.slow
def test_the_notebook_keeps_a_still_and_a_short_text(stage):
    data, _ = stage._repr_mimebundle_()
    assert "application/vnd.jupyter.widget-view+json" in data and "text/html" not in data
    assert data["text/plain"] == "Stage('loft_day': 2 lights, 0 boards, 2 marks)" == repr(stage)
    still = Image.open(io.BytesIO(base64.b64decode(data["image/png"])))
    assert still.format == "PNG" and still.width >= 900
    assert np.asarray(still.convert("L")).std() > 10, "a still of nothing"


def test_readings_are_printed_as_text(stage, capsys):
    stage.print_readings()
    level = stage.readings.marks[0].level_stops
    assert capsys.readouterr().out.splitlines()[0] == f"packer {level:+.1f}"


def test_saving_writes_the_place_into_the_shoot_file(count, tmp_path):
    path = tmp_path / "salt_ledger.toml"
    path.write_bytes(shoot_file.demo_path().read_bytes())
    opened = shoot_file.ShootFile.open(path)
    setup = next(one for one in opened.shoot.setups if one.lights)
    stage = Stage(setup, shoot_file=opened, engine=count.engine())
    assert stage.shown["save"] is True
    name, x = setup.lights[0].name, round(setup.lights[0].at[0] + 0.37, 2)
    send(stage, move(f"light:{name}", at=[x, *setup.lights[0].at[1:]]), seq=1)
    send(stage, {"save": True}, seq=2)
    assert stage.shown["notice"] == "Saved to salt_ledger.toml."
    assert shoot_file.load(path).setup(setup.name).part(name).at[0] == pytest.approx(x)
    path.write_text(path.read_text() + "\n# a note typed meanwhile\n")
    send(stage, move(f"light:{name}", at=[x + 1, *setup.lights[0].at[1:]]), {"save": True}, seq=3)
    assert "changed on disk" in stage.shown["notice"]
    assert "typed meanwhile" in path.read_text()


def test_a_window_is_saved_for_every_setup_of_its_room(count, tmp_path):
    path = tmp_path / "salt_ledger.toml"
    path.write_bytes(shoot_file.demo_path().read_bytes())
    opened = shoot_file.ShootFile.open(path)
    stage = Stage(opened.shoot.setup("1"), shoot_file=opened, engine=count.engine())
    send(stage, move("window:barred", centre_m=5.4, sill_m=1.25), {"save": True})
    assert stage.shown["notice"] == "Saved to salt_ledger.toml. Its room changed in setup 2 too."
    windows = [shoot_file.load(path).setup(name).place.windows[0] for name in ("1", "2", "7")]
    assert [(w.centre_m, w.sill_m) for w in windows] == [(5.4, 1.25), (5.4, 1.25), (5.9, 1.6)]


def test_the_sky_has_its_place_on_the_ladder(count):
    stage = Stage(loft(sky=Quarters().setup_at(loft(), 720).sky), engine=count.engine())
    [tick] = [tick for tick in stage.shown["ladder"] if tick["kind"] == "sky"]
    # DERIVED: 2000 cd/m2 at the horizon over 0.18 E_ref / pi, E_ref = 250 x 4^2 x 48 / 800 = 240 lx.
    assert tick["label"] == "sky at the horizon" and tick["stops"] == pytest.approx(math.log2(2000 * math.pi / (0.18 * 240)))


@pytest.mark.slow
@pytest.mark.parametrize(
    "thing, fields, again",
    [
        ("camera", {"at": [1.6, 0.9, 1.5], "t_stop": 2.8}, False), ("spot:far wall", {"at": [2.0, 9.2, 1.2]}, False),
        ("mark:clerk, far cheek", {"at": [2.8, 4.5, 1.2]}, False), ("mark:clerk", {"at": [3.2, 4.6, 1.25]}, True),
        ("board:fill board", {"roll_deg": 20.0}, True), ("window:barred", {"sill_m": 1.5}, True), ("haze", {"extinction_per_m": 0.05}, True),
    ],
)  # fmt: skip
def test_light_is_worked_out_again_only_where_it_changed(thing, fields, again):
    # INDEPENDENT of what is kept: readings and picture equal those of a setup that comes from nowhere.
    engine, worked = Engine.default(), []
    engine = replace(engine, light=lambda setup, quality: worked.append(quality) or solve.light(setup, quality=quality))
    stage = Stage(shoot_file.load(shoot_file.demo_path()).setup("1"), engine=engine, draft_px=32, final_px=64)
    worked.clear()
    send(stage, move(thing, **fields))
    assert worked == (["draft", "final"] if again else ["draft"]), "of a draft there was no light yet"
    fresh = solve.light(stage.setup)
    assert shown_of(stage.setup, stage.readings) == shown_of(stage.setup, readings.readings(stage.setup, lit=fresh))
    assert (stage.picture.luminance_cd_m2 == view.picture(stage.setup, width=64, lit=fresh).luminance_cd_m2).all()


@pytest.mark.slow
def test_layers_are_on_the_ladder_where_they_are_asked_for():
    # INDEPENDENT: `depth.layers` sums the veil along the whole line at once and lays out a second, clear setup.
    setup = shoot_file.load(shoot_file.demo_path()).setup("1")
    stage = Stage(setup, parts=("ladder",), layers=True)
    ticks = {t["label"]: t["stops"] for t in stage.shown["ladder"]}
    expected = {t.label: t.stops for t in depth.layers(setup, lit=stage.lit).ticks()}
    assert len(expected) == 3 and {name: ticks.get(name) for name in expected} == pytest.approx(expected, abs=0.02)
    assert not [t for t in Stage(setup, parts=("ladder",)).shown["ladder"] if t["label"] in expected]


def test_moved_names_what_it_does_not_know():
    with pytest.raises(SceneError, match="no flag here is called 'key'"):
        moved(loft(), "flag:key", {"at": [1, 1, 1]})


# --- what is surely not meant ----------------------------------------------------------------------------------------


@pytest.mark.slow
def test_a_quiet_line_says_what_is_surely_not_meant():
    there = Stage(shoot_file.load(shoot_file.demo_path()).setup("8"), draft_px=32, final_px=64)
    assert there.shown["sense"] == {"line": "", "all": ""}
    panel = there.setup.part("soft panel")
    there.setup = there.setup.with_part("clerk", at=panel.at)
    line = there.shown["sense"]["line"]
    assert line == "But mark 'clerk': it is in the same place as light 'soft panel'"
    assert there.shown["sense"]["all"] == line.removeprefix("But ") + "; move one of them"
    there.undo()
    assert there.shown["sense"]["line"] == ""


@pytest.mark.slow
def test_with_its_file_the_stage_knows_the_hour(tmp_path):
    path = tmp_path / "tide.toml"
    text = (
        shoot_file.new_text("Low Tide")
        .replace('# time = "19:40"', 'time = "19:40"')
        .replace("extinction_per_m = 0.05", "extinction_per_m = 0")
    )
    path.write_text(text, encoding="utf-8")
    opened = shoot_file.ShootFile.open(path)
    with_file = Stage(opened.shoot.setup("1"), shoot_file=opened, draft_px=32, final_px=64)
    assert with_file.shown["sense"]["line"] == "But it has a time, but the shoot no place: no daylight is counted"
    assert Stage(opened.shoot.setup("1"), draft_px=32, final_px=64).shown["sense"]["line"] == ""
