"""The captions of a soundtrack as WebVTT (W3C), and its moments as video descriptions take them. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from .soundtrack import Cue


def webvtt(cues: Sequence[Cue], rate_hz: int) -> str:
    """The captions, one cue for each thing that is heard."""
    blocks = [
        f"{number}\n{_stamp(cue.start, rate_hz)} --> {_stamp(cue.end, rate_hz)}\n{_text(cue.words)}\n"
        for number, cue in enumerate(cues, start=1)
    ]
    return "\n".join(["WEBVTT\n", *blocks])


def moments(cues: Sequence[Cue], rate_hz: int) -> list[str]:
    """Where each trial begins, counted from the start of the soundtrack: ``0:01 Trial 1 of 8``."""
    first: dict[int, Cue] = {}
    for cue in cues:
        first.setdefault(cue.trial, cue)
    return [f"{cue.start // rate_hz // 60}:{cue.start // rate_hz % 60:02} {cue.words}" for cue in first.values()]


def _stamp(frame: int, rate_hz: int) -> str:
    whole = round(1000 * frame / rate_hz)
    seconds, thousandths = divmod(whole, 1000)
    return f"{seconds // 3600:02}:{seconds // 60 % 60:02}:{seconds % 60:02}.{thousandths:03}"


def _text(words: str) -> str:
    """A cue's text: three signs are written out, and nothing in it ends the cue or is an arrow (WebVTT, 4.2.2)."""
    text = " ".join(words.split())
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
