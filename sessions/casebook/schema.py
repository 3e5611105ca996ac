"""The tables, as SQL, in numbered steps. It holds no connection; the store applies the steps, `inspection` compares.

Protected tables record what happened. Triggers refuse UPDATE, DELETE and a replacing INSERT on them, and each row is
a link of the chain. Catalogue tables hold what the reviewer says about their gear and music; each entry is held by a
protected row that repeats it.
Protected rows hold text and whole numbers only, so that their JSON is the same on every machine.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from . import readable_views

CHAIN_COLUMNS = """id TEXT PRIMARY KEY NOT NULL, seq INTEGER NOT NULL UNIQUE, prior TEXT NOT NULL,
    hash TEXT NOT NULL UNIQUE, at TEXT NOT NULL"""

# A word that corrects another stands for it; one without a term takes it back.
_FIRST: dict[str, str] = {
    "match_sheets": "document TEXT NOT NULL CHECK (json_valid(document))",
    "checks": "document TEXT NOT NULL CHECK (json_valid(document))",
    "mends": """setup_id TEXT NOT NULL REFERENCES setups (id), passage_id TEXT NOT NULL REFERENCES passages (id),
        document TEXT NOT NULL CHECK (json_valid(document)), why TEXT NOT NULL""",
    "plans": """name TEXT NOT NULL UNIQUE, document TEXT NOT NULL CHECK (json_valid(document)),
        seal TEXT NOT NULL UNIQUE""",
    "openings": "plan_id TEXT NOT NULL UNIQUE REFERENCES plans (id), secret TEXT NOT NULL, why TEXT NOT NULL",
    "sessions": """plan_id TEXT REFERENCES plans (id), listener_id TEXT NOT NULL REFERENCES listeners (id),
        operator TEXT NOT NULL, rehearsal TEXT CHECK (rehearsal IS NULL OR json_valid(rehearsal)),
        device TEXT NOT NULL""",
    "session_marks": """session_id TEXT NOT NULL REFERENCES sessions (id),
        what TEXT NOT NULL
        CHECK (what IN ('begun', 'paused', 'resumed', 'stopped', 'taken up', 'complete', 'abandoned')),
        note TEXT NOT NULL""",
    "trials": """session_id TEXT NOT NULL REFERENCES sessions (id), trial INTEGER NOT NULL CHECK (trial >= 1),
        offer INTEGER NOT NULL CHECK (offer >= 1), passage_id TEXT NOT NULL REFERENCES passages (id),
        key TEXT NOT NULL CHECK (json_valid(key)), UNIQUE (session_id, trial, offer)""",
    "answers": """trial_id TEXT NOT NULL UNIQUE REFERENCES trials (id), answer TEXT NOT NULL,
        sureness INTEGER NOT NULL CHECK (sureness BETWEEN 1 AND 4), after_ms INTEGER NOT NULL CHECK (after_ms >= 0)""",
    "auditions": """trial_id TEXT NOT NULL REFERENCES trials (id), stimulus TEXT NOT NULL,
        from_frame INTEGER NOT NULL, to_frame INTEGER NOT NULL""",
    "faults": """trial_id TEXT REFERENCES trials (id), session_id TEXT NOT NULL REFERENCES sessions (id),
        kind TEXT NOT NULL, count INTEGER NOT NULL, detail TEXT NOT NULL""",
    "words": """listener_id TEXT NOT NULL REFERENCES listeners (id), setup_id TEXT REFERENCES setups (id),
        track_id TEXT REFERENCES tracks (id), trial_id TEXT REFERENCES trials (id), stimulus TEXT,
        term TEXT NOT NULL, strength INTEGER NOT NULL CHECK (strength BETWEEN 1 AND 5),
        track_ms INTEGER CHECK (track_ms >= 0), blind INTEGER NOT NULL CHECK (blind IN (0, 1)), note TEXT NOT NULL,
        corrects TEXT REFERENCES words (id)""",
}
# Real gear. A calibration turns a microphone's reading into dB SPL; an exposure is what a listener heard at what level.
_REAL_GEAR: dict[str, str] = {
    "calibrations": "document TEXT NOT NULL CHECK (json_valid(document))",
    "exposures": """listener_id TEXT NOT NULL REFERENCES listeners (id), session_id TEXT REFERENCES sessions (id),
        heard_ms INTEGER NOT NULL CHECK (heard_ms > 0), level_dba_hundredths INTEGER NOT NULL""",
}
# Measured data. A measurement is a file as it was brought in or taken, whole; a curve is what was read from it.
_MEASURED: dict[str, str] = {
    "measurements": """name TEXT NOT NULL, sha256 TEXT NOT NULL, content TEXT NOT NULL""",
    "curves": """setup_id TEXT NOT NULL REFERENCES setups (id),
        measurement_id TEXT NOT NULL REFERENCES measurements (id),
        kind TEXT NOT NULL CHECK (kind IN ('response', 'impulse', 'impedance', 'distortion')),
        plane TEXT NOT NULL CHECK (plane IN ('horizontal', 'vertical')), angle INTEGER NOT NULL,
        conditions TEXT NOT NULL CHECK (json_valid(conditions)), data TEXT NOT NULL""",
}
# What was said of gear and music: one row for each entry of the catalogue as it was added (or, in a casebook older than
# this table, as it was found), and one for each later change, so that the chain holds the catalogue too.
_CATALOGUE_MARKS: dict[str, str] = {
    "catalogue_marks": """part TEXT NOT NULL, entry TEXT NOT NULL,
        what TEXT NOT NULL CHECK (what IN ('found', 'added', 'changed', 'removed')),
        document TEXT NOT NULL CHECK (json_valid(document))""",
}
# Words from somebody else, given after a plan's seal was published: its coins follow from them too.
_PHRASES: dict[str, str] = {
    "phrases": "plan_id TEXT NOT NULL UNIQUE REFERENCES plans (id), phrase TEXT NOT NULL CHECK (phrase <> '')",
}
# Written with a plan's opening and never before: the key of each trial that was offered, and the second secret.
_KEYS_AND_SECOND_HANDS: dict[str, str] = {
    "keys": """trial_id TEXT NOT NULL UNIQUE REFERENCES trials (id),
        key TEXT NOT NULL CHECK (json_valid(key))""",
    "second_hands": "plan_id TEXT NOT NULL UNIQUE REFERENCES plans (id), secret TEXT NOT NULL CHECK (secret <> '')",
}
# How old a casebook is, as each session found it; and what somebody says was published or given to somebody.
_WITNESSED_ENDS: dict[str, str] = {
    "counters": """session_id TEXT NOT NULL REFERENCES sessions (id), sessions INTEGER NOT NULL, boots INTEGER NOT NULL,
        clock_steps INTEGER NOT NULL, boot TEXT NOT NULL""",
    "witnesses": """what TEXT NOT NULL CHECK (what IN ('end', 'seal')), code TEXT NOT NULL, by TEXT NOT NULL""",
}
# Where a recording lies against the first one of its track; a lag that somebody chose is a row of its own.
_ALIGNMENTS: dict[str, str] = {
    "alignments": """reference TEXT NOT NULL, recording TEXT NOT NULL,
        document TEXT NOT NULL CHECK (json_valid(document))""",
}
# What a curve's row says no longer counts, with the reason; what a maker states of a setup (an empty value: no longer).
_WITHDRAWALS_AND_FACTS: dict[str, str] = {
    "withdrawals": """curve_id TEXT NOT NULL UNIQUE REFERENCES curves (id), why TEXT NOT NULL CHECK (why <> ''),
        replaced_by TEXT REFERENCES curves (id)""",
    "facts": """setup_id TEXT NOT NULL REFERENCES setups (id), what TEXT NOT NULL CHECK (what <> ''),
        value TEXT NOT NULL, source TEXT NOT NULL CHECK (source <> '')""",
}
# Which tracks a comparison of two setups left out, and why: no record, but the newest answer to where to begin.
LEFT_OUT = """
CREATE TABLE left_out (first TEXT NOT NULL, second TEXT NOT NULL, track TEXT NOT NULL,
    whole INTEGER NOT NULL CHECK (whole IN (0, 1)), why TEXT NOT NULL, again TEXT NOT NULL) STRICT;
