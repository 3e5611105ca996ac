"""Check an unpacked proof bundle with Python's standard library alone.

It stands in the bundle as a program, python3 -I checker.py [END ...], and needs nothing of earwitness. It compares
every file with MANIFEST.sha256, byte by byte; lays the whole chain of the casebook from its links; compares each plan's
rows, match sheets and giveaway checks with their places in it; and lets check.py work out keys, scores and p of every
plan that is over, and works out what plans on one question come to together, and which of them hold among the primary
questions of the review: it must be what results.json says, which is what a report says. Every plan, end and viewers'
test that sealed.json counts in the chain must be here. What is told by one file of the bundle alone it names. The
counts and p of viewers' tests it lets viewers_checker.py work out. END is an end of the record that somebody kept, such
as 214-0F3A-91BC-77D2-05EE-S: the chain must contain it. The bundle holds where it says THIS BUNDLE HOLDS, and nowhere
else.
"""

import hashlib
import json
import re
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any, NoReturn

MANIFEST = "MANIFEST.sha256"
START = "0" * 64
NEAR, LEAST = 1e-5, 1e-300  # of p, relatively: the program of the rule tells six digits; below the least p all are one
COUNTED = {
    "plans": "sealed plans of this chain are not in this bundle",
    "sessions": "sessions of sealed plans are not in this bundle, so that plans stand here as not begun",
    "openings": "plans of this chain were ended, and stand here as not over",
    "given_up": "plans of this chain were given up, and stand here as not over",
    "viewers_tests": "viewers' tests of this chain are not in this bundle",
    "viewers_openings": "viewers' tests of this chain were ended, and stand here as not over",
}
PREFERENCES = ("preference", "round-robin")  # methods of which nothing is heard: a preference is shown
BORNE = ("heard", "shown")
AMONG_PRIMARY = " on its own, but not among the {} primary questions taken together"
CHARACTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"

Row = dict[str, Any]


def refuse(what: str) -> NoReturn:
    """End with what does not hold."""
    sys.exit(f"THIS BUNDLE DOES NOT HOLD: {what}")


def check(folder: Path, ends: list[str]) -> list[str]:
    """What is to be said of a bundle that holds."""
    check_manifest(folder)
    links, origins = read(folder, "chain.json"), read(folder, "origins.json")
    check_chain(links, len(links), links[-1][2] if links else START)
    said = [f"every file fits {MANIFEST}; {len(links)} rows of the chain follow each other"]
    for origin in origins:
        check_row(
            {**origin["row"], **{one: origin[one] for one in ("casebook", "rows", "head")}, "table": "origins"},
            [links],
            f"the row of the casebook {origin['casebook']}",
        )
        check_chain(origin["links"], origin["rows"], origin["head"])
        said.append(f"so do {origin['rows']} of the casebook {origin['casebook']}, which was brought in")
    chains = [links, *(origin["links"] for origin in origins)]
    said += [check_end(code, chains) for code in ends]
    evidence = {row["hash"]: row for row in read(folder, "evidence.json")}
    for one in evidence.values():
        check_row(one, chains, f"the row {one['id']} of {one['table']}")
    results = {one["plan"]: one for one in read(folder, "results.json")}
    files = sorted((folder / "plans").glob("*.json"))
    if len(files) != len(results):
        refuse("results.json speaks of other plans than there are")
    plans, told = {}, list[Row]()
    for file in files:
        record = read(folder, f"plans/{file.name}")
        check_where_it_was(record["chain"], origins)
        said.append(check_plan(folder, record, links, evidence, results))
        plan = json.loads(record["plan"])
        check_stated(record, plan, results[plan["plan"]], bool(origins))
        plans[plan["plan"]] = plan
        told += record["chain"]
    for file in sorted((folder / "viewers").glob("*.json")):
        said.append(check_viewers(folder, file.name, links, origins, results))
        told += read(folder, f"viewers/{file.name}")["rows"]
    counted = check_all_here(read(folder, "sealed.json"), told, len(links))
    said += [*check_together(plans, results, bool(origins)), counted]
    stated = (folder / MANIFEST).read_text(encoding="utf-8")
    if "".join(manifest(folder)) != stated:  # no one byte of this switches both off
        refuse(f"not as {MANIFEST} says")
    return [*said, f"The end of this record: {end_code(links)} ({links[-1][2] if links else START})"]


