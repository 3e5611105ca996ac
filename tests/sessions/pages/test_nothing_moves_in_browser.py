"""What is looked at stays where it is: boxes under a finger, pages beside a long word, one answer told once."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from playwright.sync_api import Browser, Locator, expect

from sessions.casebook import catalogue
from sessions.casebook.store import Casebook
from sessions.pages import desk_pages
from sessions.plans import plan_rows, seals
from sessions.plans.plan_rows import Draft, Wish
from tests.answered_plans import PAIR, sealed_plan
from tests.browsers import phone
from tests.pages import open_house, served

pytestmark = pytest.mark.browser
CAUTION = "Start quiet and turn up slowly"
NARROW, WIDE = 320, 1280


def top(box: Locator) -> float:
    found = box.bounding_box()
    assert found is not None
    return found["y"]


def test_boxes_stay_under_the_finger_once_the_caution_was_read(chromium: Browser, book: Casebook) -> None:
    sealed_plan(book, method="abx", trials=5)
    book.close()
    with served(book.folder, house_of=open_house) as opened, phone(chromium) as page:
        page.goto(opened.chair)
        page.get_by_role("button", name="Ada").tap()
        page.get_by_role("button", name="Begin").tap()
        expect(page.get_by_text(CAUTION)).to_be_visible()
        boxes = [page.locator(".label").first, page.get_by_role("button", name="Answer"), page.locator(".music")]
        before = list(map(top, boxes))
        page.locator(".label").first.tap()
        expect(page.get_by_text(CAUTION)).to_be_hidden()
        assert list(map(top, boxes)) == before


def test_an_answer_in_training_is_told_once(chromium: Browser, book: Casebook) -> None:
    sealed_plan(book, method="abx", trials=5)
    book.close()
    with served(book.folder, house_of=open_house) as opened, phone(chromium) as page:
        page.goto(opened.chair)
        page.get_by_role("button", name="Train your ears").tap()
        page.get_by_role("button", name="Make it ready").tap()
        expect(
            page.get_by_text("Until your first wrong answer each right one makes the change smaller")
        ).to_be_visible()
        page.get_by_role("button", name="Begin").tap()
        for label in "ABC":
            box = page.locator(".label", has_text=label)
            box.tap()
            expect(box).to_have_attribute("aria-pressed", "true")
            page.wait_for_timeout(150)
        page.get_by_role("button", name="B is changed").tap()
        expect(page.get_by_role("button", name="Next")).to_be_visible()
        page.wait_for_timeout(500)
        assert page.get_by_text("was changed:").count() == 1


def test_no_page_of_the_desk_grows_wide_by_a_name_of_before(chromium: Browser, book: Casebook) -> None:
    catalogue.add_listener(book, "Ada")
    wish = Wish("abx", PAIR, listeners=("Ada",), trials=8, operator="o" * 2000, question="q" * 5000)
    for name in ("n" * 400, "m" * 400):
        plan_rows.keep_draft(book, Draft(f"plan-{name[0]}", name, replace(wish)))
    seals.seal(book, "n" * 400)
    book.close()
    wrong = list[tuple[str, int, int]]()
    with served(book.folder) as opened:
        page = chromium.new_context().new_page()
        page.goto(opened.desk)
        expect(page.get_by_role("navigation", name="The desk")).to_be_visible()
        for place in (*desk_pages.PLACES, *(f"/desk/plan?name={letter * 400}" for letter in "nm"), opened.chair):
            page.goto(place if place == opened.chair else f"{opened.address}{place}")
            if place == "/desk":
                expect(page.get_by_role("table", name="Listeners")).to_contain_text("Ada")
            if place == opened.chair:
                page.get_by_role("button", name="Ada").click()
                expect(page.get_by_role("button", name="Begin")).to_be_visible()
            for width in (NARROW, WIDE):
                page.set_viewport_size({"width": width, "height": 800})
                found = page.evaluate("document.documentElement.scrollWidth")
                wrong += [(place[:20], width, found)] if found > width else []
        page.context.close()
    assert wrong == []


def test_why_work_failed_is_never_taken_for_what_is_typed_since(chromium: Browser, book: Casebook) -> None:
    here = str(book.folder)
    book.close()
    with served(book.folder) as opened:
        page = chromium.new_context().new_page()
        page.goto(opened.desk)
        expect(page.get_by_role("navigation", name="The desk")).to_be_visible()
        page.goto(f"{opened.address}/desk/compare")
        title = page.locator("#work h2")
        page.get_by_label("The first folder").fill(here)
        page.get_by_label("The second folder").fill(here)
        page.get_by_role("button", name="Compare them").click()
        expect(page.locator("#work")).to_contain_text("both folders are")
        expect(title).to_have_text(re.compile("^Comparing two folders: not done"))
        page.get_by_label("The second folder").fill("elsewhere")
        expect(title).to_have_text(re.compile("^Last time: Comparing two folders: not done"))
        page.get_by_label("Trials for each listener").fill("16.5")
        page.get_by_role("button", name="Compare them").click()
        expect(page.locator("#told")).to_contain_text("takes a whole number, and 16.5 was given")
        expect(title).to_have_text(re.compile("^Last time: "))
        page.reload()
        expect(title).to_have_text(re.compile("^Last time: Comparing two folders: not done"))
        page.context.close()
