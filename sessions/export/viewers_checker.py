"""Check a viewers' test of a proof bundle with Python's standard library alone, by the rule in viewers_sealing.md.

It stands in the bundle as a program, which checker.py runs of each test: python3 -I viewers_checker.py RECORD.json.
From the record it works out the key, and of a test that is over count and p of the answers that were there at its end.
"""

import hashlib
import hmac
import json
import math
import sys
import zlib
from collections import Counter
from typing import Any, NoReturn

LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
NEAR = 1e-6  # of p, relatively: sums of very many answers are taken by their logarithms
LEAST = 1e-300  # below which p is told as less than that


def refuse(what: str) -> NoReturn:
    """End with what does not hold."""
    sys.exit(what)


def check(record: dict[str, Any]) -> str:
    """What is to be said of a record that holds."""
    test, rows = json.loads(record["test"]), record["rows"]
    first, named = rows[0], f"viewers' {test['form']} {test['viewers']}"
    own = (first["table"], first["id"], first["document"], first["seal"], first["plan_id"])
    if own != ("viewers_tests", test["viewers"], record["test"], record["seal"], test["plan"]):
        refuse("it is not the one that was sealed")
    if len(rows) == 1:
        if any(record[one] is not None for one in ("secret", "answers", "result")):
            refuse("it is not over, and something of its answers is told")
        return f"{named}: sealed, not over (seal {record['seal']})"
    told = rows[1]
    if (told["table"], told["viewers_id"], told["secret"]) != ("viewers_openings", test["viewers"], record["secret"]):
        refuse("its secret is not the one of the chain")
    secret = bytes.fromhex(record["secret"])
    if len(rows) != 2 or told["seq"] <= first["seq"] or seal(secret, record["test"]) != record["seal"]:
        refuse("the seal does not fit")
    if record["answers"] is None:
        if record["result"] is not None:
            refuse("its answers are not here, and a result is told")
        return f"{named}: over; its {told['answers']} answers are not here, so that nothing is recomputed"
    if hashlib.sha256(record["answers"].encode()).hexdigest() != told["answers_sha256"]:
        refuse("these are not the answers that were there when its secret was told")
    senders, right, answers, p = (of_page if test["form"] == "page" else of_poll)(test, secret, record)
    verdict = "heard" if p <= float(test["alpha"]) else "not shown"
    stated = record["result"]
    same = (stated["senders"], stated["right"], stated["answers"], stated["verdict"]) == (
        senders,
        right,
        answers,
        verdict,
    )
    if not same or abs(stated["p_value"] - p) > NEAR * max(p, LEAST):
        refuse(f"it came to {right} of {answers} by {senders}, p = {p}, {verdict}, and not to what is told of it")
    came_to = (
        verdict if test["method"] == "abx" else verdict.replace("heard", "shown")
    )  # of a preference nothing is heard
    return f"{named}: {right} of {answers} by {senders}; p = {p:.6g}; by itself: {came_to}; seal {record['seal']}"


def seal(secret: bytes, test: str) -> str:
    """The commitment to a test and its secret."""
    return hashlib.sha256(secret + test.encode()).hexdigest()


def coin(test: dict[str, Any], secret: bytes, slot: int) -> int:
    """Which setup a slot's first file holds; of a soundtrack, which one X is or what is heard as 1."""
    message = f"x|{test['viewers']}|{slot}|1".encode()
    return int.from_bytes(hmac.new(secret, message, hashlib.sha256).digest()[:4], "big") % 2


def of_page(test: dict[str, Any], secret: bytes, record: dict[str, Any]) -> tuple[int, int, int, float]:
    """Senders, right answers (or those for the first setup), all answers, and p, of the codes of a page."""
    trials, tag, codes = test["trials"], int(record["seal"][:5], 16) >> 2, record["answers"].split()
    coins, right = [coin(test, secret, slot) for slot in range(1, trials + 1)], 0
    if len(set(codes)) != len(codes) or len(codes) != record["rows"][1]["answers"]:
        refuse("a code stands there twice, or some are missing")
    for letters in codes:
        whole = 0
        for letter in letters:
            whole = whole * 32 + LETTERS.index(letter)
        number = whole >> 32
        if zlib.crc32(number.to_bytes(11, "big")) != whole & 0xFFFFFFFF or number >> 70 != tag:
            refuse(f"{letters} is no code of this test")
        turn, bits = number >> 36 & 15, number >> 24 & 4095
        for trial in range(trials):
            place = (turn + trial) % trials
            right += (number >> 22 - 2 * trial & 3) - 1 == coins[place] ^ (bits >> place & 1)
    answers, one_sided = trials * len(codes), test["method"] == "abx"
    far = right if one_sided else max(right, answers - right)
    return len(codes), right, answers, min(1.0, tail(far, answers) * (1 if one_sided else 2))


def tail(least: int, of: int) -> float:
    """How likely so many heads of fair coins are, or more: by logarithms, so that no number is too large."""

    def log_ways(count: int) -> float:
        return math.lgamma(of + 1) - math.lgamma(count + 1) - math.lgamma(of - count + 1) - of * math.log(2)

    return math.fsum(math.exp(log_ways(count)) for count in range(least, of + 1))


def of_poll(test: dict[str, Any], secret: bytes, record: dict[str, Any]) -> tuple[int, int, int, float]:
    """Votes, those with the key, all again, and p: the share of keys with which as many would have been right."""
    each = [(pair[coin(test, secret, trial)], sum(pair)) for trial, *pair in json.loads(record["answers"])]
    ways = Counter({0: 1})
    for right, votes in each:
        longer: Counter[int] = Counter()
        for lead, number in ways.items():
            longer[lead + 2 * right - votes] += number
            longer[lead + votes - 2 * right] += number
        ways = longer
    seen, one_sided = sum(2 * right - votes for right, votes in each), test["method"] == "abx"
    far = sum(number for lead, number in ways.items() if (lead >= seen if one_sided else abs(lead) >= abs(seen)))
    votes = sum(votes for _, votes in each)
    return votes, sum(right for right, _ in each), votes, far / 2 ** len(each)


def main() -> None:
    """Check the record that is named."""
    try:
        with open(sys.argv[1], encoding="utf-8") as file:
            said = check(json.load(file))
    except (OSError, LookupError, ValueError, TypeError, AttributeError) as error:
        refuse(f"it cannot be read: {error!r}")
    print(said)


if __name__ == "__main__":
    main()
