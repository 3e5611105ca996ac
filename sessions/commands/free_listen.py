"""`listen --free`: an evening of sighted listening at this terminal, of passages, whole tracks or stretches of them."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from ..casebook import catalogue
from ..casebook.catalogue import Passage, Setup, Track
from ..casebook.store import Casebook
from ..errors import CatalogueError
from .at_terminal import BUSY_TIMEOUT_MS, check_terminal, wait_out, when_free
from .context import Context, counted, say
from .whose_words import listener_of

if TYPE_CHECKING:
    from ..listening.free_sounds import FreeSounds, Stretch


@dataclass(frozen=True)
class FreeWish:
    """What somebody wants to listen to; empty: all of it. `from_s` and `to_s` are a stretch of the one track."""

    setups: tuple[str, ...] = ()
    passages: tuple[str, ...] = ()
    tracks: tuple[str, ...] = ()
    from_s: float | None = None
    to_s: float | None = None


def listen_freely(
    context: Context, wish: FreeWish, listener: str | None, device: str | None, level_dba: float | None
) -> None:
    """Player, screen and words, until the listener stops. Nothing of it counts."""
    from ..listening import evening, free_listening, free_sounds, players, words_said_here
    from . import asked_device, free_page, free_screen

    with context.open() as casebook:
        setups = evening.setups_of(casebook, wish.setups, " with --setup")
        stretches = _stretches(casebook, setups, wish)
        who = listener_of(casebook, listener)
        check_terminal()
        chains = [setup.chain for setup in setups]
        rates_hz = {stretch: free_sounds.rate_of(casebook, setups, stretch) for stretch in stretches}
        played_hz = asked_device.free_rates(chains, device, set(rates_hz.values()))

        def prepare(stretch: Stretch) -> FreeSounds:
            return free_sounds.ready(casebook, setups, stretch, played_hz[rates_hz[stretch]])

        say(f"One moment: {stretches[0].words} is made ready.")
        sounds = prepare(stretches[0])
        if catalogue.named(casebook, catalogue.Listener, who.id) is None:
            catalogue.keep(casebook, who)
        by_hand = [chain.outside_switch.action[0] for chain in chains if chain is not None and chain.assisted]
        with ExitStack() as open_things:
            session = open_things.enter_context(
                free_listening.begin(casebook, who, setups, device or "the system's default")
            )
            casebook.set_busy_timeout(BUSY_TIMEOUT_MS)
            player = players.player_on(chains, device, wait_out if by_hand else None)
            open_things.push(player.__exit__)
            listening = free_listening.FreeListening(session, player, level_dba=level_dba)
            recall = partial(words_said_here.said_here, casebook, setups)
            page = free_page.FreePage(listening, stretches, prepare, by_hand, recall)
            try:
                listening.load(sounds)
                free_screen.run(page)
            finally:
                when_free(listening.leave)
                when_free(partial(session.mark, "complete"))
        say(f"{counted(len(page.words), 'word')} of {who.name} kept, sighted. Nothing of this evening counts.")
        say("What was said: earwitness word summary")


def _stretches(casebook: Casebook, setups: tuple[Setup, ...], wish: FreeWish) -> list[Stretch]:
    """What is asked for: passages, whole tracks, or a stretch; without a wish all passages, or else all tracks."""
    from ..listening import evening

    tracks = [catalogue.find(casebook, Track, name) for name in wish.tracks]
    typed = wish.from_s is not None or wish.to_s is not None
    if typed and (len(tracks) != 1 or wish.passages):
        raise CatalogueError("--from and --to are of one track; name it with --track")
    passages = [catalogue.find(casebook, Passage, name) for name in wish.passages]
    return evening.music_of(casebook, setups, passages, tracks, wish.from_s, wish.to_s)
