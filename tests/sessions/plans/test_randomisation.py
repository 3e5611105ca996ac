"""The sealing rule: coins against a second reading of the rule, and the stand-alone check on real records."""

from __future__ import annotations

import hashlib
import hmac
import json
import re
from collections import Counter
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest, chisquare

from sessions.casebook.store import Casebook
from sessions.listening import session
from sessions.plans import drafting, plan_rows, randomisation, seals
from sessions.results.plan_record import record
from sessions.results.verdict import judge
from tests.answered_plans import checked_alone
from tests.casebooks import secret_of

SECRET = bytes(range(32))


def second_reading(secret: bytes, message: str, k: int) -> int:
    """The rule's words, put into code once more: eight big-endian numbers, the first below k's largest multiple."""
    digest = hmac.digest(secret, message.encode(), "sha256")
    while True:
        numbers = [int(digest.hex()[8 * i : 8 * i + 8], 16) for i in range(8)]
        usable = [number for number in numbers if number < (2**32 // k) * k]
        if usable:
            return usable[0] % k
        digest = hashlib.sha256(digest).digest()


@given(st.binary(min_size=32, max_size=32), st.integers(1, 200), st.integers(1, 5), st.integers(1, 2**32))
def test_a_draw_is_what_the_rule_says(secret: bytes, trial: int, offer: int, k: int) -> None:
    assert randomisation.draw(secret, "x", "listener-1", trial, offer, k) == second_reading(
        secret, f"x|listener-1|{trial}|{offer}", k
    )


def test_when_no_number_serves_the_digest_is_hashed_again() -> None:
    k = 2**31 + 1  # half of all numbers fail, so all eight fail in one digest of 256
    messages = [f"x|a|{trial}|1" for trial in range(1, 3000)]
    again = [
        m
        for m in messages
        if all(int(hmac.digest(SECRET, m.encode(), "sha256").hex()[8 * i : 8 * i + 8], 16) >= k for i in range(8))
    ]
    assert again
    for message in again:
        trial = int(message.split("|")[2])
        assert randomisation.draw(SECRET, "x", "a", trial, 1, k) == second_reading(SECRET, message, k)


def test_a_permutation_is_fisher_yates_with_its_places_appended() -> None:
    order = list(range(5))
    for place in (4, 3, 2, 1):
        other = second_reading(SECRET, f"passages|a|1|1|{place}", place + 1)
        order[place], order[other] = order[other], order[place]
    assert randomisation.permutation(SECRET, "passages", "a", 1, 1, 5) == order


def test_coins_are_fair_and_never_balanced() -> None:
    flips = [randomisation.draw(SECRET, "x", "a", trial, 1, 2) for trial in range(1, 4001)]
    assert binomtest(sum(flips), len(flips)).pvalue > 0.001
    of_16 = [sum(flips[start : start + 16]) for start in range(0, 4000, 16)]
    assert len(set(of_16)) > 6  # forced balance would give 8 every time
    pairs = Counter(pairwise(flips))
    assert chisquare(list(pairs.values())).pvalue > 0.001


def test_permutations_are_equally_likely() -> None:
    counts = Counter(tuple(randomisation.permutation(SECRET, "p", "a", trial, 1, 3)) for trial in range(1, 6001))
    assert len(counts) == 6
    assert chisquare(list(counts.values())).pvalue > 0.001


def answer_all(casebook: Casebook, plan: str, listener: str, answers: str) -> None:
    with session.begin(casebook, plan, listener, "none: test") as running:
        for answer in answers:
            offered = running.next_trial()
            assert offered is not None
            running.answer(offered, answer, 2, 1000)


@pytest.mark.parametrize("method", ["abx", "preference"])
def test_the_stand_alone_check_recomputes_seal_keys_count_and_p(
    casebook: Casebook, tmp_path: Path, method: str
) -> None:
    listeners = ("Ada", "Bo")
    drafting.draft(casebook, plan_rows.Wish(method, ("sallow", "bracken"), listeners=listeners, trials=7), "evening")
    sealed = seals.seal(casebook, "evening")
    letters = list(sealed.plan.method.answers)
    for number, name in enumerate(listeners):
        answer_all(casebook, "evening", name, "".join(letters[(trial * trial + number) % 2] for trial in range(7)))
    told = checked_alone(casebook, tmp_path)
    judged = judge(record(casebook, seals.sealed_plan(casebook, "evening")))
    said = re.search(r"(\d+) of 14; p = ([\d.e+-]+)", told)
    assert said is not None, told
    assert judged.count.correct is not None
    counted = judged.count.correct if method == "abx" else max(judged.count.correct, 14 - judged.count.correct)
    assert int(said[1]) == counted
    assert float(said[2]) == pytest.approx(judged.p_value, abs=1e-6)
    kind = "greater" if method == "abx" else "two-sided"
    assert float(said[2]) == pytest.approx(binomtest(counted, 14, alternative=kind).pvalue, abs=1e-6)


def test_the_seal_is_the_hash_of_secret_and_plan(sealed: Casebook) -> None:
    row = seals.sealed_plan(sealed, "evening")
    secret = secret_of(sealed)
    assert len(secret) == 32
    assert row.seal == hashlib.sha256(secret + row.plan.text.encode()).hexdigest()
    plan = json.loads(row.plan.text)
    assert row.plan.text == json.dumps(plan, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert "float" not in {type(value).__name__ for value in leaves(plan)}


def leaves(value: object) -> list[object]:
    if isinstance(value, dict):
        return [leaf for part in value.values() for leaf in leaves(part)]
    if isinstance(value, list):
        return [leaf for part in value for leaf in leaves(part)]
    return [value]


def test_the_plan_fixes_all_that_could_be_chosen_later(sealed: Casebook) -> None:
    plan = json.loads(seals.sealed_plan(sealed, "evening").plan.text)
    wanted = {
        "rule", "question", "method", "setups", "passages", "listeners", "trials", "criterion", "alternative", "alpha",
        "stopping", "ties", "match", "giveaways", "exclusions", "operator", "effect", "power",
    }  # fmt: skip
    assert wanted <= set(plan)
    for passage in plan["passages"]:
        assert {len(digest) for digest in passage["audio"].values()} == {64}
        assert set(passage["audio"]) == {setup["setup"] for setup in plan["setups"]}
        assert isinstance(passage["frames"], int)


def test_two_seals_of_the_same_wish_have_different_secrets(casebook: Casebook) -> None:
    for name in ("one", "two"):
        drafting.draft(casebook, plan_rows.Wish("abx", ("sallow", "bracken"), listeners=("Ada",)), name)
        seals.seal(casebook, name)
    assert secret_of(casebook, "one") != secret_of(casebook, "two")
