"""The report as one self-contained HTML page: no script, nothing fetched from anywhere. The only user of jinja2."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..casebook import playback_chain
from ..errors import CasebookError
from ..results import end_sentences, review, sentences
from ..results.outcome import PairedComparison
from . import qr_codes, result_pictures, trial_pictures
from .contents import Drawn, Part, Report

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

TEMPLATE, PART = "page.html", "plan_part.html"
BY_WORDS = {
    "bs1770": "loudness after ITU-R BS.1770",
    "a": "A-weighted level",
    "c": "C-weighted level",
    "band": "the level from 500 to 2000 Hz",
    "mic": "the level at the microphone in the room",
    "volts": "the voltage at the amplifier's terminals",
}


def render(report: Report) -> str:
    """The page's text."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("sessions.report", "."),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals |= {
        "trials_picture": lambda part, strip: _picture(lambda: trial_pictures.trials(strip.marks, _names(part))),
        "result_pictures": _result_pictures,
        "planned": sentences.planned,
        "by_words": BY_WORDS,
        "described": playback_chain.described,
        "own_passages": _own_passages,
        "wins": _wins,
        "seal_code": lambda part: _picture(
            lambda: qr_codes.svg(qr_codes.seal_text(part.seal, part.plan.document["rule"]))
        ),
        "age": end_sentences.age,
        "shown_when": end_sentences.when,
    }
    return environment.get_template(TEMPLATE).render(report=report, section=lambda part: _section(environment, part))


def write(report: Report, path: Path) -> None:
    """Write the page.

    Raises
    ------
    CasebookError
        If it cannot be written there.
    """
    text = render(report)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        unfinished = path.with_name(path.name + ".part")
        unfinished.write_text(text, encoding="utf-8")
        unfinished.replace(path)
    except OSError as error:
        raise CasebookError(f"cannot write the report to {path}: {error.strerror}; name another place") from error


def _section(environment: Environment, part: Part) -> Markup:
    """A plan's section; where it cannot be shown, its headline and why."""
    from markupsafe import Markup

    failed = Markup(
        "<section><h2>{}</h2><div class=verdict><p>{}</p><p>The rest cannot be shown: {}</p></div></section>"
    )
    return review.by_itself(
        lambda: Markup(environment.get_template(PART).render(part=part)),
        lambda reason: failed.format(part.plan.name, part.headline, reason),
    )


def _result_pictures(part: Part) -> list[Drawn]:
    return [Drawn(_picture(picture.draw), picture.caption) for picture in result_pictures.of(part.verdict)]


def _picture(draw: Callable[[], str]) -> Markup:
    """A picture's SVG, or why there is none."""
    from markupsafe import Markup

    failed = Markup("<p>This picture cannot be drawn: {}</p>")
    return review.by_itself(lambda: Markup(draw()), failed.format)


def _names(part: Part) -> dict[str, str]:
    first, second = part.plan.places[:2]
    return {
        "graded": "answered",
        "control": "control, not counted",
        "known": "known difference, not counted",
        "tie": "no preference",
        "right": "right",
        "wrong": "wrong",
        "first": f"for {first}",
        "second": f"for {second}",
        "disturbed": "disturbed, offered again",
        "unanswered": "unanswered",
    }


def _own_passages(part: Part) -> list[dict[str, Any]]:
    """The match sheet's passages that the plan plays, with its setups only."""
    if part.sheet is None:
        return []
    wanted = {passage.id for passage in part.plan.passages}
    setups = {setup.id for setup in part.plan.setups}
    shown = []
    for stated in part.sheet.passages:
        if stated.prepared.passage in wanted:
            residual, uncertainty = stated.left_between(setups)
            own = stated.setups_of(setups)
            names = {setup.setup for setup in own}
            pairs = [pair for pair in stated.pairs if names >= set(pair.setups)]
            shown.append(
                {
                    "passage": stated.passage,
                    "setups": own,
                    "left": residual,
                    "uncertainty": uncertainty,
                    "pairs": pairs,
                }
            )
    return shown


def _wins(part: Part) -> dict[str, dict[str, int]] | None:
    """How often each setup of a round robin was preferred to each other; None for other methods."""
    found = part.verdict.outcome
    return found.by_names if isinstance(found, PairedComparison) else None
