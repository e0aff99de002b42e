"""Spot readings off a still with a grey card in it, how sure they are, and what a still cannot know."""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from lightcalc.laws.exposure import GREY_REFLECTANCE
from lightcalc.scene.meter_log import Metered
from lightcalc.scene.parts import Setup
from lightcalc.units import Numbers, check_range
from lightcalc.wording import luminance_text, near, one_line, percent_text, plain, signed, stops_text

WEIGHTS = np.array([0.2126, 0.7152, 0.0722])  # PUBLISHED: luminance from linear RGB, ITU-R BT.709-6, item 3.2
FLARE = 0.02  # COMMON PRACTICE: a clean lens spreads 1 to 3 % of the picture's mean light over all of it (ISO 9358, veiling glare)
CURVE = 0.05  # COMMON PRACTICE: a stated curve is met to 5 % of the stops between a place and the card
NINETY = 1.645  # standard deviations to either side that hold 90 percent
CLIPPED = 0.01  # share of a patch's pixels at the end of the scale from which on it says nothing
PATCH = 0.02  # side of a patch where none is given, as a share of the picture's width
LEAST_PIXELS = 9


class StillError(ValueError):
    """A still that cannot be read: one sentence."""


def srgb_to_linear(code: Numbers) -> Numbers:
    """
    Linear light of an sRGB value. [1]

    Parameters
    ----------
    code : float or array
        0 to 1.

    References
    ----------
    .. [1] IEC 61966-2-1:1999.

    Examples
    --------
    >>> round(float(srgb_to_linear(0.5)), 5)
    0.21404
    """
    code = np.asarray(code, dtype=float)
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


def bt709_to_linear(code: Numbers) -> Numbers:
    """
    Linear light of a value as a camera of ITU-R BT.709 makes it. [1]

    Parameters
    ----------
    code : float or array
        0 to 1.

    References
    ----------
    .. [1] ITU-R BT.709-6 (2015), item 1.2, inverted.

    Examples
    --------
    >>> round(float(bt709_to_linear(0.5)), 4)
    0.2596
    """
    code = np.asarray(code, dtype=float)
    return np.where(code < 0.081, code / 4.5, ((np.maximum(code, 0.081) + 0.099) / 1.099) ** (1.0 / 0.45))


CURVES: dict[str, Callable[[Numbers], Numbers]] = {
    "linear": lambda code: np.asarray(code, dtype=float), "srgb": srgb_to_linear, "bt709": bt709_to_linear,
}  # fmt: skip


def curve_of(name: str) -> Callable[[Numbers], Numbers]:
    """
    A curve by name, or from a table.

    Parameters
    ----------
    name : str
        linear, srgb, bt709, or a CSV of two columns: code value 0 to 1, rising, and the light that belongs to it, rising.

    Returns
    -------
    callable
        Code values to relative light.

    Raises
    ------
    StillError
        If there is no such curve, or the table does not rise.
    """
    if name.casefold() in CURVES:
        return CURVES[name.casefold()]
    path = Path(name)
    if path.suffix.lower() != ".csv":
        raise StillError(
            f"curve must be {', '.join(CURVES)} or a CSV of code value and light, got '{one_line(name)}'{near(name, list(CURVES))}"
        )
    try:
        with path.open(encoding="utf-8-sig", newline="") as lines:
            rows = [[float(cell) for cell in row[:2]] for row in csv.reader(lines) if row and not row[0].lstrip().startswith("#")]
        code, light = np.array(rows, dtype=float).T
    except OSError as error:
        raise StillError(f"{path.name}: cannot be read: {error.strerror}") from None
    except ValueError:
        raise StillError(f"{path.name}: each line must have two numbers: code value 0 to 1, and light") from None
    if len(code) < 2 or np.any(np.diff(code) <= 0) or np.any(np.diff(light) <= 0) or light[0] < 0:
        raise StillError(f"{path.name}: code value and light must rise from line to line, in two lines or more")
    return lambda values: np.interp(values, code, light)


@dataclass(frozen=True)
class Picture:
    """A still's code values, 0 to 1, (rows, columns, 3), and their step."""

    codes: np.ndarray
    step: float


