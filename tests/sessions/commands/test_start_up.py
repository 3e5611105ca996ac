"""What a command loads: the light ones start without the libraries that take longest."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from sessions.casebook import catalogue
from sessions.casebook.store import Casebook

HEAVY = ("numpy", "pandas", "scipy", "scipy.special", "scipy.stats", "matplotlib", "soundfile", "jinja2")
PROGRAM = f"""
import sys
from sessions.commands.main import main
try:
    main(sys.argv[1:])
except SystemExit as left:
    status = left.code
print(*(name for name in {HEAVY!r} if name in sys.modules), file=sys.stderr)
sys.exit(status)
"""


@pytest.fixture
def book(casebook: Casebook) -> Path:
    catalogue.add_listener(casebook, "Ada")
    casebook.close()
    return casebook.folder


def loaded_by(book: Path, *words: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, "--casebook", str(book), *words], capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    return set(done.stderr.splitlines()[-1].split())


@pytest.mark.parametrize(
    "words",
    [
        ("word", "log", "bright", "--listener", "Ada"),
        ("word", "list"),
        ("word", "search", "bright"),
        ("word", "summary"),
        ("verify",),
        ("status",),
    ],
)
def test_words_verify_and_status_load_no_arithmetic(book: Path, words: tuple[str, ...]) -> None:
    assert loaded_by(book, *words) == set()


@pytest.mark.parametrize(
    "words", [("power", "abx"), ("power", "preference"), ("tally", "abx", "--correct", "12", "--trials", "16")]
)
def test_counts_need_special_functions_alone(book: Path, words: tuple[str, ...]) -> None:
    assert loaded_by(book, *words) <= {"numpy", "scipy", "scipy.special"}


def test_numpy_is_itself_after_the_casebook_was_opened_without_it(book: Path) -> None:
    program = (
        "import sys\nfrom pathlib import Path\nfrom sessions.casebook.store import open_casebook\n"
        "open_casebook(Path(sys.argv[1])).close()\n"
        "assert 'numpy' not in sys.modules and 'pandas' not in sys.modules\n"
        "import numpy\nopen_casebook(Path(sys.argv[1])).close()\nassert sys.modules['numpy'] is numpy\n"
    )
    subprocess.run([sys.executable, "-c", program, str(book)], check=True)
