"""Every claim of a casebook with its standing, worked out anew from the data. It writes nothing.

A plan that is not over tells nothing but that: a claim on it is not shown. What is said of plans and words is what
`verdict` and `crosscheck` say of them; this module only asks whether that bears the claim.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, partial

from stats.count_summary import HEARD, NOT_SHOWN

from ...casebook import catalogue
from ...casebook.catalogue import Listener, Setup, Track
from ...casebook.store import Casebook
from ...measured import makers_facts
from ...plans import words_in_trials
from ...results import first_lines, how_answered, review, unit_in_ballots, words_of_two
from ...results.crosschecked import WordOfTwo
from ...results.review import Review, ReviewedPlan
from ...results.verdict import VOID, Verdict
from ...words import lexicon_rows, log
from ...words.blindness import SIGHTED, LabelledWord
from ...words.lexicon import Lexicon
from . import claim_rows, claimed_curves, sentence_bounds, standing, unborne, wording, words_said
from .claim_rows import Claim, CurveSays, FactSays, PlanSays, Standing, WordSays
from .sentence_bounds import Names
from .standing import JudgedClaim, Part, TrackTime
from .wording import Bearing

GONE = "it is no longer in this casebook"


@dataclass(frozen=True)
class _Found:
    """A part of the evidence, and what else of it bears on the wording: what it is about, and who was asked."""

    part: Part
    setups: tuple[str, ...] = ()
    asked: tuple[str, ...] = ()
    blind_test: bool = False
    preference_test: bool = False
    words: tuple[LabelledWord, ...] = ()
    stated_alone: bool = False


def every(casebook: Casebook, *, reviewed: Review | None = None) -> list[JudgedClaim]:
    """All claims that were not taken back, judged.

    Parameters
    ----------
    reviewed
        The review of the casebook, where it was made already.
    """
    return of(casebook, [one for one in claim_rows.everything(casebook) if not one.withdrawn], reviewed=reviewed)


def of(casebook: Casebook, claims: Sequence[Claim], *, reviewed: Review | None = None) -> list[JudgedClaim]:
    """Some claims, judged; of one that was taken back what its evidence says."""
    evidence = _Evidence(casebook, reviewed)
    return [_judged(one, evidence) for one in claims]


def _judged(claim: Claim, evidence: _Evidence) -> JudgedClaim:
    content = claim.content
    asked = [
        *(partial(evidence.plan, one) for one in content.plans),
        *(partial(evidence.word, one, claim.text) for one in content.words),
        *(partial(evidence.curve, one) for one in content.curves),
        *(partial(evidence.fact, one, claim.text) for one in content.facts),
    ]
    found = [review.by_itself(ask, lambda why: _Found(Part("evidence", "not shown", why))) for ask in asked]
    parts = tuple(one.part for one in found)
    said = [word for one in found for word in one.words]
    comes_to = standing.weakest(parts)
    not_shown = any(one.says == claim_rows.NOT_SHOWN for one in content.plans)
    bearing = Bearing(
        listeners=frozenset(name for part in parts for name in part.listeners),
        blind_test=any(one.blind_test for one in found),
        preference_test=any(one.preference_test for one in found),
        measured=bool(content.curves or content.facts),
        sighted_words=bool(said) and all(word.label == SIGHTED for word in said),
        not_shown=not_shown,
        nothing_shown=not_shown or comes_to in ("not shown", "contradicted"),
        relative_curves=bool(content.curves) and not content.facts,
        makers_word=bool(found) and all(one.stated_alone for one in found),
        setups=frozenset(name for one in found for name in one.setups),
        asked=frozenset(name for one in found for name in one.asked),
    )
    marked = [
        *wording.overstated(claim.text, bearing),
        *sentence_bounds.unsaid(claim.text, bearing, evidence.names),
    ]
    unborne_too = unborne.named(claim.text, [part.told for part in parts], evidence.lexicon, evidence.names.every)
    marked += [one for one in unborne_too if not any(one.words in before.words for before in marked)]
    return JudgedClaim(claim, comes_to, parts, tuple(marked), standing.changes(claim, comes_to, parts))


class _Evidence:
    """What claims may rest on, each read once, and only if a claim asks for it."""

    def __init__(self, casebook: Casebook, reviewed: Review | None) -> None:
        self.casebook = casebook
        self._given = reviewed

    @cached_property
    def _plans(self) -> dict[str, ReviewedPlan]:
        found = self._given or review.review(self.casebook)
        return {one.sealed.plan.id: one for one in found.plans}

    @cached_property
    def _words(self) -> list[LabelledWord]:
        return words_in_trials.labelled(self.casebook, log.words(self.casebook, corrected=True))

    @cached_property
    def lexicon(self) -> Lexicon:
        """Of the words for sound, as it is in force."""
        return lexicon_rows.in_force(self.casebook)

    @cached_property
    def _tracks(self) -> dict[str, str]:
        return dict(catalogue.names(self.casebook, Track))

    @cached_property
    def names(self) -> Names:
        """Of all setups and listeners, which a sentence may name."""
        setups, listeners = catalogue.names(self.casebook, Setup), catalogue.names(self.casebook, Listener)
        return Names(tuple(setups.values()), tuple(listeners.values()))

    def plan(self, claimed: PlanSays) -> _Found:
        """A plan's verdict beside what is claimed of it."""
        one = self._plans.get(claimed.plan)
        if one is None:
            return _Found(Part("plan", "not shown", GONE))
        verdict = one.verdict
        by = () if verdict.outcome is None else tuple(how_answered.who(verdict.outcome))
        preference = verdict.plan.method.asks_preference
        comes_to, said = _of_verdict(verdict, claimed)
        counts = verdict.verdict in (HEARD, NOT_SHOWN)
        part = Part(
            f"plan {verdict.plan.name}", comes_to, said, by, self._passages(verdict) if counts else (),
            exploratory=not verdict.plan.primary,
        )  # fmt: skip
        setups, asked = (tuple(one.name for one in named) for named in (verdict.plan.setups, verdict.plan.listeners))
        return _Found(part, setups, asked, blind_test=counts, preference_test=counts and preference)

    def word(self, claimed: WordSays, sentence: str) -> _Found:
        """A logged word, what was said of one setup, or what ballots came to between two.

        What a ballot did not show, and somebody said, is borne as the impression that the sentence says it is.
        """
        if claimed.word:
            return self._logged(claimed.word)
        setups = [self._setup(one) for one in claimed.setups]
        own = [
            one
            for one in self._words
            if one.setup_id == setups[0].id
            and not one.word.corrected
            and self.lexicon.headword(one.word.term) == self.lexicon.headword(claimed.term)
        ]
        one = len(setups) == 1
        found = self._said_of(setups[0], claimed.term, own) if one else self._of_two(setups, claimed.term, own)
        if not (own and found.part.standing == "not shown" and sentence_bounds.says_impression(sentence)):
            return found
        often = words_said.counted(own)
        said = f"an impression, {often}; no ballot shows it: {found.part.said.removesuffix(f'; {often}')}"
        part = Part(found.part.what, "opinion", said, words_said.by(own), words_said.times(own))
        return _Found(part, found.setups, found.asked, words=tuple(own))

    def curve(self, claimed: CurveSays) -> _Found:
        """A band of one curve, or of the difference of two."""
        of = tuple(claimed_curves.setup_of(self.casebook, one) for one in claimed.of)
        return _Found(claimed_curves.part(self.casebook, claimed), of)

    def fact(self, claimed: FactSays, sentence: str) -> _Found:
        """A maker's fact, and what was measured beside it.

        What was measured otherwise bears a sentence only as what the maker states.
        """
        setup = self._setup(claimed.setup)
        what = f"fact {setup.name}, {claimed.what}"
        checked = next(
            (one for one in makers_facts.of_setup(self.casebook, setup) if one.fact.what == claimed.what), None
        )
        if checked is None:
            return _Found(Part(what, "not shown", "the maker states it no longer"), (setup.name,))
        if claimed.says == "stated":
            said = f"as the maker states: {checked.fact.value} ({checked.fact.source})"
            if checked.outcome != makers_facts.DIFFERS:
                alone = checked.outcome != makers_facts.AGREES
                return _Found(Part(what, "shown", said), (setup.name,), stated_alone=alone)
            said += f"; what was measured does not agree: {checked.measured}"
            of_maker = sentence_bounds.says_who_states(sentence)
            return _Found(Part(what, "shown" if of_maker else "contradicted", said), (setup.name,))
        wanted, other = makers_facts.AGREES, makers_facts.DIFFERS
        if claimed.says == "differs":
            wanted, other = other, wanted
        comes_to: Standing = (
            "shown" if checked.outcome == wanted else "contradicted" if checked.outcome == other else "not shown"
        )
        return _Found(Part(what, comes_to, checked.sentence), (setup.name,))

    def _setup(self, setup_id: str) -> Setup:
        return catalogue.find(self.casebook, Setup, setup_id)

    def _logged(self, word_id: str) -> _Found:
        one = next((word for word in self._words if word.word.id == word_id), None)
        if one is None:
            return _Found(Part("word", "not shown", GONE))
        word = one.word
        said = f"said of {one.of}, strength {word.strength}, {one.label}, by {word.listener}"
        what = f"word {word.term}"
        if word.corrected:
            return _Found(
                Part(what, "not shown", f"{said}; it was {'taken back' if word.taken_back else 'corrected'} since")
            )
        return _Found(Part(what, "opinion", said, (word.listener,), words_said.times([one])), (one.of,), words=(one,))

    def _said_of(self, setup: Setup, term: str, own: Sequence[LabelledWord]) -> _Found:
        what = f"word {term} of {setup.name}"
        headword = self.lexicon.headword(term)
        asked = [
            one
            for one in unit_in_ballots.beside_others(self._plans.values(), setup.id, self.lexicon)
            if self.lexicon.headword(one.word.term) == headword
        ]
        if not asked:
            return self._unasked(what, own, (setup.name,))
        of_others = {
            other: words_said.of_ballots([one.word for one in asked if one.other == other])
            for other in dict.fromkeys(one.other for one in asked)
        }
        comes_to = words_said.of_some(set(of_others.values()))
        beside = (setup.name, *of_others)
        return self._asked(what, comes_to, [(one.word, one.told) for one in asked], own, beside)

    def _of_two(self, setups: Sequence[Setup], term: str, own: Sequence[LabelledWord]) -> _Found:
        what = f"word {term} of {setups[0].name} rather than of {setups[1].name}"
        ids = (setups[0].id, setups[1].id)
        asked = [
            word
            for one in unit_in_ballots.held(self._plans.values())
            for word in words_of_two.of_judged(one.verdict, one.record, ids, self.lexicon)
            if self.lexicon.headword(word.term) == self.lexicon.headword(term)
        ]
        names = tuple(one.name for one in setups)
        if not asked:
            return self._unasked(what, own, names)
        told = [(word, f"{word.evidence}: {word.how}") for word in asked]
        return self._asked(what, words_said.of_ballots(asked), told, own, names)

    def _unasked(self, what: str, own: Sequence[LabelledWord], of: tuple[str, ...]) -> _Found:
        """A word that no ballot asked for: what was said of it stands as an opinion."""
        none = "no ballot that is over asked for it"
        if not own:
            return _Found(Part(what, "not shown", f"{none}, and nobody said it"), of)
        return _Found(
            Part(what, "opinion", f"{none}; {words_said.counted(own)}", words_said.by(own), words_said.times(own)),
            of,
            words=tuple(own),
        )

    def _asked(
        self,
        what: str,
        comes_to: Standing,
        asked: Sequence[tuple[WordOfTwo, str]],
        own: Sequence[LabelledWord],
        of: tuple[str, ...],
    ) -> _Found:
        """A word that ballots asked for: they decide; what was said of it besides is told, and bears nothing."""
        told = [one for _, one in asked] + ([words_said.counted(own)] if own else [])
        decides = {"shown": True, "contradicted": False}.get(comes_to)
        words = [word for word, _ in asked if decides is None or word.first is decides]
        by = tuple(dict.fromkeys(name for word in words for name in word.listeners))
        names = {word.ballot for word in words}
        plans = [one.verdict for one in self._plans.values() if one.verdict.plan.name in names]
        times = dict.fromkeys(time for one in plans for time in self._passages(one))
        aside = bool(plans) and not any(one.plan.primary for one in plans)
        part = Part(what, comes_to, "; ".join(told), by, (*words_said.times(own), *times), exploratory=aside)
        asked_of = tuple(one.name for verdict in plans for one in verdict.plan.listeners)
        return _Found(part, of, asked_of, blind_test=True)

    def _passages(self, verdict: Verdict) -> tuple[TrackTime, ...]:
        """Where in the music a plan's passages lie."""
        found = []
        for one in verdict.plan.passages:
            start = one.cut_start_frame / one.cut_rate_hz
            end = start + one.length_s
            track = self._tracks.get(one.track_id, one.name)
            found.append(TrackTime(track, round(1000 * start), round(1000 * end), f"played in {verdict.plan.name}"))
        return tuple(found)


