"""Layers: depth through haze along a sight line, held to Koschmieder's law, a thin shaft, and clear air."""

import json
from dataclasses import replace

import numpy as np
import pytest

from lightcalc import wording
from lightcalc.answers import readings
from lightcalc.answers.depth import Gap, Layers, Plane, layers
from lightcalc.drawing import ladder, palette, picture_figures
from lightcalc.engine.picture import sight_line
from lightcalc.engine.solve import light
from lightcalc.scene import shoot_file
from lightcalc.scene.parts import Camera, Exterior, Haze, Room, SceneError, Setup, Sky, Sun, Window
from lightcalc.units import m_from_ft

from drawn_words import boxes, clashes, new_axes, outside
from light_parts import BLACK, henyey_greenstein

LOFT = shoot_file.load(shoot_file.demo_path()).setup("1")
FAR = 300.0  # m; how far the engine follows a line outdoors


@pytest.fixture(scope="module")
def loft():
    """The demo's loft as a draft, and its layers towards the shaft."""
    lit = light(LOFT, "draft")
    return lit, layers(LOFT, towards="beam", lit=lit)


def pans(extinction_per_m, ground=0.23, zenith=1_900.0, horizon=1_900.0):
    """Open ground under a sky, the camera level over it."""
    return Setup(
        name="pans", title="", place=Exterior(name="salt pans", width_m=40, depth_m=26, ground=ground), camera=Camera(at=(20, 2, 1.6), aim=(20, 14, 1.6)),
        sky=Sky(zenith_cd_m2=zenith, horizon_cd_m2=horizon), haze=Haze(extinction_per_m=extinction_per_m, g=0.72),
    )  # fmt: skip


def crossed():
    """A black room with a low sun through a slot in the left wall; the line runs square to the sheet of light."""
    slot = Window(name="slot", wall="left", centre_m=3.3, sill_m=0.6, width_m=0.36, height_m=2.1)
    return Setup(
        name="slot", title="", place=Room(name="loft", width_m=6.3, depth_m=5.7, height_m=3.1, windows=(slot,), **BLACK), camera=Camera(at=(2.3, 0.4, 1.5), aim=(2.3, 5.7, 1.5)),
        sun=Sun(bearing_deg=270.0, elevation_deg=9.0, normal_lx=31_000.0), haze=Haze(extinction_per_m=0.017, g=0.6),
    )  # fmt: skip


# --- in the open ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("zenith, horizon", [(1_900.0, 1_900.0), (2_100.0, 700.0)])
@pytest.mark.parametrize("dark, pale", [(0.0, 0.04), (0.04, 0.9)])
def test_contrast_with_the_horizon_falls_as_koschmieder_says(zenith, horizon, dark, pale):
    # PUBLISHED: Koschmieder 1924; AMS Glossary, "visual range" and "meteorological range": C = C0 exp(-sigma d), and
    # a contrast of 0.02 is left at V = 3.912 / sigma. DERIVED: the light in the air is the same all along a level
    # line, so the line fills up towards the horizon's luminance as 1 - T. The engine follows the line for 300 m, where
    # 6e-6 of the sky behind still comes through: taken off the line's end here, or it would move the small contrast of a
    # pale card at V by 0.2 %. Accuracy: 0.1 % of C.
    sigma = 0.04
    visible = 3.912 / sigma
    found = layers(pans(sigma, zenith=zenith, horizon=horizon), towards=(20, 40, 1.6), targets=(dark, pale),
                   distances_m=(0.31 * visible, 0.5 * visible, visible))  # fmt: skip
    assert found.end_m == FAR
    left = np.exp(-sigma * FAR)
    endless = (found.end_cd_m2 - horizon * left) / (1 - left)
    for card, levels in ((dark, found.dark_stops), (pale, found.light_stops)):
        near = card * found.illuminance_lx / np.pi / endless - 1.0  # C0
        seen = found.reference_cd_m2 * 2.0**levels / endless - 1.0
        within = found.distance_m <= visible * 1.0001
        assert within.sum() > 15
        assert seen[within] / near[within] == pytest.approx(np.exp(-sigma * found.distance_m[within]), rel=1e-3)
        if card == 0.0:
            assert seen[found.distance_m == found.planes[2].distance_m] == pytest.approx(-0.02, rel=1e-3)


