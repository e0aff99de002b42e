"""
The stage in a real JupyterLab with the package's own engine: what the page shows after a person's hands have
been there is what the package computes from scratch, to the last digit and pixel.
"""

import json

import pytest

from lightcalc.panels.stage import Stage
from lightcalc.scene import shoot_file

from lab_parts import centre, stable_box

CELLS = (
    "from lightcalc import demo_path, load, Stage\nshoot = load(demo_path())\nsetup = shoot.setup('1')",
    "stage = Stage(setup)\nstage",
    "stage",
    "stage.twin(parts=('plan', 'ladder', 'readings'), sliders=('haze',))",
)
COMPUTED = """
import hashlib, json
from lightcalc import light, picture, readings
from lightcalc.panels.page_words import shown_of
fresh = light(stage.setup, quality="final")
words = shown_of(stage.setup, readings(stage.setup, lit=fresh))
picture = picture(stage.setup, width=640, lit=fresh, quality="final").rgba().tobytes()
print(json.dumps(dict(words=words, picture=hashlib.sha256(picture).hexdigest(), values=stage.values)))
"""
SEEN = """async (el) => {
  const cells = (sel) => [...el.querySelectorAll(sel)].map((row) => [...row.children].map((cell) => cell.innerText.trim()));
  const c = el.querySelector("canvas"), px = c.getContext("2d").getImageData(0, 0, c.width, c.height).data;
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", px));
  return {
    marks: cells(".lc-marks tbody tr"), spots: cells(".lc-spots tbody tr"), targets: cells(".lc-targets tbody tr"),
    ladder: [...el.querySelectorAll(".lc-tick text")].map((t) => t.textContent).sort(),
    picture: [...digest].map((b) => b.toString(16).padStart(2, "0")).join(""), size: [c.width, c.height],
  };
}"""


@pytest.fixture(scope="module")
def page(lab, browser):
    """One notebook for all that follows; each check goes on where the last one left the stage."""
    Stage(shoot_file.load(shoot_file.demo_path()).setup("1"))  # compiles what is not compiled yet, outside the waits below
    context = browser.new_context(viewport={"width": 1366, "height": 768})
    page = context.new_page()
    page.set_default_timeout(120_000)
    page.errors = []
    page.on("pageerror", lambda error: page.errors.append(str(error)))
    page.outside = []
    page.on("request", lambda r: page.outside.append(r.url) if not r.url.startswith((lab.url, "blob:", "data:")) else None)
    lab.run(page, "stage", *CELLS, full=True)
    yield page
    context.close()


@pytest.fixture
def out(lab, page):
    output = lab.show(page, 1)
    settled(output)
    return output


def settled(out, timeout=30_000):
    out.locator(".lc-stage[data-settled=true]").wait_for(timeout=timeout)


def compare(lab, page, out, units="metric"):
    """Hold everything on the page against a fresh computation in the kernel."""
    settled(out)
    computed = json.loads(lab.ask(page, COMPUTED))
    words, seen = computed["words"], out.locator(".lc-stage").evaluate(SEEN)
    marks = [
        [m["name"], m["lux"][units], m["level"], m["ratio"], m["key_to_fill"], m["ratio_stops"], m["veil_share"]]
        for m in words["marks"]
    ]
    assert seen["marks"] == marks and marks
    assert [row[:3] for row in seen["spots"]] == [[s["name"], s["luminance"][units], s["level"]] for s in words["spots"]]
    assert [row[3] for row in seen["targets"]] == [t["verdict"] for t in words["targets"]]
    assert seen["ladder"] == sorted(f"{t['label']} {t['words']}" for t in words["ladder"])
    assert seen["size"] == [640, 360] and seen["picture"] == computed["picture"]
    return computed


def test_a_cell_shows_the_stage_and_keeps_a_still(lab, page, out):
    compare(lab, page, out)
    kept = page.evaluate(
        "() => window.jupyterapp.shell.currentWidget.content.widgets[1].model.sharedModel.toJSON().outputs[0].data"
    )
    assert set(kept) == {"application/vnd.jupyter.widget-view+json", "image/png", "text/plain"}
    assert "".join(kept["text/plain"]) == lab.ask(page, "print(repr(stage))")


def test_dragging_the_lamp_moves_the_readings(lab, page, out):
    before = lab.ask(page, "print(stage.setup.part('window lamp').at)")
    level = out.locator(".lc-marks tbody tr td").nth(1).inner_text()
    x, y = centre(out.locator('.lc-item[data-name="window lamp"]'))
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - 30, y + 45, steps=12)
    page.mouse.up()
    computed = compare(lab, page, out)
    at = computed["values"]["light:window lamp"]["at"]
    scale = float(out.locator(".lc-floor").get_attribute("width")) / float(lab.ask(page, "print(setup.place.width_m)"))
    was = json.loads(before.replace("(", "[").replace(")", "]"))
    # DERIVED: 30 px left and 45 px down, in whole centimetres; its height stays.
    assert at == [pytest.approx(was[0] - 30 / scale, abs=0.011), pytest.approx(was[1] - 45 / scale, abs=0.011), was[2]]
    assert out.locator(".lc-marks tbody tr td").nth(1).inner_text() != level


