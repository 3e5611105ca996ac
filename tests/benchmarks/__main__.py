"""All goals for speed and memory as one table: ``python -m tests.benchmarks [PART ...] [--times N] [--keep FOLDER]``.

Parts: loudness, memory, compare, start, tell, viewers, load. Without any, all of them. Times are medians of interleaved
runs on this machine, and what is compared is their ratio; recordings are made once in the folder kept (otherwise anew,
about 4 GB).
"""

from __future__ import annotations

import argparse
import os
import tempfile
from contextlib import nullcontext
from pathlib import Path

from . import comparing, load, measuring, memory, starting, telling, viewers

PARTS = {
    "loudness": measuring.rows,
    "memory": memory.rows,
    "compare": comparing.rows,
    "start": starting.rows,
    "tell": telling.rows,
    "viewers": viewers.rows,
    "load": load.rows,
}


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("parts", nargs="*", choices=[*PARTS, []], help="which parts of the table; all without any")
    parser.add_argument("--times", type=int, default=3, help="runs of which the median counts")
    parser.add_argument("--keep", type=Path, help="a folder in which recordings are kept for the next run")
    given = parser.parse_args()
    root = Path(__file__).resolve().parents[2]
    os.environ["PYTHONPATH"] = os.pathsep.join(filter(None, [str(root), os.environ.get("PYTHONPATH")]))
    with tempfile.TemporaryDirectory() if given.keep is None else nullcontext(given.keep) as folder:
        Path(folder).mkdir(parents=True, exist_ok=True)
        print(f"{'goal':14} met {'measured':26} what")
        for part in given.parts or PARTS:
            for row in PARTS[part](Path(folder).resolve(), given.times):
                print(f"{row.goal:14} {'yes' if row.met else 'NO':3} {row.found:26} {row.what}", flush=True)


if __name__ == "__main__":
    main()
