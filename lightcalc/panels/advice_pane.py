"""Advice on the page: what may move, the steps in words, and one press that takes them on the stage, where Undo takes them back."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from typing import TYPE_CHECKING

import ipywidgets

from lightcalc.answers.advice import MOVES, USUAL, Advice, advise

if TYPE_CHECKING:
    from lightcalc.panels.shoot_board import ShootBoard

CALLED = {
    "dim": "lamps' output", "stop": "stop", "iso": "ISO", "nd": "filter", "shutter": "shutter angle", "board": "boards", "lamp": "lamps",
    "haze": "haze",
}  # fmt: skip


class AdvicePane(ipywidgets.VBox):
    """
    Advice for the setup that is chosen on a board.

    Parameters
    ----------
    board : shoot_board.ShootBoard
        Its stage is where advice is taken; it is opened for that if it is not there.
    ask : callable, optional
        Gives advice, as `advice.advise`.

    Notes
    -----
    `found` is the advice that may be taken, or None.
    """

    def __init__(self, board: ShootBoard, *, ask: Callable[..., Advice] = advise) -> None:
        self.board, self._ask = board, ask
        self.found: Advice | None = None
        self._may = {
            move: ipywidgets.Checkbox(
                value=move in USUAL, description=CALLED[move], indent=False, layout=ipywidgets.Layout(width="auto")
            )
            for move in MOVES
        }
        self._said = ipywidgets.HTML()
        self._go, self._take = (
            ipywidgets.Button(description=name, layout=ipywidgets.Layout(width="auto")) for name in ("Advise", "Take these steps")
        )
        self._take.disabled = True
        self._go.on_click(lambda _: self.advise())
        self._take.on_click(lambda _: self.take())
        wrap = ipywidgets.Layout(flex_flow="row wrap", grid_gap="2px 16px")
        may = ipywidgets.HBox([ipywidgets.Label("may move:"), *self._may.values()], layout=wrap)
        super().__init__([may, ipywidgets.HBox([self._go, self._take], layout=wrap), self._said])
        board.observe(lambda _: self._forget(), ["chosen"])

    def advise(self) -> Advice | None:
        """Ask for the setup that is chosen, as it stands on its stage; shown in words."""
        self._forget()
        setup = self.board.shoot.setup(self.board.picked)
        self._go.disabled = True
        try:
            found = self._ask(setup, may=tuple(move for move, box in self._may.items() if box.value), told=self._tell)
        except ValueError as error:
            self._tell(str(error))
            return None
        finally:
            self._go.disabled = False
        self.found, self._take.disabled = found if found.steps else None, not found.steps
        self._tell("\n".join(found.lines()))
        return found

    def take(self) -> None:
        """Put the advised setup onto its stage; the stage's Undo takes it back."""
        if self.found is None:
            return
        found = self.found
        if self.board.chosen != found.setup.name:
            self.board.choose(found.setup.name)
        self.board.stage.setup = found.apply_to(self.board.stage.setup)
        self.found, self._take.disabled = None, True
        self._tell("\n".join([*found.lines(), "Taken; Undo on the stage takes it back, Save to shoot file keeps it."]))

    def _forget(self):
        self.found, self._take.disabled = None, True
        self._tell("")

    def _tell(self, words):
        self._said.value = f"<pre>{escape(words)}</pre>" if words else ""
