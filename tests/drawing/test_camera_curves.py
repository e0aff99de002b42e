"""The camera's drawings: the streak measured in the picture against the numbers under it; curves hold what they were given."""

import dataclasses
import re

import numpy as np
import pytest
from matplotlib.figure import Figure

from lightcalc.answers import noise
from lightcalc.drawing import camera_curves
from lightcalc.laws import motion, sensor
from lightcalc.scene.parts import Camera

from drawn_words import boxes, clashes, outside

CAMERA = Camera(at=(1.2, 0.7, 1.5), aim=(3.9, 3.2, 1.3), focal_mm=50.0, fps=24.0)
RUN = {"speed_m_s": 5.0, "distance_m": 9.0}


def support_mm(share, extent, row):
    """Width of what is touched at all in a row. [mm]"""
    touched = np.flatnonzero(share[row] > 0)
    return (touched[-1] - touched[0]) * (extent[1] - extent[0]) / (share.shape[1] - 1)


@pytest.mark.slow
@pytest.mark.parametrize(("shutter_deg", "fps"), [(90.0, 24.0), (180.0, 24.0), (360.0, 24.0), (180.0, 60.0)])
def test_the_drawn_streak_is_the_calculated_one(shutter_deg, fps):
    # INDEPENDENT: measured in the drawing: in any row the figure covers its own width plus the streak. One sample is
    # 1/600 of the picture drawn; the figure at a thousandth of a degree stands still.
    camera = dataclasses.replace(CAMERA, fps=fps)
    moving, extent = camera_curves.runner_share(camera=camera, shutter_deg=shutter_deg, wide=900, **RUN)
    still, _ = camera_curves.runner_share(camera=camera, shutter_deg=1e-3, wide=900, **RUN)
    streak = motion.blur_mm(focal_mm=50.0, time_s=shutter_deg / 360 / fps, **RUN)
    head = int(0.11 * len(moving))
    one = (extent[1] - extent[0]) / 899
    assert support_mm(moving, extent, head) - support_mm(still, extent, head) == pytest.approx(streak, abs=2.5 * one)


@pytest.mark.slow
def test_light_is_kept():
    # DERIVED: smearing moves light about, it loses none: the covered area times time stays.
    sums = [camera_curves.runner_share(camera=CAMERA, shutter_deg=s, wide=400, **RUN)[0].sum() for s in (1e-3, 180.0, 300.0)]
    assert sums[1:] == pytest.approx([sums[0]] * 2, rel=3e-3)
    share, _ = camera_curves.runner_share(camera=CAMERA, shutter_deg=360.0, **RUN)
    assert share.min() >= 0.0 and share.max() <= 1.0


@pytest.mark.slow
def test_coming_at_the_lens_spreads_from_the_middle():
    # DERIVED: nothing moves on the axis; what is higher moves more. Fully covered rows shrink away from the lens's height.
    share, extent = camera_curves.runner_share(
        camera=CAMERA, shutter_deg=360.0, speed_m_s=9.0, distance_m=4.0, direction_deg=0.0, wide=500
    )
    still, _ = camera_curves.runner_share(
        camera=CAMERA, shutter_deg=1e-3, speed_m_s=9.0, distance_m=4.0, direction_deg=0.0, wide=500
    )
    partial = ((share > 0) & (share < 1)).sum(axis=1)
    rows = np.linspace(extent[3], extent[2], len(share))
    middle = np.argmin(np.abs(rows))
    assert (
        partial[: middle // 2].max() > partial[middle]
        and abs(share[middle].sum() - still[middle].sum()) < 0.05 * still[middle].sum()
    )


def test_the_words_are_the_numbers():
    figure = camera_curves.motion_figure(CAMERA, shutters_deg=(90.0, 180.0), **RUN)
    for ax, shutter in zip(figure.axes, (90.0, 180.0)):
        streak = motion.blur_mm(focal_mm=50.0, time_s=shutter / 360 / 24, **RUN)
        said = ax.get_xlabel()
        assert float(re.match(r"([\d.]+) px", said)[1]) == pytest.approx(1000 * streak / 6.0, rel=0.03)
        assert float(re.search(r"([\d.]+) % of", said)[1]) == pytest.approx(100 * streak / 24.9, rel=0.06)
        bar = next(line for line in ax.lines if line.get_gid() == "streak").get_xdata()
        assert bar[1] - bar[0] == pytest.approx(streak, rel=1e-9)
    assert figure.axes[0].get_title() == "90°, 1/96 s"


@pytest.mark.slow
def test_nothing_is_cut_off_and_no_word_lies_on_another():
    # INDEPENDENT: boxes measured by the renderer.
    figure = camera_curves.motion_figure(CAMERA, shutters_deg=(45.0, 90.0, 180.0, 360.0), **RUN)
    figure.set_dpi(100)
    figure.draw_without_rendering()
    words = boxes(figure)
    assert outside(words, figure.bbox) == [] and clashes(words, slack_px=1.0) == []


def test_margin_and_shadow_curves_hold_their_numbers():
    rows = noise.iso_table(CAMERA)
    figure = Figure(figsize=(8, 3), layout="constrained")
    left, right = figure.subplots(1, 2)
    camera_curves.iso_margin(left, rows, at_iso=20_000)
    curve = left.containers[-1].lines[0]
    assert curve.get_ydata() == pytest.approx([row.margin_stops for row in rows]) and curve.get_xdata()[0] == 800.0
    grey, causes = noise._row(CAMERA, 10.0, 2048, sensor.SPREAD)
    down = -np.arange(9.0)
    found = noise.Noise("4", 800.0, 10.0, 2048, grey, causes, (), down, grey.snr * 2.0 ** (0.6 * down))
    camera_curves.shadow_noise(right, found)
    assert right.lines[0].get_ydata() == pytest.approx(found.shadow_snr)
    assert "ISO" in left.get_xlabel() and "stops" in left.get_ylabel() and "Signal to noise" in right.get_ylabel()
    figure.draw_without_rendering()
    assert outside(boxes(figure), figure.bbox) == []


@pytest.mark.parametrize(("call", "message"), [
    (lambda: camera_curves.runner_share(camera=CAMERA, shutter_deg=400, **RUN), r"shutter_deg must be <= 360 and > 0, got 400"),
    (lambda: camera_curves.runner_share(camera=CAMERA, shutter_deg=180, wide=3, **RUN), r"wide must be >= 40"),
    (lambda: camera_curves.runner_share(camera=CAMERA, shutter_deg=180, speed_m_s=-1, distance_m=9), r"speed_m_s must be >= 0"),
    (lambda: camera_curves.motion_strip([None], CAMERA, **RUN), r"axes must be as many as shutters, got 1 for 4"),
])  # fmt: skip
def test_bad_input_is_refused_in_one_sentence(call, message):
    with pytest.raises(ValueError, match=message):
        call()
