"""A listener sits down: casebook, session and player are opened, and left as they should be however it ends."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, ExitStack, contextmanager, nullcontext
from dataclasses import dataclass, field
from pathlib import Path
from secrets import randbelow
from typing import TYPE_CHECKING

from ..casebook import catalogue
from ..casebook.catalogue import Listener
from ..casebook.group_commit import GroupCommit
from ..casebook.playback_chain import PlaybackChain
from ..casebook.store import Casebook, open_casebook
from ..errors import CasebookBusy, CasebookFull
from ..listening import players, session
from ..listening.assistant_line import Assistants
from ..listening.browser_playback import BrowserPlayback
from ..listening.equal_times import PANEL_S
from ..listening.passage_sounds import PassageSounds
from ..listening.session import Session
from ..listening.trial_runner import TrialRunner
from ..listening.write_queue import RETRY_S
from ..plans import seals
from ..plans.plan import Plan
from ..plans.plan_rows import SealedPlan
from .chair import Chair
from .sitting import Doing

if TYPE_CHECKING:
    from audio.engine.playback import Playback

SYSTEMS = "the system's default"
SEEDS = 2**31  # of a practice's order, drawn anew each time
UNSAID = "that this session was left is not on record; what was acknowledged is, and it goes on from there"
BUSY_TIMEOUT_MS = 250  # on one writer's commit; a longer one is waited for in view

Chains = Sequence[PlaybackChain | None]
OpenPlayer = Callable[[Chains, str | None, players.Ask | None], AbstractContextManager["Playback"]]
"""What plays some setups, on a device if one is named, asking an assistant if there is one."""
Rates = Callable[[Chains, str | None, set[int]], Mapping[int, int]]
"""Gives the rate, in Hz, at which each of some rates is played, where nothing is sealed."""


def device_player(chains: Chains, device: str | None, ask: players.Ask | None) -> AbstractContextManager[Playback]:
    """The devices and switches of the machine it runs on."""
    return players.player_on(chains, device, ask)


def own_rates(chains: Chains, device: str | None, wanted_hz: set[int]) -> Mapping[int, int]:
    """Each rate itself."""
    return {rate_hz: rate_hz for rate_hz in wanted_hz}


def browser_player(chains: Chains, device: str | None, ask: players.Ask | None) -> AbstractContextManager[Playback]:
    """The browser at which the listener sits; the device is what it said of its output, for the record."""
    return BrowserPlayback()


def browser_player_of(folder: Path) -> OpenPlayer:
    """The same, with the files of trials on a casebook's own disk: the system's place for such files may be memory."""
    return lambda chains, device, ask: BrowserPlayback(folder=folder)


@dataclass(frozen=True)
class House:
    """What every chair of a casebook shares.

    Attributes
    ----------
    check
        Nothing, if a plan can be played on a device now; asked before a session is begun.
    ask_second
        Gives the second secret of a plan that has one.
    turned
        Is told of each session as it begins and as it ends, with the casebook open: the end of the record is shown.
    own_sound
        Whether the listener's browser plays (`browser_player`), and not a device of this machine.
    assistants
        Who swaps setups by hand is asked through it.
    offers
        What somebody may sit down for besides a plan that waits.
    rates
        At which rates a device plays what is not sealed.
    seconds
        Second secrets as they were typed, by the plan's identifier; what `ask_second` gives, where it asks nobody.
    tell
        Tells the host what goes wrong, in whole: listeners are told nothing of this machine.
    sounds
        What is played of sealed passages, read once for all chairs.
    group
        All chairs write to the casebook together.
    """

    folder: Path
    open_player: OpenPlayer = device_player
    check: Callable[[Plan, str | None], None] = lambda plan, device: None
    ask_second: Callable[[SealedPlan], str] | None = None
    turned: Callable[[Session], None] = lambda session: None
    level_dba: float | None = None
    own_sound: bool = False
    assistants: Assistants = field(default_factory=Assistants)
    offers: frozenset[Doing] = frozenset()
    rates: Rates = own_rates
    seconds: dict[str, str] = field(default_factory=dict)
    tell: Callable[[str], None] = lambda sentence: None
    sounds: PassageSounds = field(default_factory=PassageSounds)
    group: GroupCommit = field(default_factory=GroupCommit)
    monotonic: Callable[[], float] = time.monotonic
    sleep: Callable[[float], object] = time.sleep


@contextmanager
def seated(house: House, plan: str, listener: str, device: str | None) -> Iterator[Chair]:
    """A listener's chair in a plan. All of it belongs to the thread that opens it.

    Raises
    ------
    SessionsError, AudioError
        If the session cannot be begun here and now.
    """
    with opened(house) as casebook:
        _checked(house, casebook, plan, device)
        running = session.begin(casebook, plan, listener, device or SYSTEMS, house.ask_second)
        with _at_chair(house, running, device) as chair:
            yield chair


@contextmanager
def practising(house: House, plan: str, listener: str, device: str | None) -> Iterator[Chair]:
    """A listener's chair in a practice of a sealed plan, in an order of its own, which never counts.

    Raises
    ------
    SessionsError, AudioError
        If it cannot be begun here and now.
    """
    with opened(house) as casebook:
        sealed = _checked(house, casebook, plan, device)
        person = catalogue.find(casebook, Listener, listener)
        practice = session.Rehearsal(session.PRACTICE, randbelow(SEEDS))
        running = session.begin_rehearsal(casebook, sealed, person, practice, device or SYSTEMS)
        with _at_chair(house, running, device) as chair:
            yield chair


@contextmanager
def opened(house: House) -> Iterator[Casebook]:
    """The casebook for a chair, which writes to it together with all others."""
    with (
        open_casebook(house.folder) as casebook,
        nullcontext() if casebook.is_read_only else casebook.together(house.group),
    ):
        yield casebook


def _checked(house: House, casebook: Casebook, plan: str, device: str | None) -> Plan:
    """The sealed plan, which can be played."""
    sealed = seals.sealed_plan(casebook, plan).plan
    players.check_audio(casebook, sealed)
    house.check(sealed, device)
    return sealed


@contextmanager
def _at_chair(house: House, running: Session, device: str | None) -> Iterator[Chair]:
    with ExitStack() as open_things:
        open_things.enter_context(running)
        running.casebook.set_busy_timeout(BUSY_TIMEOUT_MS)
        chair = None
        try:
            house.turned(running)
            chair = _chair(house, running, device, open_things)
            yield chair
        finally:
            try:
                if chair is None or chair.asking != "end":
                    when_free(house, lambda: _left(running, chair))
            finally:
                when_free(house, lambda: house.turned(running))


def _chair(house: House, running: Session, device: str | None, open_things: ExitStack) -> Chair:
    person = catalogue.find(running.casebook, Listener, running.record.listener_id)
    line = None
    if players.assisted(running.plan):
        line = open_things.enter_context(house.assistants.line(running.plan, person.name))
    chains = [setup.chain for setup in running.plan.setups]
    player = open_things.enter_context(house.open_player(chains, device, line.ask if line else None))
    runner = TrialRunner(
        running,
        player,
        level_dba=house.level_dba,
        announce=line.announce if line else None,
        monotonic=house.monotonic,
        sleep=house.sleep,
        before_s=PANEL_S if house.own_sound else 0.0,
        sounds=house.sounds,
        turn=house.sounds.turn if house.own_sound else None,
    )
    return Chair(runner, person, monotonic=house.monotonic, browser=own_player(house, player))


def own_player(house: House, player: Playback) -> BrowserPlayback | None:
    """The player, where it is the listener's page that plays."""
    return player if house.own_sound and isinstance(player, BrowserPlayback) else None


def _left(running: Session, chair: Chair | None) -> None:
    if chair is not None:
        chair.runner.write_out()
    running.mark("stopped")


def when_free(house: House, action: Callable[[], object]) -> None:
    """Do it as soon as no other program holds the casebook.

    Raises
    ------
    CasebookFull
        If there is no space to keep that the session was left.
    """
    while True:
        try:
            action()
            return
        except CasebookFull as error:  # nobody knows when there is space: the pages could not be closed
            raise CasebookFull(f"{error}; {UNSAID}") from error
        except CasebookBusy:
            house.sleep(RETRY_S)
