"""A crew's own kit beside its shoot file: found, checked, put over the package's, and left alone when the file is saved."""

from dataclasses import replace

import pytest

from lightcalc.kit import materials
from lightcalc.scene.own_kit import kit_beside
from lightcalc.scene.shoot_edit import dumps, same
from lightcalc.scene.shoot_file import DATA, ShootFile, load, new_text, save
from lightcalc.scene.shoot_read import ShootError, loads

OURS = """# metered in the drying loft, 3 May
[lamp."our spot"]
shape = "spot"
lux = 1180
at_m = 3.0
beam_deg = 51
field_deg = 64
watts = 1000
kelvin = 3200
source = "tungsten"
face_width_m = 0.13
face_height_m = 0.13
evidence = "measured"

[stuff.White]
reflectance = 0.79
evidence = "measured"

[gel."our half"]
transmittance = 0.7
mired_shift = 60
evidence = "measured"

[diffusion."old silk"]
direct = 0.2
diffuse = 0.2
evidence = "measured"

[surface."kitchen lino"]
reflectance = 0.31
evidence = "measured"
"""
USES = {
    'kit = "1.2 kW daylight spot"': 'kit = "our spot"', 'stuff = "white"': 'stuff = "White"',
    'floor = "room floor"': 'floor = "kitchen lino"', '# gel = "half warm"': 'gel = "our half"',
    '# diffusion = "quarter"': 'diffusion = "old silk"',
}  # fmt: skip


def text_of(named=""):
    """The starter, made of own things of every kind."""
    text = new_text("Low Tide")
    for old, new in USES.items():
        assert old in text
        text = text.replace(old, new)
    return text.replace("units =", f'kit = "{named}"\nunits =', 1) if named else text


@pytest.fixture
def folder(tmp_path):
    """A shoot file with kit.toml beside it."""
    (tmp_path / "kit.toml").write_text(OURS, encoding="utf-8")
    (tmp_path / "tide.toml").write_text(text_of(), encoding="utf-8")
    return tmp_path


def test_kit_toml_is_found_by_itself(folder):
    made = load(folder / "tide.toml").setups[0]
    light, board = made.lights[0], made.boards[0]
    # DERIVED: 1180 lx at 3 m is 10 620 cd.
    assert (light.distribution.peak_cd, light.watts, light.gel.mired_shift, light.diffusion.direct) == (10_620.0, 1000, 60, 0.2)
    assert (board.stuff.reflectance, made.place.floor) == (0.79, 0.31)


def test_a_named_kit_stands_in_for_kit_toml(folder):
    (folder / "sub").mkdir()
    (folder / "sub" / "ours.toml").write_text(OURS.replace("0.79", "0.77"), encoding="utf-8")
    path = folder / "named.toml"
    path.write_text(text_of("sub/ours.toml"), encoding="utf-8")
    assert load(path).setups[0].boards[0].stuff.reflectance == 0.77
    assert ShootFile.open(path).kit.file == "sub/ours.toml"


def test_an_own_name_stands_in_whatever_its_case(folder):
    beside = ShootFile.open(folder / "tide.toml").kit
    assert "White" in beside.whole.stuff and "white" not in beside.whole.stuff
    assert materials.stuff("WHITE", kit=beside.whole).reflectance == 0.79
    assert beside.whole.stuff["mirror"] is materials.stuff("mirror")
    assert beside.replaced == (("stuff", "White"),)
    assert beside.sentence == (
        "own kit kit.toml: 1 lamp, 1 board stuff, 1 diffusion, 1 gel, 1 surface; "
        "own numbers stand in for the package's: stuff 'White'"
    )
    assert materials.stuff("white").reflectance == 0.85  # the package's own is as it was


def test_the_packages_kit_beside_the_demo_is_nobodys_own():
    assert kit_beside(DATA).file == "" and kit_beside(DATA).sentence == "" and kit_beside(None).whole is materials.default_kit()


def test_a_copy_of_the_packages_kit_replaces_nothing(folder):
    (folder / "kit.toml").write_bytes((DATA / "kit.toml").read_bytes())
    beside = kit_beside(folder)
    assert beside.file == "kit.toml" and beside.replaced == () and "stand in" not in beside.sentence


