"""
The command line: `python -m lightcalc VERB FILE [SETUP]`.

Exit status 0; 1 if a target is missed, a cut does not match, a circuit is asked for too much, or lamps cannot pay for a change that was asked; 2 for bad input, with one sentence on stderr.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from pathlib import Path

FILES = (".pdf", ".html", ".png", ".jpg", ".jpeg", ".svg", ".toml")  # endings that nobody gives a folder
OK, MISSED, BAD, STOPPED = 0, 1, 2, 130
VERBS = {
    "check": "is this shoot file sound, and what in it is surely not meant",
    "meter": "print the readings of a setup, or of all",
    "layers": "how a dark and a light card stand apart with distance, with haze and without",
    "day": "sun and twilights, when a setup can be shot, when sun is in its windows",
    "order": "a day's setups in your order checked against light, haze, moves and a shot list, and the best beside it",
    "load": "which lamp on which circuit, whether each carries it for a day, cable and battery hours",
    "air": "how long the haze of a setup takes and holds, what it drinks, what is breathed",
    "advise": "the smallest change that meets a setup's targets, or all setups', and what stands in the way",
    "sensitivity": "what a small slip of each lamp, board, haze, sky and camera does to every reading, and which target it loses",
    "cut": "do two setups match across a cut, where not, and with --match what brings the second to the first",
    "correct": "what the day's meter says of lamps, haze and walls; which reading is wild; the plan corrected",
    "still": "spot readings off a still with a grey card in it, and how sure they are; -o writes them as a log",
    "after": "after the day: hours, fluid and what the lamps really gave, from the day's log; -o writes them as own kit",
    "camera": "what the lamps can still give, how noisy the picture is; --fps 60 answers a late change",
    "view": "the camera picture of a setup, or of all, as PNG",
    "sheet": "the printed page of a setup, or of all, as PDF",
    "phone": "the page of a setup, or of all, as one HTML file for a phone, with blanks for the day's readings",
    "book": "the whole shoot as one PDF: contents, day pages, setup sheets, carry list, recce forms",
    "recce": "the form to print for a recce: a page for each place, or one empty without a file",
    "carry": "kit totals for each day and the shoot, and what they rest on",
    "tables": "reference tables of a setup's camera, or of all, as PDF",
    "new": "write a commented starter file",
    "ready": "compile the light engine ahead, once on a machine",
    "kit": "all lamps, stuffs, cloths, gels and surfaces, what their numbers rest on, and your own beside a shoot file",
}


LIST_HELP = "CSV with setup, and any of minutes, after, before, day, earliest, latest; its rows are your order"
ASKED = {  # a late change of camera, as `headroom.answer` takes it
    "fps": "frames a second, the shutter angle kept", "shutter_deg": "shutter angle", "t_stop": "T-stop, as engraved",
    "iso": "ISO", "nd_stops": "filter, in stops",
}  # fmt: skip


class InputError(ValueError):
    """What was typed cannot be done; one sentence."""


class _Parser(argparse.ArgumentParser):
    def error(self, message):
        raise InputError(f"{message}; python -m lightcalc --help lists what there is")


def main(argv=None):
    """
    Run one verb.

    Parameters
    ----------
    argv : list of str, optional
        Arguments; those of the process by default.

    Returns
    -------
    int
        Exit status: 0, 1 a target is missed, 2 bad input.
    """
    try:
        status = _run(_arguments(argv))
        sys.stdout.flush()
        return status
    except KeyboardInterrupt:
        return STOPPED
    except BrokenPipeError:  # the reader, `head` say, has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # or the exit would flush into it again
        return OK
    except ValueError as error:  # every refusal in this package is one, and is one sentence
        return _say(str(error))
    except OSError as error:
        return _say(f"{error.filename or 'file'}: {error.strerror or error}")


def _say(sentence):
    print(f"lightcalc: {sentence}", file=sys.stderr)
    return BAD


def _arguments(argv):
    parser = _Parser(prog="lightcalc", description="Light, haze and exposure of a film setup, in stops.")
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="VERB")
    _question_verbs(verbs)
    for verb, helps in VERBS.items():
        one = verbs.add_parser(verb, help=helps, description=helps.capitalize() + ".")
        if verb == "ready":
            continue
        one.add_argument(
            "file", metavar="FILE", type=Path, nargs="?" if verb in ("kit", "recce") else None, help="shoot file (TOML)"
        )
        if verb in ("order", "book", "carry"):
            one.add_argument("list", metavar="SHOTLIST", type=Path, nargs="?", help=LIST_HELP)
        if verb == "order":
            one.add_argument("--call", metavar="TIME", help="when every day begins; from the setups' own times without it")
            one.add_argument("--best", action="store_true", help="write the best order instead of your own")
            one.add_argument("-o", dest="out", metavar="X.csv", type=Path, help="the table as a shot list")
        if verb in ("book", "recce"):
            one.add_argument("-o", dest="out", metavar="X.pdf", type=Path, required=True, help="the PDF to write")
        if verb not in ("new", "kit", "order", "book", "carry", "recce", "after"):
            one.add_argument("setup", metavar="SETUP", nargs="?", help="name of a setup; all without it")
        if verb != "new":
            one.add_argument("--json", action="store_true", help="print JSON, units in the key names")
            choices = ("metric", "feet") + ("both",) * (verb in ("sheet", "book"))
            one.add_argument("--units", choices=choices, help="what to print in; the file's choice without it")
        if verb in ("view", "sheet", "phone", "tables", "layers"):
            helps = "file for one setup, folder for all"
            helps += {"layers": "; no curve is drawn without it", "view": ""}.get(verb, ", or file for all in one document")
            one.add_argument("-o", dest="out", metavar="OUT", type=Path, help=helps)
        if verb in ("sheet", "tables", "book", "recce"):
            one.add_argument("--paper", choices=("a4", "letter"), default="a4", help="a4 without it")
        if verb == "layers":
            helps = "a mark or a spot, x,y,z in metres, or u,v on the picture; its middle without it"
            one.add_argument("--towards", metavar="NAME", default="0.5,0.5", help=helps)
        if verb == "cut":
            one.add_argument("then", metavar="THEN", nargs="?", help="name of the setup after the cut")
            one.add_argument("--match", action="store_true", help="advise the second until it reads as the first")
        if verb == "still":
            one.add_argument("image", metavar="IMAGE", type=Path, help="PNG, TIFF or JPEG; or .npy of linear light")
            helps = "middle of the grey card in the picture, X,Y or X,Y,WIDTH,HEIGHT: shares from the top left, or pixels"
            one.add_argument("--card", metavar="X,Y", required=True, help=helps)
            one.add_argument(
                "--card-lux", metavar="LX", type=float, default=float("nan"), help="what a meter reads flat on the card"
            )
            one.add_argument("--card-reflectance", metavar="N", type=float, default=0.18, help="0.18 without it")
            one.add_argument(
                "--at", metavar="SPOT=X,Y", action="append", required=True, help="a spot of the setup, and where it is seen"
            )
            one.add_argument(
                "--curve", default="srgb", help="linear, srgb, bt709, or a CSV of code value and light; srgb without it"
            )
            one.add_argument("-o", dest="out", metavar="log.csv", type=Path, help="the readings as a log for `correct`")
        if verb == "after":
            one.add_argument("log", metavar="LOG", type=Path, help="the day's readings (CSV, with setup where there are several)")
            one.add_argument("-o", dest="out", metavar="kit.toml", type=Path, help="the day's lamps as entries of a kit file")
        if verb == "correct":
            one.add_argument("log", metavar="LOG", type=Path, help="readings (CSV: where,value,unit; and only, setup, time, note)")
            one.add_argument("--save", action="store_true", help="keep what was found in the shoot file; comments stay")
        if verb == "advise":
            one.add_argument(
                "--may", metavar="WHAT", help="what may move: dim,stop,iso,nd,shutter,board,lamp,haze; all but shutter without it"
            )
            one.add_argument("--save", action="store_true", help="write the advised setup into the file; comments stay")
        if verb == "camera":
            for name, helps in ASKED.items():
                one.add_argument(f"--{name.replace('_', '-')}", metavar="N", type=float, help=helps)
            one.add_argument(
                "--for", dest="mark", metavar="MARK", help="which stop, ISO, filter or angle puts this mark on its target"
            )
            one.add_argument("--at", metavar="STOPS", type=float, help="with --for: where it shall sit instead")
    return parser.parse_args(argv)


def _question_verbs(verbs):
    """Questions that need no shoot file: each thing given is an option, read with its unit by the question itself."""
    from lightcalc.answers.pocket import QUESTIONS

    for question in QUESTIONS.values():
        one = verbs.add_parser(question.verb, help=question.asks, description=question.asks.capitalize() + "?")
        for thing in question.given:
            unit = f" [{thing.unit}]" if thing.unit else ""
            usual = "" if thing.usual in (None, "", 0.0) else f"; {thing.usual:g}" if thing.unit is not None else f"; {thing.usual}"
            one.add_argument(f"--{thing.name}", metavar="X", help=(thing.about + unit + usual).replace("%", "%%"))
        one.add_argument("--why", action="store_true", help="the equation, its source and its test")
        one.add_argument("--json", action="store_true", help="print JSON, units in the key names")


def _ask(given):
    from lightcalc.answers.pocket import QUESTIONS, ask

    question = QUESTIONS[given.verb]
    values, lines = ask(given.verb, {thing.name: getattr(given, thing.name) for thing in question.given})
    why = question.why() if given.why else []
    return _print(given, values | ({"why": why} if why else {}), lines + why)


def _run(given):
    if given.verb not in VERBS:
        return _ask(given)
    if given.verb == "new":
        return _new(given.file)
    if given.verb == "ready":
        return _ready()
    if given.verb == "kit":
        return _kit(given)
    if given.verb == "recce" and given.file is None:
        return _recce(given, None, (), {})
    from lightcalc.engine import first_time
    from lightcalc.scene import shoot_file

    shoot = shoot_file.load(given.file)
    named = getattr(given, "setup", None)
    setups = shoot.setups if named is None else (shoot.setup(named),)
    given.named = [setup.name for setup in shoot.setups]
    report = {"file": str(given.file), "title": shoot.title}
    first_time.TOLD = given.progress = first_time.Line(sys.stderr)
    if given.verb in ("meter", "view", "sheet", "phone", "book"):
        given.progress.greet()
    return globals()[f"_{given.verb}"](given, shoot, setups, report)


def _ready():
    """Every kernel compiled that is not kept yet."""
    from lightcalc.engine import first_time, ready

    count = ready.ready(told=first_time.Line(sys.stderr))
    print(f"the light engine is compiled{'' if count else ' already'} and kept for this user")
    return OK


def _new(path):
    """A starter file, never over one that is there."""
    from lightcalc.scene import shoot_file

    title = path.stem.replace("_", " ").replace("-", " ").strip().title() or "Untitled"
    text = shoot_file.new_text(title)
    try:
        with open(path, "x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError:
        raise InputError(f"{path} is there already; choose a name that is free") from None
    print(f"{path}: a starter shoot with one setup; try: python -m lightcalc meter {path}")
    return OK


def _kit(given):
    """The package's kit, and over it the one beside a shoot file."""
    from lightcalc.answers.kit_list import kit_json, kit_lines, kit_rows
    from lightcalc.scene.own_kit import kit_beside
    from lightcalc.scene.shoot_file import ShootFile

    opened = None if given.file is None else ShootFile.open(given.file)
    beside = kit_beside(None) if opened is None else opened.kit
    rows = kit_rows(beside)
    units = given.units or ("metric" if opened is None else opened.shoot.units)
    return _print(given, {"own_kit": beside.file or None, "kit": kit_json(rows)}, kit_lines(rows, units))


