"""Codes come back in: counted before the end, told after it, recovered as planted, and fair to every habit."""

from __future__ import annotations

import hashlib
import json
import random
import re
import subprocess
import sys
from pathlib import Path

import pytest

from sessions.casebook import inspection, secret_files
from sessions.casebook.store import open_casebook
from sessions.plans import answer_codes, viewers_rows, viewers_test
from sessions.results import verification, viewers_check, viewers_polling
from sessions.results import viewers_collecting as collecting
from sessions.results import viewers_told as told
from tests.casebooks import rewritten
from tests.command_line import earwitness
from tests.sessions.viewers.conftest import MadePage

from . import planted

SECRET = hashlib.sha256(b"planted").digest()
RULE = Path(viewers_rows.__file__).parent / "viewers_sealing.md"


def collected(test: viewers_test.ViewersTest, codes: list[str]) -> answer_codes.Collected:
    return answer_codes.collect(["\n".join(codes)], test, planted.TAG)


def test_planted_viewers_of_two_devices_are_recovered() -> None:
    test = planted.document()
    both = (test, planted.TAG)
    codes = planted.codes(both, SECRET, 1500, share=0.4, seed=1, device=1)
    codes += planted.codes(both, SECRET, 1500, share=0.0, seed=2, device=4)
    found = collecting.result(test, SECRET, collected(test, codes))
    assert found.verdict == "heard"
    assert found.crowd.listeners == 3000
    assert found.crowd.spread is not None
    assert found.crowd.spread.mu == pytest.approx(0.2, abs=0.02)
    assert 520 < found.crowd.hearers <= 600  # 600 of them do
    cable, small = found.by_device
    assert (cable.name, small.name) == (answer_codes.DEVICES[1], answer_codes.DEVICES[4])
    assert cable.pooled.proportion == pytest.approx(0.7, abs=0.02)
    assert small.p_holm > 0.05 > cable.p_holm
    assert sum(part.pooled.trials for part in found.by_passage) == 3000 * 8
    assert found.crowd.distribution[8] >= 600


@pytest.mark.parametrize("habit", ["always A", "A until tired", "alternating"])
def test_guessing_by_any_habit_that_all_viewers_share_is_right_in_half_of_the_trials(habit: str) -> None:
    """Were there few orders, such a habit would fit or miss their keys for all viewers at once."""
    guesses = {
        "always A": lambda rng, trial: 0,
        "A until tired": lambda rng, trial: int(trial > 4 or rng.random() < 0.1),
        "alternating": lambda rng, trial: trial % 2,
    }
    test = planted.document()
    smallest = []
    for number in range(8):
        secret = hashlib.sha256(b"habit %d" % number).digest()
        codes = planted.codes((test, planted.TAG), secret, 1000, share=0, seed=number, guess=guesses[habit])
        found = collecting.result(test, secret, collected(test, codes))
        assert found.crowd.pooled.proportion == pytest.approx(0.5, abs=4 * 0.5 / 8000**0.5)
        smallest.append(found.crowd.pooled.p_value)
        assert found.crowd.spread is not None
        assert found.crowd.spread.overdispersion_p > 0.001
    assert sum(p <= 0.05 for p in smallest) <= 2


def preferring(share: float, form: str = "page") -> str:
    """What is told of 60 viewers of whom a share likes sallow more in every trial; of votes where it is a poll."""
    test = planted.document(method="preference", form=form)
    if form == "page":
        codes = planted.codes((test, planted.TAG), SECRET, 60, share=share, seed=1)
        return "\n".join(told.page_result(collecting.result(test, SECRET, collected(test, codes))))
    coins = [viewers_test.coin(test, SECRET, trial) for trial in range(1, test.trials + 1)]
    votes = {trial: (2, 8) if coin == (share > 0.5) else (8, 2) for trial, coin in enumerate(coins, 1)}
    return "\n".join(told.poll_result(viewers_polling.result(test, SECRET, votes)))