"""
# Plans given up without being opened: the secret that somebody kept is lost, and nobody can work out a key any more.
_GIVEN_UP: dict[str, str] = {
    "given_up": "plan_id TEXT NOT NULL UNIQUE REFERENCES plans (id), why TEXT NOT NULL CHECK (why <> '')",
}
# Listening that never counts: what was heard of which setup, in milliseconds of the track; where a word was said in it.
# The passage stands by its name (empty: the whole track), since one that is cut anew is another entry.
_FREE_LISTENING: dict[str, str] = {
    "free_auditions": """session_id TEXT NOT NULL REFERENCES sessions (id),
        setup_id TEXT NOT NULL REFERENCES setups (id), track_id TEXT NOT NULL REFERENCES tracks (id),
        passage TEXT NOT NULL, from_ms INTEGER NOT NULL CHECK (from_ms >= 0),
        to_ms INTEGER NOT NULL CHECK (to_ms >= from_ms)""",
    "word_places": """word_id TEXT NOT NULL UNIQUE REFERENCES words (id),
        session_id TEXT NOT NULL REFERENCES sessions (id), passage TEXT NOT NULL""",
}
# What a reviewer changed in the lexicon that came with the program: which number it begins with, and each change since.
_LEXICON_CHANGES: dict[str, str] = {
    "lexicon_changes": """kind TEXT NOT NULL CHECK (kind IN ('take up', 'add', 'rename', 'merge')),
        word TEXT NOT NULL CHECK (word <> ''), into_word TEXT NOT NULL,
        document TEXT NOT NULL CHECK (json_valid(document))""",
}
# The smallest lift or step that a listener notices: what was looked for and how, and each answer with what it was of
# (which size, by its place among them; which presentation was changed, which one named; how long each sounded, ms).
_THRESHOLDS: dict[str, str] = {
    "thresholds": """session_id TEXT NOT NULL UNIQUE REFERENCES sessions (id),
        setup_id TEXT REFERENCES setups (id), document TEXT NOT NULL CHECK (json_valid(document))""",
    "threshold_answers": """threshold_id TEXT NOT NULL REFERENCES thresholds (id),
        trial INTEGER NOT NULL CHECK (trial >= 1), size INTEGER NOT NULL CHECK (size >= 0),
        changed INTEGER NOT NULL CHECK (changed >= 0), named INTEGER NOT NULL CHECK (named >= 0),
        after_ms INTEGER NOT NULL CHECK (after_ms >= 0), heard TEXT NOT NULL CHECK (json_valid(heard)),
        UNIQUE (threshold_id, trial)""",
}
# Casebooks that were merged into this one: whose chain each was, how many rows it had, and the hash of its last one.
_ORIGINS: dict[str, str] = {
    "origins": """casebook TEXT NOT NULL, rows INTEGER NOT NULL CHECK (rows >= 1), head TEXT NOT NULL UNIQUE""",
}
# Tests that an audience takes elsewhere, each with its own seal; and its secret, once what was answered is counted.
_VIEWERS: dict[str, str] = {
    "viewers_tests": """plan_id TEXT NOT NULL REFERENCES plans (id),
        document TEXT NOT NULL CHECK (json_valid(document)), seal TEXT NOT NULL UNIQUE""",
    "viewers_openings": """viewers_id TEXT NOT NULL UNIQUE REFERENCES viewers_tests (id), secret TEXT NOT NULL,
        answers INTEGER NOT NULL CHECK (answers >= 0), answers_sha256 TEXT NOT NULL""",
}
# Sentences for an audience, each with what it rests on; one without a text takes the one before it back. And what each
# came to whenever it was given out: its standing, and what its evidence said then.
_CLAIMS: dict[str, str] = {
    "claims": """text TEXT NOT NULL, document TEXT NOT NULL CHECK (json_valid(document)), why TEXT NOT NULL,
        corrects TEXT REFERENCES claims (id)""",
    "claim_tellings": """claim_id TEXT NOT NULL REFERENCES claims (id),
        standing TEXT NOT NULL CHECK (standing IN ('shown', 'not shown', 'contradicted', 'opinion')),
        document TEXT NOT NULL CHECK (json_valid(document))""",
}
_IN_ORDER = (
    _FIRST,
    _REAL_GEAR,
    _MEASURED,
    _CATALOGUE_MARKS,
    _PHRASES,
    _KEYS_AND_SECOND_HANDS,
    _WITNESSED_ENDS,
    _ALIGNMENTS,
    _WITHDRAWALS_AND_FACTS,
    _GIVEN_UP,
    _FREE_LISTENING,
    _LEXICON_CHANGES,
    _THRESHOLDS,
    _ORIGINS,
    _VIEWERS,
    _CLAIMS,
)  # as the steps brought them: the view of a step links all tables up to its own
PROTECTED: Mapping[str, str] = {name: columns for tables in _IN_ORDER for name, columns in tables.items()}

MARKED: Mapping[str, str] = {
    "casebook": "id",
    "setups": "id",
    "chains": "setup_id",
    "tracks": "id",
    "recordings": "id",
    "sources": "id",
    "passages": "id",
    "listeners": "id",
}
"""Catalogue tables whose entries `catalogue_marks` holds, each with the column that identifies an entry."""

CATALOGUE = """
CREATE TABLE casebook (id TEXT PRIMARY KEY NOT NULL, made_at TEXT NOT NULL, made_by TEXT NOT NULL,
    head_seq INTEGER NOT NULL, head_hash TEXT NOT NULL) STRICT;
