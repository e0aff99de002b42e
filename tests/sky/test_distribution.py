"""The sky by direction: the older printed form of the clear sky, limits, and rooms before windows summed pane by pane."""

import numpy as np
import pytest

from lightcalc.sky.distribution import SKIES, _least_squares, relative_luminance, sided_sky


def printed_clear(zenith, away, sun_zenith):
    """
    PUBLISHED: Kittler's clear sky as the IES prints it (Lighting Handbook, daylighting; CIE 22, 1973), angles in rad.

    INDEPENDENT: other constants and another form than the general sky's table.
    """
    around = lambda chi: 0.91 + 10.0 * np.exp(-3.0 * chi) + 0.45 * np.cos(chi) ** 2
    return around(away) * (1.0 - np.exp(-0.32 / np.cos(zenith))) / (around(sun_zenith) * (1.0 - np.exp(-0.32)))


def slightly_towards_the_sun(away):
    """PUBLISHED: ISO 15469:2004, type 6: no gradation; c, d, e of 2, -1.5, 0.15. Relative only."""
    return 1.0 + 2.0 * (np.exp(-1.5 * away) - np.exp(-1.5 * np.pi / 2)) + 0.15 * np.cos(away) ** 2


def test_the_clear_sky_is_the_older_printed_one():
    # The general sky's 1 - 10 exp(-3 pi / 2) is 0.9102 where the older form has 0.91: 0.1 %.
    zenith, away, sun = np.meshgrid([2.0, 31.0, 63.0, 88.0], [1.0, 17.0, 52.0, 91.0, 140.0], [23.0, 47.0, 81.0])
    got = relative_luminance(zenith_deg=zenith, from_sun_deg=away, sun_zenith_deg=sun)
    assert got == pytest.approx(printed_clear(*np.radians([zenith, away, sun])), rel=1e-3)


def test_round_the_zenith_and_in_cloud():
    assert relative_luminance(zenith_deg=0.0, from_sun_deg=50.0, sun_zenith_deg=50.0) == 1.0  # DERIVED: the zenith over itself
    # DERIVED: a partly cloudy sky depends on the distance from the sun alone.
    low, high = (relative_luminance(zenith_deg=z, from_sun_deg=33.0, outlook="partly") for z in (10.0, 80.0))
    assert low == pytest.approx(high) == pytest.approx(float(slightly_towards_the_sun(np.radians(33.0))))


def seen(outlook, height_deg, from_sun_deg, out_m, upwards):
    """Skylight through a window of 1.4 x 1.3 m at a mark before it: of the standard sky, and of the one that stands for it. [lx]"""
    height, turn = np.radians([height_deg, from_sun_deg])
    sun = np.array([-np.sin(turn) * np.cos(height), np.cos(turn) * np.cos(height), np.sin(height)])  # y is where the window faces
    luminance = lambda ways: (
        printed_clear(np.arccos(np.clip(ways[..., 2], 1e-4, 1)), np.arccos(np.clip(ways @ sun, -1, 1)), np.pi / 2 - height)
        if outlook == "clear"
        else slightly_towards_the_sun(np.arccos(np.clip(ways @ sun, -1, 1)))
    )
    z, bearing = np.meshgrid((np.arange(90) + 0.5) / 90, (np.arange(240) + 0.5) / 240 * 2 * np.pi)  # even steps of sin h
    dome = np.stack([np.sqrt(1 - z**2) * np.sin(bearing), np.sqrt(1 - z**2) * np.cos(bearing), z], axis=-1)
    whole = np.sum(luminance(dome) * z) * 2 * np.pi / z.size
    x, up = np.meshgrid(-0.7 + (np.arange(40) + 0.5) * 0.035, 0.15 + (np.arange(40) + 0.5) * 0.0325)
    far = np.sqrt(x**2 + out_m**2 + up**2)
    ways = np.stack([x, np.full_like(x, out_m), up], axis=-1) / far[..., None]
    weight = (ways[..., 2] if upwards else ways[..., 1]) * out_m / far**3
    horizon, right, sunward, up = sided_sky(sun_elevation_deg=height_deg, outlook=outlook, windows=((from_sun_deg, 1.0),))
    across, along = right * np.cos(turn) - sunward * np.sin(turn), right * np.sin(turn) + sunward * np.cos(turn)
    return np.sum(luminance(ways) * weight) / whole, np.sum((horizon + ways @ [across, along, up]) * weight)


