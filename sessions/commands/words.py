"""`words`: what blind ballots came to, word by word, over all plans and weeks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from ..casebook import catalogue, documents
from ..casebook.catalogue import Setup, Track
from ..errors import CatalogueError
from .command_group import CommandGroup
from .context import Context, counted, decimals, give, json_option, say, table
from .words_learn import learn

if TYPE_CHECKING:
    from collections.abc import Sequence

    from stats.agreement import Agreement

    from ..results.ballots_over import LeftOut
    from ..results.pairs_of_many import BallotOfSeveral, WordOfSeveral
    from ..results.pooled_words import Counted, InPlan, PooledBallots

EXPLORATORY = (
    "All ballots together are exploratory: they were added up afterwards. What counts is each plan's own verdict{}: "
    "earwitness verdict"
)
AS_SEALED = "p: the plan's own test, that all got the word alike{}. It does not say which differs from which."
BY_BALLOT_ALONE = (
    "(*): enough by its ballot on its own, but not together with the other plans; its verdict says with which."
)
PAIRS_EXPLORATORY = "These pairs are exploratory: the plan did not ask for them, and no verdict rests on them."
TESTED = (
    "p (Holm): how often chance alone does as much, made stricter since several words are tested; flips: how often the "
    "word changed where both were the same."
)
AGREEING = (
    "listeners, weeks: how often answers to the same setup and track were alike, and in brackets how far beyond chance "
    "(Krippendorff's alpha: 1 full, 0 none)."
)


@click.group(cls=CommandGroup, invoke_without_command=True)
@click.option("--setup", "setups", multiple=True, help="Only ballots of this setup; twice: between these two.")
@json_option
@click.pass_context
def words(ctx: click.Context, setups: tuple[str, ...], as_json: bool) -> None:
    """What blind ballots of words came to: each word over all plans that are over, and from week to week.

    For each two setups: how often a word was ticked of one alone, an exact test with Holm's correction over the words,
    how often it changed where nothing did, and how far listeners agree, with each other and with themselves. A ballot
    that is not over tells nothing.
    """
    if ctx.invoked_subcommand is None:
        _show(ctx.obj, setups, as_json=as_json)


words.add_command(learn)


def _show(context: Context, names: tuple[str, ...], *, as_json: bool) -> None:
    from ..results import ballots_over, crosscheck_of_two, word_reach
    from ..words import lexicon_rows
    from . import kept_run_told

    with context.open() as casebook:
        holds = kept_run_told.tell_if_edited(casebook, as_json)
        asked = {catalogue.find(casebook, Setup, name).id for name in names}
        if len(asked) > 2 or len(asked) < len(names):
            raise CatalogueError(f"--setup names one setup, or two that differ; got {', '.join(names)}")
        found = ballots_over.in_casebook(casebook, asked)
        tracks = {one.id: one.name for one in catalogue.everything(casebook, Track)}
        lexicon, reach_of = lexicon_rows.in_force(casebook), crosscheck_of_two.reach_by_name(casebook)

    def high(one: PooledBallots | BallotOfSeveral) -> list[str]:
        return word_reach.of_words(reach_of, (own.word for own in one.words), one.listeners, lexicon)

    pairs = [(one, high(one)) for one in found.pairs]
    of_several = [(one, high(one)) for one in found.several]
    if as_json:
        give(
            {
                "pairs": [_document(one, tracks) | {"above_reach": remarks} for one, remarks in pairs],
                "several": [_document_of_several(one) | {"above_reach": remarks} for one, remarks in of_several],
                "left_out": documents.plain(found.left_out),
                "asked_as": documents.plain(found.asked_as),
                "record_holds": holds,
            }
        )
        return
    for one, remarks in pairs:
        _tell(one)
        _tell_high(remarks)
    if pairs:
        starred = any(own.heard for one in found.pairs for word in one.words for own in word.plans)
        say(EXPLORATORY.format(" (a * here)" if starred else ""))
    for several, remarks in of_several:
        _tell_several(several)
        _tell_high(remarks)
    if not found.pairs and not found.several:
        waiting = "No ballot of words yet: earwitness plan words --words bright,boomy,thin --listener NAME"
        say("No ballot of words is over and holds yet." if found.left_out else waiting)
    for renamed in found.asked_as:
        say(f"In the ballot {renamed.plan} {renamed.word} was asked as {renamed.asked}.")
    _tell_left_out(found.left_out)


def _tell(one: PooledBallots) -> None:
    from ..results.supplementary_sentences import bare_p

    first, second = one.setups
    kind = "ratings" if one.rated else "ticks"
    say(f"{first} against {second}, {kind}: {counted(one.trials, 'trial')} of {', '.join(one.listeners)}.")
    rows = [
        [
            own.word,
            str(own.counts.first_only),
            str(own.counts.second_only),
            str(own.counts.both) if own.counts.means is None else _means(own.counts.means),
            str(own.counts.trials),
            bare_p(own.p_holm),
            f"{own.flips.flips} of {own.flips.pairs}" if own.flips else "-",
            _agreement(own.listeners),
            _agreement(own.weeks),
        ]
        for own in one.words
    ]
    how = "higher" if one.rated else "alone"
    alone = [f"{first} {how}", f"{second} {how}"]
    say(
        table(
            ["word", *alone, "means" if one.rated else "both", "trials", "p (Holm)", "flips", "listeners", "weeks"],
            rows,
        )
    )
    places = list(dict.fromkeys((own.plan, own.week) for word in one.words for own in word.plans))
    by_place = [{(own.plan, own.week): own for own in word.plans} for word in one.words]
    cells = [
        [word.word, *(f"{_sides(own[at].counts)}{_star(own[at])}" if at in own else "-" for at in places)]
        for word, own in zip(one.words, by_place, strict=True)
    ]
    say(f"By plan and week, {' : '.join(alone)}:")
    say(table(["word", *(f"{plan} {week}" for plan, week in places)], cells))
    if any(own.by_ballot_alone for word in one.words for own in word.plans):
        say(BY_BALLOT_ALONE)
    say(TESTED)
    say(AGREEING)
    say(_whom(one))


def _tell_several(one: BallotOfSeveral) -> None:
    """A ballot of more setups, as its plan judged it; then which two differ, which the plan did not ask."""
    from ..results.supplementary_sentences import bare_p

    kind = "ratings" if one.rated else "ticks"
    named = f"{', '.join(one.setups)}, {kind}, in {one.plan}"
    say(f"{named} ({', '.join(one.weeks)}): {counted(one.trials, 'trial')} of {', '.join(one.listeners)}.")
    rows = []
    for own in one.words:
        found = own.found
        got = [f"{mean:.1f}" if one.rated else str(round(mean * found.trials)) for mean in found.means]
        told = [own.word, *got, "-" if found.p_holm is None else f"{bare_p(found.p_holm)}{_star(own)}"]
        told += [] if one.rated else ["-" if found.q is None else f"{found.q:.2f}"]
        rows.append([*told, f"{found.flips.flips} of {found.flips.pairs}" if found.flips else "-"])
    heads = ["word", *one.setups, "p (Holm)", *([] if one.rated else ["Q"]), "flips"]
    say(table(heads, rows))
    starred = any(own.heard for own in one.words)
    say(
        AS_SEALED.format("; a * is a word that its verdict holds heard" if starred else "")
        + ("" if one.rated else " Q: Cochran's, of the same ticks.")
    )
    if any(own.by_ballot_alone for own in one.words):
        say(BY_BALLOT_ALONE)
    if starred:
        how = "higher" if one.rated else "alone"
        say(f"Which two differ, told afterwards (first {how} : second {how}, p with Holm's correction over all pairs):")
        pairs = one.words[0].pairs
        cells = [
            [own.word, *(f"{_sides(pair.counts)} {bare_p(pair.p_holm)}{' differ' * pair.differ}" for pair in own.pairs)]
            for own in one.words
            if own.heard
        ]
        say(table(["word", *(f"{pair.setups[0]} : {pair.setups[1]}" for pair in pairs)], cells))
        say(PAIRS_EXPLORATORY)
    say(_whom(one))


def _tell_high(remarks: Sequence[str]) -> None:
    """Which words lie above the tones that a listener noticed."""
    for remark in remarks:
        say(f"Remarked, and it changes nothing: {remark}")


def _whom(one: PooledBallots | BallotOfSeveral) -> str:
    if len(one.listeners) == 1:
        return f"This is about {one.listeners[0]} alone."
    return "This is about these listeners, taken together."


def _agreement(found: Agreement | None) -> str:
    return "-" if found is None else f"{100 * found.raw:.0f} % ({decimals(found.alpha, 2)})"


def _means(means: tuple[float, float]) -> str:
    return f"{means[0]:.1f}, {means[1]:.1f}"


def _star(one: InPlan | WordOfSeveral) -> str:
    return " *" if one.heard else " (*)" if one.by_ballot_alone else ""


def _sides(counts: Counted) -> str:
    return f"{counts.first_only}:{counts.second_only}"


def _tell_left_out(left_out: tuple[LeftOut, ...]) -> None:
    for one in left_out:
        say(f"Not among these: {one.plan}, {one.why}.")


def _document_of_several(one: BallotOfSeveral) -> dict[str, Any]:
    stated: dict[str, Any] = documents.plain(one)
    return stated | {"about": _whom(one), "pairs_exploratory": True}


def _document(one: PooledBallots, tracks: dict[str, str]) -> dict[str, Any]:
    stated: dict[str, Any] = documents.plain(one)
    for word in stated["words"]:
        for block in word["blocks"]:
            block["track"] = tracks.get(block["track"], block["track"])
    return stated | {"about": _whom(one), "exploratory": True}


COMMANDS = {"words": words}
