"""Where recordings lie in the music, if somebody chose it before a plan was sealed: two places fitted as well."""

from __future__ import annotations

from ..casebook import documents
from ..casebook.store import Casebook
from ..plans.plan import Plan


def sentences(casebook: Casebook, plan: Plan) -> list[str]:
    """One sentence for each recording of a plan that was played from a place that was chosen by hand."""
    rows = casebook.query(
        """SELECT alignments.recording, alignments.document, tracks.id AS track_id, tracks.name AS track,
           setups.id AS setup_id, setups.name AS setup FROM alignments
           JOIN recordings ON recordings.id = alignments.recording JOIN tracks ON tracks.id = recordings.track_id
           JOIN setups ON setups.id = recordings.setup_id
           WHERE alignments.seq < (SELECT seq FROM plans WHERE id = ?) ORDER BY alignments.seq""",
        [plan.id],
    )
    setups, tracks = {one.id for one in plan.setups}, {one.track_id for one in plan.passages}
    in_force = {row["recording"]: row for row in rows if row["setup_id"] in setups and row["track_id"] in tracks}
    found = []
    for row in in_force.values():
        laid = documents.from_text(row["document"], dict)
        if laid.get("chosen"):
            other = f"; {_said_s(laid['next_best'])} fitted as well" if laid.get("next_best") else ""
            found.append(
                f"Chosen by hand: that the recording of {row['track']} through {row['setup']} lies "
                f"{_said_s(laid['best'])} against the first{other}."
            )
    return found


def _said_s(fit: dict[str, float]) -> str:
    return f"{abs(fit['lag_s']):.3f} s {'late' if fit['lag_s'] >= 0 else 'early'}"
