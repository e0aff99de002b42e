"""Readings and pictures of setups, worked out on a thread while whoever wants them reads matplotlib, or draws the one before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from lightcalc.answers.readings import Readings
    from lightcalc.engine.picture import Picture
    from lightcalc.scene.parts import Setup


def answers_of(setup: Setup, readings: Readings | None = None, picture: Picture | None = None) -> tuple[Readings, Picture]:
    """
    Readings and picture of a setup at final quality, those that are missing from one preparation of the light.

    Parameters
    ----------
    setup : Setup
    readings : Readings, optional
    picture : Picture, optional

    Returns
    -------
    (Readings, Picture)
    """
    if readings is not None and picture is not None:
        return readings, picture
    from lightcalc.answers import readings as meter
    from lightcalc.engine import picture as view  # compiled code: only when it is needed
    from lightcalc.engine.solve import light

    lit = light(setup)
    readings = meter.readings(setup, lit=lit) if readings is None else readings
    return readings, view.picture(setup, lit=lit) if picture is None else picture


class Ahead:
    """
    `answers_of` several setups, one ahead of who asks for them in their order: compiled code leaves the interpreter to others.

    Parameters
    ----------
    setups : sequence of Setup
        Of different names.
    known : mapping, optional
        Readings and picture of setups for which they are known, by name; None for either that is not.
    """

    def __init__(self, setups: Sequence[Setup], known: Mapping[str, tuple] | None = None) -> None:
        self._setups, self._known = {setup.name: setup for setup in setups}, known or {}
        self._next = dict(zip(self._setups, list(self._setups)[1:]))
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="lightcalc-ahead")
        self._begun: dict[str, Future] = {}

    def begin(self, name: str) -> None:
        """
        Begin a setup, if that was not done.

        Parameters
        ----------
        name : str
            Of the setup.
        """
        if name in self._begun:
            return
        known = self._known.get(name, (None, None))
        if any(one is None for one in known):
            from lightcalc.engine import ready

            ready.once()  # here and not on the thread: compiling can be interrupted
        self._begun[name] = self._thread.submit(answers_of, self._setups[name], *known)

    def get(self, name: str) -> tuple[Readings, Picture]:
        """
        Readings and picture of a setup; the one after it is begun.

        Parameters
        ----------
        name : str
            Of the setup.

        Returns
        -------
        (Readings, Picture)
        """
        self.begin(name)
        if name in self._next:
            self.begin(self._next[name])
        return self._begun.pop(name).result()
