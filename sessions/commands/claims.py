"""`claims`: the sentences a reviewer wants to say, each with its evidence and what it comes to."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..casebook import documents
from ..errors import CasebookError, CatalogueError
from .command_group import CommandGroup
from .context import Context, give, json_option, say
from .times import TIME

if TYPE_CHECKING:
    from ..casebook.store import Casebook
    from ..report.claims.claim_rows import ClaimContent
    from ..report.claims.standing import JudgedClaim

SHEET = "claims.html"


def _evidence_options(command: Any) -> Any:
    """Adds ``--plan``, ``--word``, ``--curve``, ``--fact``, ``--note`` and ``--video``."""
    for option in (
        click.option("--video", type=TIME, metavar="M:SS", help="When it is said in the video."),
        click.option("--video-to", type=TIME, metavar="M:SS", help="When that ends; else as long as it takes to read."),
        click.option("--note", help="Anything more, for the sheet."),
        click.option("--fact", "facts", multiple=True, metavar="SETUP:WHAT[:SAYS]", help="What the maker states."),
        click.option(
            "--curve", "curves", multiple=True, metavar="SETUP[,OTHER]:more|less:LOW-HIGH[:DB]", help="A band, in Hz."
        ),
        click.option("--word", "words", multiple=True, metavar="ID|SETUP[,OTHER]:TERM", help="A word that was said."),
        click.option(
            "--plan", "plans", multiple=True, metavar="PLAN[:not-shown|:SETUP]", help="It was heard, unless said."
        ),
    ):
        command = option(command)
    return command


@click.group(cls=CommandGroup)
def claims() -> None:
    """Claims: what you want to say, each sentence with what it rests on, and what that comes to.

    shown, not shown, contradicted or opinion: it is worked out from the casebook each time, and what changed since a
    claim was given out is said. What a rehearsal came to never counts.
    """


@claims.command("add")
@click.argument("text")
@_evidence_options
@json_option
@click.pass_obj
def add(context: Context, /, text: str, as_json: bool, **typed: Any) -> None:
    """Keep the sentence TEXT with what it rests on; each option again for more evidence.

    Without any it is an opinion. `--word bracken,sallow:boomy` says that bracken rather than sallow is boomy.
    """
    from ..report.claims import claim_rows, judged_claims
    from ..report.claims.claim_rows import ClaimContent

    with context.open() as casebook:
        kept = claim_rows.keep(casebook, text, _content(casebook, ClaimContent(), typed))
        [judged] = judged_claims.of(casebook, [kept])
    _tell(judged, as_json)


@claims.command("edit")
@click.argument("claim")
@click.option("--text", help="The sentence as it is to be said from now on.")
@click.option("--why", default="", help="Why it is changed; it stays on record.")
@_evidence_options
@json_option
@click.pass_obj
def edit(context: Context, /, claim: str, text: str | None, why: str, as_json: bool, **typed: Any) -> None:
    """Change CLAIM (its number or id): what is given replaces what it had of the kind; the rest stays."""
    from ..report.claims import claim_rows, judged_claims

    if text is None and not any(value not in (None, ()) for value in typed.values()):
        raise CatalogueError("say what is to change: --text, --plan, --word, --curve, --fact, --note or --video")
    with context.open() as casebook:
        old = claim_rows.find(casebook, claim)
        content = _content(casebook, old.content, typed)
        kept = claim_rows.change(casebook, old, old.text if text is None else text, content, why)
        [judged] = judged_claims.of(casebook, [kept])
    _tell(judged, as_json)


@claims.command("withdraw")
@click.argument("claim")
@click.option("--why", required=True, help="The reason; it stays on record.")
@json_option
@click.pass_obj
def withdraw(context: Context, claim: str, why: str, as_json: bool) -> None:
    """Take CLAIM back; it stays on record with the reason."""
    from ..report.claims import claim_rows

    with context.open() as casebook:
        old = claim_rows.find(casebook, claim)
        claim_rows.withdraw(casebook, old, why)
    if as_json:
        give({"number": old.number, "id": old.id, "withdrawn": why})
    say(f"Claim {old.number} is taken back: {old.text}", as_json)


@claims.command("list")
@json_option
@click.pass_obj
def list_claims(context: Context, as_json: bool) -> None:
    """List all claims with what each comes to now, and what changed since it was given out."""
    from ..report.claims import judged_claims, wording

    with context.open() as casebook:
        judged = judged_claims.every(casebook)
    if as_json:
        give({"claims": [_document(one) for one in judged]})
        return
    if not judged:
        say("No claims yet: earwitness claims add 'what you want to say' --plan PLAN")
        return
    for one in judged:
        say(f"{one.claim.number}. {one.told.upper()}: {one.claim.text}")
        for line in [*(f"says too much: {mark.told}" for mark in one.overstated), *one.changed]:
            say(f"   {line}")
    say(wording.FOUND_BY_A_LIST)
    say(f"What each rests on: {context.hint} claims show NUMBER")


@claims.command("show")
@click.argument("claim")
@json_option
@click.pass_obj
def show(context: Context, claim: str, as_json: bool) -> None:
    """Show CLAIM (its number or id): its standing, what each part of its evidence says, where in the music it lies."""
    from ..report.claims import claim_rows, judged_claims

    with context.open() as casebook:
        found = claim_rows.find(casebook, claim)
        [judged] = judged_claims.of(casebook, [found])
    if found.withdrawn and not as_json:
        say(f"Claim {found.number} was taken back {found.since[:10]}: {found.why}")
        return
    _tell(judged, as_json)


@claims.command("export")
@click.option(
    "--out", "files", multiple=True, type=click.Path(path_type=Path),
    help="A sheet: .html, .md or .csv; timed notes: .vtt or .txt; again for more.  [default: claims.html]",
)  # fmt: skip
@click.option("--title", default="What is claimed", show_default=True, help="The sheet's title.")
@json_option
@click.pass_obj
def export(context: Context, files: tuple[Path, ...], title: str, as_json: bool) -> None:
    """Write the sheet for filming, or timed notes of the video, and note what each claim came to."""
    from ..report.claims import given_out, judged_claims

    with context.open() as casebook:
        judged = judged_claims.every(casebook)
        wanted = files or (casebook.folder / SHEET,)
        given_out.check(wanted, judged)
        given_out.write(title, casebook.now(), judged, wanted)
        noted = True
        try:
            casebook.check_writable()
            given_out.note(casebook, judged)
        except CasebookError as error:
            noted = False
            say(f"Not noted as given out, so that later changes are not told: {error}", as_json)
    untimed = [one.claim.number for one in judged if one.claim.content.video_from_ms is None]
    if as_json:
        told = {"files": [str(file) for file in wanted], "claims": [_document(one) for one in judged], "noted": noted}
        give(told)
    for file in wanted:
        say(f"Written: {file}", as_json)
        if file.suffix.lower() in given_out.TIMED and untimed:
            say(
                f"  without {', '.join(map(str, untimed))}: nobody said when (claims edit NUMBER --video M:SS)", as_json
            )
    for one in judged:
        for line in one.changed:
            say(f"  {one.claim.number}: {line}", as_json)


def _content(casebook: Casebook, old: ClaimContent, typed: dict[str, Any]) -> ClaimContent:
    """What a claim is to hold: what was typed, and what it had of what was not."""
    from ..report.claims import typed_evidence

    found: dict[str, Any] = {}
    for kind, read in (
        ("plans", typed_evidence.plan),
        ("words", typed_evidence.word),
        ("curves", typed_evidence.curve),
        ("facts", typed_evidence.fact),
    ):
        if typed[kind]:
            found[kind] = tuple(read(casebook, one) for one in typed[kind])
    if typed["note"] is not None:
        found["note"] = typed["note"].strip()
    if typed["video"] is not None:
        found |= {"video_from_ms": round(1000 * typed["video"]), "video_to_ms": None}
    if typed["video_to"] is not None:
        found["video_to_ms"] = round(1000 * typed["video_to"])
    return replace(old, **found)


def _tell(judged: JudgedClaim, as_json: bool) -> None:
    from ..report.claims import sheet, standing, wording

    if as_json:
        give(_document(judged))
    say(f"{judged.claim.number}. {judged.claim.text} ({judged.claim.id})", as_json)
    came_to = standing.told(judged.standing, too_much=False, exploratory=judged.exploratory)
    say(f"   {came_to.upper()}: {standing.MEANS[judged.standing]}", as_json)
    for part in judged.parts:
        say(f"   {part.told}", as_json)
    for place in judged.times:
        say(f"   in the music: {sheet.place_told(place)}", as_json)
    for mark in judged.overstated:
        say(f"   Says more than its evidence: {mark.told}", as_json)
    for line in judged.changed:
        say(f"   Changed: {line}", as_json)
    say(f"   {wording.FOUND_BY_A_LIST}", as_json)


def _document(one: JudgedClaim) -> dict[str, Any]:
    claim = one.claim
    stated: dict[str, Any] = {
        "number": claim.number,
        "id": claim.id,
        "text": claim.text,
        "standing": one.standing,
        "evidence": documents.plain(one.parts),
        "says_too_much": documents.plain(one.overstated),
        "changed": list(one.changed),
        "told": None if claim.told is None else documents.plain(claim.told),
        "bound_to": documents.plain(claim.content),
        "at": claim.at,
        "since": claim.since,
        "changes": claim.changes,
    }
    return stated | ({"withdrawn": claim.why} if claim.withdrawn else {})


COMMANDS = {"claims": claims}
