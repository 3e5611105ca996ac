"""How loud a listener hears it and for how long: the level of a plan's passages at the chair, and the dose so far.

What is kept never depends on the key: each passage counts with the louder of its setups, and with a
known step up.
"""

from __future__ import annotations

from datetime import datetime, timedelta

import audio.room.dose
from audio.room.dose import Dose, Exposure

from ..casebook import session_rows
from ..casebook.session_rows import ExposureRecord
from ..casebook.store import Casebook
from ..plans.plan import Plan
from ..preparation import match_sheet

DAY = timedelta(days=1)
WEEK = timedelta(days=7)


def chair_levels_dba(casebook: Casebook, plan: Plan) -> dict[str, float]:
    """For each passage of a plan its level at the chair in dBA; empty where no calibrated microphone read it."""
    sheet = match_sheet.of_hash(casebook, plan.match.sheet)
    if sheet is None:
        return {}
    setups = {setup.id for setup in plan.setups}
    louder_db = 0.0 if plan.known is None else max(0.0, float(plan.known.step_db or 0))
    found = {}
    for part in sheet.passages:
        levels = [own.chair_dba for own in part.setups_of(setups)]
        known = [level for level in levels if level is not None]
        if known and len(known) == len(levels):
            found[part.prepared.passage] = max(known) + louder_db
    return found


def keep(casebook: Casebook, listener_id: str, session_id: str, heard_s: float, level_dba: float) -> None:
    """Keep that a listener heard something for so long at such a level."""
    heard_ms = round(1000 * heard_s)
    if heard_ms > 0:
        casebook.append_many([session_rows.new_exposure(session_id, listener_id, heard_ms, round(100 * level_dba))])


def dose(casebook: Casebook, listener_id: str, who: str = "adult", now: datetime | None = None) -> Dose:
    """A listener's dose of the last 24 hours and allowance used in the last 7 days."""
    moment = now or datetime.fromisoformat(casebook.now())
    heard = session_rows.exposures(casebook, listener_id)
    within = [(moment - datetime.fromisoformat(one.at), _exposure(one)) for one in heard]
    day = [exposure for age, exposure in within if age < DAY]
    week = [exposure for age, exposure in within if age < WEEK]
    return audio.room.dose.dose(day, week, who)


def heard_s(casebook: Casebook, listener_id: str) -> float:
    """For how long a listener has heard anything at a known level, ever."""
    return sum(one.heard_ms for one in session_rows.exposures(casebook, listener_id)) / 1000


def _exposure(record: ExposureRecord) -> Exposure:
    return record.level_dba_hundredths / 100, record.heard_ms / 3_600_000
