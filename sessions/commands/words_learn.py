"""`words learn`: which bands go with each word of one reviewer, over all setups that were described and measured."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import click

from ..casebook import catalogue, documents
from ..casebook.catalogue import Listener, Setup, Track
from ..casebook.store import Casebook
from ..errors import CatalogueError
from .context import Context, counted, give, json_option, say, table
from .setups_described import described_setups

if TYPE_CHECKING:
    from collections.abc import Iterable

    from stats.leading_band import LeadingBand
    from stats.words_learned import LearnedWord

    from ..measured.unit_bands import UnitBands
    from ..results.ballots_over import LeftOut
    from ..results.learned_words import Dictionary, Material
    from ..words.blindness import LabelledWord
    from ..words.lexicon import Lexicon

NO_CAUSE = (
    "None of this says that a band is why a word was said. Setups that share a loudspeaker, or were described from one "
    "another, are not things of their own: with such, p is too small."
)
OUTSIDE = "What was said of a setup outside of any track counts as if of one more track."
ACROSS_OCTAVES = (
    "of setups with 1 dB more in the octave named first it is said in so much more of the tracks, whatever else these "
    "have more of"
)
TOGETHER = (
    'An octave after an "or" goes together with the first over these setups: which of them it is cannot be told. '
    "Setups that differ in one alone would tell."
)


@click.command("learn")
@click.option("--listener", help="Whose words; who alone said any needs no name.")
@click.option("--blind", is_flag=True, help="Only words that were said in a blind trial, or ticked in a ballot.")
@json_option
@click.pass_context
def learn(ctx: click.Context, listener: str | None, blind: bool, as_json: bool) -> None:
    """Learn which octaves go with each word of one listener, over all setups described and measured on axis.

    Words that were ticked in blind ballots count before what was said freely of the same track. Each setup is foretold
    by the others alone; a permutation test of all words together comes first. With too few setups it says how many more
    are needed, and computes nothing.
    """
    from . import kept_run_told

    context: Context = ctx.obj
    with context.open() as casebook:
        holds = kept_run_told.tell_if_edited(casebook, as_json)
        whose, setups, measured, there, left_out, lexicon = gathered(casebook, listener, blind=blind)
        found = _learned(there, measured)
        high = _above_reach(casebook, whose, measured, there, found, lexicon)
    if as_json:
        stated = _document(whose, setups, measured, there, found)
        give(stated | {"ballots_left_out": documents.plain(left_out), "above_reach": high, "record_holds": holds})
    else:
        _tell_material(whose, setups, measured, there)
        for one in left_out:
            say(f"Not counted: the ballot {one.plan}, {one.why}.")
        if found is None:
            say(declined(there, measured))
            if there.lacking:
                say("Describe and measure more: earwitness word log WORD --setup NAME --track NAME")
                say("and: earwitness curve add NAME FILE")
        else:
            _tell(there, measured, found, lexicon)
            for remark in high:
                say(f"Remarked, and it changes nothing: {remark}")
    ctx.exit(0 if found else 1)


class Gathered(NamedTuple):
    """Whose words, the setups' names by identifier, their bands, the material, ballots left out, and the lexicon."""

    whose: str
    setups: dict[str, str]
    measured: UnitBands
    there: Material
    left_out: tuple[LeftOut, ...]
    lexicon: Lexicon


def gathered(casebook: Casebook, listener: str | None, *, blind: bool = False) -> Gathered:
    """All that there is to learn from.

    Raises
    ------
    CatalogueError
        If it is not clear whose words are meant, or nobody said any.
    """
    from ..measured import curve_records
    from ..measured.conditions import ON_AXIS
    from ..measured.unit_bands import unit_bands
    from ..results import ballots_over, blind_ticks, learned_words
    from ..words import lexicon_rows

    lexicon = lexicon_rows.in_force(casebook)
    ballots = ballots_over.ticks(casebook, lexicon)
    whose, said = _said(casebook, listener, blind, [one.listener for one in ballots.presented])
    tracks = {one.id: one.name for one in catalogue.everything(casebook, Track)}
    ticked = blind_ticks.of_listener(ballots.presented, whose, tracks)
    of = learned_words.described(said, ticked)
    setups = {one.id: one.name for one in catalogue.everything(casebook, Setup) if one.id in of}
    measured = unit_bands(
        (one.id, curve_records.in_direction(casebook, one, ON_AXIS))
        for one in catalogue.everything(casebook, Setup)
        if one.id in setups
    )
    there = learned_words.material(said, measured, lexicon, ticked)
    return Gathered(whose, setups, measured, there, ballots.left_out, lexicon)


