"""How much a casebook has seen: sessions begun, starts of machines, steps of the clock backward; chained.

A copy that was tried on and thrown away leaves no trace here; but an honest casebook shows its age, and one put back
after a session shows less of it than what was seen by whoever kept an end.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from . import boot, schema
from .store import Casebook, NewRow, Row, new_row

Chained = tuple[str, Mapping[str, Any]]
"""A protected row, after its table's name."""


@dataclass(frozen=True)
class Age:
    """What a casebook has seen so far.

    Attributes
    ----------
    sessions
        Sessions begun, rehearsals too.
    boots
        Different starts of machines that sessions ran in; 0 where none was noted.
    clock_steps
        Rows of the chain that are dated before the row before them.
    """

    sessions: int = 0
    boots: int = 0
    clock_steps: int = 0


@dataclass(frozen=True)
class Reading:
    """How far the chain was read, and what was counted on the way."""

    seq: int = 0
    at: str = ""
    sessions: int = 0
    clock_steps: int = 0
    boots: tuple[str, ...] = ()

    def then(self, rows: Iterable[Chained]) -> Reading:
        """The same after further rows, in their order."""
        seq, at, sessions, steps, boots = self.seq, self.at, self.sessions, self.clock_steps, list(self.boots)
        for table, row in rows:
            steps += str(row.get("at")) < at
            sessions += table == "sessions"
            if table == "counters" and str(row.get("boot")) not in boots:
                boots.append(str(row.get("boot")))
            seq, at = row["seq"], str(row.get("at"))
        return Reading(seq, at, sessions, steps, tuple(boots))

    def age(self, now: Sequence[str] = ()) -> Age:
        """What was seen so far, by sessions of these starts too."""
        return Age(self.sessions, boot.different([*self.boots, *now]), self.clock_steps)


@dataclass(frozen=True)
class ReadAhead:
    """The chain as it was read before anybody has to wait for a write, and which start of the machine this is."""

    reading: Reading
    boot: str


def read_ahead(casebook: Casebook, this_boot: str | None = None) -> ReadAhead:
    """What a session's counters need; `this_boot` is asked of the system if it is not given."""
    return ReadAhead(_read_on(casebook, Reading()), this_boot or boot.this_boot(casebook.head()["id"]))


def append_turn(casebook: Casebook, session_id: str, rows: Sequence[NewRow], ahead: ReadAhead) -> list[Row]:
    """Write the rows with which a session begins or is taken up, the counters before the last of them (its mark)."""
    with casebook.writing():
        before = casebook.append_many(rows[:-1])
        counted = _read_on(casebook, ahead.reading).age([ahead.boot])
        content = {"session_id": session_id, **asdict(counted), "boot": ahead.boot}
        return [*before, *casebook.append_many([new_row("counters", "counters", content), *rows[-1:]])]


def faults(rows: Iterable[Chained]) -> list[str]:
    """Where counters do not say what stands before them in the chain."""
    found, reading, since = [], Reading(), list[Chained]()
    for table, row in rows:
        if table == "counters":
            reading, since = reading.then(since), []
            counted = asdict(reading.age([str(row.get("boot"))]))
            wrong = [f"{name} {row.get(name)} for {there}" for name, there in counted.items() if row.get(name) != there]
            if wrong:
                found.append(f"the counters of row {row['seq']} do not say what the chain has: {', '.join(wrong)}")
        since.append((table, row))
    return found


def age(rows: Iterable[Chained], chains: Iterable[Iterable[Chained]]) -> Age:
    """What a casebook has seen, with those that were brought in.

    Parameters
    ----------
    rows
        All rows of its chain, those that were brought in too: each session stands there once.
    chains
        What it wrote itself, and what each that was brought in wrote, each in the order of its own chain: only there
        does a date before the one before it tell of a clock.
    """
    whole, set_back = Reading().then(rows), set[tuple[str, str]]()
    for chain in chains:
        at = ""
        for table, row in chain:
            now = str(row.get("at"))
            if now < at:
                set_back.add((table, str(row.get("id"))))  # copies of one casebook have their beginning in common
            at = now
    return replace(whole.age(), clock_steps=len(set_back))


def _read_on(casebook: Casebook, reading: Reading) -> Reading:
    """The same after the rows written since."""
    parts = [
        f"SELECT seq, '{table}' AS part, at, {'boot' if table == 'counters' else 'NULL'} AS boot FROM {table} "
        f"WHERE seq > :seq AND id NOT IN (SELECT row_id FROM brought_in WHERE part = '{table}')"
        for table in schema.PROTECTED
    ]
    rows = casebook.query(" UNION ALL ".join(parts) + " ORDER BY seq", {"seq": reading.seq})
    return reading.then((row["part"], row) for row in rows)
