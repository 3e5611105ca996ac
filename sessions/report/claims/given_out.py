"""Claims given out: the sheet and the timed notes as files, and the note of what each came to then."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from ...casebook.store import Casebook
from ...errors import CasebookError, CatalogueError
from . import claim_rows, sheet, timed_notes
from .sheet import Sheet
from .standing import JudgedClaim

OF_ENDING: Mapping[str, Callable[[Sheet, Sequence[JudgedClaim]], str]] = {
    ".md": lambda made, judged: sheet.markdown(made),
    ".html": lambda made, judged: sheet.html(made),
    ".csv": lambda made, judged: sheet.table(made),
    ".vtt": lambda made, judged: timed_notes.webvtt(judged),
    ".txt": lambda made, judged: timed_notes.text(judged),
}
TIMED = (".vtt", ".txt")


def check(files: Sequence[Path], judged: Sequence[JudgedClaim]) -> None:
    """Nothing, if claims can be given out so.

    Raises
    ------
    CatalogueError
        If a file ends otherwise, or notes are to be timed and nobody said when anything is said.
    """
    for file in files:
        if file.suffix.lower() not in OF_ENDING:
            raise CatalogueError(f"{file}: claims are written as {', '.join(OF_ENDING)}; end its name with one of them")
        if file.suffix.lower() in TIMED and not timed_notes.timed(judged):
            raise CatalogueError(
                f"{file}: nobody said when a claim is said in the video: earwitness claims edit NUMBER --video 1:02"
            )


def write(title: str, made_at: str, judged: Sequence[JudgedClaim], files: Sequence[Path]) -> None:
    """Write each file as its ending says.

    Raises
    ------
    CasebookError
        If one cannot be written.
    """
    made = sheet.sheet(title, made_at, judged)
    for file in files:
        text = OF_ENDING[file.suffix.lower()](made, judged)
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
            unfinished = file.with_name(file.name + ".part")
            unfinished.write_text(text, encoding="utf-8", newline="")
            unfinished.replace(file)
        except OSError as error:
            raise CasebookError(f"cannot write {file}: {error.strerror}; name another place") from error


def note(casebook: Casebook, judged: Sequence[JudgedClaim]) -> None:
    """Note what each claim came to, where that is not what was noted last.

    Raises
    ------
    CasebookError
        If the casebook cannot be written.
    """
    rows = [
        claim_rows.new_telling(one.claim, one.standing, [part.told for part in one.parts])
        for one in judged
        if one.changed or one.claim.told is None
    ]
    if rows:
        casebook.append_many(rows)
