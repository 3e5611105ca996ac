"""`viewers`: a blind test for the audience, as a page or a soundtrack; what comes of their answers stands beside it."""

from __future__ import annotations

from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Any

import click

from ..errors import ViewersError
from .command_group import CommandGroup
from .context import Context, counted, give, json_option, progress, say
from .number_types import NUMBER, WHOLE
from .viewers_answers import collect, poll

if TYPE_CHECKING:
    from ..plans.viewers_rows import SealedTest

PUBLISH = "Publish this line before the test is out, where others keep it:"
USUAL_TRIALS, USUAL_RATE_HZ, USUAL_PAUSE_S = 8, 48_000, 6.0
USUAL_LUFS = -14.0  # to which video platforms bring what is louder (common practice, no source)
LEAST_RATE_HZ, MOST_RATE_HZ = 8_000, 96_000  # what every browser plays (W3C, Web Audio API 1.0)
LEAST_LUFS, MOST_LUFS = -40.0, -5.0
TRIALS = click.option("--trials", type=WHOLE, default=USUAL_TRIALS, show_default=True, help="Of each viewer, 4 to 12.")


@click.group(cls=CommandGroup)
def viewers() -> None:
    """A blind test for your audience, from a sealed plan of ABX or preference between two setups of files.

    page makes a folder that runs in the viewers' own browsers and ends in a code to send in; soundtrack makes sound and
    captions to cut into a video. Both have a seal of their own: publish it first.
    """


@viewers.command()
@click.argument("plan")
@click.argument("folder", type=click.Path(path_type=Path))
@TRIALS
@click.option(
    "--rate", "rate_hz", type=WHOLE, default=USUAL_RATE_HZ, show_default=True, help="At which it plays, in Hz."
)
@click.option("--send", metavar="TEXT", help="Where the page tells its viewer to send the code.")
@click.option("--test", "which", metavar="ID", help="Write the folder of a test that was sealed before once more.")
@json_option
@click.pass_obj
def page(
    context: Context,
    plan: str,
    folder: Path,
    trials: int,
    rate_hz: int,
    send: str | None,
    which: str | None,
    as_json: bool,
) -> None:
    """Make a page of PLAN in FOLDER: any web server, or a disk, will do for it.

    Each viewer's browser draws one of many sealed orders. No key is in the folder, and nothing is sent by it.
    """
    from ..plans import viewers_rows
    from ..viewers import making, page_folder

    page_folder.check_free(folder)
    if not LEAST_RATE_HZ <= rate_hz <= MOST_RATE_HZ:
        raise ViewersError(f"--rate {rate_hz} is out of range; give {LEAST_RATE_HZ} to {MOST_RATE_HZ} Hz")
    with context.open() as casebook:
        if which is None:
            progress(f"Writing the sounds of {counted(trials, 'trial')} …")
            made = page_folder.make(casebook, plan, trials, rate_hz, folder, send or page_folder.SEND)
            sealed, written = made.sealed, made.written
        else:
            sealed = viewers_rows.of_plan(casebook, plan, "page", which)
            secret = viewers_rows.secret_of(casebook, sealed)
            sounds = making.sounds_of(casebook, sealed.test, secret)
            written = page_folder.write(sealed, secret, sounds, folder, send or page_folder.SEND)
    said = [
        f"The page is {written.index}: {counted(written.files, 'file')}, {written.total_bytes / 1e6:.0f} MB in all; "
        f"one viewer loads {written.viewer_bytes / 1e6:.0f} MB. Open it from the disk, or put the "
        "folder on any web server.",
    ]
    _tell_sealed(sealed, said, f"viewers collect {quote(sealed.test.plan_name)} FILE", as_json)
    if as_json:
        give(
            _sealed_document(sealed)
            | {"index": str(written.index), "files": written.files, "bytes": written.total_bytes}
        )


