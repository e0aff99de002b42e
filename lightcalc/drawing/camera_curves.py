"""Drawings of the camera's own matters: a moving figure at several shutters, margins at each ISO, noise in the shadows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter

from lightcalc.drawing.palette import BLACK, BLUE, FAINT, GREEN, ORANGE, PAPER, QUIET, VERMILLION
from lightcalc.laws.exposure import shutter_time_s
from lightcalc.laws.motion import blur_mm, magnification, percent_of_width, pixels, strobing
from lightcalc.laws.sensor import ACCEPTABLE_SNR, EXCELLENT_SNR
from lightcalc.units import Row, check_range
from lightcalc.wording import number_text, shutter_text, signed

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from lightcalc.answers.noise import IsoRow, Noise
    from lightcalc.scene.parts import Camera

RUNNER = np.array(  # a running figure 1.75 m high: rods with round ends: x0, y0, x1, y1, radius, metres from the feet
    [
        (0.09, 1.62, 0.11, 1.66, 0.105), (0.06, 1.40, 0.09, 1.56, 0.050),
        (0.0, 0.98, 0.06, 1.36, 0.135), (0.0, 0.94, 0.27, 0.70, 0.085),
        (0.27, 0.70, 0.20, 0.30, 0.060), (0.20, 0.30, 0.31, 0.24, 0.045), (0.0, 0.94, -0.18, 0.55, 0.085),
        (-0.18, 0.55, -0.50, 0.40, 0.055), (-0.50, 0.40, -0.55, 0.29, 0.045), (0.06, 1.36, 0.24, 1.12, 0.050),
        (0.24, 1.12, 0.40, 1.27, 0.045), (0.04, 1.36, -0.18, 1.16, 0.050), (-0.18, 1.16, -0.13, 0.92, 0.045),
    ]
)  # fmt: skip
TALL_M, LENS_M = 1.75, 1.2  # the figure's height, and the lens's, by default


def runner_share(
    *,
    camera: Camera,
    speed_m_s: float,
    distance_m: float,
    shutter_deg: float,
    direction_deg: float = 90.0,
    lens_m: float = LENS_M,
    wide: int = 240,
) -> tuple[np.ndarray, tuple[float, float, float, float]]:
    r"""
    How much of the exposure a moving figure covers each place of the picture.

    Parameters
    ----------
    camera : Camera
        Its focal length, frame rate and sensor.
    speed_m_s : float
        >= 0. [m/s]
    distance_m : float
        Lens to figure at the middle of the exposure, along the axis. [m]
    shutter_deg : float
        Shutter angle, above 0 to 360. [deg]
    direction_deg : float, default 90
        From straight at the lens (0) over across the picture (90) to straight away (180). [deg]
    lens_m : float, default 1.2
        Height of the lens, which looks level, over the ground. [m]
    wide : int, default 240
        Samples across, 40 to 2000.

    Returns
    -------
    share : array, shape (h, w)
        0 never, 1 all of the time; the top row first.
    extent_mm : tuple of four floats
        Left, right, bottom and top on the picture, from its middle, the right way up. [mm]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: s(x, y) = \frac{1}{t}\int_{-t/2}^{t/2} [\,(X, Y)(x, y, \tau)\ \mathrm{inside\ the\ figure}\,]\, d\tau

    Each sample is put back through the pinhole to the plane the figure is in at that moment, which is exact for any
    direction. The figure is stiff: limbs that swing blur more.
    """
    check_range("wide", wide, low=40, high=2000)
    time_s = float(shutter_time_s(shutter_deg=shutter_deg, fps=camera.fps))
    streak = float(blur_mm(  # checks the rest
        speed_m_s=speed_m_s, distance_m=distance_m, focal_mm=camera.focal_mm, time_s=time_s, direction_deg=direction_deg,
        offset_m=0.7,
    ))  # fmt: skip
    m = float(magnification(focal_mm=camera.focal_mm, distance_m=distance_m))
    high_mm, low_mm = 1e3 * m * (TALL_M + 0.12 - lens_m), 1e3 * m * (-0.10 - lens_m)
    half_mm = 1e3 * m * 1.0
    x = np.linspace(-half_mm, half_mm, int(wide))
    y = np.linspace(high_mm, low_mm, max(int(wide * (high_mm - low_mm) / (2 * half_mm)), 8))
    steps = int(np.clip(np.ceil(streak / (x[1] - x[0])), 24, 120))
    moments = time_s * ((np.arange(steps) + 0.5) / steps - 0.5)
    way = np.radians(direction_deg)
    share = np.zeros((len(y), len(x)))
    for moment in moments:
        away = distance_m - speed_m_s * moment * np.cos(way)
        scale = away / (1e3 * m * distance_m)  # millimetres on the picture to metres at the figure
        share += _inside(x * scale - speed_m_s * moment * np.sin(way), y * scale + lens_m)
    return share / steps, (-half_mm, half_mm, low_mm, high_mm)


def _inside(x_m, y_m):
    """Where a grid lies inside the runner. (h, w) of bool"""
    found = np.zeros((len(y_m), len(x_m)), dtype=bool)
    for x0, y0, x1, y1, radius in RUNNER:
        dx, dy = x1 - x0, y1 - y0
        along = np.clip(((x_m - x0)[None, :] * dx + (y_m - y0)[:, None] * dy) / (dx * dx + dy * dy), 0.0, 1.0)
        found |= (x_m[None, :] - x0 - along * dx) ** 2 + (y_m[:, None] - y0 - along * dy) ** 2 <= radius * radius
    return found


def motion_strip(
    axes: Sequence[Axes], camera: Camera, *, speed_m_s: float, distance_m: float, shutters_deg: Row=(45.0, 90.0, 180.0, 360.0), direction_deg: float=90.0, lens_m: float=LENS_M,
    size: float=8.0,
) -> None:  # fmt: skip
    """
    A running figure at several shutters side by side, each streak from the same numbers as the text under it.

    Parameters
    ----------
    axes : sequence of matplotlib Axes
        One for each shutter.
    camera : Camera
        Its focal length, frame rate, sensor and pixel pitch.
    speed_m_s, distance_m, direction_deg, lens_m : float
        As for `runner_share`.
    shutters_deg : sequence of float
        Shutter angles, above 0 to 360. [deg]
    size : float, default 8
        Type size. [pt]

    Raises
    ------
    ValueError
        If there are not as many axes as shutters, or an input is outside its range.

    Notes
    -----
    The bar under each figure is as long as its streak: of its middle when it crosses the picture, of its head when it
    comes or goes.
    """
    if len(axes) != len(shutters_deg):
        raise ValueError(f"axes must be as many as shutters, got {len(axes)} for {len(shutters_deg)}")
    for ax, shutter in zip(axes, shutters_deg):
        given: dict[str, Any] = dict(speed_m_s=speed_m_s, distance_m=distance_m, direction_deg=direction_deg)
        share, extent = runner_share(camera=camera, shutter_deg=shutter, lens_m=lens_m, **given)
        time_s = float(shutter_time_s(shutter_deg=shutter, fps=camera.fps))
        offset = TALL_M - 0.1 - lens_m if direction_deg in (0.0, 180.0) else 0.0
        streak = float(blur_mm(focal_mm=camera.focal_mm, time_s=time_s, offset_m=offset, **given))
        ax.imshow(share, extent=extent, cmap="Greys", vmin=0.0, vmax=1.15, aspect="equal", interpolation="nearest")
        _streak_bar(ax, extent, streak)
        _plain_box(ax)
        ax.set_title(f"{shutter:g}°, {shutter_text(time_s)}", fontsize=size, pad=3)
        _, _, risk = strobing(blur_mm=streak, shutter_deg=shutter, sensor_width_mm=camera.sensor_width_mm)
        px = pixels(length_mm=streak, pixel_um=camera.pixel_um)
        percent = percent_of_width(length_mm=streak, sensor_width_mm=camera.sensor_width_mm)
        long, part, gap = (number_text(float(value), figures=2) for value in (px, percent, risk))
        ax.set_xlabel(f"{long} px, {part} % of the width\ngap {gap} x the 7 s rule's", fontsize=size - 1, labelpad=3)


def _streak_bar(ax, extent, streak_mm):
    """A bar as long as the streak, under the feet."""
    left, right, low, high = extent
    at, lip, half = low + 0.035 * (high - low), 0.012 * (high - low), 0.5 * min(streak_mm, right - left)
    ax.plot([-half, half], [at, at], color=VERMILLION, lw=1.6, solid_capstyle="butt", gid="streak")
    for edge in (-half, half):
        ax.plot([edge, edge], [at - lip, at + lip], color=VERMILLION, lw=1.2)


def _plain_box(ax):
    ax.set_xticks([])
    ax.set_yticks([])
    for spine in ax.spines.values():
        spine.set_linewidth(0.5)


def motion_figure(
    camera: Camera,
    *,
    speed_m_s: float,
    distance_m: float,
    shutters_deg: Row = (45.0, 90.0, 180.0, 360.0),
    direction_deg: float = 90.0,
    size: float = 8.0,
) -> Figure:
    """
    `motion_strip` as a figure of its own.

    Parameters
    ----------
    camera : Camera
    speed_m_s, distance_m, shutters_deg, direction_deg, size : float
        As for `motion_strip`.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    ValueError
        If an input is outside its range.
    """
    figure = Figure(figsize=(1.95 * len(shutters_deg), 2.75), layout="constrained", facecolor=PAPER)
    axes = figure.subplots(1, len(shutters_deg), squeeze=False)[0]
    given = dict(speed_m_s=speed_m_s, distance_m=distance_m, direction_deg=direction_deg)
    motion_strip(axes, camera, shutters_deg=shutters_deg, size=size, **given)
    way = {0.0: "straight at the lens", 90.0: "across the picture", 180.0: "straight away"}
    figure.suptitle(
        f"{camera.fps:g} fps, {camera.focal_mm:g} mm: a figure at {speed_m_s:g} m/s, {distance_m:g} m off, "
        f"{way.get(direction_deg, f'{direction_deg:g}° from the lens')}; the red bar is its streak",
        fontsize=size + 0.5,
    )  # fmt: skip
    return figure


def iso_margin(
    ax: Axes, rows: Sequence[IsoRow], *, floor_snr: float = ACCEPTABLE_SNR, at_iso: float | None = None, size: float = 8.0
) -> None:
    """
    How far middle grey is over the noise one will accept, at each ISO, with its error bar.

    Parameters
    ----------
    ax : matplotlib Axes
    rows : sequence of noise.IsoRow
    floor_snr : float, default 10
        The signal to noise the margins were taken from. [1]
    at_iso : float, optional
        The setup's own ISO, drawn as an upright line. [1]
    size : float, default 8
        Type size. [pt]
    """
    iso = np.array([row.iso for row in rows])
    margin, error = (np.array([getattr(row, name) for row in rows]) for name in ("margin_stops", "error_stops"))
    ax.axhspan(min(float((margin - 2 * error).min()), -1.0), 0.0, facecolor="#ECECEC", edgecolor="none", zorder=0)
    ax.axhline(0.0, color=BLACK, lw=1.0, zorder=1)
    ax.errorbar(iso, margin, yerr=2 * error, color=BLUE, lw=0.8, capsize=3, ls="none", zorder=2)
    ax.errorbar(iso, margin, yerr=error, color=BLUE, marker="o", ms=4, lw=1.4, elinewidth=2.6, zorder=3)
    if at_iso is not None:
        ax.axvline(at_iso, color=QUIET, lw=0.9, ls=":", zorder=1)
    ax.set_xscale("log", base=2)
    ax.set_xticks(iso)
    ax.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:.0f}"))
    ax.minorticks_off()
    ax.tick_params(labelsize=size)
    for label in ax.get_xticklabels():
        label.set(rotation=45, ha="right", rotation_mode="anchor")
    ax.grid(True, axis="y", color=FAINT, lw=0.5)
    ax.set_xlabel("ISO, grey card at middle grey", fontsize=size)
    ax.set_ylabel(f"Over a signal to noise of {floor_snr:g} (stops)", fontsize=size)


def shadow_noise(ax: Axes, found: Noise, *, size: float = 8.0) -> None:
    """
    Signal to noise in each stop of shadow, against the floors.

    Parameters
    ----------
    ax : matplotlib Axes
    found : noise.Noise
    size : float, default 8
        Type size. [pt]
    """
    ax.plot(found.shadow_stops, found.shadow_snr, color=BLUE, marker="o", ms=4, lw=1.4, zorder=3)
    for snr, words, color, dash in (
        (EXCELLENT_SNR, "40, excellent", GREEN, "-"), (ACCEPTABLE_SNR, "10, acceptable", ORANGE, "--"),
        (1.0, "1, all noise", VERMILLION, ":"),
    ):  # fmt: skip
        ax.axhline(snr, color=color, lw=1.1, ls=dash, zorder=1)
        ax.text(found.shadow_stops[0] + 0.15, snr * 1.06, words, fontsize=size - 1, ha="left", va="bottom", color=BLACK)
    ax.axvline(-found.grey.range_under_stops, color=QUIET, lw=0.9, ls=":", zorder=1)
    ax.set_yscale("log", base=2)
    ax.set_ylim(top=2.0 * max(EXCELLENT_SNR, float(found.shadow_snr.max())))
    ax.yaxis.set_major_formatter(FuncFormatter(lambda value, _: number_text(value)))
    ax.set_xlim(found.shadow_stops[-1] - 0.3, found.shadow_stops[0] + 2.4)
    ax.set_xticks(found.shadow_stops[::2])
    ax.xaxis.set_major_formatter(FuncFormatter(lambda value, _: signed(value)))
    ax.tick_params(labelsize=size)
    ax.grid(True, color=FAINT, lw=0.5)
    ax.set_xlabel("Stops from middle grey", fontsize=size)
    ax.set_ylabel("Signal to noise (1)", fontsize=size)
