"""A reviewer's changes of the lexicon: words added, renamed and merged, laid over what is shipped. Pure."""

from __future__ import annotations

import shlex
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Literal

from ..errors import CatalogueError
from .folding import folded
from .lexicon import Entry, Lexicon, check, shipped

Kind = Literal["take up", "add", "rename", "merge"]


@dataclass(frozen=True)
class Change:
    """One change of a lexicon: which number it begins with, a word added, renamed, or merged into another."""

    kind: Kind
    word: str
    into: str = ""
    entry: Entry | None = None


def changed(lexicon: Lexicon, change: Change) -> Lexicon:
    """A lexicon after a change.

    Raises
    ------
    CatalogueError
        If a word that is to be changed is not there, one that comes is there already, or a word is merged into itself.
    """
    if change.kind == "take up":
        return shipped(int(change.word))
    if change.kind == "add":
        if change.entry is None:
            raise CatalogueError(f"nothing is said of the word {change.word!r} that is to be added")
        check(change.entry)
        added = replace(change.entry, own=True)
        kept = lexicon.entries.get(added.word)
        for name in (added.word, *added.synonyms, *added.translations.values()):
            other = lexicon.holding(name)
            if other is not None and other is not kept:
                raise CatalogueError(_held(name, other, added, is_there=kept is not None))
        return lexicon.with_entry(added, added.word)
    old = _standing(lexicon, change.word)
    if change.kind == "rename":
        new = " ".join(change.into.split())
        other = lexicon.holding(new)
        if other is not None and other is not old:
            raise CatalogueError(f"the lexicon has {new!r} already, under {other.word!r}; merge them instead")
        names = [name for name in (old.word, *old.synonyms) if folded(name) != folded(new)]
        renamed = replace(old, word=new, synonyms=tuple(names), source=_said_of(old))
        check(renamed)
        return lexicon.with_entry(renamed, old.word)
    into = _standing(lexicon, change.into)
    if into is old:
        raise CatalogueError(f"{change.word!r} and {change.into!r} are one word of the lexicon already")
    _check_alike(old, into)
    merged = replace(into, synonyms=(*into.synonyms, old.word, *old.synonyms, *_other_words(old, into)))
    return lexicon.with_entry(merged, old.word)


def taken_out(lexicon: Lexicon, name: str) -> Entry:
    """The headword that a name is folded into as it stands without it; nothing else of it changes.

    Raises
    ------
    CatalogueError
        If it is folded into none.
    """
    holder = lexicon.holding(name)
    if holder is None or folded(holder.word) == folded(name):
        why = "the lexicon does not have it yet" if holder is None else "it is a word of its own already"
        raise CatalogueError(f"{name!r} cannot be taken out of another word: {why}; leave --own out")
    return replace(
        holder,
        synonyms=tuple(one for one in holder.synonyms if folded(one) != folded(name)),
        translations={code: one for code, one in holder.translations.items() if folded(one) != folded(name)},
    )


def _held(name: str, other: Entry, added: Entry, *, is_there: bool) -> str:
    """Why a name cannot come into the lexicon with an entry, which may be there already, and what helps."""
    said, word = f"the lexicon has {name!r} already", shlex.quote(name)
    if folded(name) == folded(other.word):
        itself = folded(name) == folded(added.word)
        into = "INTO" if itself else shlex.quote(added.word)
        how = "to fold it into another" if itself or is_there else f"add {added.word!r} without it, then"
        return f"{said}, as a headword; {how}: earwitness lexicon merge {word} {into}"
    own = f"to take it out of there: earwitness lexicon add {word} --own"
    return f"{said}, under {other.word!r} ({', '.join((other.word, *other.synonyms))}); {own}"


def laid_over(changes: Iterable[Change]) -> Lexicon:
    """The newest lexicon that is shipped, with all changes of a casebook laid over it in their order.

    The first change says with which number the casebook began. A further such one begins the changes of another
    casebook that was brought into it: they are laid over what stands here, but for those that are made here already,
    cannot be made, or speak of a word that stands under another in the lexicon here.

    Raises
    ------
    CatalogueError
        If a change of the casebook's own cannot be made.
    """
    after, there = shipped(), 0
    for place, change in enumerate(changes):
        if change.kind == "take up" and place:
            there = int(change.word)
        elif not there:
            after = changed(after, change)
        elif there == after.number or _same_word(change.word, there, after.number):
            with suppress(CatalogueError):
                after = changed(after, change)
    return after


def _same_word(name: str, number: int, other: int) -> bool:
    """Whether two lexicons that are shipped have a word under the same headword."""
    return shipped(number).headword(name) == shipped(other).headword(name)


def _standing(lexicon: Lexicon, name: str) -> Entry:
    """The headword under which this very name stands: what is changed is named as it is, not by a form of it."""
    entry = lexicon.named(name)
    if lexicon.holding(name) is None:
        raise CatalogueError(
            f"the lexicon has no word {name!r}; it counts as {entry.word!r}: name that, or add it first"
        )
    return entry


def _said_of(entry: Entry) -> str:
    """An entry's sources, with the word that they speak of, for an entry of another name."""
    return f"of {entry.word!r}: {entry.source}" if entry.source and not entry.own else entry.source


def _check_alike(old: Entry, into: Entry) -> None:
    """Nothing, if one word may be folded into another.

    Raises
    ------
    CatalogueError
        If they say opposite things.
    """
    ends = {folded(old.opposite), folded(into.opposite)} & {folded(old.word), folded(into.word)}
    if ends or (old.says is not None and into.says is not None and old.says != into.says):
        raise CatalogueError(
            f"{old.word!r} and {into.word!r} say opposite things ({old.word}: {old.definition.lower()}; {into.word}: "
            f"{into.definition.lower()}): what was logged would turn into its contrary; they stay two words"
        )


def _other_words(old: Entry, into: Entry) -> list[str]:
    """Words of other languages that a merge must keep finding."""
    known = {folded(name) for name in (*into.translations.values(), *into.synonyms, into.word, *old.synonyms, old.word)}
    return [name for name in old.translations.values() if folded(name) not in known]
