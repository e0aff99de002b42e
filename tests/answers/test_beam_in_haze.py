"""Readings against the density of the haze."""

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure

from lightcalc.answers import beam_in_haze
from lightcalc.answers.readings import readings
from lightcalc.drawing import picture_figures
from lightcalc.laws import haze
from lightcalc.scene import shoot_file

from drawn_words import new_axes

LOFT = shoot_file.load(shoot_file.demo_path()).setup("1")
NAMES = {"beam": "beam", "bright": "clerk", "dark": "clerk, far cheek"}


@pytest.mark.slow
def test_clear_air_shows_no_beam_and_the_whole_contrast():
    # DERIVED: without droplets nothing scatters into the line, so the beam is 0 stops over its background, and
    # the cheeks are as far apart as the incident meter says.
    found = beam_in_haze.haze_sweep(LOFT, [0.0], **NAMES, quality="draft")
    marks = readings(beam_in_haze.with_haze(LOFT, 0.0), quality="draft").marks
    assert found.beam_over_stops == pytest.approx([0.0], abs=1e-9)
    assert found.contrast_stops == pytest.approx([marks[0].level_stops - marks[1].level_stops], abs=1e-9)


def test_each_density_is_a_reading_of_its_own():
    # DERIVED: a sweep is nothing but readings; order and values must be those of single calls.
    found = beam_in_haze.haze_sweep(LOFT, [0.23, 0.017], **NAMES, quality="draft")
    for row, k in enumerate((0.23, 0.017)):
        one = readings(replace(LOFT, haze=replace(LOFT.haze, extinction_per_m=k)), quality="draft")
        assert found.beam_over_stops[row] == one.spots[0].beam_over_stops
        assert found.bright_stops[row] != found.dark_stops[row]
    assert found.extinction_per_m.tolist() == [0.23, 0.017]


def test_contrast_through_haze_is_the_closed_forms():
    # INDEPENDENT of the module's own sum: haze.separation_stops_through_haze, given the same path and veil for
    # both cheeks; both assume that light through haze is what comes through plus what the air adds.
    read = readings(LOFT, quality="draft")
    lit, shaded = read.marks
    k = LOFT.haze.extinction_per_m
    path_m = -np.log(lit.transmittance) / k
    apart = beam_in_haze.seen_stops(lit, reference_cd_m2=2.9) - beam_in_haze.seen_stops(
        replace(shaded, transmittance=lit.transmittance, veil_cd_m2=lit.veil_cd_m2), reference_cd_m2=2.9
    )
    closed = haze.separation_stops_through_haze(
        target_cd_m2=0.18 * lit.illuminance_lx / np.pi, background_cd_m2=0.18 * shaded.illuminance_lx / np.pi,
        extinction_per_m=k, path_m=path_m, airlight_cd_m2=lit.veil_cd_m2,
    )  # fmt: skip
    assert apart == pytest.approx(float(closed), rel=1e-9)
    assert 0.3 < apart < lit.level_stops - shaded.level_stops, "haze takes contrast away, not all of it"


@pytest.mark.parametrize("field, name, known", [
    ("beam", "far wall", "beam must be one of beam, got 'far wall'"),  # a spot, but of no source
    ("bright", "owner", "bright must be one of clerk, clerk, far cheek, got 'owner'"),
    ("dark", "", "dark must be one of"),
])  # fmt: skip
def test_an_unknown_name_lists_the_known(field, name, known):
    with pytest.raises(ValueError, match=known):
        beam_in_haze.haze_sweep(LOFT, [0.05], **(NAMES | {field: name}))


def test_limits_are_those_of_the_scene():
    with pytest.raises(ValueError, match="extinction_per_m must be"):
        beam_in_haze.with_haze(LOFT, -0.01)
    with pytest.raises(ValueError, match="reference_cd_m2 must be > 0"):
        beam_in_haze.seen_stops(readings(beam_in_haze.with_haze(LOFT, 0.0), quality="draft").marks[0], reference_cd_m2=0.0)


def test_the_curve_is_the_sweep_with_units_on_both_axes():
    # DERIVED: what is drawn is the numbers given, told apart by dash and marker as well as by colour.
    k = np.array([0.0, 0.013, 0.07])
    found = beam_in_haze.HazeSweep(k, np.array([0.0, 1.1, 0.9]), np.array([-0.2, -0.3, -0.4]), np.array([-3.1, -2.9, -2.2]))
    ax = Figure().add_subplot()
    picture_figures.beam_against_haze(ax, found, at_per_m=0.07)
    beam, face, here = ax.lines
    assert beam.get_xydata().tolist() == [[0.0, 0.0], [0.013, 1.1], [0.07, 0.9]]
    assert face.get_xdata().tolist() == k.tolist() and face.get_ydata() == pytest.approx([2.9, 2.6, 1.8])
    assert here.get_xdata() == [0.07, 0.07]
    assert len({(line.get_linestyle(), line.get_marker()) for line in ax.lines}) == 3
    assert "(1/m)" in ax.get_xlabel() and "(stops)" in ax.get_ylabel()
    assert ax.get_xlim()[0] == 0.0 and ax.get_xlim()[1] > 0.07, "the last marker is not cut"
    assert [text.get_text() for text in ax.get_legend().get_texts()][-1] == "this setup, 0.07 /m"


def test_walking_round_the_beam_in_a_white_and_a_dark_room():
    # COMMON PRACTICE: haze shows most against the light, least from the lamp's side; white walls wash a beam out.
    # None of that is put in: it comes out of the phase function and of what bounces.
    loft = shoot_file.load(shoot_file.demo_path()).setup("1")
    found = {
        grey: beam_in_haze.beam_map(
            beam_in_haze.painted(loft, grey), [0.02, 0.08], [10.0, 90.0, 170.0], beam="beam", camera_m=1.6, quality="draft"
        )
        for grey in (0.05, 0.8)
    }
    dark, white = found[0.05].beam_over_stops, found[0.8].beam_over_stops
    assert dark.shape == (3, 2)
    assert (dark[0] > dark[1] + 1.0).all() and (dark[1] > dark[2] - 0.5).all(), dark
    assert (dark > white + 0.2).all(), dark - white  # measured 0.27 to 2.7 stops


def test_a_walk_out_of_the_room_is_refused():
    loft = shoot_file.load(shoot_file.demo_path()).setup("1")
    with pytest.raises(ValueError, match="camera: at must be inside"):
        beam_in_haze.beam_map(loft, [0.05], [0.0], beam="beam", camera_m=40.0)
    with pytest.raises(ValueError, match="beam must be one of beam, got 'far wall'"):
        beam_in_haze.beam_map(loft, [0.05], [0.0], beam="far wall")


def test_the_map_draws_a_line_an_angle_and_a_panel_a_room():
    found = beam_in_haze.BeamMap(np.array([10.0, 90.0]), np.array([0.01, 0.1]), np.array([[3.0, 4.0], [0.5, 0.2]]))
    axes = [new_axes(4, 3, (0.15, 0.2, 0.8, 0.7)) for _ in range(2)]
    picture_figures.beam_map(axes, {"dark": found, "white": found})
    for ax, name in zip(axes, ("dark", "white")):
        assert ax.get_title() == name and "(1/m)" in ax.get_xlabel()
        assert [line.get_ydata().tolist() for line in ax.lines] == [[3.0, 4.0], [0.5, 0.2]]
        assert len({(line.get_linestyle(), line.get_marker(), line.get_color()) for line in ax.lines}) == 2
    assert "(stops)" in axes[0].get_ylabel()
    assert [text.get_text() for text in axes[0].get_legend().get_texts()] == ["10°", "90°"]