def test_of_a_preference_a_preference_is_told_and_that_those_who_like_one_may_send_more_often() -> None:
    page, even = preferring(0.9), preferring(0.0)
    assert "60 viewers: a preference was SHOWN: sallow to bracken." in page
    assert "60 viewers: a preference for one of sallow and bracken was NOT SHOWN." in even
    assert "votes in 8 trials: a preference was SHOWN: sallow to bracken." in preferring(0.9, "soundtrack")
    assert "votes in 8 trials: a preference was SHOWN: bracken to sallow." in preferring(0.1, "soundtrack")
    for said in (page, even, preferring(0.9, "soundtrack")):
        assert "can make a preference that viewers as a whole do not have" in said
        assert not re.search("HEARD|a difference between|cannot have made a difference", said)


def test_nothing_is_told_before_the_end_and_later_codes_are_exploratory(made_page: MadePage, tmp_path: Path) -> None:
    book, sealed = made_page.book, made_page.sealed
    codes = planted.codes(sealed, made_page.secret, 60, share=0.5, seed=3)
    table, late = tmp_path / "answers.csv", tmp_path / "late.txt"
    rows = "\n".join(f'{n},"{code}","how it was, {n}"' for n, code in enumerate(codes))
    table.write_text(f"when,code,comment\n{rows}\n{codes[0].lower()},again\n{codes[1][:-1]}9\n", encoding="utf-8")
    late.write_text("\n".join(planted.codes(sealed, made_page.secret, 5, share=1, seed=4)), encoding="utf-16")
    before = earwitness(book, "viewers", "collect", "evening", str(table))
    assert before.returncode == 0
    assert "60 answer codes; left out: 1 broken, 1 repeated, 0 of another test." in before.stdout
    assert not re.search(r"right|HEARD|SHOWN|p =", before.stdout)
    assert earwitness(book, "viewers", "record", sealed.test.id).returncode == 2
    opened = earwitness(book, "viewers", "collect", "evening", str(table), "--open", "--json")
    document = json.loads(opened.stdout)
    assert (document["codes"], document["verdict"], document["exploratory"]) == (60, "heard", False)
    assert "60 viewers: a difference between sallow and bracken was HEARD." in opened.stderr
    assert "guessing alone does as well in fewer than 1 of 10,000 such tests." in opened.stderr
    for limit in (told.WHO_SENT, *told.PAGE_LIMITS):
        assert limit in opened.stderr
    assert re.search(r"earwitness .*viewers rule, or viewers_sealing.md in the proof bundle", opened.stderr)
    program = RULE.read_text("utf-8").partition("```python")[2]
    assert earwitness(book, "viewers", "rule").stdout.partition("```python")[2].strip() == program.strip() != ""
    again = earwitness(book, "viewers", "collect", "evening", str(table))
    assert "EXPLORATORY" not in again.stdout
    more = earwitness(book, "viewers", "collect", "evening", str(table), str(late), "--json")
    late_document = json.loads(more.stdout)
    assert (late_document["exploratory"], late_document["verdict"], late_document["trials"]) == (True, None, 65 * 4)
    assert "p_value" not in more.stdout
    assert "65 viewers: no verdict on sallow and bracken from these." in more.stderr
    assert "anyone could have made them" in more.stderr
    assert not re.search(r"HEARD|NOT SHOWN|p =|cannot have made a difference", more.stderr)
    assert "EXPLORATORY: these are not the 60 answers that were there when the secret was told" in more.stderr
    with open_casebook(book) as casebook:
        assert verification.verify(casebook).ok


