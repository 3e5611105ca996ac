"""`crosscheck`: the words for two setups beside the measured difference."""

from __future__ import annotations

from dataclasses import replace
from math import isinf
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ..casebook import catalogue, documents, threshold_rows
from ..casebook.catalogue import Listener, Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from .context import Context, give, json_option, say, table
from .drawn_figure import draw, drawing_options

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audio.curves.picture import Look

    from ..measured.curve_comparison import CurveComparison
    from ..measured.word_thresholds import AudibleFrom
    from ..results.ballots_over import LeftOut
    from ..results.crosscheck import Crosschecked, OwnThreshold, WordOfTwo


EXPLAINED = (
    "Each word stands over the band that is stated for it, a hypothesis. Whole bar: measured; broken: not, or it "
    "cannot be told. Said, not heard blind, unless it says so."
)


@click.command()
@click.argument("first")
@click.argument("second")
@drawing_options
@json_option
@click.pass_obj
def crosscheck(
    context: Context,
    first: str,
    second: str,
    *,
    out: Path | None,
    size: str,
    dark: bool,
    transparent: bool,
    as_json: bool,
) -> None:
    """Set the words for FIRST and SECOND beside what was measured of them, on axis.

    A word's band is a hypothesis with its source. Heard is only what a blind ballot showed (plan words); all else is
    said. From where on a difference counts is what the listeners themselves notice, where they looked for it (threshold
    find), and else what is published; which one is said. No cause is claimed.
    """
    from audio.curves.picture import Look

    from ..measured import word_thresholds
    from ..measured.band_effect import band_effects
    from ..measured.beside_words import beside_words
    from ..measured.curve_comparison import compare_setups
    from ..results import crosscheck as judged
    from ..results import words_of_two
    from ..words import lexicon_rows

    with context.open() as casebook:
        setups = [catalogue.find(casebook, Setup, name) for name in (first, second)]
        if setups[0].id == setups[1].id:
            raise CatalogueError(f"{first!r} and {second!r} are one setup; name two")
        lexicon = lexicon_rows.in_force(casebook)
        ballots = words_of_two.of_ballots(casebook, setups, lexicon)
        words = ballots.words + words_of_two.said_of(casebook, setups, lexicon)
        compared = compare_setups(casebook, *setups)
        names = (setups[0].name, setups[1].name)
        effects = band_effects(casebook, setups, compared) if compared else None
        aside: dict[str, None] = {}
        found = judged.crosscheck(
            words,
            names,
            lexicon,
            effects.of if effects else _nothing_measured,
            _own_thresholds(casebook, setups, aside),
            beside_words(casebook, setups).of,
            effects.lacking if effects else judged.unmeasured,
        )
    if out is not None:
        cut = _write(found, names, compared, out, Look(size, dark, transparent))
    if as_json:
        give(
            {
                "setups": list(names),
                "measured": None if compared is None else compared.to_document(),
                "words": [_document(one) for one in found],
                "left_out": documents.plain(ballots.left_out),
                "threshold_source": word_thresholds.SOURCE,
                "thresholds_not_used": list(aside),
            }
        )
        return
    _tell(found, names, compared, ballots.left_out)
    for run in aside:
        say(f"Not used: {run}.")
    if out is not None:
        say(f"Written: {out}")
        if cut:
            say(cut)


def _tell(
    found: list[Crosschecked],
    names: tuple[str, str],
    compared: CurveComparison | None,
    left_out: tuple[LeftOut, ...],
) -> None:
    from ..results.crosscheck import NO_CAUSE

    if not found:
        say(f"No word of {names[0]} or {names[1]} can be told yet: earwitness word log WORD --setup NAME")
    if compared is None:
        say("No response on axis of both was measured: earwitness curve add SETUP FILE")
    if found:
        _tell_words(found)
    for one in left_out:
        say(f"Not among these: {one.plan}, {one.why}.")
    if found:
        say(NO_CAUSE)


