"""Records from JSON documents, by several threads at once."""

from __future__ import annotations

import subprocess
import sys

ROUNDS = 150  # before the mend, none of 6 runs came past the 30th

THREE_READ_A_KIND_THAT_IS_NEW = """
import dataclasses, sys, threading
from sessions.casebook import documents
sys.setswitchinterval(1e-6)
inner = {f"a{n}": n for n in range(3)}
stated = {f"p{n}": inner for n in range(6)}
read = []
for number in range(int(sys.argv[1])):
    parts = [dataclasses.make_dataclass(f"Part{number}_{n}", [(a, int) for a in inner]) for n in range(6)]
    kind = dataclasses.make_dataclass(f"Whole{number}", list(zip(stated, parts)))
    gate = threading.Barrier(3)
    def go():
        gate.wait()
        read.append(documents.from_plain(stated, kind).p5.a2)
    threads = [threading.Thread(target=go) for _ in range(3)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
assert read == [2] * (3 * number + 3), len(read)
"""


def test_threads_that_read_a_kind_for_the_first_time_at_once_all_get_it() -> None:
    command = [sys.executable, "-X", "faulthandler", "-c", THREE_READ_A_KIND_THAT_IS_NEW, str(ROUNDS)]
    ran = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert (ran.returncode, ran.stderr) == (0, "")
