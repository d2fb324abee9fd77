"""The board in a real Chromium: no request, no complaint, no overflow, for everybody, on paper, without scripts."""

from __future__ import annotations

import re
import shutil
from importlib import resources
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, expect

from monitor.board import write, write_finding
from monitor.home import Home
from monitor.store import findings
from rules.limits import default_limits
from tests.boards import NOW, opened
from tests.process.conftest import STANDARDS, Seen, patient

WIDTHS = (360, 768, 1360)


@pytest.fixture(scope="module")
def pages(board_home: Home, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Every kind of page: the board, an athlete's own, the board of one, a past plan, one finding."""
    home = Home(Path(shutil.copytree(board_home.path, tmp_path_factory.mktemp("browser") / "home")))
    roster, store = opened(home)
    with store.reading() as con:
        stop = next(each for each in findings.standing(con, "runa") if each.rule == "no_speed_work")
    write(home, roster, store, NOW, default_limits())
    page = write_finding(home, roster, store, stop, NOW, default_limits())
    single = Home(Path(shutil.copytree(home.path, home.path.with_name("single"))))
    text = single.roster.read_text("utf-8")
    single.roster.write_text(text[: text.index('[[athlete]]\nid = "odd"')], "utf-8")
    write(single, *opened(single), NOW, default_limits())
    return {
        "board": home.board,
        "own": home.path / "board" / "runa.html",
        "alone": single.board,
        "past": home.path / "board" / "runa.2026-05-10.html",
        "finding": page,
    }


def _context(browser: Browser, width: int = 1360, **options: Any) -> BrowserContext:
    return patient(browser.new_context(viewport={"width": width, "height": 800}, **options))


def _watch(context: BrowserContext, seen: Seen) -> Any:
    """A page whose requests and complaints are kept, as the browser's own protocol tells them."""
    page = context.new_page()
    page.on("console", lambda said: seen.complaints.append(said.text))
    page.on("pageerror", lambda error: seen.complaints.append(str(error)))
    protocol = context.new_cdp_session(page)
    protocol.on("Network.requestWillBeSent", lambda event: seen.requests.append(event["request"]["url"]))
    protocol.on("Log.entryAdded", lambda event: seen.complaints.append(event["entry"]["text"]))
    protocol.send("Network.enable")
    protocol.send("Log.enable")
    return page


REACHING_OUT = """[...document.querySelectorAll('body *')]
    .filter(each => !each.closest('.scroll') && !each.closest('svg svg'))
    .filter(each => each.getBoundingClientRect().right > innerWidth + 1)
    .map(each => each.outerHTML.slice(0, 80))"""
KINDS = ("board", "own", "alone", "past", "finding")


@pytest.mark.parametrize("kind", KINDS)
def test_it_asks_for_nothing_complains_of_nothing_and_fits_every_width(
    browser: Browser, pages: dict[str, Path], kind: str
) -> None:
    asked_and_shown = []
    with _context(browser) as context:
        seen = Seen()
        page = _watch(context, seen)
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 800})
            page.goto(pages[kind].as_uri())
            page.evaluate("document.querySelectorAll('details').forEach(each => { each.open = true })")
            page.evaluate("window.scrollTo(0, document.documentElement.scrollHeight)")
            wide = page.evaluate("document.documentElement.scrollWidth")
            asked = [url for url in seen.requests if url not in (pages[kind].as_uri(), "data:,")]
            asked_and_shown.append((asked, seen.complaints, wide, page.evaluate(REACHING_OUT)))
    assert asked_and_shown == [([], [], width, []) for width in WIDTHS]


@pytest.mark.parametrize(
    ("kind", "scheme"),
    [
        ("board", "light"),
        ("board", "dark"),
        ("own", "light"),
        ("own", "dark"),
        ("alone", "dark"),
        ("past", "light"),
        ("finding", "dark"),
    ],
)
def test_it_breaks_no_rule_of_accessibility(browser: Browser, pages: dict[str, Path], kind: str, scheme: Any) -> None:
    axe = resources.files("axe_playwright_python").joinpath("axe.min.js").read_text("utf-8")
    with _context(browser, 768, color_scheme=scheme, bypass_csp=True) as context:
        page = context.new_page()
        page.goto(pages[kind].as_uri())
        if scheme == "light":  # what is folded up has the same colours in the dark
            page.evaluate("document.querySelectorAll('details').forEach(each => { each.open = true })")
        page.evaluate(axe)
        told = page.evaluate("tags => axe.run({runOnly: tags, resultTypes: ['violations'], preload: false})", STANDARDS)
    broken = {each["id"]: [node["html"][:120] for node in each["nodes"][:3]] for each in told["violations"]}
    assert broken == {}
    assert len(told["passes"]) > 15, "and many were looked at"