def check_manifest(folder: Path) -> None:
    """Every file there is, and no other, stands in the manifest with its hash; nothing else stands there."""
    lines, stated = manifest(folder), (folder / MANIFEST).read_bytes()
    if stated != "".join(lines).encode():
        wrong = {line[66:].strip() for line in set(lines) ^ set(stated.decode("utf-8", "replace").splitlines(True))}
        refuse(f"not as {MANIFEST} says: {', '.join(sorted(wrong)) or MANIFEST}")


def manifest(folder: Path) -> list[str]:
    """The lines that the manifest must have, by the files there are."""
    names = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
    return [f"{hashlib.sha256((folder / one).read_bytes()).hexdigest()}  {one}\n" for one in names if one != MANIFEST]


def check_chain(links: list[list[Any]], rows: int, head: str) -> None:
    """Links follow each other from the first row on, as many as there were, to the last one."""
    prior = START
    for place, (seq, before, digest) in enumerate(links, 1):
        if seq != place or before != prior or not re.fullmatch("[0-9a-f]{64}", digest):
            refuse(f"the chain is broken at its row {place}")
        prior = digest
    if (len(links), prior) != (rows, head):
        refuse("a chain does not end where it says")


def check_row(row: Row, chains: list[list[list[Any]]], called: str) -> None:
    """A whole row gives its hash, and lies in one of the chains where it says."""
    link = [row["seq"], row["prior"], row["hash"]]
    if digest_of(row) != row["hash"] or not any(links[row["seq"] - 1 : row["seq"]] == [link] for links in chains):
        refuse(f"{called} was changed, or is not the one of the chain")


def digest_of(row: Row) -> str:
    """The hash of a row, by the rule."""
    content = {name: value for name, value in row.items() if name != "hash"}
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256((row["prior"] + text).encode()).hexdigest()


def check_where_it_was(rows: list[Row], origins: list[Row]) -> None:
    """Rows that were brought in are those of the chain that they come from."""
    for origin in origins:
        for row in rows:
            place = origin["places"].get(row["id"])
            if place is not None:
                seq, prior, digest = origin["links"][place - 1]
                if digest_of({**row, "seq": seq, "prior": prior}) != digest:
                    refuse(f"row {row['seq']} ({row['table']}) was changed since it was brought in")


def check_plan(folder: Path, record: Row, links: list[list[Any]], evidence: Row, results: Row) -> str:
    """What a plan came to, recomputed by the program of the rule."""
    plan, sealed = json.loads(record["plan"]), record["chain"][0]
    name, result = sealed["name"], results.get(plan["plan"])
    if result is None:
        refuse(f"results.json does not speak of the plan {name}")
    own = {row["seq"]: row for row in record["chain"]}
    for row in record["chain"]:
        check_row(row, [links], f"row {row['seq']} ({row['table']}) of the plan {name}")
    if (sealed["table"], sealed["document"], sealed["seal"]) != ("plans", record["plan"], record["seal"]):
        refuse(f"the plan {name} is not the one that was sealed")
    there = next((row for row in evidence.values() if (row["table"], row["id"]) == ("plans", plan["plan"])), sealed)
    if (there["document"], there["seal"]) != (record["plan"], record["seal"]):
        refuse(f"the plan {name} is not the one that was sealed where it comes from")
    for digest in {plan["match"]["sheet"], plan["giveaways"]["check"], *plan["giveaways"].get("checks", [])} - {"none"}:
        if digest not in evidence or evidence[digest]["seq"] >= there["seq"]:
            refuse(f"the plan {name} rests on a match sheet or check that is not here, or is younger than it")
    if not record["secret"]:
        if result["p_value"] is not None or any(one["trials"] for one in record["sessions"]):
            refuse(f"the plan {name} is not over, and something of its answers is told")
        state = "not over" if not record.get("given_up") else "given up unopened"
        return f"{name}: sealed, {state} (seal {record['seal']})"
    chain = [own.get(link[0], link) for link in links[sealed["seq"] - 1 :]]
    told = recomputed(folder, {**record, "chain": chain, "chain_head": links[-1][2]}, name)
    found = re.search(r"; (?:p = ([\d.e+-]+)|no p); alpha .*?; by itself: (.+); seal ", told)
    if found is None:
        refuse(f"the program says nothing of the plan {name}")
    stated, drawn = result["p_value"], "not recomputed here" in found[2]
    alone_fits = result["by_itself"] == as_said(plan, found[2].partition(",")[0])
    p_fits = (
        stated is None
        if found[1] is None
        else stated is not None and abs(float(found[1]) - stated) <= NEAR * max(stated, LEAST)
    )
    if drawn:  # no p is worked out here, but what follows from the one that is told is
        p_fits = stated is not None
        alone_fits = p_fits and result["by_itself"] == as_said(
            plan, "heard" if stated <= float(plan["alpha"]) else "not shown"
        )
    if not (p_fits and alone_fits):
        refuse(f"the plan {name} came to something else than results.json says: {told}")
    alone = f" (told by results.json alone: p = {stated}, {result['by_itself']})" if drawn else ""
    return f"{name}: {told.replace(found[2], as_said(plan, found[2]))}{alone}"


