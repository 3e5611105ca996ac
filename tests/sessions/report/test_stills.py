"""Stills for video: exact size, true alpha, the safe area, axes at the same pixels, steps that line up, cards."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from audio.curves import card, still
from audio.curves.card import Row, Trials
from audio.curves.still import Still
from audio.errors import FileError
from sessions.casebook import catalogue
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook, create, open_casebook
from sessions.errors import CatalogueError, PlanError
from sessions.measured import curve_records
from sessions.measured.conditions import ON_AXIS, Conditions, direction
from sessions.measured.curve_records import NewCurve, RawFile
from sessions.report.stills import curve_stills, verdict_still, word_stills, written
from sessions.report.stills.written import Wanted
from sessions.results.verdict import VOID, Together, Verdict, judge, unjudged
from sessions.words.blindness import IN_A_BLIND_TRIAL, SIGHTED, LabelledWord
from sessions.words.lexicon import shipped
from sessions.words.log import LoggedWord
from tests.command_line import earwitness
from tests.records import RIGHT, plan, record
from tests.sessions.measured.measured_files import HZ

TITLE_ENDS = 0.14  # of the height, from the top
LONG = "A loudspeaker with a name as long as a name can be, 2 of 2"


@pytest.fixture(scope="module")
def measured_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two setups with a curve on axis, angles and an impedance each, and one with a very long name."""
    folder = tmp_path_factory.mktemp("measured") / "book"
    with create(folder) as book:
        for place, name in enumerate(("sallow", "bracken", LONG)):
            setup = catalogue.add_setup(book, name)
            level_db = 80.0 + place * np.sin(np.log(HZ))
            new = [
                NewCurve(
                    "response", direction("horizontal", angle), np.column_stack([HZ, level_db - off]), Conditions()
                )
                for angle, off in ((0, 0.0), (30, 3.0), (-30, 4.0), (60, 9.0))
            ]
            new.append(NewCurve("impedance", ON_AXIS, np.column_stack([HZ, np.full(len(HZ), 6.0)]), Conditions()))
            curve_records.keep(book, setup, [(RawFile.of(f"{name}.txt", name.encode()), new)])
    return folder


@pytest.fixture
def measured(measured_once: Path, tmp_path: Path) -> Iterator[Casebook]:
    shutil.copytree(measured_once, tmp_path / "book")
    with open_casebook(tmp_path / "book") as book:
        yield book


def pixels(path: Path) -> np.ndarray:
    from PIL import Image

    with Image.open(path) as image:
        assert image.mode == "RGBA"
        return np.asarray(image).astype(int)


def drawn(made: Still, folder: Path, size: str = "1920x1080", **look: bool) -> np.ndarray:
    still.write(still.dressed(made, **look), folder / "a.png", size, opaque=look.get("opaque", False))
    return pixels(folder / "a.png")


