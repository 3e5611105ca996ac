"""`passage`: the stretches of tracks that are played in trials; added by hand, or suggested by what differs most.

Suggested are those around moments of the reviewer's too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from ..casebook import catalogue, passages
from ..casebook.catalogue import Passage, Setup, Track
from ..errors import CatalogueError, MovedError
from ..plans import overview, standing_words
from ..preparation import passage_proposals, track_alignment
from ..preparation.proposed_passage import LookedThrough
from . import next_step, status
from .command_group import CommandGroup
from .context import Context, give, json_option, progress, say
from .moments import moments_of, of_words
from .number_types import WholeRange
from .times import TIME, clock


@click.group(cls=CommandGroup)
def passage() -> None:
    """Passages: the stretch of a track that is played in a trial."""


@passage.command("add")
@click.argument("track")
@click.option("--from", "start_s", type=TIME, required=True, metavar="M:SS.S", help="Start in the track.")
@click.option("--to", "end_s", type=TIME, required=True, metavar="M:SS.S", help="End in the track.")
@click.option("--name", default="", help="Its name; otherwise the track's with a number.")
@click.option("--note", default="", help="What to listen for.")
@json_option
@click.pass_obj
def add(context: Context, track: str, start_s: float, end_s: float, name: str, note: str, as_json: bool) -> None:
    """Add the passage of TRACK between two times."""
    if not end_s > start_s:
        raise CatalogueError(f"a passage ends after it starts; got --from {clock(start_s)} --to {clock(end_s)}")
    with context.open() as casebook:
        music = catalogue.find(casebook, Track, track)
        track_alignment.ensure(casebook, [music.id])
        rate_hz = passage_proposals.track_rate(casebook, music)
        start = round(start_s * rate_hz)
        row = passages.add(
            casebook,
            music,
            start,
            round(end_s * rate_hz) - start,
            rate_hz,
            name or passage_proposals.free_name(casebook, music.name),
            note,
        )
        _tell(row, as_json)
        next_step.tell(casebook, context.hint, as_json, added={row.name})


@passage.command("suggest")
@click.argument("tracks", nargs=-1)
@click.option("--setup", "setups", multiple=True, help="The setups compared (repeat); all of them if none is named.")
@click.option("--count", type=WholeRange(1, 10), default=1, show_default=True, help="Passages for each track.")
@click.option(
    "--around", "moments", multiple=True, metavar="TRACK=M:SS", help="Also around a moment of yours (repeat)."
)
@click.option("--words", "at_words", is_flag=True, help="Also around moments at which words were logged, sighted.")
@click.option("--add", "keep", is_flag=True, help="Add them to the casebook.")
@click.option(
    "--picture", type=click.Path(path_type=Path), help="Draw the difference along each track, as .svg or .png."
)
@json_option
@click.pass_obj
def suggest(
    context: Context,
    tracks: tuple[str, ...],
    setups: tuple[str, ...],
    count: int,
    moments: tuple[str, ...],
    at_words: bool,
    keep: bool,
    picture: Path | None,
    as_json: bool,
) -> None:
    """Propose the 10 to 20 s of each track in which the matched setups differ most, and those around moments."""
    from audio.curves import picture as pictures

    named = moments_of(moments)
    if picture is not None:
        pictures.check_ending(picture)
    with context.open() as casebook:
        compared = [catalogue.find(casebook, Setup, name) for name in setups]
        compared = compared or catalogue.everything(casebook, Setup)
        music = [catalogue.find(casebook, Track, name) for name in tracks]
        asked = {row.name for row in music} | set(named)  # what is asked for by name must be there
        music = music or catalogue.everything(casebook, Track)
        around: dict[str, list[float]] = {row.id: of_words(casebook, row) if at_words else [] for row in music}
        for name, moments_s in named.items():
            row = catalogue.find(casebook, Track, name)
            music += [] if row.id in around else [row]
            around.setdefault(row.id, []).extend(moments_s)
        looked_through = []
        for number, row in enumerate(music, 1):
            progress(f"track {number} of {len(music)}: listening through {row.name} …")
            try:
                looked_through.append(passage_proposals.suggest(casebook, row, compared, count, around[row.id]))
            except MovedError:  # all of a folder moved at once: to be pointed at before anything else
                raise
            except CatalogueError as error:
                if len(music) == 1 or row.name in asked:
                    raise
                say(f"left out: {row.name}: {error}", as_json)
        if not looked_through:
            raise CatalogueError("no track can be compared between these setups")
        found = [part for one in looked_through for part in one.passages]
        if picture is not None:
            pictures.write(_drawn(looked_through, [setup.name for setup in compared]), picture)
            say(f"Picture: {picture}", as_json)
        for one in looked_through:
            for silence in one.silences:
                say(f"{one.track.name}: {silence}", as_json)
            if fewer := one.fewer_than(count):
                say(f"{one.track.name}: {fewer}", as_json)
        if keep:
            added = passage_proposals.add(casebook, found)
            _tell_added(added, as_json)
            next_step.tell(casebook, context.hint, as_json, added={one.name for one in (*added.made, *added.there)})
            return
    if as_json:
        give(
            {
                "passages": [part.to_document() for part in found],
                "silences": [
                    {"track": one.track.name, "setup": each.setup}
                    | {"start_s": one.start_s + each.begin_s, "end_s": one.start_s + each.end_s}
                    for one in looked_through
                    for each in one.survey.silences
                    if not each.is_pause
                ],
            }
        )
    for part in found:
        say(f"{part.track.name}: {clock(part.start_s)} to {clock(part.end_s)} ({part.what})", as_json)
    if not any(part.marks_s for part in found):
        say("To have passages around moments of your own as well: --around TRACK=M:SS, or --words", as_json)
    say("Add them with --add, or your own with: earwitness passage add TRACK --from 0:30 --to 0:45", as_json)


def _drawn(looked_through: Sequence[LookedThrough], setups: Sequence[str]) -> Any:
    from audio import track_picture

    drawn = [
        track_picture.LookedThrough(one.track.name, one.survey, one.start_s, one.rate_hz) for one in looked_through
    ]
    names = f"{', '.join(setups[:-1])} and {setups[-1]}"
    return track_picture.tracks(drawn, title=f"How much {names} differ, once equally loud")


def _tell_added(added: passage_proposals.Added, as_json: bool) -> None:
    if as_json:
        give({"passages": [_placed(row) for row in added.made], "there": [_placed(row) for row in added.there]})
    for row in added.made:
        say(_in_words(row), as_json)
    for row in added.there:
        say(f"{_in_words(row)} is there already; it is not added again", as_json)


def _tell(row: Passage, as_json: bool) -> None:
    if as_json:
        give({"passages": [_placed(row)]})
    say(_in_words(row), as_json)


def _placed(row: Passage) -> dict[str, Any]:
    return {part: getattr(row, part) for part in ("id", "name", "start_frame", "frames", "rate_hz", "note")}


def _in_words(row: Passage) -> str:
    start_s = row.start_frame / row.rate_hz
    return f"Passage {row.name!r}: {clock(start_s)} to {clock(start_s + row.frames / row.rate_hz)}"


@passage.command("list")
@json_option
@click.pass_obj
def list_all(context: Context, as_json: bool) -> None:
    """List them all: where in the music, matched, checked."""
    with context.open() as casebook:
        rows = [_document(one) for one in catalogue.everything(casebook, Passage)]
        stands = overview.gather(casebook).passages
    if as_json:
        give({"passages": [row | asdict(one) for row, one in zip(rows, stands, strict=True)]})
        return
    for line in status.passage_lines(stands) or ["No passages yet."]:
        say(line)


@passage.command("show")
@click.argument("name")
@json_option
@click.pass_obj
def show(context: Context, name: str, as_json: bool) -> None:
    """Show one of them with the evidence that holds for it."""
    with context.open() as casebook:
        own = catalogue.find(casebook, Passage, name)
        stands = next(one for one in overview.gather(casebook).passages if one.name == own.name)
        document = _document(own) | asdict(stands)
    if as_json:
        give(document)
        return
    matched = f" ({', '.join(stands.matched)})" if stands.matched else ""
    left = f", {stands.residual_lu:.3f} LU left of {stands.tolerance_lu:g} allowed" if stands.matched else ""
    say(f"{own.name}: {clock(stands.start_s)} to {clock(stands.start_s + stands.length_s)} of {stands.track}")
    say(f"  length: {clock(stands.length_s)}")
    say(f"  levels: {standing_words.match_words(stands)}{matched}{left}")
    say(f"  giveaways: {standing_words.check_words(stands)}")
    for note in stands.notes:
        say(f"  note of the check: {note}")
    if own.note:
        say(f"  note: {own.note}")


def _document(own: Passage) -> dict[str, Any]:
    return {part: getattr(own, part) for part in ("id", "name", "start_frame", "frames", "rate_hz", "note", "added_at")}


COMMANDS = {"passage": passage}
