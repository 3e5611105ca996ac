"""A row of the record in the words of whoever wrote it: of which plan, setup, track and listener, and what it says.

Names are looked for in both casebooks of a merge. Nothing is told that may not be before a plan is over: no key and no
secret ever, and what was answered only once the plan is over.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from . import catalogue_marks, documents
from .store import Casebook, Row

CALLED = {
    "checks": "giveaway check", "session_marks": "mark of a session", "faults": "fault told",
    "catalogue_marks": "what the record says of", "second_hands": "second secret", "given_up": "giving up",
    "free_auditions": "free listening", "word_places": "place of a word", "lexicon_changes": "change of the lexicon",
    "thresholds": "run for a threshold", "threshold_answers": "answer for a threshold", "origins": "merged casebook",
    "viewers_tests": "viewers' test", "viewers_openings": "end of a viewers' test",
    "claim_tellings": "telling of a claim", "phrases": "phrase from outside", "witnesses": "witnessed code",
    "facts": "maker's fact",
}  # fmt: skip
"""What a table's row is called, where that is not the table's name without its last letter."""

SECRET = ("secret", "key", "answers_sha256")
HERE_AND_THERE = ("here", "there")
NAMED_BY = {
    "setup_id": ("setups", "of setup"),
    "track_id": ("tracks", "on track"),
    "passage_id": ("passages", "in passage"),
    "listener_id": ("listeners", "by"),
    "plan_id": ("plans", "of plan"),
}
"""The table that has the name for a column's identifier, and how a row is said to be of it."""
LONGEST = 48  # characters of a value that are told
AT_MOST = 4  # values that are told of one row


def kind(part: str) -> str:
    """What a row of a table is called."""
    return CALLED.get(part, part.removesuffix("s").replace("_", " "))


def told(casebooks: Sequence[Casebook], part: str, row: Row) -> str:
    """A row as a person knows it, with its identifier last."""
    if part == "catalogue_marks":
        entry = documents.value_of(row["document"])
        named = f"{kind(part)} {catalogue_marks.label(row['part'], row['entry'], entry)}"
        return f"{named} ({row['id']})"
    own = row.get("name") or row.get("term") or row.get("what") or row.get("text") or row.get("by") or ""
    named = kind(part) + (f" {_short(own)}" if own and part not in ("session_marks", "sessions") else "")
    places = list(dict.fromkeys(_places(casebooks, part, row)))
    return " ".join([named, *places, f"({row['id']}, {str(row['at'])[:16]})"])


def differing(
    casebooks: Sequence[Casebook], part: str, here: Row, there: Row, where: tuple[str, str] = HERE_AND_THERE
) -> str:
    """What two rows of one place say otherwise: each value here and there, told by the words of `where`."""
    hidden = part in ("answers", "auditions", "trials") and not _is_over(casebooks, here)
    found = []
    for column in catalogue_marks.differing(here, there):
        label = column.removesuffix("_id").replace("_", " ")
        if column in SECRET or hidden:
            found.append(f"{label} (not told{'' if column in SECRET else ' before the plan is over'})")
        elif column == "document":
            found += _of_documents(documents.value_of(here[column]), documents.value_of(there[column]), where)
        else:
            found.append(_each(label, where, *(_named(casebooks, column, one[column]) for one in (here, there))))
    more = [f"and {len(found) - AT_MOST} more"] if len(found) > AT_MOST else []
    return "; ".join([*found[:AT_MOST], *more])


def name(casebooks: Sequence[Casebook], table: str, identifier: Any) -> str:
    """What an entry or a plan is called here, or there; its identifier where neither has it."""
    row = _row(casebooks, table, identifier)
    return str(row["name"]) if row else str(identifier)


def _named(casebooks: Sequence[Casebook], column: str, value: Any) -> str:
    return _short(name(casebooks, NAMED_BY[column][0], value) if column in NAMED_BY and value else value)


def _each(label: str, where: tuple[str, str], here: str, there: str) -> str:
    return f"{label} {where[0]} {here} and {where[1]} {there}"


def _of_documents(here: Any, there: Any, where: tuple[str, str]) -> Iterator[str]:
    """What differs within two documents, by the names of its parts."""
    if not (isinstance(here, dict) and isinstance(there, dict)):
        yield "what it holds"
        return
    for part in catalogue_marks.differing(here, there):
        yield _each(part, where, _short(here.get(part)), _short(there.get(part)))


def _places(casebooks: Sequence[Casebook], part: str, row: Row) -> Iterator[str]:
    """Of what and of whom a row is, from the nearest outwards."""
    if part in ("trials", "threshold_answers"):
        offered = f" (offer {row['offer']})" if row.get("offer", 1) != 1 else ""
        yield f"of trial {row['trial']}{offered}"
    for column, table, says in (
        ("trial_id", "trials", ""),
        ("threshold_id", "thresholds", ""),
        ("session_id", "sessions", ""),
        ("viewers_id", "viewers_tests", ""),
        ("word_id", "words", "of the word"),
        ("corrects", "words" if part == "words" else "claims", "instead of"),
        ("claim_id", "claims", "of the claim"),
        ("curve_id", "curves", "of the curve"),
    ):
        outer = _row(casebooks, table, row.get(column)) if row.get(column) else None
        if outer is None:
            continue
        if says:
            own = outer.get("term") or outer.get("text") or outer.get("kind")
            yield f"{says} {_short(own)}"
        yield from _places(casebooks, table, outer)
    for column, (table, says) in NAMED_BY.items():
        if row.get(column):
            yield f"{says} {name(casebooks, table, row[column])}"


def _is_over(casebooks: Sequence[Casebook], row: Row) -> bool:
    """Whether the plan of an answer or a trial is over in one of them."""
    trial = _row(casebooks, "trials", row["trial_id"]) if "trial_id" in row else row
    session = _row(casebooks, "sessions", trial["session_id"]) if trial else None
    plan = session and session["plan_id"]
    return any(one.query("SELECT 1 FROM openings WHERE plan_id = ?", [plan]) for one in casebooks)


def _row(casebooks: Sequence[Casebook], table: str, identifier: Any) -> Row | None:
    for one in casebooks:
        rows = one.query(f"SELECT * FROM {table} WHERE id = ?", [identifier])
        if rows:
            return rows[0]
    return None


def _short(value: Any) -> str:
    """A value as it is told; an empty one said so."""
    text = " ".join((value if isinstance(value, str) else documents.text_of(value)).split())
    if value is None or not text:
        return "nothing"
    text = text if len(text) <= LONGEST else text[: LONGEST - 1] + "…"
    return f'"{text}"' if isinstance(value, str) else text
