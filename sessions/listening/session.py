"""One listener working through one plan: which trial comes next, and what is kept of it.

Every step is on disk before it returns, so that killing the process at any instant loses nothing acknowledged and the
session goes on at the same trial with the same key. It plays nothing and shows nothing.
"""

from __future__ import annotations

import fcntl
import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from ..casebook import catalogue
from ..casebook.catalogue import Listener
from ..casebook.store import Casebook, Row
from ..errors import ListenError
from ..plans import trial_keys
from ..plans.methods import Key
from ..plans.plan import Plan, PlannedPassage

SIMULATED = "simulated"
PRACTICE = "practice"
LOCKS = ".locks"


@dataclass(frozen=True)
class Offered:
    """One trial as it is offered: its row's id, its number and offer, its passage, and the key (never shown)."""

    row_id: str
    trial: int
    offer: int
    passage: PlannedPassage
    key: Key


class Session:
    """A session at work. Made by `begin`; a context manager that leaves it stopped and unlocked."""

    def __init__(self, casebook: Casebook, plan: Plan, row: Row, secret: bytes, lock: IO[str]) -> None:
        self.casebook = casebook
        self.plan = plan
        self.row = row
        self._secret = secret
        self._lock = lock
        # A rehearsal's coins follow from its seed alone, so that it can be repeated in another casebook.
        self._coin_name = "rehearsal" if row["rehearsal"] else row["listener_id"]

    def __enter__(self) -> Session:
        return self

    def __exit__(self, *exc: object) -> None:
        self._lock.close()

    @property
    def answered(self) -> int:
        """How many trials are answered."""
        sql = "SELECT count(*) AS n FROM answers JOIN trials ON trials.id = trial_id WHERE session_id = ?"
        return int(self.casebook.query(sql, [self.row["id"]])[0]["n"])

    def next_trial(self) -> Offered | None:
        """The trial to be heard now; None when all are answered, or a sequential plan has come to its end.

        A trial begun and not answered comes back with its key; one that was disturbed comes back at its next offer,
        with a fresh coin.
        """
        rows = self.casebook.query(
            """SELECT trials.*, answers.id AS answer_id, (SELECT count(*) FROM faults WHERE faults.trial_id = trials.id)
               AS disturbed FROM trials LEFT JOIN answers ON answers.trial_id = trials.id WHERE session_id = ?""",
            [self.row["id"]],
        )
        done = {row["trial"] for row in rows if row["answer_id"]}
        trial = next((t for t in range(1, self.plan.slots + 1) if t not in done), None)
        if trial is None or self.decided() is not None:
            return None
        offers = [row for row in rows if row["trial"] == trial]
        standing = [row for row in offers if not row["disturbed"]]
        passage = self.plan.passages[
            trial_keys.passage_index(self._secret, self._coin_name, trial, len(self.plan.passages))
        ]
        if standing:
            row = standing[0]
            return Offered(row["id"], trial, row["offer"], passage, json.loads(row["key"]))
        offer = len(offers) + 1
        key = trial_keys.key(self.plan.document, self._secret, self._coin_name, trial, offer)
        content = {
            "session_id": self.row["id"],
            "trial": trial,
            "offer": offer,
            "passage_id": passage.id,
            "key": json.dumps(key, sort_keys=True),
        }
        row = self.casebook.append("trials", "trial", content)
        return Offered(row["id"], trial, offer, passage, key)

    def audition(self, offered: Offered, stimulus: str, from_frame: int, to_frame: int) -> None:
        """Keep one stretch in which the listener heard one stimulus."""
        content = {
            "trial_id": offered.row_id,
            "stimulus": stimulus,
            "from_frame": from_frame,
            "to_frame": to_frame,
        }
        self.casebook.append("auditions", "audition", content)

    def fault(self, offered: Offered, kind: str, count: int, detail: str) -> None:
        """Keep a playback fault; the trial it disturbed will be offered again in fresh random order."""
        content = {
            "trial_id": offered.row_id,
            "session_id": self.row["id"],
            "kind": kind,
            "count": count,
            "detail": detail,
        }
        self.casebook.append("faults", "fault", content)

    def answer(self, offered: Offered, answer: str, sureness: int, after_ms: int) -> None:
        """Keep an answer; with the last one the session is complete, and with the last session the plan is opened.

        Raises
        ------
        ListenError
            If the method knows no such answer or the sureness is not 1 to 4.
        """
        self.plan.method.check_answer(answer)
        if not 1 <= sureness <= 4:
            raise ListenError(f"sureness {sureness} is out of range; give 1 (a guess) to 4 (certain)")
        with self.casebook.writing():
            content = {
                "trial_id": offered.row_id,
                "answer": answer,
                "sureness": sureness,
                "after_ms": after_ms,
            }
            self.casebook.append("answers", "answer", content)
            if self.answered == self.plan.slots or self.decided() is not None:
                self.mark("complete")
                if not self.row["rehearsal"] and self._all_complete():
                    drafting.open_seal(self.casebook, self.plan.id, "all sessions complete")

    def decided(self) -> str | None:
        """What a sequential plan has come to; None while it goes on, and for a plan of fixed length."""
        region = self.plan.boundaries
        if region is None:
            return None
        rows = self.casebook.query(
            """SELECT key, answer FROM answers JOIN trials ON trials.id = trial_id WHERE session_id = ?""",
            [self.row["id"]],
        )
        counted = [(json.loads(row["key"]), row["answer"]) for row in rows]
        right = [methods.score(self.plan.method.name, k, a) for k, a in counted if not self.plan.is_control(k)]
        return region.decision(len(right), sum(right))

    def mark(self, what: str, note: str = "") -> None:
        """Keep a turn of the session: begun, paused, resumed, stopped, taken up, complete, abandoned."""
        self.casebook.append("session_marks", "mark", {"session_id": self.row["id"], "what": what, "note": note})

    def _all_complete(self) -> bool:
        rows = self.casebook.query(
            """SELECT count(*) AS n FROM session_marks JOIN sessions ON sessions.id = session_id
               WHERE plan_id = ? AND rehearsal IS NULL AND what = 'complete'""",
            [self.plan.id],
        )
        return int(rows[0]["n"]) == len(self.plan.listeners)