def as_said(plan: Row, verdict: str) -> str:
    """A verdict of the rule's program as results.json says it."""
    return verdict.replace("heard", "shown", 1) if plan["method"] in PREFERENCES else verdict


def check_stated(record: Row, plan: Row, result: Row, merged: bool) -> None:
    """What results.json says of a plan beside its result: its name, whether it is over, its places in the chain."""
    sealed, over = record["chain"][0], bool(record["secret"])
    same = (result["name"], result["seal"], result["over"]) == (sealed["name"], record["seal"], over)
    empty = over or [result[one] for one in ("verdict", "by_itself", "p_value")] == [None] * 3
    if not (same and empty):
        refuse(f"results.json says something else of the plan {sealed['name']} than its record")
    rows = record["chain"]
    sessions = {row["id"]: row["seq"] for row in rows if row["table"] == "sessions" and row["rehearsal"] is None}
    if set(sessions) != {one["session"] for one in record["sessions"]}:
        refuse(f"the sessions of the plan {sealed['name']} are not those of its rows")
    openings = [row["seq"] for row in rows if row["table"] == "openings"]
    places = (sealed["seq"], min(sessions.values(), default=None), openings[0] if openings else None)
    stated = (result["sealed_at"], result["begun"], result["over_at"])
    # of a merged casebook they are places in time, among several chains: here follows only whether there are any
    if stated != places if not merged else [one is None for one in stated] != [one is None for one in places]:
        refuse(f"results.json says otherwise when the plan {sealed['name']} was sealed, begun or over")


def check_all_here(sealed: dict[str, list[int]], told: list[Row], rows: int) -> str:
    """Every plan, session, end and viewers' test that the chain holds, as sealed.json tells its rows, is told here."""
    for table, missing in COUNTED.items():
        here = {row["seq"] for row in told if row["table"] == table}
        lost, more = sorted({*sealed[table]} - here), sorted(here - {*sealed[table]})
        if lost:
            refuse(f"{len(lost)} {missing} (rows {', '.join(map(str, lost))} of the chain)")
        if more or len(sealed[table]) != len(here):
            refuse(f"sealed.json does not count row {more[:1]} ({table}) of the chain")
    count = f"{len(sealed['plans'])} sealed plans and {len(sealed['viewers_tests'])} viewers' tests of this chain"
    hashes = f"the {rows - len({row['seq'] for row in told})} rows of the chain that stand here as hashes"
    return f"{count}, all of them here. Told by sealed.json alone: that no other is among {hashes}"