def test_the_policy_stops_a_script_that_is_not_ours(browser: Browser, pages: dict[str, Path], tmp_path: Path) -> None:
    text = pages["board"].read_text("utf-8")
    (tmp_path / "board.html").write_text(text.replace("<main>", "<main><script>window.evil = 1</script>", 1), "utf-8")
    with _context(browser) as context:
        seen = Seen()
        page = _watch(context, seen)
        with page.expect_console_message(lambda said: "Content Security Policy" in said.text):
            page.goto((tmp_path / "board.html").as_uri())
        assert page.evaluate("window.evil") is None


def test_it_filters_and_sorts(browser: Browser, pages: dict[str, Path]) -> None:
    with _context(browser) as context:
        page = context.new_page()
        page.goto(pages["board"].as_uri())

        def shown() -> list[str]:
            return page.eval_on_selector_all("ol.roster > li:not([hidden])", "all => all.map(each => each.id)")

        assert shown() == ["a-odd", "a-runa", "a-nora"]
        name = page.get_by_role("searchbox", name="name")
        who, stage, order = (page.get_by_role("combobox").nth(at) for at in range(3))
        assert page.get_by_role("status").text_content() == "3 athletes"
        name.fill("ruNA ")
        assert shown() == ["a-runa"]
        assert page.get_by_role("status").text_content() == "1 of 3 athletes"
        name.fill("")
        who.select_option("open")
        assert "a-nora" not in shown()
        assert "a-odd" in shown()
        who.select_option("now")
        assert shown()[0] == "a-odd"
        who.select_option("")
        stage.select_option("cross_training")
        assert shown() == ["a-runa"]
        stage.select_option("")
        order.select_option("name")
        assert shown() == ["a-odd", "a-nora", "a-runa"]
        order.select_option("day")
        assert shown() == ["a-nora", "a-odd", "a-runa"]


def test_it_can_be_read_without_scripts(browser: Browser, pages: dict[str, Path]) -> None:
    with _context(browser, java_script_enabled=False) as context:
        page = context.new_page()
        page.goto(pages["board"].as_uri())
        assert page.locator("ol.roster > li").count() == 3
        assert page.locator("#tools").is_hidden(), "no controls that do nothing"
        page.get_by_role("link", name="Runa Vik").click()
        expect(page.get_by_role("heading", name="Runa Vik")).to_be_visible()
        page.get_by_text("The days in numbers", exact=True).click()
        expect(page.get_by_role("cell", name="cross-training").first).to_be_visible()


def test_it_can_be_used_with_the_keyboard_alone(browser: Browser, pages: dict[str, Path]) -> None:
    with _context(browser) as context:
        page = context.new_page()
        page.goto(pages["board"].as_uri())
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.textContent") == "To the roster"
        outline = "getComputedStyle(document.activeElement).outlineStyle"
        assert page.evaluate(outline) == "solid"
        page.keyboard.press("Enter")
        page.wait_for_url("**/board.html#roster")
        reached = []
        for _ in range(16):
            page.keyboard.press("Tab")
            reached.append(page.evaluate("document.activeElement.tagName + (document.activeElement.hash || '')"))
            if reached[-1].startswith("A#f-"):
                break
        assert reached.count("SELECT") == 3
        page.keyboard.press("Enter")
        page.wait_for_url("**/board/odd.html#f-*")
        small = page.eval_on_selector_all(
            "#tools input, #tools select, summary",
            "all => all.filter(each => each.offsetHeight && each.offsetHeight < 24).map(each => each.outerHTML)",
        )
        assert small == [], "nothing to be hit is smaller than 24 pixels"


def test_a_finding_leads_back_to_its_line_on_the_board(browser: Browser, pages: dict[str, Path]) -> None:
    with _context(browser) as context:
        page = context.new_page()
        page.goto(pages["board"].as_uri())
        page.locator("#a-runa .why a").click()
        page.wait_for_url("**/board/runa.html#f-*")
        expect(page.locator(":target")).to_be_visible()
        page.get_by_role("link", name="Board").click()
        page.wait_for_url("**/board.html#a-runa")


def test_fifteen_lines_fit_a_screen(browser: Browser, pages: dict[str, Path], tmp_path: Path) -> None:
    text = pages["board"].read_text("utf-8")
    line = re.search(r'<li [^>]*id="a-runa".*?</li>', text, re.DOTALL)
    assert line
    many = "".join(line[0].replace("a-runa", f"a-{number}") for number in range(40))
    copy = tmp_path / "board.html"
    text = text.replace(line[0], many).replace('<section class="troubles"', "<section hidden")
    copy.write_text(text.replace("roster by-rank", "roster by-rank many"), "utf-8")
    with _context(browser) as context:
        page = context.new_page()
        page.goto(copy.as_uri())
        below = "all => all.filter(each => each.getBoundingClientRect().bottom <= innerHeight).length"
        assert page.eval_on_selector_all("ol.roster > li", below) >= 15
        page.emulate_media(media="print")
        pdf = page.pdf(prefer_css_page_size=True)
    assert pdf.count(b"/Type /Page\n") <= 2, "and forty lines two sheets"


