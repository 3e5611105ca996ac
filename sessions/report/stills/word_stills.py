"""Ranked lists of words for a video: what was said of a setup, and what a blind ballot came to. Pure.

What was said is ranked by tracks, since a word said ten times in one is one piece of music still; each mark is a track,
by how blind the word was said in it at best.
"""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from dataclasses import replace
from math import ceil

from audio.curves import card
from audio.curves.card import Mark, Row
from audio.curves.still import Still

from ...errors import CatalogueError
from ...results.ballot_outcomes import BallotWord, WordBallots
from ...results.first_lines import REHEARSAL
from ...results.verdict import UNDECIDED, VOID, Verdict
from ...words.blindness import IN_A_BLIND_TRIAL, LABELS, SAID_TO_BE_BLIND, SIGHTED, LabelledWord
from ...words.lexicon import Lexicon

MARKS: dict[str, Mark] = {IN_A_BLIND_TRIAL: "whole", SAID_TO_BE_BLIND: "half", SIGHTED: "hollow"}
SAID_BELOW = f"A mark for each track{{}}. Filled: {IN_A_BLIND_TRIAL}; half: {SAID_TO_BE_BLIND}; hollow: {SIGHTED}"
TICKED_BELOW = "A mark for {} in which it was ticked of one alone. Bold and filled: heard"
MOST_MARKS = 18


def said_still(words: Sequence[LabelledWord], setup_id: str, name: str, lexicon: Lexicon) -> Still:
    """The words said of a setup, those of most tracks first.

    Raises
    ------
    CatalogueError
        If none was said of it.
    """
    alike: dict[str, list[LabelledWord]] = {}
    for one in words:
        if one.setup_id == setup_id and not one.word.corrected:
            alike.setdefault(lexicon.headword(one.word.term), []).append(one)
    if not alike:
        raise CatalogueError(f"nothing was said of {name!r} yet: earwitness word log TERM --setup {name!r}")
    rows = [_said(own, lexicon) for own in alike.values()]
    rows.sort(key=lambda row: (-len(row.marks), [_RANK[mark] for mark in row.marks], row.words))
    cut = f", {MOST_MARKS} at most" if any(len(row.marks) > MOST_MARKS for row in rows) else ""
    drawn = [replace(row, marks=row.marks[:MOST_MARKS]) for row in rows]
    return card.list_card(f"What was said of {name}", drawn, SAID_BELOW.format(cut))


def ballot_still(verdict: Verdict) -> Still:
    """The words of a blind ballot between two setups, those ticked most unlike first; said over them if none counts.

    Raises
    ------
    CatalogueError
        If it is no such ballot, or not over.
    """
    found = verdict.outcome
    if not isinstance(found, WordBallots):
        plan = verdict.plan
        if verdict.verdict is not None and plan.method.asks_words and len(plan.setups) > 2:
            raise CatalogueError(
                f"{plan.name!r} is a ballot of {len(plan.setups)} setups, and this card sets two apart; draw what it "
                f"came to: earwitness stills verdict {shlex.quote(plan.name)}, or what was said of one: earwitness "
                f"stills words {shlex.quote(plan.setups[0].name)}"
            )
        why = "not over" if verdict.verdict is None else "no ballot of ticks between two setups"
        if found is None and verdict.verdict is not None and verdict.plan.method.asks_words:
            why = "over, and none of its ticks was kept"
        raise CatalogueError(f"{verdict.plan.name!r} is {why}; name one that is, or a setup instead")
    first, second = found.setups
    ranked = sorted(found.words, key=lambda one: (-abs(one.first_only - one.second_only), one.word))
    most = max((max(one.first_only, one.second_only) for one in ranked), default=0)
    of_a_mark = max(1, ceil(most / MOST_MARKS))
    rows = [_ticked(one, first, second, of_a_mark, heard=one.word in verdict.words_heard) for one in ranked]
    aside = "" if verdict.plan.primary else ", exploratory"
    before = f"{REHEARSAL if verdict.rehearsal else ''}{_not_counted(verdict)}"
    title = f"{before}Words ticked blind{aside}: {first} or {second}"
    trials = "each trial" if of_a_mark == 1 else f"every {of_a_mark} trials (the last for the rest)"
    return card.list_card(title, rows, TICKED_BELOW.format(trials))


def _not_counted(verdict: Verdict) -> str:
    """That the ticks show nothing: of a plan that is void (an edited record's among them) or was closed early."""
    if verdict.verdict == VOID:
        return "VOID, these ticks count for nothing. "
    if verdict.verdict != UNDECIDED:
        return ""
    return f"UNDECIDED, closed after {verdict.answered} of {verdict.trials} trials: these ticks decide nothing. "


_RANK = {MARKS[label]: rank for rank, label in enumerate(LABELS)}


def _said(own: Sequence[LabelledWord], lexicon: Lexicon) -> Row:
    best: dict[str, int] = {}
    for one in own:
        track = one.word.track or ""
        best[track] = min(best.get(track, len(LABELS)), LABELS.index(one.label))
    entry = lexicon.find(own[0].word.term)
    tracks = len(best.keys() - {""})
    end = f"{tracks} {'track' if tracks == 1 else 'tracks'}" if tracks else "outside of any track"
    marks = [MARKS[LABELS[place]] for place in sorted(best.values())]
    blind = any(one.label == IN_A_BLIND_TRIAL for one in own)
    return Row(entry.word if entry else own[0].word.term, marks, end, bold=blind)


def _ticked(one: BallotWord, first: str, second: str, of_a_mark: int, *, heard: bool) -> Row:
    more = first if one.first_only >= one.second_only else second
    marks: list[Mark] = ["whole" if heard else "hollow"] * ceil(max(one.first_only, one.second_only) / of_a_mark)
    counts = f"{max(one.first_only, one.second_only)} to {min(one.first_only, one.second_only)} of {one.trials}"
    alike = one.first_only == one.second_only
    end = f"both alike, of {one.trials}" if alike else f"{more} {counts}"
    return Row(one.word, marks, end, bold=heard)
