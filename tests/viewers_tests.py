"""Viewers' tests without their sounds, as tests of what comes of them need: sealed, and ended with planted answers."""

from __future__ import annotations

from collections.abc import Iterable

from sessions.casebook.store import Casebook
from sessions.plans import seals, viewers_rows, viewers_test
from sessions.plans.viewers_rows import SealedTest
from sessions.plans.viewers_test import Form
from sessions.results import viewers_collecting, viewers_polling
from tests.sessions.viewers import planted

FORMS: tuple[Form, ...] = ("page", "soundtrack")
SECRET = bytes(range(32))
TRIALS = 5
FURTHER: dict[Form, dict[str, str | int]] = {
    "page": {"rate_hz": 16_000},
    "soundtrack": {"target_lufs": "-14", "pause_s": "6"},
}


def seal_viewers_tests(book: Casebook, plan: str, forms: Iterable[Form] = FORMS, name: str = "viewers") -> None:
    """Seal viewers' tests of a plan, called by their form."""
    sealed = seals.sealed_plan(book, plan)
    for form in forms:
        test = viewers_test.drawn_up(sealed.plan, sealed.seal, f"{name}-{form}", form, TRIALS, FURTHER[form])
        viewers_rows.keep(book, test, SECRET)


def end_viewers_test(book: Casebook, plan: str, form: Form) -> SealedTest:
    """The test, ended with 40 codes of viewers who all hear it, or with ten votes a trial that are all right."""
    sealed = viewers_rows.of_plan(book, plan, form)
    if form == "page":
        codes = planted.codes(sealed, SECRET, 40, share=1, seed=1)
        text = viewers_collecting.kept_text(one[4:].replace("-", "") for one in codes)
        return viewers_rows.open_seal(book, sealed, 40, text)
    coins = {trial: viewers_test.coin(sealed.test, SECRET, trial) for trial in range(1, TRIALS + 1)}
    votes = {trial: (0, 10) if coin else (10, 0) for trial, coin in coins.items()}
    return viewers_rows.open_seal(book, sealed, 50, viewers_polling.kept_text(votes))