@pytest.mark.slow
def test_marks_before_a_window_read_as_under_the_standard_sky():
    # INDEPENDENT: the standard skies by the forms above, summed over dome and pane. What the docstring promises: 0.18 stop rms,
    # nine in ten within a third, the rest straight before a low sun.
    misses = {
        (outlook, height, turn, out, up): np.log2(np.divide(*seen(outlook, height, turn, out, up)[::-1]))
        for outlook in SKIES for height in (15, 30, 48, 60) for turn in (0, 20, 45, 70, 90, 135, 180, 250) for out in (0.95, 1.8, 3.2)
        for up in (True, False)
    }  # fmt: skip
    found = np.array(list(misses.values()))
    assert np.sqrt(np.mean(found**2)) < 0.19 and np.mean(np.abs(found) < 1 / 3) > 0.92
    assert all(turn == 0 and height <= 15 for (_, height, turn, _, _), miss in misses.items() if abs(miss) > 0.65)


@pytest.mark.parametrize("outlook, rms, most", [("clear", 0.16, 0.51), ("partly", 0.04, 0.11)])
def test_faces_in_the_open_read_as_under_the_standard_sky(outlook, rms, most):
    # INDEPENDENT: the standard skies by the forms above, summed direction by direction on faces tilted every way. On the level it
    # is the same to the digit. What the docstring promises.
    z, turn = (grid.ravel() for grid in np.meshgrid((np.arange(120) + 0.5) / 120, (np.arange(240) + 0.5) / 240 * 2 * np.pi))
    dome = np.stack([np.sqrt(1 - z**2) * np.sin(turn), np.sqrt(1 - z**2) * np.cos(turn), z], axis=1)
    misses = []
    for height in np.radians([2, 10, 20, 30, 40, 60, 80]):
        away = np.arccos(np.clip(dome @ [0.0, np.cos(height), np.sin(height)], -1, 1))
        real = printed_clear(np.arccos(z), away, np.pi / 2 - height) if outlook == "clear" else slightly_towards_the_sun(away)
        real /= np.sum(real * z) * 2 * np.pi / z.size
        held = sided_sky(sun_elevation_deg=np.degrees(height), outlook=outlook)
        ours = held[0] + dome @ held[1:]
        assert ours.min() > -1e-9 and np.sum(ours * z) * 2 * np.pi / z.size == pytest.approx(1.0, rel=1e-4)
        for tilt, bearing in np.radians([(tilt, bearing) for tilt in (30, 60, 90) for bearing in range(0, 360, 30)]):
            way = [np.sin(tilt) * np.sin(bearing), np.sin(tilt) * np.cos(bearing), np.cos(tilt)]
            takes = np.maximum(dome @ way, 0.0)
            misses.append(np.log2(np.sum(ours * takes) / np.sum(real * takes)))
    assert np.sqrt(np.mean(np.square(misses))) < 1.2 * rms and np.abs(misses).max() < most


def test_the_brightest_side_of_two_windows_is_theirs():
    # DERIVED: mirrored windows give the mirrored sky; a window that looks at the sun sees more than one that looks away.
    right, left = (sided_sky(sun_elevation_deg=30.0, windows=((turn, 1.0),)) for turn in (70.0, -70.0))
    assert right == pytest.approx(left * [1, -1, 1, 1], rel=1e-3, abs=1e-3)
    both = sided_sky(sun_elevation_deg=30.0, windows=((0.0, 0.5), (180.0, 0.5)))
    assert both[0] + both[2] > 2.5 * (both[0] - both[2])


def test_an_outlook_nobody_knows_is_refused():
    with pytest.raises(ValueError, match="outlook must be one of clear, partly, got 'overcast'"):
        relative_luminance(zenith_deg=3.0, from_sun_deg=4.0, outlook="overcast")
    with pytest.raises(ValueError, match="sun_elevation_deg must be >= 0 and <= 90, got -2"):
        sided_sky(sun_elevation_deg=-2.0)


def test_least_squares_without_minus():
    # INDEPENDENT: scipy's own coding of the same book.
    from scipy.optimize import nnls

    rng = np.random.default_rng(11)
    for _ in range(40):
        rows, wanted = rng.uniform(0, 1, (7, 30)), rng.uniform(0, 2, 7)
        assert np.linalg.norm(rows @ _least_squares(rows, wanted) - wanted) == pytest.approx(nnls(rows, wanted)[1], abs=1e-6)
