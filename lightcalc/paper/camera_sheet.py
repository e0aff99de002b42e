"""Reference tables of a camera package: light for each stop and ISO, slow motion, flicker, filters, depth. One page."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from lightcalc.laws.engraved import nd_stops_from_density, thirds
from lightcalc.laws.exposure import (
    flicker_free_angles_deg,
    reference_illuminance_lx,
    shutter_time_s,
    slow_motion_stops,
    t_stop_from_engraved,
)  # fmt: skip
from lightcalc.laws.motion import depth_of_field_m, hyperfocal_m, usual_circle_mm
from lightcalc.paper.blocks import Pair, Table, Words
from lightcalc.paper.page import EDGE, Page, paper_of, pdf_bytes, plain_look
from lightcalc.units import Row, check_range, fc_from_lx, ft_from_m, m_from_ft
from lightcalc.wording import check_units, number_text, one_line, shutter_text, stops_text

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from lightcalc.scene.parts import Camera
    from lightcalc.scene.shoot import Shoot

SIZES = (7.5, 7.0, 6.5, 6.0, 5.5, 5.0, 4.5)  # type, largest that lets the page fit. [pt]
T_STOPS = (1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0)
ISO = (100.0, 200.0, 400.0, 800.0, 1600.0, 3200.0, 6400.0, 12_800.0)
FPS = (24.0, 25.0, 30.0, 48.0, 50.0, 60.0, 96.0, 100.0, 120.0, 150.0, 200.0, 240.0)
FLICKER_FPS = (24_000 / 1001, 24.0, 25.0, 30.0, 48.0, 50.0, 60.0, 100.0, 120.0)
DENSITIES = (0.3, 0.6, 0.9, 1.2, 1.5, 1.8, 2.1)
DISTANCES_M = {  # round numbers on the reader's own tape
    "metric": (1.0, 1.5, 2.0, 3.0, 5.0, 8.0, 12.0),
    "feet": tuple(m_from_ft(np.array([3.0, 5.0, 7.0, 10.0, 16.0, 25.0, 40.0])).tolist()),
}


@dataclass(frozen=True)
class CameraTables:
    """The tables as data, for one camera's frame rate, shutter, sensor and lens. Arrays are named with their units."""

    fps: float
    shutter_deg: float
    time_s: float
    t_stop: np.ndarray  # (n,) as engraved
    iso: np.ndarray  # (m,)
    light_lx: np.ndarray  # (n, m), a grey card on middle grey, no filter
    slow_fps: np.ndarray  # (k,)
    slow_time_s: np.ndarray  # (k,) at the package's angle
    angle_cost_stops: np.ndarray  # (k,) from the package's rate at its angle; minus is darker
    time_cost_stops: np.ndarray  # (k,) with the package's time held as long as it fits
    flicker_fps: np.ndarray  # (j,)
    flicker_50_hz_deg: tuple  # of arrays: angles that hold whole pulses
    flicker_60_hz_deg: tuple
    density: np.ndarray  # (q,) as engraved on neutral filters
    nd_stops: np.ndarray  # (q,) exactly
    focal_mm: float
    circle_mm: float
    distance_m: np.ndarray  # (d,)
    near_m: np.ndarray  # (d, n)
    far_m: np.ndarray  # (d, n), infinity from the hyperfocal distance on
    hyperfocal_m: np.ndarray  # (n,)

    @property
    def light_fc(self) -> np.ndarray:
        """The light in foot-candles, (n, m). [fc]"""
        return fc_from_lx(self.light_lx)


