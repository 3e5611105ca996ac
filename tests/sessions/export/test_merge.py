"""`merge`: casebooks together give the results of the whole, whatever the order; each one's chain stays whole."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from sessions.casebook import (
    backup_copy,
    catalogue,
    catalogue_changes,
    chain_ends,
    merging,
    origins,
    secret_files,
    session_ends,
)
from sessions.casebook.catalogue import Listener, Setup
from sessions.casebook.chain_ends import End
from sessions.casebook.store import Casebook, create, open_casebook
from sessions.export import merge_all
from sessions.plans import seals, viewers_rows, viewers_test
from sessions.preparation import match_sheet
from sessions.report.claims import claim_rows
from sessions.report.claims.claim_rows import ClaimContent
from sessions.results import review, verification
from sessions.results.seen_ends import KeptCode
from sessions.words import log
from tests.answered_plans import answer_all, checked_alone, sealed_plan
from tests.casebooks import judged, rewritten
from tests.command_line import earwitness
from tests.proof_bundles import HOLDS, said, unpacked


def copy_of(book: Casebook | Path, folder: Path) -> Path:
    shutil.copytree(book.folder if isinstance(book, Casebook) else book, folder)
    return folder


def merged(here: Path, *others: Path) -> dict[str, Any]:
    done = earwitness(here, "merge", *map(str, others), "--json")
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def refused(here: Path, *others: Path) -> list[str]:
    """The contradictions that a merge lists; nothing was written."""
    before = (here / "casebook.db").read_bytes()
    done = earwitness(here, "merge", *map(str, others), "--json")
    assert done.returncode == 1, done.stderr
    assert (here / "casebook.db").read_bytes() == before
    found: list[str] = json.loads(done.stdout)["conflicts"]
    return found


def results(book: Path) -> dict[str, Any]:
    """Each plan's verdict, by itself and together with others."""
    with open_casebook(book) as opened:
        found = {}
        for one in review.review(opened).plans:
            verdict, together = one.verdict, one.verdict.together
            found[one.sealed.plan.id] = (verdict.verdict, verdict.state, verdict.p_value) + (
                () if together is None else (together.alone, together.p_same_question, together.p_holm, together.holds)
            )
        return found


def holds(book: Path, *ends: str) -> None:
    with open_casebook(book) as opened:
        found = verification.verify(opened, kept=[KeptCode(chain_ends.parse(end)) for end in ends])
        assert found.broken == []
        assert all(one.there for one in found.seen)


def end_of(book: Path) -> str:
    with open_casebook(book) as opened:
        head = opened.head()
        return str(End(head["head_seq"], head["head_hash"]).code)


def test_unrelated_casebooks_give_the_results_of_each_whatever_the_order(sites: Path, tmp_path: Path) -> None:
    files, gear = sites / "files", sites / "gear"
    alone, ends = results(files) | results(gear), [end_of(files), end_of(gear)]
    bytes_before = [(site / "casebook.db").read_bytes() for site in (files, gear)]
    create(tmp_path / "one").close()
    told = merged(tmp_path / "one", files, gear)
    merged(copy_of(gear, tmp_path / "two"), files)
    for book in ("one", "two"):
        assert results(tmp_path / book) == alone
        holds(tmp_path / book, *ends)
    assert [(site / "casebook.db").read_bytes() for site in (files, gear)] == bytes_before
    assert {one["here"] for one in told["merged"][1]["renamed"]} >= {"Ada (znk0)", "voice 1 (znk0)"}


def test_merging_again_adds_nothing_and_later_what_came_since(sites: Path, tmp_path: Path) -> None:
    site, here = copy_of(sites / "gear", tmp_path / "site"), tmp_path / "here"
    create(here).close()
    merged(here, site)
    before = (here / "casebook.db").read_bytes()
    again = merged(here, site, here, site)
    assert [(one["rows"], one["entries"]) for one in again["merged"]] == [(0, 0), (0, 0)]
    assert (here / "casebook.db").read_bytes() == before
    with open_casebook(site) as book:
        ada, setup = catalogue.find(book, Listener, "Ada"), catalogue.everything(book, Setup)[0]
        log.log(book, ada, log.Word("bright", 3, setup_id=setup.id))
        rows = book.head()["head_seq"]
    since = merged(here, site)
    assert since["merged"][0]["rows"] == 1 + len(catalogue_marks_since(site, rows - 1))
    holds(here, end_of(site))
    assert merged(here, site)["merged"][0]["rows"] == 0


