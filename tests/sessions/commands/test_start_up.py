"""What a command loads: the light ones start without the libraries that take longest."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from sessions.casebook import catalogue
from sessions.casebook.store import Casebook
from tests.answered_plans import answer_trials
from tests.sessions.commands.test_commands import run
from tests.sessions.measured.measured_files import write_level

HEAVY = (
    "numpy",
    "pandas",
    "scipy",
    "scipy.special",
    "scipy.stats",
    "matplotlib",
    "soundfile",
    "jinja2",
    "starlette",
    "uvicorn",
)
MEASURED = ("sessions.measured.curve_sentences", "audio.curves.curve")
PLANNING = ("stats.binomial_power", "stats.counted_methods", "stats.psychometric")
PROGRAM = f"""
import sys
from sessions.commands.main import main
try:
    main(sys.argv[1:])
except SystemExit as left:
    status = left.code
print(*(name for name in {(*HEAVY, *MEASURED, *PLANNING)!r} if name in sys.modules), file=sys.stderr)
sys.exit(status)
"""


@pytest.fixture
def book(casebook: Casebook) -> Path:
    catalogue.add_listener(casebook, "Ada")
    casebook.close()
    return casebook.folder


@pytest.fixture
def measured(sealed: Casebook, tmp_path: Path) -> Casebook:
    """A sealed plan, of setups of which curves are there."""
    for name, level in (("sallow", 80), ("bracken", 78)):
        file = write_level(tmp_path / "axis.txt", level)
        assert run("--casebook", sealed.folder, "curve", "add", name, file).returncode == 0
    return sealed


@pytest.fixture
def answered(measured: Casebook) -> Path:
    answer_trials(measured, 8, 0)
    measured.close()
    return measured.folder


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
    assert loaded_by(book, *words) <= {"numpy", "scipy", "scipy.special", *PLANNING}


def test_a_plan_that_was_answered_is_verified_without_arithmetic_or_what_plans_it(answered: Path) -> None:
    assert loaded_by(answered, "verify") == set()


def test_a_verdict_loads_curves_only_to_tell_what_was_measured(answered: Path) -> None:
    assert not {*MEASURED} & loaded_by(answered, "verdict")
    assert {*MEASURED} <= loaded_by(answered, "verdict", "--all")
    assert {*MEASURED} <= loaded_by(answered, "verdict", "--json")


def test_of_a_plan_that_nobody_began_the_verdict_needs_no_arithmetic(measured: Casebook) -> None:
    measured.close()
    assert loaded_by(measured.folder, "verdict") <= {*PLANNING}


def test_numpy_is_itself_after_the_casebook_was_opened_without_it(book: Path) -> None:
    program = (
        "import sys\nfrom pathlib import Path\nfrom sessions.casebook.store import open_casebook\n"
        "open_casebook(Path(sys.argv[1])).close()\n"
        "assert 'numpy' not in sys.modules and 'pandas' not in sys.modules\n"
        "import numpy\nopen_casebook(Path(sys.argv[1])).close()\nassert sys.modules['numpy'] is numpy\n"
    )
    subprocess.run([sys.executable, "-c", program, str(book)], check=True)
