"""Which kit a shoot file's names are looked up in: the package's, with the crew's own beside the file over it."""

from __future__ import annotations

from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING

from lightcalc.kit import materials
from lightcalc.kit.materials import KIT, Kit, KitError
from lightcalc.scene.fields import show
from lightcalc.wording import count_text

if TYPE_CHECKING:
    pass

BESIDE = "kit.toml"  # found by itself, in the shoot file's own folder
KINDS = tuple(one.name for one in fields(Kit))
WORDS = {"stuff": "board stuff"}
MOST_NAMES = 12  # said in one sentence


@dataclass(frozen=True)
class KitBeside:
    """The kit of a shoot file: everything, what of it is the crew's own, and the own file's name, empty without one."""

    whole: Kit
    own: Kit
    file: str = ""

    @property
    def replaced(self) -> tuple[tuple[str, str], ...]:
        """What of the package's kit an own thing of that name, with other numbers, stands for: (kind, name) each."""
        known = {(kind, name.casefold()): one for kind in KINDS for name, one in getattr(materials.default_kit(), kind).items()}
        mine = ((kind, name, one) for kind in KINDS for name, one in getattr(self.own, kind).items())
        return tuple((kind, name) for kind, name, one in mine if known.get((kind, name.casefold()), one) != one)

    @property
    def sentence(self) -> str:
        """What is the crew's own, in words; empty without any."""
        counts = {WORDS.get(kind, kind): len(getattr(self.own, kind)) for kind in KINDS}
        there = ", ".join(count_text(count, word) for word, count in counts.items() if count)
        names = [f"{kind} '{name}'" for kind, name in self.replaced]
        more = f" and {len(names) - MOST_NAMES} more" if len(names) > MOST_NAMES else ""
        over = f"; own numbers stand in for the package's: {', '.join(names[:MOST_NAMES])}{more}" if names else ""
        return f"own kit {self.file}: {there or 'nothing in it'}{over}" if self.file else ""


def kit_beside(folder: Path | None, named: str = "") -> KitBeside:
    """
    The kit of a shoot file.

    Parameters
    ----------
    folder : Path or None
        The shoot file's; None for a shoot that is in no file.
    named : str, default ""
        What the file says under `kit`; without it `kit.toml`, where there is one.

    Returns
    -------
    KitBeside

    Raises
    ------
    KitError
        If the own kit is named but not there, lies elsewhere, or holds anything wrong.
    """
    base = materials.default_kit()
    if folder is None:
        if named:
            raise KitError(f"kit {show(named)} needs a shoot file on disk, in whose folder it lies")
        return KitBeside(base, Kit())
    path = inside(folder, named or BESIDE, "kit")
    if path == KIT.resolve() or not (named or path.is_file()):
        return KitBeside(base, Kit())
    if not path.is_file():
        raise KitError(f"kit {show(named)} is not there; it is looked for beside the shoot file")
    own = materials.read_kit(path)
    return KitBeside(materials.merged(base, own), own, named or BESIDE)


def inside(folder: Path, name: str, what: str) -> Path:
    """
    The path of a file that a shoot file names, in its own folder or below it, and nowhere else.

    Parameters
    ----------
    folder : Path
    name : str
    what : str
        What errors call it.

    Returns
    -------
    Path
        Links followed; it need not be there.

    Raises
    ------
    KitError
        If it would lie elsewhere, or cannot be a path.
    """
    folder = Path(folder).resolve()
    try:
        path = (folder / name).resolve()
    except (OSError, RuntimeError, ValueError) as error:  # a loop of links, or no name at all
        raise KitError(f"{what} {show(name)} cannot be read: {getattr(error, 'strerror', None) or error}") from None
    if not path.is_relative_to(folder) or Path(name).is_absolute():
        raise KitError(f"{what} must lie in the shoot file's folder, got {show(name)}")
    return path
