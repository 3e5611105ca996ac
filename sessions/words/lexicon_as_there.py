"""Taking a lexicon over from somewhere else as it stands there: its renames and merges too. Pure.

A row there may hold what are several words here, under another name. Words here that the other lexicon does not name
stay as they are.
"""

from __future__ import annotations

from dataclasses import replace

from .folding import folded
from .lexicon import Entry, Lexicon
from .lexicon_changes import Change, changed


def changes_towards(lexicon: Lexicon, there: Entry) -> list[Change]:
    """What makes of the words here that an entry there names the entry as it is there; none where it is so already.

    Words here that it names as its own or among its synonyms are merged, the first of them renamed; synonyms that
    nothing here knows are added and merged, so that a word which came with the program goes on as one that did.

    Raises
    ------
    CatalogueError
        If that cannot be: two of the words say opposite things, or a name of it stands here under a word that it does
        not name.
    """
    names = [there.word, *there.synonyms, *there.translations.values()]
    named = {folded(name) for name in names}
    found = dict.fromkeys(entry.word for entry in map(lexicon.holding, names) if entry is not None)
    here = [word for word in found if folded(word) in named]
    made: list[Change] = []
    after = lexicon
    if here:
        kept = _kept(after, here, there)
        if kept != there.word:
            made.append(Change("rename", kept, there.word))
            after = changed(after, made[-1])
        for word in here:
            if word != kept:
                made.append(Change("merge", word, there.word))
                after = changed(after, made[-1])
        for name in there.synonyms:
            if after.holding(name) is None:
                for change in (Change("add", name, entry=Entry(name)), Change("merge", name, there.word)):
                    made.append(change)
                    after = changed(after, change)
    now = after.entries.get(there.word)
    if now is None or not _alike(now, there):
        made.append(Change("add", there.word, entry=there))
        changed(after, made[-1])
    return made


def _kept(lexicon: Lexicon, here: list[str], there: Entry) -> str:
    """Which of the words here goes on as the one there: of its name, else of its meaning, else the first."""
    stands = lexicon.holding(there.word)
    if stands is not None and stands.word in here:
        return stands.word
    return next((word for word in here if lexicon.entries[word].definition == there.definition), here[0])


def _alike(one: Entry, other: Entry) -> bool:
    """Whether two entries say the same; in which order the synonyms stand, and whose word it is, does not count."""
    plain = {"own": False, "synonyms": ()}
    return {*map(folded, one.synonyms)} == {*map(folded, other.synonyms)} and (
        replace(one, **plain) == replace(other, **plain)  # type: ignore[arg-type]
    )
