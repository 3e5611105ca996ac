"""`viewers collect` and `viewers poll`: what an audience sent in, counted; at a test's end also what came of it."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..errors import ViewersError
from .context import Context, confirmed, counted, give, json_option, say

if TYPE_CHECKING:
    from ..casebook.store import Casebook
    from ..plans.answer_codes import Collected
    from ..plans.viewers_rows import SealedTest
    from ..results.viewers_collecting import ViewersResult

WHICH = click.option(
    "--test", "which", metavar="ID", help="Another one than the plan's newest, by its identifier or seal."
)
OPEN = click.option(
    "--open",
    "opening",
    is_flag=True,
    help="End the test: tell its secret, count what was sent, and say what came of it.",
)


@dataclass(frozen=True)
class CameIn:
    """What came in of a test: how many answers, all that counts of them, and what is given of them at any time."""

    answers: int
    text: str
    document: dict[str, Any]

    @property
    def digest(self) -> str:
        """Their hash."""
        from ..casebook import audience_answers

        return audience_answers.digest(self.text)


@click.command()
@click.argument("plan")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@WHICH
@OPEN
@json_option
@click.pass_obj
def collect(
    context: Context, plan: str, files: tuple[Path, ...], which: str | None, opening: bool, as_json: bool
) -> None:
    """Read the answer codes of PLAN's page from FILES: any text or CSV that holds some.

    Until the test is ended by --open only how many there are is told: a running score would let you stop where it
    pleases. What comes in later is told as exploratory.
    """
    from ..plans import answer_codes, viewers_rows
    from ..results import viewers_collecting as collecting
    from ..results import viewers_told as told

    with context.open() as casebook:
        sealed = viewers_rows.of_plan(casebook, plan, "page", which)
        collected = answer_codes.collect(map(_text_of, files), sealed.test, sealed.tag)
        say(told.counted(collected), as_json)
        came = CameIn(len(collected.codes), collecting.kept_text(collected.codes), _counted_document(collected))
        ended = _ended(casebook, sealed, came, opening, as_json)
        if ended is None:
            return
        found = collecting.result(ended.test, viewers_rows.secret_of(casebook, ended), collected)
    if ended.ended_with(came.digest):
        _tell(ended, came, told.page_result(found), _page_document(found), as_json)
    else:
        _tell(ended, came, told.late_page(found), _late_document(asdict(found.crowd.pooled)), as_json)


@click.command()
@click.argument("plan")
@click.argument("table", type=click.Path(path_type=Path))
@WHICH
@OPEN
@json_option
@click.pass_obj
def poll(context: Context, plan: str, table: Path, which: str | None, opening: bool, as_json: bool) -> None:
    """Read the votes on PLAN's soundtrack from TABLE, with the columns trial,A,B (counts; of a preference trial,1,2).

    Or one line a vote, with the columns trial,answer. Nothing but their number is told before --open.
    """
    from ..plans import viewers_rows
    from ..results import viewers_polling as polling
    from ..results import viewers_told as told
    from . import poll_tables

    with context.open() as casebook:
        sealed = viewers_rows.of_plan(casebook, plan, "soundtrack", which)
        votes = poll_tables.votes(table, sealed.test)
        polling.check(sealed.test, votes)
        number = sum(map(sum, votes.values()))
        say(f"{counted(number, 'vote')} in {counted(sealed.test.trials, 'trial')}.", as_json)
        came = CameIn(number, polling.kept_text(votes), {"votes": number})
        ended = _ended(casebook, sealed, came, opening, as_json)
        if ended is None:
            return
        found = polling.result(ended.test, viewers_rows.secret_of(casebook, ended), votes)
    each = {"each": [list(one) for one in found.each]}
    if ended.ended_with(came.digest):
        document = {"verdict": found.verdict, **asdict(found.key)}
        _tell(ended, came, told.poll_result(found), document | each, as_json)
    else:
        _tell(ended, came, told.late_poll(found), _late_document(asdict(found.key)) | each, as_json)


def _ended(casebook: Casebook, sealed: SealedTest, came: CameIn, opening: bool, as_json: bool) -> SealedTest | None:
    """The test with its opening; None where it goes on."""
    from ..plans import viewers_rows

    if sealed.opening is not None:
        viewers_rows.keep_answers(casebook, sealed, came.text)
        return sealed
    if not opening:
        goes_on = (
            "Nothing of the answers is told before the end. To end the test, tell its secret and count: add --open"
        )
    elif not came.answers:
        raise ViewersError("there is no answer to count, so that the test is not ended; name the files that hold them")
    elif sys.stdin.isatty() and not confirmed(
        "End the test now? Its secret is told, and answers that come later do not count.",
        default=False,
        as_json=as_json,
    ):
        goes_on = "It goes on."
    else:
        return viewers_rows.open_seal(casebook, sealed, came.answers, came.text)
    say(goes_on, as_json)
    if as_json:
        give(came.document | {"open": False})
    return None


def _tell(ended: SealedTest, came: CameIn, result: Sequence[str], document: dict[str, Any], as_json: bool) -> None:
    """What came of a test that is over."""
    from ..results import viewers_told as told

    same = ended.ended_with(came.digest)
    for line in [*told.ended(ended, same), *result, told.keys_of(ended.test)]:
        say(line, as_json)
    if as_json:
        give(came.document | {"open": True, "exploratory": not same} | document)


def _counted_document(collected: Collected) -> dict[str, Any]:
    left = {"broken": collected.broken, "repeated": collected.repeated, "of_others": collected.of_others}
    return {"codes": len(collected.codes), **left}


def _late_document(counts: dict[str, Any]) -> dict[str, Any]:
    """What is given of answers that are not those of the end: counts, and neither verdict nor test."""
    kept = ("correct", "right", "votes", "trials")
    return {"verdict": None} | {name: counts[name] for name in kept if name in counts}


def _page_document(found: ViewersResult) -> dict[str, Any]:
    return {
        "verdict": found.verdict,
        **asdict(found.crowd),
        "by_passage": [asdict(one) for one in found.by_passage],
        "by_device": [asdict(one) for one in found.by_device],
        **asdict(found.flags),
    }


def _text_of(path: Path) -> str:
    """A file as text, whatever bytes are in it: codes are plain letters.

    Raises
    ------
    ViewersError
        If it cannot be read.
    """
    try:
        body = path.read_bytes()
    except OSError as error:
        raise ViewersError(f"cannot read {path}: {error.strerror}; name the file with the codes") from error
    wide = body[:2] in (b"\xff\xfe", b"\xfe\xff")
    return body.decode("utf-16" if wide else "utf-8", errors="replace")
