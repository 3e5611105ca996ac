"""The report as people read it: two lines first, the rest folded, each table once; every method and kind of match.

The page is read as any reader of HTML reads it, by the standard library's parser.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path

import pytest

from demo_tracks import tracks
from sessions.casebook.store import Casebook, open_casebook
from sessions.listening import simulated_listener
from sessions.plans import seals
from sessions.plans.methods.table import METHODS
from sessions.plans.plan_rows import every_sealed
from sessions.preparation import giveaway_check
from sessions.preparation.selection import select
from sessions.report import contents, page
from sessions.results.answers import FEWEST
from tests.answered_plans import WISHES, answer_all, sealed_plan
from tests.command_line import earwitness
from tests.real_gear import match_volts
from tests.room import Room, Speaker
from tests.sessions.report.test_report import browser, cut_off

VOID = {"meta", "link", "br", "hr", "img", "input"}
PHONE_PX, REM_PX = 390, 16
MOST_PAGES = 40  # of every method's casebook on paper, ours to choose: 33 with the print's own style, 59 without it
LEAST_PX = 11.0  # of type in a picture: common practice, no source


@dataclass
class Node:
    """An element of the page with what is in it, in order."""

    tag: str
    attributes: dict[str, str]
    inside: list[Node | str] = field(default_factory=list)

    @property
    def kinds(self) -> list[str]:
        return self.attributes.get("class", "").split()

    def all(self) -> Iterator[Node]:
        yield self
        for part in self.inside:
            if isinstance(part, Node):
                yield from part.all()

    def find(self, tag: str, kind: str = "") -> list[Node]:
        return [one for one in self.all() if one.tag == tag and (not kind or kind in one.kinds)]

    def text(self) -> str:
        return " ".join("".join(part if isinstance(part, str) else f" {part.text()} " for part in self.inside).split())


class _Reader(HTMLParser):
    """Reads a page into nodes; a tag that is closed in the wrong place is an error."""

    def __init__(self) -> None:
        super().__init__()
        self.root = Node("root", {})
        self.open = [self.root]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        node = Node(tag, {name: value or "" for name, value in attrs})
        self.open[-1].inside.append(node)
        if tag not in VOID:
            self.open.append(node)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open[-1].inside.append(Node(tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert self.open[-1].tag == tag, f"</{tag}> closes <{self.open[-1].tag}>"
        self.open.pop()

    def handle_data(self, data: str) -> None:
        self.open[-1].inside.append(data)


def read(text: str) -> Node:
    """The page as nodes."""
    reader = _Reader()
    reader.feed(text)
    assert [one.tag for one in reader.open] == ["root"]
    return reader.root


def written(casebook: Casebook) -> Path:
    path = casebook.folder / "report.html"
    page.write(contents.gather(casebook, "What was heard"), path)
    return path


@pytest.fixture(scope="module")
def every_method(three_setups: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The report of a casebook with a plan of each method, answered, and a rehearsal of one of them."""
    folder = Path(shutil.copytree(three_setups, tmp_path_factory.mktemp("methods") / "book"))
    with open_casebook(folder) as casebook:
        for method, wish in WISHES.items():
            sealed_plan(casebook, method, method=method, **wish)
        simulated_listener.rehearse(casebook, "abx", 0.9, 3)
        for method in WISHES:
            answer_all(casebook, 1.0 if method in ("abx", "hidden-reference") else 0.4, plan=method)
        return written(casebook)


@pytest.fixture(scope="module")
def read_page(every_method: Path) -> Node:
    return read(every_method.read_text(encoding="utf-8"))


def section(of: Node, name: str) -> Node:
    (found,) = [one for one in of.find("section", "plan") if one.find("h2")[0].text() == name]
    return found


@pytest.mark.parametrize("method", METHODS)
def test_each_plan_begins_with_two_lines_then_numbers_and_the_rest_is_folded(read_page: Node, method: str) -> None:
    own = section(read_page, method)
    parts = [one for one in own.inside if isinstance(one, Node)]
    assert [parts[0].tag, parts[1].kinds, parts[2].kinds] == ["h2", ["verdict"], ["numbers"]]
    first, second = (one.text() for one in parts[1].find("p"))
    assert re.search(r"was (HEARD|SHOWN|NOT SHOWN)", first)
    assert ("NOT SHOWN" in first) == ("That does not show that they are equal" in second)
    assert "Ada" in second  # one listener's result is said of that one
    assert not re.search(r"\b(alpha|Holm|p [=<]|exact|Bayes)", first + second)
    folds = [one.text() for one in own.find("summary")]
    assert "What these numbers mean" in folds
    folded = " ".join(one.text() for one in own.find("div", "folded"))
    open_text = " ".join(one.text() for one in parts if "folded" not in one.kinds)
    for term in ("A Bayesian reading", "By passage", "Session of Ada"):
        assert term not in open_text
    assert ("Session of Ada" in folded) == (WISHES[method]["trials"] >= FEWEST)


