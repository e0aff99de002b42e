"""One list of kinds and fields: what each field refuses, and what follows from the list."""

import pickle
import re
from dataclasses import dataclass, fields, replace
from typing import ClassVar

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightcalc import __main__ as command
from lightcalc.kit import materials
from lightcalc.kit.candela import Beam
from lightcalc.panels.page_values import moved, values_of
from lightcalc.scene import parts, shoot_file, shoot_read
from lightcalc.scene.fields import NUMBERS, Quantity, SceneError, holds, keys, quantities, show
from lightcalc.scene.parts import Aim, Board, Camera, Exterior, Flag, Frame, Haze, Light, Mark, Setup, from_kit
from lightcalc.scene.shoot_edit import dumps, edited, same
from lightcalc.scene.shoot_file import new_text
from lightcalc.scene.shoot_read import ShootError, loads
from lightcalc.wording import near

AT = {"at": (1.0, 1.0, 1.5), "aim": (2.0, 3.0, 1.2)}
CAMERA, FACE = Camera(**AT), Mark(name="clerk", at=(2.4, 3.6, 1.4), aim=(1.0, 1.0, 1.4))
BEAM = Beam(peak_cd=9_000, beam_deg=24, field_deg=37)
KEY = Light(name="key", **AT, distribution=BEAM)
SETUP = Setup(name="1", place=Exterior(name="pans", width_m=20, depth_m=20), camera=CAMERA, lights=(KEY,), marks=(FACE,))
SHEET = {**AT, "width_m": 1.2, "height_m": 1.2}


# --- what was refused by luck or not at all ------------------------------------------------------------------


@pytest.mark.parametrize(
    "make, sentence",
    [
        (lambda: Board(name="b", **SHEET, stuff="white"),
         "board 'b': stuff must be a Stuff, got 'white': stuffs of the kit come by name from kit.materials.stuff"),
        (lambda: Frame(name="silk", **SHEET, diffusion=None),
         "frame 'silk': diffusion must be a Diffusion, got None: diffusions of the kit come by name from kit.materials.diffusion"),
        (lambda: Light(name="key", **AT, distribution=None),
         "light 'key': distribution must be a Beam or Lambert or Photometry, got None"),
        (lambda: replace(KEY, gel="half warm"),
         "light 'key': gel must be a Gel, got 'half warm': gels of the kit come by name from kit.materials.gel"),
        (lambda: Haze(droplets="nonsense"),
         "haze: droplets must be one of fine glycol haze, coarse glycol fog, glycerol haze, oil haze, water mist, got 'nonsense'"),
        (lambda: replace(CAMERA, t_stop="2.8"), "camera: t_stop must be a number > 0.4 and <= 128, got '2.8': a T-stop such as 2.8"),
        (lambda: replace(CAMERA, iso=True), "camera: iso must be a number > 0.9 and <= 10000000, got true"),
        (lambda: replace(SETUP, key="sun"), "setup '1': key must be a tuple of names, got 'sun'"),
        (lambda: replace(SETUP, lights=KEY), "setup '1': lights must be a tuple of Light, got a Light"),
        (lambda: replace(SETUP, lights=(FACE,)), "setup '1': lights must be a tuple of Light, got a list of 1"),
        (lambda: replace(SETUP, place="pans"), "setup '1': place must be a Room or Exterior, got 'pans'"),
        (lambda: replace(FACE, figure=1), "mark 'clerk': figure must be True or False, got 1"),
        (lambda: replace(FACE, name=7), "mark 7: name must be a text, got 7"),
        (lambda: replace(FACE, name="be\x07ll"), "mark 'be(U+0007)ll': name must be text without control characters, got 'be(U+0007)ll'"),
        (lambda: replace(SETUP, day=1.5), "setup '1': day must be a whole number >= 1 and <= 64, got 1.5"),
        (lambda: replace(KEY, at="here"), "light 'key': at must be three metres [x, y, z], got 'here'"),
        (lambda: replace(KEY, at=(1, 2, 10**400)), "light 'key': at must be a finite number, got a very large number"),
    ],
)  # fmt: skip
def test_a_wrong_value_is_one_clear_sentence(make, sentence):
    with pytest.raises(SceneError) as caught:
        make()
    assert str(caught.value) == sentence and len(caught.value.faults) == 1


