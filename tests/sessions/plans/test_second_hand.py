"""Without the second secret that somebody else holds nothing tells a key, and the opening shows that it took part."""

from __future__ import annotations

import hashlib
import hmac
import json
import random
import re
import shutil
import subprocess
import sys
import time
from itertools import product
from pathlib import Path

import pytest

from sessions.casebook import secret_files
from sessions.casebook.store import Casebook, open_casebook
from sessions.errors import PlanError
from sessions.listening import session
from sessions.plans import coin_phrase, drafting, plan_rows, seals, second_hand
from sessions.plans.plan_rows import SealedPlan, Wish
from sessions.results import verification
from sessions.results.exported_record import exported
from tests.answered_plans import PAIR, answer_all, checked_alone
from tests.casebooks import chain_holds, judged, secret_of

TYPED = "Ten green bottles, 1972 – Ünder the stairs"
NORMALISED = "tengreenbottles1972ünderthestairs"
WORDS = "rain on Tuesday, 7 12 31"

ANSWER_ALL = """
import sys
import time
from pathlib import Path
from sessions.casebook.store import open_casebook
from sessions.listening import session
typed = sys.stdin.readline()
running = session.begin(open_casebook(Path(sys.argv[1])), "evening", "Ada", "none", lambda _: typed)
while (offered := running.next_trial()) is not None:
    print("offered", offered.trial, offered.offer, offered.key["X"], flush=True)
    time.sleep(0.05)  # somebody listens: long enough for whoever kills
    running.answer(offered, "A", 1, 10)
    print("kept", offered.trial, flush=True)
"""


def held(casebook: Casebook, trials: int = 8, *, phrase: bool = False) -> SealedPlan:
    """An ABX plan whose second secret somebody else holds."""
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=trials), "evening")
    return seals.seal(casebook, "evening", await_phrase=phrase, ask_second=lambda: second_hand.chosen(TYPED))


def slow_hash(plan_id: str) -> str:
    """What a plan holds of it, by the rule's words: PBKDF2 block by block (RFC 8018, 5.2), without hashlib's own."""
    mac = hmac.new(f"second hand|{NORMALISED}".encode(), digestmod="sha256")

    def prf(message: bytes) -> bytes:
        one = mac.copy()
        one.update(message)
        return one.digest()

    last = prf(plan_id.encode() + (1).to_bytes(4, "big"))
    total = int.from_bytes(last, "big")
    for _ in range(600_000 - 1):
        last = prf(last)
        total ^= int.from_bytes(last, "big")
    return f"{total:064x}"


def x_by_hand(key: bytes, listener: str, trial: int, offer: int) -> int:
    """What X is, by the rule's words alone (k = 2 divides 2**32, so the first number always serves)."""
    return int.from_bytes(hmac.digest(key, f"x|{listener}|{trial}|{offer}".encode(), "sha256")[:4], "big") % 2


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        (TYPED, NORMALISED),
        ("  TEN green-bottles; 1972: u\u0308nder   THE stairs\n", NORMALISED),
        ("ＦＵＬＬ width ４２ Ⅷ", "fullwidth42viii"),
        ("Straße", "strasse"),
        ("–;\n", ""),
    ],
)
def test_a_second_secret_is_the_same_however_it_is_typed(typed: str, kept: str) -> None:
    assert second_hand.normalised(typed) == kept
    assert second_hand.normalised(kept) == kept


def test_a_short_one_is_refused_and_one_that_is_made_has_80_bits() -> None:
    with pytest.raises(PlanError, match="has 19 letters or digits; give at least 20"):
        second_hand.chosen("abcde fghij klmno pqrs !!!!")
    assert second_hand.chosen("abode fight kilns parts !") == "abodefightkilnsparts"
    # RFC 4648, section 10: BASE32("foobar") = "MZXW6YTBOI======"
    assert second_hand.normalised(second_hand.drawn(b"foobar")).startswith("mzxw6ytboi")
    made = second_hand.drawn(bytes(range(240, 250)))
    assert [len(group) for group in made.split()] == [4, 4, 4, 4]
    assert len({second_hand.drawn(bytes([one] * 10)) for one in range(256)}) == 256


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("a" * 20, "has 1 different letters or digits; give at least 8"),
        ("12345678901234567890", "mostly runs such as aaaa, 1234 or abcd"),
        ("abcdefghijklmnopqrst", "mostly runs"),
        ("zyxwvutsrq 9876543210", "mostly runs"),
        ("aaaabbbbccccddddeeeeffffgggghhhh", "mostly runs"),
        ("password1 password1 password1", None),
        ("hunter2hunter2hunter2", "has 7 different"),
        ("green 1234 bottles abcd", None),
        ("1234 abcd 9876 stuvw bottle", "mostly runs"),
    ],
)
def test_one_that_would_be_guessed_first_is_refused(typed: str, says: str | None) -> None:
    if says is None:
        assert second_hand.chosen(typed) == typed.replace(" ", "")
        return
    with pytest.raises(PlanError, match=says):
        second_hand.chosen(typed)


