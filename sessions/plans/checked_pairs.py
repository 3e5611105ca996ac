"""What the giveaway checks say of some setups on a passage: one rule, for whoever asks.

Each pair of the setups is asked of the newest check that compared these two, on this passage, as it is played. Of that
check a finding or note counts if all that it names are of the pair; what is between one of them and a third setup, or
between others, is about what is not played. Older checks compared their first setup with each other one, and no two of
those with each other.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations, permutations
from typing import TYPE_CHECKING

from ..casebook import catalogue_changes
from ..casebook.documents import Kept
from ..casebook.store import Casebook
from ..preparation.check_note import Note
from ..preparation.selection import Selection
from . import evidence_in_force
from .evidence_in_force import CheckedFinding, CheckSummary, SheetPassage, SheetSummary

if TYPE_CHECKING:  # whoever only lists needs no sheet whole
    from ..preparation.match_sheet import MatchSheet


@dataclass(frozen=True)
class Checked:
    """What was found and noted between some setups on a passage, by which checks, the newest first.

    `open` are the pairs that no check compared, by identifier.
    """

    found: tuple[CheckedFinding, ...]
    notes: tuple[str, ...]
    hashes: tuple[str, ...]
    open: tuple[frozenset[str], ...]


@dataclass(frozen=True)
class PairChecks:
    """The checks there are, the newest first, and the sheets by passage, which say what each of them compared."""

    casebook: Casebook
    checks: Sequence[Kept[CheckSummary]]
    sheets: Mapping[str, Sequence[tuple[Kept[SheetSummary], SheetPassage]]]
    _then: dict[tuple[str, int], Mapping[str, str]] = field(default_factory=dict)

    @classmethod
    def of(cls, casebook: Casebook) -> PairChecks:
        """Those of a casebook."""
        return cls(casebook, tuple(evidence_in_force.checks(casebook)), evidence_in_force.by_passage(casebook))

    def between(
        self,
        passage: tuple[str, str],
        setups: Mapping[str, str],
        played: Mapping[str, str] | None = None,
        after: int = 0,
    ) -> Checked:
        """What the checks say of a passage (identifier, name) between some setups (names by identifier).

        Parameters
        ----------
        played
            The hashes of what is played, by the setups' identifiers; None: whatever was compared.
        after
            Only of checks after this link of the chain.
        """
        whole = frozenset(setups)
        left = [whole] if len(whole) > 1 else []  # all at once as long as one check has compared all
        found, notes, hashes = [], [], []
        for kept in self.checks:
            if kept.seq <= after or not left:
                break
            own = self._compared(kept, passage[0], whole, played)
            if len(own) < 2:
                continue
            if left == [whole] and not self._is_among(whole, own, kept.record):
                left = [frozenset(pair) for pair in combinations(setups, 2)]
            groups = [group for group in left if self._is_among(group, own, kept.record)]
            if groups:
                left = [group for group in left if group not in groups]
                called = {**setups, **self._names_then("setups", kept.seq)}
                name = self._names_then("passages", kept.seq).get(*passage)
                named = [frozenset(called[one] for one in group) for group in groups]
                found += [one for one in kept.record.findings if one.passage == name and _is_between(one, named)]
                notes += about(kept.record.notes, name, named)
                hashes.append(kept.hash)
        still = tuple(frozenset(pair) for pair in combinations(setups, 2)) if left == [whole] else tuple(left)
        return Checked(tuple(found), tuple(dict.fromkeys(notes)), tuple(hashes), still)

    def _compared(
        self, kept: Kept[CheckSummary], passage: str, setups: frozenset[str], played: Mapping[str, str] | None
    ) -> frozenset[str]:
        """Those of the setups that a check read on a passage as they are played."""
        if passage not in kept.record.passages:
            return frozenset()
        own = setups & set(kept.record.setups)
        if not played:
            return own
        read = self._read(kept, passage)
        return frozenset(one for one in own if read.get(one) == played.get(one))

    def _read(self, kept: Kept[CheckSummary], passage: str) -> dict[str, str]:
        """The hashes of the prepared files that a check read: of the newest sheet of its setups that there was."""
        for sheet, part in self.sheets.get(passage, ()):
            files = {file.setup: file.sha256 for file in part.prepared.setups}
            if sheet.seq < kept.seq and set(kept.record.setups) <= set(files):
                return files
        return {}

    @staticmethod
    def _is_among(group: frozenset[str], own: frozenset[str], check: CheckSummary) -> bool:
        """Whether a check that read some setups compared all of a group with each other."""
        return group <= own and (check.every_pair or (len(group) == 2 and check.setups[0] in group))

    def _names_then(self, table: str, seq: int) -> Mapping[str, str]:
        if (table, seq) not in self._then:
            self._then[table, seq] = catalogue_changes.names_then(self.casebook, table, seq)
        return self._then[table, seq]


def of_selection(casebook: Casebook, selection: Selection, sheet: Kept[MatchSheet] | None) -> list[Checked]:
    """What the checks since a sheet say of what it prepared of a selection, passage by passage."""
    checks, setups = PairChecks.of(casebook), {setup.id: setup.name for setup in selection.setups}
    found = []
    for passage in selection.passages:
        part = sheet.record.passage(passage.id) if sheet else None
        played = {file.setup: file.sha256 for file in part.prepared.setups} if part else None
        found.append(checks.between((passage.id, passage.name), setups, played, sheet.seq if sheet else 0))
    return found


def _is_between(found: CheckedFinding, groups: Iterable[frozenset[str]]) -> bool:
    return any({found.setup, found.against or found.setup} <= group for group in groups)


def about(notes: Iterable[Note | str], passage: str, groups: Collection[frozenset[str]]) -> list[str]:
    """Those of a check's notes that are about a passage and setups of one group, by the names they had then.

    Of older checks a note is a sentence, and what it is about is read from it.
    """
    found = []
    for note in notes:
        if isinstance(note, Note):
            if note.passage == passage and any(group.issuperset(note.setups) for group in groups):
                found.append(note.what)
        elif any(_says(note, passage, group) for group in groups):
            found.append(note)
    return found


def _says(note: str, passage: str, setups: frozenset[str]) -> bool:
    """Whether a sentence of an older check is about a passage and some setups."""
    if note.startswith(f"passage {passage} "):
        return True
    own, between = f"{passage}: ", f"{passage}: between "
    if note.startswith(between):
        return any(note.startswith(f"{between}{one} and {other} ") for one, other in permutations(setups, 2))
    return note.startswith(own) and any(name in note[len(own) :] for name in setups)
