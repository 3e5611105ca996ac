"""What a claim rests on, as it is typed: plans, words, curves and facts by their names, found in the casebook.

A plan is PLAN, PLAN:not-shown or PLAN:SETUP (preferred). A word is its identifier, or SETUP:TERM, or SETUP,OTHER:TERM.
A curve is SETUP:more:60-120 or SETUP,OTHER:less:2000-4000:1.5 (at least so many dB), with curves' identifiers in place
of setups where single ones are meant. A fact is SETUP:WHAT, SETUP:WHAT:agrees or SETUP:WHAT:differs.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Literal

from ...casebook import catalogue, near_names
from ...casebook.catalogue import Setup
from ...casebook.store import Casebook
from ...errors import CatalogueError, SessionsError
from ...measured import curve_records, fact_rows, stated_values
from ...plans import plan_rows
from ...words import log
from .claim_rows import HEARD, NOT_SHOWN, CurveSays, FactSays, PlanSays, WordSays

BAND = re.compile(r"(?P<low>[0-9]+(?:\.[0-9]+)?)\s*(?:-|to)\s*(?P<high>[0-9]+(?:\.[0-9]+)?)(?:\s*Hz)?", re.IGNORECASE)
LEAST = re.compile(r"(?P<db>[0-9]+(?:\.[0-9]+)?)(?:\s*dB)?", re.IGNORECASE)
SAYS_NOT_SHOWN = ("not-shown", "not shown")
OF_A_FACT: dict[str, Literal["stated", "agrees", "differs"]] = {
    "stated": "stated",
    "agrees": "agrees",
    "differs": "differs",
}


def plan(casebook: Casebook, typed: str) -> PlanSays:
    """What is claimed of a plan: heard, unless something else is typed behind a colon.

    Raises
    ------
    CatalogueError
        If there is no such sealed plan, or it does not ask what is claimed of it.
    """
    name, _, says = typed.partition(":")
    found = plan_rows.sealed(casebook, name.strip())
    if found is None:
        raise CatalogueError(
            near_names.unknown("sealed plan", name.strip(), plan_rows.sealed_names(casebook), " in this casebook")
        )
    own, says = found.plan, " ".join(says.split())
    if not says or says == HEARD:
        return PlanSays(own.id)
    if says in SAYS_NOT_SHOWN:
        return PlanSays(own.id, NOT_SHOWN)
    preferred = next((one.id for one in own.setups if says in (one.name, one.id)), None)
    if preferred is None:
        names = ", ".join(one.name for one in own.setups)
        raise CatalogueError(
            f"{typed!r}: behind the colon stands heard, not-shown or a setup that it compared ({names})"
        )
    if not own.method.asks_preference:
        raise CatalogueError(f"{own.name!r} asked whether a difference is heard, and not which setup is preferred")
    return PlanSays(own.id, preferred)


def word(casebook: Casebook, typed: str) -> WordSays:
    """A logged word by its identifier, or a term said of one setup, or of one rather than of another.

    Raises
    ------
    CatalogueError
        If there is no such word or setup, or no term.
    """
    if ":" not in typed:
        if not any(one.id == typed for one in log.words(casebook, corrected=True)):
            raise CatalogueError(
                f"no word {typed!r}; name one by its id (earwitness word list), or type SETUP:TERM or SETUP,OTHER:TERM"
            )
        return WordSays(word=typed)
    of, _, term = typed.partition(":")
    if not term.strip():
        raise CatalogueError(f"{typed!r}: which word? Type it behind the colon, like sallow:airy")
    return WordSays(
        setups=_several(of, lambda name: catalogue.find(casebook, Setup, name).id), term=" ".join(term.split())
    )


def curve(casebook: Casebook, typed: str) -> CurveSays:
    """What is claimed of a band of curves.

    Raises
    ------
    CatalogueError
        If there are no such setups or curves, or it does not say on which side, in which band.
    """
    of, *said = (part.strip() for part in typed.split(":"))
    form = f"{typed!r}: type it like sallow,bracken:more:60-120, with the least dB behind it if you like (:1.5)"
    if len(said) not in (2, 3) or said[0] not in ("more", "less"):
        raise CatalogueError(form)
    band, least = BAND.fullmatch(said[1]), LEAST.fullmatch(said[2]) if len(said) == 3 else None
    if band is None or (len(said) == 3 and least is None):
        raise CatalogueError(form)
    low, high = float(band["low"]), float(band["high"])
    if not 0 < low < high:
        raise CatalogueError(f"{typed!r}: a band goes up, like 60-120")
    names = _several(of, lambda name: _curve_or_setup(casebook, name))
    return CurveSays(names, "more" if said[0] == "more" else "less", low, high, float(least["db"]) if least else 0.0)


def fact(casebook: Casebook, typed: str) -> FactSays:
    """What the maker of a setup states, and what is claimed of it.

    Raises
    ------
    CatalogueError
        If there is no such setup, or nothing of the kind is stated of it.
    """
    name, *said = (part.strip() for part in typed.split(":"))
    if len(said) not in (1, 2) or not said[0] or (len(said) == 2 and said[1] not in OF_A_FACT):
        raise CatalogueError(f"{typed!r}: type it like sallow:sensitivity, sallow:sensitivity:agrees or :differs")
    setup, what = catalogue.find(casebook, Setup, name), stated_values.name_of(said[0])
    kept = [one.what for one in fact_rows.of_setup(casebook, setup)]
    if what not in kept:
        raise CatalogueError(near_names.unknown("fact", what, kept, f" of {setup.name!r}"))
    return FactSays(setup.id, what, OF_A_FACT[said[1]] if len(said) == 2 else "stated")


def _curve_or_setup(casebook: Casebook, name: str) -> str:
    if name.startswith("curve-") and catalogue.named(casebook, Setup, name) is None:
        return curve_records.by_id(casebook, name).id
    return catalogue.find(casebook, Setup, name).id


def _several(typed: str, find: Callable[[str], str]) -> tuple[str, ...]:
    """One thing or two, with a comma between; names may hold commas themselves.

    Raises
    ------
    CatalogueError
        What finding the first refuses, if neither reading is found.
    """
    parts = typed.split(",")
    readings = [(typed,), *((",".join(parts[:at]), ",".join(parts[at:])) for at in range(1, len(parts)))]
    refused: SessionsError | None = None
    for names in readings:
        try:
            found = tuple(find(name.strip()) for name in names)
        except SessionsError as error:
            refused = error
            continue
        if len(set(found)) != len(found):
            raise CatalogueError(f"{typed!r} names one thing twice; name two, or one alone")
        return found
    assert refused is not None
    raise refused
