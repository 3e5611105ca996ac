"""`status`: where a casebook stands, what waits in it, and the command that comes next."""

from __future__ import annotations

from dataclasses import asdict
from shlex import quote
from typing import Any

import click

from audio import track_time

from ..casebook.store import Casebook
from ..plans import next_steps, overview, standing_words
from ..plans.next_steps import Step
from ..plans.standings import (
    GIVEN_UP,
    OVER,
    SEALED,
    UNDER_WAY,
    LeftOutStanding,
    Overview,
    PassageStanding,
    PlanStanding,
    SetupStanding,
    ViewersStanding,
)
from .context import Context, counted, fits, give, json_option, say, table
from .times import clock

MOST_LACKING = 3
USUAL_HZ = 48_000  # nearly all devices take it: to ask takes as long as all else that status does


@click.command()
@json_option
@click.pass_obj
def status(context: Context, as_json: bool) -> None:
    """Say where this casebook stands: setups, passages, plans, what waits, and the next command.

    Nothing of a result is shown before a plan's end.
    """
    with context.open() as casebook:
        tell(casebook, context.hint, as_json)


def tell(casebook: Casebook, hint: str, as_json: bool) -> None:
    """Where a casebook stands, on paper or as one document."""
    stands = overview.gather(casebook)
    steps = [*_refused_by_device(stands), *next_steps.waiting(stands)]
    if as_json:
        give(asdict(stands) | {"waiting": [_document(step, hint) for step in steps], "next": steps[0].command(hint)})
        return
    say(f"Casebook {stands.folder}")
    _section("Setups", [_setup_line(setup) for setup in stands.setups])
    _section("Passages", passage_lines(stands.passages))
    _section("Plans", [line for plan in stands.plans for line in plan_lines(plan)])
    _section("For viewers", [line for one in stands.viewers for line in _viewers_lines(one)])
    _section("Words", _word_lines(stands))
    left_out = [_left_out_line(one) for one in stands.left_out]
    _section("Left out", [*left_out, *_explained(left_out)])
    unlike = [f"{one.track}: {one.why}; as laid: earwitness track align {quote(one.track)}" for one in stands.unlike]
    _section("Not played", [*_not_played(stands, hint), *unlike, *_explained(unlike if not left_out else [])])
    _section("Waiting", [f"{step.what}: {step.command(hint)}" for step in steps[1:]])
    say(f"\nNext, {steps[0].what}:\n  {steps[0].command(hint)}")


def _refused_by_device(stands: Overview) -> list[Step]:
    """What comes first where sealed plans wait at a rate that not every device takes, and the one here does not."""
    asked = [one for one in stands.plans if one.state in (SEALED, UNDER_WAY) and one.rate_hz not in (0, USUAL_HZ)]
    if not asked:
        return []
    from . import asked_device  # it loads what plays: only where it is needed

    return [step for plan in asked if (step := asked_device.refused_step(plan)) is not None]


def _word_lines(stands: Overview) -> list[str]:
    """How many words were said how, how many corrected, and how long was listened freely."""
    said = [f"{number} {label}" for label, number in stands.words.items() if number]
    if stands.words_apart:
        said.append(f"{stands.words_apart} of them in a control trial or one of a known difference, so of no setup")
    heard = [f"{one.listener}, {one.setup}: {track_time.for_how_long(one.heard_s)}" for one in stands.heard_freely]
    corrected = filter(None, [stands.corrected.in_words])
    return [*([", ".join(said)] if said else []), *corrected, *([f"heard freely: {'; '.join(heard)}"] if heard else [])]


def setup_lines(stands: Overview) -> list[str]:
    """The setups as a table: note, what each plays and what it lacks."""
    if not stands.setups:
        return []
    rows = [
        [
            setup.name,
            setup.note,
            setup.plays,
            ", ".join([*_file_faults(setup), *filter(None, [_lacking(setup)])]),
        ]
        for setup in stands.setups
    ]
    return table(["name", "note", "plays", "lacks"], rows).split("\n")


def _setup_line(setup: SetupStanding) -> str:
    gone = "".join(f"; {fault}" for fault in _file_faults(setup))
    lacks = f"; lacks {_lacking(setup)}" if setup.lacks else ""
    facts = counted(setup.facts, "fact") + " of its maker"
    measured = [*([counted(setup.curves, "curve")] if setup.curves else []), *([facts] if setup.facts else [])]
    return f"{setup.name}: {', '.join([setup.plays, _of_tracks(setup), *measured])}{gone}{lacks}"


