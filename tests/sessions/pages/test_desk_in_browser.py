"""The desk in a real Chromium: from two folders to a verdict, every page for everybody, the builder as one types."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from sessions.casebook import catalogue
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook, create, open_casebook
from sessions.measured import curve_import
from sessions.measured.conditions import Conditions
from sessions.measured.curve_import import Reading
from sessions.pages import desk_pages
from sessions.plans import drafting
from sessions.plans.plan_rows import Wish
from sessions.words import log
from tests.answered_plans import answer_all
from tests.browsers import PHONE, phone
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


def test_gear_is_matched_and_a_plan_with_a_second_secret_is_sealed_and_closed(
    chromium: Browser, routed: Casebook, tmp_path: Path
) -> None:
    hz = np.geomspace(20, 20_000, 100)
    for setup, bump in zip(catalogue.everything(routed, Setup), (6.0, 0.0), strict=True):
        levels = 80 + bump * np.exp(-((np.log2(hz / 5000) / 0.3) ** 2))
        path = tmp_path / f"{setup.name}.txt"
        path.write_text("\n".join(f"{one:.3f} {level:.3f}" for one, level in zip(hz, levels, strict=True)))
        curve_import.bring(routed, setup, path, Reading("db"), Conditions())
    log.log(routed, catalogue.add_listener(routed, "Ada"), log.Word("bright", 4, setup_id=setup.id))
    drafting.draft(routed, Wish("abx", ("sallow", "bracken"), listeners=("Ada",), trials=8), "evening")
    routed.close()
    wrong = list[str]()
    with served(routed.folder) as opened:
        page = at_desk(chromium, opened, wrong)
        page.goto(f"{opened.address}/desk/match")
        for setup_name, volts in (("sallow", "2.500"), ("bracken", "2.000")):
            for freq in (100, 1000, 10_000):
                page.get_by_label(f"{setup_name}: volts at {freq} Hz").fill(volts)
        page.get_by_role("button", name="Work out the trims").click()
        expect(page.get_by_text("The trims: sallow -1.94 dB, bracken +0.00 dB")).to_be_visible()
        accessible(page)
        page.get_by_label("Volts of sallow").fill("2.001")
        page.get_by_label("Volts of bracken").fill("2.000")
        page.get_by_role("button", name="Keep the match").click()
        expect(page.locator("#work[data-state=done]")).to_contain_text("0.004 dB left")
        page.goto(f"{opened.address}/desk/plan?name=evening")
        page.get_by_label("another machine").check()
        page.get_by_label("all the same").check()
        expect(page.get_by_label("The same again")).to_be_hidden()
        page.get_by_label("gives a second secret").check()
        page.get_by_label("The second secret, at least").fill("heather barrow tinder moss")
        page.get_by_label("The same again").fill("heather barrow tinder moss")
        accessible(page)
        page.get_by_role("button", name="Seal this plan").click()
        page.get_by_label("The second secret of evening").fill("heather barrow tinder moss")
        page.get_by_text("End this plan for good").click()
        accessible(page)
        page.get_by_role("button", name="Give the second secret").click()
        expect(page.get_by_text("Its second secret is typed")).to_be_visible()
        page.get_by_text("End this plan for good").click()
        page.get_by_label("Why, for the record").fill("a storm")
        page.get_by_label("typed by who holds it").fill("heather barrow tinder moss")
        page.get_by_label("It is closed for good").check()
        page.get_by_role("button", name="Close this plan").click()
        expect(page.get_by_text("End of the record so far")).to_be_visible()
        accessible(page)
        for place in ("/desk/crosscheck", "/desk/curves/together", "/desk/evidence"):
            page.goto(f"{opened.address}{place}")
            accessible(page)
        page.goto(f"{opened.address}/desk/curves")
        picture = page.locator("img.picture").first
        for size, drawn_px in ((WIDE, 605), (PHONE, 422)):  # 6.3 and 4.4 inches, as CSS counts them
            page.set_viewport_size(size)
            expect(picture).to_have_js_property("naturalWidth", drawn_px)
            box = picture.bounding_box()
            assert box is not None
            assert 0.75 < box["width"] / drawn_px < 1.3  # by so much its type is larger than it was meant
        page.set_viewport_size(WIDE)
        page.get_by_text("More figures of sallow").click()
        told = page.get_by_text("This figure cannot be drawn: ").first  # of several directions there is one
        told.scroll_into_view_if_needed()
        expect(told).to_be_visible()
        page.context.close()
    assert wrong == []


def test_the_builder_says_what_a_plan_would_be_while_one_chooses_by_keyboard(chromium: Browser, book: Casebook) -> None:
    book.close()
    wrong = list[str]()
    with served(book.folder) as opened:
        with phone(chromium) as stranger:
            stranger.goto(f"{opened.address}/desk")
            expect(stranger.get_by_label("The desk's code")).to_be_visible()
            accessible(stranger)
        page = at_desk(chromium, opened, wrong)
        page.emulate_media(color_scheme="dark")
        page.goto(f"{opened.address}/desk/plan?name=nowhere")
        expect(page.get_by_role("heading", name="This cannot be shown")).to_be_visible()
        accessible(page)
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
