"""The camera tables: figures against the published ones, the page as another program reads it."""

import dataclasses
import re

import numpy as np
import pytest

from lightcalc.paper import camera_sheet
from lightcalc.paper.page import plain_look

import drawn_parts as parts
from drawn_words import clashes, outside
from printed_parts import page_boxes, page_text, tool

CAMERA = dataclasses.replace(parts.bare().camera, focal_mm=50.0, fps=24.0, shutter_deg=180.0)


def written(path, camera=CAMERA, **how):
    return camera_sheet.tables_sheet(parts.shoot(parts.bare()), camera, path, **how)


def test_light_for_each_stop():
    # INDEPENDENT: colour-hdri 0.2.6, C 250, 1/48 s: ISO 100, T1.4 to 16: 22.30 44.59 89.19 178.4 356.8 713.5 1427 2854 fc.
    found = camera_sheet.camera_tables(CAMERA)
    assert found.light_fc[:, 0] == pytest.approx([22.30, 44.59, 89.19, 178.4, 356.8, 713.5, 1427, 2854], rel=4e-4)
    # DERIVED: each doubling of ISO halves it; COMMON PRACTICE: the 100 fc at T2.8 of old manuals is .17 stop over it.
    assert found.light_lx[3] == pytest.approx(1920 / 2.0 ** np.arange(8), rel=1e-9)
    assert abs(np.log2(100 / found.light_fc[2, 0])) < 0.2


def test_slow_motion_flicker_and_filters():
    # DERIVED: log2(24/f); the time holds to 48 fps, where 180 degrees have become 360.
    found = camera_sheet.camera_tables(CAMERA)
    cost = dict(zip(found.slow_fps, zip(found.angle_cost_stops, found.time_cost_stops)))
    assert cost[60.0] == (pytest.approx(-1.3219, abs=1e-4), pytest.approx(-0.3219, abs=1e-4)) and cost[48.0][1] == 0.0
    # COMMON PRACTICE: 172.8 degrees on 50 Hz and 144 on 60 Hz at 24 fps.
    at = list(found.flicker_fps).index(24.0)
    assert 172.8 in found.flicker_50_hz_deg[at].round(6) and 144.0 in found.flicker_60_hz_deg[at].round(6)
    assert found.nd_stops == pytest.approx(np.log2(10.0 ** np.array(camera_sheet.DENSITIES)), rel=1e-12)


def test_depth_of_field_by_hand():
    # DERIVED by hand (thin lens): 50 mm, T2.8284, c .0249: H = 2500/(2.8284 x .0249) + 50 mm = 35.55 m; at 3 m 2.770 to 3.272.
    found = camera_sheet.camera_tables(CAMERA)
    row, stop = list(found.distance_m).index(3.0), list(found.t_stop).index(2.8)
    assert found.hyperfocal_m[stop] == pytest.approx(35.55, abs=0.01)
    assert (found.near_m[row, stop], found.far_m[row, stop]) == (pytest.approx(2.770, abs=2e-3), pytest.approx(3.272, abs=2e-3))
    assert np.isinf(found.far_m[-1, -1])


@pytest.mark.slow
@pytest.mark.parametrize(
    "units, paper, pts", [("metric", "a4", "595.276 x 841.89"), ("feet", "a4", "595.276 x 841.89"), ("feet", "letter", "612 x 792")]
)
@pytest.mark.parametrize("change", [
    {}, {"fps": 120.0, "focal_mm": 25.0}, {"fps": 24_000 / 1001, "shutter_deg": 11.25, "focal_mm": 300.0},
    {"fps": 1000.0, "shutter_deg": 360.0, "focal_mm": 900.0, "sensor_width_mm": 54.0}], ids=["usual", "slow", "odd", "extreme"])  # fmt: skip
def test_one_readable_page(tmp_path, change, units, paper, pts):
    # INDEPENDENT: poppler counts the pages; boxes measured by the renderer. PUBLISHED: ISO 216 A4; letter is 8.5 x 11 in.
    camera = dataclasses.replace(CAMERA, **change)
    told = tool("pdfinfo", written(tmp_path / "page.pdf", camera, units=units, name="setup 6", paper=paper)).decode()
    assert re.search(r"^Pages: +1$", told, re.M) and f"{pts} pts" in told
    with plain_look():
        figure = camera_sheet.tables_page(parts.shoot(parts.bare()), camera, units=units, paper=paper)
    words = page_boxes(figure)
    assert outside(words, figure.bbox.padded(-5 / 25.4 * figure.dpi)) == [] and clashes(words, slack_px=1.0) == []


@pytest.mark.slow
def test_the_page_says_what_the_tables_hold(tmp_path):
    # INDEPENDENT: poppler reads it back.
    text = page_text(written(tmp_path / "page.pdf", name="setup 6"))
    for words in ("setup 6, 24 fps, 180°, 1/48 s", "T5.6 3840 1920 960 480", "T2 44.6 22.3", "86.4 172.8 259.2 345.6",
                  "72 144 216 288 360", "1.2 3.99 15.8 6.31 %", "blur circle 0.025 mm"):  # fmt: skip
        assert words in text, words
    assert "1600, 2000, 2500, 3200" in text and "2.77 – 3.27" in text


@pytest.mark.slow
def test_the_same_bytes_and_the_readers_tape(tmp_path):
    one, two = written(tmp_path / "a.pdf"), written(tmp_path / "b.pdf")
    assert one.read_bytes() == two.read_bytes()
    feet = page_text(written(tmp_path / "c.pdf", units="feet"))
    assert "focus, ft" in feet and re.search(r"\b10 9\.\d+ – 10\.\d+", feet)  # DERIVED: ten feet is a round number there


def test_bad_input_is_refused_in_one_sentence(tmp_path):
    with pytest.raises(ValueError, match="units must be one of metric, feet, got 'yards'"):
        written(tmp_path / "page.pdf", units="yards")
    with pytest.raises(ValueError, match="distances_m must be > 0, got 0: metres to the subject"):
        camera_sheet.camera_tables(CAMERA, distances_m=(0.0, 1.0))
