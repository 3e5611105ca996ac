"""`crosscheck`: the words for two setups beside the measured difference."""

from __future__ import annotations

from collections import Counter
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
    from collections.abc import Callable, Sequence

    from audio.curves.picture import Look

    from ..results.ballots_over import LeftOut
    from ..results.crosscheck import Crosschecked
    from ..results.crosscheck_of_two import CrosscheckOfTwo


EXPLAINED = (  # its first line is as long as the one that a frame full of words has room for
    "Whole bar: measured; broken: not, or unsure. No cause.\n"
    "The band stated for a word is a hypothesis. Said, not heard blind, unless it says so"
)

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
    from ..results.crosscheck import NO_CAUSE

    found, names = crosschecked.words, crosschecked.names
    if not found:
        say(f"No word of {names[0]} or {names[1]} can be told yet: earwitness word log WORD --setup NAME")
    if crosschecked.compared is None:
        say(f"{_not_measured(crosschecked)}: earwitness curve add SETUP FILE")
    if found:
        _tell_words(found)
    for one in left_out:
        say(f"Not among these: {one.plan}, {one.why}.")
    if found:
        say(NO_CAUSE)


def _not_measured(found: CrosscheckOfTwo) -> str:
    """Which curves are looked at, and what there is instead."""
    return (
        "Looked at are responses on axis that stand for the whole setup, not for one side, driver or place, and not "
        f"both have one; {', '.join(found.lacking)}"
    )


def _tell_words(found: Sequence[Crosschecked]) -> None:
    from ..measured import band_effect, word_thresholds

    told = set[str]()
    for word in found:
        band = ""
        if word.entry is not None and word.effect is not None and word.entry.word not in told:
            told.add(word.entry.word)
            band = f" The hypothesis: {word.entry.says} of {word.entry.low_hz:g} to {word.entry.high_hz:g} Hz"
            band += f" ({word.entry.source})."
        say(f"{word.word.name}: {word.word.how}; {word.why}.{band}{f' {word.remark}.' if word.remark else ''}")
    for source in dict.fromkeys(one.audible.source for one in found if one.audible is not None and one.audible.own):
        say(f"The threshold used: {source}.")
    if any(one.audible is not None for one in found):
        say(band_effect.REST)
    if any(one.effect is not None and (one.audible is None or not one.audible.own) for one in found):
        say(f"What can be heard, as published: {word_thresholds.SOURCE}.")
    ballots = any(one.word.ballot for one in found)  # the table stands last, where it is still in sight
    rows = [[one.word.name, *([one.word.ballot or "-"] if ballots else []), one.told] for one in found]
    say(table(["word", *(["ballot"] if ballots else []), "outcome"], rows))


def _write(found: CrosscheckOfTwo, out: Path, look: Look) -> str:
    """Draw the difference with each word over its band and its outcome; gives what is to be said if it was cut."""
    from audio.curves import lanes, picture
    from audio.curves.draw import HEARD_HZ

    from ..measured.figures.responses import Difference
    from ..report import words_beside

    if found.compared is None:
        raise CatalogueError(f"nothing to draw: {_not_measured(found)}")
    picture.check_ending(out)
    every = words_beside.marks(found.words, _labels(found.words))
    marked, left = lanes.fitting(every, HEARD_HZ, ROOM_DB.get(look.size, inf))
    told = draw(Difference(found.compared, marked, EXPLAINED).drawn(), out, look)
    if left:
        unseen = "; ".join(one.words for one in left)
        told += f"\n  it has no room for more words at this size; not on it: {unseen} (--size page has room)"
    return told.removeprefix("\n")


def _labels(found: Sequence[Crosschecked]) -> Callable[[Crosschecked], str]:
    """What the picture says of each word: its outcome, and where there are several of one word, what each is of."""
    times = Counter(one.word.term for one in found)

    def label(one: Crosschecked) -> str:
        said = " and ".join(one.word.labels)
        of = f"ballot {one.word.ballot}" if one.word.ballot else f"said {said}" if said else "said"
        which = f" ({of})" if times[one.word.term] > 1 else ""
        return f"{one.word.name}{which}: {one.told.removeprefix('said and ').removeprefix('said, ')}"

    return label


def _document(one: Crosschecked) -> dict[str, object]:
    """A word with its outcome as plain values; an interval's open end is null."""
    stated: dict[str, object] = documents.plain(one) | {"told": one.told}
    if one.audible is not None and isinf(one.audible.high_db):
        stated["audible"] = documents.plain(one.audible) | {"high_db": None}
    return stated


COMMANDS = {"crosscheck": crosscheck}