def _check(given, shoot, setups, report):
    """The file has been read by now, so it is sound; say what is in it, what it leaves open, and what is surely not meant."""
    from lightcalc.scene.shoot_file import ShootFile
    from lightcalc.wording import count_text

    counted = ("lights", "boards", "flags", "frames", "pieces", "marks", "spots", "targets")
    opened = ShootFile.open(given.file)
    report["days"] = shoot.days
    report["setups"] = [
        {"name": s.name, "title": s.title, "day": s.day, "place": s.place.name} | {kind: len(getattr(s, kind)) for kind in counted}
        for s in setups
    ]
    lines = [f"{given.file}: sound; {shoot.title}, {count_text(len(setups), 'setup')}, {count_text(shoot.days, 'day')}"]
    for row in report["setups"]:
        parts = ", ".join(count_text(row[kind], kind[:-1]) for kind in counted if row[kind])
        lines.append(f"  day {row['day']}  {row['name']}  {row['title'] or row['place']}: {parts or 'nothing in it'}")
    own = opened.kit.sentence
    report["own_kit"], report["assumptions"] = own or None, list(opened.assumptions)
    report["but"] = _not_meant(opened, shoot, setups)
    lines += [own] * bool(own) + report["assumptions"] + ["sound, but:"] * bool(report["but"])
    return _print(given, report, lines + [f"  line {row['line']}: {row['sentence']}" for row in report["but"]])