def passage_lines(passages: tuple[PassageStanding, ...]) -> list[str]:
    """The passages, each with its place in the music and its evidence; where rows are too long, notes stand below."""
    if not passages:
        return []
    rows = [
        [
            one.name,
            one.track,
            clock(one.start_s),
            clock(one.start_s + one.length_s),
            standing_words.match_words(one),
            standing_words.check_words(one),
            one.note,
        ]
        for one in passages
    ]
    headings = ["name", "track", "from", "to", "match", "giveaways", "note"]
    noted = any(one.note for one in passages)
    below = noted and not fits(headings, rows)
    shown = len(headings) if noted and not below else len(headings) - 1
    own = [f"{one.name}: {one.note}" for one in passages if one.note] if below else []
    notes = [f"note  {note}" for one in passages for note in one.notes]
    return [*table(headings[:shown], [row[:shown] for row in rows]).split("\n"), *notes, *own]


def _viewers_lines(one: ViewersStanding) -> list[str]:
    """A test for viewers: its form, whether answers are awaited and by what they come back, and its seal."""
    back = "collect" if one.form == "page" else "poll"
    awaited = f"answers awaited; when they are in: earwitness viewers {back} {quote(one.plan)} FILE"
    return [
        f"{one.form} of {one.plan}: {'over' if one.over else awaited}",
        f"  sealed {one.sealed}, {standing_words.published(one.published)}",
        f"  {one.seal}",
    ]


def _not_played(stands: Overview, hint: str) -> list[str]:
    """The tracks of which no plan plays anything, or no passage is, and how to have one."""
    steps = [(one.track, next_steps.of_its_own(stands, one)) for one in stands.unplanned if not one.track_played]
    own = [f"{track}: {step.what}: {step.command(hint)}" for track, step in steps]
    tracks = stands.without_passage
    if not tracks:
        return own
    them, one = ("it", "one") if len(tracks) == 1 else ("them", "one of each")
    suggest = f"{hint} passage suggest {' '.join(map(quote, tracks))} --add"
    return [f"{', '.join(tracks)}: no passage is of {them}; to have {one}: {suggest}", *own]


def _left_out_line(one: LeftOutStanding) -> str:
    """A track that is not in a comparison: why, and what to type once that is mended."""
    told = " ".join(words for words in one.why.split() if words)
    to_type = "" if one.again in told or ": earwitness " in told else f"; to look at it again: {one.again}"
    return f"{standing_words.left_out(one)}: {told}{to_type}"


def _explained(lines: list[str]) -> list[str]:
    """What a number that some lines name means."""
    if not any("coherence" in line for line in lines):
        return []
    from .lags import COHERENCE  # it loads arithmetic: only where it is needed

    return [COHERENCE]


def plan_lines(plan: PlanStanding) -> list[str]:
    """A plan: method and setups, how far its listeners are, and its seal on a line of its own."""
    why = f" ({plan.why})" if plan.state == GIVEN_UP else ""
    lines = [f"{plan.name}: {plan.method}, {standing_words.compared(plan.setups)}; {plan.state}{why}"]
    if plan.state not in (OVER, GIVEN_UP):
        lines += [f"  {standing_words.progress_words(one)}" for one in plan.listeners]
    if plan.seal:
        lines += [f"  sealed {plan.at}, {standing_words.published(plan.published)}", f"  {plan.seal}"]
    if plan.missing_audio:
        lines.append(f"  {plan.missing_audio} of {plan.audio} prepared files are missing")
    return lines


def _of_tracks(setup: SetupStanding) -> str:
    return f"{len(setup.tracks)} of {counted(len(setup.tracks) + len(setup.lacks), 'track')}"


def _lacking(setup: SetupStanding) -> str:
    return ", ".join([*setup.lacks[:MOST_LACKING], *(["…"] if len(setup.lacks) > MOST_LACKING else [])])


def _file_faults(setup: SetupStanding) -> list[str]:
    faults = (
        (setup.missing_files, "moved or gone"),
        (setup.changed_files, "changed"),
        (setup.unread_files, f"written since {'it was' if len(setup.unread_files) == 1 else 'they were'} added"),
    )
    return [f"{counted(len(files), 'file')} {what}" for files, what in faults if files]


def _section(heading: str, lines: list[str]) -> None:
    if lines:
        say(f"\n{heading}")
        for line in lines:
            say(f"  {line}")


def _document(step: Step, hint: str) -> dict[str, Any]:
    return {"what": step.what, "command": step.command(hint)}


COMMANDS = {"status": status}
