"""`edit`: change what is not sealed: notes, routes, delays and switches, where a passage lies, what a draft asks."""

from __future__ import annotations

import shlex
import sys
from dataclasses import replace
from typing import Any

import click

from ..casebook import catalogue, playback_chain
from ..casebook.catalogue import Listener, Passage, Setup, Track
from ..casebook.playback_chain import OutsideSwitch, PlaybackChain, SwitchWish
from ..errors import CatalogueError, PlanError
from ..plans import catalogue_edits, dependents
from ..plans.plan import void_reasons
from .command_group import CommandGroup
from .context import Context, give, json_option, say
from .number_types import NUMBER, WHOLE, WholeRange
from .remove import agreed, yes_option
from .times import TIME, clock

NOTHING = "nothing to change was given; see the options with --help"


@click.group(cls=CommandGroup)
def edit() -> None:
    """Change a setup, track, passage, listener or draft that nothing sealed rests on."""


@edit.command("setup")
@click.argument("name")
@click.option("--note", help="What it is.")
@click.option("--route", metavar="DEVICE:1,2", help="The device and the channels it plays on.")
@click.option("--delay", "delay_ms", type=NUMBER, help="Play it so many ms late, for its distance; 0 takes it away.")
@click.option("--switched", type=click.Choice(playback_chain.HOWS), help="What works its outside switch.")
@click.option("--do", "action", metavar="TEXT", help="The command, the bytes in hex, or the instruction.")
@click.option("--park", metavar="TEXT", help="The same for the neutral position between; '' takes it away.")
@click.option("--silent-switch/--audible-switch", "silent", default=None, help="Whether the switch makes a sound.")
@click.option("--hold", type=TIME, metavar="S", help="Silence at every switch.")
@click.option("--settle", type=TIME, metavar="S", help="Of it, after the switch.")
@click.option("--port", help="Serial: the port, like /dev/ttyUSB0.")
@click.option("--baud", type=WholeRange(300, 4_000_000), help="Serial: its speed.")
@click.option("--reply", metavar="HEX", help="Serial: the bytes that confirm.")
@yes_option
@json_option
@click.pass_obj
def edit_setup(context: Context, /, name: str, note: str | None, yes: bool, as_json: bool, **gear: Any) -> None:
    """Change a setup's note, or (of real gear) its route, delay and switch; levels are matched again after that."""
    given = {option: value for option, value in gear.items() if value is not None}
    with context.open() as casebook:
        own = catalogue.find(casebook, Setup, name)
        chain = _rechained(catalogue_edits.check_chain_editable(casebook, own), given) if given else None
        _check_given(note, chain)
        if chain is not None:
            outdated = dependents.evidence_of(casebook, {own.id}, None)
            if not agreed(f"Change how {own.name!r} plays?", outdated, yes, as_json):
                _leave(as_json)
        with casebook.writing():
            if note is not None:
                catalogue_edits.note(casebook, own, note)
            if chain is not None:
                catalogue_edits.rechain(casebook, own, chain)
        now = catalogue.find(casebook, Setup, own.id)
    plays = playback_chain.described(now.chain)
    _tell({"setup": now.name, "note": now.note, "plays": plays}, f"Setup {now.name!r}: {plays}", now.note, as_json)


@edit.command("passage")
@click.argument("name")
@click.option("--from", "start_s", type=TIME, metavar="M:SS.S", help="Its start in the track.")
@click.option("--to", "end_s", type=TIME, metavar="M:SS.S", help="Its end in the track.")
@click.option("--note", help="What to listen for.")
@yes_option
@json_option
@click.pass_obj
def edit_passage(
    context: Context, name: str, start_s: float | None, end_s: float | None, note: str | None, yes: bool, as_json: bool
) -> None:
    """Change a passage's note, or where it begins and ends; it is matched and checked again after that."""
    from ..casebook import passages

    _check_given(start_s, end_s, note)
    with context.open() as casebook:
        own = catalogue.find(casebook, Passage, name)
        if start_s is None and end_s is None:
            catalogue_edits.note(casebook, own, note or "")
        else:
            found = dependents.of_passage(casebook, own)
            start = own.start_frame if start_s is None else round(start_s * own.rate_hz)
            end = own.start_frame + own.frames if end_s is None else round(end_s * own.rate_hz)
            if end <= start:
                raise CatalogueError(
                    f"a passage ends after it starts; got {clock(start / own.rate_hz)} to {clock(end / own.rate_hz)}"
                )
            track = catalogue.find(casebook, Track, own.track_id)
            text = own.note if note is None else note
            cut = passages.new(casebook, track, start, end - start, own.rate_hz, own.name, text)
            if not agreed(f"Move passage {own.name!r}?", list(found.named), yes, as_json):
                _leave(as_json)
            catalogue_edits.recut(casebook, own, cut)
        now = catalogue.find(casebook, Passage, own.name)
    start_s, length_s = now.start_frame / now.rate_hz, now.frames / now.rate_hz
    place = f"{clock(start_s)} to {clock(start_s + length_s)}"
    document = {"passage": now.name, "note": now.note, "start_s": start_s, "length_s": length_s}
    _tell(document, f"Passage {now.name!r}: {place}", now.note, as_json)


def _add_note(kind: type[Any]) -> None:
    what = kind.__name__.lower()

    @edit.command(what, help=f"Change a {what}'s note.")
    @click.argument("name")
    @click.option("--note", required=True, help="Anything worth knowing.")
    @json_option
    @click.pass_obj
    def edit_note(context: Context, name: str, note: str, as_json: bool) -> None:
        with context.open() as casebook:
            own = catalogue.find(casebook, kind, name)
            catalogue_edits.note(casebook, own, note)
        _tell({what: own.name, "note": note}, f"{what.capitalize()} {own.name!r}", note, as_json)