def _not_meant(opened, shoot, setups):
    """What is surely not meant, each with its line in the file."""
    from lightcalc.answers.sense import sense
    from lightcalc.scene.shoot_lines import line_numbers, line_of

    lines, names = line_numbers(opened.text), [setup.name for setup in shoot.setups]
    found = [one for setup in setups for one in sense(shoot, setup)]
    rows = [
        {"setup": one.setup, "line": line_of(lines, ("setups", names.index(one.setup), *one.path)), "sentence": one.sentence}
        for one in found
    ]
    return sorted(rows, key=lambda row: row["line"])


def _meter(given, shoot, setups, report):
    from lightcalc.answers import readings as meter
    from lightcalc.answers.sense import sense
    from lightcalc.answers.straight_first import straight_lines

    given.progress.above(straight_lines(setups, given.units or shoot.units))
    found = [meter.readings(setup) for setup in setups]
    but = [one for setup, read in zip(setups, found) for one in sense(shoot, setup, read=read)]
    report["setups"] = [readings.as_json() for readings in found]
    report["but"] = [{"setup": one.setup, "sentence": one.sentence} for one in but]
    lines = [f"but {one.brief}" for one in but]
    for readings in found:
        lines += ([""] if lines else []) + readings.lines(units=given.units or shoot.units)
    _print(given, report, lines)
    return OK if all(target.met for readings in found for target in readings.targets) else MISSED