def test_in_thin_air_three_hundred_metres_are_the_limit():
    # DERIVED: with J the light of the endless air and L the sky given behind it, a line followed for D = 300 m
    # ends on J (1 - T_D) + L T_D, and a black card at d shows J (1 - T_d). Koschmieder's law is the limit T_D = 0.
    # At sigma = 0.006 /m (V = 652 m) T_D is 0.1653: J = 1168.5, the line ends on 1289.4, the air gives 527.2 at
    # 100 m, so the contrast there is 0.591, where the law says 0.549.
    sigma, ground, sky = 0.006, 0.23, 1_900.0
    air = 0.5 * sky * (1 + ground)  # half the light comes from an even sky, half from ground lit by it
    level = (20, 1_002, 1.61)  # a hair up, so that the sky is behind it and not the ground
    found = layers(pans(sigma, ground, sky, sky), towards=level, targets=(0.0, 0.9), distances_m=(50, 100, 290))
    end = air * -np.expm1(-sigma * FAR) + sky * np.exp(-sigma * FAR)
    assert found.end_cd_m2 == pytest.approx(end, rel=1e-4)
    black = found.reference_cd_m2 * 2.0**found.dark_stops
    assert black == pytest.approx(air * -np.expm1(-sigma * found.distance_m), rel=1e-4)
    assert 1 - found.planes[1].veil_cd_m2 / end == pytest.approx(0.591, abs=0.0005)


# --- limits --------------------------------------------------------------------------------------------------


def test_without_haze_the_levels_are_plain():
    # DERIVED: L = rho E / pi, so a card of 0.18 would sit at the incident level, log2(E / E_ref), and any other at
    # log2(rho / 0.18) from there; two cards are log2(0.83 / 0.053) stops apart wherever they are held.
    setup = replace(LOFT, haze=Haze(extinction_per_m=0.0))
    lit = light(setup, "draft")
    found = layers(setup, towards="far wall", lit=lit, targets=(0.053, 0.83))
    ray = np.subtract((3.0, 9.2, 1.9), setup.camera.at)
    ray = ray / np.linalg.norm(ray)
    at = np.array(setup.camera.at) + found.distance_m[:-1, None] * ray
    incident = np.log2(lit.illuminance_lx(at, np.tile(-ray, (len(at), 1))).sum(axis=1) / setup.camera.reference_lx)
    assert found.dark_stops[:-1] == pytest.approx(incident + np.log2(0.053 / 0.18), abs=1e-9)
    assert found.light_stops[:-1] == pytest.approx(incident + np.log2(0.83 / 0.18), abs=1e-9)
    assert found.separation_stops == pytest.approx(np.full(48, np.log2(0.83 / 0.053)), abs=1e-9)
    assert (found.veil_cd_m2 == 0.0).all() and found.ticks() == ()
    for name in ("dark_stops", "light_stops", "separation_stops"):
        assert getattr(found, name).tolist() == getattr(found, f"clear_{name}").tolist()
    assert "clear air" not in "".join(found.lines()) and found.lines()[-1].startswith("  No haze: light and dark stay 4.0")


def test_the_clear_curve_is_the_same_setup_without_haze(loft):
    # DERIVED: one definition, reached on two ways; lights, boards and camera stay, only the extinction goes.
    _, hazed = loft
    clear = layers(replace(LOFT, haze=replace(LOFT.haze, extinction_per_m=0.0)), towards="beam", quality="draft")
    assert hazed.clear_dark_stops == pytest.approx(clear.dark_stops, abs=1e-9)
    assert hazed.clear_light_stops == pytest.approx(clear.light_stops, abs=1e-9)
    assert not np.allclose(hazed.dark_stops, clear.dark_stops, atol=0.5)


def test_what_the_lens_sees_of_a_card_is_what_comes_through_plus_the_veil(loft):
    # INDEPENDENT: haze.luminance_through_haze and separation_stops_through_haze, the closed forms; both assume
    # that light through haze is what comes through plus what the air adds.
    from lightcalc.laws import haze

    _, found = loft
    air = dict(extinction_per_m=0.04, path_m=found.distance_m, airlight_cd_m2=found.veil_cd_m2)
    cards = [rho * found.illuminance_lx / np.pi for rho in (0.04, 0.9)]
    for card, levels in zip(cards, (found.dark_stops, found.light_stops)):
        seen = haze.luminance_through_haze(luminance_cd_m2=card, **air)
        assert found.reference_cd_m2 * 2.0**levels == pytest.approx(seen, rel=1e-9)
    apart = haze.separation_stops_through_haze(target_cd_m2=cards[1], background_cd_m2=cards[0], **air)
    assert found.separation_stops == pytest.approx(apart, abs=1e-9)
    assert (found.separation_stops < found.clear_separation_stops).all(), "haze only takes separation away"


