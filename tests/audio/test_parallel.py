"""Work in several processes: in order, errors in our words, Ctrl-C without a word from the others."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile

from audio import arithmetic_threads, parallel
from audio.errors import FileError, ProcessError
from audio.files.replacement import replacement
from audio.levels import loudness


def doubled(number: int) -> tuple[int, int]:
    time.sleep(0.02 * (3 - number))  # the last is done first
    return 2 * number, os.getpid()


def refusing(number: int) -> int:
    if number == 1:
        raise FileError("two.wav: is empty (0 bytes)")
    return number


def dying(first: int) -> int:
    if os.getpid() != first:
        os._exit(9)
    time.sleep(0.1)
    return first


def half_written(path: Path) -> None:
    with replacement(path) as file:
        file.write(b"begun")
        file.flush()
        time.sleep(60)


def threads(_number: int) -> tuple[int, str | None]:
    time.sleep(0.1)
    return os.getpid(), os.environ.get("OPENBLAS_NUM_THREADS")


def test_results_come_in_order_from_this_process_and_others() -> None:
    found = list(parallel.each(doubled, range(4), most=2))
    assert [number for number, _ in found] == [0, 2, 4, 6]
    processes = {process for _, process in found}
    assert len(processes) == 2
    assert os.getpid() in processes


def test_one_thing_is_worked_on_here() -> None:
    assert list(parallel.each(doubled, [3])) == [(6, os.getpid())]


def test_an_error_comes_back_as_it_was_and_after_what_came_before() -> None:
    results = parallel.each(refusing, range(3), most=2)
    assert next(results) == 0
    with pytest.raises(FileError, match=r"two\.wav: is empty"):
        next(results)


def test_a_process_ended_from_outside_is_an_error_and_no_wait() -> None:
    with pytest.raises(ProcessError, match="ended from outside"):
        list(parallel.each(dying, [os.getpid()] * 3, most=2))


def test_processes_do_not_divide_their_arithmetic_again(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in arithmetic_threads.THREADS:
        monkeypatch.delenv(name, raising=False)
    found = dict(parallel.each(threads, range(2), most=2))
    assert [threads for process, threads in found.items() if process != os.getpid()] == ["1"]
    assert not set(arithmetic_threads.THREADS) & set(os.environ)


@pytest.fixture
def recordings(tmp_path: Path) -> list[Path]:
    paths = [tmp_path / f"{name}.flac" for name in ("one", "two", "three")]
    for seed, path in enumerate(paths):
        soundfile.write(path, np.random.default_rng(seed).uniform(-0.5, 0.5, (48_000 * 15, 2)), 48_000)
    return paths


def test_files_measured_by_several_processes_read_as_one_by_one(recordings: list[Path]) -> None:
    assert sum(path.stat().st_size for path in recordings) >= loudness.WORTH_PROCESSES_BYTES
    found = list(loudness.measure_files(recordings))
    assert [info.path for info, _ in found] == recordings
    assert [measured for _, measured in found] == [loudness.measure_file(path) for path in recordings]


@pytest.mark.skipif(sys.platform == "win32", reason="process groups are POSIX's")
@pytest.mark.parametrize("after_s", [0.3, 1.0])
def test_ctrl_c_ends_all_processes_with_one_line(recordings: list[Path], after_s: float) -> None:
    # the group gets the signal, as of a terminal
    command = [sys.executable, "-c", "from sessions.commands.main import main; main()", "loudness"]
    going = subprocess.Popen(
        [*command, *map(str, recordings * 40)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    time.sleep(after_s)
    os.killpg(going.pid, signal.SIGINT)
    out, err = going.communicate(timeout=30)
    assert (out, err.strip()) == ("", "earwitness: stopped; what was acknowledged is kept")
    assert going.returncode == 130
    with pytest.raises(ProcessLookupError):  # nobody of the group is left
        for _ in range(100):
            os.killpg(going.pid, 0)
            time.sleep(0.05)


def test_work_comes_as_it_is_given_and_what_is_not_begun_is_left() -> None:
    with parallel.workers(2) as submit:
        first = [submit(doubled, number) for number in range(2)]
        assert first[0]()[0] == 0
        later = submit(doubled, 3)
        assert (later()[0], first[1]()[0]) == (6, 2)
    with parallel.workers(1) as submit:
        assert submit(doubled, 2)() == (4, os.getpid())


def waiting_by_now(_number: int) -> None:
    """Over at once, so that its process waits for more."""


@pytest.mark.skipif(sys.platform == "win32", reason="process groups are POSIX's")
@pytest.mark.parametrize("busy", [2, 1])
def test_ctrl_c_leaves_nothing_half_written_by_another_process(tmp_path: Path, busy: int) -> None:
    program = (
        "import sys\nfrom pathlib import Path\nfrom audio import parallel\n"
        "from tests.audio.test_parallel import half_written, waiting_by_now\n"
        "with parallel.workers(2) as submit:\n"
        "    for one in [submit(waiting_by_now, number) for number in range(4)]: one()\n"
        "    going = [submit(half_written, Path(name)) for name in sys.argv[1:]]\n"
        "    for one in going: one()\n"
    )
    names = [str(tmp_path / name) for name in ("one.wav", "two.wav")[:busy]]
    going = subprocess.Popen(
        [sys.executable, "-c", program, *names], stderr=subprocess.PIPE, text=True, start_new_session=True
    )
    for _ in range(600):
        if len(list(tmp_path.glob(".*.part"))) == busy:
            break
        time.sleep(0.05)
    assert len(list(tmp_path.glob(".*.part"))) == busy
    os.killpg(going.pid, signal.SIGINT)
    _, err = going.communicate(timeout=30)
    assert err.strip().splitlines()[-1] == "KeyboardInterrupt"  # of the first process, and no other's
    assert err.count("Traceback") == 1
    with pytest.raises(ProcessLookupError):
        for _ in range(100):
            os.killpg(going.pid, 0)
            time.sleep(0.05)
    assert list(tmp_path.iterdir()) == []
