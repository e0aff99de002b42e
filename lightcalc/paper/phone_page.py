"""The setup sheet for a phone: one HTML file with everything in it, drawings, expected readings, and blanks that keep what is typed."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Callable, Sequence
from html import escape
from io import BytesIO, StringIO
from pathlib import Path
from typing import TYPE_CHECKING

import matplotlib
from matplotlib.figure import Figure

from lightcalc import __version__, wording
from lightcalc.answers.ahead import Ahead
from lightcalc.drawing import picture_figures, plan
from lightcalc.drawing.symbols import extent
from lightcalc.paper import meter_blocks, rig_blocks
from lightcalc.paper.blocks import Table
from lightcalc.paper.page import plain_look
from lightcalc.paper.setup_sheet import FOOT
from lightcalc.scene.parts import Setup

if TYPE_CHECKING:
    from lightcalc.engine.picture import Picture
    from lightcalc.scene.shoot import Shoot

HERE = Path(__file__).parent
WIDE_IN, TYPE_PT = 5.0, 9.0  # of a drawing: at 390 pixels its type is then about 10 pixels high
TALLEST_IN = 7.5
POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'sha256-{script}'; base-uri 'none'; form-action 'none'"


def phone_page(
    shoot: Shoot,
    setups: Sequence[Setup],
    *,
    units: str | None = None,
    given: dict | None = None,
    told: Callable[[float], None] | None = None,
) -> str:
    """
    The text of the page.

    Parameters
    ----------
    shoot : Shoot
    setups : sequence of Setup
        One, or several one after the other with a list to choose from.
    units : {"metric", "feet"}, optional
        By default the shoot's.
    given : dict, optional
        Readings and picture of setups for which they are known, by name.
    told : callable, optional
        Is told the share done.

    Returns
    -------
    str
        HTML that asks nothing of any network; the same shoot gives the same text.
    """
    units = wording.check_units(units or shoot.units)
    sections, answers = [], given if isinstance(given, Ahead) else Ahead(setups, given)
    for number, setup in enumerate(setups, 1):
        readings, picture = answers.get(setup.name)
        sections.append(_section(shoot, setup, number, readings, picture, units))
        if told is not None:
            told(number / len(setups))
    title = _say(shoot.title if len(setups) > 1 else f"{setups[0].name} {setups[0].title}")
    script, style = (HERE / "phone.js").read_text(encoding="utf-8"), (HERE / "phone.css").read_text(encoding="utf-8")
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    return "\n".join((
        "<!doctype html>", '<html lang="en">', "<head>", '<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY.format(script=digest)}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">', '<meta name="referrer" content="no-referrer">',
        f"<title>{title}</title>", f"<style>{style}</style>", "</head>", "<body>",
        _front(shoot, setups), *sections,
        '<p class="screen"><span id="kept" class="small">Without scripts what you type is not kept.</span></p>',
        '<p class="screen"><button type="button" id="clear">Clear what was typed</button></p>',
        f'<p class="small">{_say(FOOT)} lightcalc {__version__}</p>', f"<script>{script}</script>", "</body>", "</html>", "",
    ))  # fmt: skip


def write_phone_page(
    shoot: Shoot,
    setups: Sequence[Setup],
    path: str | Path,
    *,
    units: str | None = None,
    told: Callable[[float], None] | None = None,
) -> Path:
    """
    Write the page.

    Parameters
    ----------
    shoot : Shoot
    setups : sequence of Setup
    path : str or Path
        Replaced if it is there.
    units : {"metric", "feet"}, optional
        By default the shoot's.
    told : callable, optional
        Is told the share done.

    Returns
    -------
    Path
    """
    path = Path(path)
    path.write_text(phone_page(shoot, setups, units=units, told=told), encoding="utf-8", newline="\n")
    return path


def _say(words, most=2_000):
    """Someone's words as HTML: one line, nothing in it is markup."""
    return escape(wording.one_line(str(words), most=most), quote=True)


def _front(shoot, setups):
    """Over several setups, the film and a list to choose from."""
    if len(setups) == 1:
        return ""
    rows = (
        f'<a href="#s{n}"><b>{_say(s.name)}</b> {_say(s.title)} <span class="small">{_say(meter_blocks.when_words(shoot, s))}</span></a>'
        for n, s in enumerate(setups, 1)
    )
    return f"<h1>{_say(shoot.title)}</h1><nav>{''.join(rows)}</nav>"


def _section(shoot, setup, number, readings, picture, units):
    head = f'<p class="when">{_say(shoot.title)}<br>{_say(meter_blocks.when_words(shoot, setup))}, {_say(setup.place.name)}</p>'
    side = meter_blocks.camera_lines(setup, units), meter_blocks.air_lines(shoot, setup, units)
    boards = rig_blocks.boards(setup, readings, units, width=190.0)
    notes = rig_blocks.notes(setup, units, width=190.0).paragraphs
    power = rig_blocks.power_words(shoot, setup)
    parts = [
        f'<section id="s{number}">', head, f"<h1>{_say(setup.name)} {_say(setup.title)}</h1>", _targets(readings),
        _headed("Plan", _drawing(setup, readings, units)), _headed("Expected picture", _photo(picture)),
        _headed("Meter", _blanks(shoot, setup, readings, units)),
        _headed("Camera", _pairs(side[0])), _headed("Light, air and place", _pairs(side[1])),
        _headed("By the tape", _cards(rig_blocks.tape(setup, units, width=190.0), 1)),
        _headed("Lights", _cards(rig_blocks.lights(shoot, setup, units, width=190.0), 1) + (f"<p>{_say(power)}</p>" if power else "")),
        _headed("Boards, frames and flags", _cards(boards, 2)), _headed("Notes", "".join(f"<p>{_say(n, 20_000)}</p>" for n in notes)),
        _headed("Cautions", "".join(f"<p>{_say(words)}</p>" for words in rig_blocks.cautions(setup))), "</section>",
    ]  # fmt: skip
    return "\n".join(part for part in parts if part)