def catalogue_marks_since(book: Path, seq: int) -> list[Any]:
    with open_casebook(book) as opened:
        return opened.query("SELECT id FROM catalogue_marks WHERE seq > ?", [seq])


@pytest.fixture(scope="module")
def panel(matched_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A casebook with a sealed plan for two listeners, of whom none has sat down yet."""
    book = copy_of(matched_folder, tmp_path_factory.mktemp("panel") / "book")
    with open_casebook(book) as opened:
        sealed_plan(opened, method="abx", trials=8, listeners=("Ada", "Bo"))
    return book


def sat(panel: Path, folder: Path, *listeners: str) -> Path:
    """A copy of it in which these listeners answered."""
    with open_casebook(copy_of(panel, folder)) as book:
        for listener in listeners:
            answer_all(book, 0.7 if listener == "Ada" else 0.9, listener)
    return folder


@pytest.mark.parametrize("turned", [False, True])
def test_a_panel_that_sat_at_two_places_has_the_result_of_one_place(panel: Path, tmp_path: Path, turned: bool) -> None:
    whole = sat(panel, tmp_path / "whole", "Ada", "Bo")
    sites = [sat(panel, tmp_path / "here", "Ada"), sat(panel, tmp_path / "there", "Bo")]
    here, other = sites[::-1] if turned else sites
    assert {one[0] for one in results(here).values()} == {None}
    ends = [end_of(here), end_of(other)]
    told = merged(here, other)
    assert told["opened"] == ["evening"]
    assert "2 sessions begun, 1 boot, clock set back 0 times" in earwitness(here, "verify").stdout
    assert merged(here, other)["secrets"] == []  # it is over here, whatever it is there
    assert results(here) == results(whole)
    holds(here, *ends)
    with open_casebook(here) as book:
        assert "16; p = " in checked_alone(book, tmp_path)
        plan = seals.sealed_plan(book, "evening").plan
        shown = [str(one.end.code) for one in session_ends.of_plan(book, plan.id)]
        assert all(earwitness(here, "witness", code, "--by", "a viewer").returncode == 0 for code in shown)
        assert said(unpacked(book, tmp_path), *shown, *ends).startswith(HOLDS)
    holds(here, *shown)


def test_what_came_together_goes_on_and_can_be_brought_in_itself(panel: Path, tmp_path: Path) -> None:
    here, other = sat(panel, tmp_path / "here", "Ada"), sat(panel, tmp_path / "there", "Bo")
    merged(here, other)
    with open_casebook(here) as book:
        sealed_plan(book, "afterwards", method="abx", trials=6)
        answer_all(book, 1.0, plan="afterwards")
    holds(here)
    create(tmp_path / "third").close()
    ends = [end_of(here), end_of(other)]
    merged(tmp_path / "third", here)
    assert results(tmp_path / "third") == results(here)
    holds(tmp_path / "third", *ends)
    assert merged(tmp_path / "third", other)["merged"][0]["rows"] == 0
    back = merged(other, tmp_path / "third")
    assert back["merged"][0]["rows"] > 0
    assert results(other) == results(here)
    holds(other, *ends)


def test_the_same_listener_in_both_is_refused(panel: Path, tmp_path: Path) -> None:
    here, other = sat(panel, tmp_path / "here", "Ada"), sat(panel, tmp_path / "there", "Ada")
    found = [
        one for one in refused(here, other) if one.startswith("Ada has a session of plan evening in both: here begun")
    ]
    assert len(found) == 1
    told = earwitness(here, "merge", str(other)).stdout
    assert "Do not pool them: whoever sat in each would count twice." in told


def test_a_plan_whose_key_was_told_in_one_and_that_went_on_in_the_other_is_refused(panel: Path, tmp_path: Path) -> None:
    here, other = sat(panel, tmp_path / "here", "Ada"), copy_of(panel, tmp_path / "there")
    with open_casebook(other) as book:
        seals.close(book, "evening", "it rained")
    assert any("is over there, so that its keys are told, and went on here" in one for one in refused(here, other))
    assert any("is over here, so that its keys are told, and went on there" in one for one in refused(other, here))


def test_a_row_that_was_edited_in_one_of_them_is_refused_by_its_names_and_values(panel: Path, tmp_path: Path) -> None:
    here = sat(panel, tmp_path / "here", "Ada")
    other = copy_of(here, tmp_path / "there")
    with open_casebook(other) as book:
        rewritten(
            book,
            "UPDATE answers SET answer = iif(answer = 'A', 'B', 'A') WHERE rowid = 1",
            "UPDATE sessions SET operator = 'Zed' WHERE rowid = 1",
        )
    session, answer = refused(here, other)
    assert session.startswith("session by Ada of plan evening (session-")
    assert session.endswith('says something else in each, so that one was edited: operator here "Ada" and there "Zed"')
    assert re.match(r"answer of trial 1 by Ada of plan evening in passage (drums|strings) \d \(answer-", answer)
    assert answer.endswith("answer (not told before the plan is over)")
    with open_casebook(here) as book:
        seals.close(book, "evening", "it rained")
    _, answer = refused(here, other)
    assert re.search(r'answer here "([AB])" and there "(?!\1)[AB]"$', answer)


def test_a_record_that_does_not_hold_is_not_brought_in(panel: Path, tmp_path: Path) -> None:
    here, other = copy_of(panel, tmp_path / "here"), copy_of(panel, tmp_path / "there")
    with open_casebook(other) as book:
        book.db.conn.execute("DROP TRIGGER answers_keep_content")
    assert any("its own record does not hold" in one for one in refused(here, other))


@pytest.mark.parametrize(
    ("here_does", "there_does", "says"),
    [
        (None, "a note of theirs", "a note of theirs"),
        ("a note of ours", None, "a note of ours"),
        ("the same", "the same", "the same"),
        ("a note of ours", "a note of theirs", None),
    ],
)
def test_an_entry_is_as_whoever_changed_it_has_it(
    panel: Path, tmp_path: Path, here_does: str | None, there_does: str | None, says: str | None
) -> None:
    here, other = copy_of(panel, tmp_path / "here"), copy_of(panel, tmp_path / "there")
    for folder, note in ((here, here_does), (other, there_does)):
        with open_casebook(folder) as book:
            setup = catalogue.find(book, Setup, "sallow")
            if note is not None:
                catalogue_changes.change(book, "setups", setup.id, {"note": note})
    if says is None:
        [found] = refused(here, other)
        changed = "setup sallow was changed in both, otherwise in each: "
        assert found == changed + 'note here "a note of ours" and there "a note of theirs"'
        return
    merged(here, other)
    holds(here)
    with open_casebook(here) as book:
        assert catalogue.find(book, Setup, "sallow").note == says


def changed_claim(folder: Path, text: str, at: str) -> None:
    """Claim 1 as it is to stand, written at that time; taken back where the text is empty."""
    with open_casebook(folder, lambda: datetime.fromisoformat(at)) as book:
        claim = claim_rows.find(book, "1")
        if text:
            claim_rows.change(book, claim, text, claim.content)
        else:
            claim_rows.withdraw(book, claim, "it rained")


@pytest.fixture(scope="module")
def claimed(panel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    book = copy_of(panel, tmp_path_factory.mktemp("claimed") / "book")
    with open_casebook(book) as opened:
        claim_rows.keep(opened, "Sallow is bright.", ClaimContent(note="so it seems"))
    return book


def test_a_claim_that_was_changed_in_both_is_refused_until_it_is_the_same(claimed: Path, tmp_path: Path) -> None:
    here, other = copy_of(claimed, tmp_path / "here"), copy_of(claimed, tmp_path / "there")
    changed_claim(here, "Sallow is brighter.", "2030-01-01T09:38:09+00:00")
    changed_claim(other, "Sallow is dull.", "2030-01-01T09:38:06+00:00")
    [found] = refused(here, other)
    said = 'text here "Sallow is brighter." and there "Sallow is dull."'
    assert found == f"claim 1 was changed in both, otherwise in each: {said}"
    assert "claims withdraw), then merge again." in earwitness(here, "merge", str(other)).stdout
    changed_claim(other, "Sallow is brighter.", "2030-01-01T10:00:00+00:00")
    merged(here, other)
    merged(other, here)
    for book in (here, other):
        holds(book)
        with open_casebook(book) as opened:
            assert claim_rows.find(opened, "1").text == "Sallow is brighter."
    changed_claim(other, "", "2030-01-02T10:00:00+00:00")
    assert merged(here, other)["merged"][0]["told"] == ["claim 1 was taken back: it rained"]


def test_what_was_brought_in_is_told_by_name(claimed: Path, tmp_path: Path) -> None:
    here, other = copy_of(claimed, tmp_path / "here"), copy_of(claimed, tmp_path / "there")
    with open_casebook(here) as book:
        claim_rows.keep(book, "Both are heavy.", ClaimContent())
    with open_casebook(other) as book:
        setups = [catalogue.find(book, Setup, name).id for name in ("sallow", "bracken")]
        catalogue_changes.change(book, "setups", setups[0], {"name": "marsh"})
        catalogue_changes.change(book, "setups", setups[1], {"note": "borrowed, left here overnight"})
        claim_rows.keep(book, "Sallow is wide.", ClaimContent())
    changed_claim(other, "Sallow is new to us.", "2030-01-01T09:38:05+00:00")
    changed_claim(other, "Sallow is dull.", "2030-01-01T09:38:06+00:00")
    told = earwitness(here, "merge", str(other)).stdout
    for says in (
        "  setup sallow is now called marsh\n",
        '  setup bracken is now as it is there: note was here nothing and there "borrowed, left here overnight"\n',
        '  claim 1 now says "Sallow is dull."\n',
        '  claim 3 is new and says "Sallow is wide."\n',
    ):
        assert says in told
    holds(here)


def test_two_plans_of_one_name_stay_two_and_each_has_its_match_sheet(
    panel: Path, matched_folder: Path, tmp_path: Path
) -> None:
    here, other = sat(panel, tmp_path / "here", "Ada", "Bo"), tmp_path / "there"
    shutil.copytree(matched_folder, tmp_path / "start")
    with create(other) as stranger, merging.read_only(tmp_path / "start") as start:
        merging.merge(stranger, start)  # another casebook, which holds the same setups
        shutil.copytree(tmp_path / "start" / "prepared", other / "prepared", dirs_exist_ok=True)
        sealed_plan(stranger, method="preference", trials=6)
        answer_all(stranger, 1.0)
        own = judged(stranger, "evening").p_value
    told = merged(here, other)
    [renamed] = [one["here"] for one in told["merged"][0]["renamed"] if one["table"] == "plans"]
    assert renamed.startswith("evening (")
    with open_casebook(here) as book:
        assert judged(book, renamed).p_value == own
        assert judged(book, "evening").p_value != own
        for name in ("evening", renamed):
            plan = seals.sealed_plan(book, name).plan
            assert plan.name == name
            assert match_sheet.of_hash(book, plan.document["match"]["sheet"]) is not None
        assert {one.casebook for one in origins.every(book)} >= {told["merged"][0]["casebook"]}
        checked = said(unpacked(book, tmp_path))
        assert checked.startswith(HOLDS)
        assert [f"\n{name}: seal and keys fit" in checked for name in ("evening", renamed)] == [True, True]
    holds(here, end_of(other))
    assert earwitness(here, "report", "--out", str(tmp_path / "report.html")).returncode == 0


def test_a_merge_that_is_interrupted_leaves_the_casebook_as_it_was(
    panel: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    here, other = sat(panel, tmp_path / "here", "Ada"), sat(panel, tmp_path / "there", "Bo")
    write: Callable[..., None] = merging._mark_entries

    def fails(book: Casebook) -> None:
        if book.folder == here:
            raise RuntimeError("the power went")
        write(book)

    monkeypatch.setattr(merging, "_mark_entries", fails)
    before = results(here)
    with open_casebook(here) as book, pytest.raises(RuntimeError, match="the power went"):
        merge_all.merge_all(book, [other], lambda _: None)
    assert results(here) == before
    holds(here)
    [copy] = here.glob("casebook-before-merge-*.db")
    monkeypatch.undo()
    assert merged(here, other)["opened"] == ["evening"]
    assert copy.stat().st_size > 0


def test_a_plan_with_a_second_hand_is_opened_once_its_secret_is_given(matched_folder: Path, tmp_path: Path) -> None:
    secret = "tengreenbottles1972"
    with open_casebook(copy_of(matched_folder, tmp_path / "start")) as book:
        from sessions.plans import drafting
        from sessions.plans.plan_rows import Wish

        drafting.draft(book, Wish("abx", ("sallow", "bracken"), listeners=("Ada", "Bo"), trials=5), "evening")
        seals.seal(book, "evening", ask_second=lambda: secret)
    here, other = copy_of(tmp_path / "start", tmp_path / "here"), copy_of(tmp_path / "start", tmp_path / "there")
    for folder, listener in ((here, "Ada"), (other, "Bo")):
        with open_casebook(folder) as book:
            answer_all(book, 1.0, listener, second=secret)
    with open_casebook(copy_of(here, tmp_path / "later")) as book:
        for _ in range(2):
            done = merge_all.merge_all(book, [other], lambda _: None)
            assert (done.opened, done.waiting) == ((), ("evening",))
    for folder in (here, tmp_path / "later"):
        with open_casebook(folder) as book:
            done = merge_all.merge_all(book, [other], lambda _: secret)
            assert (done.opened, done.waiting, done.checked.broken) == (("evening",), (), [])
            assert judged(book, "evening").p_value == pytest.approx(2**-10)


@pytest.fixture(scope="module")
def awaited(panel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The panel's casebook with a viewers' test of its plan, which still awaits answers."""
    folder = copy_of(panel, tmp_path_factory.mktemp("awaited") / "book")
    with open_casebook(folder) as book:
        sealed = seals.sealed_plan(book, "evening")
        test = viewers_test.drawn_up(sealed.plan, sealed.seal, "viewers-one", "page", 4, {"rate_hz": 16_000})
        viewers_rows.keep(book, test, bytes(range(32)))
    return folder


def test_the_secrets_of_plans_and_viewers_tests_come_along(awaited: Path, tmp_path: Path) -> None:
    create(tmp_path / "here").close()
    told = merged(tmp_path / "here", awaited)
    assert told["ok"]
    assert set(told["secrets"]) == {"plan evening", "the viewers' page of plan evening (viewers-one)"}
    with open_casebook(tmp_path / "here") as book:
        [sealed] = viewers_rows.everything(book)
        assert viewers_rows.secret_of(book, sealed) == bytes(range(32))
        assert viewers_rows.open_seal(book, sealed, 0, "").opening is not None


def test_what_an_audience_answered_comes_along_with_the_end_of_its_test(awaited: Path, tmp_path: Path) -> None:
    other, here = copy_of(awaited, tmp_path / "other"), tmp_path / "here"
    with open_casebook(other) as book:
        viewers_rows.open_seal(book, viewers_rows.everything(book)[0], 1, "A CODE")
        with backup_copy.copied(book, tmp_path / "kept"):
            pass
    create(here).close()
    merged(here, other)
    for folder in (here, tmp_path / "kept"):
        with open_casebook(folder) as book:
            [sealed] = viewers_rows.everything(book)
            assert viewers_rows.answers_of(book, sealed) == "A CODE"


def test_a_secret_that_was_missing_is_fetched_by_merging_again(awaited: Path, tmp_path: Path) -> None:
    other, here = copy_of(awaited, tmp_path / "other"), tmp_path / "here"
    (other / secret_files.FOLDER).rename(tmp_path / "kept")
    create(here).close()
    told = earwitness(here, "merge", str(other))
    for what in ("plan evening: its secret is not in", "viewers' test viewers-one: its secret is not in"):
        assert what in told.stdout
    (tmp_path / "kept").rename(other / secret_files.FOLDER)
    again = merged(here, other)
    assert (len(again["secrets"]), again["ok"], again["copy"]) == (2, True, None)
    assert merged(here, other)["secrets"] == []
    for one in (other / secret_files.FOLDER).iterdir():
        assert (here / secret_files.FOLDER / one.name).read_bytes() == one.read_bytes()


@pytest.mark.parametrize("damage", ["ab" * 32, "no digits"])
def test_a_secret_that_does_not_give_its_seal_is_refused_and_nothing_kept(
    awaited: Path, tmp_path: Path, damage: str
) -> None:
    other, here = copy_of(awaited, tmp_path / "other"), tmp_path / "here"
    secret_files.path_of(other, "viewers-one").write_text(damage)
    create(here).close()
    [line] = refused(here, other)
    assert "viewers-one" in line
    assert "seal" in line
    assert not (here / secret_files.FOLDER).exists()
