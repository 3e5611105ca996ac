"""Plans as they would be sealed, without a casebook, and what their planned tests say of given answers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sessions.plans import planned_test
from sessions.plans.methods.method import Key
from sessions.plans.methods.table import METHODS
from sessions.plans.plan import Plan
from sessions.results.answers import Answer, SessionAnswers
from sessions.results.outcome import Outcome
from sessions.results.verdict import ANALYSES

WORDS = ("bright", "boomy", "thin", "wide", "dry", "warm", "harsh", "dull", "near", "clear")


def plan(method: str, trials: int, rule: str = planned_test.FIXED, setups: int = 0, **numbers: Any) -> Plan:
    """A plan of one passage and one listener; `numbers` are those of `planned_test.Numbers`."""
    chosen = METHODS[method].with_words(WORDS)
    setups = setups or (3 if chosen.setups[1] > 2 and not chosen.asks_words else 2)
    stated = planned_test.Numbers(
        trials, numbers.pop("alpha", "0.05"), numbers.pop("effect", chosen.usual_effect), rule=rule, **numbers
    )
    planned_test.check_numbers(chosen, stated, 1)
    document: dict[str, Any] = {
        "plan": "plan-x",
        "name": method,
        "method": method,
        "setups": [{"setup": f"setup-{n}", "name": f"setup {n}"} for n in range(setups)],
        "passages": [{"passage": "p", "name": "p"}],
        "listeners": [{"listener": "listener-a", "name": "Ada"}],
        "anchors": [{"anchor": f"low-{hz}", "name": f"anchor {hz}", "low_pass_hz": hz} for hz in chosen.anchors_hz],
        "trials": trials,
        "controls": 0,
    }
    document |= {"words": list(WORDS)} if chosen.asks_words else {}
    return Plan(document | planned_test.stated(chosen, stated, setups))


def judged(made: Plan, answers: Sequence[tuple[Key, str]]) -> Outcome:
    """What the planned test finds in one listener's answers."""
    given = tuple(
        Answer(
            trial=n, key=key, answer=answer, sureness=1, after_ms=5000, passage="p", auditions=2,
            unheard=(),
        )
        for n, (key, answer) in enumerate(answers, 1)
    )  # fmt: skip
    return ANALYSES[made.method.analysis](made, [SessionAnswers("Ada", made.trials, given)], made.trials)
