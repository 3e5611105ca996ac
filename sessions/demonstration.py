"""The demo's scenario: three imaginary loudspeakers, three comparisons, a ballot of words, simulated listeners.

All of it is invented.
It uses the same parts as a real review, in the same order; only the listeners are simulated, so every result is a
rehearsal. The sealed plans stay open, for whoever wants to take them with their own ears.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from audio.clip import Clip
from audio.curves.curve import log_grid
from audio.files import reading, writing
from demo_tracks import loudspeakers, radiation, tracks

from .casebook import catalogue
from .casebook.catalogue import Setup, Track
from .casebook.store import Casebook
from .errors import CasebookError
from .listening import simulated_listener
from .measured import curve_import
from .measured.conditions import Conditions
from .plans import checked_pairs, drafting, seals
from .plans.plan_rows import Wish
from .preparation import giveaway_check, match_files, match_sheet, passage_proposals, recording_folder
from .preparation.selection import select
from .results import review, words_of_two
from .results.crosscheck_of_two import crosscheck_of_two
from .results.crosschecked import Crosschecked
from .results.review import ReviewedPlan
from .results.verdict import Verdict
from .words import lexicon_rows, log

REVIEWER, GUEST = "Ada", "guest"
RECORDINGS, MEASURED = "recordings", "measured"


@dataclass(frozen=True)
class Rendering:
    """One setup of the demo: its name, the imaginary loudspeaker it is, and what to say of it."""

    setup: str
    loudspeaker: str
    note: str


@dataclass(frozen=True)
class Comparison:
    """One comparison: its plan's name, the two setups, and how much of it the simulated listener hears.

    `words` makes it a ballot: of these the listener links the first to the first setup, and the second to the other.
    """

    plan: str
    setups: tuple[str, str]
    hears: float
    seed: int
    what: str
    words: tuple[str, ...] = ()

    @property
    def listener(self) -> str:
        """What the simulated listener does."""
        if not self.words:
            return f"that hears {self.hears:g} of the trials"
        first, second = self.words[:2]
        return (
            f'that in {self.hears:g} of the trials ticks "{first}" of {self.setups[0]} alone and "{second}" of '
            f"{self.setups[1]} alone, and all else by chance"
        )


@dataclass(frozen=True)
class SightedWord:
    """A word of the reviewer's, said while they saw which setup played: how strong, of what, and where in the track."""

    term: str
    strength: int
    setup: str
    track: str
    at_s: float
    note: str = ""


RENDERINGS = (
    Rendering("sallow", "sallow", "the loudspeaker under review"),
    Rendering("bracken", "bracken", "another model"),
    Rendering("sallow-late", "sallow-late", "a later production run of sallow"),
    Rendering("sallow-again", "sallow", "the same pair as sallow, rendered a second time"),
)
COMPARISONS = (
    Comparison("plain", ("sallow", "bracken"), 0.9, 6, "Plainly audible: sallow against bracken"),
    Comparison("borderline", ("sallow", "sallow-late"), 0.35, 2, "Borderline: sallow against a later production run"),
    Comparison("identical", ("sallow", "sallow-again"), 0.0, 5, "Identical: sallow against itself"),
)
BALLOT = Comparison(
    "words",
    ("sallow", "bracken"),
    0.9,
    4,
    "A ballot of words, ticked blind: sallow against bracken",
    ("bass-light", "boomy", "warm", "bright", "depth"),
)
BALLOT_TRIALS = 12  # and four more in which both are the same
PLANS = (*COMPARISONS, BALLOT)
# what the reviewer of this story wrote down, sighted
WORDS = (
    SightedWord(
        "forward", 3, "sallow", "voice", 6.0, "the singer steps out; hard to tell from loudness before matching"
    ),
    SightedWord("bass-light", 2, "sallow", "chords", 4.5),
    SightedWord("warm", 3, "bracken", "strings", 3.0, "low strings have body"),
    SightedWord("boomy", 2, "bracken", "chords", 8.0, "one or two notes hang on"),
    SightedWord("airy", 2, "sallow", "texture", 5.0, "drops of rain are finer than through bracken"),
)


