"""A log of the day's readings: one line of CSV for each, read with every fault named, and written back."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from lightcalc.laws import exposure
from lightcalc.scene.parts import RECEPTORS, Camera, SceneError, Setup
from lightcalc.units import cd_m2_from_fl, check_range, lx_from_fc
from lightcalc.wording import near

COLUMNS = ("time", "setup", "where", "receptor", "value", "unit", "only", "note")
NEEDED = ("where", "value", "unit")
UNITS = {  # what a meter shows, and the steps it shows it in [stops]; a digital one's last digit is nothing beside its error
    "lx": 0.0, "fc": 0.0, "cd/m2": 0.0, "fl": 0.0, "stops": 0.1, "T": 1.0 / 3.0,
}  # fmt: skip
LEAST_LIGHT = 1e-6  # lx or cd/m2; starlight is some 0.0006 lx
MOST_BYTES, MOST_ROWS, MOST_TEXT = 1_000_000, 2_000, 200
CURLY = str.maketrans({"“": '"', "”": '"', "‘": "'", "’": "'"})


class LogError(SceneError):
    """What is wrong with a log: a sentence for each fault, with its line."""


@dataclass(frozen=True)
class Metered:
    """One reading: at a mark, of a spot, or three metres in front of a lamp that burns alone."""

    where: str
    value: float
    unit: str  # one of UNITS
    setup: str = ""  # empty: of whichever setup is asked about
    only: tuple[str, ...] = ()  # lamps that were on; empty is all
    time: str = ""
    note: str = ""
    line: int = 0
    receptor: str = ""  # flat or dome; empty: as the mark is planned

    @property
    def step_stops(self) -> float:
        """How coarse the meter shows it. [stops]"""
        return UNITS[self.unit]

    def amount(self, camera: Camera, luminance: bool) -> float:
        """
        The reading as light: lx, or cd/m2 of a spot.

        Parameters
        ----------
        camera : Camera
            Gives middle grey, and ISO and time for a reading in T-stops.
        luminance : bool
            Whether it is a spot.

        Returns
        -------
        float
        """
        if self.unit == "stops":
            return (camera.reference_cd_m2 if luminance else camera.reference_lx) * 2.0**self.value
        if self.unit == "T":
            lx = float(exposure.reference_illuminance_lx(t_stop=self.value, time_s=camera.time_s, iso=camera.iso, nd_stops=0.0))
            return exposure.GREY_REFLECTANCE * lx / 3.141592653589793 if luminance else lx
        return float({"fc": lx_from_fc, "fl": cd_m2_from_fl}.get(self.unit, float)(self.value))


def read_log(path: str | Path) -> tuple[Metered, ...]:
    """
    Read a log.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    tuple of Metered
        In the file's order; lines without a value are left out.

    Raises
    ------
    LogError
        With a sentence for each fault and its line.
    """
    path = Path(path)
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise LogError(f"{path.name}: cannot be read: {error.strerror}") from None
    if len(raw) > MOST_BYTES:
        raise LogError(f"{path.name}: a log may have {MOST_BYTES:,} bytes, got {len(raw):,}")
    try:
        return log_of(raw.decode("utf-8-sig"), path.name)
    except UnicodeDecodeError as error:
        raise LogError(f"{path.name}: must be UTF-8 text, byte {error.start} is not") from None


def log_of(text: str, name: str = "log") -> tuple[Metered, ...]:
    """
    Readings from a log's text.

    Parameters
    ----------
    text : str
        CSV; its first line names the columns: where, value and unit, and any of time, setup, receptor (flat or dome), only and note.
        Lamps under `only` are parted by semicolons. Lines that begin with # are remarks.
    name : str
        What errors call it.

    Returns
    -------
    tuple of Metered

    Raises
    ------
    LogError
        With a sentence for each fault and its line.

    Examples
    --------
    >>> log_of("where,value,unit\\nclerk,180,lx\\nbeam,,cd/m2\\n")
    (Metered(where='clerk', value=180.0, unit='lx', setup='', only=(), time='', note='', line=2, receptor=''),)
    """
    faults: list[str] = []
    found = list(_rows(text, name, faults))
    if faults:
        raise LogError("\n".join(faults))
    return tuple(found)


def _rows(text, name, faults) -> Iterator[Metered]:
    reader = csv.reader(io.StringIO(text), skipinitialspace=True)
    columns = None
    for count, cells in enumerate(reader, 1):
        me, cells = f"{name}, line {reader.line_num}", [cell.strip().translate(CURLY).strip("\"'") for cell in cells]
        if not any(cells) or cells[0].startswith("#"):
            continue
        if count > MOST_ROWS:
            faults.append(f"{me}: a log may have {MOST_ROWS:,} lines")
            return
        if columns is None:
            columns = [cell.lower() for cell in cells]
            faults += list(_headed(me, columns))
            if faults:
                return
        elif len(cells) > len(columns):
            many = f"at most {len(columns)} cells ({', '.join(columns)})"
            faults.append(
                f"{me}: must have {many}, got {len(cells)}; a decimal comma? write 2.8. A comma in a name? put it in quotes"
            )
        else:
            yield from _row(me, reader.line_num, dict.fromkeys(columns, "") | dict(zip(columns, cells)), faults)
    if columns is None:
        faults.append(f"{name}: must begin with a line that names its columns, such as {','.join(COLUMNS)}")


def _headed(me, columns):
    for column in columns:
        if column not in COLUMNS:
            yield f"{me}: no column '{column}'{near(column, list(COLUMNS), 'there are')}"
    for column in NEEDED:
        if column not in columns:
            yield f"{me}: the column '{column}' is missing; there must be {', '.join(NEEDED)}"
    if len(set(columns)) < len(columns):
        yield f"{me}: column names must differ"


def _row(me, line, row, faults) -> Iterator[Metered]:
    """A line as a reading; none where it has no value, or a fault."""
    if not row["value"]:
        return
    said = list(_wrong(me, row))
    faults += said
    if not said:
        only = tuple(part.strip() for part in row.get("only", "").split(";") if part.strip() and part.strip().lower() != "all")
        yield Metered(
            where=row["where"], value=_number(row["value"]), unit=_unit(row["unit"]), setup=row.get("setup", ""), only=only,
            time=row.get("time", ""), note=row.get("note", ""), line=line, receptor=row.get("receptor", "").lower(),
        )  # fmt: skip


def _wrong(me, row) -> Iterator[str]:
    if not row["where"]:
        yield f"{me}: where must be a mark, a spot or a lamp, got nothing"
    if row.get("receptor", "").lower() not in ("", *RECEPTORS):
        yield f"{me}: receptor must be {' or '.join(RECEPTORS)}, or empty for the mark's own, got '{row['receptor'][:40]}'"
    if any(len(cell) > MOST_TEXT for cell in row.values()):
        yield f"{me}: a cell may have {MOST_TEXT} characters"
    if _unit(row["unit"]) is None:
        yield f"{me}: unit must be one of {', '.join(UNITS)}, got '{row['unit']}'{near(row['unit'], list(UNITS))}"
        return
    try:
        value = _number(row["value"])
        low = {"stops": -40.0, "T": 0.1}.get(_unit(row["unit"]), LEAST_LIGHT)
        check_range("value", value, high=1e7, low=low)
    except ValueError as error:
        comma = "; a decimal comma? write it with a point" if "," in row["value"] else ""
        said = str(error) if str(error).startswith("value") else f"value must be a number, got '{row['value'][:40]}'"
        yield f"{me}: {said}{comma}"


def _number(text):
    """A number as typed: a true minus, and a T before a T-stop."""
    return float(text.replace("−", "-").removeprefix("T").removeprefix("t"))


def _unit(text):
    return next((unit for unit in UNITS if unit.lower() == text.lower().replace("²", "2")), None)


def of_setup(log: Sequence[Metered], setup: Setup, name: str = "log") -> tuple[Metered, ...]:
    """
    The readings of one setup, everything they name being there.

    Parameters
    ----------
    log : sequence of Metered
    setup : Setup
    name : str
        What errors call the log.

    Returns
    -------
    tuple of Metered

    Raises
    ------
    LogError
        With a sentence for each name that is not there.
    """
    mine = tuple(one for one in log if one.setup in ("", setup.name))
    faults = [f"{name}, line {one.line}: {said}" for one in mine for said in _unknown(one, setup)]
    if faults:
        raise LogError("\n".join(faults))
    return mine


def _unknown(one, setup) -> Iterator[str]:
    """What a reading names that is not there, or says of it that cannot be."""
    lamps, spots, marks = ([part.name for part in kind] for kind in (setup.lights, setup.spots, setup.marks))
    there = marks + spots + lamps
    lamp = next((light for light in setup.lights if light.name == one.where), None)
    if lamp is not None and one.where in marks + spots:
        yield f"'{one.where}' is a lamp of setup '{setup.name}' and a mark or spot too: give one of them another name in the shoot file"
    elif lamp is not None and lamp.output <= 0.0:
        yield f"lamp '{one.where}' is off in the plan of setup '{setup.name}': give it a dim there, or leave its reading out"
    elif lamp is not None and one.only not in ((), (one.where,)):
        yield f"'{one.where}' is a lamp, which is read alone: only must be empty or '{one.where}', got '{'; '.join(one.only)}'"
    if one.receptor and one.where not in marks:
        yield f"receptor belongs to a mark, got '{one.receptor}' for '{one.where}'"
    if one.where not in there:
        yield f"setup '{setup.name}' has no mark, spot or lamp '{one.where}'{near(one.where, there, 'there are')}"
    elif one.unit in (("lx", "fc") if one.where in spots else ("cd/m2", "fl")):
        yield f"{one.where} is {'a spot: cd/m2 or fl' if one.where in spots else 'no spot: lx or fc'}, got {one.unit}"
    for lamp in one.only:
        if lamp not in lamps:
            yield f"only must name lamps of setup '{setup.name}', got '{lamp}'{near(lamp, lamps, 'there are')}"


def log_text(log: Sequence[Metered]) -> str:
    """
    Readings as the text of a log.

    Parameters
    ----------
    log : sequence of Metered

    Returns
    -------
    str
        CSV that `log_of` reads back.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for one in log:
        writer.writerow([one.time, one.setup, one.where, one.receptor, f"{one.value:.6g}", one.unit, "; ".join(one.only), one.note])
    return out.getvalue()
