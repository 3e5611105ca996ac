"""What the match sheets and giveaway checks say of a passage, for whoever lists passages and drafts.

It loads no arithmetic, so that a list is there at once.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from ..casebook.catalogue import Passage
from ..casebook.documents import Kept
from .accepted_kinds import Accepting
from .checked_pairs import Checked, PairChecks
from .evidence_in_force import CheckedFinding, SheetPassage, SheetSummary, Sources


@dataclass(frozen=True)
class Evidence:
    """The sheets (by passage) and checks there are, and what they must fit."""

    sheets: Mapping[str, Sequence[tuple[Kept[SheetSummary], SheetPassage]]]
    checks: PairChecks
    sources: Sources
    real: frozenset[str]
    sheet_holds: Callable[[str, Collection[str]], bool]
    """Whether the newest sheet of a passage and setups holds, asked of `evidence_in_force`, which loads arithmetic."""
    accepting: Sequence[Accepting]
    called: Mapping[str, str]

    def match(self, passage_id: str, setups: Collection[str] | None) -> tuple[Kept[SheetSummary], SheetPassage] | None:
        """The newest sheet with this passage and these setups (None: whichever it has), and its part of the sheet."""
        for kept, part in self.sheets.get(passage_id, ()):
            if setups is None or set(setups) <= {file.setup for file in part.prepared.setups}:
                return kept, part
        return None

    def holds(self, kept: Kept[SheetSummary], part: SheetPassage, setups: Collection[str] | None) -> bool:
        """Whether a sheet's part on a passage is still what would be prepared now of these setups (None: of all)."""
        files = [file for file in part.prepared.setups if setups is None or file.setup in setups]
        passage = part.prepared.passage
        if not self.sources.hold(files, passage, self.real, kept.seq):
            return False
        mended = self.sources.mended_since(passage, kept.seq)
        return not mended or self.sheet_holds(passage, {file.setup for file in files})

    def check(
        self, passage: Passage, setups: Mapping[str, str], match: tuple[Kept[SheetSummary], SheetPassage]
    ) -> Checked:
        """What was found between these setups (names by identifier) in what a sheet prepared of a passage."""
        kept, part = match
        played = {file.setup: file.sha256 for file in part.prepared.setups}
        return self.checks.between((passage.id, passage.name), setups, played, kept.seq)

    def unmatched(self, passage: Passage) -> Checked:
        """What was found of a passage that is not matched, by its checks, but for what a match mends."""
        holders = {one: name for one, name in self.called.items() if (one, passage.track_id) in self.sources.files}
        after = max(self.sources.mended.get(passage.id, 0), self.sources.laid.get(passage.track_id, 0))
        found = self.checks.between((passage.id, passage.name), holders, after=after)
        return replace(found, found=tuple(one for one in found.found if one.kind != "level"), notes=())

    def accepted(self, passage: Passage, found: Sequence[CheckedFinding]) -> tuple[str, ...]:
        """Which kinds of these findings a draft or plan accepts that plays the passage."""
        named, ids = (passage.id, passage.name), {name: one for one, name in self.called.items()}
        kinds = dict.fromkeys(one.kind for one in found)
        return tuple(
            kind
            for kind in kinds
            if all(any(each.takes(one, named, ids) for each in self.accepting) for one in found if one.kind == kind)
        )
