"""The README's string of words, and their summary, are what the commands say at a terminal of 100 columns."""

from __future__ import annotations

import re
from pathlib import Path

from sessions.casebook import catalogue
from sessions.casebook.store import create
from tests.command_line import earwitness
from tests.terminal import Terminal, command

README = Path(__file__).parents[3] / "README.md"


def shown() -> tuple[list[str], str, str]:
    """What the README types, and what it shows of `word log` and `word summary`."""
    found = re.search(r"```console\n\$ earwitness word log [^\n]*\n(.*?)\$ earwitness word summary [^\n]*\n(.*?)```",
                      README.read_text(encoding="utf-8"), flags=re.DOTALL)  # fmt: skip
    assert found is not None
    return re.findall(r"^word: ?(.*)$", found[1], flags=re.MULTILINE), found[1], found[2]


def plain(text: str) -> str:
    """Without identifiers and days, which are never alike, and without blanks that end lines."""
    text = re.sub(r"\d{4}-\d\d-\d\d", "DAY", re.sub(r"word-[0-9a-z]{10}", "WORD", text))
    return "\n".join(line.rstrip() for line in text.strip().splitlines())


def test_the_readme_shows_a_real_evening_of_words(tmp_path: Path, terminal: Terminal) -> None:
    book = tmp_path / "book"
    with create(book) as casebook:
        catalogue.add_listener(casebook, "Ada")
        for name in ("sallow", "bracken"):
            catalogue.add_setup(casebook, name)
        catalogue.keep(casebook, catalogue.new_track(casebook, "drums"))
    typed, log, summary = shown()
    terminal.run(f"env -u COLUMNS {command(book, 'word', 'log', '--setup', 'bracken', '--track', 'drums')}")
    for number, line in enumerate(typed, 1):
        terminal.wait(rf"(?s)(word: .*){{{number}}}")
        terminal.keys(*([line] if line else []), "Enter")
    screen = terminal.wait("left with 0")
    assert plain(screen.partition("left with")[0]) == plain(log)
    assert plain(earwitness(book, "word", "summary", "--setup", "bracken").stdout) == plain(summary)