def check_together(plans: dict[str, Row], results: Row, merged: bool) -> list[str]:
    """What each plan comes to with all others of its review; gives what of it rests on results.json alone, too."""
    if not merged and len({one["review"] for one in results.values()}) > 1:
        refuse("results.json tells of several reviews, and no casebook was brought into this one")
    asked, said = together(plans, results), list[str]()
    for plan, (verdict, p, among) in among_primary(plans, results, asked).items():
        result = results[plan]
        if not result["over"]:
            continue
        if result["verdict"] != verdict:
            named = f"the plan {result['name']} is {verdict}"
            refuse(f"together with those on its question and the primary questions {named}, not what results.json says")
        if (result["primary_questions"], result["p_among_primary"] is None) != (among, p is None):
            refuse(f"results.json says otherwise among which primary questions the plan {result['name']} is judged")
        if p is not None and abs(p - result["p_among_primary"]) > NEAR * p:
            refuse(f"among the primary questions the plan {result['name']} has p = {p:.6g}, not what results.json says")
        holm = "" if p is None else f"; among {among} primary questions p = {p:.6g}"
        said.append(f"with all plans of its review, {result['name']}: {verdict}{holm}")
    alone = "told by results.json alone: when each plan was sealed, begun and over, and where, among several casebooks"
    return [*said, alone] if merged else said


def together(plans: dict[str, Row], results: Row) -> dict[str, Any]:
    """The verdict of each plan with all on its question (one method, the same setups), by results by themselves.

    Heard is only what is heard with Holm's correction over its stage (those sealed before any of them was begun), and
    after stages of which every plan holds. A ballot's words are multiplied by the number of plans in the stage.
    """

    def question(plan: Row) -> Any:
        return plan["method"], sorted(one["setup"] for one in plan["setups"])

    alone = {one: results[one]["by_itself"] for one in plans}
    verdicts = dict(alone)
    for own, plan in plans.items():
        family = [one for one in plans if question(plans[one]) == question(plan) and could_count(plans[one])]
        p = corrected(family, plans, results, alone)
        if len(p) > 1 and p.get(own, 0) > float(plan["alpha"]) and alone[own] in BORNE and has_test(results[own]):
            verdicts[own] = "not shown"
    return verdicts


def among_primary(plans: dict[str, Row], results: Row, asked: dict[str, Any]) -> dict[str, tuple[Any, Any, Any]]:
    """Each plan's verdict as a report has it; its p and the number of plans among its review's primary questions.

    The primary questions of a review share one error rate by the same rule, whatever each asks; `asked` are their
    verdicts with all on their question. A plan that is none of them, or the only one, is told without.
    """
    found = dict[str, tuple[Any, Any, Any]]()
    for own, plan in plans.items():
        family = [
            one
            for one in plans
            if plans[one].get("primary", True) and results[one]["review"] == results[own]["review"]
            and could_count(plans[one])
        ]  # fmt: skip
        p = corrected(family, plans, results, asked)
        if own not in p or len(p) < 2 or not has_test(results[own]):
            found[own] = asked[own], None, None
            continue
        falls = asked[own] in BORNE and p[own] > float(plan["alpha"])
        found[own] = f"{asked[own]}{AMONG_PRIMARY.format(len(p)) if falls else ''}", p[own], len(p)
    return found


def corrected(family: list[str], plans: dict[str, Row], results: Row, verdicts: dict[str, Any]) -> dict[str, float]:
    """The corrected p of each plan of a family that takes part in it."""
    begun = [results[one]["begun"] for one in family if results[one]["begun"] is not None]
    stages: list[list[str]] = []
    for one in sorted(family, key=lambda one: results[one]["sealed_at"]):
        own = results[one]
        if own["over_at"] is not None and not any(row < own["over_at"] for row in begun):
            continue  # given up before any trial of them
        if not stages or any(results[stages[-1][0]]["sealed_at"] < row < own["sealed_at"] for row in begun):
            stages.append([])
        stages[-1].append(one)
    found, holds = dict[str, float](), True
    for stage in stages:
        p = {one: results[one]["p_value"] if has_test(results[one]) else 1.0 for one in stage}
        least = 0.0
        for place, one in enumerate(sorted(stage, key=lambda one: p[one])):
            least = max(least, min(1.0, p[one] * (len(stage) - place)))
            words = min(1.0, p[one] * len(stage)) if plans[one]["method"] == "words" else 0.0
            found[one] = max(least, words) if holds else 1.0
        holds = holds and all(verdicts[one] in BORNE and found[one] <= float(plans[one]["alpha"]) for one in stage)
    return found


