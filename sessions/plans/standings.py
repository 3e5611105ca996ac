"""Where setups, passages and plans stand: the records that `overview` gathers, and commands print. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..words.corrections import CorrectedWords

DRAFT, AWAITS_PHRASE, SEALED, UNDER_WAY, OVER, GIVEN_UP = (
    "draft",
    "awaits its phrase",
    "sealed",
    "under way",
    "over",
    "given up",
)


@dataclass(frozen=True)
class SetupStanding:
    """A setup: what it plays, the tracks it has, those it lacks, and the files that are not what or where they were.

    Attributes
    ----------
    changed_files
        Those that are not what was added any more.
    unread_files
        Those written since they were added that are too large to be looked at in passing.
    curves, facts
        How many curves count (harmonics not), and how many things its maker states.
    """

    name: str
    kind: str
    plays: str
    note: str
    tracks: tuple[str, ...]
    lacks: tuple[str, ...]
    missing_files: tuple[str, ...]
    changed_files: tuple[str, ...] = ()
    unread_files: tuple[str, ...] = ()
    curves: int = 0
    facts: int = 0


@dataclass(frozen=True)
class PassageStanding:
    """A passage: where it lies, and the evidence that holds for it.

    Attributes
    ----------
    start_s, length_s
        In its track.
    match
        ``none``, ``ok``, ``off`` (more is left than the sheet allows) or ``outdated``.
    matched
        The setups that the newest match sheet holds for.
    residual_lu, tolerance_lu
        What that match left, and what it allows; None without one.
    check
        ``none``, ``clean`` or ``found``, after that match.
    giveaways
        How many were found. Of a passage that is not matched: those that no match mends, in what was checked of it.
    found, accepted
        Of which kinds they are, and which of these some plan that plays it accepts.
    repairs
        What mends some of them: ``mend``, ``polarity``; empty where nothing does.
    notes
        What that check could not judge, or found that is no giveaway.
    balance_hides_db
        Below which no difference of the channels' balance could be told; None where the balance was judged.
    """

    name: str
    track: str
    start_s: float
    length_s: float
    note: str
    match: str
    matched: tuple[str, ...]
    residual_lu: float | None
    tolerance_lu: float | None
    check: str
    giveaways: int
    notes: tuple[str, ...] = ()
    balance_hides_db: float | None = None
    repairs: tuple[str, ...] = ()
    found: tuple[str, ...] = ()
    accepted: tuple[str, ...] = ()


@dataclass(frozen=True)
class ListenerProgress:
    """How far a listener of a plan has come; `answered` of at most `trials`, in a session that was `begun`."""

    name: str
    answered: int
    trials: int
    complete: bool
    begun: bool = False


@dataclass(frozen=True)
class PlanStanding:
    """A draft or a sealed plan.

    Attributes
    ----------
    state
        ``draft``, ``awaits its phrase``, ``sealed``, ``under way``, ``over`` or ``given up``.
    at
        When it was made or sealed.
    why
        Why it was given up; empty otherwise.
    published
        Where its seal is said to be published.
    lacks
        Of a draft: what is to be done before it can be sealed and count.
    audio, missing_audio
        Of a plan whose trials are not over: how many prepared files it is sealed with, and how many of them are gone.
    matched_by
        What a sealed plan's setups were matched by.
    rate_hz
        At which all of a sealed plan was prepared; 0 where its passages have rates of their own.
    vain
        Whether a draft that lacks nothing has too few trials to show anything.
    further
        Passages that were added after a draft was written, and are not in it.
    unaccepted
        The kinds of giveaways of a draft that nothing mends and nobody accepted.
    poor, sound
        The passages that a draft is best without for these, and its others; empty where none would be left.
    """

    name: str
    method: str
    state: str
    at: str
    seal: str
    why: str
    setups: tuple[str, ...]
    listeners: tuple[ListenerProgress, ...]
    published: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()
    audio: int = 0
    missing_audio: int = 0
    matched_by: str = ""
    rate_hz: int = 0
    vain: bool = False
    further: tuple[str, ...] = ()
    unaccepted: tuple[str, ...] = ()
    poor: tuple[str, ...] = ()
    sound: tuple[str, ...] = ()


@dataclass(frozen=True)
class UnplannedStanding:
    """A passage that no draft and no plan plays: its track, the plan sealed last without it, its method and listeners.

    `track_played`: whether a plan plays another passage of its track.
    """

    passage: str
    track: str
    plan: str
    method: str
    listeners: tuple[str, ...]
    track_played: bool


@dataclass(frozen=True)
class LeftOutStanding:
    """A track (or, not `whole`, a moment of it) that a comparison left out, and why; `again`: what compares again."""

    track: str
    setups: tuple[str, ...]
    why: str
    whole: bool
    again: str


@dataclass(frozen=True)
class UnlikeStanding:
    """A track of which a recording cannot be compared with its first one, and why."""

    track: str
    why: str


@dataclass(frozen=True)
class FreeStanding:
    """For how long a listener heard a setup freely and sighted."""

    listener: str
    setup: str
    heard_s: float


@dataclass(frozen=True)
class ViewersStanding:
    """A test for viewers: its identifier and form, its plan's name, when it was sealed, and whether it is over.

    `published` is where its seal was said to be published.
    """

    test: str
    form: str
    plan: str
    sealed: str
    seal: str
    over: bool
    published: tuple[str, ...] = ()


@dataclass(frozen=True)
class Overview:
    """Where a casebook stands."""

    folder: str
    setups: tuple[SetupStanding, ...]
    tracks: tuple[str, ...]
    passages: tuple[PassageStanding, ...]
    listeners: tuple[str, ...]
    plans: tuple[PlanStanding, ...]
    left_out: tuple[LeftOutStanding, ...] = ()
    unplaced: tuple[str, ...] = ()
    """Tracks of which a recording fits at several places, and nobody has chosen yet."""
    without_passage: tuple[str, ...] = ()
    """Tracks that two setups or more hold and of which nothing is played, where something of others is."""
    unlike: tuple[UnlikeStanding, ...] = ()
    """Recordings that cannot be compared with the first of their track: another performance, or silence."""
    words: Mapping[str, int] = field(default_factory=dict)
    """How many words are in force, by how they were said; empty where there is none."""
    words_apart: int = 0
    """How many of them were said in a control or of a known difference, so of no setup, as far as that may be told."""
    corrected: CorrectedWords = field(default_factory=CorrectedWords)
    heard_freely: tuple[FreeStanding, ...] = ()
    viewers: tuple[ViewersStanding, ...] = ()
    unplanned: tuple[UnplannedStanding, ...] = ()
    """Passages that no draft and no plan plays, where a plan is sealed."""
    last_active: str | None = None
    """Who logged a word or took part in a session last; None where nobody did."""

    @property
    def moved(self) -> int:
        """How many files are not where they were."""
        return len({path for setup in self.setups for path in setup.missing_files})

    @property
    def changed(self) -> int:
        """How many files are not what was added any more."""
        return len({path for setup in self.setups for path in setup.changed_files})
