"""What was said to be published: noting it, and finding it again. Only what is in this record can be noted."""

from __future__ import annotations

import re

from ..casebook import chain_ends, session_ends, witness_rows
from ..casebook.store import Casebook
from ..casebook.witness_rows import What, Witness
from ..errors import CasebookError
from ..plans import plan_rows, viewers_rows

SEAL = re.compile(r"[0-9a-f]{16,64}")  # as many digits as `plan list` shows, or more


def note(casebook: Casebook, given: str, by: str) -> Witness:
    """Keep that an end's code or a seal (by its digits, or a plan's name) was published or given to somebody.

    A seal is that of a plan or of a viewers' test.

    Raises
    ------
    CasebookError
        If it is not in this record, is mistyped, or nobody is named.
    """
    if not by.strip():
        raise CasebookError('who has it, or where it stands, is needed for the record; add --by "WHO OR WHERE"')
    named = plan_rows.sealed(casebook, given)
    if named is not None:
        return _kept(casebook, "seal", named.seal, by.strip())
    seal = given.strip().lower()
    if SEAL.fullmatch(seal):
        every = [one.seal for one in plan_rows.every_sealed(casebook)]
        every += [one.seal for one in viewers_rows.everything(casebook)]
        sealed = [one for one in every if one.startswith(seal)]
        if len(sealed) != 1:
            raise CasebookError(
                f"no plan of this record, nor a viewers' test, has the seal {seal}; it was rolled back, or the seal "
                "is mistyped"
            )
        return _kept(casebook, "seal", sealed[0], by.strip())
    code = chain_ends.parse(given)
    there = session_ends.hash_at(casebook, code)
    if there is None or not code.fits(there):
        raise CasebookError(
            f"the end {code} is not in this record: it was rolled back or rewritten since that end was shown, or the "
            "code is of another casebook or was mistyped; see earwitness verify --saw"
        )
    return _kept(casebook, "end", str(code), by.strip())


def _kept(casebook: Casebook, what: What, code: str, by: str) -> Witness:
    """What is noted, once: the same said again is the note that is there."""
    said = [one for one in witness_rows.everything(casebook) if (one.what, one.code, one.by) == (what, code, by)]
    return said[0] if said else witness_rows.keep(casebook, what, code, by)


def of_seal(casebook: Casebook, seal: str) -> list[Witness]:
    """What was said of the publishing of a plan's seal."""
    return [one for one in witness_rows.everything(casebook) if one.what == "seal" and one.code == seal]
