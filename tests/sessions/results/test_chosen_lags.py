"""A place in the music that somebody chose by hand stands beside the verdict and in the report."""

from __future__ import annotations

import json

import pytest

from audio.alignment.one_lag import Fit
from sessions.casebook import alignments, catalogue, recordings
from sessions.casebook.alignments import Alignment
from sessions.casebook.catalogue import Track
from sessions.casebook.store import Casebook
from sessions.plans import drafting, seals
from sessions.plans.plan_rows import Wish
from tests.command_line import earwitness

SAID = (
    "Chosen by hand: that the recording of drums through bracken lies 0.000 s late against the first; "
    "1.500 s early fitted as well."
)


@pytest.mark.parametrize(
    ("when", "chosen", "said"), [("before", True, True), ("before", False, False), ("after", True, False)]
)
def test_a_lag_chosen_before_the_seal_is_said(casebook: Casebook, when: str, chosen: bool, said: bool) -> None:
    drafting.draft(casebook, Wish("abx", ("sallow", "bracken"), listeners=("Ada",), trials=8), "evening")
    if when == "after":
        seals.seal(casebook, "evening")
    first, second = recordings.of_track(casebook, catalogue.find(casebook, Track, "drums"))
    fits = (Fit(lag, 0.0, 0.99, 0.0, 0.0, 0.0) for lag in (0.0, -1.5))
    hashes = first.sha256, second.sha256
    laid = Alignment(first.id, second.id, *hashes, *fits, 0.0, 0.0, settled=True, chosen=chosen)
    with casebook.writing():
        alignments.keep(casebook, [laid])
    if when == "before":
        seals.seal(casebook, "evening")
    assert (f"  {SAID}\n" in earwitness(casebook.folder, "verdict").stdout) == said
    document = json.loads(earwitness(casebook.folder, "verdict", "--json").stdout)["plans"][0]
    assert document.get("chosen_lags") == ([SAID] if said else None)
    assert earwitness(casebook.folder, "report").returncode == 0
    page = (casebook.folder / "report.html").read_text(encoding="utf-8")
    assert (SAID in page) == said
