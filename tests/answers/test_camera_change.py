"""A changed camera: levels by hand, and against the whole engine read again; the stop that puts a face on its target."""

from dataclasses import replace

import numpy as np
import pytest

import lightcalc as lc
from lightcalc.answers.camera_change import after_words, camera_for, exposed
from lightcalc.answers.headroom import answer
from lightcalc.answers.readings import readings

DEMO = lc.load(lc.demo_path())


@pytest.fixture(scope="module")
def loft():
    setup = DEMO.setup("1")
    return setup, readings(setup, quality="draft")


def test_another_exposure_is_the_whole_engine_read_again(loft):
    # INDEPENDENT: the setup with its camera changed, lit and read from the start; only sums are told apart, 1e-9.
    setup, read = loft
    camera = replace(setup.camera, t_stop=8.0, iso=1600.0, nd_stops=1.0, shutter_deg=90.0)
    moved, again = exposed(read, setup, camera), readings(replace(setup, camera=camera), quality="draft")
    for one, other in zip(moved.marks + moved.spots, again.marks + again.spots):
        assert one.level_stops == pytest.approx(other.level_stops, abs=1e-9)
    assert [m.veil_stops for m in moved.marks] == pytest.approx([m.veil_stops for m in again.marks], abs=1e-9)
    assert [(t.got_stops, t.met) for t in moved.targets] == [(pytest.approx(t.got_stops, abs=1e-9), t.met) for t in again.targets]
    assert (
        moved.spot("beam").beam_over_stops == read.spot("beam").beam_over_stops
        and moved.mark("clerk").ratio == read.mark("clerk").ratio
    )


def test_each_way_puts_the_mark_there(loft):
    # DERIVED: a stop less light is T x sqrt 2, half the ISO, half the angle, a stop of filter; clicks are a sixth of a stop off at most.
    setup, read = loft
    now = read.mark("clerk").level_stops
    found = camera_for(setup, mark="clerk", at_stops=now - 1.0, read=read)
    exact = {way.field: way.exact for way in found.ways}
    camera = setup.camera
    assert exact == pytest.approx({
        "t_stop": camera.t_stop * 2**0.5, "iso": camera.iso / 2, "nd_stops": camera.nd_stops + 1, "shutter_deg": camera.shutter_deg / 2,
    })  # fmt: skip
    for way in found.ways:
        assert abs(way.off_stops) <= 1 / 6 + 0.03
        assert way.read.mark("clerk").level_stops == pytest.approx(now - 1.0 + way.off_stops, abs=1e-9)


def test_the_target_is_what_is_wanted_unless_it_is_said(loft):
    setup, read = loft
    assert camera_for(setup, mark="clerk", read=read).at_stops == -0.33
    assert camera_for(setup, mark="far wall", read=read).at_stops == 0.0
    up = camera_for(setup, mark="clerk", at_stops=9.0, read=read)
    assert {way.field for way in up.ways if way.read is None} >= {"nd_stops", "shutter_deg"}
    assert "none does" in "\n".join(up.lines()) and up.as_json()["ways"][2]["read"] is None


def test_exactly_right_is_not_answered_as_short(loft):
    # A face 8.5 stops over grey at dusk, wanted half a stop under, gets nine stops taken away: on target, nothing to pay.
    setup, read = loft
    up = 2.0 ** (8.5 - read.mark("clerk").level_stops)
    bright = replace(
        setup, camera=replace(setup.camera, iso=setup.camera.iso * up), targets=(replace(setup.targets[0], stops=-0.5, within=0.2),)
    )
    over = readings(bright, quality="draft")
    assert over.mark("clerk").level_stops == pytest.approx(8.5) and not over.met
    said = answer(bright, t_stop=setup.camera.t_stop * 2**1.5, nd_stops=6.0, read=over, quality="draft")
    assert said.cost_stops == pytest.approx(9.0) and said.on_target and said.paid and "is on target" in said.lines()[0]
    assert "clerk −0.5" in said.lines()[1] and "every target met" in said.lines()[1]
    half = answer(bright, nd_stops=6.0, read=over, quality="draft")
    assert not half.on_target and "missed by +3.0" in "\n".join(half.lines())


def test_nonsense_is_refused(loft):
    setup, read = loft
    with pytest.raises(lc.SceneError, match=r"setup '1': no mark or spot 'clark'; did you mean 'clerk'\?"):
        camera_for(setup, mark="clark", read=read)
    dark = replace(setup, lights=(), boards=(), key=(), targets=(), spots=())
    with pytest.raises(lc.SceneError, match="'clerk': no light, so no camera"):
        camera_for(dark, mark="clerk", quality="draft")
    assert np.isfinite(read.marks[0].level_stops) and "clerk" in after_words(read)
