"""Error rates over many whole sessions with real keys, every method, habit and course; to be run by hand.

    python -m tests.calibration.simulate --sessions 100000

The tests beside this are exact where that can be; here nothing is assumed of keys, scoring or the planned test. The
sessions of a method are spread evenly over all habits and courses. Exit status 1 where a rate, of all of them or of one
habit or course, is beyond alpha by more than four standard errors.
"""

from __future__ import annotations

import argparse
import sys
import time
import zlib
from collections import Counter
from dataclasses import dataclass
from itertools import cycle, islice, product
from math import sqrt

from numpy.random import PCG64, Generator

from sessions.plans.planned_test import E_PROCESS, FIXED, NO_TIES, SPRT
from sessions.results.ratings import Item, quality_grades
from tests.calibration import known_differences
from tests.calibration.habits import HABITS
from tests.calibration.listeners import Course, answers
from tests.calibration.plans import judged, plan

ALPHA = 0.05


@dataclass(frozen=True)
class Setting:
    """A plan whose error rate is simulated."""

    method: str
    trials: int
    rule: str = FIXED
    ties: str = NO_TIES

    def __str__(self) -> str:
        ties = "" if self.ties == NO_TIES else f", ties {self.ties}"
        return f"{self.method} {self.trials} {self.rule}{ties}"


SETTINGS = [
    Setting("abx", 16),
    Setting("preference", 16),
    Setting("preference", 16, ties="drop"),
    Setting("preference", 16, ties="split"),
    Setting("triangle", 12),
    Setting("duo-trio", 16),
    Setting("tetrad", 12),
    Setting("same-different", 16),
    Setting("abx", 30, SPRT),
    Setting("triangle", 24, SPRT),
    Setting("preference", 30, SPRT),
    Setting("abx", 30, E_PROCESS),
    Setting("preference", 30, E_PROCESS),
    Setting("hidden-reference", 10),
    Setting("round-robin", 12),
    Setting("multi-stimulus", 8),
    Setting("words", 24),
]
PANELS = [1, 5, 10, 20]  # listeners who grade many stimuli
TRIALS_EACH = [2, 5, 10]
PLACES = ("reference", "one", "two", "anchor 3.5 kHz", "anchor 7 kHz")
EVERY_WAY = list(product(HABITS, Course))


@dataclass(frozen=True)
class Rates:
    """How often something was found: of all sessions, and of those of each habit and course."""

    sessions: Counter[str]
    found: Counter[str]

    def __getitem__(self, part: str) -> float:
        return self.found[part] / self.sessions[part]

    @property
    def beyond(self) -> list[str]:
        """The parts whose rate lies above alpha by more than chance does."""
        return [part for part in self.sessions if self[part] > allowed(self.sessions[part])]


def allowed(sessions: int) -> float:
    """Alpha and four standard errors of so many sessions."""
    return ALPHA + 4 * sqrt(ALPHA * (1 - ALPHA) / sessions)


def simulated(setting: Setting, sessions: int, ways: list[tuple[str, Course]] = EVERY_WAY) -> Rates:
    """How often the planned test finds something in sessions of a listener who hears nothing."""
    made = plan(setting.method, setting.trials, setting.rule, ties=setting.ties)
    # the seed follows from what is simulated, so that no two rows share their draws
    rng = Generator(PCG64(zlib.crc32(f"{setting}|{ways}".encode())))
    run, found = Counter[str](), Counter[str]()
    for habit, course in islice(cycle(ways), sessions):
        given = answers(made, HABITS[habit], rng, course=course)
        reached = bool(given) and judged(made, given).reached is True
        for part in ("all", habit, course.value):
            run[part] += 1
            found[part] += reached
    return Rates(run, found)


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
    for _ in range(panels):
        given = guessed_grades(listeners, trials, rng)
        found = quality_grades(given, PLACES, 3, 4, listeners * trials, ALPHA, by_reference=by_reference)
        reached += bool(found.reached and not found.void)
    return reached / panels


def main() -> int:
    """Print a row for each plan, and for each size of panel."""
    parser = argparse.ArgumentParser(description="Error rates of all methods over simulated sessions.")
    parser.add_argument("--sessions", type=int, default=1000, help="sessions (or panels) for each method")
    sessions = parser.parse_args().sessions
    beyond = False
    print(f"alpha {ALPHA}, {sessions} sessions each: all; each course; the habit that found most")
    for setting in SETTINGS:
        begun = time.monotonic()
        rates = simulated(setting, sessions)
        beyond |= bool(rates.beyond)
        courses = "  ".join(f"{course} {rates[course]:.4f}" for course in Course)
        most = max(HABITS, key=lambda habit: rates[habit])
        print(
            f"{setting!s:34} {rates['all']:.4f}  {courses}  {most} {rates[most]:.4f}  "
            f"[{time.monotonic() - begun:.0f} s]" + "".join(f"  BEYOND ALPHA: {part}" for part in rates.beyond),
            flush=True,
        )
    panels = max(1, sessions // (len(PANELS) * len(TRIALS_EACH)))
    for listeners, trials in product(PANELS, TRIALS_EACH):
        found = panel_rate(listeners, trials, panels)
        beyond |= found > allowed(panels)
        mark = "  BEYOND ALPHA" if found > allowed(panels) else ""
        print(f"panel of {listeners:2}, {trials:2} trials each        {found:.4f} of {panels}{mark}", flush=True)
    for method, rule in known_differences.PLANS:
        found = {
            habit: known_differences.rate(method, habit, rule, max(1, sessions // len(HABITS))) for habit in HABITS
        }
        most = max(found, key=lambda habit: found[habit])
        too_many = found[most] > allowed(max(1, sessions // len(HABITS)))
        beyond |= too_many
        mark = "  BEYOND ALPHA" if too_many else ""
        print(f"{method} {rule}, a known difference heard  {most} {found[most]:.4f}{mark}", flush=True)
    return int(beyond)


if __name__ == "__main__":
    sys.exit(main())
