"""Which setups are compared on which passages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..casebook import catalogue, playback_chain
from ..casebook.catalogue import Passage, Setup
from ..casebook.playback_chain import PlaybackChain
from ..casebook.store import Casebook
from ..errors import CatalogueError


@dataclass(frozen=True)
class Selection:
    """The setups compared, and the passages they are compared on."""

    setups: tuple[Setup, ...]
    passages: tuple[Passage, ...]


def select(casebook: Casebook, setups: Sequence[str], passages: Sequence[str]) -> Selection:
    """The named setups and passages; all of them where none is named.

    Raises
    ------
    CatalogueError
        If a name is unknown, or fewer than two setups or no passage remain.
    """
    chosen = [catalogue.find(casebook, Setup, name) for name in setups] or catalogue.everything(casebook, Setup)
    if len(chosen) < 2 or len({setup.id for setup in chosen}) != len(chosen):
        names = ", ".join(setup.name for setup in chosen) or "none"
        raise CatalogueError(f"a comparison needs two different setups; got: {names}")
    if passages:
        stretches = [catalogue.find(casebook, Passage, name) for name in passages]
    else:
        stretches = catalogue.everything(casebook, Passage)
    if not stretches:
        raise CatalogueError(
            "no passage to play; add one: earwitness passage suggest, or passage add TRACK --from S --to S"
        )
    return Selection(tuple(chosen), tuple(stretches))


def check_recordings(selection: Selection, what: str) -> None:
    """Nothing, if all setups are recordings, on which `what` (named in the message) works.

    Raises
    ------
    CatalogueError
        If one is real gear.
    """
    real = [setup.name for setup in selection.setups if setup.is_real]
    if real:
        raise CatalogueError(
            f"{what} works on recordings; {real[0]!r} is real gear: match it where it is heard, with match mic or "
            "match volts"
        )


def check_real(selection: Selection) -> list[PlaybackChain]:
    """The chains of real setups that can be compared.

    Raises
    ------
    CatalogueError
        If some of them are recordings, or they cannot be compared.
    """
    playback_chain.check_comparable(selection.setups)
    found = [setup.chain for setup in selection.setups if setup.chain is not None]
    if len(found) < len(selection.setups):
        raise CatalogueError(
            "microphone and voltmeter match real gear; these setups are recordings: earwitness match files"
        )
    return found