def test_parts_are_made_by_keywords():
    for part in shoot_read.CLASS.values():
        assert all(f.kw_only for f in fields(part)), part
        assert all("quantity" in f.metadata for f in fields(part)), part
    with pytest.raises(TypeError):
        Haze(*[0.02])  # a bare number


def test_all_faults_of_a_part_are_said_at_once():
    with pytest.raises(SceneError) as caught:
        replace(CAMERA, iso=0, t_stop="wide", fps=-1)
    assert [fault.path for fault in caught.value.faults] == [("t_stop",), ("iso",), ("fps",)]
    assert str(caught.value).count("\n") == 2


HELD = [(part, name, about) for part in shoot_read.CLASS.values() for name, about in quantities(part).items()]


@pytest.mark.parametrize("part, name, about", HELD, ids=[f"{part.kind} {name}" for part, name, _ in HELD])
def test_every_field_says_what_it_takes(part, name, about):
    # No field takes an object of no kind, and the sentence names the field and says what would do.
    said = about.wrong(name, object())
    assert said.startswith(f"{name} must be ") and ", got a object" in said
    if about.kind in NUMBERS:  # DERIVED: the limits themselves: closed ones do, open ones and the next number out do not
        for limit, does, out in ((about.low, True, -1), (about.above, False, -1), (about.high, True, 1), (about.below, False, 1)):
            if limit is not None:
                assert (about.wrong(name, limit) is None) == does
                assert about.limits in about.wrong(name, np.nextafter(limit, np.inf * out) + out * 1e-9)
        assert "finite number" in about.wrong(name, float("nan")) and "finite number" in about.wrong(name, float("inf"))
        assert about.limits, "every number has a range"
        assert not re.search(r"_(m|mm|deg|lx|s|ft|cd)$", name) or about.unit, "a unit in the name is a unit in the sentence"


def test_words_for_values():
    assert show(float("inf")) == "inf" and show(10**20) == "a very large number" and show({}) == "a table"
    assert show("x" * 50) == "'" + "x" * 37 + "...'" and show(list(range(9))) == "a list of 9"
    assert near("doors", ["floor", "ceiling"]) == "; it takes floor, ceiling"
    assert near("height", ["width_m", "height_m"]) == "; did you mean 'height_m'?"


# --- a new field is one line --------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Torn(Flag):
    """A flag with a field that the package does not have."""

    kind: ClassVar[str] = "flag"

    slack_m: float = holds("length", 0.1, unit="m", low=0.0, high=0.5, hint="how far it hangs through", on_stage=True)


def test_a_field_of_a_part_is_read_refused_and_written_without_a_word_elsewhere(monkeypatch):
    monkeypatch.setitem(shoot_read.CLASS, "flag", Torn)
    flag = '[[setups.flags]]\nname = "cut"\nat = [1, 1, 2]\naim = [2, 2, 2]\nwidth_m = 0.6\nheight_m = 0.9\n'
    text = new_text("Tide") + "\n" + flag + "slack_ft = 1  # metered\n"
    shoot = loads(text)
    assert shoot.setups[0].flags[0].slack_m == 0.3048
    new = replace(shoot, setups=(shoot.setups[0].with_part("cut", slack_m=0.3048 / 2),))
    assert "slack_ft = 0.5  # metered" in edited(text, shoot, new)
    assert "slack_m = 0.1524" in dumps(new)
    with pytest.raises(ShootError, match=r"flag 'cut': slack_ft: slack_m must be >= 0 and <= 0.5 m, got 0.6096: how far it hangs"):
        loads(text.replace("slack_ft = 1", "slack_ft = 2"))
    with pytest.raises(ShootError, match="no field 'slak_m'; did you mean 'slack_m'"):
        loads(text.replace("slack_ft", "slak_m"))