def _learned(there: Material, measured: UnitBands) -> Dictionary | None:
    from ..results import learned_words

    enough = not there.lacking and bool(there.words) and bool(measured.bands)
    return learned_words.learned(there) if enough else None


def _above_reach(
    casebook: Casebook, whose: str, measured: UnitBands, there: Material, found: Dictionary | None, lexicon: Lexicon
) -> list[str]:
    """Of the words that are read, which lie in bands above the tones that the listener noticed."""
    from ..results import crosscheck_of_two, word_reach

    if found is None or not found.learned.shown():
        return []
    whole, bands = found.learned, dict[str, tuple[float, float]]()
    for place, (word, own) in enumerate(zip(there.words, whole.words, strict=True)):
        if whole.holds(place):
            leading = own.leading.place
            bands[f"{word.word}, at {measured.bands[leading]}"] = measured.edges_hz[leading]
    reach_of = crosscheck_of_two.reach_by_name(casebook)
    return [
        *word_reach.of_bands(reach_of, bands, [whose]),
        *word_reach.of_words(reach_of, (one.word for one in there.words), [whose], lexicon),
    ]


def _said(
    casebook: Casebook, listener: str | None, blind: bool, ticking: Iterable[str]
) -> tuple[str, list[LabelledWord]]:
    """Whose words they are, and which were said freely: of the one who is named, or who alone said or ticked any.

    Raises
    ------
    CatalogueError
        If several did and nobody is named.
    """
    from ..plans import words_in_trials
    from ..words import log
    from ..words.blindness import IN_A_BLIND_TRIAL

    every = words_in_trials.labelled(casebook, log.words(casebook))
    if listener is not None:
        whose = catalogue.find(casebook, Listener, listener).name
    else:
        names = list(dict.fromkeys([*(one.word.listener for one in every), *ticking]))
        if len(names) > 1:
            raise CatalogueError(f"say whose words to learn from with --listener NAME: there are {', '.join(names)}")
        if not names:
            raise CatalogueError("no word was said yet: earwitness word log WORD --setup NAME")
        whose = names[0]
    return whose, [one for one in every if one.word.listener == whose and (not blind or one.label == IN_A_BLIND_TRIAL)]


def _tell_material(whose: str, setups: dict[str, str], measured: UnitBands, there: Material) -> None:
    """How little there is to learn from, before anything else."""
    say(described_setups(whose, measured.bands, there.described))
    if any(one.outside and one.tracks for one in there.described):
        say(OUTSIDE)
    if there.ticked:
        times = counted(there.ticked, "time")
        say(f"Ticked in blind ballots: {times}; where a ballot asked for a word of a track, its ticks alone count.")
    if there.units:
        rare = f"; left out, used alike of nearly all: {there.alike}" if there.alike else ""
        say(f"Words used differently enough to learn from: {len(there.words)}{rare}.")
    for unit, why in measured.left_out:
        say(f"Not among these: {setups[unit]}, {why}.")
    otherwise, what = measured.otherwise
    if otherwise:
        say(
            f"{otherwise} of them were measured otherwise than the most ({', '.join(what)}); that may stand for a band."
        )


def declined(there: Material, measured: UnitBands) -> str:
    """Why nothing is computed, and what more is needed."""
    from stats.words_learned import LEAST_UNITS

    from ..results.learned_words import LEAST_UNLIKE

    if there.lacking:
        return (
            f"Nothing is computed: this needs {LEAST_UNITS} setups that were described and measured, {there.lacking} "
            "more than there are. Fewer would miss even what is nearly perfect, and find what is not there."
        )
    if not measured.bands:
        return "Nothing is computed: no octave was measured validly of all of them in which they are not alike."
    return (
        f"Nothing is computed: no word is used otherwise than it mostly is of {LEAST_UNLIKE} setups or more. Log words "
        "for more tracks: earwitness word log WORD --setup NAME --track NAME"
    )