def read_still(path: str | Path) -> Picture:
    """
    Read a still.

    Parameters
    ----------
    path : str or Path
        PNG, TIFF or JPEG of 8 bits a channel, or grey of 16; or .npy: linear light, (rows, columns) or (rows, columns, 3).

    Returns
    -------
    Picture

    Raises
    ------
    StillError
        If it cannot be read.
    """
    from PIL import Image, UnidentifiedImageError

    path = Path(path)
    try:
        if path.suffix.lower() == ".npy":
            codes = np.load(path, allow_pickle=False).astype(float)
            whole = float(codes.max()) if codes.size else 0.0
            codes, step = (codes / whole if whole > 0 else codes), 0.0
        else:
            with Image.open(path) as image:
                deep = image.mode.startswith("I")
                codes = np.asarray(image if deep else image.convert("RGB"), dtype=float)
            step = 1.0 / (65_535.0 if deep else 255.0)
            codes = codes * step
    except OSError as error:
        said = "no picture" if isinstance(error, UnidentifiedImageError) else error.strerror or "no picture"
        raise StillError(f"{path.name}: cannot be read: {said}") from None
    except ValueError:
        raise StillError(f"{path.name}: must hold an array of numbers") from None
    if codes.ndim == 2:
        codes = np.repeat(codes[:, :, None], 3, axis=2)
    if codes.ndim != 3 or codes.shape[2] != 3 or min(codes.shape[:2]) < 8 or not np.isfinite(codes).all() or codes.min() < 0:
        raise StillError(f"{path.name}: must be a picture of 8 x 8 pixels or more, with light that is not below 0")
    return Picture(codes, step)


@dataclass(frozen=True)
class Place:
    """A place in a still: stops over the card, and the ends of what it may be with 90 percent."""

    name: str
    over_card_stops: float
    low: float  # with flare: a dark place is darker than it looks
    high: float
    luminance_cd_m2: float  # NaN where the card's light is not known
    noise_stops: float  # of its pixels
    flare_share: float  # of its light, as far as that may be flare

    def words(self, units: str = "metric") -> str:
        """In words."""
        light = "" if np.isnan(self.luminance_cd_m2) else f"{luminance_text(self.luminance_cd_m2, units)}, "
        between = f"{signed(self.low, places=1)} to {signed(self.high, places=1)}"
        flare = f"; up to {percent_text(self.flare_share)} of it may be flare" if self.flare_share > 0.05 else ""
        return f"{one_line(self.name)}: {light}{stops_text(self.over_card_stops)} from the card ({between}){flare}"


@dataclass(frozen=True)
class Still:
    """What a still says of some places."""

    setup: str
    card_lx: float  # NaN where nobody read it
    curve: str
    places: tuple[Place, ...]

    def lines(self, units: str = "metric") -> list[str]:
        """As plain text."""
        rows = [f"{self.setup}: off the still, by its grey card, curve {one_line(self.curve)} (90 % between)"]
        rows += [f"  {place.words(units)}" for place in self.places]
        rows += ["  no light is known without the card's own: read it, --card-lux"] if np.isnan(self.card_lx) else []
        return rows + [
            f"  It cannot know: flare (taken as 0 to {percent_text(FLARE)} of the picture's mean), a curve other than the one said, "
            "the lens's fall-off to the corners, colour the card does not have."
        ]

    def as_json(self) -> dict[str, Any]:
        """As plain data, units in the key names."""
        return plain({"setup": self.setup, "card_lx": self.card_lx, "curve": self.curve, "places": self.places})

    def log(self) -> tuple[Metered, ...]:
        """The readings as a meter's log has them; none without the card's light."""
        if np.isnan(self.card_lx):
            return ()
        return tuple(
            Metered(
                where=place.name, value=place.luminance_cd_m2, unit="cd/m2", setup=self.setup,
                note=f"off a still, {signed(place.low - place.over_card_stops, places=1)} to "
                f"{signed(place.high - place.over_card_stops, places=1)} stops",
            )
            for place in self.places
        )  # fmt: skip