def begin(casebook: Casebook, plan_name: str, listener_name: str, device: str) -> Session:
    """The counting session of a listener in a plan: a new one, or the one that was stopped.

    Raises
    ------
    ListenError
        If the plan is over, does not name the listener, or the session runs in another process.
    """
    row = drafting.sealed_row(casebook, plan_name)
    plan = Plan.from_text(row["document"])
    names = [listener.name for listener in plan.listeners]
    if listener_name not in names:
        raise ListenError(f"plan {plan.name!r} was sealed for {', '.join(names)}, not for {listener_name!r}")
    if drafting.opening(casebook, plan.id):
        raise ListenError(f"plan {plan.name!r} is over; see earwitness verdict {plan.name}")
    listener = catalogue.find(casebook, Listener, listener_name)
    lock = _lock(casebook.folder, f"{plan.id}-{listener.id}", f"{listener_name} in plan {plan.name!r}")
    sql = "SELECT * FROM sessions WHERE plan_id = ? AND listener_id = ? AND rehearsal IS NULL"
    there = casebook.query(sql, [plan.id, listener.id])
    secret = bytes.fromhex(casebook.query("SELECT secret FROM secrets WHERE plan_id = ?", [plan.id])[0]["secret"])
    if there:
        session = Session(casebook, plan, there[0], secret, lock)
        marks = casebook.query("SELECT what FROM session_marks WHERE session_id = ?", [there[0]["id"]])
        if any(mark["what"] == "complete" for mark in marks):
            lock.close()
            raise ListenError(f"{listener_name} has answered all trials of {plan.name!r}; others are awaited")
        session.mark("taken up", device)
        return session
    return _start(casebook, plan, listener, secret, lock, device=device, rehearsal=None)


def begin_rehearsal(casebook: Casebook, plan: Plan, listener: Listener, about: dict[str, Any], device: str) -> Session:
    """A session that never counts. Its coins follow from plan name and seed, never from the secret."""
    lock = _lock(casebook.folder, f"{plan.id}-rehearsal-{listener.id}", f"a rehearsal of {plan.name!r}")
    secret = hashlib.sha256(f"rehearsal|{plan.name}|{about['seed']}".encode()).digest()
    return _start(casebook, plan, listener, secret, lock, device=device, rehearsal=json.dumps(about, sort_keys=True))


def _start(
    casebook: Casebook,
    plan: Plan,
    listener: Listener,
    secret: bytes,
    lock: IO[str],
    *,
    device: str,
    rehearsal: str | None,
) -> Session:
    content = {
        "plan_id": plan.id,
        "listener_id": listener.id,
        "operator": plan.document["operator"],
        "rehearsal": rehearsal,
        "device": device,
    }
    with casebook.writing():
        session = Session(casebook, plan, casebook.append("sessions", "session", content), secret, lock)
        session.mark("begun")
    return session


def _lock(folder: Path, name: str, who: str) -> IO[str]:
    """A lock that the system takes away when the process ends, however it ends.

    The lock file stays: taking it away could let two processes lock two files of the same name.
    """
    try:
        (folder / LOCKS).mkdir(exist_ok=True)
        path = folder / LOCKS / name
        lock = path.open("w")
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        raise ListenError(f"the session of {who} is running in another window; finish or stop it there") from error
    except OSError as error:
        raise ListenError(
            f"cannot lock a session in {folder / LOCKS}: {error.strerror}; check the disk and its permissions"
        ) from error
    return lock