CREATE TABLE setups (id TEXT PRIMARY KEY NOT NULL, name TEXT NOT NULL UNIQUE, kind TEXT NOT NULL, note TEXT NOT NULL,
    added_at TEXT NOT NULL) STRICT;
CREATE TABLE tracks (id TEXT PRIMARY KEY NOT NULL, name TEXT NOT NULL UNIQUE, note TEXT NOT NULL,
    added_at TEXT NOT NULL) STRICT;
CREATE TABLE recordings (id TEXT PRIMARY KEY NOT NULL, setup_id TEXT NOT NULL REFERENCES setups (id),
    track_id TEXT NOT NULL REFERENCES tracks (id), path TEXT NOT NULL, sha256 TEXT NOT NULL,
    rate_hz INTEGER NOT NULL, channels INTEGER NOT NULL, frames INTEGER NOT NULL, added_at TEXT NOT NULL,
    UNIQUE (setup_id, track_id)) STRICT;
CREATE TABLE passages (id TEXT PRIMARY KEY NOT NULL, track_id TEXT NOT NULL REFERENCES tracks (id),
    name TEXT NOT NULL UNIQUE, start_frame INTEGER NOT NULL CHECK (start_frame >= 0),
    frames INTEGER NOT NULL CHECK (frames > 0), rate_hz INTEGER NOT NULL CHECK (rate_hz > 0), note TEXT NOT NULL,
    added_at TEXT NOT NULL) STRICT;