@pytest.mark.parametrize("method", METHODS)
def test_each_seal_stands_on_a_line_of_its_own(every_method: Path, read_page: Node, method: str) -> None:
    with open_casebook(every_method.parent) as casebook:
        wanted = seals.sealed_plan(casebook, method).seal
    (line,) = section(read_page, method).find("p", "seal")
    assert line.text() == wanted
    assert [one.tag for one in line.inside if isinstance(one, Node)] == ["code"]


def test_no_picture_has_axes_alone_and_its_type_can_be_read_on_a_phone(every_method: Path, read_page: Node) -> None:
    text = every_method.read_text(encoding="utf-8")
    sides = re.search(r"main \{[^}]*padding: [\d.]+rem ([\d.]+)rem", text)
    box = re.search(r"\.rehearsal \{ border-left: (\d+)px[^}]*padding: 0 0 [\d.]+rem ([\d.]+)rem", text)
    letters = re.search(r"svg text \{ font: ([\d.]+)px", text)
    assert sides
    assert box
    assert letters
    room_px = PHONE_PX - 2 * float(sides[1]) * REM_PX - float(box[1]) - float(box[2]) * REM_PX
    pictures = [one for one in read_page.find("svg") if one.attributes.get("role") == "img"]
    assert len(pictures) > 2 * len(METHODS)
    for picture in pictures:
        (title, *_) = picture.find("title")
        assert [one for one in picture.all() if "d" in one.kinds], title.text()
        width = float(picture.attributes["viewbox"].split()[2])
        largest = float(re.findall(r"max-width:(\d+)px", picture.attributes["style"])[0])
        assert not picture.attributes.get("font-size")
        assert float(letters[1]) * min(room_px, largest) / width >= LEAST_PX, title.text()


def test_the_level_table_stands_once_for_all_plans(read_page: Node) -> None:
    (table,) = read_page.find("table", "levels")
    assert "strings 1" in table.text()
    targets = {one.attributes["id"] for one in read_page.all() if "id" in one.attributes}
    links = [one.attributes["href"] for one in read_page.find("a") if one.attributes["href"].startswith("#")]
    assert {link[1:] for link in links} <= targets
    assert links.count("#levels-1") == len(METHODS)


def test_every_table_has_a_form_for_a_phone(read_page: Node) -> None:
    tables = read_page.find("table")
    assert len(tables) > len(METHODS)
    for table in tables:
        columns = max(len([one for one in row.inside if isinstance(one, Node)]) for row in table.find("tr"))
        assert "cells" in table.kinds or columns <= 2, table.text()[:80]


def test_what_is_folded_stands_beside_its_title_so_that_print_shows_it(every_method: Path, read_page: Node) -> None:
    """Browsers leave out of a print what is inside of closed details."""
    folds = read_page.find("details")
    assert len(folds) > 3 * len(METHODS)
    assert all([one.tag for one in fold.inside if isinstance(one, Node)] == ["summary"] for fold in folds)
    for parent in read_page.all():
        nodes = [one for one in parent.inside if isinstance(one, Node)]
        after_folds = [nodes[n + 1 : n + 2] for n, one in enumerate(nodes) if one.tag == "details"]
        assert all([one.kinds for one in after] == [["folded"]] for after in after_folds)
    style = read_page.find("style")[0].text()
    printed = style[style.index("@media print") :]
    assert "details.fold:not([open]) + .folded { display: block; }" in printed


def test_rehearsals_have_a_section_of_their_own_or_none(every_method: Path, read_page: Node) -> None:
    headings = [one for one in read_page.all() if one.tag in ("h2", "section")]
    place = next(n for n, one in enumerate(headings) if one.text() == "Rehearsals")
    kinds = [(n > place, one.kinds) for n, one in enumerate(headings) if one.tag == "section"]
    assert {after for after, kind in kinds if kind == ["rehearsal"]} == {True}
    assert {after for after, kind in kinds if kind == ["plan"]} == {False}
    (rehearsed,) = read_page.find("section", "rehearsal")
    first, second = (one.text() for one in rehearsed.find("div", "verdict")[0].find("p"))
    assert first.startswith("REHEARSAL, never counted: abx:")
    assert second.endswith("A rehearsal says nothing about any person's hearing.")
    without = every_method.with_name("without.html")
    done = earwitness(every_method.parent, "report", "--no-rehearsals", "--out", str(without))
    assert done.returncode == 0, done.stderr
    assert not re.search("rehearsal of|REHEARSAL|Rehearsals", without.read_text(encoding="utf-8"))


