"""Judged trials of many imaginary casebooks as Parquet, written without making the casebooks."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyarrow
import pyarrow.parquet

METHODS = (("abx", 0.5), ("triangle", 1 / 3), ("preference", 0.5), ("duo-trio", 0.5))
LISTENERS = 5
EACH = 20  # answers of a session


def write_casebook(folder: Path, number: int, sessions: int) -> Path:
    """A file of one casebook: so many sessions of twenty answers, by listeners who each hear it in another share."""
    rng = np.random.default_rng(number)
    answers = sessions * EACH
    session = np.repeat(np.arange(sessions), EACH)
    method = session % len(METHODS)
    chance = np.array([one for _, one in METHODS])[method]
    listener = session % LISTENERS
    heard = rng.beta(1.0, 4.0, LISTENERS)[listener]
    right = rng.random(answers) < heard + (1 - heard) * chance
    kind = np.where(np.tile(np.arange(EACH), sessions) == 0, "control", "counts")
    names = np.array([name for name, _ in METHODS])[method]
    table = pyarrow.table(
        {
            "casebook": np.full(answers, f"casebook-{number}"),
            "plan_id": [f"plan-{number}-{one % 40}" for one in session],
            "method": names,
            "setups": np.char.add("one|two ", (session % 3).astype(str)),
            "question": np.full(answers, "Is X the same as A or as B?"),
            "session_id": [f"session-{number}-{one}" for one in session],
            "listener_id": [f"listener-{number}-{one}" for one in listener],
            "passage_id": [f"passage-{number}-{one % 4}" for one in range(answers)],
            "trial": np.tile(np.arange(1, EACH + 1), sessions),
            "kind": kind,
            "void": np.zeros(answers, dtype=np.int64),
            "ended": np.full(answers, "as planned"),
            "score": pyarrow.array(right.astype(np.int64), mask=kind == "control"),
            "chance": pyarrow.array(chance, mask=kind == "control"),
        }
    )
    path = folder / f"casebook-{number}" / "judged_trials.parquet"
    path.parent.mkdir(parents=True, exist_ok=True)
    pyarrow.parquet.write_table(table, path, compression="zstd")
    return path
