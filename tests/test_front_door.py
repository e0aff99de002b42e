"""The front door: what a person guesses after `import lightcalc as lc` works, or answers with the right name."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import lightcalc as lc
from lightcalc.answers.readings import NotRead

HOME = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="module")
def shoot():
    return lc.load(lc.demo_path())


@pytest.fixture(scope="module")
def read(shoot):
    return lc.readings(shoot.setup("1"))


def test_every_public_name_is_there_and_is_what_its_home_holds():
    assert len(lc.__all__) > 60 and set(lc.__all__) < set(dir(lc))
    for name in lc.__all__:
        assert getattr(lc, name).__name__ == name, name


def test_the_rooms_of_the_map_are_the_rooms_there_are():
    there = {path.stem for path in (HOME / "lightcalc").iterdir() if (path / "__init__.py").is_file() or path.suffix == ".py"}
    assert set(lc._ROOMS) == there - {"__init__", "__main__"}
    for room in lc._ROOMS:
        assert f"\n    {room} " in lc.__doc__ or f"  {room}:" in lc.__doc__, room
    assert lc.laws.falloff.illuminance is lc.illuminance  # what stayed shut without a front door


def test_falloff_is_a_line():
    # DERIVED: inverse square, by hand: 45 000 / 3.7^2.
    assert lc.illuminance(intensity_cd=45_000, distance_m=3.7) == pytest.approx(45_000 / 3.7**2, rel=1e-12)


def test_fill_ratio_is_a_line():
    # COMMON PRACTICE: fill lands on the key side too: 300 over 100 is 4 : 1, two stops.
    assert lc.fill_ratio(key_lx=300, fill_lx=100) == pytest.approx(4.0)


def test_beam_over_is_a_line():
    # DERIVED: a background as bright as the beam is one stop; sigma p E w / sin by hand, isotropic, from the side.
    beam_cd_m2 = 0.05 / (4 * np.pi) * 3000 * 0.4
    over = lc.beam_over_stops(illuminance_lx=3000, width_m=0.4, extinction_per_m=0.05, background_cd_m2=beam_cd_m2, g=0.0)
    assert over == pytest.approx(1.0, rel=1e-12)


def test_the_same_from_a_shoot(read):
    clerk, beam = read.mark("clerk"), read.spot("beam")
    assert clerk is read["clerk"] and beam is read["beam"]
    assert clerk.ratio == pytest.approx(clerk.illuminance_lx / read["clerk, far cheek"].illuminance_lx)  # both cheeks are marked
    assert 2.0**-clerk.fill_under_stops == pytest.approx((clerk.key_lx + clerk.fill_lx) / clerk.fill_lx)
    assert beam.beam_over_stops == pytest.approx(np.log2(beam.luminance_cd_m2 / beam.background_cd_m2))


@pytest.mark.parametrize(
    ("ask", "answer"),
    [
        (lambda lc, read: lc.iluminance, "did you mean lightcalc.illuminance"),
        (lambda lc, read: lc.fill_ration, "did you mean lightcalc.fill_ratio"),
        (lambda lc, read: lc.ratio, "did you mean lightcalc.fill_ratio"),
        (lambda lc, read: lc.meter, "did you mean lightcalc.readings"),
        (lambda lc, read: lc.beam, "did you mean lightcalc.beam_over_stops"),
        (lambda lc, read: lc.quite_else, "help(lightcalc) has the map"),
        (lambda lc, read: read.mark("clark"), "setup '1': no mark 'clark'; did you mean 'clerk'?"),
        (lambda lc, read: read["Beam"], "did you mean 'beam'?"),
        (lambda lc, read: read.spot("clerk"), "no spot 'clerk'; there is "),
    ],
)
def test_a_near_miss_answers_with_the_right_name(read, ask, answer):
    with pytest.raises((AttributeError, NotRead)) as raised:
        ask(lc, read)
    assert answer in str(raised.value)


def test_the_door_opens_at_once():
    # It brings in nothing until it is asked; not numpy, not the engine. (How long that takes is the benchmark's to say.)
    said = subprocess.run(
        [sys.executable, "-c", "import sys, lightcalc; print([m for m in ('numpy', 'scipy', 'numba', 'matplotlib') if m in sys.modules])"],
        cwd=HOME, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert said.stdout.strip() == "[]"