def camera_tables(camera: Camera, *, distances_m: Row = DISTANCES_M["metric"]) -> CameraTables:
    """
    Reference tables for a camera package.

    Parameters
    ----------
    camera : Camera
        Its frame rate, shutter, focal length and sensor are used; its stop, ISO and filter are what the tables run over.
    distances_m : sequence of float, shape (d,)
        Focus distances for the depth of field; those within two focal lengths are left out. [m]

    Returns
    -------
    CameraTables

    Raises
    ------
    ValueError
        If a distance is not positive.

    Notes
    -----
    Engraved stops are taken for what they stand for: 2.8 is 2.8284. Depth of field takes the T-stop for the f-number,
    which shows a little too much depth, and a thousandth of the picture's width for sharp.

    References
    ----------
    .. [1] ISO 2720:1974; see `exposure`, `scales` and `motion` for each equation.
    """
    exact = t_stop_from_engraved(label=np.array(T_STOPS))
    circle = float(usual_circle_mm(sensor_width_mm=camera.sensor_width_mm))
    check_range("distances_m", distances_m, above=0.0, hint="metres to the subject")
    distance = np.array([d for d in distances_m if d > 2e-3 * camera.focal_mm])
    lens = dict(focal_mm=camera.focal_mm, f_number=exact, circle_mm=circle)
    near, far = depth_of_field_m(distance_m=distance[:, None], **lens)
    slow: dict[str, Any] = dict(old_fps=camera.fps, new_fps=np.array(FPS), shutter_deg=camera.shutter_deg)
    return CameraTables(
        fps=camera.fps, shutter_deg=camera.shutter_deg, time_s=camera.time_s, t_stop=np.array(T_STOPS), iso=np.array(ISO),
        light_lx=reference_illuminance_lx(t_stop=exact[:, None], time_s=camera.time_s, iso=np.array(ISO)),
        slow_fps=np.array(FPS), slow_time_s=shutter_time_s(shutter_deg=camera.shutter_deg, fps=np.array(FPS)),
        angle_cost_stops=slow_motion_stops(**slow), time_cost_stops=slow_motion_stops(**slow, keep="time"),
        flicker_fps=np.array(FLICKER_FPS), flicker_50_hz_deg=_flicker(50.0), flicker_60_hz_deg=_flicker(60.0),
        density=np.array(DENSITIES), nd_stops=nd_stops_from_density(density=np.array(DENSITIES)), focal_mm=camera.focal_mm,
        circle_mm=circle, distance_m=distance, near_m=near, far_m=far, hyperfocal_m=hyperfocal_m(**lens),
    )  # fmt: skip


def _flicker(mains_hz):
    return tuple(flicker_free_angles_deg(fps=fps, mains_hz=mains_hz) for fps in FLICKER_FPS)


# --- the page ---------------------------------------------------------------------------------------


def tables_page(shoot: Shoot, camera: Camera, *, name: str = "", units: str | None = None, paper: str = "a4") -> Figure:
    """
    The tables as a figure of the paper's size.

    Parameters
    ----------
    shoot : Shoot
        Gives the film's title and the units.
    camera : Camera
    name : str, default ""
        Whose camera: "setup 6"; empty for the package.
    units : {"metric", "feet"}, optional
        By default the shoot's.
    paper : {"a4", "letter"}

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    ValueError
        If units or paper are unknown.
    """
    units, area = check_units(units or shoot.units), paper_of(paper)
    found, page = camera_tables(camera, distances_m=DISTANCES_M[units]), Page(area)
    page.text(EDGE, EDGE, one_line(shoot.title, most=80), 9.0, color="#333333")
    page.text(EDGE, EDGE + 4.6, f"Camera tables: {_package(found, name)}", 12.0, bold=True)
    page.rule(EDGE, EDGE + area.wide, EDGE + 12.0, 1.0)
    blocks = _blocks(found, units, area.wide)
    top, free = EDGE + 14.5, area.tall - 18.0
    size = next((s for s in SIZES if _tall(blocks, s) <= free), SIZES[-1])
    spare = max((free - _tall(blocks, size)) / len(blocks), 0.0)
    y = top
    for block in blocks:
        block.draw(page, EDGE, y, size)
        y += block.height(size) + 3.0 + min(spare, 4.0)
    page.text(EDGE, area.height - EDGE + 1.0, FOOT, 5.0, va="bottom", color="#444444")
    return page.figure


FOOT = (
    "Calculated, not measured. Meters may differ by 0.7 stop within ISO 2720 (constant 240 to 400 lx s; here 250): compare "
    "yours once and note the offset."
)


def _package(found, name):
    whose = one_line(name, most=30) or "the package"
    return f"{whose}, {found.fps:g} fps, {found.shutter_deg:g}°, {shutter_text(found.time_s)}"


def _tall(blocks, size):
    return sum(block.height(size) + 3.0 for block in blocks)


def _blocks(found, units, wide):
    half = (wide - 4.0) / 2
    filters = Pair(_flicker_table(found, half), _filters(found, half))
    lone = [_light(found, "lx", found.light_lx), _light(found, "fc", found.light_fc), _slow(found), _scales()]
    lone, last = ([replace(block, width=wide) for block in blocks] for blocks in (lone, [_depth(found, units), _how()]))
    return [*lone, filters, *last]


def _light(found, unit, light):
    rows = tuple((f"T{t:g}", *(number_text(v) for v in row)) for t, row in zip(found.t_stop, light))
    words = {"lx": "lux", "fc": "foot-candles"}[unit]
    title = f"Light that puts a grey card on middle grey, no filter ({words})"
    return Table(title, ("", *(f"ISO {s:g}" for s in found.iso)), rows, right=tuple(range(1, len(found.iso) + 1)))


