"""The demo: the whole job from an installed wheel, repeatable, without sound card or display."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="session")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The built wheel, unpacked away from the checkout."""
    home = tmp_path_factory.mktemp("wheel")
    build = [
        sys.executable,
        "-m",
        "pip",
        "wheel",
        "--quiet",
        "--no-deps",
        "--no-build-isolation",
        "--wheel-dir",
        str(home),
    ]
    subprocess.run([*build, str(ROOT)], check=True, capture_output=True)
    wheel = next(home.glob("*.whl"))
    with zipfile.ZipFile(wheel) as packed:
        names = packed.namelist()
        packed.extractall(home / "site")
    assert not [name for name in names if name.startswith("tests")]
    return home / "site"


@pytest.fixture(scope="session")
def demo(installed: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict, str]:
    """The demo run from the wheel with no PortAudio to be found, as JSON and as people's text."""
    home = tmp_path_factory.mktemp("demo")
    program = """
import ctypes.util, sys
ctypes.util.find_library = lambda name: None
from sessions.commands.main import main
import sessions
assert sessions.__path__[0].startswith(sys.argv[1]), sessions.__path__
main(sys.argv[2:])
"""
    environment = os.environ | {"PYTHONPATH": str(installed), "JACK_DEFAULT_SERVER": "no-such-server"}
    environment.pop("DISPLAY", None)
    done = subprocess.run(
        [sys.executable, "-c", program, str(installed), "demo", "--dir", str(home / "book"), "--json"],
        cwd=home,
        env=environment,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return home / "book", json.loads(done.stdout), done.stderr


def test_the_demo_ends_with_four_verdicts_marked_as_rehearsals(demo: tuple[Path, dict, str]) -> None:
    _, document, text = demo
    plans = {plan["plan"]: plan for plan in document["plans"]}
    assert list(plans) == ["plain", "borderline", "identical", "words"]
    assert all(plan["rehearsal"] for plan in plans.values())
    assert plans["plain"]["verdict"] == "heard"
    assert plans["identical"]["verdict"] == "not shown"
    assert text.count("REHEARSAL") == 4
    assert "earwitness compare DIR_A DIR_B" in text
    assert document["giveaways"] == 0
    assert document["residual_lu"] <= document["tolerance_lu"]


def test_the_demos_casebook_holds_and_its_report_is_there(demo: tuple[Path, dict, str]) -> None:
    from sessions.casebook.store import open_casebook
    from sessions.results import review, verification

    book, document, _ = demo
    assert Path(document["report"]) == book / "report.html"
    assert (book / "report.html").stat().st_size > 10_000
    with open_casebook(book) as casebook:
        assert verification.verify(casebook).ok
        assert [one.verdict.state for one in review.review(casebook).plans] == ["not begun"] * 4


def test_the_words_that_the_simulated_listener_links_are_heard_and_crosschecked_and_the_dictionary_declines(
    demo: tuple[Path, dict, str],
) -> None:
    """Bass-light of sallow, boomy of bracken: planted in the listener, as their difference is in the loudspeakers."""
    book, document, text = demo
    found = {plan["plan"]: plan for plan in document["plans"]}["words"]
    assert found["verdict"] == "heard"
    words = {one["word"]: one for one in found["analysis"]["words"]}
    assert [word for word, one in words.items() if one["p_holm"] <= 0.05] == ["bass-light", "boomy"]
    assert {one["flips"]["pairs"] for one in words.values()} == {4}  # same-same, one presentation in four
    assert {one["word"]: one["outcome"] for one in document["words"]} == {
        "bass-light": "heard and measured",
        "boomy": "heard and measured",
        "warm": "measured, not heard",  # the bump at 100 Hz, of which this listener says it of both alike
        "bright": "neither heard nor measured",
        "depth": "cannot be told",
    }
    assert document["dictionary"] == {"listener": "Ada", "units": 2, "units_lacking": 10}
    assert "needs 12 setups that were described and measured, 10 more than there are" in text
    report = (book / "report.html").read_text(encoding="utf-8")
    assert "A REHEARSAL, never counted. The words of the ballot on the measured difference" in report
    assert "boomy: heard and measured" in report


def test_the_demo_ends_with_two_stills_and_a_sheet_of_claims(demo: tuple[Path, dict, str]) -> None:
    """Bracken's bass is planted; the plan is sealed and not begun; of boomy there is a sighted word."""
    from PIL import Image

    book, document, text = demo
    assert [(one["standing"], one["says_too_much"]) for one in document["claims"]] == [
        ("shown", []),
        ("opinion", []),
        ("not shown", ["everybody", "Blind"]),
    ]
    sheet = (book / "claims.html").read_text(encoding="utf-8")
    assert all(one["text"] in sheet for one in document["claims"])
    assert [Path(one) for one in document["stills"]] == [
        book / "stills" / f"{one}.png" for one in ("response", "verdict")
    ]
    for one in document["stills"]:
        with Image.open(one) as still:
            assert (still.size, still.mode) == ((1920, 1080), "RGBA")
            assert still.getextrema()[3] == (0, 255)
    assert "What Ada wants to say" in text


def test_the_demo_ends_with_a_viewers_page_and_says_where_each_file_lies(demo: tuple[Path, dict, str]) -> None:
    from sessions.casebook.store import open_casebook
    from sessions.plans import viewers_rows

    book, document, text = demo
    page = book / "viewers" / "index.html"
    assert Path(document["viewers_page"]) == page
    assert document["viewers_seal"] in page.read_text(encoding="utf-8")
    with open_casebook(book) as casebook:
        [sealed] = viewers_rows.everything(casebook)
        assert (sealed.seal, sealed.test.plan_name, sealed.test.trials) == (document["viewers_seal"], "plain", 4)
        assert viewers_rows.secret_of(casebook, sealed).hex() not in page.read_text(encoding="utf-8")
    ends = text.split("What goes out\n")[1]
    for file in (document["report"], *document["stills"], document["claims_sheet"], document["viewers_page"]):
        assert f" {file}" in ends
        assert Path(file).is_file()


def test_identical_setups_are_prepared_to_identical_sound(demo: tuple[Path, dict, str]) -> None:
    book, _, _ = demo
    from sessions.casebook.store import open_casebook

    with open_casebook(book) as casebook:
        sheet = json.loads(casebook.query("SELECT document FROM match_sheets")[0]["document"])
        names = {row["id"]: row["name"] for row in casebook.query("SELECT id, name FROM setups")}
    for passage in sheet["passages"]:
        hashes = {names[own["setup"]]: own["sha256"] for own in passage["prepared"]["setups"]}
        assert hashes["sallow"] == hashes["sallow-again"] != hashes["sallow-late"]
        sizes = {
            path.stat().st_size for own in passage["prepared"]["setups"] for path in [book / "prepared" / own["file"]]
        }
        assert len(sizes) == 1


def test_the_demo_does_not_write_over_what_is_there(demo: tuple[Path, dict, str]) -> None:
    book, _, _ = demo
    executable = str(Path(sys.executable).with_name("earwitness"))
    again = subprocess.run([executable, "demo", "--dir", str(book)], capture_output=True, text=True, check=False)
    assert again.returncode == 2
    assert "is not empty" in again.stderr


def test_the_readme_shows_what_the_demo_prints(demo: tuple[Path, dict, str]) -> None:
    """The README's terminal output is the real one; seals, which are random, apart."""
    _, document, text = demo
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = re.search(r"```console\n\$ earwitness demo\n(.*?)```", readme, flags=re.DOTALL)
    assert shown is not None

    def plain(output: str) -> str:
        output = output.replace(str(Path(document["casebook"])), "earwitness-demo")
        return re.sub(r"[0-9a-f]{64}", "SEAL", output).strip()

    assert plain(shown[1]) == plain(text)
