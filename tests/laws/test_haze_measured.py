"""Extinction from meter readings: the truth comes back, and the error bars hold it nine times in ten."""

import numpy as np
import pytest

from lightcalc.laws import haze, haze_measured

SIGMA, NOISE, TRIALS = 0.043, 0.1, 1000


def cards(path_m):
    """Levels of a dark and a light card through the air, veil and all, in stops: Koschmieder's law of `haze`."""
    air = {"extinction_per_m": SIGMA, "path_m": path_m}
    veil = 3.7 * haze.airlight_fraction(**air)
    return [np.log2(haze.luminance_through_haze(luminance_cd_m2=cd, airlight_cd_m2=veil, **air)) for cd in (0.6, 14.0)]


def test_readings_without_noise_give_the_air_back():
    # DERIVED: readings made by Beer-Lambert and by Koschmieder's law, the air's own light in them, come back exactly.
    lamp = haze_measured.extinction_from_lamp(clear_stops=9.1, hazy_stops=9.1 - SIGMA * 8.4 / np.log(2), path_m=8.4)
    assert lamp.extinction_per_m == pytest.approx(SIGMA, rel=1e-12)
    (dark_1, light_1), (dark_2, light_2) = cards(1.7), cards(13.0)
    card = haze_measured.extinction_from_cards(near_dark_stops=dark_1, near_light_stops=light_1, far_dark_stops=dark_2,
                                          far_light_stops=light_2, near_m=1.7, far_m=13.0)  # fmt: skip
    assert card.extinction_per_m == pytest.approx(SIGMA, rel=1e-12)
    # a stop less light on the far cards, and the meter says so
    dimmed = haze_measured.extinction_from_cards(near_dark_stops=dark_1, near_light_stops=light_1, far_dark_stops=dark_2 - 1,
                                            far_light_stops=light_2 - 1, near_m=1.7, far_m=13.0, light_stops=-1.0)  # fmt: skip
    assert dimmed.extinction_per_m == pytest.approx(SIGMA, rel=1e-12)


@pytest.mark.parametrize("seed", [11, 12, 13])
def test_ninety_percent_intervals_hold_nine_times_in_ten(seed):
    # DERIVED by trial: 1,000 seeded days of readings with 0.1 stop of noise; 90 % intervals hold the truth in 85 to 95 %.
    rng = np.random.default_rng(seed)
    noise = lambda: rng.normal(0.0, NOISE, TRIALS)
    lamp = haze_measured.extinction_from_lamp(
        clear_stops=9.1 + noise(), hazy_stops=9.1 - SIGMA * 8.4 / np.log(2) + noise(), path_m=8.4, error_stops=NOISE)  # fmt: skip
    (dark_1, light_1), (dark_2, light_2) = cards(1.7), cards(13.0)
    card = haze_measured.extinction_from_cards(
        near_dark_stops=dark_1 + noise(), near_light_stops=light_1 + noise(), far_dark_stops=dark_2 + noise(),
        far_light_stops=light_2 + noise(), near_m=1.7, far_m=13.0, error_stops=NOISE)  # fmt: skip
    for read in (lamp, card):
        held = (read.low_per_m < SIGMA) & (read.high_per_m > SIGMA)
        assert 0.85 < held.mean() < 0.95 and held.shape == (TRIALS,)
        assert np.std(read.extinction_per_m) == pytest.approx(np.mean(read.error_per_m), rel=0.1)


def test_error_bars_by_hand():
    # DERIVED: ln 2 x .1 x sqrt 2 / 10 m = .0098; half of it over 20 m.
    over = [float(haze_measured.extinction_from_lamp(clear_stops=1, hazy_stops=0.5, path_m=d).error_per_m) for d in (10, 20)]
    assert over == pytest.approx([0.009803, 0.0049013], rel=1e-4)
    # cards 1:8 and 1:2: ln 2 x .1 x sqrt((1 + 64) / 49 + (1 + 4) / 1) = .17420, over 12 m: .014517.
    card = haze_measured.extinction_from_cards(near_dark_stops=0, near_light_stops=3, far_dark_stops=0, far_light_stops=1,
                                          near_m=2, far_m=14)  # fmt: skip
    assert card.error_per_m == pytest.approx(0.014517, rel=1e-3)


@pytest.mark.parametrize(("changed", "sentence"), [
    ({"far_m": 1.0}, "far_m - near_m must be > 0, got -1: far cards stand beyond the near ones"),
    ({"far_light_stops": -3.5}, "far_light_stops - far_dark_stops must be > 0, got -2.5: the light card must read over the dark one"),
    ({"error_stops": 0.0}, "error_stops must be > 0, got 0: a spot meter repeats to 0.1"),
    ({"near_dark_stops": np.nan}, "near_dark_stops must be a finite number, got nan"),
])  # fmt: skip
def test_refusals_are_one_sentence(changed, sentence):
    good = dict(near_dark_stops=-3, near_light_stops=2, far_dark_stops=-1, far_light_stops=1, near_m=2, far_m=14)
    with pytest.raises(ValueError) as refused:
        haze_measured.extinction_from_cards(**good | changed)
    assert str(refused.value) == sentence
