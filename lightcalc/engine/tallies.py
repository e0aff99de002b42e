"""What particles brought to the cells of a surface, as far as it is more than chance."""

from __future__ import annotations

import numpy as np

COARSEST = 6  # cells along a side that are taken as they are
DRAWN = 0.35  # of the variance is taken off: by James and Stein's rule for four values between 1/4, about their own mean, and 1/2


def settled(hands: np.ndarray) -> np.ndarray:
    """
    Sums over hands of particles, each cell drawn towards its neighbourhood as far as it differs by chance.

    Parameters
    ----------
    hands : array (hands, surfaces, n, n)
        What each hand, a share of the particles, brought to each cell.

    Returns
    -------
    array (surfaces, n, n)
        Between the smallest and the largest sum; all together as much as was brought, to a percent.

    Notes
    -----
    How far the hands differ says how much chance there is in a sum: against sums of 25 times as many particles, 0.7 to 1.2 of the
    variance so found. From coarse cells to fine ones, four of them keep, of what they differ by from their coarser
    neighbourhood, the share 1 - DRAWN (variance) / (difference squared), or nothing.

    References: W. James and C. Stein, Proc. Fourth Berkeley Symp. 1 (1961) 361, whose positive part this is.
    """
    sums = hands.sum(axis=0)
    if len(hands) < 2:
        return sums
    return _drawn_in(sums, hands.var(axis=0, ddof=1) * len(hands) * DRAWN)


def _drawn_in(sums, variance):
    """`settled` of sums with the variance of each."""
    n = sums.shape[-1]
    if n % 2 or n <= COARSEST:
        return sums
    smooth = finer(_drawn_in(_fours(sums), _fours(variance)), n) / 4.0
    differs = sums - smooth
    chance, found = _fours(variance), _fours(differs**2)
    kept = 1.0 - np.divide(chance, found, out=np.ones_like(found), where=found > chance)
    return smooth + kept.repeat(2, axis=1).repeat(2, axis=2) * differs


def _fours(grid):
    """Sums of two by two cells, (surfaces, n / 2, n / 2)."""
    n = grid.shape[-1] // 2
    return grid.reshape(-1, n, 2, n, 2).sum(axis=(2, 4))


def finer(grid: np.ndarray, cells: int) -> np.ndarray:
    """
    Cell-centred grids on more cells, linearly.

    Parameters
    ----------
    grid : array (surfaces, n, n)
    cells : int
        Along each side, at least n.

    Returns
    -------
    array (surfaces, cells, cells)
    """
    n = grid.shape[1]
    place = np.clip((np.arange(cells) + 0.5) / cells * n - 0.5, 0, n - 1)
    low = np.minimum(place.astype(int), n - 2)
    share = place - low
    weight = np.zeros((cells, n))
    weight[np.arange(cells), low] = 1 - share
    weight[np.arange(cells), low + 1] = share
    return weight @ grid @ weight.T
