"""Plain names for the terms of a verdict: what each means, for whoever has never met it. Pure.

Our own words for what the modules of `stats` define with their sources.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

TERMS: Mapping[str, tuple[str, str]] = {
    "p": (r"\bp (?:[<=]|at most|\d)", "how often chance alone gives as clear a result; small is unlike chance"),
    "alpha": (r"\balpha\b", "how often chance alone is allowed to pass for a result, fixed before the first trial"),
    "needed": (r"\bneeded\b", "the count from which chance alone is too unlikely, fixed before the first trial"),
    "95 % exact": (
        r"95 %(?: exact| confidence| for both bounds|\) that)",
        "a range drawn up like this holds the true value in at least 95 of 100 tests",
    ),
    "95 % at any stopping": (
        r"95 % at any stopping",
        "a range drawn up like this holds the true value in at least 95 of 100 tests, whenever one of them stops",
    ),
    "95 %": (
        r"95 %(?! exact| confidence| for both bounds| at any stopping|\) that)",
        "a range drawn up like this holds the true value in about 95 of 100 tests",
    ),
    "proportion": (r"\bproportion\b", "the share of the trials: 1 is all of them"),
    "d'": (
        r"\bd' ", "how clearly it is heard, the same for every method: 0 not at all (below 0: answered worse than "
        "guessing does), 1 somewhat, 3 plainly",
    ),
    "power": (r"\bpower\b", "how likely the plan was to find a difference of that size, if there is one"),
    "truly heard": (r"\btruly heard\b", "in how many trials it was heard, apart from those that were guessed rightly"),
    "boundary": (r"\bboundary\b|\bboundaries\b", "a count fixed beforehand at which the test stops"),
    "real error rate": (r"\breal error rate\b", "how often guessing alone ends as heard, by this plan's rule"),
    "leaning": (r"\bleaning\b", "whether one of the two answers came more easily than the other"),
    "difference grade": (
        r"\b[Dd]ifference grade", "the grade of the other less that of the reference; below 0 the reference was found",
    ),
    "median": (r"\bmedian\b", "the middle value: as many lie above it as below"),
    "hinges": (r"\bhinges\b", "between them lies the middle half of the grades"),
    "permutation": (r"\bpermutation\b|\brandomisation\b", "all ways in which chance could have dealt the same grades"),
    "Holm": (r"\bHolm", "makes p stricter, since several things are looked at at once"),
    "Bradley-Terry share": (r"\bBradley-Terry\b", "each setup's strength, worked out from who won against whom"),
    "ln odds": (r"\bln odds\b", "0 is no advantage of being heard first, above 0 there is one"),
    "circular triad": (r"\bcircular triads\b", "A preferred to B, B to C, and yet C to A: the fewer, the surer"),
    "Kendall's u": (r"\bKendall's u\b", "how far listeners agree"),
    "Durbin, Friedman": (r"\bDurbin|\bFriedman", "two other tests that all are chosen alike, by ranks"),
    "exploratory": (r"\bexploratory\b", "looked at without having been planned: a hint, no proof"),
    "over-dispersion": (r"\bover-dispersion\b", "counts that lie further apart than chance alone makes them"),
    "spread": (r"\bspread\b", "how much listeners differ: 0 not at all, 1 as far as can be"),
    "Bayesian reading": (
        r"\bBayesian\b", "begins with what is held possible beforehand, and says what is likely after the answers",
    ),
    "halves": (
        r"\bin the first half\b",
        "the first and the second half of the session: tired, or practised? Its p is of a trend over all trials",
    ),
    "side bias": (r"\banswers \S+: \d", "how often each answer was given: a habit?"),
    "longest run": (r"\blongest run\b", "the same answer so many times in a row: more than chance makes?"),
    "stretches": (r"\bstretches\b", "how often something was played before the answer"),
    "gamma": (r"\bgamma\b", "from -1 to +1; above 0 the surer answers were right more often"),
    "control": (r"\bcontrols?\b", "a trial in which everything is the same, so that there is nothing to hear"),
    "worth a look": (r"\bworth a look\b", "p is 0.05 or less: a hint where to look, never a test of the verdict"),
}  # fmt: skip
"""Each term: where it stands in a sentence, and what it means."""


def explained(lines: Iterable[str]) -> list[str]:
    """What the terms in some sentences mean, a line each, in the order of `TERMS`."""
    said = "\n".join(lines)
    return [f"{term}: {meaning}" for term, (where, meaning) in TERMS.items() if re.search(where, said)]
