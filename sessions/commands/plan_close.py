"""`plan close`: end a plan for good before its trials are over, once that is agreed to."""

from __future__ import annotations

import sys
from shlex import quote

import click

from ..casebook import session_ends
from ..casebook.store import Casebook
from ..plans import overview, seals, second_hand, standing_words
from ..results import end_sentences
from . import filmed_code, second_hand_prompt
from .context import Context, give, json_option, say
from .remove import agreed, yes_option


@click.command("close")
@click.argument("name")
@click.option("--why", default="", help="The reason, for the record.")
@click.option("--lost-secret", "lost", is_flag=True, help="A secret of it is lost: give it up without opening it.")
@yes_option
@json_option
@click.pass_obj
def close(context: Context, name: str, why: str, lost: bool, yes: bool, as_json: bool) -> None:
    """Close a plan for good before its end; where answers are counted, its verdict is the worst that its missing trials
    could have made of it. A ballot of words, grades and a round robin are undecided then.

    It is asked first; where nobody can be asked, --yes does it.
    """
    if lost:
        with context.open() as casebook:
            seals.give_up(casebook, name, why)
        if as_json:
            give({"plan": name, "given_up": why})
        say(
            f"Plan {name!r} is given up, and stays sealed: nothing of it can be told. That it is, and why, is on "
            f"record: {context.hint} verdict {quote(name)}",
            as_json,
        )
        return
    with context.open() as casebook:
        sealed = seals.closable(casebook, name, why)
        if not _closing_agreed(casebook, sealed.plan.name, yes, as_json):
            say("Not closed.", as_json)
            sys.exit(1)
        second = second_hand_prompt.ask(sealed, as_json) if second_hand.is_held(sealed.plan) else None
        opening = seals.close(casebook, name, why, second)
        shown = session_ends.of_plan(casebook, sealed.plan.id)[-1]
    if as_json:
        give({"plan": name, "closed": opening.why, "end": str(shown.end.code)})
    else:
        filmed_code.tell(end_sentences.shown(shown), str(shown.end.code), end_sentences.to_type(shown))
    say(f"Plan {name!r} is closed. Its result: {context.hint} verdict {quote(name)}", as_json)


def _closing_agreed(casebook: Casebook, name: str, yes: bool, as_json: bool) -> bool:
    """Whether a plan is to be closed, after it was named what is given up with it."""
    standing = next(one for one in overview.gather(casebook).plans if one.name == name)
    waits = [standing_words.progress_words(one) for one in standing.listeners if not one.complete]
    key = "the trials that wait; its key is told, so that none of them can be heard any more"
    return agreed(f"Close plan {name!r} for good?", [key, *waits], yes, as_json)
