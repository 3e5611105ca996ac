"""Error rates over many whole sessions with real keys, every method with every habit; to be run by hand.

    python -m tests.calibration.simulate --sessions 100000

The tests beside this are exact where that can be; here nothing is assumed of keys, scoring or the planned test. Exit
status 1 where a rate is beyond alpha by more than four standard errors.
"""

from __future__ import annotations

import argparse
import sys
import zlib
from math import sqrt

from numpy.random import PCG64, Generator

from sessions.plans import planned_test
from sessions.results.ratings import Item, quality_grades
from tests.calibration import known_differences
from tests.calibration.listeners import HABITS, answers
from tests.calibration.plans import judged, plan

PLANS = [
    ("abx", 16, planned_test.FIXED),
    ("preference", 16, planned_test.FIXED),
    ("triangle", 12, planned_test.FIXED),
    ("duo-trio", 16, planned_test.FIXED),
    ("tetrad", 12, planned_test.FIXED),
    ("same-different", 16, planned_test.FIXED),
    ("abx", 30, planned_test.SPRT),
    ("triangle", 24, planned_test.SPRT),
    ("preference", 30, planned_test.SPRT),
    ("abx", 30, planned_test.E_PROCESS),
    ("preference", 30, planned_test.E_PROCESS),
    ("hidden-reference", 10, planned_test.FIXED),
    ("round-robin", 12, planned_test.FIXED),
    ("multi-stimulus", 8, planned_test.FIXED),
]
PANELS = [1, 5, 10, 20]  # listeners who grade many stimuli
TRIALS_EACH = [2, 5, 10]
PLACES = ("reference", "one", "two", "anchor 3.5 kHz", "anchor 7 kHz")
DRAWS = 199  # of a p; few, and still a test that holds its error rate exactly


def guessed_grades(listeners: int, trials: int, rng: Generator) -> dict[str, dict[Item, dict[int, float]]]:
    """Grades of who cannot tell the three setups apart; the anchors are plain, but for now and then."""
    return {
        f"listener {one}": {
            ("passage", trial): {
                **{place: float(rng.integers(60, 100)) for place in range(3)},
                int(rng.integers(3)): 100.0,  # guessed to be the hidden reference
                3: 20.0,
                4: 95.0 if rng.random() < 0.1 else 40.0,
            }
            for trial in range(1, trials + 1)
        }
        for one in range(listeners)
    }


def panel_rate(listeners: int, trials: int, panels: int, *, by_reference: bool = False) -> float:
    """How often panels who hear nothing are judged to have heard something."""
    rng = Generator(PCG64(zlib.crc32(f"panel|{listeners}|{trials}".encode())))
    reached = 0
    for number in range(panels):
        given = guessed_grades(listeners, trials, rng)
        found = quality_grades(
            given, PLACES, 3, 4, listeners * trials, 0.05, number, by_reference=by_reference, draws=DRAWS
        )
        reached += found.reached and not found.void
    return reached / panels


def rate(method: str, trials: int, rule: str, habit: str, sessions: int) -> float:
    """How often the planned test finds something in sessions of a listener who hears nothing."""
    made = plan(method, trials, rule)
    # the seed follows from what is simulated, so that no two rows share their draws
    rng = Generator(PCG64(zlib.crc32(f"{method}|{trials}|{rule}|{habit}".encode())))
    return sum(judged(made, answers(made, HABITS[habit], rng)).reached for _ in range(sessions)) / sessions


def main() -> int:
    parser = argparse.ArgumentParser(description="Error rates of all methods over simulated sessions.")
    parser.add_argument("--sessions", type=int, default=1000, help="sessions for each method and habit")
    sessions = parser.parse_args().sessions
    allowed = 0.05 + 4 * sqrt(0.05 * 0.95 / sessions)
    beyond = False
    print(f"alpha 0.05, {sessions} sessions each; beyond {allowed:.4f} is more than chance does")
    for method, trials, rule in PLANS:
        for habit in HABITS:
            found = rate(method, trials, rule, habit, sessions)
            beyond |= found > allowed
            mark = "  BEYOND ALPHA" if found > allowed else ""
            print(f"{method:17} {trials:3} {rule:10} {habit:10} {found:.4f}{mark}", flush=True)
    for method, rule in known_differences.PLANS:
        for habit in HABITS:
            found = known_differences.rate(method, habit, rule, sessions)
            beyond |= found > allowed
            mark = "  BEYOND ALPHA" if found > allowed else ""
            print(f"{method:17} known {rule:8} {habit:10} {found:.4f}{mark}", flush=True)
    for listeners in PANELS:
        for trials in TRIALS_EACH:
            found = panel_rate(listeners, trials, sessions)
            beyond |= found > allowed
            mark = "  BEYOND ALPHA" if found > allowed else ""
            print(f"panel of {listeners:2}, {trials:2} trials each        {found:.4f}{mark}", flush=True)
    return int(beyond)


if __name__ == "__main__":
    sys.exit(main())