def _tell_words(found: list[Crosschecked]) -> None:
    from ..measured import word_thresholds

    say(table(["word", "outcome"], [[one.word.term, one.outcome] for one in found]))
    for word in found:
        band = ""
        if word.entry is not None and word.effect is not None:
            band = f" The hypothesis: {word.entry.says} of {word.entry.low_hz:g} to {word.entry.high_hz:g} Hz"
            band += f" ({word.entry.source})."
        say(f"{word.word.term}: {word.word.how}; {word.why}.{band}")
    for source in dict.fromkeys(one.audible.source for one in found if one.audible is not None and one.audible.own):
        say(f"The threshold used: {source}.")
    if any(one.effect is not None and (one.audible is None or not one.audible.own) for one in found):
        say(f"What can be heard, as published: {word_thresholds.SOURCE}.")


def _write(
    found: list[Crosschecked], names: tuple[str, str], compared: CurveComparison | None, out: Path, look: Look
) -> str:
    """Draw the difference with each word over its band and its outcome; gives what is to be said if it was cut."""
    from audio.curves import picture
    from audio.curves.lanes import Marked

    from ..measured.figures.responses import Difference

    if compared is None:
        raise CatalogueError(f"nothing to draw: no response on axis of both {names[0]!r} and {names[1]!r} was measured")
    picture.check_ending(out)
    marked = [
        Marked(
            one.entry.low_hz or 0.0,
            one.entry.high_hz or 0.0,
            f"{one.word.term}: {_short(one.outcome)}",
            one.outcome.endswith("and measured"),
        )
        for one in found
        if one.entry is not None and one.effect is not None
    ]
    figure = replace(Difference(compared), marked=marked, explained=EXPLAINED)
    return draw(figure.drawn(), out, look)


def _short(outcome: str) -> str:
    """An outcome without what goes without saying in the picture of words that were said."""
    return outcome.removeprefix("said and ").removeprefix("said, ")


def _own_thresholds(casebook: Casebook, two: Sequence[Setup], aside: dict[str, None]) -> OwnThreshold:
    """What the listeners of a word of two setups notice in a band, by their runs; `aside` takes those not used."""
    from ..measured import own_thresholds

    every, names = threshold_rows.every(casebook), catalogue.names(casebook, Listener)
    others = {one.id: one.name for one in catalogue.everything(casebook, Setup) if one not in two}
    elsewhere = _other_chains(casebook, two)
    ids = {name: listener_id for listener_id, name in names.items()}

    def own_of(word: WordOfTwo, low_hz: float, high_hz: float, lack: bool) -> AudibleFrom | None:
        who = [ids[name] for name in word.listeners if name in ids]
        if not every:
            return None
        aside.update(
            dict.fromkeys(own_thresholds.set_aside(every, who, names, low_hz, high_hz, lack=lack, elsewhere=elsewhere))
        )
        return own_thresholds.of_band(every, who, names, low_hz, high_hz, lack=lack, others=others, elsewhere=elsewhere)

    return own_of


def _other_chains(casebook: Casebook, two: Sequence[Setup]) -> dict[str | None, str]:
    """What is heard through another chain than either of two setups, by identifier (None: pink noise), and its name.

    Recordings share the chain that plays them; gear is a chain of its own.
    """
    gear_alone = all(one.is_real for one in two)
    others = [one for one in catalogue.everything(casebook, Setup) if one not in two]
    found: dict[str | None, str] = {one.id: one.name for one in others if one.is_real or gear_alone}
    return found | ({None: "pink noise"} if gear_alone else {})


def _document(one: Crosschecked) -> dict[str, object]:
    """A word with its outcome as plain values; an interval's open end is null."""
    stated: dict[str, object] = documents.plain(one)
    if one.audible is not None and isinf(one.audible.high_db):
        stated["audible"] = documents.plain(one.audible) | {"high_db": None}
    return stated


def _nothing_measured(low_hz: float, high_hz: float) -> None:
    return None


COMMANDS = {"crosscheck": crosscheck}
