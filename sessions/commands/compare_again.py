"""`compare` of folders that are in the casebook already: it goes on with them from wherever they stand."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from shlex import quote
from typing import Any

from audio import track_time
from audio.pairing import Pair

from ..casebook.store import Casebook
from ..errors import PlanError
from ..plans import check_notes, coin_phrase, next_steps, overview, plan_rows, resumed_comparison, standing_words
from ..plans.plan import Plan
from ..plans.plan_rows import SealedPlan
from ..plans.standings import DRAFT, OVER
from ..preparation.recording_folder import track_name
from . import next_step, plan, strays
from .comparison_chair import Chair, going_on_later, listen, seal_and_listen
from .comparison_summary import document, tell, tell_left_out
from .context import confirmed, give, progress, say


@dataclass(frozen=True)
class Again:
    """What is asked of a comparison that is in the casebook already: its folders and setups, and what is said anew.

    `unsaid` are the parts of the wish that nobody typed.
    """

    folders: tuple[Path, Path]
    setups: tuple[str, str]
    wish: plan_rows.Wish
    lags_s: dict[str, float]
    around_s: dict[str, list[float]]
    polarity: bool = False
    unsaid: frozenset[str] = frozenset()


def go_on(casebook: Casebook, asked: Again, chair: Chair) -> None:
    """Go on with a comparison that is in the casebook already, from wherever it stands."""
    asked, chair = _as_it_waits(casebook, asked, chair)
    with going_on_later(chair, f"the comparison is kept as it was in {chair.folder}"):
        if not _agreed_on_another(casebook, asked, chair):
            return
        paired = resumed_comparison.not_compared(casebook, asked.setups, *asked.folders)
        for folder in asked.folders:
            strays.tell_unread(folder, chair.as_json)
        for line in strays.without_partner((*paired.left_a, *paired.left_b)):
            say(line, chair.as_json)
        wanted = {*asked.lags_s}
        if asked.wish.accepted or asked.polarity:
            wanted |= resumed_comparison.given_away(casebook, asked.setups).keys()
        new = [pair for pair in paired.pairs if track_name(pair.a) in wanted]
        _check_the_rest(casebook, asked, {track_name(pair.a) for pair in new}, chair.hint)
        rest = replace(paired, pairs=tuple(pair for pair in paired.pairs if pair not in new))
        left_out = resumed_comparison.why_left_out(casebook, asked.setups, rest, chair.again, chair.hint, progress)
    if not chair.as_json:
        tell_left_out(left_out)
    sealed = resumed_comparison.sealed(casebook, asked.setups, asked.wish)
    if new:
        _add(casebook, asked, new, sealed, chair)
        return
    if sealed is None:
        with going_on_later(chair, f"the comparison is kept as it was in {chair.folder}"):
            made = resumed_comparison.plan(casebook, asked.setups, asked.wish, progress, polarity=asked.polarity)
        if not chair.as_json:
            plan.show_plan(made)
            for note in check_notes.sentences(casebook, made):
                say(f"  {note}")
        seal_and_listen(casebook, made, chair, lambda seal: _document_of(made, seal, chair.folder))
        return
    name = quote(sealed.plan.name)
    if chair.as_json:
        give(_document_of(sealed.plan, sealed.seal, chair.folder))
    if plan_rows.opening(casebook, sealed.plan.id) is not None:
        say(f"Plan {sealed.plan.name!r} is over. Its result: {chair.hint} verdict {name}", chair.as_json)
        say(f"A further question: {chair.hint} plan --help", chair.as_json)
        return
    if coin_phrase.is_awaited(sealed.plan) and plan_rows.phrase(casebook, sealed.plan.id) is None:
        say(f'Its order awaits words from somebody else: {chair.hint} phrase {name} "WORDS"', chair.as_json)
        return
    listen(casebook, sealed, chair)


def _as_it_waits(casebook: Casebook, asked: Again, chair: Chair) -> tuple[Again, Chair]:
    """What is asked and for whom, with what nobody typed as the draft that waits has it."""
    wish = resumed_comparison.as_it_waits(casebook, asked.setups, asked.wish, asked.unsaid)
    who = chair.who if chair.who in wish.listeners else wish.listeners[0]
    return replace(asked, wish=wish), replace(chair, who=who)


def _agreed_on_another(casebook: Casebook, asked: Again, chair: Chair) -> bool:
    """Whether it goes on: with what asks the same or, where nothing does, with another question that is wished.

    What waits between these setups is named first, with the command that goes on with it.
    """
    kept, wish = f"These folders are compared already in {chair.folder}", asked.wish
    others = resumed_comparison.others(casebook, asked.setups, wish)
    if not others:
        say(f"{kept}; it goes on where it was.", chair.as_json)
        return True
    say(f"{kept}.", chair.as_json)
    stands = overview.gather(casebook)
    for one in others:
        whom = ", ".join(standing_words.progress_words(who) for who in one.listeners)
        steps = () if one.state == OVER else next_steps.of_plan(stands, one)
        result = f"its result: {chair.hint} verdict {quote(one.name)}"
        way = f"to go on with it: {steps[0].command(chair.hint)}" if steps else result
        say(
            f"{'A draft' if one.state == DRAFT else 'A plan'} {one.name!r} ({one.method}; {whom}) "
            f"{'is over' if one.state == OVER else 'waits'}; {way}",
            chair.as_json,
        )
    trials = "" if wish.trials is None else f", {wish.trials} trials"
    say(
        f"What was asked for now ({wish.method}, for {' and '.join(wish.listeners)}{trials}) is none of them, but "
        "another primary question; the more of them, the more each must show.",
        chair.as_json,
    )
    if chair.yes or confirmed("Draft another plan for it?", default=False, as_json=chair.as_json):
        return True
    say("Nothing new is drafted.", chair.as_json)
    return False


def _check_the_rest(casebook: Casebook, asked: Again, new: Collection[str], hint: str) -> None:
    """Nothing, if nothing new is said of tracks that are in the comparison already."""
    known = {name: lag_s for name, lag_s in asked.lags_s.items() if name not in new}
    resumed_comparison.check_lags(casebook, asked.setups, known, hint)
    moments = [(name, at_s) for name, times_s in asked.around_s.items() if name not in new for at_s in times_s]
    # the command that was told, typed again with a lag, names the moments that are played already
    further = [each for each in moments if not (asked.lags_s and resumed_comparison.is_played(casebook, *each))]
    if further:
        around = " ".join(
            f"--around {quote(f'{name}={track_time.told(at_s, 0 if at_s.is_integer() else 3)}')}"
            for name, at_s in further
        )
        raise PlanError(
            "these folders are compared already; for passages around further moments: "
            f"{hint} passage suggest {around} --add"
        )


def _add(casebook: Casebook, asked: Again, pairs: Sequence[Pair], sealed: SealedPlan | None, chair: Chair) -> None:
    """Take in tracks that were left out before, and seal and listen to a plan with them."""
    names = {track_name(pair.a) for pair in pairs}
    with going_on_later(chair, f"the comparison is kept as it was in {chair.folder}"):
        made = resumed_comparison.add(
            casebook,
            asked.folders,
            asked.setups,
            asked.wish,
            pairs,
            lags_s={name: lag_s for name, lag_s in asked.lags_s.items() if name in names},
            around_s={name: times_s for name, times_s in asked.around_s.items() if name in names},
            progress=progress,
            again=chair.again,
            polarity=asked.polarity,
        )
    if not chair.as_json:
        tell(made, chair.hint, next_step.following(casebook))
    if sealed is not None and plan_rows.opening(casebook, sealed.plan.id) is None:
        name = sealed.plan.name
        say(
            f"Plan {name!r} was sealed before, without {' and '.join(sorted(names))}, and stays as it is. To leave it "
            f'for the new one: {chair.hint} plan close {quote(name)} --why "a track was added"',
            chair.as_json,
        )
    seal_and_listen(casebook, made.plan, chair, lambda seal: document(made, seal, chair.folder) | {"resumed": True})


def _document_of(made: Plan, seal: str, folder: Path) -> dict[str, Any]:
    """A comparison that was gone on with, for programs."""
    names = [setup.name for setup in made.setups]
    return {"casebook": str(folder), "setups": names, "plan": made.name, "seal": seal, "resumed": True}