def test_the_same_secret_has_another_hash_in_each_plan_and_a_slow_one() -> None:
    one, two = (second_hand.digest(NORMALISED, plan) for plan in ("plan-1", "plan-2"))
    assert one != two
    assert hashlib.sha256(f"second hand|{NORMALISED}".encode()).hexdigest() not in (one, two)
    begun = time.process_time()
    second_hand.digest("anothersecret1972", "plan-1")
    assert time.process_time() - begun > 0.02  # an unsalted SHA-256 takes a microsecond


@pytest.mark.parametrize("phrase", [False, True])
def test_its_keys_follow_from_it_and_the_opening_tells_it(casebook: Casebook, tmp_path: Path, phrase: bool) -> None:
    sealed = held(casebook, phrase=phrase)
    plan, key = sealed.plan, secret_of(casebook)
    assert plan.document["rule"] == 2
    assert plan.document["second_hand"] == slow_hash(plan.id)
    assert sealed.seal == hashlib.sha256(key + plan.text.encode()).hexdigest()
    if phrase:
        seals.give_phrase(casebook, "evening", WORDS)
        key = hmac.digest(key, f"phrase|{WORDS}".encode(), "sha256")
    key = hmac.digest(key, f"second hand|{NORMALISED}".encode(), "sha256")
    answer_all(casebook, 1.0, most=3, second=TYPED)
    assert verification.verify(casebook).broken == []
    assert casebook.query("SELECT * FROM second_hands") == []
    assert exported(casebook, sealed)["second_hand"] is None
    answer_all(casebook, 1.0, second=TYPED.upper())
    told = casebook.query("SELECT trial, offer, keys.key FROM trials JOIN keys ON trial_id = trials.id")
    assert len(told) == 8
    for row in told:
        x = x_by_hand(key, plan.listeners[0].id, row["trial"], row["offer"])
        assert json.loads(row["key"]) == {"A": 0, "B": 1, "X": x}
    assert [row["secret"] for row in casebook.query("SELECT secret FROM second_hands")] == [NORMALISED]
    assert exported(casebook, sealed)["second_hand"] == NORMALISED
    assert verification.verify(casebook).broken == []
    assert judged(casebook, "evening").verdict == "heard"
    said = checked_alone(casebook, tmp_path)
    assert "8 of 8; p = 0.003906" in said
    both = f"secret and phrase '{WORDS}' and" if phrase else "secret and"
    assert f"The keys were drawn by {both} a second secret (who held it no record can show)" in said


def test_whoever_has_the_whole_folder_of_a_running_plan_has_no_key(casebook: Casebook, tmp_path: Path) -> None:
    plan = held(casebook, trials=40, phrase=True).plan
    seals.give_phrase(casebook, "evening", WORDS)
    true = []
    with session.begin(casebook, "evening", "Ada", "none", lambda _: TYPED) as running:
        for _ in range(39):
            offered = running.next_trial()
            assert offered is not None
            true.append(offered.key["X"])
            running.answer(offered, "A", 1, 10)
    shutil.copytree(casebook.folder, tmp_path / "stolen")
    with open_casebook(tmp_path / "stolen") as stolen:
        written = b"".join(path.read_bytes() for path in stolen.folder.rglob("*") if path.is_file())
        for told in (TYPED, NORMALISED, "bottles"):
            assert told.encode() not in written
        secret = secret_files.read(stolen.folder, plan.id)
        assert secret == secret_of(casebook)
        unlocked = seals.unlock(casebook, seals.sealed_plan(casebook, "evening"), TYPED)
        assert unlocked.coin_key not in written
        assert unlocked.coin_key.hex().encode() not in written
        hashed = plan.document["second_hand"]
        texts = [WORDS, f"phrase|{WORDS}", hashed, f"second hand|{hashed}", "second hand|", plan.text]
        firsts = [secret, bytes.fromhex(hashed), secret.hex().encode()]
        firsts += [hmac.digest(one, text.encode(), "sha256") for one, text in product(firsts, texts)]
        firsts += [hmac.digest(one, text.encode(), "sha256") for one, text in product(firsts, texts)]
        for key in firsts:
            assert [x_by_hand(key, plan.listeners[0].id, trial, 1) for trial in range(1, 40)] != true
        with pytest.raises(PlanError, match="has a second secret, held by somebody else, and stays sealed without it"):
            session.begin(stolen, "evening", "Ada", "none")
        with pytest.raises(PlanError, match="stays sealed without it"):
            seals.close(stolen, "evening", "let me see")
        with pytest.raises(PlanError, match="not the second secret of plan 'evening'"):
            seals.close(stolen, "evening", "let me see", WORDS)
        assert plan_rows.opening(stolen, plan.id) is None
    key = hmac.digest(
        hmac.digest(secret, f"phrase|{WORDS}".encode(), "sha256"), f"second hand|{NORMALISED}".encode(), "sha256"
    )
    assert [x_by_hand(key, plan.listeners[0].id, trial, 1) for trial in range(1, 40)] == true