@viewers.command()
@click.argument("plan")
@click.argument("file", type=click.Path(path_type=Path))
@TRIALS
@click.option(
    "--lufs", type=NUMBER, default=USUAL_LUFS, show_default=True,
    help="Loudness of the whole, for instance -23 (EBU R 128); its true peak stays at -1 dBTP or below.",
)  # fmt: skip
@click.option("--pause", "pause_s", type=NUMBER, default=USUAL_PAUSE_S, show_default=True, help="For the vote, in s.")
@json_option
@click.pass_obj
def soundtrack(
    context: Context, plan: str, file: Path, trials: int, lufs: float, pause_s: float, as_json: bool
) -> None:
    """Make a soundtrack of PLAN as FILE (.wav or .flac), with captions (.vtt) and a description (.txt) beside it.

    All viewers hear the same sealed random order, with tones between. Their votes come back by viewers poll.
    """
    from audio.files import writing

    from ..plans import viewers_test
    from ..results import viewers_told as told
    from ..viewers import captions, making
    from ..viewers import soundtrack as sound

    beside = [file.with_suffix(".vtt"), file.with_suffix(".txt")]
    if file.suffix.lower() not in (".wav", ".flac"):
        raise ViewersError(f"{file}: name the soundtrack .wav or .flac")
    if not file.parent.is_dir():
        raise ViewersError(f"there is no folder {file.parent} for the soundtrack; make it, or name another place")
    taken = [str(path) for path in (file, *beside) if path.exists()]
    if taken:
        raise ViewersError(f"{taken[0]} is there already; name another file")
    if not LEAST_LUFS <= lufs <= MOST_LUFS or not 0 < pause_s <= 60:
        raise ViewersError(
            f"--lufs is {LEAST_LUFS:g} to {MOST_LUFS:g} and --pause above 0 to 60 s; got {lufs:g}, {pause_s:g}"
        )
    with context.open() as casebook:
        further: dict[str, str | int] = {"target_lufs": f"{lufs:g}", "pause_s": f"{pause_s:g}"}
        ready = making.drawn_up(casebook, plan, "soundtrack", trials, further)
        progress("Laying out the soundtrack …")
        made = sound.made(ready.test, ready.secret, ready.sounds)
        writing.write(file, made.clip, seed=viewers_test.dither_seed(ready.secret, "soundtrack"))
        sealed = making.seal(casebook, ready)
    moments = captions.moments(made.cues, made.clip.rate_hz)
    texts = (
        captions.webvtt(made.cues, made.clip.rate_hz),
        told.description(sealed, moments, made.loudness_lufs, made.true_peak_dbtp),
    )
    for path, text in zip(beside, texts, strict=True):
        path.write_text(text, encoding="utf-8")
    said = [
        f"The soundtrack is {file}: {made.clip.frames / made.clip.rate_hz:.0f} s, {made.loudness_lufs:.1f} LUFS, "
        f"true peak {made.true_peak_dbtp:.1f} dBTP; captions in {beside[0].name}, a description with the seal in "
        f"{beside[1].name}.",
    ]
    if made.held_back:
        said.append(
            f"It is quieter than the {lufs:g} LUFS asked for: louder, its true peak would be above {sound.MOST_DBTP:g} "
            "dBTP, and nothing is limited here."
        )
    said.append("Let nobody see how others vote before the poll is over, where the platform allows that.")
    _tell_sealed(sealed, said, f"viewers poll {quote(sealed.test.plan_name)} TABLE", as_json)
    if as_json:
        give(
            _sealed_document(sealed)
            | {"file": str(file), "loudness_lufs": made.loudness_lufs, "true_peak_dbtp": made.true_peak_dbtp}
        )


@viewers.command("list")
@json_option
@click.pass_obj
def list_(context: Context, as_json: bool) -> None:
    """All viewers' tests of the casebook, with their seals."""
    from ..plans import viewers_rows
    from .context import table

    with context.open() as casebook:
        every = viewers_rows.everything(casebook)
    if as_json:
        give([_sealed_document(one) | {"over": one.opening is not None} for one in every])
        return
    if not every:
        say("No viewers' tests yet: earwitness viewers page PLAN FOLDER")
        return
    rows = [
        [
            one.test.id,
            one.test.form,
            one.test.plan_name,
            one.at[:10],
            "over" if one.opening else "open",
            one.seal[:16] + "…",
        ]
        for one in every
    ]
    say(table(["test", "form", "plan", "sealed", "state", "seal"], rows), whole=True)


@viewers.command()
@click.argument("test")
@click.pass_obj
def record(context: Context, test: str) -> None:
    """The record of a test that is over, by its identifier: all that a stranger needs to work out its keys."""
    from ..plans import viewers_rows

    with context.open() as casebook:
        every = {one.test.id: one for one in viewers_rows.everything(casebook)}
    found = every.get(test)
    if found is None:
        raise ViewersError(f"there is no viewers' test {test!r}; see earwitness viewers list")
    if found.opening is None:
        raise ViewersError(
            f"the viewers' test {test!r} is not over, and its secret is told to nobody: "
            f"earwitness viewers {'collect' if found.test.form == 'page' else 'poll'} "
            f"{quote(found.test.plan_name)} FILE --open"
        )
    give(
        {
            "test": found.test.text,
            "seal": found.seal,
            "sealed_at": found.at,
            "secret": found.opening.secret,
            "opened_at": found.opening.at,
            "answers": found.opening.answers,
            "answers_sha256": found.opening.answers_sha256,
        }
    )


@viewers.command()
def rule() -> None:
    """The rule by which viewers' tests are sealed and counted, with the short program that checks one."""
    from importlib.resources import files as package_files

    say((package_files("sessions.plans") / "viewers_sealing.md").read_text(encoding="utf-8"))


def _tell_sealed(sealed: SealedTest, said: list[str], back: str, as_json: bool) -> None:
    """What was made; and the seal, to be published first, in a line that can be posted."""
    from ..results import viewers_told as told

    for line in said:
        say(line, as_json)
    say(f"When answers are in: earwitness {back}", as_json)
    say(PUBLISH, as_json)
    say(f"  {told.post(sealed)}", as_json, whole=True)
    say(f"Note where it stands: earwitness witness {sealed.seal[:16]} --by WHERE", as_json)


def _sealed_document(sealed: SealedTest) -> dict[str, Any]:
    test = sealed.test
    return {
        "test": test.id, "form": test.form, "plan": test.plan_name, "trials": test.trials, "seal": sealed.seal,
        "at": sealed.at, "orders": test.document["orders"],
    }  # fmt: skip


viewers.add_command(collect)
viewers.add_command(poll)
COMMANDS = {"viewers": viewers}