for _kind in (Track, Listener):
    _add_note(_kind)


@edit.command("draft")
@click.argument("name")
@click.option("--setup", "setups", multiple=True, help="The setups, in order (repeat), in place of those it had.")
@click.option("--passage", "passages", multiple=True, help="The passages (repeat), in place of those it had.")
@click.option("--add-passage", "added", multiple=True, help="A passage (repeat), beside those it has.")
@click.option("--all-passages", is_flag=True, help="All passages there are.")
@click.option("--listener", "listeners", multiple=True, help="Who listens (repeat), in place of those it had.")
@click.option("--trials", type=WHOLE, help="Trials for each listener.")
@click.option("--alpha", help="The error rate accepted.")
@click.option("--question", help="What the listener is asked.")
@click.option("--operator", help="Who runs the session.")
@click.option("--accept", "accepted", multiple=True, metavar="KIND=WHY", help="A giveaway accepted, and why (repeat).")
@click.option(
    "--word", "words", multiple=True, metavar="W", help="A ballot's words (repeat), in place of those it had."
)
@click.option("--words", "word_file", metavar="FILE|a,b,c", help="All of them: a file, or with commas between them.")
@click.option("--exploratory/--primary", "exploratory", default=None, help="Whether it is a primary question.")
@json_option
@click.pass_obj
def edit_draft(
    context: Context,
    /,
    name: str,
    added: tuple[str, ...],
    all_passages: bool,
    word_file: str | None,
    as_json: bool,
    **asked: Any,
) -> None:
    """Change what a draft asks. Whatever else (method, stopping, controls) is a new plan: remove draft, then plan."""
    from ..plans import check_notes, draft_warnings, drafting, planned_test, ways_out
    from ..plans.methods.table import METHODS
    from . import word_list
    from .before_seal import tell_further
    from .plan import acceptance, show_plan

    if sum(map(bool, (asked["passages"], added, all_passages))) > 1:
        raise PlanError("--passage, --add-passage and --all-passages say different things; give one of them")
    if word_file is not None:
        asked["words"] = (*asked["words"], *word_list.listed(word_file))
    changes = {part: value for part, value in asked.items() if value is not None and value != ()}
    changes |= {"passages": ()} if all_passages else {}
    _check_given(changes or added or None)
    if "alpha" in changes:
        planned_test.check_decimal("alpha", changes["alpha"])
    with context.open() as casebook:
        draft = catalogue_edits.unsealed(casebook, name)
        if "words" in changes and not METHODS[draft.wish.method].asks_words:
            raise PlanError(f"draft {name!r} is no ballot of words ({draft.wish.method}); leave its words out")
        if "accepted" in changes:
            given = dict(map(acceptance, changes["accepted"]))
            changes["accepted"] = tuple((dict(draft.wish.accepted) | given).items())
        if added:
            changes["passages"] = catalogue_edits.passages_with(casebook, draft, added)
        made = drafting.redraft(casebook, draft, replace(draft.wish, **changes))
        notes = [*check_notes.sentences(casebook, made), *draft_warnings.warnings(casebook, made)]
        ways = ways_out.of_draft(casebook, made)
    if as_json:
        give(dict(made.document) | {"would_be_void": void_reasons(made), "warnings": notes})
        return
    show_plan(made)
    for note in notes:
        say(f"  {note}")
    tell_further(made, context.hint, ways)


def _rechained(before: PlaybackChain, given: dict[str, Any]) -> PlaybackChain:
    """A chain with some of its options given anew."""
    route = given.get("route", before.route.text)
    delay_ms = given.get("delay_ms", before.delay_us / 1000)
    how = given.get("switched", before.switch.how if before.switch else None)
    of_switch = {"action", "park", "silent", "hold", "settle", "port", "baud", "reply"} & given.keys()
    if how is None:
        if of_switch:
            raise CatalogueError(
                f"these options belong to an outside switch; add --switched {' | '.join(playback_chain.HOWS)}"
            )
        return playback_chain.routed(route, delay_ms)
    wish = SwitchWish(how) if before.switch is None or before.switch.how != how else _wish_of(before.switch)
    times = {"hold": "hold_ms", "settle": "settle_ms"}
    changed = {times.get(part, part): round(1000 * given[part]) if part in times else given[part] for part in of_switch}
    return playback_chain.switched(route, replace(wish, **changed), delay_ms)


def _wish_of(switch: OutsideSwitch) -> SwitchWish:
    """What would have to be said to get this switch."""

    def said(words: tuple[str, ...]) -> str:
        return shlex.join(words) if switch.how == "command" else " ".join(words)

    return SwitchWish(
        switch.how,
        said(switch.action),
        said(switch.park),
        switch.port,
        switch.baud or SwitchWish(switch.how).baud,
        switch.reply,
        switch.silent,
        switch.hold_ms,
        switch.settle_ms,
    )


def _check_given(*values: object) -> None:
    if all(value is None for value in values):
        raise CatalogueError(NOTHING)


def _leave(as_json: bool) -> None:
    say("Nothing was changed.", as_json)
    sys.exit(1)


def _tell(document: dict[str, Any], sentence: str, note: str, as_json: bool) -> None:
    if as_json:
        give(document)
    say(sentence + (f" ({note})." if note else "."), as_json)


COMMANDS = {"edit": edit}