def read_places(
    picture: Picture, setup: Setup, *, card: tuple[float, ...], at: Mapping[str, tuple[float, ...]], curve: str = "srgb",
    card_lx: float = np.nan, card_reflectance: float = GREY_REFLECTANCE,
) -> Still:  # fmt: skip
    r"""
    Luminances of named places off a still with a grey card in it.

    Parameters
    ----------
    picture : Picture
    setup : Setup
        Its spots give the names.
    card : tuple
        x, y, and width and height if wanted, of the card in the picture: shares of it from its top left corner, or pixels where
        any is over 1.
    at : mapping of str to tuple
        By spot, a place in the picture, in the same way.
    curve : str, default 'srgb'
        As `curve_of` takes it.
    card_lx : float, optional
        Illuminance that a meter reads flat on the card. [lx]
    card_reflectance : float, default 0.18
        [1]

    Returns
    -------
    Still

    Raises
    ------
    StillError
        If a place is no spot of the setup, lies outside the picture, is clipped, or the card has no light.

    Notes
    -----
    .. math:: L = \frac{\rho E}{\pi} \frac{Y}{Y_\mathrm{card}}, \qquad Y = 0.2126 R + 0.7152 G + 0.0722 B

    The interval has the pixels' own spread, half a code value, 5 % of the stops to the card for the curve, and one-sidedly the flare:
    0 to 2 % of the picture's mean light that lies on everything.
    """
    check_range("card_reflectance", card_reflectance, above=0.0, high=1.0)
    if not np.isnan(card_lx):
        check_range("card_lx", card_lx, above=0.0, high=200_000.0)
    names = [spot.name for spot in setup.spots]
    for name in at:
        if name not in names:
            raise StillError(f"setup '{setup.name}' has no spot '{one_line(name)}'{near(name, names, 'there are')}")
    bend = curve_of(curve)
    light = bend(picture.codes) @ WEIGHTS
    mean = float(light.mean())
    grey, grey_sd = _patch(picture, light, bend, "card", card)
    if grey <= 0.0:
        raise StillError("card: no light on it in this picture")
    places = []
    for name, where in at.items():
        value, sd = _patch(picture, light, bend, name, where)
        if value <= 0.0:
            raise StillError(f"{one_line(name)}: black in this picture; it says only that there is little light")
        over = float(np.log2(value / grey))
        noise = float(np.hypot(sd / value, grey_sd / grey) / np.log(2.0))
        by = NINETY * float(np.hypot(noise, CURVE * over))
        flare = FLARE * mean
        ends = sorted(float(np.log2(max(value - f, 1e-3 * value) / max(grey - f, 1e-3 * grey))) for f in (0.0, flare))
        cd_m2 = card_reflectance * card_lx / np.pi * 2.0**over
        places.append(Place(name, over, ends[0] - by, ends[1] + by, cd_m2, noise, float(min(flare / value, 1.0))))
    return Still(setup.name, card_lx, curve, tuple(places))


def _patch(picture, light, bend, name, where):
    """Mean and its standard deviation of a patch's light."""
    rows, columns = light.shape
    if len(where) not in (2, 4) or not np.isfinite(where).all():
        raise StillError(f"{one_line(name)}: a place is x,y or x,y,width,height, got {','.join(f'{v:g}' for v in where)}")
    scale = np.array([columns, rows, columns, rows][: len(where)]) if max(where) <= 1.0 else np.ones(len(where))
    x, y, *size = (float(v) for v in np.asarray(where) * scale)
    wide, high = size or (PATCH * columns, PATCH * columns)
    left, top = (round(v - side / 2) for v, side in ((x, wide), (y, high)))
    right, low = left + max(round(wide), 3), top + max(round(high), 3)
    if left < 0 or top < 0 or right > columns or low > rows:
        raise StillError(
            f"{one_line(name)}: {','.join(f'{v:g}' for v in where)} with its patch lies outside the picture of {columns} x {rows} pixels"
        )
    codes, part = picture.codes[top:low, left:right], light[top:low, left:right]
    if part.size < LEAST_PIXELS:
        raise StillError(f"{one_line(name)}: a patch must have {LEAST_PIXELS} pixels, got {part.size}")
    full, dark = np.mean(codes.max(axis=2) >= 1.0 - picture.step / 2), np.mean(codes.min(axis=2) <= picture.step / 2)
    if picture.step > 0 and full > CLIPPED:
        raise StillError(
            f"{one_line(name)}: {percent_text(full)} of its pixels are clipped: brighter than the picture holds; expose less"
        )
    if picture.step > 0 and dark > 0.5:
        raise StillError(f"{one_line(name)}: {percent_text(dark)} of its pixels are black: darker than the picture holds")
    mean = float(part.mean())
    middle = float(codes.mean())
    half = float(np.ravel(bend(min(middle + picture.step / 2, 1.0)) - bend(max(middle - picture.step / 2, 0.0)))[0]) / 2.0
    return mean, float(np.hypot(part.std() / np.sqrt(part.size), half / np.sqrt(3.0) if picture.step else 0.0))