def test_a_stranger_counts_the_same_with_the_standard_library_alone(made_page: MadePage, tmp_path: Path) -> None:
    codes = planted.codes(made_page.sealed, made_page.secret, 30, share=0.3, seed=9)
    (tmp_path / "codes.txt").write_text("\n".join([*codes, codes[0], codes[1][:-1]]), encoding="utf-8")
    opened = earwitness(
        made_page.book, "viewers", "collect", "evening", str(tmp_path / "codes.txt"), "--open", "--json"
    )
    pooled = json.loads(opened.stdout)["pooled"]
    record = earwitness(made_page.book, "viewers", "record", made_page.sealed.test.id)
    (tmp_path / "record.json").write_text(record.stdout, encoding="utf-8")
    found = re.search(r"```python\n(.*?)```", RULE.read_text("utf-8"), re.DOTALL)
    assert found
    (tmp_path / "check.py").write_text(found[1], encoding="utf-8")
    command = [sys.executable, "-I", "-S", "check.py", "record.json", "codes.txt"]
    said = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=True).stdout
    assert f"seal fits; 30 codes, {pooled['correct']} of 120; p = {pooled['p_value']:.6f}" in said
    assert "these are the codes that were there" in said
    document = json.loads(record.stdout)
    (tmp_path / "record.json").write_text(json.dumps(document | {"test": document["test"].replace("sallow", "willow")}))
    assert subprocess.run(command, cwd=tmp_path, capture_output=True, text=True).stderr == "THE SEAL DOES NOT FIT\n"


def test_codes_of_a_preference_are_counted_for_the_first_setup() -> None:
    test = planted.document(method="preference")
    rng = random.Random(1)
    codes = planted.codes((test, planted.TAG), SECRET, 400, share=0.25, seed=8, guess=lambda _, __: rng.getrandbits(1))
    found = collecting.result(test, SECRET, collected(test, codes))
    # planted hearers answer by the coin: they say 1 where the first setup is heard as 1
    assert found.crowd.pooled.two_sided
    assert found.crowd.pooled.proportion == pytest.approx(0.25 + 0.75 / 2, abs=0.03)
    lines = told.page_result(found)
    assert lines[1].startswith("sallow was preferred in ")
    assert "differ from one another in what they prefer" in " ".join(lines)


ANOTHER = "CASE substr({0}, 1, 1) WHEN '0' THEN '1' ELSE '0' END || substr({0}, 2)"  # its first digit another
CHANGES = {
    "UPDATE viewers_tests SET document = replace(document, '\"trials\":4', '\"trials\":5')": "do not give the seal",
    "UPDATE viewers_tests SET document = replace(document, 'viewers-', 'viewerz-')": "that of another test",
    f"UPDATE viewers_openings SET secret = {ANOTHER.format('secret')}": "the secret that was told do not give",
    f"UPDATE plans SET seal = {ANOTHER.format('seal')}": "the sealed plan that it names",
}


def test_a_test_that_was_changed_together_with_its_chain_is_found(made_page: MadePage) -> None:
    with open_casebook(made_page.book) as casebook:
        viewers_rows.open_seal(casebook, made_page.sealed, 3, "0" * 64)
        assert verification.verify(casebook).ok
        for change, says in CHANGES.items():
            with casebook.snapshot() as copy:
                rewritten(copy, change)
                assert any(says in fault for fault in viewers_check.faults(copy, inspection.inspect(copy)))


def test_a_secret_that_is_gone_is_told_and_another_one_is_a_fault(made_page: MadePage, tmp_path: Path) -> None:
    path = secret_files.path_of(made_page.book, made_page.sealed.test.id)
    with open_casebook(made_page.book) as casebook:
        path.write_text("ab" * 32)
        assert any("kept secret do not give the seal" in one for one in verification.verify(casebook).broken)
        path.unlink()
        [gone] = verification.verify(casebook).without_secret
        assert "can neither be checked nor counted" in gone
    left = earwitness(
        made_page.book, "viewers", "page", "evening", str(tmp_path / "again"), "--test", made_page.sealed.test.id
    )
    assert left.returncode == 2
    assert "is missing or damaged" in left.stderr