CREATE TABLE listeners (id TEXT PRIMARY KEY NOT NULL, name TEXT NOT NULL UNIQUE, note TEXT NOT NULL,
    added_at TEXT NOT NULL) STRICT;
CREATE TABLE drafts (id TEXT PRIMARY KEY NOT NULL, name TEXT NOT NULL UNIQUE,
    document TEXT NOT NULL CHECK (json_valid(document)), made_at TEXT NOT NULL) STRICT;
CREATE TABLE secrets (plan_id TEXT PRIMARY KEY NOT NULL REFERENCES plans (id), secret TEXT NOT NULL) STRICT;
"""

WORD_SEARCH = """
CREATE VIRTUAL TABLE words_search USING fts5 (word_id UNINDEXED, term, note, tokenize = 'porter unicode61');
CREATE TRIGGER words_into_search AFTER INSERT ON words BEGIN
    INSERT INTO words_search (word_id, term, note) VALUES (NEW.id, NEW.term, NEW.note);
END;
"""


REAL_GEAR = """
CREATE TABLE chains (setup_id TEXT PRIMARY KEY NOT NULL REFERENCES setups (id),
    document TEXT NOT NULL CHECK (json_valid(document))) STRICT;
CREATE TABLE sources (id TEXT PRIMARY KEY NOT NULL, track_id TEXT NOT NULL UNIQUE REFERENCES tracks (id),
    path TEXT NOT NULL, sha256 TEXT NOT NULL, rate_hz INTEGER NOT NULL, channels INTEGER NOT NULL,
    frames INTEGER NOT NULL, added_at TEXT NOT NULL) STRICT;
"""


# Where rows that were brought in stood in the chains they come from. What is chained here (`origins.head`) holds all
# of it: no link of an origin can change without its head. `name` is what a plan was called there, where it is renamed;
# `brought_in.hash` the hash that a row had where it was written first, by which sealed plans name it.
ORIGIN_LINKS = """
CREATE TABLE origin_links (hash TEXT PRIMARY KEY NOT NULL, seq INTEGER NOT NULL, prior TEXT NOT NULL,
    part TEXT NOT NULL, row_id TEXT NOT NULL, name TEXT NOT NULL) STRICT;