@pytest.mark.parametrize("named", ["", "ours.toml"])
def test_it_is_written_back_unharmed(tmp_path, named):
    kit, path = tmp_path / (named or "kit.toml"), tmp_path / "tide.toml"
    kit.write_text(OURS, encoding="utf-8")
    path.write_text(text_of(named), encoding="utf-8")
    opened = ShootFile.open(path)
    one = opened.shoot.setups[0]
    moved = replace(opened.shoot, setups=(one.with_part("lamp", dim=0.5),))
    opened.save(moved)
    was, now = text_of(named).splitlines(), path.read_text(encoding="utf-8").splitlines()
    assert [line for line in now if line not in was] == [
        'dim = 0.5                      # share of full output, or "-2 stops"; >= 0 and <= 1'
    ]
    assert kit.read_text(encoding="utf-8") == OURS
    assert same(load(path), moved) and load(path).kit == named


def test_a_new_file_beside_the_kit_holds_it(folder):
    shoot = load(folder / "tide.toml")
    (folder / "ours.toml").write_text(OURS, encoding="utf-8")
    named = replace(shoot, kit="ours.toml")
    assert same(save(folder / "again.toml", named).shoot, named)
    assert 'kit = "ours.toml"' in (folder / "again.toml").read_text(encoding="utf-8")
    assert "peak_cd" not in dumps(named, folder)  # the lamp's numbers are left to the kit


def faults(text, folder):
    with pytest.raises(ShootError) as caught:
        loads(text, "tide.toml", folder)
    return str(caught.value).splitlines()


@pytest.mark.parametrize(
    "named, sentence",
    [
        ("gone.toml", "kit 'gone.toml' is not there; it is looked for beside the shoot file"),
        ("../kit.toml", "kit must lie in the shoot file's folder, got '../kit.toml'"),
        ("/etc/hostname", "kit must lie in the shoot file's folder, got '/etc/hostname'"),
        ("sub", "kit 'sub' is not there; it is looked for beside the shoot file"),
    ],
)
def test_a_kit_that_cannot_be_had_is_one_fault_with_its_line(folder, named, sentence):
    # What was to be found in it is no second fault.
    (folder / "sub").mkdir()
    line = text_of(named).splitlines().index(f'kit = "{named}"') + 1
    assert faults(text_of(named), folder) == [f"tide.toml, line {line}: {sentence}"]


@pytest.mark.parametrize(
    "old, new, words",
    [
        ("reflectance = 0.79", "reflectance = 1.4", "kit.toml, stuff 'White': reflectance must be >= 0 and <= 0.98, got 1.4"),
        ('evidence = "measured"', 'evidence = "sworn"', "kit.toml, lamp 'our spot': evidence must be one of published"),
        ("[gel.", "[gels.", "kit.toml: found [gels]; would accept lamp, stuff, diffusion, gel, surface"),
        ("[stuff.White]", "[stuff.White", "kit.toml: not a TOML file"),
        ("lux = 1180", 'file = "../lamp.ies"', "kit.toml, lamp 'our spot': at_m"),
        ("# metered", "#" + "x" * 1_000_001, "kit.toml: found more than 1000000 bytes"),
    ],
)
def test_a_kit_that_lies_is_refused_as_the_packages_would_be(folder, old, new, words):
    assert old in OURS
    (folder / "kit.toml").write_text(OURS.replace(old, new, 1), encoding="utf-8")
    (found,) = faults(text_of(), folder)
    assert words.split(": at_m")[0] in found and found.startswith("tide.toml: kit.toml")


def test_a_kit_wants_a_file_on_disk():
    with pytest.raises(ShootError, match=r"line \d+: kit 'ours.toml' needs a shoot file on disk"):
        loads(text_of("ours.toml"))


def test_a_name_that_no_kit_has_is_answered_with_the_own(folder):
    (found,) = faults(text_of().replace('kit = "our spot"', 'kit = "our spto"'), folder)
    assert "no lamp of the kit is called 'our spto'; did you mean 'our spot'?" in found
