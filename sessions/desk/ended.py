"""What came of plans that are over: the one gate by which results reach the desk. Of an open plan nothing passes it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ..casebook import session_ends
from ..casebook.store import Casebook
from ..errors import PlanError
from ..plans import check_notes, plan_rows, seals
from ..plans.plan_rows import SealedPlan
from ..report import told
from ..results import chosen_lags, end_sentences, review
from ..results.review import ReviewedPlan
from ..results.supplementary_sentences import Block

REPORT = "report.html"
INK, PAPER = "#26323a", "#ffffff"
STYLE = (
    f'<style>text{{font-family:"Helvetica Neue",Arial,"DejaVu Sans",sans-serif;font-size:13px;fill:{INK}}}'
    ".n{font-size:12px}</style>"
)


@dataclass(frozen=True)
class PictureOf:
    """A picture of a result: which of its plan's, from 0, and its caption."""

    number: int
    caption: str


@dataclass(frozen=True)
class Result:
    """A plan that is over: the two sentences read first, the numbers, and what stands beside them."""

    name: str
    first: tuple[str, str]
    numbers: Sequence[str]
    beside: Sequence[Block]
    pictures: Sequence[PictureOf]
    end: str


@dataclass(frozen=True)
class Ended:
    """All results that may be told, the names of plans that are open, and when the report was written, if it was."""

    results: Sequence[Result]
    waiting: Sequence[str]
    given_up: Sequence[str]
    report_at: str


@dataclass(frozen=True)
class BallotWord:
    """A word over all ballots: of which setup alone it was said (or rated higher) how often, and its p-value."""

    word: str
    first_only: int
    second_only: int
    p: str


@dataclass(frozen=True)
class BallotTable:
    """The ballots of two setups together; exploratory, since each plan's own verdict counts."""

    setups: tuple[str, str]
    rated: bool
    trials: int
    listeners: str
    words: Sequence[BallotWord]


def gather(casebook: Casebook) -> Ended:
    """What is over now."""
    return Ended(
        [_result(casebook, one) for one in _over(casebook)],
        open_plans(casebook),
        sorted(_given_up(casebook)),
        _written(casebook.folder / REPORT),
    )


def open_plans(casebook: Casebook) -> list[str]:
    """The sealed plans of which nothing may be told yet."""
    over = plan_rows.openings(casebook).keys() | plan_rows.given_up(casebook).keys()
    return [one.plan.name for one in plan_rows.every_sealed(casebook) if one.plan.id not in over]


def picture(casebook: Casebook, name: str, number: int) -> bytes:
    """One of the pictures of a plan's result, as a file.

    Raises
    ------
    PlanError
        If the plan is not over, or has no such picture.
    """
    from ..report import result_pictures

    sealed = seals.sealed_plan(casebook, name)
    if plan_rows.opening(casebook, sealed.plan.id) is None:
        raise PlanError(f"plan {name!r} is not over; nothing of it is told before its end")
    found = next(one for one in _over(casebook) if one.sealed.plan.id == sealed.plan.id)
    pictures = result_pictures.of(found.verdict)
    if not 0 <= number < len(pictures):
        raise PlanError(f"plan {name!r} has no picture {number}; load the page again")
    drawn = pictures[number].draw()
    inside = drawn.index(">") + 1
    return f"{drawn[:inside]}{STYLE}{drawn[inside:]}".encode()


def write_report(casebook: Casebook) -> Path:
    """Write the report; where a plan is open it waits, so that the desk shows nothing of it.

    Raises
    ------
    PlanError
        If a plan is open.
    """
    from ..report import contents, page

    _check_all_over(casebook)
    path = casebook.folder / REPORT
    page.write(contents.gather(casebook, "What was heard"), path)
    return path


def report_text(casebook: Casebook) -> str:
    """The report as it was written.

    Raises
    ------
    PlanError
        If a plan is open, or there is no report.
    """
    _check_all_over(casebook)
    try:
        return (casebook.folder / REPORT).read_text(encoding="utf-8")
    except OSError as error:
        raise PlanError("no report is written yet; write it first") from error


def _check_all_over(casebook: Casebook) -> None:
    waiting = open_plans(casebook)
    if waiting:
        raise PlanError(f"the report waits until all sealed plans are over; open: {', '.join(waiting)}")


def _written(path: Path) -> str:
    """When a file was written, in UTC to the minute; empty where there is none."""
    from datetime import UTC, datetime

    try:
        return f"{datetime.fromtimestamp(path.stat().st_mtime, UTC):%Y-%m-%d %H:%M}"
    except OSError:
        return ""


def _given_up(casebook: Casebook) -> set[str]:
    lost = plan_rows.given_up(casebook)
    return {one.plan.name for one in plan_rows.every_sealed(casebook) if one.plan.id in lost}


def _over(casebook: Casebook) -> list[ReviewedPlan]:
    """The plans that are opened, judged; the newest first."""
    openings = plan_rows.openings(casebook)
    if not openings:
        return []
    return [one for one in reversed(review.review(casebook).plans) if one.sealed.plan.id in openings]


def _result(casebook: Casebook, one: ReviewedPlan) -> Result:
    from ..report import result_pictures

    said = told.of(one.verdict)
    plan = one.sealed.plan
    notes = review.by_itself(lambda: check_notes.of_plan(casebook, plan), lambda _: list[str]())
    lags = review.by_itself(lambda: chosen_lags.sentences(casebook, plan), lambda _: list[str]())
    numbers = [*said.numbers, *check_notes.in_words(notes), *lags]
    drawn = review.by_itself(lambda: [each.caption for each in result_pictures.of(one.verdict)], lambda _: list[str]())
    pictures = [PictureOf(number, caption) for number, caption in enumerate(drawn)]
    return Result(plan.name, said.first, numbers, said.beside, pictures, _end(casebook, one.sealed))


def _end(casebook: Casebook, sealed: SealedPlan) -> str:
    """The newest end of the record that the plan's sessions showed, for whoever keeps it."""
    ends = session_ends.of_plan(casebook, sealed.plan.id)
    return f"{end_sentences.when(ends[-1])}: {ends[-1].end.code}" if ends else ""


def ballots(casebook: Casebook) -> tuple[list[BallotTable], list[str]]:
    """The ballots of words that are over, of each two setups together; and why others are not among them."""
    from ..results import ballots_over
    from ..results.supplementary_sentences import bare_p

    found = ballots_over.in_casebook(casebook)
    tables = [
        BallotTable(
            one.setups,
            one.rated,
            one.trials,
            ", ".join(one.listeners),
            [
                BallotWord(own.word, own.counts.first_only, own.counts.second_only, bare_p(own.p_holm))
                for own in one.words
            ],
        )
        for one in found.pairs
    ]
    waiting = [f"{one.plan}: {one.why}" for one in found.left_out]
    waiting += [f"{one.plan}: of more than two setups; its result tells it" for one in found.several]
    return tables, waiting
