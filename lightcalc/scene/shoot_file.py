"""
A shoot as one TOML file that people edit by hand: opened, and written back in place.

    file --read--> text --shootread--> Shoot
    Shoot, with what changed --shootedit--> text --checked against disk--> new file, renamed over the old

Writing leaves either the old file whole or the new one.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import tomllib
from dataclasses import dataclass
from pathlib import Path

import tomlkit

from lightcalc.kit.candela import Beam
from lightcalc.kit.materials import FIELD_PER_BEAM, assumed_field_deg
from lightcalc.scene.own_kit import KitBeside, kit_beside
from lightcalc.scene.shoot import Shoot
from lightcalc.scene.shoot_edit import dumps, edited, same
from lightcalc.scene.shoot_read import LIMIT_BYTES, ShootError, loads

DATA = Path(__file__).resolve().parents[2] / "data"

STARTER = Path(__file__).with_name("starter.toml")


def load(path: str | Path) -> Shoot:
    """
    Read a shoot file.

    Parameters
    ----------
    path : str or Path
        A TOML file of at most 1 MB.

    Returns
    -------
    Shoot

    Raises
    ------
    ShootError
        If it cannot be read or holds anything unknown or impossible: a sentence for each fault, with its line.

    Examples
    --------
    >>> load(demo_path()).title
    'The Salt Ledger'
    """
    return ShootFile.open(path).shoot


def demo_path() -> Path:
    """The demo shoot, "The Salt Ledger"."""
    return DATA / "salt_ledger.toml"


def new_text(title: str) -> str:
    """
    A commented starter file with one setup.

    Parameters
    ----------
    title : str
        The shoot's title, at most 300 characters.

    Returns
    -------
    str
        TOML that reads as a shoot.

    Raises
    ------
    ShootError
        If the title is too long or holds control characters.

    Examples
    --------
    >>> print(new_text("Low Tide").splitlines()[6])
    title = "Low Tide"
    """
    text = STARTER.read_text(encoding="utf-8").replace("TITLE", tomlkit.string(title).as_string(), 1)
    loads(text, "new shoot")
    return text


@dataclass(frozen=True)
class ShootFile:
    """
    A shoot file as it was opened: its path, its text, and the shoot it holds.

    Examples
    --------
    >>> opened = ShootFile.open(demo_path())
    >>> opened.save(opened.shoot) is opened  # nothing changed, nothing written
    True
    """

    path: Path
    text: str
    shoot: Shoot
    digest: bytes

    @classmethod
    def open(cls, path: str | Path) -> ShootFile:
        """
        Read a shoot file and remember what was on disk.

        Parameters
        ----------
        path : str or Path
            A TOML file of at most 1 MB.

        Returns
        -------
        ShootFile

        Raises
        ------
        ShootError
            See `load`.
        """
        path = Path(path)
        raw = _read(path)
        try:
            text = raw.decode("utf-8")
        except UnicodeDecodeError as error:
            line = raw[: error.start].count(b"\n") + 1
            raise ShootError(f"{path.name}, line {line}: not UTF-8 text; save it as UTF-8") from None
        text = text.removeprefix("\ufeff")
        return cls(path, text, loads(text, path.name, path.resolve().parent), hashlib.sha256(raw).digest())

    @property
    def kit(self) -> KitBeside:
        """The kit its names are looked up in, `own_kit.KitBeside`."""
        return kit_beside(self.path.resolve().parent, self.shoot.kit)

    @property
    def assumptions(self) -> tuple[str, ...]:
        """What the file leaves open and reading it filled in: a sentence each, a tuple."""
        said = []
        for setup, table in zip(self.shoot.setups, tomllib.loads(self.text)["setups"]):
            for light, typed in zip(setup.lights, table.get("lights", ())):
                beam = light.distribution
                if "beam_deg" not in typed or "field_deg" in typed or not isinstance(beam, Beam):
                    continue
                if beam.field_deg == assumed_field_deg(beam.beam_deg):
                    why = f"{FIELD_PER_BEAM:g} x beam_deg (common practice)"
                    said.append(
                        f"setup '{setup.name}', {light.called}: field_deg is not given; {beam.field_deg:g} is assumed, {why}"
                    )
        return tuple(said)

    def save(self, shoot: Shoot) -> ShootFile:
        """
        Write what differs from the opened shoot; everything else stays as a person typed it.

        Parameters
        ----------
        shoot : Shoot
            The shoot to hold from now on.

        Returns
        -------
        ShootFile
            As it is on disk now; keep this one for the next save.

        Raises
        ------
        ShootError
            If the file changed on disk since it was opened, cannot hold the shoot, or cannot be written. The
            file is then the old one, whole.

        Notes
        -----
        A new file is written beside the old one, flushed to disk, and renamed over it in one step; an
        interruption leaves one or the other.
        """
        if same(shoot, self.shoot):
            return self
        text = edited(self.text, self.shoot, shoot, self.path.name, self.path.resolve().parent)
        raw = self._bytes(text)
        _replace(self.path, raw, self._check_unchanged)
        return ShootFile(self.path, text, shoot, hashlib.sha256(raw).digest())

    def _bytes(self, text):
        """With the byte order mark the file came with."""
        mark = b"\xef\xbb\xbf"
        with_mark = hashlib.sha256(mark + self.text.encode("utf-8")).digest() == self.digest
        return (mark if with_mark else b"") + text.encode("utf-8")

    def _check_unchanged(self):
        try:
            now = hashlib.sha256(_read(self.path)).digest()
        except ShootError:
            now = None
        if now != self.digest:
            raise ShootError(f"{self.path.name}: changed on disk since it was opened; open it again before saving")


def save(path: str | Path, shoot: Shoot) -> ShootFile:
    """
    Write a shoot into a file: into the one that is there, changing only what differs, or into a new one.

    Parameters
    ----------
    path : str or Path
        A shoot file, or a path where there is none yet.
    shoot : Shoot
        What the file shall hold.

    Returns
    -------
    ShootFile
        The file as it is now.

    Raises
    ------
    ShootError
        See `ShootFile.save`. To notice changes made by others in between, keep the `ShootFile` and save that.
    """
    path = Path(path)
    if path.exists():
        return ShootFile.open(path).save(shoot)
    text = dumps(shoot, path.resolve().parent)
    if not same(loads(text, path.name, path.resolve().parent), shoot):
        raise ShootError(f"{path.name}: this shoot holds something a shoot file cannot say")
    _replace(path, text.encode("utf-8"), lambda: None)
    return ShootFile.open(path)


# disk ...............................................................................


def _read(path):
    """The bytes of an ordinary file of bearable size."""
    try:
        if not path.is_file():
            raise ShootError(f"{path.name or path}: no such file" if not path.exists() else f"{path.name}: not a file")
        with open(path, "rb") as file:
            raw = file.read(LIMIT_BYTES + 1)
    except OSError as error:
        raise ShootError(f"{path.name}: cannot be read: {error.strerror}") from None
    if len(raw) > LIMIT_BYTES:
        raise ShootError(f"{path.name}: a shoot file may have {LIMIT_BYTES:,} bytes, got more")
    return raw


def _replace(path, raw, check):
    """Put a whole new file in place of the old one, or leave the old one whole."""
    real = path.resolve()
    spare = real.with_name(f".{real.name}.{secrets.token_hex(4)}.tmp")
    try:
        if real.exists() and not os.access(real, os.W_OK):
            raise ShootError(f"{path.name}: is write-protected; allow writing, or save under another name")
        _write_spare(spare, raw, real.stat().st_mode & 0o777 if real.exists() else 0o644)
        check()
        os.replace(spare, real)
        _flush_folder(real.parent)
    except OSError as error:
        raise ShootError(f"{path.name}: cannot be saved: {error.strerror or error}") from None
    finally:
        spare.unlink(missing_ok=True)


def _write_spare(spare, raw, mode):
    """A new file, flushed to disk; the name must be free."""
    number = os.open(spare, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), mode)
    with os.fdopen(number, "wb") as file:
        file.write(raw)
        file.flush()
        os.fsync(file.fileno())


def _flush_folder(folder):
    """The renaming itself onto disk, where the system lets a folder be opened."""
    if os.name == "posix":
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)
