"""A reviewer's lexicon as the casebook keeps it: what was shipped, and each change since. All of its SQL is here.

Changes are protected rows: a word that was renamed or merged is found in what was logged before under its old name.
"""

from __future__ import annotations

import shlex
from collections.abc import Sequence

from ..casebook import documents
from ..casebook.store import Casebook, new_row
from ..errors import CatalogueError
from .folding import folded
from .lexicon import NEWEST, Lexicon, entry_of, row_of
from .lexicon_changes import Change, changed, laid_over


def in_force(casebook: Casebook) -> Lexicon:
    """The lexicon as it stands: the newest that is shipped, until a change fixed with which one this casebook began."""
    return laid_over(changes(casebook))


def changes(casebook: Casebook) -> list[Change]:
    """All changes, in the order in which they were made."""
    rows = casebook.query("SELECT kind, word, into_word, document FROM lexicon_changes ORDER BY seq")
    return [
        Change(row["kind"], row["word"], row["into_word"], entry_of(said) if (said := _said(row["document"])) else None)
        for row in rows
    ]


def keep(casebook: Casebook, made: Sequence[Change]) -> Lexicon:
    """Keep changes, all or none, and with the first ones which number they were made to; the lexicon after them.

    Raises
    ------
    CatalogueError
        If one of them cannot be made, renames a word to what it is called already, or names a word that is folded into
        a headword, which would be renamed or merged whole.
    """
    before = changes(casebook)
    begun = [] if before or not made else [Change("take up", str(NEWEST))]
    after = laid_over([*before, *begun])
    for one in made:
        _check_new_name(after, one)
        _check_whole(after, one)
        after = changed(after, one)
    casebook.append_many(
        new_row(
            "lexicon_changes",
            "lexicon",
            {
                "kind": one.kind,
                "word": one.word,
                "into_word": one.into,
                "document": documents.text_of(row_of(one.entry) if one.entry else None),
            },
        )
        for one in (*begun, *made)
    )
    return after


def _check_new_name(lexicon: Lexicon, change: Change) -> None:
    """Nothing, if a word is not renamed to what it is called already; asked here, since such changes may be kept."""
    old = lexicon.holding(change.word)
    if change.kind != "rename" or old is None or folded(change.into) != folded(old.word):
        return
    if folded(change.word) != folded(old.word):
        raise CatalogueError(f"{change.word!r} counts as {old.word!r} already; there is nothing to rename")
    if " ".join(change.into.split()) == old.word:
        raise CatalogueError(f"{old.word!r} is called so already; there is nothing to rename")


def _check_whole(lexicon: Lexicon, change: Change) -> None:
    """Nothing, if a rename or a merge names the headword that it changes; asked here, since others may be kept."""
    old = lexicon.holding(change.word)
    if change.kind not in ("rename", "merge") or old is None or folded(change.word) == folded(old.word):
        return
    if change.kind == "merge" and lexicon.holding(change.into) is old:
        return  # that they are one word already is said where it is made
    names = ", ".join((old.word, *old.synonyms))
    alone, whole, into = (shlex.quote(name) for name in (change.word, old.word, change.into))
    raise CatalogueError(
        f"{change.word!r} is folded into {old.word!r} ({names}). To take it out of there first: earwitness lexicon add "
        f"{alone} --own; to {change.kind} all of them: earwitness lexicon {change.kind} {whole} {into}"
    )


def _said(text: str) -> dict[str, str] | None:
    value = documents.value_of(text)
    return {str(name): str(part) for name, part in value.items()} if isinstance(value, dict) else None
