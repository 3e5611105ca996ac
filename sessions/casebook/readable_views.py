"""Views for whoever opens a casebook in a general SQLite browser: names beside identifiers, units in columns' names.

They hold nothing of their own. A key is shown once its plan is over, also where a casebook of before holds it earlier.
"""

from __future__ import annotations

_KIND = "iif(rehearsal IS NULL, 'counts', ifnull(json_extract(rehearsal, '$.kind'), 'rehearsal'))"
_KEY = """CASE WHEN sessions.rehearsal IS NOT NULL THEN trials.key
    WHEN openings.id IS NULL THEN NULL WHEN trials.key = 'null' THEN keys.key ELSE trials.key END"""

_VIEWS: dict[str, str] = {
    "readable_plans": """
SELECT plans.id AS plan_id, plans.name AS plan, json_extract(document, '$.method') AS method,
    json_extract(document, '$.question') AS question, json_extract(document, '$.trials') AS trials_each,
    json_extract(document, '$.alpha') AS alpha, plans.at AS sealed_at_utc, seal, phrase,
    openings.at AS opened_at_utc, ifnull(openings.why, given_up.why) AS ended
FROM plans LEFT JOIN openings ON openings.plan_id = plans.id LEFT JOIN given_up ON given_up.plan_id = plans.id
    LEFT JOIN phrases ON phrases.plan_id = plans.id ORDER BY plans.seq""",
    "readable_sessions": f"""
SELECT sessions.id AS session_id, plan_id, plans.name AS plan, listener_id, listeners.name AS listener, operator,
    device, {_KIND} AS kind, sessions.at AS begun_at_utc,
    (SELECT count(*) FROM answers JOIN trials ON trials.id = trial_id WHERE trials.session_id = sessions.id) AS answers,
    (SELECT count(*) FROM faults WHERE faults.session_id = sessions.id) AS playback_faults
FROM sessions JOIN listeners ON listeners.id = listener_id LEFT JOIN plans ON plans.id = plan_id
ORDER BY sessions.seq""",
    "readable_turns": """
SELECT session_marks.id AS turn_id, session_id, plans.name AS plan, listeners.name AS listener,
    session_marks.at AS at_utc, what, session_marks.note AS note
FROM session_marks JOIN sessions ON sessions.id = session_id JOIN listeners ON listeners.id = listener_id
    LEFT JOIN plans ON plans.id = plan_id ORDER BY session_marks.seq""",
    "readable_trials": f"""
SELECT trials.id AS trial_id, sessions.plan_id AS plan_id, plans.name AS plan, trials.session_id AS session_id,
    listener_id, listeners.name AS listener, {_KIND} AS kind, trial, offer, trials.passage_id AS passage_id,
    passages.name AS passage, trials.at AS offered_at_utc, {_KEY} AS key_once_over, answer,
    sureness AS sureness_1_to_4, after_ms AS answered_after_ms,
    (SELECT count(*) FROM faults WHERE faults.trial_id = trials.id) AS playback_faults
FROM trials JOIN sessions ON sessions.id = trials.session_id JOIN listeners ON listeners.id = listener_id
    LEFT JOIN plans ON plans.id = sessions.plan_id LEFT JOIN passages ON passages.id = trials.passage_id
    LEFT JOIN answers ON answers.trial_id = trials.id LEFT JOIN keys ON keys.trial_id = trials.id
    LEFT JOIN openings ON openings.plan_id = sessions.plan_id ORDER BY trials.seq""",
    "readable_auditions": """
SELECT auditions.id AS audition_id, trial_id, plans.name AS plan, listeners.name AS listener, trial, offer, stimulus,
    from_frame, to_frame, auditions.at AS at_utc
FROM auditions JOIN trials ON trials.id = trial_id JOIN sessions ON sessions.id = session_id
    JOIN listeners ON listeners.id = listener_id LEFT JOIN plans ON plans.id = plan_id ORDER BY auditions.seq""",
    "readable_words": """
SELECT words.id AS word_id, words.listener_id AS listener_id, listeners.name AS listener, setup_id,
    setups.name AS setup, track_id, tracks.name AS track, term, strength AS strength_1_to_5,
    track_ms / 1000.0 AS in_track_s, iif(blind, 'blind', 'sighted') AS said, words.note AS note, trial_id, stimulus,
    words.at AS said_at_utc, words.corrects AS corrects_word_id,
    (SELECT later.id FROM words AS later WHERE later.corrects = words.id) AS corrected_by_word_id
FROM words JOIN listeners ON listeners.id = words.listener_id LEFT JOIN setups ON setups.id = setup_id
    LEFT JOIN tracks ON tracks.id = track_id ORDER BY words.seq""",
    "readable_passages": """
SELECT passages.id AS passage_id, passages.name AS passage, track_id, tracks.name AS track,
    start_frame * 1.0 / rate_hz AS start_s, frames * 1.0 / rate_hz AS length_s, rate_hz, passages.note AS note
FROM passages JOIN tracks ON tracks.id = track_id ORDER BY tracks.name, start_frame""",
    "readable_recordings": """
SELECT recordings.id AS recording_id, setup_id, setups.name AS setup, track_id, tracks.name AS track, path, rate_hz,
    channels, frames * 1.0 / rate_hz AS length_s, sha256
FROM recordings JOIN setups ON setups.id = setup_id JOIN tracks ON tracks.id = track_id
ORDER BY tracks.name, setups.name""",
    "readable_curves": """
SELECT curves.id AS curve_id, curves.setup_id AS setup_id, setups.name AS setup, curves.kind AS kind, plane,
    angle AS angle_degrees, measurement_id, measurements.name AS file, curves.at AS kept_at_utc,
    withdrawals.why AS withdrawn_because
FROM curves JOIN setups ON setups.id = curves.setup_id JOIN measurements ON measurements.id = measurement_id
    LEFT JOIN withdrawals ON curve_id = curves.id ORDER BY curves.seq""",
    "readable_facts": """
SELECT facts.id AS fact_id, setup_id, setups.name AS setup, what, value, source, facts.at AS noted_at_utc
FROM facts JOIN setups ON setups.id = setup_id
WHERE facts.seq = (SELECT max(seq) FROM facts AS own WHERE own.setup_id = facts.setup_id AND own.what = facts.what)
    AND value <> '' ORDER BY setups.name, what""",
    "readable_exposures": """
SELECT exposures.id AS exposure_id, exposures.listener_id AS listener_id, listeners.name AS listener, session_id,
    heard_ms / 1000.0 AS heard_s, level_dba_hundredths / 100.0 AS level_dba_spl, exposures.at AS at_utc
FROM exposures JOIN listeners ON listeners.id = exposures.listener_id ORDER BY exposures.seq""",
    "readable_origins": """
SELECT origins.id AS origin_id, casebook AS casebook_brought_in, rows AS rows_it_had, head AS its_end,
    at AS merged_at_utc FROM origins ORDER BY seq""",
}

SQL = "".join(f"CREATE VIEW {name} AS {sql.strip()};\n" for name, sql in _VIEWS.items())
NAMES = tuple(_VIEWS)
