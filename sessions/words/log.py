"""The log of words: descriptors as the listener typed them, with strength and place in the music.

Words are protected rows; a correction is a new word that points at the old one, and one without a term takes the old
one back: it is no word itself. What may be called blind of them is the affair of `blindness`.
"""

from __future__ import annotations

import shlex
from dataclasses import dataclass, replace

from ..casebook import catalogue, documents
from ..casebook.catalogue import Listener
from ..casebook.store import Casebook, NewRow, Row, new_row
from ..errors import CatalogueError
from . import place_in_track

LONGEST_TERM = 60
_COLUMNS = """words.id, words.at, listeners.name AS listener, setups.name AS setup, words.setup_id,
    tracks.name AS track, word_places.passage, word_places.session_id AS session, words.trial_id AS trial,
    words.stimulus, words.term, words.strength, words.track_ms, words.blind, words.note,
    words.corrects, EXISTS (SELECT 1 FROM words AS later WHERE later.corrects = words.id) AS corrected,
    EXISTS (SELECT 1 FROM words AS later WHERE later.corrects = words.id AND later.term = '') AS taken_back"""
_FROM = """FROM words JOIN listeners ON listeners.id = words.listener_id LEFT JOIN setups ON setups.id = words.setup_id
    LEFT JOIN tracks ON tracks.id = words.track_id LEFT JOIN word_places ON word_places.word_id = words.id"""


@dataclass(frozen=True)
class Word:
    """One descriptor to be logged.

    Attributes
    ----------
    strength
        1 (a trace) to 5 (overwhelming).
    track_ms
        Where in the track, in milliseconds; None when it holds for all of it.
    blind
        Whether the listener did not know which setup was playing, as far as whoever logs it says so.
    trial_id, stimulus
        Of a blind trial: its row and the label heard; such a word names no setup until the plan is over.
    corrects
        Identifier of the word that this one replaces.
    """

    term: str
    strength: int
    track_ms: int | None = None
    blind: bool = False
    note: str = ""
    setup_id: str | None = None
    track_id: str | None = None
    trial_id: str | None = None
    stimulus: str | None = None
    corrects: str | None = None


@dataclass(frozen=True)
class LoggedWord:
    """A word as it was kept, with the names of whose it is and what it was said of.

    Attributes
    ----------
    trial, stimulus
        Of a blind trial: its row's identifier and the label heard.
    corrected, taken_back
        Whether a later word replaced it, or it was taken back; what was taken back is both.
    setup_id
        The identifier of what it was said of, where the log names it.
    session, passage
        Of free listening: its session, and the passage that played (empty: the whole track).
    """

    id: str
    at: str
    listener: str
    setup: str | None
    track: str | None
    trial: str | None
    stimulus: str | None
    term: str
    strength: int
    track_ms: int | None
    blind: bool
    note: str
    corrects: str | None
    corrected: bool
    setup_id: str | None = None
    session: str | None = None
    passage: str | None = None
    taken_back: bool = False


def log(casebook: Casebook, listener: Listener, word: Word) -> LoggedWord:
    """Keep a word, and with it its listener if they are new.

    A correction of a word that was said in a trial keeps that trial, the label, and the place in the music.

    Raises
    ------
    CatalogueError
        If the term is empty or overlong, the strength not 1 to 5, the time negative or beyond the end of its track, or
        the word it corrects unknown or corrected already; if it gives a word that was said in a trial another
        listener, setup or track.
    """
    word = word if word.corrects is None else _correction(casebook, listener, word, word.corrects)
    row = new_word(listener, word)
    if word.track_ms is not None and word.track_id is not None:
        place_in_track.check_within(casebook, word.track_id, word.setup_id, word.track_ms / 1000)
    known = catalogue.named(casebook, Listener, listener.id) is not None
    with casebook.writing():
        if not known:
            catalogue.keep(casebook, listener)
        casebook.append_many([row])
    return _logged(casebook.query(f"SELECT {_COLUMNS} {_FROM} WHERE words.id = ?", [row.id]))[0]


