"""The stage and the notebooks' controls: what a person sees and touches."""

from lightcalc.panels.figure_beside import Beside
from lightcalc.panels.stage import Stage

__all__ = ["Beside", "Stage"]