def could_count(plan: Row) -> bool:
    """Whether a result under this plan could count: matched within its limits, and checked for giveaways."""
    match, found = plan["match"], plan["giveaways"]
    leans = float(match.get("balance_db", 0)) > float(match.get("balance_limit_db", 0))
    matched = match["sheet"] != "none" and float(match["residual_lu"]) <= float(match["tolerance_lu"])
    return matched and found["check"] != "none" and not found["open"] and ("balance_accepted" in match or not leans)


def has_test(result: Row) -> bool:
    """Whether a plan came to a test by itself."""
    return result["p_value"] is not None and result["by_itself"] in (*BORNE, "not shown")


def check_viewers(folder: Path, name: str, links: list[list[Any]], origins: list[Row], results: Row) -> str:
    """What a viewers' test came to, recomputed by its own program."""
    record = read(folder, f"viewers/{name}")
    for row in record["rows"]:
        check_row(row, [links], f"row {row['seq']} ({row['table']}) of viewers/{name}")
    check_where_it_was(record["rows"], origins)
    test = json.loads(record["test"])
    if results[test["plan"]]["seal"] != test["plan_seal"]:
        refuse(f"viewers/{name} is made from another plan than is here")
    return run(folder / "viewers_checker.py", folder / "viewers" / name, f"viewers/{name}")


def run(program: Path, file: Path, called: str) -> str:
    """The first line of a program of the bundle on a record."""
    command = [sys.executable, "-I", "-S", str(program), str(file)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode or not done.stdout:
        refuse(f"{called}: {done.stderr.strip()}")
    return done.stdout.splitlines()[0]


def recomputed(folder: Path, record: Row, name: str) -> str:
    """The first line of the rule's own program on a record."""
    with tempfile.TemporaryDirectory() as home:
        file = Path(home, "record.json")
        file.write_text(json.dumps(record), encoding="utf-8")
        return run(folder / "check.py", file, f"the plan {name}")


def check_end(code: str, chains: list[list[list[Any]]]) -> str:
    """Whether one of the chains contains an end that somebody kept."""
    rows, _, rest = code.strip().upper().partition("-")
    digits = re.sub(r"[\s-]", "", rest)
    place = int(rows) if rows.isdigit() else 0
    if len(digits) != 17 or digits[-1] != check_character(rows + digits[:-1]):
        refuse(f"{code} is no end code, or was mistyped")
    if not place or not any(
        one[2].upper().startswith(digits[:16]) for links in chains for one in links[place - 1 : place]
    ):
        refuse(f"the end {code} is not in this record: it was rewritten or rolled back since (or is of another one)")
    return f"the end {code} is there: no row up to {place} was changed since it was kept"


def end_code(links: list[list[Any]]) -> str:
    """The chain's end as its code."""
    if not links:
        return "none"
    digits = links[-1][2][:16].upper()
    groups = [digits[at : at + 4] for at in range(0, 16, 4)]
    return "-".join([str(len(links)), *groups, check_character(f"{len(links)}{digits}")])


def check_character(text: str) -> str:
    """ISO 7064, MOD 37,36."""
    remainder = 36
    for character in text:
        remainder = (remainder + CHARACTERS.index(character)) % 36 or 36
        remainder = remainder * 2 % 37
    return CHARACTERS[(37 - remainder) % 36]


def read(folder: Path, name: str) -> Any:
    """A JSON file of the bundle."""
    return json.loads((folder / name).read_text(encoding="utf-8"))


def main() -> None:
    """Check the folder in which this program lies."""
    folder = Path(__file__).resolve().parent
    try:
        said = check(folder, sys.argv[1:])
    except (OSError, LookupError, ValueError, TypeError, AttributeError) as error:
        refuse(f"it cannot be read: {error!r}")
    print("THIS BUNDLE HOLDS", *said, sep="\n")


if __name__ == "__main__":
    main()
