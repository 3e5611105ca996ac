"""What the desk itself can do of the steps that wait: a page to open or long work to begin; else the command. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from urllib.parse import urlencode

from ..plans.next_steps import Step


@dataclass(frozen=True)
class Deed:
    """A step with what does it: a page (`go`), or an address to which `body` is sent; with neither, `command` alone."""

    what: str
    command: str
    label: str = ""
    go: str = ""
    post: str = ""
    body: tuple[tuple[str, object], ...] = ()
    words: tuple[str, ...] = ()

    @property
    def told(self) -> str:
        """The step as a sentence begins; a plan's name that leads it stays as it is."""
        named = len(self.words) > 1 and self.what.startswith(self.words[1])
        return self.what if named else self.what[:1].upper() + self.what[1:]

    @property
    def fields(self) -> dict[str, object]:
        """The body as it is sent."""
        return dict(self.body)


def plan_page(name: str) -> str:
    """Where a plan is shown."""
    return f"/desk/plan?{urlencode({'name': name})}"


CHAIR = "chair"  # the address of the chair page holds a code, which who draws the page knows


def deed(step: Step, hint: str) -> Deed:
    """What does a step here; `hint` is how a command names the casebook."""
    return replace(_deed(step, hint), words=step.words)


def _deed(step: Step, hint: str) -> Deed:
    words, what, command = step.words, step.what, step.command(hint)
    named = {"setups": _of(words, "--setup"), "passages": _of(words, "--passage")}
    match words:
        case ("setup", "add", *_):
            return Deed(what, command, "Compare two folders of recordings", go="/desk/compare")
        case ("passage", "suggest", *_):
            return Deed(what, command, "Look for passages", post="/desk/work/suggest")
        case ("match", "files"):
            return Deed(what, command, "Match levels", post="/desk/work/match", body=_body(named))
        case ("match", "files", *rest) if set(rest[::2]) <= {"--setup", "--passage"}:
            return Deed(what, command, "Match levels", post="/desk/work/match", body=_body(named))
        case ("match", "mic" | "volts", *_):
            return Deed(what, command, "Match gear in the room", go="/desk/match")
        case ("giveaways", *_):
            mend, polarity = "--mend" in words, "--polarity" in words
            label = "Mend and check again" if mend else "Look for giveaways"
            body = _body({**named, "mend": mend, "polarity": polarity})
            return Deed(what, command, label, post="/desk/work/check", body=body)
        case ("seal" | "phrase", name, *_) | ("edit", "draft", name, *_) | ("plan", "show" | "close", name, *_):
            return Deed(what, command, "See the plan", go=plan_page(name))
        case ("plan", *_):
            return Deed(what, command, "Plan a test", go="/desk/plan/new")
        case ("listen", *_):
            return Deed(what, command, "Open the chair page", go=CHAIR)
        case ("report",) | ("verdict", *_):
            return Deed(what, command, "See the results", go="/desk/results")
        case ("crosscheck", *_):
            return Deed(what, command, "Words and curves", go="/desk/crosscheck")
        case ("curve", "show", *_):
            return Deed(what, command, "See the curves", go="/desk/curves")
    return Deed(what, command)


def _of(words: tuple[str, ...], option: str) -> tuple[str, ...]:
    return tuple(value for name, value in pairwise(words) if name == option)


def _body(fields: Mapping[str, object]) -> tuple[tuple[str, object], ...]:
    return tuple(fields.items())
