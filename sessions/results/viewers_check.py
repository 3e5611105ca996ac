"""Whether the viewers' tests of a casebook hold: their seals, their secrets, and the plans that they are made from."""

from __future__ import annotations

from collections.abc import Iterator

from ..casebook import secret_files
from ..casebook.inspection import Inspected
from ..casebook.store import Casebook, Row
from ..plans import randomisation
from ..plans.viewers_test import ViewersTest


def faults(copy: Casebook, found: Inspected) -> list[str]:
    """What of the viewers' tests does not hold."""
    plans = {row["id"]: row for row in found.rows["plans"]}
    openings = {row["viewers_id"]: row for row in found.rows["viewers_openings"]}
    return [
        f"viewers' test {row['id']}: {fault}"
        for row in found.rows["viewers_tests"]
        for fault in _faults(copy, row, plans.get(row["plan_id"]), openings.get(row["id"]))
    ]


def without_secret(casebook: Casebook, found: Inspected) -> list[str]:
    """The tests that still await answers, and whose secret is not here."""
    over = {row["viewers_id"] for row in found.rows["viewers_openings"]}
    return [
        f"viewers' test {row['id']}: its secret is not in {secret_files.path_of(casebook.folder, row['id'])}, so "
        "that it can neither be checked nor counted; put back the folder that belongs to this casebook"
        for row in found.rows["viewers_tests"]
        if row["id"] not in over and not secret_files.read(casebook.folder, row["id"])
    ]


def _faults(copy: Casebook, row: Row, plan: Row | None, opening: Row | None) -> Iterator[str]:
    test = ViewersTest.from_text(row["document"])
    if test.id != row["id"]:
        yield "its document is that of another test"
    if plan is None or (test.plan, test.document["plan_seal"]) != (plan["id"], plan["seal"]):
        yield "the sealed plan that it names is not in this casebook"
    kept = secret_files.read(copy.folder, row["id"])
    if kept and randomisation.seal(kept, row["document"]) != row["seal"]:
        yield "its document and its kept secret do not give the seal"
    if opening is None:
        return
    told = secret_files.from_text(opening["secret"])
    if not told or randomisation.seal(told, row["document"]) != row["seal"]:
        yield "its document and the secret that was told do not give the seal"
    if opening["seq"] < row["seq"]:
        yield "its secret was told before it was sealed"