def _layers(given, shoot, setups, report):
    from lightcalc.answers.depth import layers

    units = given.units or shoot.units
    paths = [None] * len(setups) if given.out is None else [path for _, path in _paths(given, setups, ".png")]
    report["setups"], lines = [], []
    for setup, path in zip(setups, paths):
        found = layers(setup, towards=_towards(setup, given.towards))
        report["setups"].append(found.as_json() | ({} if path is None else {"curve": str(path)}))
        lines += found.lines(units=units)
        if path is not None:
            from lightcalc.drawing import picture_figures

            picture_figures.layers_figure(found, units=units).savefig(path)
            lines.append(f"  curve: {path}")
    return _print(given, report, lines)


def _day(given, shoot, setups, report):
    from lightcalc.answers.setup_day import setup_day
    from lightcalc.scene.sun_and_sky import day_lines, local_day
    from lightcalc.sky.daylight import DAYLIGHT_CAUTION
    from lightcalc.sky.positions import events

    dates = sorted({local_day(shoot, setup).date for setup in setups})
    plans = [setup_day(shoot, setup) for setup in setups]
    report["latitude_deg"], report["longitude_deg"] = shoot.latitude_deg, shoot.longitude_deg
    report["days"] = [
        {"date": str(date), "events": [{"name": e.name, "time": e.text} for e in events(shoot.where, date)]} for date in dates
    ]
    report["setups"] = [plan.as_json() for plan in plans]
    report["cautions"] = [DAYLIGHT_CAUTION]
    lines = [line for date in dates for line in day_lines(shoot.where, date)]
    lines += [line for plan in plans for line in plan.lines(units=given.units or shoot.units)]
    return _print(given, report, lines + [DAYLIGHT_CAUTION])


