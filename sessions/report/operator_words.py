"""Who operates a plan and whether they listen too, in words that are true of who has begun. Pure."""

from __future__ import annotations

from collections.abc import Collection

from ..plans.plan import Plan


def listened(plan: Plan, begun: Collection[str]) -> bool:
    """Whether who operated it listened too; `begun` holds the listeners who began, by identifier."""
    return any(one.id in begun for one in plan.listeners if one.name == plan.operator)


def operated(plan: Plan, begun: Collection[str], *, is_open: bool) -> str:
    """Who operated it and whether they listened; before anybody began, what is meant (`is_open`) or was."""
    who, listens = plan.operator, plan.operator_listens
    if not begun:
        meant = f"{who} {'is' if is_open else 'was'} to operate it, and {'' if listens else 'not '}to listen too"
        return meant if is_open else f"{meant}: nobody began"
    if not listens or listened(plan, begun):
        return f"Operated by\n{who}, who {'also listened' if listens else 'did not listen'}"
    return f"Operated by\n{who}, who {'has not listened yet' if is_open else 'was to listen too and never began'}"