def _of_verdict(verdict: Verdict, claimed: PlanSays) -> tuple[Standing, str]:
    """Whether a verdict bears what is claimed, and what it says; of a plan that is not over only that."""
    if verdict.verdict is None:
        return "not shown", f"it has no verdict ({verdict.state})"
    headline = first_lines.first_lines(verdict)[0].partition(": ")[2].rstrip(".")
    if verdict.outcome is not None and verdict.verdict in (HEARD, NOT_SHOWN):
        headline += f"; {how_answered.answered(verdict.outcome, verdict)}"
    if verdict.verdict == VOID:
        return "not shown", headline
    taken_away = verdict.verdict == HEARD and bool(first_lines.but_alone(verdict))
    if claimed.says == claim_rows.NOT_SHOWN:
        if verdict.verdict == HEARD:
            return ("not shown" if taken_away else "contradicted"), headline
        could = verdict.verdict == NOT_SHOWN and not how_answered.heard_alone(verdict)
        if could and words_of_two.no_answers_could_show(verdict):
            return "not shown", f"{headline}; no answers could have shown it, so that it says nothing"
        return ("shown" if could else "not shown"), headline
    if verdict.verdict != HEARD or taken_away:
        return "not shown", headline
    if claimed.says == claim_rows.HEARD:
        return "shown", headline
    preferred = next((one.id for one in verdict.plan.setups if one.name == verdict.preferred), None)
    if preferred is None:
        return "not shown", headline
    return ("shown" if preferred == claimed.says else "contradicted"), headline