def _order(given, shoot, setups, report):
    """Status 1 where the person's order has a clash."""
    from lightcalc.answers.shoot_order import shoot_order
    from lightcalc.answers.shot_list import shots
    from lightcalc.engine import first_time
    from lightcalc.sky.clock import clock_time

    call = None
    if given.call is not None:
        hour, minute = clock_time(given.call)
        call = 60 * hour + minute
    line = first_time.Line(sys.stderr, "reading the days' light")
    found = shoot_order(shoot, shots(shoot, given.list, told=line.so_far), call=call)
    lines = found.lines()
    if given.out is not None:
        if given.out.suffix.lower() != ".csv":
            raise InputError(f"-o must end in .csv, got {given.out}")
        _in_a_folder(given.out).write_text(found.csv(best=given.best), encoding="utf-8")
        lines.append(f"table: {given.out}")
    _print(given, report | found.as_json(), lines)
    return OK if found.clean else MISSED


def _load(given, shoot, setups, report):
    """Status 1 where a circuit is asked for too much."""
    from lightcalc.answers.circuits import ASSUMED, setup_load
    from lightcalc.laws.power import HEAT_CAUTION, POWER_CAUTION

    found = [setup_load(shoot, setup) for setup in setups]
    report["setups"], report["assumed"] = [load.as_json() for load in found], ASSUMED
    report["cautions"] = [POWER_CAUTION, HEAT_CAUTION]
    _print(given, report, [line for load in found for line in load.lines()] + [ASSUMED, POWER_CAUTION, HEAT_CAUTION])
    return OK if all(load.fits for load in found) else MISSED


def _air(given, shoot, setups, report):
    from lightcalc.answers.haze_plan import AIR_CAUTION, air_plan

    hazed = setups if given.setup is not None else [setup for setup in setups if setup.haze.extinction_per_m > 0]
    if not hazed:
        raise InputError(f"{given.file}: no setup has haze")
    plans = [air_plan(shoot, setup) for setup in hazed]
    report["setups"], report["cautions"] = [plan.as_json() for plan in plans], [AIR_CAUTION]
    return _print(given, report, [line for plan in plans for line in plan.lines()] + [AIR_CAUTION])


def _towards(setup, text):
    """A name as it is; numbers with commas as a place, unless something is called that."""
    numbers = text.split(",")
    if len(numbers) > 1 and text not in [part.name for part in setup.marks + setup.spots]:
        try:
            return tuple(float(number) for number in numbers)
        except ValueError:
            pass
    return text


def _view(given, shoot, setups, report):
    from lightcalc.engine import picture as view

    def draw(setup, path):
        picture = view.picture(setup)
        picture.save(path)
        height, width = picture.luminance_cd_m2.shape
        return {"width_px": width, "height_px": height, "reference_cd_m2": float(picture.reference_cd_m2)}

    return _write(given, setups, report, ".png", "picture", draw)


def _sheet(given, shoot, setups, report):
    from lightcalc.answers.ahead import Ahead

    answers = Ahead(setups)

    def draw(setups, path):
        answers.begin(setups[0].name)
        from lightcalc.paper import setup_sheet  # long to read: meanwhile there is light

        setup_sheet.setup_sheets(shoot, setups, path, units=given.units or shoot.units, paper=given.paper, given=answers)
        return [{} for _ in setups]

    return _write_pages(given, setups, report, "sheet", draw)


def _advise(given, shoot, setups, report):
    """Status 1 if some target cannot be met; what is saved is what was advised, met or nearest."""
    from dataclasses import replace

    from lightcalc.answers.advice import USUAL, advise
    from lightcalc.scene.shoot_file import ShootFile

    may = USUAL if given.may is None else tuple(word.strip() for word in given.may.split(",") if word.strip())
    tried = _Tried(sys.stderr)
    found = [advise(setup, may=may, told=tried) for setup in setups]
    tried("")
    report["setups"] = [advice.as_json() for advice in found]
    lines = [line for advice in found for line in advice.lines()]
    if given.save and not any(advice.steps for advice in found):
        lines.append(f"nothing to save: {given.file} stays as it is")
    elif given.save:
        opened, advised = ShootFile.open(given.file), {advice.setup.name: advice for advice in found}
        kept = tuple(advised[one.name].apply_to(one) if one.name in advised else one for one in opened.shoot.setups)
        opened.save(replace(opened.shoot, setups=kept))
        lines.append(f"saved to {given.file}")
    _print(given, report, lines)
    return OK if all(advice.met for advice in found) else MISSED