# --- pan and tilt -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "pan, tilt, way",  # DERIVED: +y at pan 0, clockwise from above, so +x at 90; plus is up
    [(0, 0, (0, 1, 0)), (90, 0, (1, 0, 0)), (180, 0, (0, -1, 0)), (-90, 0, (-1, 0, 0)), (30, -90, (0, 0, -1)), (45, 90, (0, 0, 1)),
     (45, 30, (np.sqrt(3 / 8), np.sqrt(3 / 8), 0.5))],
)  # fmt: skip
def test_pan_and_tilt_as_a_person_stands(pan, tilt, way):
    aim = Aim.turned((1, 2, 3), pan, tilt)
    assert (np.array(aim) - (1, 2, 3)) / parts.THROW_M == pytest.approx(way, abs=1e-12)


@given(st.floats(-360, 360), st.floats(-89, 89), st.tuples(*[st.floats(-9, 9)] * 3))
def test_typed_angles_stay_as_typed_and_come_back_from_a_moved_thing(pan, tilt, at):
    board = Board(name="b", at=at, aim=Aim.turned(at, pan, tilt), width_m=1, height_m=1, stuff=materials.stuff("white"))
    assert board.aim.said == (pan, tilt)
    carried = replace(board, at=np.add(at, (0.3, -0.2, 0.1)))  # the point stays: other angles lead to it
    assert carried.aim == board.aim
    again = Aim.turned(carried.at, *carried.aim.said)
    way = np.subtract(carried.aim, carried.at)
    assert np.subtract(again, carried.at) / parts.THROW_M == pytest.approx(way / np.linalg.norm(way), abs=1e-9)


PANNED = """\
title = "Tide"
[exteriors.pans]
width_m = 20
depth_m = 20
[[setups]]
name = "1"
place = "pans"
camera = { at = [1, 1, 1.5], aim = "clerk" }
[[setups.lights]]
name = "key"      # two bags
at = [3, 2, 2.5]
pan_deg = 325.5   # by the compass on the stand
tilt_deg = -20
kit = "1 kW tungsten spot"
dim = "-2 stops"  # on the desk
[[setups.boards]]
name = "board"
at = [2, 5, 1]
aim = "clerk"     # whatever she does
width_m = 1.2
height_m = 1.2
stuff = "white"
[[setups.marks]]
name = "clerk"
at = [4, 6, 1.4]
aim = [1, 1, 1.4]
"""


def written(change):
    """PANNED with a change of its setup saved: the lines that are other, and the text read back."""
    old = loads(PANNED)
    new = replace(old, setups=(change(old.setups[0]),))
    text = edited(PANNED, old, new)
    assert same(loads(text), new)
    return [line for line in text.splitlines() if line not in PANNED.splitlines()], loads(text).setups[0]


def test_what_the_person_typed_is_what_is_written_back():
    assert written(lambda one: replace(one, title="Ebb"))[0] == ['title = "Ebb"']
    lines, _ = written(lambda one: one.with_part("key", dim=0.5))
    assert lines == ['dim = "-1 stops"  # on the desk']
    lines, one = written(lambda one: one.with_part("key", dim=0.3))
    assert one.part("key").dim == pytest.approx(0.3, rel=1e-12) and len(lines) == 1 and 'stops"  # on the desk' in lines[0]
    assert written(lambda one: one.with_part("key", dim=0.0))[0] == ["dim = 0  # on the desk"]
    lines, one = written(lambda one: one.with_part("key", at=(3, 2, 3)))
    assert [line.split(" = ")[0] for line in lines] == ["at", "pan_deg", "tilt_deg"] and lines[1].endswith(
        "# by the compass on the stand"
    )
    lines, _ = written(lambda one: one.with_part("key", aim=(4, 6, 1.4)))
    assert lines == ["aim = [4, 6, 1.4]"]
    lines, _ = written(lambda one: one.with_part("key", aim=Aim.turned(one.part("key").at, 30, 5)))
    assert lines == ["pan_deg = 30   # by the compass on the stand", "tilt_deg = 5"]


