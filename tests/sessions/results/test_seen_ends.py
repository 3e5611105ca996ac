"""What a kept end finds, and what nothing else does: planted truths in records whose chain was recomputed whole."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from sessions.casebook import schema, session_ends, witness_rows
from sessions.casebook.store import FILE_NAME, Casebook, open_casebook
from sessions.errors import CasebookError
from sessions.listening import session
from sessions.plans import seals
from sessions.results import end_sentences, publishing, seen_ends, verification
from sessions.results.exported_record import exported
from sessions.results.verification import Verified
from tests.answered_plans import answer_all, checked_alone
from tests.casebooks import judged, rewritten


@dataclass(frozen=True)
class Evening:
    """A casebook after a session whose answers were guessed, with the ends it showed, and a copy from its beginning."""

    book: Casebook
    begun: str
    complete: str
    early: Path


def codes(book: Casebook) -> dict[str, str]:
    """The ends of the plan's sessions, by their turn."""
    return {
        one.what: str(one.end.code) for one in session_ends.of_plan(book, seals.sealed_plan(book, "evening").plan.id)
    }


@pytest.fixture
def evening(sealed: Casebook, tmp_path: Path) -> Evening:
    with session.begin(sealed, "evening", "Ada", "none: test") as running:
        offered = running.next_trial()
        assert offered is not None
        for kind in ("underruns", "stalls"):
            running.fault(offered, kind, 1, "late")
    early = shutil.copy(sealed.folder / FILE_NAME, tmp_path / "early.db")
    answer_all(sealed, 0.0)
    shown = codes(sealed)
    return Evening(sealed, shown["begun"], shown["complete"], Path(early))


def saw(book: Casebook, *shown: str) -> Verified:
    return verification.verify(book, kept=seen_ends.read(shown))


def all_answers_made_right(evening: Evening) -> None:
    record = exported(evening.book, seals.sealed_plan(evening.book, "evening"))
    rewritten(
        evening.book,
        *(
            f"UPDATE answers SET answer = '{'BA'[trial['key']['X'] == 0]}' WHERE trial_id IN "
            f"(SELECT id FROM trials WHERE trial = {trial['trial']} AND offer = {trial['offer']})"
            for trial in record["sessions"][0]["trials"]
        ),
    )
    assert judged(evening.book, "evening").verdict == "heard"


def the_tail_cut(evening: Evening) -> None:
    last = evening.book.query("SELECT seq FROM answers ORDER BY seq DESC LIMIT 1")[0]["seq"]
    rewritten(evening.book, *(f"DELETE FROM {table} WHERE seq >= {last}" for table in schema.PROTECTED))


def dates_moved(evening: Evening) -> None:
    rewritten(evening.book, "UPDATE answers SET at = '2020-01-01T20:00:00.000Z'")


def faults_dropped(evening: Evening) -> None:
    rewritten(evening.book, "DELETE FROM faults WHERE kind = 'stalls'")


def an_older_copy_put_back_and_answered_again(evening: Evening) -> None:
    evening.book.close()
    shutil.copy(evening.early, evening.book.folder / FILE_NAME)
    with open_casebook(evening.book.folder) as again:
        answer_all(again, 1.0)
        assert judged(again, "evening").verdict == "heard"


@pytest.mark.parametrize(
    "do",
    [
        all_answers_made_right,
        the_tail_cut,
        dates_moved,
        faults_dropped,
        an_older_copy_put_back_and_answered_again,
    ],
    ids=lambda do: do.__name__,
)
def test_only_an_end_from_after_the_session_finds_what_was_written_anew(
    evening: Evening, do: Callable[[Evening], None], tmp_path: Path
) -> None:
    do(evening)
    with open_casebook(evening.book.folder) as book:
        assert saw(book).broken == []  # the file alone says nothing, nor does its record
        assert do is the_tail_cut or checked_alone(book, tmp_path).startswith("seal and keys fit")
        before = saw(book, evening.begun)
        assert (before.ok, [one.there for one in before.seen]) == (True, [True])  # nor does an end from before it
        after = saw(book, evening.begun, evening.complete)
        assert (after.ok, [one.there for one in after.seen]) == (False, [True, False])
        says = after.seen[1].says
        expected = (
            "fewer than the .* rolled back|is there with another hash: .* rewritten, or put back to an older copy"
        )
        assert re.search(expected, says), says
        assert ("rolled back" in says) == (do is the_tail_cut), says
    if not do.__name__.startswith("an_older"):
        evening.book.close()


def test_a_copy_from_before_a_closing_answered_by_the_key_that_it_told_is_found_by_the_closings_end(
    sealed: Casebook, tmp_path: Path
) -> None:
    """Only that end is from between the two: all others were there when the copy was made, or came after it."""
    answer_all(sealed, 0.0, most=3)
    plan = seals.sealed_plan(sealed, "evening").plan
    early = shutil.copytree(sealed.folder, tmp_path / "early")
    seals.close(sealed, "evening", "tired")
    kept = [str(one.end.code) for one in session_ends.of_plan(sealed, plan.id)]
    told = sealed.query("SELECT seq, hash, at FROM openings")[0]
    assert kept[-1] == str(session_ends.End(told["seq"], told["hash"]).code)
    there = saw(sealed, *kept)
    assert (there.ok, there.seen[-1].says) == (
        True,
        f"end of row {told['seq']}: after plan evening was closed early, {told['at']}",
    )
    sealed.close()
    shutil.rmtree(sealed.folder)
    shutil.copytree(early, sealed.folder)
    with open_casebook(sealed.folder) as again:
        answer_all(again, 1.0)
        kept += [str(one.end.code) for one in session_ends.of_plan(again, plan.id)]
        assert saw(again, *kept).broken == []
        assert [one.code for one in saw(again, *kept).seen if not one.there] == [
            str(session_ends.End(told["seq"], told["hash"]).code)
        ]