def _sensitivity(given, shoot, setups, report):
    from lightcalc.answers.sensitivity import sensitivity
    from lightcalc.engine import first_time

    line = first_time.Line(sys.stderr, "reading every small slip")
    found = [
        sensitivity(setup, told=lambda share, done=k: line.so_far((done + share) / len(setups))) for k, setup in enumerate(setups)
    ]
    report["setups"] = [one.as_json() for one in found]
    return _print(given, report, [line for one in found for line in one.lines()])


def _cut(given, shoot, setups, report):
    """Without a second name the setup's own `cuts_to`; without any every cut of the file. Status 1 if one does not match."""
    from lightcalc.answers.advice import advise
    from lightcalc.answers.cut import compare_setups, matched_targets

    cuts = [(one, given.then or one.cuts_to) for one in setups if given.then or one.cuts_to]
    if not cuts:
        raise InputError('cut needs two setups: cut FILE FIRST THEN, or cuts_to = "2" in the first one in the file')
    report["cuts"], lines, matched = [], [], True
    for first, name in cuts:
        then = shoot.setup(name)
        found = compare_setups(first, then)
        report["cuts"].append(found.as_json())
        lines += found.lines()
        met = found.matches
        if given.match and not met:
            tried = _Tried(sys.stderr)
            advice = advise(matched_targets(first, then), told=tried)
            tried("")
            report["cuts"][-1]["advice"] = advice.as_json()
            lines, met = lines + advice.lines(), advice.met
        matched = matched and met
    _print(given, report, lines)
    return OK if matched else MISSED


def _still(given, shoot, setups, report):
    from lightcalc.answers.still import read_places, read_still
    from lightcalc.scene.meter_log import log_text

    if given.setup is None:
        raise InputError("still needs a setup: still FILE SETUP IMAGE --card X,Y --at SPOT=X,Y")
    if given.out is not None and given.out.exists():
        raise InputError(f"{given.out} is there already, and stays as it is; name another file")
    at = {}
    for said in given.at:
        name, sign, where = said.rpartition("=")
        if not sign:
            raise InputError(f"--at must be SPOT=X,Y, got {said[:60]}")
        at[name.strip()] = _numbers(where, "--at")
    found = read_places(
        read_still(given.image), setups[0], card=_numbers(given.card, "--card"), at=at, curve=given.curve, card_lx=given.card_lux,
        card_reflectance=given.card_reflectance,
    )  # fmt: skip
    lines = found.lines(given.units or shoot.units)
    if given.out is not None:
        if not found.log():
            raise InputError("a log needs light: give --card-lux")
        given.out.write_text(log_text(found.log()), encoding="utf-8")
        lines.append(f"{given.out}: {len(found.log())} readings for `correct`")
    return _print(given, report | found.as_json(), lines)


def _numbers(text, option):
    try:
        return tuple(float(part) for part in text.split(","))
    except ValueError:
        raise InputError(f"{option} must be numbers parted by commas, got {text[:60]}") from None


def _after(given, shoot, setups, report):
    from lightcalc.answers.day_report import day_report, kit_text
    from lightcalc.engine import first_time
    from lightcalc.scene.meter_log import read_log
    from lightcalc.scene.own_kit import kit_beside

    if given.out is not None and given.out.exists():
        raise InputError(f"{given.out} is there already, and stays as it is; name another file, and copy what you want over")
    line = first_time.Line(sys.stderr, "reading the day's log")
    found = day_report(shoot, read_log(given.log), name=given.log.name, told=line.so_far)
    lines = found.lines()
    if given.out is not None:
        whole, when = kit_beside(given.file.parent, shoot.kit).whole, "".join(str(date) for date in shoot.dates[:1])
        given.out.write_text(kit_text(found, kit=whole, when=when), encoding="utf-8")
        lines.append(f"{given.out}: these lamps as own kit, for the next shoot's folder; in this file `correct --save` keeps them")
    return _print(given, report | found.as_json(), lines)


