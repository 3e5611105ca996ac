"""Each blind method on a real casebook: planned, sealed, answered, judged, checked by the stand-alone program."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from audio.files import reading
from sessions.casebook.store import Casebook
from sessions.errors import ListenError
from sessions.listening import session
from sessions.plans.methods.graded import answer_of, grades_of
from sessions.preparation import prepared_audio
from sessions.report import contents, page
from sessions.results import sentences, verification
from tests.answered_plans import WISHES, answer_all, checked_alone, sealed_plan
from tests.casebooks import judged


@pytest.mark.parametrize("method", WISHES)
def test_a_listener_who_hears_it_is_found_and_the_record_holds(book: Casebook, method: str, tmp_path: Path) -> None:
    plan = sealed_plan(book, method=method, **WISHES[method])
    answer_all(book, 1.0)
    found = judged(book, "evening")
    assert found.state == "complete"
    assert found.answered == plan.trials  # controls are answered, and do not count
    if method == "multi-stimulus":  # four trials cannot show it: the least p is 2/16, times three pairs
        assert found.verdict == "not shown"
        assert found.p_value is not None
        assert found.p_value >= 3 * 2 / 16
    else:
        assert found.verdict == "heard", sentences.sentences(found)
    assert verification.verify(book).ok
    assert "seal and keys fit" in checked_alone(book, tmp_path)
    text = page.render(contents.gather(book, "what was heard"))
    assert text.count("<svg") >= 2
    assert "nan" not in re.sub(r"<[^>]*>", "", text).lower().split()


@pytest.mark.parametrize(
    ("method", "answer", "says"),
    [
        ("triangle", "4", "answer 1 or 2 or 3"),
        ("hidden-reference", '{"1": "5.0"}', "grades are wanted for 1, 2"),
        ("hidden-reference", '{"1": "4.0", "2": "4.5"}', "one of 1 and 2 is the reference"),
        ("hidden-reference", '{"1": "5.0", "2": "5.5"}', "in steps of 0.1"),
        ("hidden-reference", '{"1": "5.0", "2": "4.55"}', "in steps of 0.1"),
        ("hidden-reference", "five", "holds no grades"),
        ("same-different", "1", "answer S or D"),
        ("preference", "T", "answer 1 or 2"),
    ],
)
def test_an_answer_that_does_not_fit_is_refused(book: Casebook, method: str, answer: str, says: str) -> None:
    sealed_plan(book, method=method, trials=4)
    with session.begin(book, "evening", "Ada", "none: test") as running:
        offered = running.next_trial()
        assert offered is not None
        with pytest.raises(ListenError, match=re.escape(says)):
            running.answer(offered, answer, 2, 1000)
        assert running.answered == 0


def test_anchors_are_sealed_with_the_plan_and_are_the_reference_low_passed(book: Casebook) -> None:
    plan = sealed_plan(book, method="multi-stimulus")
    assert plan.trials == 8  # two passages, each four times: of 7 and more 2/2^7 is below 0.05 over three pairs
    for passage in plan.passages:
        reference = reading.read(book.prepared / passage.files[plan.setups[0].id]).samples
        for anchor in plan.anchors:
            made = reading.read(
                prepared_audio.file_of(
                    book, passage.audio[anchor.id], passage.name, named=passage.files[anchor.id], sheet=None
                )
            ).samples
            assert made.shape == reference.shape
            spectra = [np.abs(np.fft.rfft(samples[:, 0])) for samples in (reference, made)]
            hz = np.fft.rfftfreq(len(reference), 1 / passage.rate_hz)
            kept, gone = hz < anchor.low_pass_hz * 0.95, hz > anchor.low_pass_hz * 9 / 7
            assert np.sum(spectra[1][kept] ** 2) == pytest.approx(np.sum(spectra[0][kept] ** 2), rel=0.03)
            assert np.sum(spectra[1][gone] ** 2) < 1e-4 * np.sum(spectra[0][gone] ** 2)


def test_grades_come_back_as_they_were_given() -> None:
    from decimal import Decimal

    grades = {"1": Decimal("4.3"), "2": Decimal("5.0")}
    assert grades_of(answer_of(grades)) == grades
