"""What particles brought, with less chance in it."""

import numpy as np
import pytest

from lightcalc.engine.tallies import COARSEST, finer, settled

HANDS = 8


def counted(mean, seed=1):
    """What eight hands would count where so much comes on average, (hands, surfaces, n, n)."""
    return np.random.default_rng(seed).poisson(mean / HANDS, (HANDS, *mean.shape)).astype(float)


def rms(values):
    return np.sqrt(np.mean(values**2))


def test_what_all_hands_agree_on_is_left_alone():
    # DERIVED: hands that do not differ show no chance, so nothing is drawn in.
    sums = np.random.default_rng(3).random((6, 24, 24))
    assert np.allclose(settled(np.stack([sums / HANDS] * HANDS)), sums, rtol=1e-12)


def test_even_light_is_made_even():
    # DERIVED: counts of a mean of 20 differ by its root; the rule leaves the share of it that its own noise keeps.
    mean = np.full((6, 24, 24), 20.0)
    hands = counted(mean)
    raw, found = rms(hands.sum(axis=0) - mean), rms(settled(hands) - mean)
    assert raw == pytest.approx(np.sqrt(20.0), rel=0.05)
    assert found < 0.75 * raw


@pytest.mark.parametrize("apart, kept", [(0.0, 1.0), (2.0, 0.8), (4.0, 0.2), (6.0, 0.0)])
def test_four_cells_keep_of_their_differences_what_the_rule_leaves(apart, kept):
    # DERIVED: 80 a cell; in four cells 8 more and 8 less, so their coarser neighbourhood is even. Hands that are `apart` from their
    # mean, half up and half down, have a variance of 8/7 apart^2, eight of them in sum 64/7 apart^2; 1 - 0.35 (64/7 apart^2) / 8^2.
    hands = np.full((HANDS, 1, 12, 12), 10.0)
    signs, halves = np.array([[1.0, -1.0], [-1.0, 1.0]]), np.repeat([1.0, -1.0], HANDS // 2)
    hands[:, 0, 4:6, 4:6] += signs + apart * halves[:, None, None]
    found = settled(hands)[0, 4:6, 4:6]
    assert found == pytest.approx(80.0 + kept * 8.0 * signs, rel=1e-9)


def test_an_edge_that_is_no_chance_stays():
    # DERIVED: a step of 2 to 200, whose chance is 1.4 and 14.
    mean = np.full((1, 24, 24), 2.0)
    mean[:, 9:] = 200.0
    found = settled(counted(mean))
    assert found[0, 8].mean() == pytest.approx(2.0, abs=6.0), "what is left of the bright side in a dark cell: a thirtieth"
    assert found[0, 9].mean() == pytest.approx(200.0, rel=0.06)
    assert found[0, :6].mean() == pytest.approx(2.0, rel=0.2)


def test_nothing_is_lost_or_made_up():
    # DERIVED: each cell lies between its own sum and its neighbourhood's mean, so all lie within the extremes; the total keeps.
    hands = counted(np.random.default_rng(5).random((6, 24, 24)) ** 3 * 50.0)
    sums, found = hands.sum(axis=0), settled(hands)
    assert found.min() >= 0.0 and found.max() <= sums.max()
    assert found.sum() == pytest.approx(sums.sum(), rel=0.01)


@pytest.mark.parametrize("n", (COARSEST, 15))
def test_few_or_odd_cells_are_taken_as_they_are(n):
    hands = counted(np.full((2, n, n), 3.0))
    assert np.array_equal(settled(hands), hands.sum(axis=0))


def test_one_hand_says_nothing_of_chance():
    hands = counted(np.full((1, 12, 12), 3.0))[:1]
    assert np.array_equal(settled(hands), hands[0])


def test_finer_cells_read_a_plane_exactly():
    # DERIVED: linear between cells' middles, even beyond the outermost.
    middles = (np.arange(6) + 0.5) / 6
    fine = (np.arange(24) + 0.5) / 24
    plane = finer((2.0 + 3.0 * middles[:, None] + 5.0 * middles)[None], 24)[0]
    inner = slice(2, -2)
    assert np.allclose(plane[inner, inner], (2.0 + 3.0 * fine[:, None] + 5.0 * fine)[inner, inner], rtol=1e-12)