def test_a_new_file_says_it_the_same_way():
    text = dumps(loads(PANNED))
    assert "pan_deg = 325.5\ntilt_deg = -20\n" in text and text.count('aim = "clerk"') == 2 and same(loads(text), loads(PANNED))


def test_angles_are_read_wherever_they_stand_and_never_beside_a_point():
    # DERIVED: 325.5 is 34.5 degrees to the left; 3 m that way, 20 degrees down.
    aim = loads(PANNED).setups[0].part("key").aim
    flat = parts.THROW_M * np.cos(np.radians(20))
    wanted = (
        3 + flat * np.sin(np.radians(-34.5)),
        2 + flat * np.cos(np.radians(-34.5)),
        2.5 - parts.THROW_M * np.sin(np.radians(20)),
    )
    assert aim == pytest.approx(wanted)
    for part, key in (("board", "boards"), ("flag", "flags"), ("frame", "frames"), ("light", "lights")):
        assert {"pan_deg", "tilt_deg"} <= keys(shoot_read.CLASS[part]).keys(), key
    assert not {"pan_deg", "tilt_deg"} & keys(Mark).keys()
    with pytest.raises(
        ShootError,
        match="line 13: setup '1', light 'key': give one of aim, pan_deg with tilt_deg, got aim and pan_deg and tilt_deg",
    ):
        loads(PANNED.replace("tilt_deg = -20", "tilt_deg = -20\naim = [1, 1, 1]"))


def test_the_stage_turns_a_panned_light_and_it_stays_panned():
    setup = loads(PANNED).setups[0]
    assert values_of(setup)["light:key"]["aim"] == pytest.approx(list(setup.part("key").aim))
    turned = moved(setup, "light:key", {"aim": [3.0, 9.0, 2.5]})
    assert turned.part("key").aim.said == pytest.approx((0.0, 0.0), abs=1e-9)
    plain = moved(setup, "board:board", {"aim": [3.0, 9.0, 2.5]})
    assert type(plain.part("board").aim) is tuple, "a hand that turns the board takes it off the mark"


# --- what faces a mark by name ------------------------------------------------------------------------------


def test_what_faces_a_mark_by_name_follows_it():
    setup = replace(SETUP, lights=(replace(KEY, aim="clerk"),), camera=replace(CAMERA, aim="clerk"))
    assert setup.part("key").aim == FACE.at and setup.camera.aim == FACE.at
    walked = setup.with_part("clerk", at=(5.0, 4.0, 1.7))
    assert walked.part("key").aim == (5.0, 4.0, 1.7) == walked.camera.aim and walked.part("key").aim.said == "clerk"
    assert moved(setup, "mark:clerk", {"at": [5.0, 4.0, 1.7]}).camera.aim == (5.0, 4.0, 1.7)
    assert type(walked.with_part("key", aim=(1, 2, 3)).part("key").aim) is tuple
    assert pickle.loads(pickle.dumps(walked)).part("key").aim.said == "clerk"
    two = replace(SETUP, marks=(replace(FACE, aim="Ann"), Mark(name="Ann", at=(3, 3, 1.5), aim="clerk")))
    assert two.marks[0].aim == (3, 3, 1.5) and two.marks[1].aim == FACE.at


