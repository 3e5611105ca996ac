"""Work done side by side in copies of a process: of a program of its own, since pytest may have threads."""

from __future__ import annotations

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
load = tuple
def give(shared, *things):
    for one in things:
        shared.give(one)
"""


def said_by(program: str, folder: Path) -> list[str]:
    done = subprocess.run([sys.executable, "-c", BEGIN + program, str(folder)], capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout.splitlines()


def test_pieces_are_worked_on_at_the_same_time_and_come_back_in_their_order(tmp_path: Path) -> None:
    said = said_by(
        """
def met(name):
    (folder / name.decode()).touch()
    while len(list(folder.iterdir())) < 3:  # so that nobody goes on before all three have begun
        time.sleep(0.01)
    return name.decode(), os.getpid()
with side_by_side.begun(met, load, 3) as shared:
    give(shared, b"a", b"b", b"c")
    made = shared.made()
print(*(name for name, _ in made))
print(len({process for _, process in made}), os.getpid() in {process for _, process in made})
""",
        tmp_path,
    )
    assert said == ["a b c", "3 False"]


def test_what_a_copy_did_not_bring_to_an_end_is_made_here(tmp_path: Path) -> None:
    said = said_by(
        """
own = os.getpid()
def work(thing):
    if os.getpid() != own and thing != b"first":
        os.kill(os.getpid(), 9)
    return thing.decode(), os.getpid() == own
with side_by_side.begun(work, load, 2) as shared:
    give(shared, b"first", b"next", b"last")
    print(shared.made())
""",
        tmp_path,
    )
    assert said == ["[('first', True), ('next', True), ('last', True)]"]


def test_beside_another_thread_no_copy_is_made(tmp_path: Path) -> None:
    said = said_by(
        """
import threading
done = threading.Event()
threading.Thread(target=done.wait).start()
with side_by_side.begun(lambda thing: os.getpid(), load) as shared:
    give(shared, *[b""] * 8)
    print({*shared.made()} == {os.getpid()})
done.set()
""",
        tmp_path,
    )
    assert said == ["True"]


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
with side_by_side.begun(lambda name: (folder / name.decode()).touch(), load, 2) as shared:
    for name in ("one", "two"):
        give(shared, name.encode())
        while not (folder / name).exists():  # nobody has asked for it yet
            time.sleep(0.01)
    print(len(shared.made()))
""",
        tmp_path,
    )
    assert said == ["2"]


def test_what_the_work_needs_is_loaded_once_and_not_here(tmp_path: Path) -> None:
    said = said_by(
        """
def load():
    with open(folder / "loaded", "a") as file:
        print(os.getpid(), file=file)
with side_by_side.begun(lambda thing: os.getpid(), load, 2) as shared:
    shared.begin()
    while not (folder / "loaded").exists():  # before there is anything to do
        time.sleep(0.01)
    give(shared, *[b""] * 4)
    shared.made()
processes = (folder / "loaded").read_text().split()
print(len(processes), str(os.getpid()) in processes)
""",
        tmp_path,
    )
    assert said == ["1 False"]


def test_things_of_any_length_arrive_whole(tmp_path: Path) -> None:
    said = said_by(
        """
things = [bytes([turn]) * (turn * 40_000) for turn in range(60)]  # more than a pipe holds
with side_by_side.begun(lambda thing: thing, load, 3) as shared:
    give(shared, *things)
    print(shared.made() == things)
""",
        tmp_path,
    )
    assert said == ["True"]


def test_copies_that_were_given_nothing_are_ended_at_once(tmp_path: Path) -> None:
    said = said_by(
        """
with side_by_side.begun(lambda thing: thing, lambda: time.sleep(600), 2) as shared:
    shared.begin()
    print(shared.made())
""",
        tmp_path,
    )
    assert said == ["[]"]


def test_a_copy_that_nobody_asked_for_its_work_is_ended(tmp_path: Path) -> None:
    said = said_by(
        """
def work(thing):
    (folder / str(os.getpid())).touch()
    time.sleep(600)
with side_by_side.begun(work, load, 3) as shared:
    give(shared, b"", b"", b"")
    while len(list(folder.iterdir())) < 2:
        time.sleep(0.01)
for copy in folder.iterdir():
    for _ in range(1000):
        if not Path("/proc", copy.name).exists() or "Z" in Path("/proc", copy.name, "stat").read_text().split()[2]:
            print("gone")
            break
        time.sleep(0.01)
""",
        tmp_path,
    )
    assert said == ["gone", "gone"]