def _correction(casebook: Casebook, listener: Listener, word: Word, corrects: str) -> Word:
    """The word, with what it keeps of the one it corrects if that was said in a trial.

    A setup is refused even where it is the right one: while the plan runs, that would tell which it is.
    """
    said = casebook.query(
        f"SELECT {_COLUMNS}, words.listener_id, words.track_id {_FROM} WHERE words.id = ? AND words.term <> ''",
        [corrects],
    )
    if not said:
        raise CatalogueError(f"no word {corrects!r} to correct; see earwitness word list")
    [old] = said
    if old["taken_back"]:
        raise CatalogueError(f"{corrects} was taken back; log the word anew, without --corrects")
    if old["corrected"]:
        [later] = casebook.query("SELECT id FROM words WHERE corrects = ? ORDER BY seq LIMIT 1", [corrects])
        raise CatalogueError(f"{corrects} was corrected already, by {later['id']}: correct that one")
    if old["trial"] is None:
        return word
    if listener.id != old["listener_id"]:
        name = old["listener"]
        raise CatalogueError(f"{corrects} is a word of {name}, said in a trial; give --listener {shlex.quote(name)}")
    for option, given, kept in (("--setup", word.setup_id, None), ("--track", word.track_id, old["track_id"])):
        if given is not None and given != kept:
            raise CatalogueError(
                f"{corrects} was said in a trial, of {old['stimulus']}: what it was said of stays; leave {option} out"
            )
    return replace(
        word,
        trial_id=old["trial"],
        stimulus=old["stimulus"],
        track_id=old["track_id"],
        track_ms=old["track_ms"] if word.track_ms is None else word.track_ms,
    )


def new_word(listener: Listener, word: Word) -> NewRow:
    """The row of a word, which is not written yet and needs nothing else to be read.

    Raises
    ------
    CatalogueError
        If the term is empty or overlong, the strength not 1 to 5, or the time negative.
    """
    term = " ".join(word.term.split())
    if not term or len(term) > LONGEST_TERM:
        raise CatalogueError(f"a word has 1 to {LONGEST_TERM} characters; got {len(term)}: put the rest into --note")
    if not 1 <= word.strength <= 5:
        raise CatalogueError(f"strength {word.strength} is out of range; give 1 (a trace) to 5 (overwhelming)")
    if word.track_ms is not None and word.track_ms < 0:
        raise CatalogueError(f"a time in the track is 0 or more; got {word.track_ms / 1000:g} s")
    content = {
        "listener_id": listener.id,
        "setup_id": word.setup_id,
        "track_id": word.track_id,
        "trial_id": word.trial_id,
        "stimulus": word.stimulus,
        "term": term,
        "strength": word.strength,
        "track_ms": word.track_ms,
        "blind": int(word.blind),
        "note": word.note.strip(),
        "corrects": word.corrects,
    }
    return new_row("words", "word", content)


def new_taking_back(listener: Listener, word_id: str, strength: int) -> NewRow:
    """The row that takes a word back, which is not written yet; the word itself stays on record, with its strength."""
    nowhere = dict.fromkeys(("setup_id", "track_id", "trial_id", "stimulus", "track_ms"))
    content = {
        "listener_id": listener.id,
        "term": "",
        "strength": strength,
        "blind": 0,
        "note": "",
        "corrects": word_id,
    }
    return new_row("words", "word", nowhere | content)


def words(
    casebook: Casebook, *, setup_id: str | None = None, track_id: str | None = None, corrected: bool = False
) -> list[LoggedWord]:
    """The words in force, oldest first, of a setup or track if asked; if asked, those corrected or taken back too."""
    rows = casebook.query(
        f"""SELECT {_COLUMNS} {_FROM} WHERE words.term <> '' AND (:setup IS NULL OR words.setup_id = :setup)
            AND (:track IS NULL OR words.track_id = :track)
            AND (:corrected OR NOT EXISTS (SELECT 1 FROM words AS later WHERE later.corrects = words.id))
            ORDER BY words.seq""",
        {"setup": setup_id, "track": track_id, "corrected": corrected},
    )
    return _logged(rows)


def is_there(casebook: Casebook, word: NewRow) -> bool:
    """Whether the log has this very word in force: the same listener's, of the same, at the same moment."""
    same = ("listener_id", "setup_id", "track_id", "trial_id", "stimulus", "term", "strength", "track_ms", "note")
    sql = f"""SELECT 1 FROM words WHERE {" AND ".join(f"{name} IS :{name}" for name in same)}
              AND NOT EXISTS (SELECT 1 FROM words AS later WHERE later.corrects = words.id)"""
    return bool(casebook.query(sql, {name: word.content[name] for name in same}))


def place_of(word: NewRow, session_id: str, passage: str) -> NewRow:
    """The row that says in which free listening a word was said, and of which passage (empty: the whole track)."""
    return new_row("word_places", "place", {"word_id": word.id, "session_id": session_id, "passage": passage})


def _logged(rows: list[Row]) -> list[LoggedWord]:
    return [documents.from_plain(row, LoggedWord) for row in rows]