def _tell(there: Material, measured: UnitBands, found: Dictionary, lexicon: Lexicon) -> None:
    from ..results.learned_words import SHARES

    found_out = "; ".join(
        f"where {100 * share:.0f} % of how a word is used came from one octave, it would be found for "
        f"{100 * part:.0f} of 100 reviewers"
        for part, share in zip(found.found_of_simulated, SHARES, strict=True)
    )
    say(f"How little these setups may find, tried with simulated reviewers: {found_out}.")
    if there.sighted:
        say(
            f"Said sighted: {there.sighted} of {counted(there.said, 'time')}. A look, a price or a curve seen before "
            "can link a word to a band as well as the ear can."
        )
    whole = found.learned
    p = f"p {whole.p.value:.4f}, {whole.p.draws} permutations of the setups"
    if not whole.shown():
        why = "what the octaves foretell of each word is within chance"
        if whole.p.value <= _alpha():
            why = "the octaves foretell no word better than the mean of the other setups alone does"
        say(f"As a whole not shown: {why} ({p}). So no word is read.")
        return
    shown = sum(whole.holds(place) for place in range(len(there.words)))
    say(
        f"As a whole shown: the octaves foretell {shown} of {counted(len(there.words), 'word')}, of each setup by the "
        f"others alone, better than chance does ({p})."
    )
    rows = []
    for place, (word, own) in enumerate(zip(there.words, whole.words, strict=True)):
        goes = whole.holds(place)
        rows.append(
            [
                word.word,
                f"{word.units} of {len(there.units)}",
                f"{100 * own.score:.0f} %" if own.score > 0 else "none",
                f"{own.p.value:.4f}",
                _goes_with(own.leading, measured.bands) if goes else "not shown",
                f"{100 * own.leading.per_db:+.0f} % of tracks" if goes else "",
                _hypothesis(word.word, lexicon),
            ]
        )
    say(table(["word", "said of", "foretold", "p (all words)", "goes with", "a dB", "the lexicon says"], rows))
    say(f"A dB: {ACROSS_OCTAVES}. p (all words): made stricter, since so many words are looked at at once.")
    if any(whole.holds(place) and own.leading.together for place, own in enumerate(whole.words)):
        say(TOGETHER)
    say(NO_CAUSE)


def _goes_with(leading: LeadingBand, bands: tuple[str, ...]) -> str:
    """At which octave there is more or less, or at which others that go together with it."""
    ways = {n: ((leading.per_db > 0) != (n in leading.opposite)) for n in (leading.place, *leading.together)}
    return ", or ".join(f"{'more' if more else 'less'} at {bands[n]}" for n, more in ways.items())


def _hypothesis(word: str, lexicon: Lexicon) -> str:
    entry = lexicon.find(word)
    return "-" if entry is None else entry.where or "-"


def _document(
    whose: str, setups: dict[str, str], measured: UnitBands, there: Material, found: Dictionary | None
) -> dict[str, Any]:
    from stats.words_learned import LEAST_UNITS

    from ..results.learned_words import SHARES

    stated: dict[str, Any] = {
        "listener": whose,
        "units": [
            {"setup": setups[unit], "tracks": own.tracks, "outside_of_tracks": own.outside, "levels_db": list(levels)}
            for unit, own, levels in zip(there.units, there.described, there.levels_db, strict=True)
        ],
        "units_needed": LEAST_UNITS,
        "units_lacking": there.lacking,
        "bands": list(measured.bands),
        "bands_hz": [list(edges) for edges in measured.edges_hz],
        "left_out": [{"setup": setups[unit], "why": why} for unit, why in measured.left_out],
        "measured_otherwise": {"units": measured.otherwise[0], "what": list(measured.otherwise[1])},
        "times_said": there.said,
        "times_sighted": there.sighted,
        "times_ticked": there.ticked,
        "words_used_alike": there.alike,
        "words": [documents.plain(word) for word in there.words],
    }
    if found is None:
        return stated | {"computed": False, "why_not": declined(there, measured)}
    whole = found.learned
    words = [
        plain | _word_document(own, measured.bands) | {"goes_with_bands": whole.holds(place)}
        for place, (plain, own) in enumerate(zip(stated["words"], whole.words, strict=True))
    ]
    simulated = [{"share": share, "found": part} for share, part in zip(SHARES, found.found_of_simulated, strict=True)]
    return stated | {
        "computed": True,
        "found_of_simulated": simulated,
        "score": whole.score,
        "p": documents.plain(whole.p),
        "alpha": _alpha(),
        "shown": whole.shown(),
        "words": words,
        "note": NO_CAUSE,
    }


def _word_document(own: LearnedWord, bands: tuple[str, ...]) -> dict[str, Any]:
    """What was found of a word, its octaves by their names."""
    leading = own.leading
    named = {
        "octave": bands[leading.place],
        "correlation": leading.correlation,
        "per_db": leading.per_db,
        "together": [bands[n] for n in leading.together],
        "opposite": [bands[n] for n in leading.opposite],
    }
    stated: dict[str, Any] = documents.plain(own)
    return stated | {"leading": named}


def _alpha() -> float:
    from stats.words_learned import ALPHA

    return ALPHA
