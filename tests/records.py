"""Records as a casebook would give them, built without one: any plan, any answers, closed or whole."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from sessions.plans import planned_test, randomisation, trial_keys
from sessions.plans.methods.counted import CountedMethod
from sessions.plans.methods.graded import GradedMethod, answer_of
from sessions.plans.methods.method import TIE, Key
from sessions.plans.methods.table import METHODS
from sessions.plans.methods.word_ballot import WordBallot
from sessions.plans.plan import Plan
from sessions.plans.planned_test import Numbers
from sessions.results.plan_record import Audition, PlanRecord, Session, Trial, Turn

SECRET = bytes(range(32))
NAMES = ("Ada", "Bo", "Cy", "Di")
WORDS = ("bright", "boomy", "thin", "wide")
AT = "2026-01-01T20:00:00.000Z"

RIGHT, WRONG, NEITHER = "right", "wrong", "neither"
"""An answer as a test names it: right (or for the first setup), wrong (or for the second), a tie or equal grades."""


def plan(
    method: str,
    trials: int,
    *,
    listeners: int = 1,
    passages: int = 2,
    controls: int = 0,
    name: str = "evening",
    stated: Mapping[str, Any] | None = None,
    **numbers: Any,
) -> Plan:
    """A plan as it would be sealed, matched and checked; `numbers` are those of `planned_test.Numbers`.

    `stated` is what its document says otherwise.
    """
    chosen = METHODS[method].with_words(WORDS)
    setups = 3 if chosen.setups[1] > 2 and not chosen.asks_words else 2
    asked = Numbers(trials * listeners, numbers.pop("alpha", "0.05"), numbers.pop("effect", chosen.usual_effect),
                    **numbers)  # fmt: skip
    planned_test.check_numbers(chosen, asked, listeners)
    document: dict[str, Any] = {
        "plan": f"plan-{name}",
        "name": name,
        "method": method,
        "question": chosen.default_question,
        "operator": "Ada",
        "operator_listens": True,
        "setups": [{"setup": f"setup-{n}", "name": ("sallow", "bracken", "willow")[n]} for n in range(setups)],
        "passages": [
            {"passage": f"p{n}", "name": f"strings {n + 1}", "track": "t", "rate_hz": 48_000, "frames": 96_000,
             "cut": {"start_frame": 0, "rate_hz": 48_000}, "audio": {}}
            for n in range(passages)
        ],
        "listeners": [{"listener": f"listener-{n}", "name": NAMES[n]} for n in range(listeners)],
        "anchors": [
            {"anchor": f"low-{hz}", "name": f"anchor {hz / 1000:g} kHz", "low_pass_hz": hz} for hz in chosen.anchors_hz
        ],
        "match": {"sheet": "0" * 64, "by": "bs1770", "residual_lu": "0.0100", "tolerance_lu": "0.1"},
        "giveaways": {"check": "0" * 64, "accepted": [], "open": []},
        "trials": trials,
        "controls": controls,
    }  # fmt: skip
    document |= {"words": list(WORDS)} if chosen.asks_words else {}
    return Plan(document | planned_test.stated(chosen, asked, setups) | dict(stated or {}))


def record(
    made: Plan,
    answers: Sequence[Sequence[str] | None],
    *,
    controls: bool = True,
    known: Sequence[str] | None = None,
    over: bool = True,
    rehearsal: bool = False,
) -> PlanRecord:
    """The record of a plan.

    Parameters
    ----------
    answers
        For each listener their answers to the trials that count, in order; None: they never began.
    controls
        Whether the controls among those trials (all of them, where nothing that counts was answered) were answered.
    known
        Each listener's answers to the trials of a known difference among those, in order; None: all right. Where there
        are fewer, the last ones were not answered.
    over
        Whether the plan was opened: closed early, or complete.
    """
    sessions = tuple(
        _session(made, place, own, known, controls=controls) for place, own in enumerate(answers) if own is not None
    )
    complete = len(sessions) == len(made.listeners) and all(one.answered == made.slots for one in sessions)
    return PlanRecord(
        plan=made,
        seal=randomisation.seal(SECRET, made.text),
        sealed_at=AT,
        secret=SECRET.hex() if over else None,
        opened_at=AT if over else None,
        ended=None if not over else "all sessions complete" if complete else "closed early: a test",
        rehearsal=rehearsal,
        sessions=sessions,
    )


def answer(made: Plan, key: Key, how: str) -> str:
    """What is answered to a trial of this key."""
    method = made.method
    if isinstance(method, GradedMethod):
        return answer_of(_grades(made, method, key, how))
    if isinstance(method, WordBallot):
        first, second = method.words[:2] if how == RIGHT else method.words[1::-1]
        said = {label: (first if key[label] == 0 else second,) for label in method.needed}
        return method.answer_of({} if how == NEITHER else said)
    if isinstance(method, CountedMethod):
        if how == NEITHER:
            return TIE
        choices = [one for one in method.answers if one != TIE]
        return next(one for one in choices if method.score(key, one) == (how == RIGHT))
    ordered = sorted(method.answers, key=lambda label: key[label])
    return ordered[0 if how == RIGHT else 1]


def _session(made: Plan, place: int, answers: Sequence[str], known: Sequence[str] | None, *, controls: bool) -> Session:
    listener, trials, left = f"listener-{place}", [], list(answers)
    of_known = list(known) if known is not None else [RIGHT] * (made.known.trials if made.known else 0)
    for number in range(1, made.slots + 1):
        key = trial_keys.key(made, SECRET, listener, number, 1)
        passage = made.passages[trial_keys.passage_index(SECRET, listener, number, len(made.passages))]
        said: str | None = None
        if made.is_control(key):
            if not controls:
                break
            said = answer(made, key, RIGHT) if not made.method.answers else next(iter(made.method.answers))
        elif made.is_known(key):
            if not of_known:
                continue
            said = answer(made, key, of_known.pop(0))
        elif left:
            said = answer(made, key, left.pop(0))
        elif answers or not controls:
            break
        else:
            continue  # controls alone were answered
        heard = tuple(Audition(label, 0, 48_000) for label in made.method.needed)
        trials.append(
            Trial(number, 1, passage.id, passage.name, key, said, 1 + number % 4, 4000 + 10 * number, 0, AT, heard)
        )
    assert not left, "more answers than trials"
    turns = [Turn(AT, "begun", "")]
    if len(trials) == made.slots:
        turns.append(Turn(AT, "complete", ""))
    return Session(
        session=f"session-{place}", listener=listener, listener_name=made.listeners[place].name, operator="Ada",
        device="none", rehearsal=None, begun_at=AT, marks=tuple(turns), answered=len(trials), faults=0,
        trials=tuple(trials),
    )  # fmt: skip


def _grades(made: Plan, method: GradedMethod, key: Key, how: str) -> dict[str, Decimal]:
    """The reference found, taken for another, or nothing told apart; anchors are heard as what they are."""
    top, low = method.scale.high, method.scale.high - (method.scale.high - method.scale.low) * Decimal("0.4")
    anchor = method.scale.low + (method.scale.high - method.scale.low) * Decimal("0.2")
    given = {}
    for label in method.graded:
        place = key[label]
        worse = {RIGHT: place != 0, WRONG: place == 0, NEITHER: False}[how]
        is_anchor = len(made.setups) <= place < len(made.setups) + len(made.anchors)
        given[label] = anchor if is_anchor else low if worse else top
    if set(key.values()) == {0} and how != NEITHER:
        given = dict.fromkeys(given, top)
    return given