# --- the veil ------------------------------------------------------------------------------------------------


def test_the_veil_never_falls_with_distance(loft):
    # DERIVED: the air only adds light, so what it adds up to there grows with the way, however it is lit.
    _, found = loft
    assert found.veil_cd_m2[0] > 0.0
    assert (np.diff(found.veil_cd_m2) >= 0.0).all()
    assert (np.diff(found.distance_m) > 0).all() and found.distance_m[-1] == found.end_m


@pytest.mark.slow
def test_the_veil_is_the_sight_line_s_and_the_meter_s():
    # INDEPENDENT sum of the same light: readings.readings and picture.sight_line cut the line in 24, here in 48. They
    # agreed to 0.5 % (0.007 stop) on this setup at final quality; 1 % is held.
    lit = light(LOFT, "final")
    mark = readings.readings(LOFT, lit=lit).marks[0]
    to_mark = float(np.linalg.norm(np.subtract((3.0, 4.6, 1.25), LOFT.camera.at)))
    end = sight_line(lit, np.subtract((3.0, 4.6, 1.25), LOFT.camera.at) / to_mark).reach_m
    found = layers(LOFT, towards="clerk", lit=lit, distances_m=(0.37, 1.9, min(to_mark, end)))
    assert found.planes[2].veil_cd_m2 == pytest.approx(mark.veil_cd_m2, rel=0.01)
    assert found.planes[2].transmittance == pytest.approx(mark.transmittance, rel=0.01)
    ray = np.subtract((4.6, 5.2, 1.9), LOFT.camera.at)
    ray = ray / np.linalg.norm(ray)
    shaft = layers(LOFT, towards="beam", lit=lit, distances_m=(2.1, 4.4, 8.2))
    for plane in shaft.planes:
        one = sight_line(lit, ray, to_m=plane.distance_m)
        assert plane.veil_cd_m2 == pytest.approx(one.air_cd_m2, rel=0.01)
        assert plane.transmittance == pytest.approx(one.transmittance, rel=1e-9)
    assert shaft.end_cd_m2 == sight_line(lit, ray).luminance_cd_m2


@pytest.mark.slow
def test_a_shaft_steps_the_veil_where_the_line_crosses_it():
    # DERIVED: parallel light E crosses the line at right angles in a sheet w wide: it sends the lens
    # sigma p(90) E w exp(-sigma (d + path from the slot)), worked here in plain numpy with Henyey-Greenstein as
    # printed. In a black room all else is light turned twice, 1.7 % of the step where the line is in the shaft: 3 % is
    # held; and 4.8 % all the way up to it (converged, 40,000 points), of which 6 % is held.
    setup = crossed()
    found = layers(setup, towards=(0.5, 0.5), distances_m=(2.6, 3.2, 5.0))  # before, after and well after the sheet
    sigma, w, middle = 0.017, 0.36, 3.3 - 0.4
    from_slot = 2.3 / np.cos(np.radians(9.0))
    step = sigma * henyey_greenstein(0.6, 0.0) * 31_000.0 * w * np.exp(-sigma * (middle + from_slot))
    before, after, beyond = (plane.veil_cd_m2 for plane in found.planes)
    assert after - before == pytest.approx(step, rel=0.03)
    assert before < 0.06 * step and beyond - after < 0.05 * step
    inside = (found.distance_m > middle - w / 2) & (found.distance_m < middle + w / 2)
    assert inside.sum() >= 3 and (np.diff(found.veil_cd_m2[inside]) > 0.1 * step).all()
    assert found.finding().startswith("Only the haze brings light"), "in clear air the black room leaves the cards dark"
    assert found.gaps[0].dark_stops > 3.0, "the shaft lifts what stands behind it off what stands before it"


def test_planes_and_gaps_are_read_off_the_curve(loft):
    # DERIVED: by default a quarter, half and all of the way; a gap is the farther level less the nearer one.
    _, found = loft
    assert [plane.name for plane in found.planes] == ["foreground", "middle ground", "background"]
    assert [plane.distance_m for plane in found.planes] == pytest.approx(found.end_m * np.array([0.25, 0.5, 1.0]))
    for plane, k in zip(found.planes, (11, 23, 47)):
        for name in ("dark_stops", "light_stops", "separation_stops", "clear_dark_stops", "clear_separation_stops", "veil_stops"):
            assert getattr(plane, name) == getattr(found, name)[k]
    near, _, far = found.planes
    assert [(gap.nearer, gap.farther) for gap in found.gaps] == [
        ("foreground", "middle ground"), ("middle ground", "background"), ("foreground", "background"),
    ]  # fmt: skip
    assert found.gaps[2].dark_stops == pytest.approx(far.dark_stops - near.dark_stops)
    assert found.gaps[0].dark_stops + found.gaps[1].dark_stops == pytest.approx(found.gaps[2].dark_stops)