CREATE INDEX origin_links_rows ON origin_links (part, row_id);
CREATE TABLE brought_in (part TEXT NOT NULL, row_id TEXT NOT NULL, hash TEXT NOT NULL,
    PRIMARY KEY (part, row_id)) STRICT;
"""


def _kept_as_written(name: str, same: str) -> str:
    """The guards of a table that is no link of the chain itself, and is held by one."""
    guard = f"RAISE (ABORT, 'table {name} is append-only: what happened is never changed')"
    return f"""
CREATE TRIGGER {name}_keep_rows BEFORE DELETE ON {name} BEGIN SELECT {guard}; END;
CREATE TRIGGER {name}_keep_content BEFORE UPDATE ON {name} BEGIN SELECT {guard}; END;
CREATE TRIGGER {name}_keep_place BEFORE INSERT ON {name}
    WHEN EXISTS (SELECT 1 FROM {name} WHERE {same}) BEGIN SELECT {guard}; END;
"""


def protected_table(name: str, columns: str) -> str:
    """The SQL of one protected table and its guards."""
    guard = f"RAISE (ABORT, 'table {name} is append-only: what happened is never changed')"
    same_key = f"SELECT 1 FROM {name} WHERE id = NEW.id OR seq = NEW.seq OR hash = NEW.hash"
    return f"""
CREATE TABLE {name} ({CHAIN_COLUMNS}, {columns}) STRICT;
CREATE TRIGGER {name}_keep_rows BEFORE DELETE ON {name} BEGIN SELECT {guard}; END;
CREATE TRIGGER {name}_keep_content BEFORE UPDATE ON {name} BEGIN SELECT {guard}; END;
CREATE TRIGGER {name}_keep_place BEFORE INSERT ON {name} WHEN EXISTS ({same_key}) BEGIN SELECT {guard}; END;
"""


def _view(tables: Iterable[str]) -> str:
    links = " UNION ALL ".join(f"SELECT seq, '{t}' AS part, id, prior, hash FROM {t}" for t in tables)
    return f"CREATE VIEW chain_links AS {links};"


def _tables(own: Mapping[str, str]) -> str:
    return "".join(protected_table(name, columns) for name, columns in own.items())


def _chained(own: Mapping[str, str]) -> str:
    """A step's protected tables, and the view of the chain with them and all that came before."""
    linked = [name for tables in _IN_ORDER[: _IN_ORDER.index(own) + 1] for name in tables]
    return _tables(own) + "DROP VIEW chain_links;\n" + _view(linked)


STEPS: tuple[tuple[str, str], ...] = (
    ("0001_the_casebook", CATALOGUE + _tables(_FIRST) + WORD_SEARCH + _view(_FIRST)),
    ("0002_real_gear", REAL_GEAR + _chained(_REAL_GEAR)),
    ("0003_measured", _chained(_MEASURED)),
    ("0004_catalogue_marks", _chained(_CATALOGUE_MARKS)),
    ("0005_phrases", _chained(_PHRASES)),
    ("0006_keys_and_second_hands", _chained(_KEYS_AND_SECOND_HANDS)),
    ("0007_witnessed_ends", _chained(_WITNESSED_ENDS)),
    ("0008_alignments", _chained(_ALIGNMENTS)),
    ("0009_withdrawals_and_facts", _chained(_WITHDRAWALS_AND_FACTS)),
    ("0010_left_out", LEFT_OUT),
    ("0011_given_up", _chained(_GIVEN_UP)),
    ("0012_free_listening", _chained(_FREE_LISTENING)),
    ("0013_lexicon_changes", _chained(_LEXICON_CHANGES)),
    ("0014_thresholds", _chained(_THRESHOLDS)),
    (
        "0015_origins",
        _chained(_ORIGINS)
        + ORIGIN_LINKS
        + _kept_as_written("origin_links", "hash = NEW.hash")
        + _kept_as_written("brought_in", "part = NEW.part AND row_id = NEW.row_id"),
    ),
    ("0016_readable_views", readable_views.SQL),
    ("0017_viewers", _chained(_VIEWERS)),
    ("0018_claims", _chained(_CLAIMS)),
)
"""Migrations in order: name and SQL. Never edit a released step; add the next one."""
