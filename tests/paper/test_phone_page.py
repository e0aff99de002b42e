"""The page for a phone: nothing of a file becomes markup, nothing is fetched, the same shoot is the same text."""

import base64
import hashlib
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from lightcalc import __main__ as command
from lightcalc.paper.phone_page import phone_page
from lightcalc.scene import shoot_file, shoot_read

import drawn_parts as parts

NASTY = "\"><script>alert(1)</script><img src=x onerror=a>&amp;--><!--' $x$"


class Seen(HTMLParser):
    """INDEPENDENT: the standard library's own reader of HTML, tags and text apart."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.words, self.open = [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self.open += [] if tag in ("meta", "input", "img", "br", "link", "path", "use", "rect", "image") else [tag]

    def handle_endtag(self, tag):
        if self.open and self.open[-1] == tag:
            self.open.pop()

    def handle_data(self, data):
        self.words.append(data)


def page_of(setup, **more):
    seen = {setup.name: (parts.readings(setup), parts.picture(setup))}
    return phone_page(parts.shoot(setup), (setup,), given=seen, **more)


@pytest.fixture(scope="module")
def plain():
    return page_of(parts.loft())


@pytest.mark.slow
def test_it_has_what_the_sheet_has(plain):
    text = " ".join(Seen(plain).words)
    for said in (
        "2A Raker at the drying racks",
        "hard through window",
        "folded sail",
        "By the tape",
        "Power: 1120 W",
        "licensed electrician",
        "Expected picture",
    ):
        assert said in text
    tags = [tag for tag, _ in Seen(plain).tags]
    assert tags.count("svg") == 2 and tags.count("img") == 1 and tags.count("script") == 1
    # two lamps alone, two marks, two spots: a reading and a note each
    assert len({attrs["data-key"] for tag, attrs in Seen(plain).tags if tag == "input"}) == 12


@pytest.mark.slow
def test_nothing_of_a_file_becomes_markup(plain):
    short = NASTY[:58]
    setup = parts.loft()
    setup = replace(
        setup, title=NASTY, notes=NASTY, name=short, key=(), targets=(),
        marks=(replace(setup.marks[0], name=short), setup.marks[1]), boards=(replace(setup.boards[0], name=short + "b"),),
        place=replace(setup.place, name=short),
    )  # fmt: skip
    page = page_of(setup)
    seen, before = Seen(page), Seen(plain)
    assert NASTY.replace("\n", " ") in " ".join(seen.words)
    tags = lambda one: sorted({tag for tag, _ in one.tags})
    assert tags(seen) == tags(before) and [t for t, _ in seen.tags].count("script") == 1
    assert not [attrs for _, attrs in seen.tags if any(name.startswith("on") for name in attrs)]
    assert "<!--" not in page


def test_nothing_is_fetched_and_only_its_own_script_runs(plain):
    for tag, attrs in Seen(plain).tags:
        for name in ("src", "href", "xlink:href", "action", "data"):
            assert attrs.get(name, "#").startswith(("#", "data:image/png;base64,")), (tag, attrs)
    assert not re.search(r"url\((?!#)", plain) and "@import" not in plain and "fetch(" not in plain
    script = re.search(r"<script>(.*?)</script>", plain, re.S).group(1)
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in plain and "default-src 'none'" in plain


def test_the_same_shoot_is_the_same_text(plain):
    assert page_of(parts.loft()) == plain


def test_feet():
    text = " ".join(Seen(page_of(parts.loft(), units="feet")).words)
    assert "' " in text and " fL" in text
    with pytest.raises(ValueError, match="units must be one of metric, feet, got 'ells'"):
        page_of(parts.loft(), units="ells")


@pytest.mark.slow
def test_several_setups_have_a_list():
    setups = (parts.loft(), parts.pans(), parts.bare())
    given = {s.name: (parts.readings(s), parts.picture(s)) for s in setups}
    seen = Seen(phone_page(parts.shoot(*setups), setups, given=given))
    links = [attrs["href"] for tag, attrs in seen.tags if tag == "a"]
    ids = [attrs["id"] for tag, attrs in seen.tags if tag == "section"]
    assert links == ["#s1", "#s2", "#s3"] == ["#" + one for one in ids]


@pytest.mark.slow
def test_the_verb(tmp_path, capsys):
    shoot = shoot_read.loads(shoot_file.new_text("Low Tide"))
    setup = replace(shoot.setups[0], haze=replace(shoot.setups[0].haze, extinction_per_m=0.0), targets=())
    shoot_file.save(tmp_path / "tide.toml", replace(shoot, setups=(setup, replace(setup, name="2"))))
    assert command.main(["phone", str(tmp_path / "tide.toml"), "-o", str(tmp_path / "all.html")]) == 0
    assert command.main(["phone", str(tmp_path / "tide.toml"), "1", "-o", str(tmp_path / "one.pdf")]) == 2
    assert "-o must end in .html" in capsys.readouterr().err
    assert (tmp_path / "all.html").read_text(encoding="utf-8").count("<section") == 2
