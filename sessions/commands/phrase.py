"""`phrase`: the words from outside that a plan's order follows from too."""

from __future__ import annotations

import click

from .context import Context, give, json_option, say
from .seal import tell_listen

UNPUBLISHED = (
    "Nobody has noted that its seal was published: words are only worth something if it was published before them, and "
    "if somebody else chose them."
)


@click.command()
@click.argument("plan")
@click.argument("words")
@json_option
@click.pass_obj
def phrase(context: Context, plan: str, words: str, as_json: bool) -> None:
    """Give PLAN the WORDS it awaits: chosen by somebody else, after its seal was published."""
    from ..plans import coin_phrase, seals
    from ..results import publishing

    with context.open() as casebook:
        sealed = seals.sealed_plan(casebook, plan)
        given = seals.give_phrase(casebook, plan, words)
        published = publishing.of_seal(casebook, sealed.seal)
    if as_json:
        give({"plan": sealed.plan.name, "phrase": given.text, "at": given.at})
    say(coin_phrase.how_drawn(sealed.plan, given), as_json)
    if not published:
        say(UNPUBLISHED, as_json)
    tell_listen(sealed.plan, context.hint, as_json)


COMMANDS = {"phrase": phrase}