def outside(image: np.ndarray) -> np.ndarray:
    """The alpha of the outer 5 % of width and height at each edge."""
    high, wide = image.shape[:2]
    seen = np.ones((high, wide), dtype=bool)
    seen[high // 20 : high - high // 20, wide // 20 : wide - wide // 20] = False
    return image[..., 3][seen]


def said(made: Still) -> str:
    return " ".join(text.get_text() for text in made.figure.texts).replace("\n", " ")


EVERY = [
    ("response", ("sallow", LONG, "bracken")),
    ("difference", (LONG, "bracken")),
    ("impedance", ("sallow", LONG)),
    ("horizontal", (LONG,)),
]


@pytest.mark.parametrize(("what", "names"), EVERY)
def test_a_still_is_on_no_paper_and_keeps_to_the_safe_area(
    measured: Casebook, tmp_path: Path, what: str, names: tuple[str, ...]
) -> None:
    """The middle 90 % of EBU R 95 and SMPTE ST 2046-1 (from memory)."""
    image = drawn(curve_stills.make(measured, what, names), tmp_path)
    assert image.shape == (1080, 1920, 4)
    assert not outside(image).any()
    alpha = image[..., 3]
    assert (alpha == 255).any()
    assert (alpha == 0).mean() > 0.5  # what lies behind is seen through most of it


def test_twice_the_size_is_the_same_picture_with_four_times_the_pixels(measured: Casebook, tmp_path: Path) -> None:
    small = drawn(curve_stills.make(measured, "impedance", ["sallow"]), tmp_path)
    large = drawn(curve_stills.make(measured, "impedance", ["sallow"]), tmp_path, "3840x2160")
    assert large.shape == (2160, 3840, 4)
    averaged = large[..., 3].reshape(1080, 2, 1920, 2).mean(axis=(1, 3))
    assert np.abs(averaged - small[..., 3]).mean() < 2.0  # edges alone differ, of 255


def test_the_axes_of_two_units_lie_at_the_same_pixels(measured: Casebook, tmp_path: Path) -> None:
    """All that is not of a curve: grid, ticks, words of the axes, note."""
    frames = []
    for name in ("sallow", LONG):
        made = still.dressed(curve_stills.make(measured, "response", [name]))
        next(still.steps(made))
        still.write(made, tmp_path / "a.png", "1920x1080")
        image = pixels(tmp_path / "a.png")
        frames.append(image[round(TITLE_ENDS * len(image)) :])
    np.testing.assert_array_equal(*frames)
    assert frames[0][..., 3].any()


def test_a_unit_that_rises_higher_moves_the_axis_of_all(measured: Casebook) -> None:
    def ends() -> Any:
        return curve_stills.make(measured, "response", ["bracken"]).figure.axes[0].get_ylim()

    before = ends()
    assert before[1] == curve_stills.HIGH_DB
    setup = catalogue.find(measured, Setup, "sallow")
    level_db = 80 + 22.0 * np.exp(-((np.log2(HZ / 60) / 0.3) ** 2))
    new = NewCurve("response", ON_AXIS, np.column_stack([HZ, level_db]), Conditions())
    curve_records.keep(measured, setup, [(RawFile.of("high.txt", b"high"), [new])])
    np.testing.assert_allclose(ends(), np.array(before) + 10)  # two steps of 5 dB hold 22 above 15


def test_a_decade_is_as_long_as_fifty_decibels_are_high(measured: Casebook) -> None:
    axes = curve_stills.make(measured, "response", ["sallow"]).figure.axes[0]
    (x1, y1), (x2, y2) = axes.transData.transform([(100, -30), (1000, 20)])
    assert y2 - y1 == pytest.approx(x2 - x1, rel=1e-6)


def test_steps_build_up_curve_by_curve_and_end_with_the_whole(measured: Casebook, tmp_path: Path) -> None:
    names = ("sallow", "bracken")
    looks = Wanted(tmp_path, "1920x1080", ("dark",), in_steps=True)
    files = written.write("two of them", lambda: curve_stills.make(measured, "response", names), looks)
    assert [file.name for file in files] == [f"two-of-them-dark-{step:02d}.png" for step in range(3)]
    images = [pixels(file) for file in files]
    np.testing.assert_array_equal(
        images[-1], drawn(curve_stills.make(measured, "response", names), tmp_path, dark=True)
    )
    before = np.zeros(images[0].shape[:2], dtype=bool)
    for one, other in pairwise(images):
        changed = (one != other).any(axis=-1)
        assert 0 < changed.mean() < 0.05  # a curve and its name, and nothing else moves
        assert not (changed & before).all()
        before |= changed


def test_light_and_dark_differ_in_colour_and_not_in_place(measured: Casebook, tmp_path: Path) -> None:
    light = drawn(curve_stills.make(measured, "impedance", ["sallow"]), tmp_path)
    dark = drawn(curve_stills.make(measured, "impedance", ["sallow"]), tmp_path, dark=True)
    np.testing.assert_array_equal(light[..., 3], dark[..., 3])
    inked = light[..., 3] == 255
    assert (light[inked] != dark[inked]).any()
    solid = drawn(curve_stills.make(measured, "impedance", ["sallow"]), tmp_path, opaque=True)
    assert (solid[..., 3] == 255).all()


@pytest.mark.parametrize(
    ("what", "names", "why"),
    [
        ("spectrum", ["sallow"], "--what is one of response, difference"),
        ("difference", ["sallow"], "of different setups, 2 of them; got sallow"),
        ("response", ["sallow", "sallow"], "of different setups"),
        ("vertical", ["sallow"], "too few vertical angles"),
    ],
)
def test_what_cannot_be_drawn_is_refused(measured: Casebook, what: str, names: list[str], why: str) -> None:
    with pytest.raises(CatalogueError, match=why):
        curve_stills.make(measured, what, names)


def test_a_frame_of_another_size_or_in_no_place_is_refused(tmp_path: Path) -> None:
    made = card.list_card("x", [Row("airy", ["hollow"], "1 track")], "below")
    with pytest.raises(FileError, match="no frame is called 'square'; name one of 1920x1080, 3840x2160"):
        still.write(made, tmp_path / "a.png", "square")
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(FileError, match="cannot write"):
        still.write(made, tmp_path / "file" / "a.png", "1920x1080")


def verdict_of(answers: list[str]) -> Verdict:
    return judge(record(plan("abx", len(answers)), [answers]))


def test_a_card_says_the_verdict_in_words_and_by_a_shape_and_never_that_two_are_equal(tmp_path: Path) -> None:
    heard = verdict_still.verdict_still(verdict_of([RIGHT] * 9 + ["wrong"]), "a1" * 32, "2026-05-01T10:00:00.000Z")
    missed = verdict_still.verdict_still(verdict_of([RIGHT, "wrong"] * 5), "a1" * 32, "2026-05-01T10:00:00.000Z")
    assert "HEARD" in said(heard).split()
    assert "9 of 10 trials were answered rightly" in said(heard)
    assert "9 needed" in said(heard)  # 10 trials at 0.05: 9 or 10, 11 of 1024 ways
    assert "p = 0.0107" in said(heard)
    assert "seal a1a1a1a1a1a1…" in said(heard)
    assert "NOT SHOWN" in said(missed)
    assert "That does not show that they are equal" in said(missed)
    shapes = [
        [line.get_fillstyle() for line in made.figure.axes[0].lines if line.get_markersize() > 20]
        for made in (heard, missed)
    ]
    assert shapes == [["full"], ["none"]]
    filled = [line.get_fillstyle() for line in missed.figure.axes[0].lines if line.get_markersize() < 20]
    assert (filled.count("full"), filled.count("none")) == (5 + 1, 5)  # and the line where enough begins
    assert not outside(drawn(heard, tmp_path)).any()


def test_a_card_says_what_takes_something_away_from_what_was_heard() -> None:
    heard = verdict_of([RIGHT] * 10)
    alone = replace(heard, together=Together(primary_plans=3, p_holm=0.06, holds=False))
    aside = replace(heard, plan=replace(heard.plan, document={**heard.plan.document, "primary": False}))
    alone_said, aside_said = (
        said(verdict_still.verdict_still(one, "a1" * 32, "2026-05-01T10:00:00.000Z")) for one in (alone, aside)
    )
    assert "HEARD ON ITS OWN" in alone_said  # "HEARD ALONE" beside "about Ada alone" reads as heard by Ada alone
    assert "On its own, but not among the 3 primary questions taken together." in alone_said
    assert "HEARD, EXPLORATORY" in aside_said
    assert "Exploratory: not one of the review's primary questions." in aside_said


@pytest.mark.parametrize(("right", "of", "needed"), [(12, 16, 12), (40, 100, 59), (10, 10, 10)])
def test_the_line_of_a_card_stands_where_enough_is_reached(right: int, of: int, needed: int) -> None:
    made = card.verdict_card("above", "whole", "HEARD", "said", "below", Trials(right, of, needed, "needed"))
    lines = made.figure.axes[0].lines
    dots = [line.get_xdata()[0] for line in lines if line.get_linestyle() == "None" and line.get_markersize() < 20]
    [upright] = [line for line in lines if line.get_linestyle() == "-" and np.ptp(line.get_ydata()) > 0]
    at = upright.get_xdata()[0]
    if dots:
        assert sum(dot < at for dot in dots) == needed
    else:  # a bar: its parts lie as the counts do
        whole, filled = (
            np.asarray(line.get_xdata()) for line in lines if line.get_linestyle() == "-" and line is not upright
        )
        assert (at - whole[0]) / np.ptp(whole) == pytest.approx(needed / of)
        assert np.ptp(filled) / np.ptp(whole) == pytest.approx(right / of)


def test_no_card_is_drawn_of_a_plan_that_is_not_over() -> None:
    with pytest.raises(PlanError, match=r"has no verdict .cannot be judged.: a card shows one when the plan is over"):
        verdict_still.verdict_still(unjudged(plan("abx", 10), "x"), "a" * 64, "2026-05-01")


def test_a_card_of_the_longest_words_and_many_trials_keeps_to_the_safe_area(tmp_path: Path) -> None:
    long = f"REHEARSAL, never counted: A preference: {LONG} against {LONG}"
    made = card.verdict_card(
        long,
        "cross",
        "PREFERENCE SHOWN ON ITS OWN, EXPLORATORY",
        "It is said at length. " * 20,
        long,
        Trials(40, 100, 59, "needed"),
    )
    assert not outside(drawn(made, tmp_path)).any()
    rows = [Row(f"{LONG} {n}", ["whole"] * 18, LONG, bold=True) for n in range(12)]
    many = card.list_card(long, rows, long)
    assert len(many.groups) == card.MOST_ROWS
    assert not outside(drawn(many, tmp_path)).any()


def word(term: str, track: str | None, label: str = SIGHTED, setup: str = "s", corrected: bool = False) -> LabelledWord:
    logged = LoggedWord("w", "", "Ada", "sallow", track, None, None, term, 3, None, False, "", None, corrected)
    return LabelledWord(logged, label, "sallow", setup)


def test_words_are_ranked_by_tracks_and_those_said_blind_before_others() -> None:
    words = [
        *[word("airy", "drums")] * 5,
        word("boomy", "drums"),
        word("boomier", "strings"),
        word("thin", "drums", IN_A_BLIND_TRIAL),
        word("forward", "drums", corrected=True),
        word("bright", "drums", setup="other"),
    ]
    made = word_stills.said_still(words, "s", "sallow", shipped())
    texts = [group[1].get_text() for group in made.groups]
    assert texts == ["boomy", "thin", "airy"]
    assert [group[2].get_text() for group in made.groups] == ["2 tracks", "1 track", "1 track"]
    assert [len(group) - 3 for group in made.groups] == [2, 1, 1]
    assert [group[3].get_fillstyle() for group in made.groups] == ["none", "full", "none"]
    with pytest.raises(CatalogueError, match="nothing was said of 'bracken' yet"):
        word_stills.said_still(words, "none", "bracken", shipped())


def test_a_card_that_has_nothing_to_build_up_is_drawn_whole_and_named_so(tmp_path: Path) -> None:
    card = verdict_still.verdict_still(verdict_of([RIGHT] * 10), "0" * 64, "2026-01-01")
    [file] = written.write("verdict evening", lambda: card, Wanted(tmp_path, "1920x1080", in_steps=True))
    assert (file.name, file.is_file()) == ("verdict-evening.png", True)


def test_words_of_a_ballot_of_several_are_refused_with_what_to_draw_instead() -> None:
    names = ("sallow", "bracken", "my willow")
    stated = {"setups": [{"setup": f"setup-{place}", "name": name} for place, name in enumerate(names)]}
    several = replace(judge(record(plan("words", 12), [[RIGHT] * 12])), plan=plan("words", 12, stated=stated))
    with pytest.raises(CatalogueError, match=r"a ballot of 3 setups.*stills verdict evening.*stills words sallow"):
        word_stills.ballot_still(replace(several, outcome=None))


def test_a_ballots_words_are_ranked_by_how_far_they_set_the_two_apart_and_what_was_heard_is_marked() -> None:
    """The first word is ticked of the first alone, the second of the second, in each of twelve trials."""
    made = word_stills.ballot_still(judge(record(plan("words", 12), [[RIGHT] * 12])))
    texts = [group[1].get_text() for group in made.groups]
    assert texts[:2] == ["boomy", "bright"]
    assert [group[2].get_text() for group in made.groups[:2]] == ["bracken 12 to 0 of 12", "sallow 12 to 0 of 12"]
    assert [group[1].get_weight() for group in made.groups] == ["bold", "bold", "normal", "normal"]
    with pytest.raises(CatalogueError, match="no ballot of ticks between two setups"):
        word_stills.ballot_still(verdict_of([RIGHT] * 10))


def test_words_of_a_ballot_that_is_void_or_was_closed_early_are_said_to_show_nothing() -> None:
    whole = judge(record(plan("words", 12), [[RIGHT] * 12]))
    void = said(word_stills.ballot_still(replace(whole, verdict=VOID)))
    assert "VOID, these ticks count for nothing. Words ticked blind: sallow or bracken" in void
    closed = said(word_stills.ballot_still(judge(record(plan("words", 12), [[RIGHT] * 8]))))
    assert "UNDECIDED, closed after 8 of 12 trials: these ticks decide nothing. Words ticked blind" in closed
    assert all(state not in said(word_stills.ballot_still(whole)) for state in ("VOID", "UNDECIDED"))
    with pytest.raises(CatalogueError, match="is over, and none of its ticks was kept"):
        word_stills.ballot_still(replace(whole, verdict=VOID, outcome=None))


def test_of_more_trials_than_marks_fit_the_card_says_how_many_one_mark_stands_for() -> None:
    """In each of 22 trials the first word is ticked of one alone; 18 marks fit, so that one stands for two trials."""
    made = word_stills.ballot_still(judge(record(plan("words", 22), [[RIGHT] * 22])))
    assert [len(group) - 3 for group in made.groups[:2]] == [11, 11]
    assert "A mark for every 2 trials (the last for the rest) in which it was ticked of one alone" in said(made)
    few = word_stills.ballot_still(judge(record(plan("words", 12), [[RIGHT] * 12])))
    assert "A mark for each trial in which" in said(few)
    tracks = word_stills.said_still([word("airy", f"track {n}") for n in range(20)], "s", "sallow", shipped())
    assert "A mark for each track, 18 at most. Filled" in said(tracks)


def test_the_bound_of_a_plan_that_was_closed_early_is_not_told_as_its_p() -> None:
    closed = judge(record(plan("abx", 10), [[RIGHT] * 4]))
    assert closed.p_value is not None
    text = said(verdict_still.verdict_still(closed, "a1" * 32, "2026-05-01T10:00:00.000Z"))
    assert f"p at most {closed.p_value:.4f}" in text
    assert "p =" not in text


def test_the_command_draws_into_its_folder_and_refuses_what_is_not_over(sealed: Casebook, tmp_path: Path) -> None:
    refused = earwitness(sealed.folder, "stills", "verdict", "evening", "--out", str(tmp_path))
    assert refused.returncode == 2
    assert "has no verdict (not begun)" in refused.stderr
    assert earwitness(sealed.folder, "word", "log", "airy", "--setup", "sallow", "--listener", "Ada").returncode == 0
    done = earwitness(sealed.folder, "stills", "words", "sallow", "--look", "both", "--steps", "--out", str(tmp_path))
    assert done.returncode == 0, done.stderr
    names = sorted(file.name for file in tmp_path.glob("*.png"))
    assert names == [f"words-sallow{look}-{step}.png" for look in ("", "-dark") for step in ("00", "01")]
