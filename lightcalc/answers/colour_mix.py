"""
The colour of the light at a mark: what each source is, what lights the boards, and their mix.

Surfaces, boards and haze are taken as grey, so bounced light has the colour of what it bounced: a board the mix of what
lights it, room or ground the mix of all the straight light at the mark.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from lightcalc.engine.direct import straight
from lightcalc.laws.colour import balance_offset_mired, mix_cct_duv, shifted_kelvin
from lightcalc.units import check_range
from lightcalc.wording import signed

if TYPE_CHECKING:
    from lightcalc.engine.solve import Lit
    from lightcalc.scene.parts import Light, Mark, Setup

TOO_LITTLE = 0.01  # of a mark's light: at most 2 mired between 3200 and 10 000 K, under what an eye tells apart (5)
CLEAR_M = 1e-3  # off a board's face, where its light is read
ALIKE_MIRED = 5.0  # lights closer than this look the same


@dataclass(frozen=True)
class Mix:
    """The colour at a place. NaN where a source that lights it has no colour temperature; `without` names those."""

    kelvin: float
    duv: float
    without: tuple = ()
    mixed: bool = False  # of lights that look different

    def words(self, balance_kelvin: float = 0.0) -> str:
        """
        The colour in a few words.

        Parameters
        ----------
        balance_kelvin : float, default 0
            What the camera is balanced to; 0 is not given. [K]

        Returns
        -------
        str

        Examples
        --------
        >>> Mix(4138.0, -0.0026).words(), Mix(3200.0, 0.0).words(5600.0)
        ('4140 K, Duv −0.003', '3200 K, 134 mired warmer than the balance')
        >>> Mix(np.nan, np.nan, ("sky",)).words()
        'no colour: sky has no kelvin'
        """
        if self.without:
            return f"no colour: {', '.join(self.without)} {'has' if len(self.without) == 1 else 'have'} no kelvin"
        if not np.isfinite(self.kelvin):
            return "no colour temperature: too far from white" if np.isfinite(self.duv) else "no light, no colour"
        off = f", Duv {signed(self.duv, places=3)}" if abs(self.duv) >= 0.0015 else ""
        return f"{round(self.kelvin, -1):.0f} K{off}{self._against(balance_kelvin)}"

    def _against(self, balance_kelvin):
        if not balance_kelvin:
            return ""
        offset = float(balance_offset_mired(kelvin=self.kelvin, balance_kelvin=balance_kelvin))
        if abs(offset) < ALIKE_MIRED:
            return ", the camera's balance"
        return f", {abs(offset):.0f} mired {'warmer' if offset > 0 else 'cooler'} than the balance"


DARK = Mix(np.nan, np.nan)


def light_kelvin(light: Light) -> float:
    """
    A lamp's colour temperature behind its gel. [K]

    Parameters
    ----------
    light : Light

    Returns
    -------
    float
        0 where the lamp's own is not given, or the gel is green or magenta: no colour temperature says that.

    Raises
    ------
    ValueError
        If the gel is cooler than the lamp allows.
    """
    if not light.kelvin or light.gel is None:
        return light.kelvin_now
    if light.gel.tint:
        return 0.0
    return float(shifted_kelvin(kelvin=light.kelvin_now, shift_mired=light.gel.mired_shift))


def given_kelvin(setup: Setup) -> dict[str, float]:
    """
    Colour temperature of each lamp, the sun and the sky. [K]

    Parameters
    ----------
    setup : Setup

    Returns
    -------
    dict of str to float
        By source name, gels counted; 0 where it is not given. Boards and frames have none of their own.
    """
    found = {light.name: light_kelvin(light) for light in setup.lights}
    daylight = {
        part.source if part is setup.sun else "sky": float(part.kelvin) for part in (setup.sun, setup.sky) if part is not None
    }
    return found | daylight


def mix_of(shares: dict, kelvin: dict) -> Mix:
    r"""
    Mix of lights given by name.

    Parameters
    ----------
    shares : dict of str to float
        Illuminance from each, >= 0. [lx]
    kelvin : dict of str to float
        Colour temperature of each, 0 where it is not given. [K]

    Returns
    -------
    Mix

    Raises
    ------
    ValueError
        If an illuminance is negative or a temperature impossible.

    Notes
    -----
    A source under a hundredth of the light is left out. Lights add as tristimulus values, see `colour.mix_xyz`.

    Examples
    --------
    >>> round(mix_of({"lamp": 90.0, "sky": 90.0}, {"lamp": 3200.0, "sky": 5600.0}).kelvin)
    4138
    """
    check_range("shares", list(shares.values()) or [0.0], low=0.0)
    total = sum(shares.values())
    seen = {name: lx for name, lx in shares.items() if total > 0 and lx >= TOO_LITTLE * total}
    without = tuple(name for name in seen if not kelvin.get(name))
    own = [kelvin.get(name, 0.0) for name in seen]
    if without or not seen:
        return Mix(np.nan, np.nan, without, len(set(own)) > 1)
    found = mix_cct_duv(illuminance_lx=list(seen.values()), kelvin=own)
    return Mix(float(found[0]), float(found[1]), (), bool(np.ptp(np.divide(1e6, own)) > ALIKE_MIRED))


def mark_mix(lit: Lit, mark: Mark, by_source: dict) -> Mix:
    """
    The colour of the light at a mark.

    Parameters
    ----------
    lit : solve.Lit
        The setup's light.
    mark : Mark
    by_source : dict of str to float
        What each source gives it, `readings.MarkReading.by_source`. [lx]

    Returns
    -------
    Mix

    Notes
    -----
    What a board or frame gives has the mix of the lamps, sun and sky at its middle: on the face towards the mark for a
    board, on both for a frame. Boards that light boards are not followed; such a board takes the mix of the mark's own
    straight light, and so does what the room and the air send back; a mark that gets only that has no colour.

    Error: the room's true mix is weighted by what lights its walls, not the mark; surfaces of a colour tint it further.
    Meter the colour where it matters.
    """
    kelvin = given_kelvin(lit.setup)
    if len({round(k) for k in kelvin.values()}) == 1 and 0 not in kelvin.values() and sum(by_source.values()) > 0:
        return Mix(float(next(iter(kelvin.values()))), 0.0)  # one colour everywhere, wherever it bounced
    shares = {name: lx for name, lx in by_source.items() if name in kelvin}
    for part in lit.setup.boards + lit.setup.frames:
        _share_out(shares, by_source.get(part.name, 0.0), _lighting(lit, part, mark, kelvin))
    if sum(shares.values()) <= 0.0 < sum(by_source.values()):
        return Mix(np.nan, np.nan, ("what bounced",))  # nothing straight to tell it by
    return mix_of(shares, kelvin)  # what bounced has the same mix, so it changes nothing


def _share_out(shares, lx, weights):
    """Give so many lux to sources in proportion."""
    total = sum(weights.values())
    for name, weight in weights.items():
        shares[name] = shares.get(name, 0.0) + (lx * weight / total if total > 0 else 0.0)


def _lighting(lit, part, mark, kelvin):
    """What lamps, sun and sky give the middle of a board, on the face that the mark sees, or of a frame, on both. [lx]"""
    normal = np.subtract(part.aim, part.at) / np.linalg.norm(np.subtract(part.aim, part.at))
    faces = (1.0, -1.0) if hasattr(part, "diffusion") else (np.sign(normal @ np.subtract(mark.at, part.at)) or 1.0,)
    points = np.array([np.add(part.at, side * CLEAR_M * normal) for side in faces], dtype=float)
    normals = np.array([side * normal for side in faces])
    n = len(faces)
    lux = straight(lit.rig.row, points, normals, np.zeros(n, dtype=np.bool_), np.full(n, -1)).sum(axis=0)
    return {name: float(lx) for name, lx in zip(lit.setup.source_names, lux) if name in kelvin}