def test_the_last_card_is_held_off_the_wall():
    # DERIVED: a card facing the lens just before a plain wall is lit as one a centimetre further in is; on the wall
    # itself half of it would be inside. The far wall of the loft is lit evenly there to 2 % over 5 cm.
    lit = light(replace(LOFT, haze=Haze(extinction_per_m=0.0)), "draft")
    found = layers(lit.setup, towards="far wall", lit=lit)
    at = np.array(LOFT.camera.at)
    ray = np.subtract((3.0, 9.2, 1.9), at)
    ray = ray / np.linalg.norm(ray)
    held = lit.illuminance_lx([at + (found.end_m - 0.05) * ray], [-ray]).sum()
    assert found.illuminance_lx[-1] == pytest.approx(held, rel=1e-9)
    assert found.illuminance_lx[-1] == pytest.approx(lit.illuminance_lx([at + (found.end_m - 0.1) * ray], [-ray]).sum(), rel=0.02)


# --- where the line goes -------------------------------------------------------------------------------------


@pytest.mark.slow
def test_a_name_a_point_and_a_picture_place_are_one_line(loft):
    # DERIVED: the spot's place as a name, as its three metres, and where the lens draws it are the same direction.
    lit, by_name = loft
    at = (4.6, 5.2, 1.9)
    forward = np.subtract(LOFT.camera.aim, LOFT.camera.at) / np.linalg.norm(np.subtract(LOFT.camera.aim, LOFT.camera.at))
    right = np.cross(forward, (0, 0, 1)) / np.linalg.norm(np.cross(forward, (0, 0, 1)))
    away = np.subtract(at, LOFT.camera.at)
    u = 0.5 + (away @ right) / (away @ forward) * LOFT.camera.focal_mm / LOFT.camera.sensor_width_mm
    v = 0.5 - (away @ np.cross(right, forward)) / (away @ forward) * LOFT.camera.focal_mm / LOFT.camera.sensor_height_mm
    for towards in (at, [float(u), float(v)]):
        other = layers(LOFT, towards=towards, lit=lit)
        assert other.end_m == pytest.approx(by_name.end_m, rel=1e-9)
        assert other.veil_cd_m2 == pytest.approx(by_name.veil_cd_m2, rel=1e-6)
    assert by_name.towards == "beam" and layers(LOFT, lit=lit).towards == "the middle of the picture"


@pytest.mark.parametrize("given, sentence", [
    (dict(towards="owner"), r"setup '1': towards must be one of its marks and spots \(clerk, clerk, far cheek, beam, far wall\), got 'owner'"),
    (dict(towards=(1.3, 0.7, 1.45)), r"towards must lie away from the camera, got its own place \[1.3, 0.7, 1.45\]"),
    (dict(towards=(0.2, 1.4)), "towards must be >= 0 and <= 1, got 1.4: shares of the picture's width and height"),
    (dict(towards=(0.2,)), "towards must be a name, a point .* or a picture place .*, got 1 numbers"),
    (dict(towards=(0.2, np.nan, 1.0)), "towards must be a finite number, got nan"),
    (dict(targets=(0.9, 0.04)), "targets must rise from dark to light, got 0.9 then 0.04"),
    (dict(targets=(0.04, 1.2)), "targets must be >= 0 and <= 1, got 1.2"),
    (dict(targets=(0.04,)), "targets must be two reflectances, dark then light, got 1"),
    (dict(distances_m=(2.0, 1.0, 3.0)), "distances_m must grow from foreground to background, got 2, 1, 3"),
    (dict(distances_m=(0.0, 1.0, 3.0)), "distances_m must be <= 9.77056 and > 0, got 0: the line ends there"),
    (dict(distances_m=(1.0, 2.0, 30.0)), "distances_m must be <= 9.77056 and > 0, got 30: the line ends there"),
    (dict(distances_m=(1.0, 2.0)), "distances_m must be three: foreground, middle ground, background; got 2"),
])  # fmt: skip
def test_bad_input_is_one_sentence(loft, given, sentence):
    lit, _ = loft
    with pytest.raises(ValueError, match=sentence) as caught:
        layers(LOFT, lit=lit, **given)
    assert "\n" not in str(caught.value)
    assert isinstance(caught.value, SceneError) == ("setup '1'" in str(caught.value))