@dataclass(frozen=True)
class Sentence:
    """What the reviewer of this story wants to say, and what it rests on, as it is typed: plan, word, curve."""

    text: str
    plan: str = ""
    word: str = ""
    curve: str = ""


CLAIMS = (
    Sentence("Bracken has more in the bass than sallow.", curve="bracken,sallow:more:60-120:1"),
    Sentence("To me bracken is the boomy one.", word="bracken:boomy"),
    Sentence("Blind, everybody hears these two apart.", plan="plain"),
)


@dataclass(frozen=True)
class DemoResult:
    """What the demo came to."""

    passages: int
    residual_lu: float
    tolerance_lu: float
    giveaways: int
    seals: list[str]
    verdicts: list[Verdict]
    words: tuple[Crosschecked, ...]

    def to_document(self) -> dict[str, Any]:
        """The result as plain values."""
        return {
            "passages": self.passages,
            "residual_lu": self.residual_lu,
            "tolerance_lu": self.tolerance_lu,
            "giveaways": self.giveaways,
            "seals": self.seals,
            "plans": [verdict.to_document() for verdict in self.verdicts],
            "words": [{"word": one.word.term, "outcome": one.outcome} for one in self.words],
        }


def check_free(folder: Path) -> None:
    """Nothing, if the demo may be made there.

    Raises
    ------
    CasebookError
        If the folder holds something already.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise CasebookError(f"{folder} is not empty; remove it, or name another folder: earwitness demo --dir DIR")


def steps(casebook: Casebook) -> Iterator[str]:
    """Do the whole job, step by step; each step is named before it is done."""
    for rendering in RENDERINGS:
        yield f"rendering the demo tracks through {rendering.setup} …"
        folder = casebook.folder / RECORDINGS / rendering.setup
        _render(rendering, folder)
        setup = catalogue.add_setup(casebook, rendering.setup, rendering.note)
        recording_folder.add_folder(casebook, setup, folder)
    yield "looking for the passages in which sallow and bracken differ most …"
    setups = [catalogue.find(casebook, Setup, name) for name in COMPARISONS[0].setups]
    for track in catalogue.everything(casebook, Track):
        passage_proposals.add(casebook, passage_proposals.suggest(casebook, track, setups).passages)
    yield "matching levels and measuring the prepared audio again …"
    selection = select(casebook, [rendering.setup for rendering in RENDERINGS], [])
    match_files.make_match_sheet(casebook, selection)
    yield "looking for giveaways in what would be played …"
    # two of the same sound beside each other: what lies between either and a third is then compared once
    alike = sorted(RENDERINGS, key=lambda rendering: rendering.loudspeaker)
    giveaway_check.check(casebook, select(casebook, [rendering.setup for rendering in alike], []))
    yield "logging the reviewer's words …"
    reviewer = catalogue.listener_named(casebook, REVIEWER)
    for word in WORDS:
        log.log(casebook, reviewer, _logged(casebook, word))
    yield "measuring the imaginary loudspeakers, all around and at their terminals …"
    for rendering in RENDERINGS:
        _measure(casebook, rendering)
    for comparison in PLANS:
        yield f"sealing and rehearsing {comparison.plan} …"
        wish = Wish("abx", comparison.setups, listeners=(GUEST,), operator=REVIEWER)
        if comparison.words:
            wish = replace(wish, method="words", words=comparison.words, trials=BALLOT_TRIALS)
        drafting.draft(casebook, wish, comparison.plan)
        seals.seal(casebook, comparison.plan)
        simulated_listener.rehearse(casebook, comparison.plan, comparison.hears, comparison.seed)


def result(casebook: Casebook) -> DemoResult:
    """What the casebook of a finished demo shows."""
    selection = select(casebook, [rendering.setup for rendering in RENDERINGS], [])
    sheet = match_sheet.newest(casebook, selection)
    assert sheet is not None
    checked = checked_pairs.of_selection(casebook, selection, sheet)
    assert not any(each.open for each in checked)
    reviewed = review.review(casebook, rehearsals=True).plans
    return DemoResult(
        passages=len(sheet.record.passages),
        residual_lu=sheet.record.residual_lu,
        tolerance_lu=sheet.record.tolerance_lu,
        giveaways=sum(len(each.found) for each in checked),
        seals=[seals.sealed_plan(casebook, comparison.plan).seal for comparison in PLANS],
        verdicts=[one.rehearsal for one in reviewed if one.rehearsal is not None],
        words=_crosschecked(casebook, reviewed),
    )


def _logged(casebook: Casebook, word: SightedWord) -> log.Word:
    setup = catalogue.find(casebook, Setup, word.setup)
    track = catalogue.find(casebook, Track, word.track)
    at_ms = round(1000 * word.at_s)
    return log.Word(word.term, word.strength, at_ms, note=word.note, setup_id=setup.id, track_id=track.id)


def _measure(casebook: Casebook, rendering: Rendering) -> None:
    """A whole measured set: impulse response on axis, both circles every 10 degrees, impedance."""
    folder = casebook.folder / MEASURED / rendering.setup
    folder.mkdir(parents=True)
    name, rate_hz = rendering.loudspeaker, radiation.RATE_HZ
    impulse = np.zeros((rate_hz // 2, 1))
    impulse[rate_hz // 200] = 1.0
    heard = Clip(loudspeakers.render(name, impulse, rate_hz), rate_hz)
    writing.write(folder / "hor 0.wav", heard, subtype="FLOAT", dither=False)
    hz = log_grid(20.0, 20_000.0, 12)
    for plane, short in (("horizontal", "hor"), ("vertical", "vert")):
        for angle in range(10, 181, 10) if plane == "horizontal" else [a for a in range(-170, 171, 10) if a]:
            level = radiation.response_db(name, hz, plane, angle)
            rows = "\n".join(f"{f:.2f}\t{db:.3f}" for f, db in zip(hz, level, strict=True))
            (folder / f"{short} {angle}.txt").write_text(f"# imaginary\n# Hz\tdB\n{rows}\n", encoding="utf-8")
    ohm, phase = radiation.impedance(name, hz)
    rows = "\n".join(f"{f:.2f}\t{z:.3f}\t{p:.2f}" for f, z, p in zip(hz, ohm, phase, strict=True))
    electrical = casebook.folder / MEASURED / f"{rendering.setup} impedance.txt"
    electrical.write_text(f"# imaginary\n# Hz\tohm\tdegrees\n{rows}\n", encoding="utf-8")
    setup = catalogue.find(casebook, Setup, rendering.setup)
    stated = Conditions(
        distance_m=1.0, drive_volts=2.83, gate_ms=400.0, window="half-tukey", axis="dome", room="imaginary free field",
        by=REVIEWER, note="computed from the loudspeaker's own filters and a simple model of its radiation",
    )  # fmt: skip
    curve_import.bring(casebook, setup, folder, curve_import.Reading(phase="deg"), stated)
    curve_import.bring(casebook, setup, electrical, curve_import.Reading("ohm", "deg"), stated)


def _render(rendering: Rendering, folder: Path) -> None:
    try:
        folder.mkdir(parents=True)
    except OSError as error:
        raise CasebookError(f"cannot make {folder}: {error.strerror}; check the disk and its permissions") from error
    for place, track in enumerate(tracks.TRACKS):
        played = reading.read(tracks.path(track.name))
        samples = loudspeakers.render(rendering.loudspeaker, played.samples, played.rate_hz)
        # the dither's seed is the track's place: rendering the same loudspeaker twice gives the same samples
        writing.write(folder / f"{track.name}.flac", Clip(samples, played.rate_hz), seed=place)


def _crosschecked(casebook: Casebook, reviewed: Iterable[ReviewedPlan]) -> tuple[Crosschecked, ...]:
    """The words of the ballot, as it was rehearsed, beside the measured difference."""
    [ballot] = [one for one in reviewed if one.sealed.plan.name == BALLOT.plan]
    assert ballot.rehearsal is not None
    assert ballot.rehearsal_record is not None
    one, other = (catalogue.find(casebook, Setup, name) for name in BALLOT.setups)
    lexicon = lexicon_rows.in_force(casebook)
    words = words_of_two.of_judged(
        ballot.rehearsal, ballot.rehearsal_record, (one.id, other.id), lexicon, rehearsed=True
    )
    return crosscheck_of_two(casebook, (one, other), words, lexicon).words
