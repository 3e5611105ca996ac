"""A proposed passage and a track looked through, as facts, and what people are told of them. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from audio import track_time
from audio.loudness_pattern import CELL_S
from audio.passages import Silence, Survey, Wish

from ..casebook.catalogue import Track


@dataclass(frozen=True)
class ProposedPassage:
    """One proposed passage of a track, counted in frames at the track's rate.

    Attributes
    ----------
    difference_sone, loudness_sone
        How far the loudness patterns of the setups differ in it on average, and how loud it is.
    telling
        Whether it was chosen for its difference.
    marks_s
        The reviewer's moments for which it was taken, in seconds of the track: around them or, where no passage could
        hold one, nearest to it.
    """

    track: Track
    start_frame: int
    frames: int
    rate_hz: int
    difference_sone: float
    loudness_sone: float
    telling: bool
    marks_s: tuple[float, ...]

    @property
    def start_s(self) -> float:
        """Where it starts, in seconds."""
        return self.start_frame / self.rate_hz

    @property
    def end_s(self) -> float:
        """Where it ends, in seconds."""
        return (self.start_frame + self.frames) / self.rate_hz

    @property
    def marks_held_s(self) -> tuple[float, ...]:
        """Those of the moments that it holds."""
        return tuple(mark_s for mark_s in self.marks_s if self.start_s <= mark_s <= self.end_s)

    @property
    def differ_percent(self) -> float:
        """How far the setups differ in it to the ear, on average, once equally loud."""
        return 100 * self.difference_sone / self.loudness_sone if self.loudness_sone else 0.0

    @property
    def marked(self) -> str:
        """The reviewer's moments it was chosen by, in words; empty where there are none."""
        held, missed = self.marks_held_s, [mark_s for mark_s in self.marks_s if mark_s not in self.marks_held_s]
        parts = [f"{'holds' if self.telling else 'around'} your mark at {_told(held)}"] if held else []
        if missed:
            parts.append(
                f"does not hold your mark at {_told(missed)}: the recordings are out of step there, or one is silent; "
                "it is the nearest that could be cut"
            )
        return "; ".join(parts)

    @property
    def what(self) -> str:
        """What it was chosen by, in words."""
        by = f"{self.difference_sone:.1f} of {self.loudness_sone:.0f} sone of loudness"
        differ = f"to the ear they differ by about {self.differ_percent:.0f} % on average, once equally loud ({by})"
        return f"{self.marked}; {differ}" if self.marked else differ

    def to_document(self) -> dict[str, Any]:
        """The proposal as the command line prints it."""
        return {
            "track": self.track.name,
            "start_frame": self.start_frame,
            "frames": self.frames,
            "rate_hz": self.rate_hz,
            "start_s": self.start_s,
            "end_s": self.end_s,
            "difference_sone": self.difference_sone,
            "loudness_sone": self.loudness_sone,
            "by": [*(["difference"] if self.telling else []), *(["mark"] if self.marks_s else [])],
            "marks_s": list(self.marks_s),
            "marks_held_s": list(self.marks_held_s),
        }


def _told(marks_s: Sequence[float]) -> str:
    return " and ".join(track_time.marked(mark_s) for mark_s in marks_s)


@dataclass(frozen=True, eq=False)
class LookedThrough:
    """A track as it was looked through from some second on: its survey, and what is proposed of it."""

    track: Track
    start_s: float
    rate_hz: int
    survey: Survey

    @property
    def passages(self) -> list[ProposedPassage]:
        """The most telling first, then those around marks."""
        start = round(self.start_s * self.rate_hz)
        return [
            ProposedPassage(
                self.track, start + part.start_frame, part.frames, self.rate_hz, part.difference_sone,
                part.loudness_sone, part.telling, tuple(self.start_s + mark_s for mark_s in part.marks_s),
            )
            for part in self.survey.proposals
        ]  # fmt: skip

    @property
    def silences(self) -> list[str]:
        """Where in the whole track one setup is silent and another plays on, in words: no passage's check sees that.

        Pauses in which another's hum or noise is heard are told once of each setup.
        """
        silent = [each for each in self.survey.silences if not each.is_pause]
        pauses: dict[str, list[Silence]] = {}
        for each in self.survey.silences:
            if each.is_pause:
                pauses.setdefault(each.setup, []).append(each)
        return [
            f"{each.setup} is silent {self._place(each)}, where another setup plays on (a dropout?); keep passages "
            "away from there, or bring another recording"
            for each in silent
        ] + [
            f"{name} pauses {self._place(first)}{_times_more(rest)}, where a hum or a noise of another setup is heard; "
            "find where that comes from, or keep passages away from there"
            for name, (first, *rest) in pauses.items()
        ]

    def fewer_than(self, count: int) -> str:
        """Why fewer were chosen for their difference than were asked for, in words; empty where as many were."""
        found, shortest_s = sum(part.telling for part in self.survey.proposals), Wish().length_s[0]
        if found >= count:
            return ""
        left = (
            f"of music that all recordings hold it has {self._held_s:.0f} s, too few for {count} of {shortest_s:g} s "
            "that do not overlap"
            if round(self._held_s) < count * shortest_s
            else f"elsewhere no {shortest_s:g} s are left in which the recordings are in step and not nearly silent"
        )
        return f"{found} of the {count} passages asked for: {left}"

    @property
    def _held_s(self) -> float:
        """How long it was looked at, in seconds, to half a second."""
        return float(self.survey.moments_s[-1] - self.survey.moments_s[0]) + CELL_S

    def _place(self, silence: Silence) -> str:
        begin, end = (track_time.told(self.start_s + at_s, 1) for at_s in (silence.begin_s, silence.end_s))
        return f"from {begin} to {end}"


def _times_more(rest: Sequence[Silence]) -> str:
    if not rest:
        return ""
    return " and once more" if len(rest) == 1 else f" and {len(rest)} times more"