def test_a_name_stays_a_name_in_the_file():
    lines, one = written(lambda one: one.with_part("clerk", at=(4, 7, 1.4)))
    assert lines == ["at = [4, 7, 1.4]"] and one.camera.aim == one.part("board").aim == (4, 7, 1.4)
    lines, _ = written(lambda one: replace(one, camera=replace(one.camera, aim=(4.0, 6.0, 1.4))))  # the same point, typed
    assert lines == ["camera = { at = [1, 1, 1.5], aim = [4, 6, 1.4] }"]


@pytest.mark.parametrize(
    "change, sentence",
    [
        (lambda: replace(SETUP, lights=(replace(KEY, aim="clark"),)),
         "setup '1', light 'key': aim must be a point or the name of a mark (clerk), got 'clark'"),
        (lambda: replace(SETUP, marks=(replace(FACE, aim="clerk"),)), "setup '1', mark 'clerk': aim must differ from at, got [2.4, 3.6, 1.4] for both"),
        (lambda: replace(KEY, aim=""), "light 'key': aim must be a text of 1 to 60 characters, got ''"),
    ],
)  # fmt: skip
def test_a_name_that_nobody_has(change, sentence):
    with pytest.raises(SceneError) as caught:
        change()
    assert str(caught.value) == sentence


# --- a lamp by its beam angle alone, a bulb of one's own ----------------------------------------------------


def test_a_light_in_lux_with_a_beam_angle_alone():
    text = PANNED.replace('kit = "1 kW tungsten spot"', "lux = 1000\nat_m = 3\nbeam_deg = 24")
    old = loads(text)
    light = old.setups[0].part("key")
    assert light.distribution == Beam(peak_cd=9000, beam_deg=24, field_deg=24 * materials.FIELD_PER_BEAM)
    for beam, line in (
        (replace(light.distribution, peak_cd=4500), "lux = 500"),
        (Beam(peak_cd=9000, beam_deg=30, field_deg=40), "field_deg = 40"),
    ):
        new = replace(old, setups=(old.setups[0].with_part("key", distribution=beam),))
        assert line in edited(text, old, new).splitlines()
    assert "field_deg" not in edited(text, old, replace(old, title="Ebb"))


def test_what_is_assumed_is_said(tmp_path, capsys):
    path = tmp_path / "tide.toml"
    path.write_text(PANNED.replace('kit = "1 kW tungsten spot"', "lux = 1000\nat_m = 3\nbeam_deg = 24"))
    sentence = "setup '1', light 'key': field_deg is not given; 36 is assumed, 1.5 x beam_deg (common practice)"
    assert shoot_file.ShootFile.open(path).assumptions == (sentence,)
    assert command.main(["check", str(path)]) == 0 and sentence in capsys.readouterr().out
    path.write_text(PANNED.replace('kit = "1 kW tungsten spot"', "lux = 1000\nat_m = 3\nbeam_deg = 24\nfield_deg = 36"))
    assert shoot_file.ShootFile.open(path).assumptions == () == shoot_file.ShootFile.open(shoot_file.demo_path()).assumptions


def test_a_bulb_in_a_shoot_file():
    # DERIVED: 800 lm all round are 800 / 4 pi cd.
    text = PANNED.replace('kit = "1 kW tungsten spot"', 'shape = "all round"\nlumens = 800')
    old = loads(text)
    light = old.setups[0].part("key")
    assert light.distribution.peak_cd == pytest.approx(800 / 4 / np.pi)
    assert same(loads(dumps(old)), old)
    brighter = replace(light.distribution, candela=((100.0, 100.0),))
    new = replace(old, setups=(old.setups[0].with_part("key", distribution=brighter),))
    assert same(loads(edited(text, old, new)), new)


def test_a_lamp_of_the_kit_as_a_light():
    light = Light(name="key", **AT, **from_kit(materials.lamp("650 W open face")))
    assert (light.watts, light.kelvin, light.distribution.field_deg) == (650, 3200, 90)


# --- the starter file -----------------------------------------------------------------------------------------

