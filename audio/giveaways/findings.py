"""What a finding is, and the limits beyond which a cue counts as one, each with where it comes from. Data."""

from __future__ import annotations

from dataclasses import dataclass

from ..alignment.coherence import SAME
from ..mend import Mend

KINDS = (
    "performance",
    "level",
    "channel-level",
    "gain",
    "limiter",
    "width",
    "onset",
    "channel-delay",
    "edit",
    "dropout",
    "click",
    "length",
    "clipping",
    "noise-floor",
    "hum",
    "coding",
    "polarity",
    "channels",
    "drift",
    "dc",
    "format",
    "switching",
)


@dataclass(frozen=True)
class Limit:
    """A limit of one kind of cue: a measured value beyond it is a finding."""

    kind: str
    value: float
    unit: str
    source: str


@dataclass(frozen=True)
class Finding:
    """One cue that could give a setup away on one passage.

    `what` is one sentence for people; `mend` is the repair, None where there is none (or only by hand); `against` is
    the setup that it was compared with, empty where it shows by itself.
    """

    kind: str
    setup: str
    passage: str
    measured: float
    limit: float
    unit: str
    source: str
    what: str
    mend: Mend | None = None
    against: str = ""


LIMITS = {
    "performance": Limit(
        "performance",
        SAME,
        "coherence",
        "our choice: rooms of 0.8 s ten decibels louder than the direct sound keep 0.7 and more, other takes at one "
        "tempo stay below 0.5 (tests/benchmarks/alignment.py)",
    ),
    "performance-place": Limit(
        "performance",
        0.05,
        "coherence",
        "our choice: beyond what chance makes of one place (tests/benchmarks/alignment.py)",
    ),
    "performance-track": Limit(
        "performance", 50.0, "ms", "our choice: nearer it is an offset, farther another place in the music"
    ),
    "level": Limit(
        "level",
        0.1,
        "LU",
        "the usual 0.1 dB for electronics (Clark, JAES 30(5) 1982, from memory); a fourth of the 0.4 dB just noticed "
        "in broadband noise (Handbook for Sound Engineers, 3.8.6, after Miller 1947)",
    ),
    "channel-level": Limit(
        "channel-level", 0.5, "dB", "EBU Tech 3343-2023, 8.2: the front pair differs by less than 0.5 dB"
    ),
    "channel-level-moving": Limit(
        "channel-level",
        1.0,
        "dB",
        "our choice: twice the limit of balance, as what a room makes of a stretch is more than of all of it",
    ),
    "gain": Limit("gain", 1.0, "dB", "our choice: ten times the limit of level, since it comes and goes"),
    "width": Limit(
        "width",
        1.5,
        "dB",
        "our choice: side against middle, three times the limit of balance, which is heard more finely",
    ),
    "width-moving": Limit("width", 3.0, "dB", "our choice: twice the limit of width, as that of balance"),
    "onset": Limit(
        "onset",
        1.0,
        "ms",
        "our choice: half the smallest gap heard in noise (2 to 3 ms, Gelfand), and above what the phase of usual "
        "loudspeakers shifts",
    ),
    "channel-delay": Limit(
        "channel-delay",
        0.1,
        "ms",
        "our choice: half of the 0.2 ms between channels that is plainly heard as a shift to one side",
    ),
    "edit": Limit("edit", 1.5, "ms", "our choice: beyond what a clock 1000 ppm off gathers in a second"),
    "edit-small": Limit(
        "edit",
        0.2,
        "ms",
        "our choice: a fifth of the onset limit; it can be read to 0.02 ms, and a clock that is off hides it "
        "(tests/audio/giveaways/test_small_jumps.py)",
    ),
    "dropout": Limit(
        "dropout", 0.36, "share unexplained", "our choice: what a gap 8 dB deep leaves, for 7.5 to 100 ms"
    ),
    "click": Limit(
        "click",
        0.0,
        "dB",
        "our choice: in 1 ms of the treble or 2.5 ms of the whole as loud as the music that both have there; what is "
        "20 dB below the whole music is hidden by it, 32 dB below where it stands 20 dB out of the treble",
    ),
    "length": Limit("length", 50.0, "ms", "our choice: ten times the 5 ms fade at a passage's ends"),
    "clipping": Limit(
        "clipping",
        2.0,
        "runs",
        "our choice: flat tops of four samples and more; one can be the music's own",
    ),
    "clipping-under": Limit(
        "clipping",
        0.5,
        "dB",
        "our choice: what lies between two recordings and stays moves peaks by less than 0.3 dB against the rest",
    ),
    "limiter": Limit("limiter", 0.5, "dB", "our choice: as of peaks cut off"),
    "noise-floor": Limit(
        "noise-floor",
        3.0,
        "dB",
        "level differences near the threshold are noticed from up to 3 dB (Handbook for Sound Engineers, 3.8.6)",
    ),
    "hum": Limit(
        "hum",
        -85.0,
        "dBFS",
        "our choice: A-weighted; with music at usual levels less is below a quiet room's noise",
    ),
    "tone": Limit(
        "hum",
        -80.0,
        "dBFS",
        "our choice: A-weighted; as of hum, and 5 dB more, since one line of a spectrum tells it alone",
    ),
    "coding-holes": Limit(
        "coding",
        0.6,
        "%",
        "our choice: of what is heard from 3.5 to 15.5 kHz; uncoded pairs stay below 0.35 "
        "(tests/benchmarks/clean_pairs.py)",
    ),
    "coding-pre-echo": Limit(
        "coding",
        6.0,
        "dB",
        "our choice: uncoded pairs stay below 3 dB (tests/benchmarks/clean_pairs.py)",
    ),
    "polarity": Limit(
        "polarity",
        -0.3,
        "correlation",
        "our choice; that a negative peak shows turned polarity: common practice, no source",
    ),
    "polarity-turning": Limit(
        "polarity",
        -0.3,
        "correlation",
        "our choice, as of polarity: of a channel before and after the moment at which it turns",
    ),
    "channels-swapped": Limit(
        "channels",
        0.3,
        "correlation",
        "our choice: the share of what the channels as they stand leave unexplained and another order explains; "
        "exchanged channels reach 0.5 to 1",
    ),
    "channels-missing": Limit("channels", 30.0, "dB", "our choice: no loudspeaker pair is this far out of balance"),
    "channels-width": Limit(
        "channels", 15.0, "dB", "our choice: the side signal of a stereo recording against a mono one"
    ),
    "channels-count": Limit("channels", 0.0, "channels", "recordings under comparison have the same channels"),
    "drift": Limit("drift", 0.5, "ms", "our choice: half the onset limit, gathered over the passage"),
    "dc": Limit(
        "dc",
        -60.0,
        "dBFS",
        "our choice: 0.1 % of full scale, a thump at a switch, where the music holds less below 60 Hz in its quieter "
        "moments; common practice, no source",
    ),
    "switching": Limit("switching", 0.0, "clicks", "our choice: a switch sounds the same whatever it changes, or not"),
    "format-rate": Limit("format", 0.0, "Hz", "recordings under comparison have the same sample rate"),
    "format-bandwidth": Limit(
        "format",
        20.0,
        "dB",
        "our choice: a step this steep within a sixth of an octave is a filter of a file, not a loudspeaker",
    ),
    "format-bits": Limit(
        "format", 4.0, "bits", "our choice: 24 against 16 bits is another production, 24 against 20 is noise"
    ),
}


def finding(name: str, setup: str, passage: str, measured: float, what: str, mend: Mend | None = None) -> Finding:
    """A finding under the limit of that name."""
    limit = LIMITS[name]
    return Finding(limit.kind, setup, passage, measured, limit.value, limit.unit, limit.source, what, mend)