def test_the_verdict_says_two_lines_then_numbers_and_the_rest_on_request(every_method: Path) -> None:
    book = every_method.parent
    short = earwitness(book, "verdict", "abx").stdout.splitlines()
    assert "a difference was HEARD" in short[0]
    assert short[1].startswith("  10 of 10 trials were answered rightly by Ada;")
    assert short[2].startswith("  10 of 10 right (9 needed), p = ")
    assert not any("Bayesian" in line or "Session of" in line for line in short)
    assert short[-1].endswith(" verdict abx --all")
    whole = earwitness(book, "verdict", "abx", "--all").stdout.splitlines()
    assert whole[: len(short) - 1] == short[:-1]
    titles = [line.strip() for line in whole[len(short) - 1 :] if re.fullmatch(r"  \S.*:", line)]
    assert titles[-2:] == ["How the key was drawn:", "What the terms mean:"]
    assert "    p: how often chance alone gives as clear a result; small is unlike chance" in whole


@pytest.mark.browser
def test_the_page_of_every_method_is_no_wider_than_a_phone(every_method: Path) -> None:
    assert cut_off(every_method, PHONE_PX) == []


@pytest.mark.browser
def test_a_print_of_the_page_holds_what_is_folded(every_method: Path, tmp_path: Path) -> None:
    """Printed with the style sheet's rule it has more pages than without; and yet it is no book."""
    text = every_method.read_text(encoding="utf-8")
    rule = "details.fold:not([open]) + .folded { display: block; }"
    assert text.count(rule) == 1
    pages = []
    for name, printed in (("whole", text), ("folded", text.replace(rule, ""))):
        (tmp_path / f"{name}.html").write_text(printed, encoding="utf-8")
        pdf = tmp_path / f"{name}.pdf"
        browser("--no-pdf-header-footer", f"--print-to-pdf={pdf}", (tmp_path / f"{name}.html").as_uri())
        pages.append(len(re.findall(rb"/Type\s*/Page\b", pdf.read_bytes())))
    assert pages[0] > pages[1] + 3
    assert pages[0] <= MOST_PAGES, pages


def reported(book: Path, by: str) -> Node:
    """The report of a casebook of real gear with one answered plan, made by the command line."""
    with open_casebook(book) as casebook:
        giveaway_check.check(casebook, select(casebook, [], []))
        sealed_plan(casebook, method="abx", trials=8)
        answer_all(casebook, 1.0)
        (plan,) = every_sealed(casebook)
        assert plan.plan.match.by == by
    done = earwitness(book, "report")
    assert (done.returncode, done.stderr) == (0, "")
    return read((book / "report.html").read_text(encoding="utf-8"))


def test_a_match_by_voltmeter_is_reported_with_what_was_read(routed: Casebook) -> None:
    match_volts(routed)
    shown = reported(routed.folder, "volts")
    own = section(shown, "evening")
    assert "By the voltage at the amplifier's terminals; attenuation only" in own.text()
    assert "The uncertainty for sallow and bracken is ±" in own.text()
    (table,) = shown.find("table", "levels")
    rows = [[cell.text() for cell in row.find("td")] for row in table.find("tr")[1:]]
    # 20 lg(2.5 V / 1 V) = 7.96 dB, 20 lg(2.5 / 2) = 1.94 dB, 20 lg 2 = 6.02 dB
    assert [(row[0], *row[2:]) for row in rows] == [
        ("sallow", "-1.94", "7.96", "6.02"),
        ("bracken", "+0.00", "6.02", "6.02"),
    ]
    assert [len(one.find("p")) for one in own.find("div", "verdict")] == [2]


def test_a_match_by_microphone_is_reported_with_what_was_read(tmp_path: Path) -> None:
    book = tmp_path / "book"
    room = Room([Speaker(-20.0, 3.0), Speaker(-21.37, 3.0)])
    for words in (
        ("new", str(book)),
        ("setup", "add", "sallow", "--route", "room:1"),
        ("setup", "add", "bracken", "--route", "room:2"),
        ("track", "add", "drums", "--music", str(tracks.path("drums"))),
        ("passage", "add", "drums", "--from", "1", "--to", "4"),
        ("match", "mic", "--mic", "room:1", "--repeatability", "0.3"),
    ):
        done = earwitness(book, *words, recorder=room)
        assert done.returncode == 0, done.stderr
    shown = reported(book, "mic")
    own = section(shown, "evening")
    assert "By the level at the microphone in the room; attenuation only" in own.text()
    (table,) = shown.find("table", "levels")
    rows = {row.find("td")[0].text(): [cell.text() for cell in row.find("td")[2:]] for row in table.find("tr")[1:]}
    assert float(rows["sallow"][0]) - float(rows["bracken"][0]) == pytest.approx(-1.37, abs=0.05)
    assert float(rows["sallow"][2]) == pytest.approx(float(rows["bracken"][2]), abs=0.05)
    assert "microphone file: none" in shown.text()
    assert [len(one.find("p")) for one in own.find("div", "verdict")] == [2]
