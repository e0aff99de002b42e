"""The phone's page in Chromium at a phone's size: fits, keeps what is typed, fetches nothing, prints."""

import pytest

from lightcalc.paper.phone_page import phone_page

import drawn_parts as parts


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    setups = (parts.crowd(), parts.pans())
    given = {s.name: (parts.readings(s), parts.picture(s)) for s in setups}
    path = tmp_path_factory.mktemp("phone") / "page.html"
    path.write_text(phone_page(parts.shoot(*setups), setups, given=given), encoding="utf-8")
    return path


@pytest.fixture
def page(browser, file):
    context = browser.new_context(viewport={"width": 390, "height": 844}, color_scheme="dark")
    page, page.trouble = context.new_page(), []
    page.on("console", lambda message: page.trouble.append(message.text))
    page.on("pageerror", lambda error: page.trouble.append(str(error)))
    page.on("request", lambda request: page.trouble.append(request.url) if not request.url.startswith(("file:", "data:")) else None)
    page.goto(file.as_uri())
    yield page
    assert page.trouble == []
    context.close()


def test_it_fits_a_phone_and_its_type_is_large(page):
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    sizes = page.evaluate(
        "[...document.querySelectorAll('p, dd, h3, .big, input')].map((e) => parseFloat(getComputedStyle(e).fontSize))"
    )
    assert min(sizes) >= 15.5
    assert (
        page.evaluate(
            "Math.min(...[...document.querySelectorAll('input, button, nav a')].map((e) => e.getBoundingClientRect().height))"
        )
        >= 44
    )


def test_what_is_typed_is_kept_and_cleared(page):
    first = page.locator("input[data-key]").first
    first.fill("5.6 and a half")
    page.reload()
    assert page.locator("input[data-key]").first.input_value() == "5.6 and a half"
    assert page.locator("#kept").inner_text() == "What you type stays on this phone."
    page.on("dialog", lambda dialog: dialog.accept())
    page.locator("#clear").click()
    page.reload()
    assert page.locator("input[data-key]").first.input_value() == ""


def test_dark_and_light_can_be_read(page):
    # PUBLISHED: WCAG 2.2, 1.4.3: 4.5 : 1, from the relative luminance it defines.
    contrast = """(pairs) => pairs.map(([query]) => {
      const lum = (text) => { const [r, g, b] = text.match(/[\\d.]+/g).map((v) => v / 255).map((v) => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
      const page = lum(getComputedStyle(document.body).backgroundColor);
      return [...document.querySelectorAll(query)].map((e) => { const a = lum(getComputedStyle(e).color); return (Math.max(a, page) + 0.05) / (Math.min(a, page) + 0.05); });
    }).flat()"""
    for scheme in ("dark", "light"):
        page.emulate_media(color_scheme=scheme)
        found = page.evaluate(contrast, [["p"], ["dt"], [".met, .missed"], ["label"]])
        assert len(found) > 20 and min(found) > 4.5, scheme


def test_it_prints_without_what_only_a_screen_needs(page, tmp_path):
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.querySelector('nav')).display") == "none"
    assert page.evaluate("getComputedStyle(document.querySelector('.drawing svg')).filter") == "none"
    page.pdf(path=tmp_path / "page.pdf", format="A4")
    assert (tmp_path / "page.pdf").stat().st_size > 10_000
