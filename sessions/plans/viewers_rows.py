"""Viewers' tests as the casebook keeps them: sealed, opened; their secrets. All of their SQL is here."""

from __future__ import annotations

from dataclasses import dataclass
from shlex import quote
from typing import TYPE_CHECKING

from ..casebook import audience_answers, secret_files, witness_rows
from ..casebook.store import Casebook, Row
from ..errors import PlanError
from . import randomisation
from .standings import ViewersStanding

if TYPE_CHECKING:  # whoever only lists tests need not load what they mean
    from .viewers_test import Form, ViewersTest


@dataclass(frozen=True)
class ViewersOpening:
    """The end of a viewers' test: its secret (in hexadecimal), how many answers came, and their hash.

    The hash is over whatever was counted: the codes in alphabetical order, or the votes of a poll.
    """

    secret: str
    answers: int
    answers_sha256: str
    at: str


@dataclass(frozen=True)
class SealedTest:
    """A sealed viewers' test, when it was sealed, and its opening; None while answers are still awaited."""

    test: ViewersTest
    seal: str
    at: str
    opening: ViewersOpening | None = None

    @property
    def tag(self) -> int:
        """What stands of the seal in each answer code: its first 18 bits."""
        return int(self.seal[:5], 16) >> 2

    def ended_with(self, answers_sha256: str) -> bool:
        """Whether these are the answers that were there when its secret was told, by their hash."""
        return self.opening is not None and self.opening.answers_sha256 == answers_sha256


def keep(casebook: Casebook, test: ViewersTest, secret: bytes) -> SealedTest:
    """Keep a test with its seal; its secret is on disk before it is."""
    seal = randomisation.seal(secret, test.text)
    secret_files.keep(casebook.folder, {test.id: secret})
    row = casebook.append(
        "viewers_tests", "viewers", {"plan_id": test.plan, "document": test.text, "seal": seal}, row_id=test.id
    )
    return SealedTest(test, seal, row["at"])


def everything(casebook: Casebook) -> list[SealedTest]:
    """All viewers' tests, in the order they were sealed."""
    rows = casebook.query(
        """SELECT viewers_tests.*, secret, answers, answers_sha256, viewers_openings.at AS opened_at FROM viewers_tests
           LEFT JOIN viewers_openings ON viewers_id = viewers_tests.id ORDER BY viewers_tests.seq"""
    )
    return [_sealed(row) for row in rows]


def standings(casebook: Casebook) -> tuple[ViewersStanding, ...]:
    """All viewers' tests as far as they tell where they stand; read without loading what they mean."""
    rows = casebook.query(
        """SELECT viewers_tests.id AS test, json_extract(document, '$.form') AS form,
           json_extract(document, '$.plan_name') AS plan, viewers_tests.at AS sealed, seal,
           viewers_openings.id IS NOT NULL AS over FROM viewers_tests
           LEFT JOIN viewers_openings ON viewers_id = viewers_tests.id ORDER BY viewers_tests.seq"""
    )
    said = witness_rows.everything(casebook) if rows else []
    return tuple(
        ViewersStanding(
            **{**row, "over": bool(row["over"])}, published=tuple(one.by for one in said if one.code == row["seal"])
        )
        for row in rows
    )


def of_plan(casebook: Casebook, plan: str, form: Form, which: str | None = None) -> SealedTest:
    """The newest viewers' test of a plan (by name or identifier), or the one named by its identifier or seal.

    Raises
    ------
    PlanError
        If there is none.
    """
    every = [one for one in everything(casebook) if one.test.form == form]
    own = [one for one in every if plan in (one.test.plan, one.test.plan_name)]
    chosen = [one for one in own if which is None or which == one.test.id or one.seal.startswith(which.lower())]
    if chosen:
        return chosen[-1]
    if own:
        raise PlanError(
            f"plan {plan!r} has no viewers' {form} {which!r}; it has {', '.join(one.test.id for one in own)}"
        )
    raise PlanError(
        f"plan {plan!r} has no viewers' {form}; make one: earwitness viewers {form} {quote(plan)} "
        f"{'FOLDER' if form == 'page' else 'FILE.wav'}"
    )


def secret_of(casebook: Casebook, sealed: SealedTest) -> bytes:
    """The secret of a test.

    Raises
    ------
    PlanError
        If it is missing, or not the one that was sealed.
    """
    told = sealed.opening
    kept = secret_files.from_text(told.secret) if told else secret_files.read(casebook.folder, sealed.test.id)
    if not kept or randomisation.seal(kept, sealed.test.text) != sealed.seal:
        path = secret_files.path_of(casebook.folder, sealed.test.id)
        raise PlanError(
            f"the secret of the viewers' test {sealed.test.id} is missing or damaged: {path}; put back the folder "
            f"{path.parent.name} that belongs to this casebook"
        )
    return kept


def open_seal(casebook: Casebook, sealed: SealedTest, answers: int, text: str) -> SealedTest:
    """Write a test's secret to the record, with how many answers had come and their hash; it is over then.

    The answers themselves (`text`, as they are hashed) are on disk before.
    """
    secret, answers_sha256 = secret_of(casebook, sealed).hex(), audience_answers.digest(text)
    audience_answers.keep(casebook.folder, sealed.test.id, text)
    content = {"viewers_id": sealed.test.id, "secret": secret, "answers": answers, "answers_sha256": answers_sha256}
    row = casebook.append("viewers_openings", "viewers-opening", content)
    return SealedTest(sealed.test, sealed.seal, sealed.at, _opening(row))


def keep_answers(casebook: Casebook, sealed: SealedTest, text: str) -> None:
    """Keep the answers of a test that is over, if these are those that were there at its end and none are kept."""
    if sealed.ended_with(audience_answers.digest(text)) and answers_of(casebook, sealed) is None:
        audience_answers.keep(casebook.folder, sealed.test.id, text)


def answers_of(casebook: Casebook, sealed: SealedTest) -> str | None:
    """The answers that were counted when a test was ended; None before its end, and where they are not kept here."""
    told = sealed.opening
    return audience_answers.read(casebook.folder, sealed.test.id, told.answers_sha256) if told else None


def _sealed(row: Row) -> SealedTest:
    from .viewers_test import ViewersTest

    opening = None if row["secret"] is None else _opening({**row, "at": row["opened_at"]})
    return SealedTest(ViewersTest.from_text(row["document"]), row["seal"], row["at"], opening)


def _opening(row: Row) -> ViewersOpening:
    return ViewersOpening(row["secret"], row["answers"], row["answers_sha256"], row["at"])