def test_a_closing_that_was_published_protects_all_answers(sealed: Casebook) -> None:
    answer_all(sealed, 0.0, most=3)
    plan = seals.sealed_plan(sealed, "evening").plan
    seals.close(sealed, "evening", "tired")
    ends = session_ends.of_plan(sealed, plan.id)
    assert [one.what for one in ends] == ["begun", "closed early"]
    assert end_sentences.when(ends[1]) == "the plan was closed early"
    answers = session_ends.answer_rows(sealed, plan.id)
    assert answers == [row["seq"] for row in sealed.query("SELECT seq FROM answers ORDER BY seq")]

    def said(*published: session_ends.ShownEnd) -> str:
        noted = [witness_rows.Witness("end", str(one.end.code), "Bo", "2026-11-26T20:00:00.000Z") for one in published]
        return end_sentences.ends_published(ends, noted, answers)

    who = "Bo (noted 2026-11-26 20:00)"
    assert f"1 of 2 ends said to be published, 1 of them from after the last answer: {who}. Whoever" in said(ends[1])
    assert (
        f"1 of 2 ends said to be published, 0 of them from after the last answer: {who}. So none of them protects the "
        "answers"
    ) in said(ends[0])
    middle = sealed.query("SELECT seq, hash FROM trials ORDER BY seq")[2]
    ends[0] = session_ends.ShownEnd("Ada", "stopped", "", session_ends.End(middle["seq"], middle["hash"]))
    assert "So only the first 2 of 3 answers are protected, the later ones by none of them." in said(ends[0])
    assert "So " not in said(*ends)


def test_an_end_that_is_there_says_where_it_lies(evening: Evening) -> None:
    found = saw(evening.book, evening.begun, evening.complete)
    assert found.ok
    at = {row["what"]: row["at"] for row in evening.book.query("SELECT what, at FROM session_marks")}
    rows = [code.split("-")[0] for code in (evening.begun, evening.complete)]
    assert [one.says for one in found.seen] == [
        f"end of row {rows[0]}: after the session of Ada in plan evening was begun, {at['begun']}, "
        "no answer of it before",
        f"end of row {rows[1]}: after the session of Ada in plan evening was completed, {at['complete']}, "
        "8 answers of it before",
    ]


def test_an_end_of_any_row_is_placed(evening: Evening) -> None:
    """Whoever kept the end of another moment is answered too; nobody is told of an error."""
    for row in evening.book.query("SELECT seq, hash, part FROM chain_links"):
        code = str(session_ends.End(row["seq"], row["hash"]).code)
        (one,) = saw(evening.book, code).seen
        assert one.there, (row, one)
        assert one.says.startswith(f"end of row {row['seq']}: after "), one.says


def test_a_file_of_codes_may_say_more_and_a_mistyped_one_is_named_with_its_line(evening: Evening) -> None:
    text = f"# what viewers kept\n\n{evening.begun.lower()}  2026-11-26, on the phone\n{evening.complete} # mine\n"
    kept = seen_ends.read([], text, "kept.txt")
    assert [(str(one.code), one.note) for one in kept] == [
        (evening.begun, "2026-11-26, on the phone"),
        (evening.complete, ""),
    ]
    said = [end_sentences.found(one) for one in verification.verify(evening.book, kept=kept).seen]
    assert said[0].startswith(f"{evening.begun} (2026-11-26, on the phone): end of row ")
    wrong = evening.complete[:-1] + ("A" if evening.complete[-1] != "A" else "B")
    with pytest.raises(CasebookError, match=r"kept\.txt, line 2: the end code '.*' is mistyped"):
        seen_ends.read([], f"{evening.begun}\n{wrong}", "kept.txt")


def test_only_what_is_in_this_record_is_noted_as_published(evening: Evening) -> None:
    book, plan = evening.book, seals.sealed_plan(evening.book, "evening")
    for given in (evening.complete.lower(), "evening", plan.seal.upper(), plan.seal[:16]):
        publishing.note(book, given, "the first viewer")
    kept = [(one.what, one.code, one.by) for one in witness_rows.everything(book)]
    seal = ("seal", plan.seal, "the first viewer")
    assert kept == [("end", evening.complete, "the first viewer"), seal]
    rows = int(evening.complete.split("-")[0])
    for code, why in (
        (str(session_ends.EndCode(rows, "0123456789ABCDEF")), "not in this record: it was rolled back or rewritten"),
        (str(session_ends.EndCode(rows + 500, "0123456789ABCDEF")), "not in this record: it was rolled back"),
        ("ab" * 32, "no plan of this record, nor a viewers' test, has the seal"),
        (evening.complete[:-2] + "??", "mistyped"),
    ):
        with pytest.raises(CasebookError, match=why):
            publishing.note(book, code, "x")
    with pytest.raises(CasebookError, match="--by"):
        publishing.note(book, evening.complete, " ")
    assert len(witness_rows.everything(book)) == 2
    assert verification.verify(book).ok


def test_a_rewritten_record_that_kept_what_was_said_to_be_published_is_named(evening: Evening) -> None:
    publishing.note(evening.book, evening.complete, "the first viewer")
    rewritten(evening.book, "UPDATE answers SET sureness = 4")
    assert verification.verify(evening.book).broken == [
        f"the end {evening.complete}, said to be published, is not in this record"
    ]
