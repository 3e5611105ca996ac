"""The desk in a real Chromium: from two folders to a verdict, every page for everybody, the builder as one types."""

from __future__ import annotations

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from sessions.casebook.store import Casebook, create, open_casebook
from sessions.pages import desk_pages
from tests.answered_plans import answer_all
from tests.pages import Open, served

pytestmark = pytest.mark.browser
WIDE, NARROW = {"width": 1280, "height": 900}, {"width": 320, "height": 640}
expect.set_options(timeout=30_000)


def accessible(page: Page) -> None:
    """No fault that axe-core knows, and nothing wider than the narrowest screen."""
    found = [(one["id"], one["nodes"][0]["html"]) for one in Axe().run(page).response["violations"]]
    assert found == [], page.url
    page.set_viewport_size(NARROW)
    assert page.evaluate("document.documentElement.scrollWidth") <= NARROW["width"], page.url
    page.set_viewport_size(WIDE)


def at_desk(chromium: Browser, opened: Open, wrong: list[str]) -> Page:
    page = chromium.new_context(viewport=WIDE, reduced_motion="reduce").new_page()
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("console", lambda line: wrong.append(line.text) if "Content Security" in line.text else None)
    page.goto(opened.desk)
    expect(page.get_by_role("navigation", name="The desk")).to_be_visible()
    return page


def test_from_two_folders_to_the_verdict_without_a_terminal(chromium: Browser, tmp_path: Path, rendered: Path) -> None:
    create(tmp_path / "new").close()
    wrong = list[str]()
    with served(tmp_path / "new") as opened:
        page = at_desk(chromium, opened, wrong)
        accessible(page)
        page.get_by_role("link", name="Compare two folders of recordings").click()
        expect(page.get_by_role("heading", name="Compare two folders of recordings")).to_be_visible()
        accessible(page)
        page.get_by_label("The first folder").fill(str(rendered / "sallow"))
        page.get_by_label("The second folder").fill(str(rendered / "nowhere"))
        page.get_by_label("Who listens").fill("Ada")
        page.get_by_label("Trials for each listener").fill("6")
        page.get_by_role("button", name="Compare them").click()
        expect(page.locator("#work")).to_contain_text("no folder")
        accessible(page)
        page.get_by_label("The second folder").fill(str(rendered / "bracken"))
        page.keyboard.press("Enter")
        expect(page.locator("#work")).to_contain_text("Stop it")
        page.keyboard.press("Enter")
        expect(page.locator("#told")).to_contain_text("Comparing two folders is being done")
        page.get_by_role("button", name="Stop it").click()
        expect(page.locator("#told")).to_be_empty()  # once that is no longer so
        expect(page.locator("#work")).to_contain_text("stopped")
        page.get_by_role("button", name="Put this away").click()
        expect(page.locator("#work")).to_be_hidden()
        while page.get_by_role("button", name="Stop it").count() == 0:  # what was stopped is left within a moment
            page.get_by_label("The second folder").press("Enter")
            page.wait_for_timeout(300)
        page.goto(f"{opened.address}/desk/setups")  # another page, loaded anew: the work goes on, and is seen there
        expect(page.locator("#work[data-state=done]")).to_contain_text("passages to be heard", timeout=120_000)
        page.get_by_role("link", name="See what came of it").click()
        expect(page.get_by_role("heading", name="abx-1")).to_be_visible()
        accessible(page)
        page.get_by_label("another machine").check()
        page.get_by_role("button", name="Seal this plan").click()
        expect(page.locator("#seal")).to_contain_text("plan abx-1")
        page.get_by_label("Where it was published").fill("a forum")
        page.get_by_role("button", name="Note that").click()
        expect(page.get_by_text("Its seal was said to be published: a forum")).to_be_visible()
        accessible(page)
        with page.context.expect_page() as chair:
            page.get_by_role("link", name="Open the chair page").click()
        expect(chair.value.get_by_role("button", name="Ada")).to_be_visible()
        with open_casebook(tmp_path / "new") as casebook:
            answer_all(casebook, 1.0, plan="abx-1")
        page.get_by_role("link", name="Results").click()
        expect(page.locator(".verdict").first).to_contain_text("a difference was HEARD")
        picture = page.locator("img.picture").first
        expect(picture).to_have_js_property("complete", True)  # it is drawn when it is asked for
        assert picture.evaluate("one => one.naturalWidth") > 0
        for place in desk_pages.PLACES:
            page.goto(f"{opened.address}{place}")
            accessible(page)
        page.context.close()
    assert wrong == []


def test_the_builder_says_what_a_plan_would_be_while_one_chooses_by_keyboard(chromium: Browser, book: Casebook) -> None:
    book.close()
    wrong = list[str]()
    with served(book.folder) as opened:
        page = at_desk(chromium, opened, wrong)
        page.emulate_media(color_scheme="dark")
        page.goto(f"{opened.address}/desk/plan/new")
        told = page.locator("#foreseen")
        expect(told).to_contain_text("abx compares 2 setups, and 0 are chosen")
        for name in ("sallow", "bracken"):
            page.get_by_label(name, exact=True).focus()
            page.keyboard.press("Space")
        expect(told).to_contain_text("Shown if 12 or more of 16 are right")
        page.get_by_label("Trials for each listener").fill("3")
        expect(told).to_contain_text("CANNOT show it")
        accessible(page)
        page.get_by_label("Method", exact=True).select_option("words")
        expect(told).to_contain_text("a ballot has 2 to 16 words")
        page.get_by_label("The words that can be ticked").fill("bright, boomy, thin")
        page.get_by_label("Trials for each listener").fill("")
        expect(told).to_contain_text("24 trials and 8 in which all is the same")
        page.get_by_label("Their names").fill("Ada")
        page.keyboard.press("Enter")
        expect(page.get_by_role("heading", name="words-1")).to_be_visible()
        accessible(page)
        page.context.close()
    assert wrong == []