def _headed(title, body):
    return f"<h2>{title}</h2>\n{body}" if body else ""


def _targets(readings):
    rows = []
    for target in readings.targets:
        state = "met" if target.met else "missed"
        got = wording.reading_text(target.quantity, target.got_stops)
        rows.append(
            f'<p>{_say(wording.target_text(target))}: {_say(got)} <span class="{state}">{_say(wording.verdict_text(target))}</span></p>'
        )
    return _headed("Targets (stops)", "".join(rows))


def _pairs(rows):
    return f"<dl>{''.join(f'<dt>{_say(name)}</dt><dd>{_say(words)}</dd>' for name, words in rows)}</dl>"


def _cards(table: Table, named: int) -> str:
    """Each row of a table as a card: call sign and name over pairs of head and words."""
    cards = []
    for row in table.rows:
        pairs = [
            (head, words)
            for k, (head, words) in enumerate(zip(table.heads, row))
            if k not in (0, named) and words not in ("", wording.DASH)
        ]
        cards.append(f'<div class="card"><h3><i>{_say(row[0])}</i>{_say(row[named])}</h3>{_pairs(pairs)}</div>')
    return _together(cards)


def _together(cards):
    return f'<div class="cards">{"".join(cards)}</div>' if cards else ""


def _blanks(shoot, setup, readings, units):
    """What a meter should read, largest on the page, and blanks for what it did."""
    cards = []
    for row in meter_blocks.day_block(setup, readings, units, width=190.0).rows:
        where, expected = row[:2]
        key = f"lightcalc/{wording.one_line(shoot.title)}/{setup.day}/{setup.name}/{where}"
        blanks = "".join(
            f'<label>{label}<input data-key="{_say(f"{key}/{kind}")}" inputmode="{mode}" autocomplete="off" maxlength="200"></label>'
            for label, kind, mode in (("metered", "read", "decimal"), ("what was moved", "note", "text"))
        )
        cards.append(
            f'<div class="card"><h3>{_say(where)}</h3><div class="big">{_say(expected)}</div><div class="blanks">{blanks}</div></div>'
        )
    return _together(cards)


def _drawing(setup, readings, units):
    """Plan and view from the near side, one under the other, at one scale."""
    with plain_look(), matplotlib.rc_context({"svg.hashsalt": "lightcalc", "svg.fonttype": "path"}):
        across, deep = plan.plan_size_m(setup)
        low, high = extent(setup, (0, 2))
        tall = min(WIDE_IN * max(deep / across, 0.5) + 0.7, TALLEST_IN)
        side = min(WIDE_IN * max((high[1] - low[1]) / across, 0.2) + 0.7, 3.5)
        plain, across_view = Figure(figsize=(WIDE_IN, tall)), Figure(figsize=(WIDE_IN, side))
        plan.plan(
            plain.add_axes((0.075, 0.09 * 4 / tall, 0.915, 1 - 0.1 * 4 / tall)), setup, units=units, readings=readings, size=TYPE_PT
        )
        plan.elevation(across_view.add_axes((0.075, 0.17 * 2 / side, 0.915, 1 - 0.19 * 2 / side)), setup, units=units, size=TYPE_PT)
        views = (("plan", "The setup from above", plain), ("side", "The setup from the near side", across_view))
        return "".join(f'<div class="drawing">{_svg(figure, f"{name}", words)}</div>' for name, words, figure in views)


def _svg(figure, name, words):
    """A figure as inline SVG: no header, no comments, no names that another drawing of the page may have too."""
    stream = StringIO()
    figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    text = re.sub(r"<!--.*?-->|<metadata>.*?</metadata>", "", stream.getvalue(), flags=re.S)
    text = text[text.index("<svg") :]
    text = re.sub(r'<g id="[^"]*"', "<g", text)
    text = re.sub(
        r'<svg [^>]*?viewBox="([^"]*)"[^>]*>',
        rf'<svg xmlns="http://www.w3.org/2000/svg" viewBox="\1" role="img" aria-label="{words}">',
        text,
        count=1,
    )
    return re.sub(r"\n\s*", "\n", text).strip()


def _photo(picture: Picture) -> str:
    """The expected luminances as a picture inside the page."""
    with plain_look():
        rows, cols = picture.luminance_cd_m2.shape
        figure = Figure(figsize=(WIDE_IN, WIDE_IN * rows / cols * 1.0 + 0.75), dpi=150)
        tall = figure.get_size_inches()[1]
        caption = f"Expected luminance; grey is {wording.number_text(picture.reference_cd_m2)} cd/m²"
        picture_figures.picture(figure.add_axes((0.01, 0.55 / tall, 0.98, 1 - 0.75 / tall)), picture, size=TYPE_PT, caption=caption)
        stream = BytesIO()
        figure.savefig(stream, format="png", metadata={"Software": None})
    data = base64.b64encode(stream.getvalue()).decode()
    return f'<div class="drawing"><img alt="Expected picture of the setup, with a scale of stops" src="data:image/png;base64,{data}"></div>'
