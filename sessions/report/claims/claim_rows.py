"""Claims as the casebook keeps them: a sentence and what it rests on. All of their SQL is here.

A claim is a protected row. Whoever changes it writes a later row that names the one before, and whoever takes it back
one without a text; a claim keeps the identifier of its first row. Each time claims are given out, what each came to is
noted (`told`), so that a change of the data can be seen afterwards.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from ...casebook import documents
from ...casebook.store import Casebook, NewRow, Row, new_row
from ...errors import CatalogueError

LONGEST = 400  # characters of a sentence that is said aloud
HEARD, NOT_SHOWN = "heard", "not shown"
Standing = Literal["shown", "not shown", "contradicted", "opinion"]


@dataclass(frozen=True)
class PlanSays:
    """A plan, by its identifier, and what is claimed of it: heard, not shown, or which setup was preferred."""

    plan: str
    says: str = HEARD


@dataclass(frozen=True)
class WordSays:
    """A word: a logged one by its identifier, or a term said of the first of these setups (rather than the second)."""

    word: str = ""
    setups: tuple[str, ...] = ()
    term: str = ""


@dataclass(frozen=True)
class CurveSays:
    """Curves: that in a band, Hz, the first has more or less than the second, or one alone than most of its range.

    Attributes
    ----------
    of
        Setups, which stand for their newest curves on axis, or single curves, by identifier: one, or two.
    least_db
        By how much at least; 0 where only the side is claimed.
    """

    of: tuple[str, ...]
    says: Literal["more", "less"]
    low_hz: float
    high_hz: float
    least_db: float = 0.0


@dataclass(frozen=True)
class FactSays:
    """What the maker of a setup states: that it is stated, or that what was measured agrees with it, or differs."""

    setup: str
    what: str
    says: Literal["stated", "agrees", "differs"] = "stated"


@dataclass(frozen=True)
class ClaimContent:
    """What a claim's row holds beside its sentence: its evidence, a note, and when it is said in a video, ms."""

    plans: tuple[PlanSays, ...] = ()
    words: tuple[WordSays, ...] = ()
    curves: tuple[CurveSays, ...] = ()
    facts: tuple[FactSays, ...] = ()
    note: str = ""
    video_from_ms: int | None = None
    video_to_ms: int | None = None

    @property
    def has_evidence(self) -> bool:
        """Whether it rests on anything."""
        return bool(self.plans or self.words or self.curves or self.facts)


@dataclass(frozen=True)
class Told:
    """What a claim came to when it was given out: when, its standing, and what each part of its evidence said."""

    at: str
    standing: Standing
    text: str
    parts: tuple[str, ...]


@dataclass(frozen=True)
class Claim:
    """A claim as it stands.

    Attributes
    ----------
    id, number
        Of its first row; its place among all claims, from 1.
    row
        The identifier of its newest row.
    at, since
        When it was first written, and when it was written as it stands.
    text
        The sentence; empty of one that was taken back, `why` says why.
    changes
        How many times it was changed or taken back.
    told
        What it came to when it was given out last; None where it never was.
    """

    id: str
    number: int
    row: str
    at: str
    since: str
    text: str
    content: ClaimContent
    why: str = ""
    changes: int = 0
    told: Told | None = None

    @property
    def withdrawn(self) -> bool:
        """Whether it was taken back."""
        return not self.text


def keep(casebook: Casebook, text: str, content: ClaimContent) -> Claim:
    """Keep a new claim.

    Raises
    ------
    CatalogueError
        If the sentence is empty or too long, or its times in the video run backwards.
    """
    row = casebook.append_many([_new_row(_sentence(text), content, "", None)])[0]
    return find(casebook, row["id"])


def change(casebook: Casebook, claim: Claim, text: str, content: ClaimContent, why: str = "") -> Claim:
    """Keep a claim as it is to stand from now on; as it stood before it stays on record.

    Raises
    ------
    CatalogueError
        As `keep`; if it was changed meanwhile, or was taken back.
    """
    return _follow(casebook, claim, _new_row(_sentence(text), content, why.strip(), claim.row))


