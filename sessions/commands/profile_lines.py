"""A setup's word profile as lines for people. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from shlex import quote

from ..words.lexicon import ASK_WHAT_WAS_HEARD
from ..words.profile import Profile, Use
from ..words.tracks_described import TracksDescribed
from .context import counted, table
from .plain_text import in_one_line

MOST_WEEKS = 6  # columns of weeks that have room in a window of 80 columns


def profile_lines(found: Profile) -> list[str]:
    """What was said of the setup, what is usual elsewhere, what it is about, and when."""
    name = in_one_line(found.setup)
    if not found.used:
        log = f"earwitness word log WORD --setup {quote(found.setup)} --track NAME"
        return [f"Nothing was said of {name} yet: {log}", *_never(found)]
    against = (
        f"set against {counted(found.others, 'other setup')} {_with_tracks(found)}"
        if found.others
        else "no other setup was described yet"
    )
    where = TracksDescribed(found.tracks, found.outside).told()
    lines = [f"Words of {name}, described {where}; {against}. This counts, and tests nothing."]
    lines.append(
        table(
            ["word", "tracks", "other setups", "times", "in a blind trial"],
            [
                [
                    one.word,
                    _in_tracks(one, found),
                    f"{one.elsewhere} of {found.others}" if found.others else "-",
                    str(one.times),
                    str(one.in_blind_trials or "-"),
                ]
                for one in found.used
            ],
        )
    )
    lines += [*_never(found), *_families(found), *_weeks(found)]
    lines += [f"{one.word!r} {ASK_WHAT_WAS_HEARD}" for one in found.used if one.likes]
    return lines


def _with_tracks(found: Profile) -> str:
    tracks = found.tracks_elsewhere
    if not tracks:
        return "described outside of any track"
    each = ", counted for each setup by itself" if found.others > 1 else ""
    return f"with {counted(tracks, 'track')}{each}"


def _in_tracks(one: Use, found: Profile) -> str:
    """In how many of the tracks a word was said; where in none of them, that it was outside of any."""
    return f"{one.tracks} of {found.tracks}" if one.tracks else "outside"


def _never(found: Profile) -> Iterator[str]:
    if found.never:
        usual = ", ".join(f"{one.word} ({one.elsewhere} of {found.others})" for one in found.never)
        yield f"Said of most other setups and never of this one: {usual}."


def _families(found: Profile) -> Iterator[str]:
    yield f"By family: {', '.join(f'{family} {times}' for family, times in found.families.items())}."


def _weeks(found: Profile) -> Iterator[str]:
    """How often in which week, where there is more than one; only the last ones where they are many."""
    weeks = sorted({week for one in found.used for week in one.weeks})
    if len(weeks) < 2:
        return
    shown = weeks[-MOST_WEEKS:]
    rows = [[one.word, *(str(one.weeks.get(week, "-")) for week in shown)] for one in found.used if _within(one, shown)]
    yield "By week" + (f" (the last {MOST_WEEKS} of {len(weeks)})" if len(weeks) > MOST_WEEKS else "") + ":"
    yield table(["word", *shown], rows)


def _within(one: Use, weeks: list[str]) -> bool:
    return any(week in one.weeks for week in weeks)
