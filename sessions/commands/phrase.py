"""`phrase`: the words from outside that a plan's order follows from too."""

from __future__ import annotations

import click

from .context import Context, give, json_option, say


@click.command()
@click.argument("plan")
@click.argument("words")
@json_option
@click.pass_obj
def phrase(context: Context, plan: str, words: str, as_json: bool) -> None:
    """Give PLAN the WORDS it awaits: chosen by somebody else, after its seal was published."""
    from ..plans import coin_phrase, seals

    with context.open() as casebook:
        sealed = seals.sealed_plan(casebook, plan)
        given = seals.give_phrase(casebook, plan, words)
    if as_json:
        give({"plan": sealed.plan.name, "phrase": given.text, "at": given.at})
    say(coin_phrase.how_drawn(sealed.plan, given), as_json)
    say(f"Listen: {context.hint} listen {sealed.plan.name}", as_json)


COMMANDS = {"phrase": phrase}
