"""The report in a real browser: at a phone's, a desk's and a page's width, by keyboard, with scripts off.

Runs where Chromium is installed (Debian's package `chromium`): ``python -m pytest -m browser``. Accessibility is judged
by axe-core (https://github.com/dequelabs/axe-core, as the package axe-core-python carries it): nothing serious.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

import vaporqa

playwright = pytest.importorskip("playwright.sync_api")
axe_core = pytest.importorskip("axe_core_python")

pytestmark = pytest.mark.browser
SAMPLES = Path(__file__).parents[2] / "sample_inputs"
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or ""
HOSTILE = "<script>document.title='owned'</script><img src=x onerror=\"document.title='owned'\">"


@pytest.fixture(scope="module")
def pages(tmp_path_factory) -> dict[str, str]:
    """Reports by name, as addresses of files."""
    home = tmp_path_factory.mktemp("reports")
    found = {}
    for name in ("cutbank-terminal", "ridgeback-landfill"):
        found[name] = (vaporqa.check(SAMPLES / name).write(home / name) / "report.html").as_uri()
    folder = home / "hostile"
    folder.mkdir()
    (folder / "project.yaml").write_text(
        f"project: '{HOSTILE.replace(chr(39), chr(34))}'\ntime_zone: UTC\nlab_time_zone: UTC\n"
    )
    (folder / "results.csv").write_text(
        f'sample_id,analyte,result,unit\n"{HOSTILE.replace(chr(34), chr(39))}",benzene,1,ug/m3\n'
    )
    found["hostile"] = (vaporqa.check(folder).write(home / "hostile-run") / "report.html").as_uri()
    return found


@pytest.fixture(scope="module")
def browser() -> Iterator[playwright.Browser]:
    assert CHROMIUM, "Chromium is not installed: Debian's package is called chromium"
    with playwright.sync_playwright() as player:
        made = player.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-background-networking", "--no-first-run"]
        )
        yield made
        made.close()


def opened(browser, address: str, width: int, **more) -> tuple[playwright.Page, list[str]]:
    """A page of a width, and everything that the browser complains of or asks for."""
    page = browser.new_context(viewport={"width": width, "height": 900}, **more).new_page()
    said: list[str] = []
    page.on("console", lambda one: said.append(one.text))
    page.on("pageerror", lambda one: said.append(str(one)))
    page.on("request", lambda one: said.append(one.url) if one.url != address else None)
    page.goto(address)
    return page, said


@pytest.mark.parametrize("name", ["cutbank-terminal", "ridgeback-landfill"])
@pytest.mark.parametrize("width", [380, 1280])
def test_nothing_is_cut_loaded_or_complained_of(browser, pages, name, width):
    page, said = opened(browser, pages[name], width)
    assert said == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.context.close()


@pytest.mark.parametrize("width", [380, 1280])
def test_accessibility_shows_nothing_serious(browser, pages, width):
    page, _ = opened(browser, pages["ridgeback-landfill"], width, bypass_csp=True)
    script = next(Path(axe_core.__file__).parent.rglob("axe*.js")).read_text()
    page.evaluate(script)
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
    serious = [
        (one["impact"], one["id"], one["nodes"][0]["html"][:200])
        for one in found
        if one["impact"] in ("serious", "critical")
    ]
    assert serious == []
    page.context.close()


def test_the_keyboard_reaches_every_link_button_box_and_fold(browser, pages):
    page, _ = opened(browser, pages["ridgeback-landfill"], 1280)
    wanted = page.evaluate(
        "[...document.querySelectorAll('main a[href], button, input, summary')]"
        ".filter(one => one.checkVisibility()).length"
    )
    reached: set[int] = set()
    page.evaluate(
        "[...document.querySelectorAll('main a[href], button, input, summary')].forEach((one, n) => one.dataset.n = n)"
    )
    for _ in range(wanted + 60):
        page.keyboard.press("Tab")
        number = page.evaluate("document.activeElement.dataset.n")
        if number is not None:
            reached.add(int(number))
    assert len(reached) >= wanted
    page.context.close()


def test_the_filter_and_the_order_work_and_go_with_scripts_off(browser, pages):
    page, said = opened(browser, pages["cutbank-terminal"], 1280)
    table = page.locator("table.sift").first
    rows = table.locator("tbody tr")
    box = page.locator(".sift-box input").first
    before = rows.count()
    box.fill("rejected")
    shown = [row.inner_text() for row in rows.all() if row.is_visible()]
    assert 0 < len(shown) < before
    assert all("rejected" in text.lower() for text in shown)
    assert f"{len(shown)} of {before} rows" in page.locator(".sift-box").first.inner_text()
    box.fill("")
    head = table.locator("thead th").first
    head.locator("button").click()
    assert head.get_attribute("aria-sort") == "ascending"
    assert said == []
    page.context.close()
    plain, _ = opened(browser, pages["cutbank-terminal"], 1280, java_script_enabled=False)
    assert plain.locator(".sift-box").count() == 0
    assert plain.locator("table.sift tbody tr").first.is_visible()
    plain.context.close()


def test_a_place_leads_to_the_line_of_the_file(browser, pages):
    page, _ = opened(browser, pages["cutbank-terminal"], 1280)
    link = page.locator("#findings a[href^='#line-purges-']").first
    place = link.inner_text()
    link.click()
    target = page.locator(".line:target")
    assert target.is_visible()
    assert place.rpartition(":")[0] in target.inner_text() or place in target.inner_text()
    page.context.close()


def test_hostile_text_stays_text(browser, pages):
    page, said = opened(browser, pages["hostile"], 1280)
    assert page.title() != "owned"
    assert page.locator("img").count() == 0
    assert said == []
    page.context.close()


def test_paper_has_every_finding_and_cuts_nothing(browser, pages, tmp_path):
    page, _ = opened(browser, pages["ridgeback-landfill"], 1280)
    page.emulate_media(media="print")
    sizes = page.evaluate(
        "[...document.querySelectorAll('main table, main svg')].filter(one => one.checkVisibility())"
        ".map(one => one.getBoundingClientRect().right - document.querySelector('main').getBoundingClientRect().right)"
    )
    assert max(sizes) <= 1
    assert not page.locator("nav").is_visible()
    assert page.locator("details.sample .findings").first.is_visible()
    path = tmp_path / "report.pdf"
    page.pdf(path=path, format="A4")
    assert path.stat().st_size > 50_000
    page.context.close()