def withdraw(casebook: Casebook, claim: Claim, why: str) -> Claim:
    """Take a claim back; it stays on record with the reason.

    Raises
    ------
    CatalogueError
        If no reason is given, it was taken back before, or it was changed meanwhile.
    """
    if not why.strip():
        raise CatalogueError("a claim is taken back for a reason that stays on record; say it with --why")
    return _follow(casebook, claim, _new_row("", claim.content, why.strip(), claim.row))


def everything(casebook: Casebook) -> list[Claim]:
    """All claims as they stand, those taken back too, in the order in which they were first written."""
    told = _tellings(casebook)
    return [_claim(number, own, told) for number, own in enumerate(_histories(casebook), 1)]


def find(casebook: Casebook, named: str) -> Claim:
    """The claim of that identifier (of any of its rows) or number.

    Raises
    ------
    CatalogueError
        If there is none.
    """
    every = _histories(casebook)
    for number, own in enumerate(every, 1):
        if named == str(number) or any(named == row["id"] for row in own):
            return _claim(number, own, _tellings(casebook))
    there = f"there are 1 to {len(every)}" if every else "there are none yet: earwitness claims add 'what you say'"
    raise CatalogueError(f"no claim {named!r}; {there}")


def new_telling(claim: Claim, standing: Standing, parts: Iterable[str]) -> NewRow:
    """The row that notes what a claim came to when it was given out."""
    document = documents.text_of({"text": claim.text, "parts": list(parts)})
    return new_row("claim_tellings", "told", {"claim_id": claim.row, "standing": standing, "document": document})


def _sentence(text: str) -> str:
    sentence = " ".join(text.split())
    if not sentence or len(sentence) > LONGEST:
        raise CatalogueError(f"a claim is a sentence of 1 to {LONGEST} characters; got {len(sentence)}")
    return sentence


def _new_row(text: str, content: ClaimContent, why: str, corrects: str | None) -> NewRow:
    start, end = content.video_from_ms, content.video_to_ms
    if end is not None and (start is None or end <= start):
        raise CatalogueError("a claim's time in the video ends after it begins; say it like --video 1:02 1:08")
    document = documents.text_of(documents.plain(content))
    return new_row("claims", "claim", {"text": text, "document": document, "why": why, "corrects": corrects})


def _follow(casebook: Casebook, claim: Claim, row: NewRow) -> Claim:
    with casebook.writing():
        if claim.withdrawn:
            raise CatalogueError(
                f"claim {claim.number} was taken back ({claim.why}); write it anew: earwitness claims add"
            )
        if casebook.query("SELECT 1 FROM claims WHERE corrects = ?", [claim.row]):
            raise CatalogueError(f"claim {claim.number} was changed meanwhile; look at it and try again")
        casebook.append_many([row])
    return find(casebook, claim.id)


def _histories(casebook: Casebook) -> list[list[Row]]:
    """The rows of each claim, from the one it was first written as to the one it stands as."""
    every: list[list[Row]] = []
    of_row: dict[str, list[Row]] = {}
    for row in casebook.query("SELECT id, at, text, document, why, corrects FROM claims ORDER BY seq"):
        if row["corrects"] not in of_row:
            every.append([])
        own = of_row[row["id"]] = of_row.get(row["corrects"], every[-1])
        own.append(row)
    return every


def _claim(number: int, rows: list[Row], told: Mapping[str, Told]) -> Claim:
    newest = rows[-1]
    own = [told[row["id"]] for row in rows if row["id"] in told]
    return Claim(
        id=rows[0]["id"],
        number=number,
        row=newest["id"],
        at=rows[0]["at"],
        since=newest["at"],
        text=newest["text"],
        content=documents.from_text(newest["document"], ClaimContent),
        why=newest["why"],
        changes=len(rows) - 1,
        told=own[-1] if own else None,
    )


def _tellings(casebook: Casebook) -> dict[str, Told]:
    """The newest telling of each row of a claim."""
    rows = casebook.query("SELECT claim_id, at, standing, document FROM claim_tellings ORDER BY seq")
    found = {}
    for row in rows:
        said: Any = documents.value_of(row["document"])
        found[row["claim_id"]] = Told(row["at"], row["standing"], str(said["text"]), tuple(map(str, said["parts"])))
    return found
