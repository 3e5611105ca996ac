"""The sheet for filming: each sentence, what it came to, how it may be said, where in the music to play it. Pure."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass

from audio import track_time

from ...casebook.spreadsheet_text import guarded
from .. import templates
from . import standing
from .claim_rows import Standing
from .standing import JudgedClaim, TrackTime
from .wording import FOUND_BY_A_LIST

ADVICE: dict[Standing, str] = {
    "shown": "Can be said as it stands.",
    "opinion": "To be said as your own impression.",
    "not shown": "Not to be said so: it was not shown.",
    "contradicted": "Not to be said: its evidence says the opposite.",
}
EXPLORATORY = "Can be said as what an exploratory test showed: none of the primary questions."
SOFTENED = "Can be said once it is worded so that it says no more than its evidence."
MOST_TIMES = 6  # in the music, of one claim; more are told by their number
TEMPLATE = "claims_sheet.html"
COLUMNS = (
    "number", "id", "sentence", "standing", "how to say it", "says too much", "evidence", "in the music",
    "video from", "video to", "changed since it was given out", "note",
)  # fmt: skip
OF_MARKDOWN = re.compile(r"([\\`*_{}\[\]<>#|])")


@dataclass(frozen=True)
class SheetLine:
    """One claim as the sheet shows it, all in words."""

    number: int
    id: str
    text: str
    standing: Standing
    advice: str
    overstated: Sequence[str]
    evidence: Sequence[str]
    times: Sequence[str]
    video_from: str
    video_to: str
    changed: Sequence[str]
    note: str
    told: str

    @property
    def video(self) -> str:
        """When it is said in the video; empty where nobody said."""
        return " to ".join(filter(None, (self.video_from, self.video_to)))


@dataclass(frozen=True)
class Sheet:
    """All claims, in their order."""

    title: str
    made_at: str
    lines: Sequence[SheetLine]

    @property
    def counted(self) -> str:
        """How many claims came to what."""
        told = standing.counted((line.standing, bool(line.overstated)) for line in self.lines)
        return f"{len(self.lines)} {'claim' if len(self.lines) == 1 else 'claims'}: {', '.join(told)}." if told else ""


def sheet(title: str, made_at: str, judged: Sequence[JudgedClaim]) -> Sheet:
    """The sheet of some claims."""
    return Sheet(title, made_at, [_line(one) for one in judged])


def markdown(made: Sheet) -> str:
    """The sheet as Markdown (CommonMark)."""
    rows = [
        f"# {_plain(made.title)}",
        "",
        f"Made {made.made_at} by earwitness. {made.counted}",
        "",
        FOUND_BY_A_LIST,
        "",
    ]
    for line in made.lines:
        rows += [f"## {line.number}. {_plain(line.text)}", "", f"**{line.told.upper()}** {line.advice}", ""]
        rows += [f"- says more than its evidence: {_plain(one)}" for one in line.overstated]
        rows += [f"- changed: {_plain(one)}" for one in line.changed]
        rows += [f"- {_plain(one)}" for one in line.evidence] or ["- it names no evidence"]
        rows += [f"- in the music: {_plain('; '.join(line.times))}"] if line.times else []
        rows += [f"- in the video: {line.video}"] if line.video else []
        rows += [f"- note: {_plain(line.note)}"] if line.note else []
        rows += [""]
    return "\n".join(rows)


def html(made: Sheet) -> str:
    """The sheet as one page that fetches nothing."""
    return (
        templates.environment("sessions.report.claims", ".")
        .get_template(TEMPLATE)
        .render(sheet=made, found_by_a_list=FOUND_BY_A_LIST)
    )


def table(made: Sheet) -> str:
    """The sheet as CSV (RFC 4180), a claim a row; no cell is one that a spreadsheet would run."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for line in made.lines:
        cells = [line.number, line.id, line.text, line.standing, line.advice]
        cells += ["; ".join(lines) for lines in (line.overstated, line.evidence, line.times)]
        cells += [line.video_from, line.video_to, "; ".join(line.changed), line.note]
        writer.writerow([guarded(cell) if isinstance(cell, str) else cell for cell in cells])
    return out.getvalue()


def place_told(time: TrackTime) -> str:
    """Where in the music, in words.

    >>> place_told(TrackTime("strings", 12_000, 16_000, "played in evening"))
    'strings 0:12 to 0:16 (played in evening)'
    """
    start = "" if time.from_ms is None else f" {track_time.told(time.from_ms / 1000)}"
    end = "" if time.to_ms is None else f" to {track_time.told(time.to_ms / 1000)}"
    return f"{time.track}{start}{end} ({time.what})"


def _line(one: JudgedClaim) -> SheetLine:
    claim, content = one.claim, one.claim.content
    times = [place_told(time) for time in one.times]
    if len(times) > MOST_TIMES:
        times = [*times[:MOST_TIMES], f"and {len(times) - MOST_TIMES} more"]
    video = ["" if at is None else track_time.told(at / 1000) for at in (content.video_from_ms, content.video_to_ms)]
    return SheetLine(
        claim.number, claim.id, claim.text, one.standing, _advice(one),
        [mark.told for mark in one.overstated], [part.told for part in one.parts], times, video[0], video[1],
        one.changed, content.note, one.told,
    )  # fmt: skip


def _advice(one: JudgedClaim) -> str:
    if one.standing != "shown":
        return ADVICE[one.standing]
    return SOFTENED if one.overstated else EXPLORATORY if one.exploratory else ADVICE["shown"]


def _plain(text: str) -> str:
    """Words as they stand, whatever Markdown would make of them."""
    return OF_MARKDOWN.sub(r"\\\1", text)
