"""The report as one self-contained HTML page: no script, nothing fetched from anywhere."""

from __future__ import annotations

import shlex
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from ..casebook import playback_chain
from ..errors import CasebookError
from ..preparation import meanings
from ..results import end_sentences, review, sentences, terms
from ..results.outcome import PairedComparison
from ..results.verdict import NOT_BEGUN, RUNNING
from . import level_tables, names_now, operator_words, qr_codes, result_pictures, templates, trial_pictures
from .claims import sheet
from .claims.wording import FOUND_BY_A_LIST
from .contents import Part, Report
from .drawing import Drawn
from .level_tables import LevelTable
from .measured_pictures import Measured

if TYPE_CHECKING:
    from markupsafe import Markup

    from .templates import Environment

TEMPLATE, PART, PRINT, LEVELS = "page.html", "plan_part.html", "plan_print.html", "levels.html"
BY_WORDS = {
    "bs1770": "loudness after ITU-R BS.1770",
    "a": "A-weighted level",
    "c": "C-weighted level",
    "band": "the level from 500 to 2000 Hz",
    "z": "the unweighted level from 20 Hz to 20 kHz",
    "mic": "the level at the microphone in the room",
    "volts": "the voltage at the amplifier's terminals",
}


def _by_words(by: str) -> str:
    spl_db = meanings.full_scale_spl(by)
    if not spl_db:
        return BY_WORDS[by]
    return f"loudness after ISO 532-1 ({meanings.method(by)}; full scale taken to play at {spl_db} dB SPL)"


class MeasuredGroup(NamedTuple):
    """Some setups' measurements under their names; without a title where they are all there is."""

    title: str
    measured: Measured


@cache
def _environment() -> Environment:
    return templates.environment("sessions.report", ".")


def load() -> None:
    """Load and read all that a page needs, which takes longer than to make it."""
    qr_codes.load()
    for name in (TEMPLATE, PART, LEVELS):
        _environment().get_template(name)


def render(report: Report) -> str:
    """The page's text."""
    tables = level_tables.level_tables(report.parts)
    environment = _environment()
    environment.globals |= {
        "trials_picture": lambda part, strip: _picture(lambda: trial_pictures.trials(strip.marks, _names(part))),
        "result_pictures": _result_pictures,
        "planned": sentences.planned,
        "by_words": _by_words,
        "meanings": meanings.meanings,
        "described": playback_chain.described,
        "told_now": names_now.told,
        "tables": tables,
        "uncertainties": level_tables.uncertainties,
        "explained": terms.explained,
        "wins": _wins,
        "seal_code": lambda part: _picture(
            lambda: qr_codes.svg(qr_codes.seal_text(part.seal, part.plan.document["rule"]))
        ),
        "operated": lambda part: operator_words.operated(
            part.plan, part.begun, is_open=part.verdict.state in (RUNNING, NOT_BEGUN)
        ),
        "age": end_sentences.age,
        "shown_when": end_sentences.when,
        "quoted": shlex.quote,
        "fine_print_apart": report.review is not None,
        "place_told": sheet.place_told,
        "found_by_a_list": FOUND_BY_A_LIST,
    }
    return environment.get_template(TEMPLATE).render(
        report=report,
        section=lambda part: _section(environment, part),
        fine_print=lambda part: _fine_print(environment, part),
        levels=lambda: _levels(environment, list(tables.values())),
        measured=_measured(report),
        tables=tables,
    )


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
        "<section><h2>{}</h2><div class=verdict><p>{}</p><p>{}</p><p>The rest cannot be shown: {}</p></div></section>"
    )
    return review.by_itself(
        lambda: Markup(environment.get_template(PART).render(part=part)),
        lambda reason: failed.format(part.plan.name, *part.told.first, reason),
    )


def _fine_print(environment: Environment, part: Part) -> Markup:
    """How a plan was sealed and can be checked, where that stands apart from it; where it cannot be shown, why."""
    from markupsafe import Markup

    failed = Markup("<p>{}: its fine print cannot be shown: {}</p>")
    return review.by_itself(
        lambda: Markup(environment.get_template(PRINT).render(part=part)),
        lambda reason: failed.format(part.plan.name, reason),
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


def _levels(environment: Environment, tables: list[LevelTable]) -> Markup:
    """The tables of levels; where they cannot be shown, why."""
    from markupsafe import Markup

    failed = Markup("<h2>How the levels were matched</h2><p>The levels cannot be shown: {}</p>")
    return review.by_itself(lambda: Markup(environment.get_template(LEVELS).render(tables=tables)), failed.format)


def _measured(report: Report) -> list[MeasuredGroup]:
    """What was measured, by the setups compared; what stands in several plans stands once."""
    alone, groups, shown = report.measured, list[MeasuredGroup](), set[str]()
    if alone.sentences or alone.pictures:
        groups.append(MeasuredGroup(" and ".join(report.review.names) if report.review else "", alone))
        shown |= {*alone.sentences, *(f"{one.drawn}{one.caption}" for one in alone.pictures)}
    for part in report.parts:
        said = [one for one in part.measured.sentences if one not in shown]
        pictures = [one for one in part.measured.pictures if f"{one.drawn}{one.caption}" not in shown]
        shown |= {*said, *(f"{one.drawn}{one.caption}" for one in pictures)}
        if said or pictures:
            named = " and ".join(setup.name for setup in part.plan.setups)
            groups.append(MeasuredGroup(named, Measured(said, pictures)))
    return groups


def _wins(part: Part) -> dict[str, dict[str, int]] | None:
    """How often each setup of a round robin was preferred to each other; None for other methods."""
    found = part.verdict.outcome
    return found.by_names if isinstance(found, PairedComparison) else None
