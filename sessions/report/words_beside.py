"""The words of ballots beside the measured difference of their setups: what is drawn over it, what is told under it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from itertools import combinations

from audio.curves.lanes import Marked

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..measured.band_effect import REST
from ..results import review, words_of_two
from ..results.crosscheck import NO_CAUSE
from ..results.crosscheck_of_two import crosscheck_of_two
from ..results.crosschecked import Crosschecked
from ..results.plan_record import PlanRecord
from ..results.verdict import Verdict
from ..words import lexicon_rows
from .drawing import Drawing, Drawn, Sketch

EXPLAINED = (
    "Whole bar: measured; broken: not, or it cannot be told. The band that is stated for a word of the blind ballot is "
    "a hypothesis, not a cause"
)
REHEARSED = "A REHEARSAL, never counted. "


def marks(found: Iterable[Crosschecked], said: Callable[[Crosschecked], str]) -> list[Marked]:
    """The words that have an effect in a band, each over it, as `said` tells it; a whole bar where it was measured.

    Those that were heard come first, and of these and the others the ones that are measured most apart: where a picture
    has room for some, it has room for these.
    """
    return [
        Marked(one.entry.low_hz or 0.0, one.entry.high_hz or 0.0, said(one), one.measured)
        for one in sorted(found, key=lambda one: (one.rank, -abs(one.effect.db) if one.effect else 0.0))
        if one.entry is not None and one.effect is not None
    ]


def sketched(
    casebook: Casebook, judged: Sequence[tuple[PlanRecord, Verdict]], drawing: Drawing
) -> list[list[Sketch | Drawn]]:
    """For each plan the pictures of its ballot's words, which begin to be drawn; none of other plans."""
    found = [
        review.by_itself(
            partial(_sketched, casebook, record, verdict), lambda reason: [Drawn("", f"Words and curves: {reason}")]
        )
        for record, verdict in judged
    ]
    return [[drawing.begin(one) if isinstance(one, Sketch) else one for one in own] for own in found]


def _sketched(casebook: Casebook, record: PlanRecord, verdict: Verdict) -> list[Sketch | Drawn]:
    if not verdict.plan.method.asks_words or verdict.outcome is None:
        return []
    pictures = list[Sketch | Drawn]()
    setups = [catalogue.find(casebook, Setup, own.id) for own in verdict.plan.setups]
    for two in combinations(setups, 2):
        made = _of_two(casebook, record, verdict, two)
        pictures += [made] if made else []
    return pictures


def _of_two(casebook: Casebook, record: PlanRecord, verdict: Verdict, two: tuple[Setup, Setup]) -> Sketch | None:
    """The difference of two setups with the words on it; of a ballot of more only where a word sets these two apart."""
    from ..measured.figures.responses import Difference

    lexicon = lexicon_rows.in_force(casebook)
    words = words_of_two.of_judged(verdict, record, (two[0].id, two[1].id), lexicon, rehearsed=verdict.rehearsal)
    many = len(verdict.plan.setups) > 2
    if not words or (many and not any(one.evidence == "heard among several" for one in words)):
        return None
    found = crosscheck_of_two(casebook, two, words, lexicon)
    if found.compared is None:
        return None
    explained = f"{REHEARSED if verdict.rehearsal else ''}{EXPLAINED}"
    marked = marks(found.words, lambda one: f"{one.word.name}: {one.told}")
    caption = f"{REHEARSED if verdict.rehearsal else ''}The words of the ballot on the measured difference"
    below = [f"{one.word.name}: {one.told} ({one.word.how}; {one.why})." for one in found.words]
    below += [f"Not used: {run}." for run in found.aside]
    return Sketch(
        Difference(found.compared, marked, explained),
        f"{caption}, {found.names[0]} less {found.names[1]}.",
        [*below, REST, NO_CAUSE],
    )