def test_a_plan_closed_early_is_opened_with_it(casebook: Casebook, tmp_path: Path) -> None:
    held(casebook)
    answer_all(casebook, 1.0, most=3, second=TYPED)
    seals.close(casebook, "evening", "it rained", TYPED)
    assert verification.verify(casebook).broken == []
    assert casebook.query("SELECT count(*) AS n FROM keys") == [{"n": 3}]
    assert "a second secret (who held it no record can show)" in checked_alone(casebook, tmp_path)


def test_a_plan_that_awaits_both_is_closed_before_its_phrase(casebook: Casebook, tmp_path: Path) -> None:
    held(casebook, phrase=True)
    seals.close(casebook, "evening", "nobody wrote", TYPED)
    assert verification.verify(casebook).broken == []
    assert "0 answered, 8 missing; no p" in checked_alone(casebook, tmp_path)


def test_a_wrong_one_begins_nothing_and_no_message_tells_a_secret(casebook: Casebook) -> None:
    sealed = held(casebook)
    with pytest.raises(PlanError, match="this is not the second secret of plan 'evening'; ask who holds it") as told:
        session.begin(casebook, "evening", "Ada", "none", lambda _: "Eleven green bottles")
    assert "leven" not in str(told.value)
    assert casebook.query("SELECT * FROM sessions") == []
    unlocked = seals.unlock(casebook, sealed, TYPED)
    with session.begin(casebook, "evening", "Ada", "none", lambda _: TYPED) as running:
        shown = repr(unlocked) + repr(running._order) + repr(running.next_trial())
    secrets = (NORMALISED, TYPED, unlocked.coin_key.hex(), repr(unlocked.coin_key), repr(secret_of(casebook)))
    assert not [one for one in secrets if one in shown]


def test_a_plan_without_one_needs_none_and_takes_none_into_its_coins(sealed: Casebook) -> None:
    plan = seals.sealed_plan(sealed, "evening")
    assert seals.unlock(sealed, plan, TYPED) == seals.unlock(sealed, plan)
    assert seals.unlock(sealed, plan).coin_key == secret_of(sealed)


def answered(casebook: Casebook) -> int:
    """How many answers are on disk: a killed program may not have said its last one any more."""
    return int(casebook.query("SELECT count(*) AS n FROM answers")[0]["n"])


def test_a_killed_session_goes_on_with_the_same_keys_once_it_is_typed_again(casebook: Casebook) -> None:
    held(casebook)
    offered: dict[int, set[str]] = {}
    rng, attempts, errors = random.Random(6), 0, ""
    while answered(casebook) < 8 and attempts < 20:
        attempts += 1
        child = subprocess.Popen(
            [sys.executable, "-c", ANSWER_ALL, str(casebook.folder)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        assert child.stdin is not None
        assert child.stdout is not None
        child.stdin.write(TYPED + "\n")
        child.stdin.flush()
        lines = [child.stdout.readline() for _ in range(rng.randint(2, 7))]
        child.kill()
        rest, errors = child.communicate()
        for line in "".join([*lines, rest]).splitlines():
            what, trial, *told = line.split()
            if what == "offered":
                offered.setdefault(int(trial), set()).add(" ".join(told))
    assert attempts > 1, errors
    assert answered(casebook) == 8, errors
    assert all(len(seen) == 1 for seen in offered.values()), offered
    assert chain_holds(casebook)
    assert verification.verify(casebook).broken == []


def test_how_the_key_was_drawn_says_that_both_took_part(casebook: Casebook) -> None:
    plan = held(casebook, phrase=True).plan
    before = coin_phrase.how_drawn(plan, None)
    assert "from a phrase of somebody else that it still awaits" in before
    assert "and from a second secret that was given when it was sealed; this machine does not keep it" in before
    phrase = seals.give_phrase(casebook, "evening", WORDS)
    said = coin_phrase.how_drawn(plan, phrase, NORMALISED)
    assert (
        f'"{WORDS}", and from a second secret that was given when it was sealed and typed in again when a session '
        "began or the plan was closed; who held it no record can show."
    ) in said
    assert NORMALISED not in said
    assert not re.search("somebody else he?ld", before + said)