STARTER = shoot_file.STARTER.read_text(encoding="utf-8")


def section(kind):
    """The lines of the starter that speak of one kind of table; the camera's of package and setup together."""
    heads = {"shoot": "", "room": "[rooms.room]", "window": "[[rooms.room.windows]]", "exterior": "[exteriors.yard]", "setup": "[[setups]]",
             "haze_machine": "[haze_machine]", "circuit": "[[rooms.room.circuits]]"}  # fmt: skip
    one = kind in ("haze", "sun", "sky", "camera")
    head = heads.get(kind, f"[setups.{kind}]" if one else f"[[setups.{kind}s]]")
    blocks = STARTER.split("\n\n")
    found = [b for b in blocks if b.removeprefix("# ").startswith(head)] if head else blocks[1:2]
    return "\n".join(found + [b for b in blocks if kind == "camera" and b.startswith("[camera]")]).splitlines()


TYPED = [(part.kind, key, about) for part in shoot_read.CLASS.values() for key, about in keys(part).items()]


@pytest.mark.parametrize("kind, key, about", TYPED, ids=[f"{kind} {key}" for kind, key, _ in TYPED])
def test_every_field_stands_in_the_starter_with_its_range(kind, key, about):
    if about.kind in ("one", "many"):
        return  # a table: it has its own head
    (line,) = [line for line in section(kind) if re.match(rf"(# )?{key} = ", line)]
    note = line.partition("  #")[2]
    if about.choices:
        assert ", ".join(about.choices) in note
    elif about.kind not in ("point", "aim", "points"):
        assert note.endswith(about.limits), f"{note!r} does not end with {about.limits!r}"


INSTEAD = {"shutter_s": "shutter_deg", "visibility_m": "extinction_per_m", "loss_percent_per_m": "extinction_per_m", "g": "droplets",
           "pan_deg": "aim", "peak_cd": "kit", "lumens": "kit", "lux": "kit", "fc": "kit"}  # fmt: skip
WITH = {"pan_deg": ["tilt_deg"], "latitude_deg": ["longitude_deg", "time_zone", "horizon", "dates"], "lux": ["at_m", "beam_deg"],
        "fc": ["at_m", "beam_deg"], "peak_cd": ["beam_deg", "field_deg", "shape"], "lumens": ["face_width_m", "face_height_m"],
        "face_width_m": ["face_height_m"]}  # fmt: skip
NOT_ALONE = {key for keys_ in WITH.values() for key in keys_} - {"face_width_m", "beam_deg", "field_deg"} | {
    "photometry",
    "cuts_to",
    "kit",
    "circuit",
}


def test_the_starter_reads_with_every_line_live():
    # Whole tables behind a # are taken in whole; in the others each line, with those it goes with, for what it stands for.
    blocks, read = STARTER.replace("TITLE", '"Tide"').split("\n\n"), 0
    for n, block in enumerate(blocks[1:], 1):
        lines = block.splitlines()
        off = {line[2:].partition(" = ")[0]: line for line in lines if line.startswith("# ") and " = " in line}
        tries = [list(off)] if block.startswith("# [") else [[key, *WITH.get(key, [])] for key in off if key not in NOT_ALONE]
        for live in tries:
            live = [key for key in live if live != list(off) or key not in ("pan_deg", "tilt_deg")]
            gone = [INSTEAD[key] for key in live if key in INSTEAD]
            text = [line.removeprefix("# ") if line in [off[k] for k in live] or line.startswith("# [") else line for line in lines]
            text = [line for line in text if line.partition(" = ")[0] not in gone]
            loads("\n\n".join([*blocks[:n], "\n".join(text), *blocks[n + 1 :]]))
            read += len(live)
    assert read > 70


def test_a_quantity_without_a_range_says_only_its_kind():
    assert Quantity(kind="text").wanted() == "a text" and Quantity(kind="number").limits == ""
