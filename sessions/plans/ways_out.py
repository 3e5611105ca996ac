"""What can be done about a draft that would be void, each way with its whole command; none that changes nothing."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from decimal import Decimal
from shlex import quote

from ..casebook.store import Casebook
from . import accepted_kinds, overview
from .plan import Plan, void_reasons
from .plan_parts import BALANCE_KIND

PROGRAM = "earwitness"


def of_draft(casebook: Casebook, plan: Plan) -> list[str]:
    """The ways out of a draft as it would be sealed now; none where it would not be void."""
    if not void_reasons(plan):
        return []
    lacks = next((one.lacks for one in overview.gather(casebook).plans if one.name == plan.name), ())
    return ways_out(plan, lacks)


def ways_out(plan: Plan, lacks: Collection[str]) -> list[str]:
    """The same; `lacks` is what the draft lacks of its evidence, as `overview` tells it. Pure."""
    files, name = all(setup.chain is None for setup in plan.setups), quote(plan.name)
    setups = " ".join(f"--setup {quote(setup.name)}" for setup in plan.setups)
    kinds = list(dict.fromkeys(each.kind for each in plan.open_giveaways))
    ways = []
    if _is_off(plan) or "level" in kinds:
        matches = ["match files"] if files else ["match mic --mic DEVICE:1", "match volts"]
        ways += [
            f"{'or' if number else 'to match'} again: {PROGRAM} {one} {setups}" for number, one in enumerate(matches)
        ]
    if not plan.giveaways_checked:
        look = "giveaways --mend" if files else "giveaways"
        ways.append(f"to look for giveaways{' and mend them' if files else ''}: {PROGRAM} {look} {setups}")
    if "mend" in lacks:
        ways.append(f"to mend what can be mended: {PROGRAM} giveaways --mend {setups}")
    if "polarity" in lacks:
        ways.append(f"to turn polarity round: {PROGRAM} giveaways --mend --polarity {setups}")
    found = {one.name: [each.kind for each in plan.open_giveaways if each.passage == one.name] for one in plan.passages}
    if "acceptance" in lacks and (files or accepted_kinds.to_leave_out(found)):
        ways.append(f"to {without(plan.name, found, PROGRAM)}")
    balance = plan.match.unbalanced and not plan.match.balance_accepted and BALANCE_KIND not in kinds
    if every := [*kinds, *[BALANCE_KIND] * balance]:
        accept, edit = " ".join(f"--accept {kind}=WHY" for kind in every), f"{PROGRAM} edit draft {name}"
        them = "them" if len(every) > 1 else "it"
        ways.append(
            f"to accept {them} with your reason in place of WHY{accepted_kinds.by_itself(every)}: {edit} {accept}"
        )
    ways.append(f"to seal it all the same, void: {PROGRAM} seal {name} --anyway")
    return [f"{ways[0][:1].upper()}{ways[0][1:]}", *ways[1:]]


def without(draft: str, open_kinds: Mapping[str, Collection[str]], hint: str) -> str:
    """How a draft leaves some of its passages out, as an order with its command; how it plays others if none is left.

    `open_kinds` are the kinds of giveaways by passage, of all that it plays; `hint` is how a command names the
    casebook.
    """
    edit = f"{hint} edit draft {quote(draft)}"
    poor = accepted_kinds.to_leave_out(open_kinds)
    if poor:
        kept = " ".join(f"--passage {quote(name)}" for name in open_kinds if name not in poor)
        return f"leave {' and '.join(poor)} out: {edit} {kept}"
    return (
        f"play other passages instead: {hint} passage add TRACK --from M:SS --to M:SS, and then {edit} --passage NAME"
    )


def _is_off(plan: Plan) -> bool:
    """Whether a draft's levels are not matched, or not well enough."""
    match = plan.match
    return match.sheet is None or Decimal(match.residual_lu) > Decimal(match.tolerance_lu)
