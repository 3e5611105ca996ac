"""What is to be known of a plan that would be sealed now beside others: those before it, and those that share alpha."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ..casebook import session_rows
from ..casebook.store import Casebook
from . import plan_rows
from .order_of_sealing import Course, stages
from .plan import Plan, void_reasons
from .plan_rows import SealedPlan

MOST_NAMED = 3


@dataclass(frozen=True)
class WordsInVain:
    """Words that cannot hold once a plan is sealed now, with what helps: its own, and those of ballots before it.

    Of either nothing is said where there are none. More trials of the plan help its own words alone.
    """

    own: str = ""
    others: str = ""

    @property
    def said(self) -> list[str]:
        """Both, in sentences."""
        return [one for one in (self.own, self.others) if one]


@dataclass(frozen=True)
class Beside:
    """What is to be known of a plan that would be sealed now.

    `begun` says that others were begun before that are judged with it; empty where none was. Words can be in vain then
    too, among those that were sealed since.
    """

    begun: str
    in_vain: WordsInVain

    @property
    def said(self) -> list[str]:
        """All of it in sentences."""
        return [*([self.begun] if self.begun else []), *self.in_vain.said]


def place_among_others(casebook: Casebook, plan: Plan) -> Beside:
    """Where a plan that is sealed now would stand among the others.

    Plans on the same question share alpha, and so do primary questions; each are a family of their own.
    """
    sealed = [one for one in plan_rows.every_sealed(casebook) if not void_reasons(one.plan)]
    own, sisters = Course(sealed=casebook.head()["head_seq"] + 1), {one.id for one in plan.earlier}
    asked, same = _around(casebook, [one for one in sealed if one.plan.id in sisters], own)
    questions, primary = _around(casebook, [one for one in sealed if plan.primary and one.plan.primary], own)
    return Beside(_begun(asked, questions), _words_in_vain(plan, same, primary))


def _begun(asked: list[str], questions: list[str]) -> str:
    """That plans on the same question, or primary questions, were begun before."""
    if asked:
        return (
            f"This question was begun before: sealed now, the plan can be heard only where {_named(asked)} "
            f"{'is' if len(asked) == 1 else 'are'}. Plans that are sealed before any of them is begun share alpha "
            "instead."
        )
    if questions:
        return (
            "Primary questions were begun before: sealed now, this one holds among them only where "
            f"{_named(questions)} {'does' if len(questions) == 1 else 'do'}. Seal a review's questions before the "
            "first is begun, or plan this one --exploratory."
        )
    return ""


def _words_in_vain(plan: Plan, same: Sequence[Plan], primary: Sequence[Plan]) -> WordsInVain:
    """That words cannot hold: a plan's own, or those of ballots with which it would share alpha."""
    least = _least_p(plan)
    counts = 1 + max(len(same), len(primary))
    in_vain = WordsInVain()
    if least <= plan.alpha < least * counts:
        trials = plan.document["trials"] * len(plan.listeners)
        others = "other plan that shares" if counts == 2 else f"{counts - 1} other plans that share"
        helps = "More trials, or fewer words"
        if least * (1 + len(same)) <= plan.alpha:
            helps = "More trials, fewer words, or --exploratory"
        own_words = (
            f"Beside the {others} alpha with it no word can hold, whatever is ticked: the least p of {trials} trials "
            f"is {least:.4f}, and it counts {counts} times. {helps}."
        )
        in_vain = WordsInVain(own_words)
    in_same, in_primary = _lost(same), _lost(primary)
    lost = list(dict.fromkeys([*in_same, *in_primary]))
    if not lost:
        return in_vain
    they = _named(lost)
    helps = "Planned --exploratory it takes nothing from them"
    if in_same:
        helps = (
            f"Sealed once {they} {'is' if len(lost) == 1 else 'are'} begun it takes nothing from them, and can hold "
        )
        helps += "only where they do"
    others = (
        f"Once this plan is sealed too, no word of {they} can hold any more, whatever is ticked there: all of them "
        f"share alpha. {helps}."
    )
    return replace(in_vain, others=others)


def _lost(family: Sequence[Plan]) -> list[str]:
    """The ballots of a family that could hold with one fewer in it, and cannot once one more is sealed."""
    counts = len(family)
    return [one.name for one in family if _least_p(one) * counts <= one.alpha < _least_p(one) * (counts + 1)]


def _around(casebook: Casebook, family: Sequence[SealedPlan], own: Course) -> tuple[list[str], list[Plan]]:
    """Of a family the plans (by name) in stages before that of one sealed now, and those that share its stage."""
    *before, stage = stages([*(_course(casebook, one) for one in family), own])
    earlier = [family[place].plan.name for one in before for place in one]
    return earlier, [family[place].plan for place in stage if place < len(family)]


def _least_p(plan: Plan) -> float:
    """The least p that a word of a ballot can have, corrected over its words; 0 where no words are asked for."""
    if not plan.method.asks_words:
        return 0.0
    from stats.many_setups_power import least_p

    trials = plan.document["trials"] * len(plan.listeners)
    return len(plan.ballot.words) * least_p(len(plan.setups), trials, rated="rating" in plan.document)


def _named(plans: list[str]) -> str:
    return ", ".join(plans[:MOST_NAMED]) + (f" and {len(plans) - MOST_NAMED} more" if len(plans) > MOST_NAMED else "")


def _course(casebook: Casebook, one: SealedPlan) -> Course:
    opening = plan_rows.opening(casebook, one.plan.id)
    return Course(one.row, session_rows.first_row(casebook, one.plan.id), opening.row if opening else None)