def _correct(given, shoot, setups, report):
    """Status 1 if the corrected plan misses a target."""
    from lightcalc.answers.correction import correct, kept
    from lightcalc.engine import first_time
    from lightcalc.scene.meter_log import of_setup, read_log
    from lightcalc.scene.shoot_file import ShootFile

    if given.setup is None:
        raise InputError("correct needs a setup: correct FILE SETUP LOG")
    line = first_time.Line(sys.stderr, "correcting the plan by the log")
    found = correct(setups[0], of_setup(read_log(given.log), setups[0], given.log.name), told=line.so_far)
    lines = found.lines(units=given.units or shoot.units)
    if given.save:
        opened = ShootFile.open(given.file)
        opened.save(kept(opened.shoot, found))
        lines.append(
            f"saved to {given.file}: lamps of that name in all setups, walls of that place, haze of this setup; not the daylight"
        )
    _print(given, report | found.as_json(), lines)
    return OK if found.after.met else MISSED


class _Tried:
    """What is being tried, on a line of a terminal that is written over; nothing elsewhere."""

    def __init__(self, stream):
        self.stream, self.long = stream, 0

    def __call__(self, words):
        if self.stream.isatty():
            text = f"trying: {words}"[:78] if words else ""
            self.stream.write(f"\r{text:<{self.long}}" + ("" if words else "\r"))
            self.stream.flush()
            self.long = len(text)


def _phone(given, shoot, setups, report):
    from lightcalc.engine import first_time
    from lightcalc.paper.phone_page import write_phone_page

    def draw(setups, path):
        line = first_time.Line(sys.stderr, "drawing the phone's page")
        write_phone_page(shoot, setups, path, units=given.units or shoot.units, told=line.so_far)
        return [{} for _ in setups]

    return _write_pages(given, setups, report, "phone", draw, ".html")


def _pdf_out(given):
    if given.out.suffix.lower() != ".pdf":
        raise InputError(f"-o must end in .pdf, got {given.out}")
    return _in_a_folder(given.out)


def _book(given, shoot, setups, report):
    """One PDF; a line on the terminal says how far it is."""
    from lightcalc.engine import first_time
    from lightcalc.paper.book import write_book
    from lightcalc.scene.shoot_file import ShootFile

    how = {"units": given.units, "paper": given.paper, "kit": ShootFile.open(given.file).kit.whole}
    line = first_time.Line(sys.stderr, "drawing the book")
    path = write_book(shoot, _pdf_out(given), shot_list=given.list, told=line, **how)
    return _print(given, report | {"book": str(path)}, [f"book: {path}"])


def _recce(given, shoot, setups, report):
    from lightcalc.paper.recce_form import write_recce

    path = write_recce(_pdf_out(given), shoot, paper=given.paper)
    return _print(given, report | {"recce": str(path)}, [f"recce form: {path}"])


def _carry(given, shoot, setups, report):
    from lightcalc.answers.kit_totals import ASSUMED, shoot_totals
    from lightcalc.answers.shoot_order import shoot_order
    from lightcalc.answers.shot_list import shots
    from lightcalc.engine import first_time
    from lightcalc.scene.shoot_file import ShootFile

    kit = ShootFile.open(given.file).kit.whole
    line = first_time.Line(sys.stderr, "reading the days' light")
    whole, days = shoot_totals(shoot, shoot_order(shoot, shots(shoot, given.list, told=line.so_far)), kit=kit)
    report |= {"shoot": whole.as_json(), "days": [day.as_json() for day in days], "assumed": ASSUMED}
    return _print(given, report, [line for part in (whole, *days) for line in part.lines()] + [ASSUMED])


def _camera(given, shoot, setups, report):
    """Reserve and noise of each setup; with a change asked, its answer. Status 1 if the lamps do not pay for it."""
    from lightcalc.answers import headroom, noise
    from lightcalc.answers import readings as meter
    from lightcalc.laws.engraved import t_stop_as_typed

    if given.mark is not None:
        return _camera_for(given, setups, report)
    asked = {name: getattr(given, name) for name in ASKED if getattr(given, name) is not None}
    asked |= {"t_stop": t_stop_as_typed(number=asked["t_stop"])} if "t_stop" in asked else {}
    report["setups"], lines, paid = [], [], True
    for setup in setups:
        read = meter.readings(setup)
        found = [headroom.reserve(setup, read=read), noise.noise(setup, read=read)]
        found += [headroom.answer(setup, read=read, **asked)] if asked else []
        paid = paid and (not asked or found[-1].paid)
        report["setups"].append(dict(zip(("reserve", "noise", "answer"), (part.as_json() for part in found))))
        lines += ([""] if lines else []) + [line for part in reversed(found) for line in part.lines()]
    _print(given, report, lines)
    return OK if paid else MISSED