# --- as text and data ----------------------------------------------------------------------------------------


def hand_made(**changes):
    """A curve with no physics in it, whose numbers can be checked by eye; middle grey is 1 cd/m2."""
    row = dict(dark_stops=-3.0, light_stops=-0.26, separation_stops=2.74, clear_dark_stops=-4.0, clear_light_stops=0.52,
               clear_separation_stops=4.52, transmittance=0.9, illuminance_lx=8.44, clear_illuminance_lx=9.96, veil_cd_m2=0.125,
               veil_stops=-3.04)  # fmt: skip
    planes = tuple(
        Plane(name=n, distance_m=d, **row) for n, d in (("foreground", 1.524), ("middle ground", 3.0), ("background", 6.0))
    )
    gap = dict(dark_stops=2.06, light_stops=-0.31, clear_dark_stops=-0.04, clear_light_stops=0.0)
    gaps = tuple(Gap(a, b, **gap) for a, b in (("foreground", "middle ground"), ("foreground", "background")))
    d = np.array([1.524, 3.0, 6.0])
    return replace(
        Layers(
            "4", "runner", 0.05, 1.0, 0.04, 0.9, 6.0, 0.5, d, np.exp(-0.05 * d), 0 * d + 8.44, 0 * d + 9.96, 0.02 * d, planes, gaps
        ),
        **changes,
    )


def test_the_text_reads_in_both_units_to_a_tenth():
    # DERIVED: 1.524 m is 5 ft exactly; 8.44 lx is 0.784 fc; -0.04 rounds to a bare zero.
    found = hand_made()
    metric, feet = found.lines(), found.lines("feet")
    assert metric[0] == "4: towards runner, the line ends after 6.0 m at −1.0 stops; haze 0.05 /m; cards reflect 0.04 and 0.9"
    assert metric[1] == "  foreground, 1.5 m: dark −3.0, light −0.3, 2.7 stops apart; veil −3.0; 8.44 lx"
    assert metric[2] == "    in clear air: dark −4.0, light +0.5, 4.5 stops apart; 9.96 lx"
    assert metric[7] == "  from foreground to middle ground: dark +2.1, light −0.3 stops; in clear air 0.0 and 0.0"
    assert metric[-1] == f"  {found.finding()}"
    assert feet[1] == "  foreground, 5.0 ft: dark −3.0, light −0.3, 2.7 stops apart; veil −3.0; 0.784 fc"
    assert len(metric) == len(feet) == 10
    assert found.finding() == (
        "From foreground to background the darks move +2.1 stops (0.0 in clear air); there light and dark keep 2.7 of their 4.5 stops"
    )
    assert hand_made(end_m=300.0).lines()[0].startswith("4: towards runner, the line is followed no further, after 300 m")


def test_json_carries_units_in_its_keys_and_no_number_that_json_lacks(loft):
    _, found = loft
    row = found.as_json()
    assert json.loads(json.dumps(row, allow_nan=False)) == row
    unitless = {"transmittance", "dark_reflectance", "light_reflectance"}

    def check(part):
        for key, value in part.items():
            if isinstance(value, list) and value and isinstance(value[0], dict):
                for inner in value:
                    check(inner)
            elif not isinstance(value, str):
                assert key in unitless or key.endswith(("_m", "_per_m", "_lx", "_cd_m2", "_stops")), key

    check(row)
    assert row["dark_stops"] == found.dark_stops.tolist() and len(row["distance_m"]) == 48
    assert row["planes"][2]["separation_stops"] == found.planes[2].separation_stops
    black = layers(replace(LOFT, lights=(), key=(), spots=(), targets=(), haze=Haze(extinction_per_m=0.0)), quality="draft")
    assert black.as_json()["dark_stops"] == [None] * 48
    assert black.planes[0].apart == "both black" and "nothing to tell apart" in black.lines()[-1]


# --- drawn ---------------------------------------------------------------------------------------------------


def drawn(found, units="metric", **more):
    """The curve on a page, its axes, and every word with its box in pixels."""
    figure = picture_figures.layers_figure(found, units=units, **more)
    return figure, figure.axes[0], boxes(figure)


