"""What was said of two setups, word by word: of which one rather, and how. It is "said", never "heard"."""

from __future__ import annotations

from collections.abc import Sequence

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..plans import words_in_trials
from ..words import log
from ..words.blindness import LABELS, LabelledWord
from ..words.lexicon import Lexicon
from .crosscheck import WordOfTwo


def said_of(casebook: Casebook, setups: Sequence[Setup], lexicon: Lexicon) -> list[WordOfTwo]:
    """The words in force of two setups by headword, those said most often first; liking and all others alike."""
    said = words_in_trials.labelled(casebook, log.words(casebook))
    return in_words(said, (setups[0].id, setups[1].id), (setups[0].name, setups[1].name), lexicon)


def in_words(
    said: Sequence[LabelledWord], setup_ids: tuple[str, str], names: tuple[str, str], lexicon: Lexicon
) -> list[WordOfTwo]:
    """The same from labelled words: each counted in tracks, since one heard ten times is one piece of music still."""
    alike: dict[str, list[LabelledWord]] = {}
    for one in said:
        if one.setup_id in setup_ids:
            alike.setdefault(lexicon.headword(one.word.term), []).append(one)
    found = []
    for every in sorted(alike.values(), key=lambda own: -len(own)):
        first, second = (
            len({one.word.track or "" for one in every if one.setup_id == setup_id}) for setup_id in setup_ids
        )
        how = ", ".join(f"{label} {times}" for label in LABELS if (times := sum(one.label == label for one in every)))
        counts = f"of {names[0]} in {first}, of {names[1]} in {second} {'track' if second == 1 else 'tracks'}"
        entry = lexicon.find(every[0].word.term)
        found.append(
            WordOfTwo(
                entry.word if entry else every[0].word.term,
                None if first == second else first > second,
                "said",
                f"{counts}; {how}",
            )
        )
    return found
