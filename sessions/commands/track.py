"""`track align`: where the recordings of a track lie against one another, and the choice where two places fit."""

from __future__ import annotations

import click

from ..casebook import alignments, catalogue, recordings
from ..casebook.catalogue import Setup, Track
from ..preparation import track_alignment
from . import next_step
from .catalogue import track
from .context import Context, give, json_option, say
from .lags import COHERENCE, described, document_of, lag_of


@track.command("align")
@click.argument("name", metavar="TRACK")
@click.option("--lag", "lags", multiple=True, metavar="SETUP=S", help="How late a setup's recording is, in seconds.")
@json_option
@click.pass_obj
def align(context: Context, name: str, lags: tuple[str, ...], as_json: bool) -> None:
    """Show where the recordings of TRACK lie against its first, or say it where several lags fit as well."""
    with context.open() as casebook:
        music = catalogue.find(casebook, Track, name)
        files = recordings.of_track(casebook, music)
        made = track_alignment.missing(casebook, files)
        with casebook.writing():
            alignments.keep(casebook, made)
        for text in lags:
            setup_name, lag_s = lag_of(text)
            track_alignment.choose(casebook, music, catalogue.find(casebook, Setup, setup_name), lag_s)
        names = catalogue.names(casebook, Setup)
        of_file = {each.id: names[each.setup_id] for each in files if each.setup_id is not None}
        laid = {of_file[each]: one for each, one in alignments.in_force(casebook, files).items()}
        against = next((of_file[one.reference] for one in laid.values() if one.reference in of_file), "")
        if as_json:
            laid_now = {setup: document_of(one) for setup, one in laid.items()}
            give({"track": music.name, "against": against, "laid": laid_now})
        if against:
            say(f"{music.name!r}, against the recording of {against}, which is the first of this track:", as_json)
        for setup, one in laid.items():
            say(described(one, music.name, setup, context.hint), as_json)
        if any(one.best for one in laid.values()):
            say(COHERENCE, as_json)
        if not laid:
            say(f"{music.name!r} has no two recordings to lay against one another.", as_json)
        if lags:
            next_step.tell(casebook, context.hint, as_json)


COMMANDS = {"track": track}
