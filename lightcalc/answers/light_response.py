"""How every reading goes with the output of every lamp: light adds up, so a run with each lamp alone says it for all dims."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from lightcalc.answers.readings import LEAST_FILL, Readings, readings
from lightcalc.scene.parts import Setup, Target
from lightcalc.units import stops

MARK, SPOT = ("lux", "key", "veil"), ("luminance", "behind")  # what adds up, of a mark and of a spot


@dataclass(frozen=True)
class Response:
    """
    What each burning lamp, at its present output, gives to each reading.

    A row is a lamp; the last row is what stays when all lamps are off. Columns are what adds up: of a mark its illuminance
    and the part of it that is key [lx] and the veil before it [cd/m2], of a spot its luminance and that of what is behind
    its beam [cd/m2].
    """

    setup: Setup
    lamps: tuple[str, ...]
    table: np.ndarray  # (lamps + 1, columns)
    columns: tuple[tuple[str, str], ...]  # (name of mark or spot, what)

    def sums(self, outputs: np.ndarray) -> np.ndarray:
        """
        All that adds up, for lamps turned up or down.

        Parameters
        ----------
        outputs : array (n, lamps)
            Times what each gives now.

        Returns
        -------
        array (n, columns)
        """
        return np.column_stack([outputs, np.ones(len(outputs))]) @ self.table

    def target_stops(self, targets: Sequence[Target], outputs: np.ndarray, brighter: np.ndarray | float = 0.0) -> np.ndarray:
        """
        What targets would read.

        Parameters
        ----------
        targets : sequence of Target
        outputs : array (n, lamps)
            Times what each lamp gives now.
        brighter : float or array (n,), default 0.0
            What the camera then shows brighter. [stops]

        Returns
        -------
        array (n, targets)
            [stops]; infinite without light, without measurable fill, or before black.
        """
        sums = self.sums(outputs)
        got = [self._target(target, sums, np.asarray(brighter, dtype=float)) for target in targets]
        return np.stack([np.broadcast_to(row, len(sums)) for row in got], axis=1) if got else np.zeros((len(sums), 0))

    def _target(self, target, sums, brighter):
        column = {what: sums[:, self.columns.index((target.of, what))] for name, what in self.columns if name == target.of}
        camera = self.setup.camera
        with np.errstate(divide="ignore", invalid="ignore"):
            if target.quantity == "level":
                lit = column["lux"] / camera.reference_lx if "lux" in column else column["luminance"] / camera.reference_cd_m2
                return stops(lit) + brighter
            if target.quantity == "veil":
                return stops(column["veil"] / camera.reference_cd_m2) + brighter
            if target.quantity == "beam_over":
                return stops(column["luminance"] / column["behind"])
            fill = column["lux"] - column["key"]
            return np.where(fill > LEAST_FILL * column["key"], stops(fill / column["lux"]), -np.inf)


def light_response(setup: Setup, *, read: Readings | None = None, quality: str = "draft") -> Response:
    """
    Work out how every reading goes with every lamp.

    Parameters
    ----------
    setup : Setup
    read : Readings, optional
        Finer readings of the same setup: each column is scaled so that all lamps together give these.
    quality : {'draft', 'final'}
        Of the runs, one for each burning lamp and one for the rest.

    Returns
    -------
    Response

    Notes
    -----
    .. math:: E = E_0 + \\sum_i d_i E_i

    Exact for lamps, boards, rooms and haze, which all are linear; particles are other ones in each run, which is why `read` is
    asked for. What counts as key at a mark stays what it is now.
    """
    lamps = tuple(light.name for light in setup.lights if light.dim > 0.0)
    now = read or readings(setup, quality=quality)
    keys = {mark.name: mark.key for mark in now.marks}
    runs = [readings(_only(setup, {lamp}), quality=quality) for lamp in lamps]
    rest = readings(_only(setup, set()), quality=quality)
    rows = [_row(run, keys) for run in (*runs, rest)]
    table = np.array([list(row.values()) for row in rows])
    table[:-1] -= table[-1]  # a lamp's run has the daylight too
    table = np.maximum(table, 0.0)
    wanted, sums = np.array(list(_row(now, keys).values())), table.sum(axis=0)
    if read is not None:
        table = table * np.divide(wanted, sums, out=np.ones_like(sums), where=(sums > 0) & (wanted > 0))
    return Response(setup, lamps, table, tuple(rows[0]))


def _only(setup, burning):
    """The setup with all other lamps off."""
    return replace(setup, lights=tuple(light if light.name in burning else replace(light, dim=0.0) for light in setup.lights))


def _row(read, keys):
    """What adds up in some readings."""
    row = {}
    for mark in read.marks:
        key = sum(mark.by_source.get(name, 0.0) for name in keys[mark.name])
        row |= {(mark.name, what): value for what, value in zip(MARK, (mark.illuminance_lx, key, mark.veil_cd_m2))}
    for spot in read.spots:
        behind = spot.background_cd_m2 if spot.source else spot.luminance_cd_m2
        row |= {(spot.name, what): value for what, value in zip(SPOT, (spot.luminance_cd_m2, behind))}
    return row