def _slow(found):
    rows = (
        ("1/s", *(number_text(1 / t) for t in found.slow_time_s)),
        ("same angle", *(stops_text(v) for v in found.angle_cost_stops)),
        ("same time", *(stops_text(v) for v in found.time_cost_stops)),
    )
    title = f"Slow motion: exposure time at {found.shutter_deg:g}°, and what it does to the picture (stops; a minus is darker)"
    return Table(title, ("fps", *(f"{f:g}" for f in found.slow_fps)), rows, right=tuple(range(1, len(found.slow_fps) + 1)))


def _scales():
    ends = {"t_stop": (1.4, 22), "iso": (100, 25_600), "shutter": (48, 480), "nd": (0.1, 2.1)}
    names = {"t_stop": "T", "iso": "ISO", "shutter": "1/s", "nd": "ND"}
    lines = (f"{names[s]}: {', '.join(f'{v:g}' for v in thirds(scale=s, low=a, high=b)[0])}" for s, (a, b) in ends.items())
    return Words("Thirds of a stop, as engraved (ND 0.1 is a third)", tuple(lines))


def _flicker_table(found, width):
    rows = []
    for fps, fifty, sixty in zip(found.flicker_fps, found.flicker_50_hz_deg, found.flicker_60_hz_deg):
        shown = (" ".join(f"{round(a, 1):g}" for a in angles) or "none" for angles in (fifty, sixty))
        rows.append((f"{fps:.6g}", *shown))
    title = "Flicker-free shutter angles (degrees): lamps on the mains"
    return Table(title, ("fps", "50 Hz", "60 Hz"), tuple(rows), wraps=(1, 2), width=width)


def _filters(found, width):
    rows = tuple(
        (f"{d:g}", f"{s:.2f}", number_text(10**d), f"{number_text(100 * 10**-d)} %") for d, s in zip(found.density, found.nd_stops)
    )
    return Table("Neutral density", ("ND", "stops", "factor", "through"), rows, right=(1, 2, 3), width=width)


def _far(value_m, units):
    """A distance off a tape, two or three figures; infinity in a sign."""
    if not np.isfinite(value_m):
        return "∞"
    return number_text(value_m if units == "metric" else float(ft_from_m(value_m)))


def _depth(found, units):
    unit = "m" if units == "metric" else "ft"
    rows = [
        (_far(d, units), *(f"{_far(a, units)} – {_far(b, units)}" for a, b in zip(near, far)))
        for d, near, far in zip(found.distance_m, found.near_m, found.far_m)
    ]
    rows.append(("hyperfocal", *(_far(h, units) for h in found.hyperfocal_m)))
    title = f"Depth of field, {found.focal_mm:g} mm, blur circle {found.circle_mm:.3f} mm ({unit} from the lens)"
    heads = (f"focus, {unit}", *(f"T{t:g}" for t in found.t_stop))
    return Table(title, heads, tuple(rows), right=tuple(range(1, len(heads))))


def _how():
    return Words("How to read it", (
        "Light goes as the square of the stop, and with ISO and time: a stop wider, twice the ISO or half the frame rate halve it; "
        "a filter of n stops asks 2^n of it.",
        "Same angle: motion looks as before, frame by frame. Same time: the angle opens to 360° first, and only then is light lost; "
        "motion smears more. Dimmed LEDs pulse at rates of their own: shoot a test.",
    ))  # fmt: skip


def tables_sheet(
    shoot: Shoot, camera: Camera, path: str | Path, *, name: str = "", units: str | None = None, paper: str = "a4"
) -> Path:
    """
    Write the tables: one page of PDF.

    Parameters
    ----------
    shoot : Shoot
        Gives the film's title and the units.
    camera : Camera
    path : str or Path
        The file to write; replaced if it is there.
    name : str, default ""
        Whose camera: "setup 6"; empty for the package.
    units : {"metric", "feet"}, optional
        By default the shoot's.
    paper : {"a4", "letter"}

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    ValueError
        If units or paper are unknown.
    OSError
        If the file cannot be written.
    """
    return tables_sheets(shoot, {name: camera}, path, units=units, paper=paper)


def tables_sheets(shoot: Shoot, cameras: dict, path: str | Path, *, units: str | None = None, paper: str = "a4") -> Path:
    """
    Write the tables of several cameras as one PDF, a page each.

    Parameters
    ----------
    shoot : Shoot
        Gives the film's title and the units.
    cameras : dict of str to Camera
        By whose they are: "setup 6"; an empty name is the package's.
    path : str or Path
        The file to write; replaced if it is there.
    units : {"metric", "feet"}, optional
        By default the shoot's.
    paper : {"a4", "letter"}

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    ValueError
        If units or paper are unknown.
    OSError
        If the file cannot be written.
    """
    with plain_look():
        pages = [tables_page(shoot, camera, name=name, units=units, paper=paper) for name, camera in cameras.items()]
        data = pdf_bytes(pages, f"{one_line(shoot.title)}: camera tables")
    path = Path(path)
    path.write_bytes(data)
    return path