@pytest.mark.slow
@pytest.mark.parametrize("units", ["metric", "feet"])
@pytest.mark.parametrize("case", ["shaft", "clerk", "close planes", "clear", "open", "by hand"])
def test_words_stay_on_the_page_and_off_each_other(loft, case, units):
    lit, shaft = loft
    found = {
        "shaft": lambda: shaft, "clerk": lambda: layers(LOFT, towards="clerk", lit=lit),
        "close planes": lambda: layers(LOFT, towards="beam", lit=lit, distances_m=(1.1, 1.4, 1.9)),
        "clear": lambda: layers(replace(LOFT, haze=Haze(extinction_per_m=0.0)), towards="clerk, far cheek", quality="draft"),
        "open": lambda: layers(pans(0.02), quality="draft"), "by hand": hand_made,
    }[case]()  # fmt: skip
    figure, ax, words = drawn(found, units)
    said = [text for text, _ in words]
    assert clashes(words) == []
    assert outside(words, figure.bbox) == []
    cards = [label for *_, label in picture_figures.LAYER_CURVES if found.extinction_per_m > 0 or "clear" in label]
    named = [text for text in said if text in cards or text.startswith(tuple(plane.name for plane in found.planes))]
    assert sorted(t for t in named if t in cards) == sorted(cards), "every curve is named"
    assert sum(t.startswith(("foreground", "middle ground", "background")) for t in named) == 3
    inside = [(text, box) for text, box in words if text in named]
    assert outside(inside, ax.get_window_extent()) == []


@pytest.mark.slow
def test_what_is_drawn_is_the_numbers_in_the_reader_s_unit(loft):
    # DERIVED: colour is never the only cue; 1 ft is 0.3048 m exactly.
    _, found = loft
    for units, scale in (("metric", 1.0), ("feet", 0.3048)):
        _, ax, _ = drawn(found, units)
        curves = {line.get_gid(): line for line in ax.lines if line.get_gid()}
        assert set(curves) == {"dark_stops", "light_stops", "veil_stops", "clear_dark_stops", "clear_light_stops"}
        for name, line in curves.items():
            assert line.get_xdata() == pytest.approx(found.distance_m / scale, rel=1e-12)
            assert line.get_ydata().tolist() == getattr(found, name).tolist()
        looks = [(line.get_linestyle(), line.get_color()) for line in curves.values()]
        assert len(set(looks)) == 5
        markers = [line for line in ax.lines if line.get_marker() in "oD^"]
        assert len({(m.get_marker(), m.get_markerfacecolor() == palette.PAPER) for m in markers}) == 5, "told apart in grey"
        assert [m.get_xdata() == pytest.approx([p.distance_m / scale for p in found.planes]) for m in markers] == [True] * 5
        assert f"({'m' if units == 'metric' else 'ft'})" in ax.get_xlabel() and "(stops" in ax.get_ylabel()
    assert " ".join(ax.get_title(loc="left").split()) == found.finding().replace("-", "\u2212")
    band = ax.collections[0].get_paths()[0].get_extents()
    assert band.y0 == pytest.approx(found.dark_stops.min()) and band.y1 == pytest.approx(found.light_stops.max())
    assert m_from_ft(band.x1) == pytest.approx(found.end_m)
    with pytest.raises(ValueError, match="units must be one of metric, feet, got 'yards'"):
        picture_figures.layers_figure(found, units="yards")


def test_the_ladder_takes_the_veil_at_the_three_planes(loft):
    lit, found = loft
    read = readings.readings(LOFT, lit=lit)
    ticks = found.ticks()
    assert [(t.label, t.kind) for t in ticks] == [(f"veil at {p.name}", "veil") for p in found.planes]
    assert [t.stops for t in ticks] == [p.veil_stops for p in found.planes]
    ax = new_axes(11.0, 2.4, (0.02, 0.25, 0.96, 0.6))
    ladder.ladder(ax, read, LOFT, ticks=ticks)
    words = boxes(ax.figure)
    for tick in ticks:
        assert any(text.startswith(f"{tick.label} {wording.stops_text(tick.stops)}") for text, _ in words), tick
    assert clashes(words) == [] and outside(words, ax.figure.bbox) == []
    assert len(ax.lines) == len(_without(read, LOFT).lines) + 2 * len(ticks), "a pole and a marker each"


def _without(read, setup):
    ax = new_axes(11.0, 2.4, (0.02, 0.25, 0.96, 0.6))
    ladder.ladder(ax, read, setup)
    return ax
