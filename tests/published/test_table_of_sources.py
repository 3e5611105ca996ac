"""The table of sources (README.md beside this file) names every check that is there, and none that is not."""

from __future__ import annotations

import ast
import io
import re
import tokenize
from collections.abc import Iterator
from functools import cache
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
TABLE = Path(__file__).with_name("README.md")
MARKS = ("read", "computed", "memory", "definition", "not marked")
NAMED = re.compile(r"`([\w/]+\.py)?::([\w:]+)`")
QUOTES = re.compile(r"\b(ISO|IEC|RFC|FIPS|EBU|ITU-R|ANSI|AES\d+|BS\.\d+)\b|\bmemory of\b|[( ]memory[);:]|from memory")


@cache
def functions(file: str) -> dict[str, ast.FunctionDef]:
    """The test functions of a file (from `tests/`), by name, those of a class with its name before them."""
    found: dict[str, ast.FunctionDef] = {}
    for node in ast.parse((TESTS / file).read_text(encoding="utf-8")).body:
        inside = node.body if isinstance(node, ast.ClassDef) else [node]
        before = f"{node.name}::" if isinstance(node, ast.ClassDef) else ""
        for one in inside:
            if isinstance(one, ast.FunctionDef) and one.name.startswith("test_"):
                found[before + one.name] = one
    return found


@cache
def rows() -> list[list[str]]:
    """The cells of every row that names a test."""
    lines = TABLE.read_text(encoding="utf-8").splitlines()
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines if line[:1] == "|" and "::" in line]


@cache
def named() -> frozenset[tuple[str, str]]:
    """File and test of every row; a test without a file stands in the file named before it in its row."""
    found = set()
    for row in rows():
        file = ""
        for given, name in NAMED.findall(row[-1]):
            file = given or file
            found.add((file, name))
    return frozenset(found)


def said(file: str) -> Iterator[tuple[str, str]]:
    """Each test of a file with what its name, docstring and comments say, decorators' comments included."""
    source = (TESTS / file).read_text(encoding="utf-8")
    tokens = tokenize.generate_tokens(io.StringIO(source).readline) if QUOTES.search(source) else iter(())
    comments = [(token.start[0], token.string) for token in tokens if token.type == tokenize.COMMENT]
    for name, one in functions(file).items():
        first = min([one.lineno, *(decorator.lineno for decorator in one.decorator_list)])
        words = [text for line, text in comments if first <= line <= (one.end_lineno or first)]
        yield name, " ".join([name.upper().replace("_", " "), ast.get_docstring(one) or "", *words])


def test_every_test_of_this_folder_has_a_row() -> None:
    here = [path for path in sorted(TABLE.parent.glob("test_*.py")) if path.name != Path(__file__).name]
    assert len(here) > 15
    every = {(f"published/{path.name}", name) for path in here for name in functions(f"published/{path.name}")}
    assert sorted(every - named()) == []


def test_every_row_names_tests_that_are_there() -> None:
    missing = [
        f"{file}::{name}"
        for file, name in sorted(named())
        if not (TESTS / file).is_file() or name not in functions(file)
    ]
    assert missing == []


def test_whatever_quotes_a_standard_or_a_memory_elsewhere_has_a_row() -> None:
    elsewhere = (path.relative_to(TESTS).as_posix() for path in sorted(TESTS.rglob("test_*.py")))
    quoting = {
        (file, name)
        for file in elsewhere
        if not file.startswith("published/")
        for name, words in said(file)
        if QUOTES.search(words)
    }
    assert len(quoting) > 20
    assert sorted(quoting - named()) == []


def test_a_row_says_its_source_quantity_tolerance_and_mark() -> None:
    for row in rows():
        assert len(row) in (4, 5), row
        assert all(row), row
        assert re.fullmatch(r"`[^`]+`(, `[^`]+`)*", row[-1]), row
        assert len(NAMED.findall(row[-1])) == row[-1].count("`") // 2, row
        assert len(row) == 4 or row[3].startswith(MARKS), row  # second opinions have no print, so no mark