def test_sliders_keys_and_typed_numbers(lab, page, out):
    x, y, _ = json.loads(lab.ask(page, "import json; print(json.dumps(stage.setup.part('clerk').at))"))
    out.locator('input[data-param="haze"]').fill("0.083")
    item = out.locator('.lc-item[data-name="clerk"]')
    item.focus()
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Enter")
    out.locator('.lc-entry input[data-field="at.2"]').fill("1.31")
    page.keyboard.press("Enter")
    computed = compare(lab, page, out)
    assert computed["values"]["haze"]["extinction_per_m"] == 0.083
    assert computed["values"]["mark:clerk"]["at"] == pytest.approx([x - 0.1, y, 1.31])


def test_undo_by_key_comes_back_to_the_file(lab, page, out):
    out.locator('.lc-item[data-name="clerk"]').focus()
    for _ in range(8):
        page.keyboard.press("Control+z")
    page.wait_for_function("(el) => el.querySelector('button').disabled", arg=out.locator(".lc-stage").element_handle())
    compare(lab, page, out)
    assert lab.ask(page, "print(stage.setup is setup, stage.shown['redo'])") == "True 4"


def drag(page, place, dx, dy):
    x, y = place
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + dx, y + dy, steps=10)
    page.mouse.up()


def see(out, sight):
    out.locator(f'.lc-choice button[data-sight="{sight}"]').click()


def test_turning_the_board_by_its_aim_moves_the_readings(lab, page, out):
    see(out, "plan")
    level = out.locator('.lc-marks tr[data-name="clerk, far cheek"] td').nth(0).inner_text()
    out.locator('.lc-item[data-name="fill board"]').click()
    x, y, _ = lab_json(lab, page, "stage.setup.part('fill board').aim")
    drag(page, centre(out.locator('.lc-aim[data-id="board:fill board"] .lc-hit')), -30, 40)
    computed = compare(lab, page, out)
    aim = computed["values"]["board:fill board"]["aim"]
    assert aim[0] < x - 0.5 and aim[1] < y - 0.5
    assert out.locator('.lc-marks tr[data-name="clerk, far cheek"] td').nth(0).inner_text() != level


def lab_json(lab, page, expression):
    return json.loads(lab.ask(page, f"import json; print(json.dumps({expression}))"))


def test_the_lamp_is_raised_where_heights_are_seen(lab, page, out):
    see(out, "near")
    was = lab_json(lab, page, "stage.setup.part('window lamp').at")
    scale = float(out.locator(".lc-space").get_attribute("width")) / lab_json(lab, page, "setup.place.width_m")
    drag(page, centre(out.locator('.lc-item[data-name="window lamp"] .lc-hit')), -10, 18)
    at = compare(lab, page, out)["values"]["light:window lamp"]["at"]
    # DERIVED: 10 px left is x, 18 px down is height, y is what one looks along.
    assert at == [pytest.approx(was[0] - 10 / scale, abs=0.011), was[1], pytest.approx(was[2] - 18 / scale, abs=0.011)]


def test_the_window_slides_along_its_wall_and_the_beam_with_it(lab, page, out):
    see(out, "plan")
    level = out.locator('.lc-spots tr[data-name="beam"] td').nth(1).inner_text()
    drag(page, centre(out.locator('.lc-item[data-name="barred"]')), 0, 40)
    window = compare(lab, page, out)["values"]["window:barred"]
    scale = float(out.locator(".lc-floor").get_attribute("width")) / lab_json(lab, page, "setup.place.width_m")
    assert window["centre_m"] == pytest.approx(5.9 - 40 / scale, abs=0.011) and window["sill_m"] == 1.6
    assert out.locator('.lc-spots tr[data-name="beam"] td').nth(1).inner_text() != level
    assert lab.ask(page, "print(setup.place.windows[0].centre_m)") == "5.9", "the setup that was put on is as it was"


def test_a_finger_drags_the_mark(lab, page, out):
    was = lab_json(lab, page, "stage.setup.part('clerk').at")
    out.locator('.lc-item[data-name="clerk"]').focus()  # the far cheek's mark lies over it: what is chosen is what moves
    x, y = centre(out.locator('.lc-item[data-name="clerk"] .lc-hit'))
    finger = page.context.new_cdp_session(page)
    for kind, points in (
        [("touchStart", [(x, y)])] + [("touchMove", [(x + 4 * i, y + 3 * i)]) for i in range(1, 7)] + [("touchEnd", [])]
    ):
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": a, "y": b} for a, b in points]})
        page.wait_for_timeout(30)
    at = compare(lab, page, out)["values"]["mark:clerk"]["at"]
    assert at[0] > was[0] + 0.3 and at[1] < was[1] - 0.2 and at[2] == was[2]


