"""Work done side by side in copies of a process: of a program of its own, since pytest may have threads."""

from __future__ import annotations

import gc
import os
import re
import subprocess
import sys
from pathlib import Path

from sessions.casebook import user_folders
from sessions.casebook.store import Casebook
from tests.sessions.commands.test_commands import run
from tests.sessions.measured.measured_files import write_level

BEGIN = """
import os, sys, time
from pathlib import Path
from sessions.report import side_by_side
folder = Path(sys.argv[1])
"""


def said_by(program: str, folder: Path) -> list[str]:
    done = subprocess.run([sys.executable, "-c", BEGIN + program, str(folder)], capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout.splitlines()


def test_pieces_are_worked_on_at_the_same_time_and_come_back_in_their_order(tmp_path: Path) -> None:
    said = said_by(
        """
def met(name):
    (folder / name).touch()
    while len(list(folder.iterdir())) < 3:  # so that nobody goes on before all three have begun
        time.sleep(0.01)
    return name, os.getpid()
with side_by_side._begun([lambda name=name: met(name) for name in "abc"], 2) as all_made:
    made = all_made()
print(*(name for name, _ in made))
print(len({process for _, process in made}))
""",
        tmp_path,
    )
    assert said == ["a b c", "3"]


def test_what_a_copy_did_not_bring_to_an_end_is_made_here(tmp_path: Path) -> None:
    said = said_by(
        """
own = os.getpid()
def work(number):
    if os.getpid() != own:
        (folder / "ended").touch()
        os.kill(os.getpid(), 9)
    while not (folder / "ended").exists():  # until the copy has taken one, and is gone with it
        time.sleep(0.01)
    return number, os.getpid() == own
with side_by_side._begun([lambda number=number: work(number) for number in range(3)], 1) as made:
    print(made())
""",
        tmp_path,
    )
    assert said == ["[(0, True), (1, True), (2, True)]"]


def test_beside_another_thread_no_copy_is_made(tmp_path: Path) -> None:
    said = said_by(
        """
import threading
done = threading.Event()
threading.Thread(target=done.wait).start()
with side_by_side.begun([os.getpid] * 8) as made:
    print(len({*made()}))
done.set()
""",
        tmp_path,
    )
    assert said == ["1"]


def test_a_report_is_the_same_whoever_drew_its_pictures(casebook: Casebook, tmp_path: Path) -> None:
    book = ("--casebook", str(casebook.folder))
    for name, level in (("sallow", 80), ("bracken", 78)):
        run(*book, "curve", "add", name, write_level(tmp_path / "axis.txt", level))
    casebook.close()
    pages = []
    for cores in (1, 2):
        subprocess.run(
            [
                sys.executable,
                "-c",
                "import sys\nfrom audio import parallel\nparallel.cores = lambda: int(sys.argv.pop())\n"
                "from sessions.commands.main import main\nmain(sys.argv[1:-1])",
                *(*book, "report", "--out", str(tmp_path / f"{cores}.html"), str(cores)),
            ],
            check=True,
            env={**os.environ, user_folders.CACHE: str(tmp_path / f"cache-{cores}")},  # nothing is drawn there yet
        )
        pages.append((tmp_path / f"{cores}.html").read_text())
    drawn = [re.findall(r"<svg.*?</svg>", page, flags=re.DOTALL) for page in pages]
    assert len(drawn[0]) == 2
    assert drawn[0] == drawn[1]


def test_copies_work_while_this_process_does_something_else(tmp_path: Path) -> None:
    said = said_by(
        """
with side_by_side._begun([(folder / "made").touch, os.getpid], 1) as made:
    while not (folder / "made").exists():  # nobody has asked for it yet
        time.sleep(0.01)
    print(len(made()))
""",
        tmp_path,
    )
    assert said == ["2"]


def test_a_copy_that_nobody_asked_for_its_work_is_ended(tmp_path: Path) -> None:
    said = said_by(
        """
def work():
    (folder / str(os.getpid())).touch()
    time.sleep(600)
with side_by_side._begun([work, work], 1):
    while not list(folder.iterdir()):
        time.sleep(0.01)
[copy] = folder.iterdir()
try:
    os.kill(int(copy.name), 0)
except ProcessLookupError:
    print("gone")
""",
        tmp_path,
    )
    assert said == ["gone"]


def test_garbage_is_looked_for_as_before_once_a_report_is_made(casebook: Casebook) -> None:
    casebook.close()
    before = gc.get_threshold()
    run("--casebook", str(casebook.folder), "report")
    assert gc.get_threshold() == before