@pytest.mark.parametrize("width", [960, 1024, 1100, 1280])
def test_why_somebody_needs_a_word_can_be_read_on_a_small_screen_too(
    browser: Browser, pages: dict[str, Path], tmp_path: Path, width: int
) -> None:
    many = tmp_path / "board.html"
    many.write_text(pages["board"].read_text("utf-8").replace("roster by-rank", "roster by-rank many"), "utf-8")
    wide = "all => all.map(each => each.getBoundingClientRect().width)"
    with _context(browser, width) as context:
        page = context.new_page()
        page.goto(many.as_uri())
        reasons = page.eval_on_selector_all(".roster .why", wide)
        assert reasons
        assert min(reasons) >= 256
        assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_what_is_allowed_today_is_on_the_first_screen_of_a_phone(browser: Browser, pages: dict[str, Path]) -> None:
    with patient(browser.new_context(viewport={"width": 360, "height": 640})) as context:
        page = context.new_page()
        page.goto(pages["own"].as_uri())
        box = page.locator(".answer").bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= 640
        order = page.evaluate("[...document.querySelectorAll('.athlete > *')].map(each => each.className)")
        assert order[2:4] == ["answer", "because"]
        assert order.index("because") < order.index("leaf") < order.index("findings")


@pytest.mark.parametrize("by", ["hover", "focus", "touch"])
def test_a_picture_tells_the_value_at_a_mark(browser: Browser, pages: dict[str, Path], by: str) -> None:
    with _context(browser, has_touch=True) as context:
        page = context.new_page()
        page.goto(pages["own"].as_uri())
        plot = page.locator(".leaf .plot[data-at]").first
        told = plot.get_by_role("status")
        if by == "hover":
            plot.hover()
        elif by == "touch":
            plot.tap()
        else:
            plot.focus()
        expect(told).to_have_text(re.compile(r"^\w{3} \d+ Oct: "))
        if by == "focus":
            first = told.text_content() or ""
            page.keyboard.press("ArrowLeft")
            expect(told).not_to_have_text(first)
            expect(told).not_to_be_empty()
            page.keyboard.press("Home")
            expect(told).to_have_text((plot.get_attribute("data-said") or "").split("\n", maxsplit=1)[0])


def test_stop_caution_and_note_differ_without_colour(browser: Browser, pages: dict[str, Path]) -> None:
    with _context(browser, forced_colors="active") as context:
        page = context.new_page()
        page.goto(pages["own"].as_uri())
        shape = """word => {
            const style = getComputedStyle(document.querySelector('.mark.is-' + word), '::before');
            return [style.borderTopWidth, style.clipPath, style.borderRadius].join(' ');
        }"""
        assert len({page.evaluate(shape, word) for word in ("stop", "caution", "note")}) == 3


def test_it_prints_on_a4(browser: Browser, pages: dict[str, Path], tmp_path: Path) -> None:
    with _context(browser) as context:
        page = context.new_page()
        page.goto(pages["board"].as_uri())
        page.emulate_media(media="print")
        pdf = page.pdf(prefer_css_page_size=True)
        assert page.locator("#tools").is_hidden()
    assert pdf.startswith(b"%PDF")
    sizes = {tuple(map(float, box.split())) for box in re.findall(rb"/MediaBox \[([^\]]*)\]", pdf)}
    assert [tuple(round(side) for side in size) for size in sizes] == [(0, 0, 595, 842)], "A4 in points"
    assert pdf.count(b"/Type /Page\n") == 1, "the roster and nothing else"


def test_each_picture_is_named_and_described(browser: Browser, pages: dict[str, Path]) -> None:
    with _context(browser) as context:
        page = context.new_page()
        page.goto(pages["own"].as_uri())
        page.evaluate("document.querySelectorAll('details').forEach(each => { each.open = true })")
        page.emulate_media(media="print")  # what lies off the screen is not in the tree else
        tree = context.new_cdp_session(page).send("Accessibility.getFullAXTree")["nodes"]
    pictures = [node for node in tree if node.get("role", {}).get("value") in ("image", "img", "graphics-document")]
    named = [node for node in pictures if node.get("name", {}).get("value")]
    assert len(named) == len(pictures) >= 12
    assert all(node.get("description", {}).get("value") for node in named)
