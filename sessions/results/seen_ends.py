"""Ends of the chain that somebody kept, looked for in a record: where each lies, or that it is not there. Pure.

The record is taken as it stands in its file; whether its chain holds is `verification`'s.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ..casebook import chain_ends
from ..casebook.chain_ends import EndCode
from ..casebook.inspection import Inspected
from ..casebook.session_rows import ALL_COMPLETE
from ..casebook.store import Row
from ..errors import CasebookError

TURNS = {"begun": "was begun", "taken up": "was taken up", "stopped": "was stopped", "complete": "was completed"}
UNDER_WAY = "was under way"


@dataclass(frozen=True)
class KeptCode:
    """A code that somebody kept, and what they wrote beside it."""

    code: EndCode
    note: str = ""


@dataclass(frozen=True)
class SeenEnd:
    """A code that was looked for: whether the record contains that end, and where it lies or what that means."""

    code: str
    note: str
    there: bool
    says: str
    row: int


def read(codes: Sequence[str], file: str = "", name: str = "") -> list[KeptCode]:
    """The codes given, and those of a file: a code a line, then anything, such as a date; # begins a remark.

    Raises
    ------
    CasebookError
        If one is no code, or mistyped; of a file the line is named.
    """
    kept = [KeptCode(chain_ends.parse(code)) for code in codes]
    for number, line in enumerate(file.splitlines(), 1):
        stated = line.partition("#")[0].strip()
        if stated:
            try:
                kept.append(KeptCode(*chain_ends.parse_first(stated)))
            except CasebookError as error:
                raise CasebookError(f"{name}, line {number}: {error}") from error
    return kept


def look_for(kept: Iterable[KeptCode], found: Inspected, brought_in: Sequence[Inspected] = ()) -> list[SeenEnd]:
    """Each code in the record, or in a casebook that was brought into it, as that was."""
    return [_looked_for(one, found, brought_in) for one in kept]


def _looked_for(one: KeptCode, found: Inspected, brought_in: Sequence[Inspected]) -> SeenEnd:
    for place in (found, *brought_in):
        if _has(place, one.code):
            table, row = place.placed[one.code.rows]
            of = (
                "" if place is found or place.own is None else f" of the casebook {place.own['id']} that was brought in"
            )
            says = f"end of row {one.code.rows}{of}: {_place(table, row, place)}"
            return SeenEnd(str(one.code), one.note, True, says, one.code.rows)
    there = found.placed
    says = REWRITTEN.format(rows=one.code.rows) if one.code.rows in there else _missing(one.code, max(there, default=0))
    return SeenEnd(str(one.code), one.note, False, says, one.code.rows)


def _has(place: Inspected, code: EndCode) -> bool:
    """Whether the row at which an end was has the hash that was shown."""
    _, row = place.placed.get(code.rows, ("", None))
    return row is not None and code.fits(row["hash"])


def covered(kept: Iterable[KeptCode], places: Sequence[Inspected]) -> set[str]:
    """The answers, by identifier, before an end that was kept and is in the record, or in one brought into it."""
    found = set[str]()
    for place in places:
        ends = [one.code.rows for one in kept if _has(place, one.code)]
        found |= {str(row["id"]) for row in place.rows["answers"] if row["seq"] <= max(ends, default=0)}
    return found


def witness_faults(own: Inspected, found: Inspected, brought_in: Sequence[Inspected] = ()) -> list[str]:
    """What a casebook itself says to be published, as ends or seals of its record, and is not in it."""
    seals = {row.get("seal") for table in ("plans", "viewers_tests") for row in found.rows[table]}
    faults = []
    for row in own.rows["witnesses"]:
        try:
            there = row["code"] in seals
            if row["what"] == "end":
                code = chain_ends.parse(row["code"])
                there = code.rows < row["seq"] and _has(found, code)
                there |= any(_has(each, code) for each in brought_in)
        except (CasebookError, KeyError, TypeError):
            there = False
        if not there:
            faults.append(f"the {row.get('what')} {row.get('code')}, said to be published, is not in this record")
    return faults


REWRITTEN = (
    "row {rows} is there with another hash: since that end was shown this record was rewritten, or put back to an "
    "older copy and gone on with (or the end is that of another casebook)"
)


def _missing(code: EndCode, rows: int) -> str:
    if rows > code.rows:
        return f"row {code.rows} is missing from this record"
    return (
        f"this record has {rows} rows, fewer than the {code.rows} there were when that end was shown: it was rolled "
        "back, to an older copy or by cutting its tail (or the end is that of another casebook)"
    )


def _place(table: str, row: Row, found: Inspected) -> str:
    """What the row says, as far as it is of a session; when it was written."""
    session_id = row["id"] if table == "sessions" else row.get("session_id")
    trial = next((one for one in found.rows["trials"] if one["id"] == row.get("trial_id")), None)
    if trial is not None:
        session_id = trial.get("session_id")
    session = next((one for one in found.rows["sessions"] if one["id"] == session_id), None)
    if session is None:
        return f"{_called(table, row, found)}, {row.get('at')}"
    of = f"the session of {_name(found, 'listeners', session['listener_id'])}"
    plan = _name(found, "plans", session["plan_id"])
    kind = "" if session["rehearsal"] is None else " (a rehearsal)"
    when = TURNS.get(str(row.get("what")), UNDER_WAY) if table == "session_marks" else UNDER_WAY
    own = {one["id"] for one in found.rows["trials"] if one.get("session_id") == session_id}
    answers = sum(one.get("trial_id") in own and one["seq"] <= row["seq"] for one in found.rows["answers"])
    before = "no answer" if not answers else "1 answer" if answers == 1 else f"{answers} answers"
    return f"after {of} in plan {plan}{kind} {when}, {row.get('at')}, {before} of it before"


def _called(table: str, row: Row, found: Inspected) -> str:
    """A row that is of no session."""
    if table == "plans":
        return f"after plan {row.get('name')} was sealed"
    if table in ("openings", "phrases", "given_up"):
        what = "got its phrase" if table == "phrases" else "was given up unopened"
        if table == "openings":
            what = "was opened" if row.get("why") == ALL_COMPLETE else "was closed early"
        return f"after plan {_name(found, 'plans', row.get('plan_id'))} {what}"
    return f"after a row of {table}"


def _name(found: Inspected, table: str, identifier: object) -> str:
    return next((str(row.get("name")) for row in found.rows[table] if row["id"] == identifier), str(identifier))
