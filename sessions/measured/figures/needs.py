"""What figures need of a setup's curves, and the sentence that says what lacks. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from shlex import quote

from ...errors import CatalogueError
from ..curve_comparison import CurveComparison
from ..curve_records import CurveRecord, no_axis
from ..curve_summary import set_of
from ..makers_facts import CheckedFact
from ..one_session import OneSession, one_session
from .figure import Subject


class NotMeasured(CatalogueError):
    """What a figure needs was not measured yet: there is nothing to draw, and there are no numbers."""


def on_axis(subject: Subject, figure: str) -> CurveRecord:
    """The newest curve on axis."""
    found = subject.measured.on_axis
    if found is None:
        raise NotMeasured(no_axis(subject.measured))
    return found


def impulse_on_axis(subject: Subject, figure: str) -> CurveRecord:
    """The newest curve on axis, which must be an impulse response."""
    found = on_axis(subject, figure)
    if found.kind != "impulse":
        raise CatalogueError(f"{figure} follows from an impulse response; add one as WAV")
    return found


def directions(subject: Subject, figure: str) -> OneSession:
    """The directions of one session, the axis among them: the one that gives most, the newest of equals."""
    on_axis(subject, figure)
    if figure == "directivity":
        return set_of(subject.measured)
    return one_session(subject.measured, plane="vertical" if "vertical" in figure else "horizontal")


def comparison(subject: Subject, figure: str) -> CurveComparison:
    """Two curves side by side."""
    if subject.comparison is None:
        raise CatalogueError(f"a {figure} needs a second setup with a curve; add --against SETUP")
    return subject.comparison


def impedance(subject: Subject, figure: str) -> CurveRecord:
    """The newest impedance."""
    found = subject.measured.impedance
    if found is None:
        if (single := subject.measured.single) is not None:
            raise NotMeasured(_alone_without(single, "impedance"))
        name = subject.name
        others = [one.id for one in subject.measured.everything if one.kind == "impedance"]
        if others:
            raise NotMeasured(
                f"{name!r} has no impedance of its own, only of a driver, side or place ({', '.join(others)}); name "
                "one with --curve ID"
            )
        raise NotMeasured(f"{name!r} has no impedance yet: earwitness curve add {quote(name)} FILE --unit ohm")
    return found


def distortion(subject: Subject, figure: str) -> Mapping[int, CurveRecord]:
    """The newest distortion curve of each harmonic."""
    if not subject.measured.distortion:
        if (single := subject.measured.single) is not None:
            raise NotMeasured(f"{_alone_without(single, 'distortion')}; it is taken with earwitness curve sweep")
        raise NotMeasured(f"{subject.name!r} has no distortion yet; it is taken with earwitness curve sweep")
    return subject.measured.distortion


def _alone_without(single: CurveRecord, what: str) -> str:
    return f"{single.id} alone ({single.kind}) has no {what}; leave --curve out to see its setup's"


def facts(subject: Subject, figure: str) -> Sequence[CheckedFact]:
    """What the maker states, each beside what was measured of it."""
    if not subject.facts:
        name = subject.name
        raise NotMeasured(
            f"nothing is kept of what the maker of {name!r} states: earwitness setup fact {quote(name)} WHAT VALUE"
        )
    return subject.facts