def test_feet_and_foot_candles_to_the_last_digit(lab, page, out):
    out.get_by_role("button", name="Units").click()
    out.get_by_text("Units: feet, foot-candles").first.wait_for()
    compare(lab, page, out, units="feet")
    assert lab.ask(page, "print(stage.units)") == "feet"
    assert out.locator('.lc-marks tr[data-name="clerk"] td').nth(0).inner_text().endswith(" fc")
    out.get_by_role("button", name="Units").click()
    out.get_by_text("Units: metres, lux").first.wait_for()


@pytest.mark.parametrize("u, v", [(0.31, 0.62), (0.77, 0.33), (0.05, 0.9)])
def test_pointing_at_the_picture_reads_what_was_computed(lab, page, out, u, v):
    settled(out)
    box = stable_box(out.locator("canvas"))
    page.mouse.move(box["x"] + u * box["width"], box["y"] + v * box["height"])
    said = out.locator(".lc-point").inner_text()
    row, column = int(v * 360), int(u * 640)
    near = lab_json(lab, page, f"stage.picture.level_stops[{row - 2}:{row + 3}, {column - 2}:{column + 3}].ravel().tolist()")
    # The pointer lands on whole screen pixels, so the pixel it means is known to within two.
    stops = float(said.removeprefix("here: ").removesuffix(" stops").replace("\N{MINUS SIGN}", "-"))
    assert min(near) - 0.051 <= stops <= max(near) + 0.051 and max(near) - min(near) < 1.0


def test_the_dark_theme_reaches_the_stage(lab, page, out):
    def paper():
        return out.locator(".lc-stage").evaluate("el => getComputedStyle(el).backgroundColor")

    change = "async t => { await window.jupyterapp.commands.execute('apputils:change-theme', { theme: t }); }"
    light = paper()
    page.evaluate(change, "JupyterLab Dark")
    page.wait_for_function("document.body.dataset.jpThemeLight === 'false'")
    page.wait_for_timeout(300)
    dark = paper()
    ink = out.locator(".lc-title").evaluate("el => getComputedStyle(el).color")
    brightness = [sum(int(n) for n in c[c.index("(") + 1 :].rstrip(")").split(",")[:3]) / 3 for c in (light, dark, ink)]
    assert brightness[0] > 240 and brightness[1] < 40 and brightness[2] > 200
    compare(lab, page, out)
    page.evaluate(change, "JupyterLab Light")
    page.wait_for_function("document.body.dataset.jpThemeLight === 'true'")


def test_single_key_commands_of_the_notebook_do_not_reach_in(lab, page, out):
    cells = page.locator(".jp-Notebook .jp-Cell").count()
    for locator in (
        out.locator('.lc-item[data-name="clerk"]'),
        out.locator('input[data-param="haze"]'),
        out.locator(".lc-button").nth(2),
    ):
        locator.focus()
        page.keyboard.press("d")
        page.keyboard.press("d")
    assert page.locator(".jp-Notebook .jp-Cell").count() == cells


def test_a_second_view_is_in_step(lab, page, out):
    out.locator('input[data-param="window lamp"]').fill("-2")
    compare(lab, page, out)
    second = lab.show(page, 2)
    settled(second)
    compare(lab, page, second)
    assert second.locator(".lc-slide output").all_inner_texts()[1] == "\N{MINUS SIGN}2.0 stops"


def test_a_twin_is_in_step_and_shows_the_same_digits(lab, page, out):
    twin = lab.show(page, 3)
    settled(twin)
    assert twin.locator("canvas").count() == 0
    twin.locator('input[data-param="haze"]').fill("0.03")
    settled(twin)
    rows = "el => [...el.querySelectorAll('.lc-marks tbody tr')].map((r) => r.innerText)"
    seen = twin.locator(".lc-stage").evaluate(rows)
    out = lab.show(page, 1)
    compare(lab, page, out)
    assert out.locator(".lc-stage").evaluate(rows) == seen and out.locator(".lc-slide output").first.inner_text().startswith(
        "0.030 /m"
    )


@pytest.mark.parametrize("width, height", [(1366, 768), (1920, 1080), (1180, 820)])
def test_it_fits_beside_the_file_browser(lab, page, out, width, height):
    page.set_viewport_size({"width": width, "height": height})
    root = out.locator(".lc-stage")
    box = stable_box(root)
    assert box["x"] + box["width"] <= width
    wide = root.evaluate(
        """(el) => { const edge = el.getBoundingClientRect().right + 1, pane = el.closest('.jp-OutputArea-output');
          return [pane.scrollWidth - pane.clientWidth, [...el.querySelectorAll('*')].filter((e) => !e.ownerSVGElement
            && e.getBoundingClientRect().right > edge).map((e) => e.outerHTML.slice(0, 90))]; }"""
    )
    assert wide == [0, []]


def test_nothing_was_asked_of_the_outside(page):
    assert page.outside == [] and page.errors == []


def test_a_restarted_kernel_is_said(lab, page, out):
    assert not out.locator(".lc-gone").is_visible()
    page.evaluate("() => window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.restart()")
    out.locator(".lc-gone").wait_for(state="visible", timeout=30_000)
