"""A listener sits down to listen freely: setups by name, sighted; casebook, session and player are opened and left."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from functools import partial

from ..casebook import catalogue
from ..casebook.catalogue import Listener, Setup
from ..casebook.store import Casebook
from ..errors import ListenError
from ..listening import evening, free_listening, free_session, free_sounds, players, words_said_here
from ..listening.free_sounds import FreeSounds, Stretch
from .free_chair import FreeChair
from .sitting_down import BUSY_TIMEOUT_MS, SYSTEMS, House, opened, own_player, when_free

SPARE_S = 0.2  # of the pause, so that it ends before the switch gives up waiting


@dataclass(frozen=True)
class Evening:
    """What can be listened to freely: the setups by name, and who is known here."""

    setups: tuple[str, ...]
    listeners: tuple[str, ...]
    most: int = evening.MOST_SETUPS


def offered(casebook: Casebook, *, own_sound: bool) -> Evening:
    """What an evening may be of; a browser plays no gear."""
    setups = [one.name for one in catalogue.everything(casebook, Setup) if not (own_sound and one.is_real)]
    return Evening(tuple(setups), tuple(one.name for one in catalogue.everything(casebook, Listener)))


def check(house: House, casebook: Casebook, listener: str, setups: Sequence[str]) -> tuple[Setup, ...]:
    """The setups, if somebody of this name can listen to them freely here.

    Raises
    ------
    CatalogueError, ListenError
        If they cannot; the message says why.
    """
    if catalogue.named(casebook, Listener, listener) is None:
        catalogue.check_name(Listener, listener)
    chosen = evening.setups_of(casebook, setups)
    if house.own_sound and any(one.is_real for one in chosen):
        raise ListenError("real gear plays where it stands; a browser cannot play it: choose setups of recordings")
    return chosen


@contextmanager
def seated_freely(house: House, listener: str, setups: Sequence[str], device: str | None) -> Iterator[FreeChair]:
    """A listener's evening with some setups, by their names. All of it belongs to the thread that opens it.

    Raises
    ------
    SessionsError, AudioError
        If it cannot be begun here and now.
    """
    with opened(house) as casebook, ExitStack() as open_things:
        chosen = check(house, casebook, listener, setups)
        chains = [one.chain for one in chosen]
        stretches = evening.music_of(casebook, chosen)
        rates_hz = {one: free_sounds.rate_of(casebook, chosen, one) for one in stretches}
        played_hz = house.rates(chains, device, set(rates_hz.values()))

        def prepare(stretch: Stretch) -> FreeSounds:
            if house.own_sound and stretch.length_s > evening.LONGEST_SENT_S:
                raise ListenError(
                    f"{stretch.words} is {stretch.length_s:.0f} s long, and a browser is sent up to "
                    f"{evening.LONGEST_SENT_S:g} s at once; cut passages first: earwitness passage suggest --add"
                )
            return free_sounds.ready(casebook, chosen, stretch, played_hz[rates_hz[stretch]])

        person = catalogue.listener_named(casebook, listener)
        told = device or SYSTEMS
        begun = open_things.enter_context(free_session.begin(casebook, person, chosen, told))
        casebook.set_busy_timeout(BUSY_TIMEOUT_MS)
        open_things.callback(lambda: when_free(house, partial(begun.mark, "complete")))
        by_hand = [one.outside_switch.action[0] for one in chains if one is not None and one.assisted]
        player = open_things.enter_context(house.open_player(chains, device, _waited_out(house) if by_hand else None))
        listening = free_listening.FreeListening(begun, player, level_dba=house.level_dba, monotonic=house.monotonic)
        open_things.callback(lambda: when_free(house, listening.leave))
        yield FreeChair(
            listening,
            stretches,
            prepare,
            partial(words_said_here.said_here, casebook, chosen),
            instructions=by_hand,
            device=told,
            monotonic=house.monotonic,
            browser=own_player(house, player),
        )


def _waited_out(house: House) -> players.Ask:
    """Whoever listens swaps by hand, and sees what: the whole pause is theirs."""

    def wait(place: int, seconds: float) -> bool:
        house.sleep(max(0.0, seconds - SPARE_S))
        return True

    return wait
