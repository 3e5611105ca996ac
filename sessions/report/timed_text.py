"""Timed text beside a video, as WebVTT (the W3C's grammar of it). Pure."""

from __future__ import annotations

from collections.abc import Iterable


def webvtt(cues: Iterable[str], note: str = "") -> str:
    """A file of some cues; `note` is for whoever opens it, and shown to nobody."""
    return "\n\n".join(["WEBVTT", *([f"NOTE {note}"] if note else []), *cues]) + "\n"


def cue(name: str, start_ms: int, end_ms: int, lines: Iterable[str]) -> str:
    """A cue: what is shown from one time to another, ms, in lines.

    >>> print(cue("claim 1", 62_000, 3_605_250, ["Bass & treble -->  more", "shown"]))
    claim 1
    00:01:02.000 --> 01:00:05.250
    Bass &amp; treble --&gt; more
    shown
    """
    return "\n".join([name, f"{_stamp(start_ms)} --> {_stamp(end_ms)}", *map(_plain, lines)])


def _stamp(ms: int) -> str:
    seconds, rest = divmod(ms, 1000)
    return f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}.{rest:03d}"


def _plain(line: str) -> str:
    """A line as it stands in a cue: what would be read as a tag, an entity or an arrow is written out (4.2.2)."""
    return " ".join(line.split()).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
