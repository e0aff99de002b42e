"""What a first run says while the engine is compiled, and where that is kept. Nothing here needs the engine, or numba."""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TextIO

# Who is told how far the compiling is, `ready.ready`; without one, a line on the error stream, which a notebook shows in the cell.
TOLD: Callable[[float, float], Any] | None = None
SAYS = "compiling the light engine, once on this machine"
PATIENCE_S = 2.0


def cache_folder() -> Path:
    """Where compiled kernels are kept, made if need be: in the user's cache folder, else in a temporary one."""
    root = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "lightcalc"
    try:
        root.mkdir(parents=True, exist_ok=True)
    except OSError:
        root = Path(tempfile.gettempdir()) / "lightcalc"
        root.mkdir(parents=True, exist_ok=True)
    return root


class Line:
    """
    One line on the error stream of a terminal or a notebook that says how far something long is; elsewhere one sentence,
    after two seconds.

    Parameters
    ----------
    stream : text stream
    says : str, optional
        What is being done; without it, the compiling.
    """

    def __init__(self, stream: TextIO, says: str = SAYS) -> None:
        self.stream, self.says, self.begun, self.said = stream, says, time.perf_counter(), False

    def greet(self) -> None:
        """The first words, before numba is read, where nothing was ever compiled."""
        if not any(cache_folder().iterdir()):
            self(0.0, 30.0)

    def above(self, lines: Sequence[str]) -> None:
        """Print lines in its place; it goes on under them."""
        if lines and not self.stream.closed:
            width = len(self.says) + 60 if self.stream.isatty() else 0
            print("\r" * bool(width) + "\n".join(f"{line:<{width}}" for line in lines), file=self.stream, flush=True)

    def so_far(self, share: float) -> None:
        """The same for who knows the share done only: what is left goes on as fast."""
        self(share, (time.perf_counter() - self.begun) * (1.0 - share) / max(share, 1e-3))

    def __call__(self, share: float, left_s: float) -> None:
        if not self.stream.closed:  # whoever took the stream away is not told
            self._tell(share, left_s)

    def _tell(self, share, left_s):
        notebook = type(self.stream).__module__.startswith("ipykernel")
        if self.stream.isatty() or notebook:  # both go back to a line's beginning
            bar = "#" * round(20 * share)
            text = f"{self.says}  [{bar:<20}]  about {left_s:.0f} s left  "
            over = f"{self.says}: {time.perf_counter() - self.begun:.0f} s" if notebook else ""  # its empty line would stay
            self.stream.write(f"\r{text}" if share < 1 else f"\r{over:<{len(text) + 4}}\r")
            self.stream.flush()
        elif not self.said and time.perf_counter() - self.begun > PATIENCE_S and share < 1 and left_s >= 1.0:
            self.said = True
            print(f"lightcalc: {self.says}: about {left_s:.0f} s", file=self.stream, flush=True)
