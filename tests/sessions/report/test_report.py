"""The report as a page: self-contained, complete, readable in a real browser, telling nothing before the end."""

from __future__ import annotations

import html
import re
import subprocess
import tempfile
from math import inf
from pathlib import Path

import numpy as np
import pytest

from audio.curves.curve import Curve, log_grid
from audio.mend_values import Mend
from sessions.casebook import catalogue
from sessions.casebook.catalogue import Listener, Passage, Setup
from sessions.casebook.store import Casebook
from sessions.listening import session
from sessions.measured.conditions import ON_AXIS
from sessions.measured.figures.responses import Response
from sessions.plans import catalogue_edits, drafting, plan_rows, seals
from sessions.plans.plan_rows import Wish
from sessions.preparation import mends
from sessions.preparation.mends import PassageMend
from sessions.report import contents, drawing, page
from sessions.report.drawing import Sketch
from sessions.words import log
from tests.answered_plans import answer_trials, sealed_plan
from tests.casebooks import secret_of

CHROMIUM = [
    "chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip


def browser(*arguments: str) -> str:
    with tempfile.TemporaryDirectory() as profile:
        done = subprocess.run(
            [*CHROMIUM, f"--user-data-dir={profile}", *arguments],
            capture_output=True,
            text=True,
            timeout=90,
            check=True,
        )
    return done.stdout


def listen(casebook: Casebook, right: int, disturbed: int = 0) -> None:
    with session.begin(casebook, "evening", "Ada", "none: test") as running:
        for place in range(8):
            offered = running.next_trial()
            assert offered is not None
            if place < disturbed:
                running.fault(offered, "underruns", 2, "test")
                offered = running.next_trial()
                assert offered is not None
            if place == 0:
                listener = catalogue.find(casebook, Listener, "Ada")
                said = log.Word("grainy", 2, 1500, True, "<b>sand</b>", trial_id=offered.row_id, stimulus="X")
                log.log(casebook, listener, said)
            is_a = offered.key["X"] == 0
            running.answer(offered, "A" if is_a == (place < right) else "B", 1 + place % 4, 2000)


def written(casebook: Casebook) -> tuple[Path, str]:
    path = casebook.folder / "report.html"
    page.write(contents.gather(casebook, "Two pairs <compared>"), path)
    return path, path.read_text(encoding="utf-8")


def test_the_page_fetches_nothing_and_escapes_what_people_wrote(sealed: Casebook) -> None:
    listen(sealed, 8)
    _, text = written(sealed)
    assert "<script" not in text
    assert not re.search(r"src\s*=|url\(|@import", text)
    linked = re.findall(r"href\s*=\s*\"(data:|#)?", text)
    assert set(linked) == {"data:", "#"}  # nothing but what the page carries
    assert set(re.findall(r"https?://[^\"' ]+", text)) <= {"http://www.w3.org/2000/svg"}
    assert "<b>sand</b>" not in text
    assert "Two pairs &lt;compared&gt;" in text


def test_the_page_tells_what_was_compared_matched_sealed_heard_and_said(sealed: Casebook) -> None:
    listen(sealed, 7, disturbed=2)
    seal = seals.sealed_plan(sealed, "evening").seal
    secret = plan_rows.opening(sealed, seals.sealed_plan(sealed, "evening").plan.id)
    assert secret is not None
    _, text = written(sealed)
    for wanted in (
        "sallow against bracken",
        "a difference was HEARD",
        "7 of 8 right (7 needed), p = 0.0352",
        "strings 1",
        "ITU-R BS.1770",
        seal,
        secret.secret,
        "Operated by",
        "who also listened",
        "2 disturbed, offered again",
        "grainy",
        "how loud it was at the ears was not measured",
        "The record holds",
    ):
        assert wanted in text, wanted
    assert text.count('role="img"') == 3  # the trials, the proportion, the sensitivity
    heard_as = re.search(r"<td>grainy</td>.*?<td>(sallow|bracken)</td>", text, flags=re.DOTALL)
    assert heard_as is not None  # once the plan is over, a blind word gets its setup


def test_before_the_end_the_page_tells_no_key_no_answer_and_no_secret(sealed: Casebook) -> None:
    with session.begin(sealed, "evening", "Ada", "none") as running:
        for _ in range(4):
            offered = running.next_trial()
            assert offered is not None
            running.answer(offered, "A", 4, 5)
        listener = catalogue.find(sealed, Listener, "Ada")
        said = log.Word("grainy", 2, 1500, True, trial_id=offered.row_id, stimulus="X")
        log.log(sealed, listener, said)
    _, text = written(sealed)
    assert "4 of 8 trials answered" in text
    assert "told when the plan is over" in text
    assert secret_of(sealed).hex() not in text
    assert '"X"' not in text.replace("&#34;", '"')
    assert "p =" not in text
    assert 'role="img"' not in text


def test_what_was_compared_lists_the_setups_and_the_known_difference_by_itself(casebook: Casebook) -> None:
    wish = Wish("abx", ("sallow", "bracken"), listeners=("Ada",), trials=8, known=6, lift_hz=2000, lift_db="3")
    drafting.draft(casebook, wish, "evening")
    plan = seals.seal(casebook, "evening").plan
    assert plan.known is not None
    _, text = written(casebook)
    compared = " ".join(text.split("What was compared</h3>")[1].split("<h3>")[0].split())
    assert compared.startswith("<p>sallow against bracken, on drums 1 (4.0 s), strings 1")
    assert (
        "<p>In 6 more trials for each listener, which do not count, sallow was played with a known difference: a lift "
        f"of 3 dB around 2 kHz, as loud as without it to within {plan.known.residual_lu} LU.</p>" in compared
    )


def cut_off(path: Path, width: int) -> list[int]:
    """By how many pixels the page, its tables and its commands are wider than they are shown in a frame that wide."""
    framed = html.escape(path.read_text(encoding="utf-8"))
    measure = (
        "const page = document.querySelector('iframe').contentDocument;"
        "const parts = [page.documentElement, ...page.querySelectorAll('table, code')];"
        "document.title = parts.map(part => part.scrollWidth - part.clientWidth).filter(left => left > 0).join(' ');"
    )
    frame = path.with_name("frame.html")
    frame.write_text(
        f'<title>none</title><iframe style="width:{width}px;height:4000px;border:0" onload="{measure}" '
        f'srcdoc="{framed}"></iframe>',
        encoding="utf-8",
    )
    found = re.search(r"<title>(.*?)</title>", browser("--dump-dom", frame.as_uri()))
    assert found is not None
    return [int(left) for left in found[1].split()]


@pytest.mark.browser
@pytest.mark.parametrize("width", [390, 1200])
def test_nothing_is_cut_off_on_a_phone_or_a_desk(sealed: Casebook, width: int) -> None:
    listen(sealed, 8)
    path, _ = written(sealed)
    assert cut_off(path, width) == []


@pytest.mark.browser
def test_a_real_browser_shows_it_whole(sealed: Casebook, tmp_path: Path) -> None:
    listen(sealed, 6, disturbed=1)
    path, _ = written(sealed)
    shown = browser("--dump-dom", path.as_uri())
    assert "a difference was NOT SHOWN" in shown
    assert "That does not show that they are equal" in shown
    picture = tmp_path / "report.png"
    browser("--window-size=420,3000", "--hide-scrollbars", f"--screenshot={picture}", path.as_uri())
    assert picture.stat().st_size > 20_000


def test_the_page_of_a_plan_closed_early_says_who_never_began(casebook: Casebook) -> None:
    sealed_plan(casebook, method="abx", trials=8, listeners=("Ada", "Bo"))
    answer_trials(casebook, 2, 0)
    seals.close(casebook, "evening", "the pair went back")
    listener = catalogue.find(casebook, Listener, "Ada")
    log.log(casebook, listener, log.Word("smooth", 2, blind=True))
    _, text = written(casebook)
    assert "stopped after 2 of 16 trials: UNDECIDED" in text
    assert "Bo: never began." in text
    assert "under way" not in text
    assert re.search(r"<td>smooth</td>.*?<td>said to be blind</td>", text, flags=re.DOTALL)


def test_a_report_that_cannot_be_written_says_where(sealed: Casebook, tmp_path: Path) -> None:
    from sessions.errors import CasebookError

    (tmp_path / "file").write_text("in the way")
    with pytest.raises(CasebookError, match="cannot write the report to"):
        page.write(contents.gather(sealed, "x"), tmp_path / "file" / "report.html")


@pytest.mark.parametrize(("valid_hz", "words"), [((200.0, 20_000.0), "A. Hatched: not valid."), ((0.0, inf), "A.")])
def test_a_picture_is_called_hatched_where_it_is(valid_hz: tuple[float, float], words: str) -> None:
    hz = log_grid(20, 20_000)
    figure = Response("sallow", ON_AXIS, Curve(hz, np.zeros(len(hz)), None, valid_hz), "")
    shown = drawing._captioned(Sketch(figure, "A."), drawing._picture(figure))
    assert (shown.caption, "url(#h" in shown.drawn) == (words, "Hatched" in words)


def test_of_a_plan_that_nobody_heard_the_page_says_only_what_is_true(sealed: Casebook) -> None:
    heard = ("Operated by", "who also listened", "the operator listened too", "from the files that were\nplayed")
    _, text = written(sealed)
    for false in heard:
        assert false not in text
    assert "Ada is to operate it, and to listen too" in text
    seals.close(sealed, "evening", "the pair went back")
    _, text = written(sealed)
    for false in heard:
        assert false not in text
    assert "Ada was to operate it, and to listen too: nobody began" in text


def test_an_operator_who_never_began_did_not_listen(casebook: Casebook) -> None:
    sealed_plan(casebook, method="abx", trials=8, listeners=("Ada", "Bo"))
    with session.begin(casebook, "evening", "Bo", "none: test"):
        pass
    _, text = written(casebook)
    assert "Operated by\nAda, who has not listened yet" in text
    assert "the operator listened too" not in text


def test_what_was_renamed_before_the_seal_has_one_name_throughout_and_that_is_told_once(casebook: Casebook) -> None:
    bracken, strings = catalogue.find(casebook, Setup, "bracken"), catalogue.find(casebook, Passage, "strings 1")
    why = "by its whole recording bracken lies 38.130 ms late where the passage begins"
    mends.keep(casebook, [PassageMend(bracken.id, "bracken", strings.id, "strings 1", Mend(), why)])
    catalogue_edits.rename(casebook, bracken, "thicket")
    catalogue_edits.rename(casebook, strings, "bowed")
    sealed_plan(casebook, method="abx", trials=8, setups=("sallow", "thicket"))
    _, text = written(casebook)
    seen = html.unescape(re.sub(r"<[^>]+>", " ", text[text.index("What was compared") :]))
    assert "Mended: thicket in bowed: length (by its whole recording thicket lies 38.130 ms late where" in seen
    for old, new in (("bracken", "thicket"), ("strings 1", "bowed")):
        assert seen.count(old) == 1
        assert f"Renamed before the plan was sealed: {new} was called {old} when it was prepared." in seen
    assert '<td class="whole">thicket</td>' in text
    assert '<td class="whole">bowed</td>' in text


def test_the_report_tells_what_a_mend_did_the_clock_too(casebook: Casebook) -> None:
    bracken, strings = catalogue.find(casebook, Setup, "bracken"), catalogue.find(casebook, Passage, "strings 1")
    sealed_plan(casebook, method="abx", trials=8)
    done = Mend(delay_s=0.050871, stretch_ppm=-35.0)
    mends.keep(casebook, [PassageMend(bracken.id, "bracken", strings.id, "strings 1", done, "it lay so")])
    _, text = written(casebook)
    wanted = "Mended: bracken in strings 1: cut 50.871 ms later, clock corrected by -35.0 ppm (it lay so)."
    assert wanted in html.unescape(text)