def _camera_for(given, setups, report):
    from lightcalc.answers.camera_change import camera_for

    if given.setup is None:
        raise InputError("--for needs a setup: camera FILE SETUP --for MARK")
    found = camera_for(setups[0], mark=given.mark, at_stops=given.at)
    return _print(given, report | found.as_json(), found.lines())


def _tables(given, shoot, setups, report):
    from lightcalc.paper import camera_sheet

    def draw(setups, path):
        cameras = {f"setup {setup.name}": setup.camera for setup in setups}
        camera_sheet.tables_sheets(shoot, cameras, path, units=given.units or shoot.units, paper=given.paper)
        return [{"fps": setup.camera.fps, "shutter_deg": setup.camera.shutter_deg} for setup in setups]

    return _write_pages(given, setups, report, "tables", draw)


def _write_pages(given, setups, report, thing, draw, suffix=".pdf"):
    """A document a setup, or one of all where -o names a file."""
    from lightcalc.wording import count_text

    if given.setup is not None or given.out is None or given.out.suffix.lower() != suffix or given.out.is_dir():
        return _write(given, setups, report, suffix, thing, lambda setup, path: draw((setup,), path)[0])
    rows = draw(setups, _in_a_folder(given.out))
    report["setups"] = [{"name": setup.name, thing: str(given.out)} | row for setup, row in zip(setups, rows)]
    return _print(given, report, [f"{count_text(len(setups), 'setup')}: {given.out}"])


def _write(given, setups, report, suffix, thing, draw):
    """One file a setup; says where each went."""
    report["setups"], lines = [], []
    for setup, path in _paths(given, setups, suffix):
        row = {"name": setup.name, thing: str(path)} | draw(setup, path)
        report["setups"].append(row)
        lines.append(f"setup {setup.name}: {path}")
    return _print(given, report, lines)


def _paths(given, setups, suffix):
    """
    Where each setup's file goes: shoot, setup and verb in its name, so that no file takes another's place.

    A name from a shoot file never leads out of the folder.
    """
    out = given.out
    one = given.setup is not None or (len(setups) == 1 and out is not None and out.suffix.lower() in FILES)
    if one and out is not None and not out.is_dir():
        if out.suffix.lower() != suffix:
            raise InputError(f"-o must end in {suffix} or be a folder that is there, got {out}")
        return [(setups[0], _in_a_folder(out))]
    folder = out or Path(".")
    if not one and not folder.is_dir() and (folder.exists() or folder.suffix.lower() in FILES):
        documents = f", or a {suffix} for all in one document" if suffix in (".pdf", ".html") else ": a file holds one of them"
        raise InputError(f"-o must be a folder for all setups, got the file {folder}{documents}")
    folder.mkdir(parents=True, exist_ok=True)
    return [(setup, folder / f"{name}{suffix}") for setup, name in zip(setups, _names(given, setups))]


def _names(given, setups):
    """What each setup's file is called, without its ending."""
    from lightcalc.wording import file_words

    own, stem = dict(zip(given.named, file_words(given.named))), file_words([given.file.stem])[0]
    verb, orders = {"tables": "camera_tables"}.get(given.verb, given.verb), range(1, len(setups) + 1)
    heads = [""] if given.setup is not None else [f"{order:02d}_" for order in orders]
    return [f"{head}{stem}_{own[setup.name]}_{verb}" for head, setup in zip(heads, setups)]


def _in_a_folder(path):
    if not path.parent.is_dir():
        raise InputError(f"{path}: no such folder")
    return path


def _print(given, report, lines):
    from lightcalc.wording import for_terminal, plain

    if given.json:
        lines = [json.dumps(plain(report), indent=2, allow_nan=False, ensure_ascii=False)]
    if hasattr(sys.stdout, "reconfigure"):
        sys.stdout.reconfigure(errors="replace")  # a terminal without a sign prints a question mark, not an error
    print(for_terminal("\n".join(lines), sys.stdout.encoding))
    return OK


if __name__ == "__main__":
    sys.exit(main())
