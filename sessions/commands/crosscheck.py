"""`crosscheck`: the words for two setups beside the measured difference."""

from __future__ import annotations

from math import inf, isinf
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ..casebook import catalogue, documents
from ..casebook.catalogue import Setup
from ..errors import CatalogueError
from .context import Context, give, json_option, say, table
from .drawn_figure import draw, drawing_options

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audio.curves.picture import Look

    from ..results.ballots_over import LeftOut
    from ..results.crosscheck_of_two import CrosscheckOfTwo
    from ..results.crosschecked import Crosschecked


ROOM_DB = {"1920x1080": 24.0, "3840x2160": 24.0, "square": 45.0}  # of height for words, in a frame; our choice


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
    find), and else what is published; which one is said. Where a band lies above the tones that they noticed (hearing)
    that is remarked. No cause is claimed.
    """
    from audio.curves.picture import Look

    from ..measured import word_thresholds
    from ..results import words_of_two
    from ..results.crosscheck_of_two import crosscheck_of_two
    from ..words import lexicon_rows
    from . import kept_run_told

    with context.open() as casebook:
        holds = kept_run_told.tell_if_edited(casebook, as_json)
        setups = [catalogue.find(casebook, Setup, name) for name in (first, second)]
        if setups[0].id == setups[1].id:
            raise CatalogueError(f"{first!r} and {second!r} are one setup; name two")
        lexicon = lexicon_rows.in_force(casebook)
        ballots = words_of_two.of_ballots(casebook, setups, lexicon)
        words = ballots.words + words_of_two.said_of(casebook, setups, lexicon)
        found = crosscheck_of_two(casebook, setups, words, lexicon)
    names = found.names
    if out is not None:
        cut = _write(found, out, Look(size, dark, transparent))
    if as_json:
        give(
            {
                "setups": list(names),
                "measured": None if found.compared is None else found.compared.to_document(),
                "words": [_document(one) for one in found.words],
                "left_out": documents.plain(ballots.left_out),
                "threshold_source": word_thresholds.SOURCE,
                "thresholds_not_used": list(found.aside),
                "record_holds": holds,
            }
        )
        return
    _tell(found, ballots.left_out)
    for run in found.aside:
        say(f"Not used: {run}.")
    if out is not None:
        say(f"Written: {out}")
        if cut:
            say(cut)


def _tell(crosschecked: CrosscheckOfTwo, left_out: tuple[LeftOut, ...]) -> None:
    from ..results import crosscheck_in_words
    from ..results.crosscheck import NO_CAUSE

    found, names = crosschecked.words, crosschecked.names
    if not found:
        say(f"No word of {names[0]} or {names[1]} can be told yet: earwitness word log WORD --setup NAME")
    if crosschecked.compared is None:
        say(f"{crosscheck_in_words.not_measured(crosschecked)}: earwitness curve add SETUP FILE")
    if found:
        _tell_words(found)
    for one in left_out:
        say(f"Not among these: {one.plan}, {one.why}.")
    if found:
        say(NO_CAUSE)


def _tell_words(found: Sequence[Crosschecked]) -> None:
    from ..results import crosscheck_in_words

    for line in crosscheck_in_words.sentences(found):
        say(line)
    say(table(*crosscheck_in_words.rows(found)))  # it stands last, where it is still in sight


def _write(found: CrosscheckOfTwo, out: Path, look: Look) -> str:
    """Draw the difference with each word over its band and its outcome; gives what is to be said if it was cut."""
    from audio.curves import lanes, picture
    from audio.curves.hatching import HEARD_HZ

    from ..measured.figures.responses import Difference
    from ..report import words_beside
    from ..results import crosscheck_in_words

    if found.compared is None:
        raise CatalogueError(f"nothing to draw: {crosscheck_in_words.not_measured(found)}")
    picture.check_ending(out)
    every = words_beside.marks(found.words, crosscheck_in_words.labels(found.words))
    marked, left = lanes.fitting(every, HEARD_HZ, ROOM_DB.get(look.size, inf))
    figure = Difference(found.compared, marked, crosscheck_in_words.EXPLAINED, len(left))
    told = draw(figure.drawn(), out, look)
    if left:
        unseen = "; ".join(one.words for one in left)
        told += f"\n  it has no room for more words at this size; not on it: {unseen} (--size page has room)"
    return told.removeprefix("\n")


def _document(one: Crosschecked) -> dict[str, object]:
    """A word with its outcome as plain values; an interval's open end is null."""
    stated: dict[str, object] = documents.plain(one) | {"told": one.told}
    if one.audible is not None and isinf(one.audible.high_db):
        stated["audible"] = documents.plain(one.audible) | {"high_db": None}
    return stated


COMMANDS = {"crosscheck": crosscheck}
