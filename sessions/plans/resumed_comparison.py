"""A comparison of two folders that is in the casebook already: where it stands, and what it still lacks of evidence.

`two_folders` makes one; this goes on with it. Nothing that holds is made again.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from shlex import quote

from audio import pairing
from audio.errors import AudioError

from ..casebook import alignments, catalogue, recordings
from ..casebook import left_out as noted
from ..casebook.catalogue import Passage, Setup, Track
from ..casebook.left_out import LeftOut
from ..casebook.store import Casebook
from ..errors import CatalogueError
from ..preparation import giveaway_check, match_files, mends, track_alignment
from ..preparation.passage_audio import Source
from ..preparation.recording_folder import audio_files, track_name
from ..preparation.selection import select
from ..preparation.track_pair import TrackPair
from . import drafting, overview, pair_work, plan_rows, two_folders
from .plan import Plan
from .plan_rows import Draft, SealedPlan, Wish
from .standings import GIVEN_UP, PlanStanding
from .two_folders import Comparison


def made_before(casebook: Casebook, folder_a: Path, folder_b: Path) -> tuple[str, str] | None:
    """The names of the setups that were made of these folders; None where there are none yet.

    Raises
    ------
    CatalogueError
        If there are setups of those names with recordings of other folders.
    """
    named = (two_folders.setup_names(folder_a, folder_b), two_folders.plain_names(folder_a, folder_b))
    tried = {names: [catalogue.named(casebook, Setup, name) for name in names] for names in named}
    if not any(one for found in tried.values() for one in found):
        return _by_recordings(casebook, folder_a, folder_b)
    renamed = _by_recordings(casebook, folder_a, folder_b)
    if renamed is not None:
        return renamed
    names, found = next((both for both in tried.items() if all(both[1])), (named[0], tried[named[0]]))
    for name, setup, folder in zip(names, found, (folder_a, folder_b), strict=True):
        if setup is None or not _is_from(casebook, setup, folder):
            raise CatalogueError(
                f"in the casebook {casebook.folder} the setup {name!r} "
                f"{'is missing' if setup is None else f'has recordings that are not in {folder}'}, so that this is "
                "another comparison; name a new place for it: earwitness --casebook NEW compare …"
            )
    return names


def _by_recordings(casebook: Casebook, *folders: Path) -> tuple[str, str] | None:
    """The setups whose recordings lie in these folders, whatever they are called; None if either has none."""
    setups = [one for one in catalogue.everything(casebook, Setup) if not one.is_real]
    found = [next((one.name for one in setups if _is_from(casebook, one, folder)), None) for folder in folders]
    first, second = found
    return (first, second) if first and second and first != second else None


def _is_from(casebook: Casebook, setup: Setup, folder: Path) -> bool:
    own = [recordings.audio_path(casebook, one).resolve() for one in recordings.of_setup(casebook, setup)]
    return bool(own) and all(path.is_relative_to(folder.resolve()) for path in own)


def not_compared(casebook: Casebook, setups: tuple[str, str], folder_a: Path, folder_b: Path) -> pairing.Pairing:
    """The recordings of both folders that are not in the casebook: left out before, or new; none of a folder gone."""
    found = []
    for name, folder in zip(setups, (folder_a, folder_b), strict=True):
        own = recordings.of_setup(casebook, catalogue.find(casebook, Setup, name))
        known = {recordings.audio_path(casebook, one).resolve() for one in own}
        try:
            found.append([path for path in audio_files(folder) if path.resolve() not in known])
        except CatalogueError:
            found.append([])
    return pairing.pair(*found) if all(found) else pairing.Pairing((), tuple(found[0]), tuple(found[1]))


def why_left_out(
    casebook: Casebook,
    setups: tuple[str, str],
    paired: pairing.Pairing,
    again: str,
    hint: str,
    progress: Callable[[str], None] = lambda _: None,
) -> list[LeftOut]:
    """Why pairs of recordings are not in the comparison, as far as where they lie tells; it is noted for `status`.

    `again` is the command that compares the folders again, `hint` how a command names the casebook.
    """
    found, told = [], given_away(casebook, setups)
    for number, pair in enumerate(paired.pairs, 1):
        name = track_name(pair.a)
        progress(f"track {number} of {len(paired.pairs)}: looking why {name} is left out …")
        try:
            track = catalogue.new_track(casebook, name)
            one, other = (
                Source(setup, recordings.announced(casebook, setup, track, path).inspected(), path)
                for setup, path in zip(_both(casebook, setups), (pair.a, pair.b), strict=True)
            )
            laid = track_alignment.lay((one.recording, one.path), (other.recording, other.path))
            pair_work.settled(TrackPair(track, (one, other), laid), pair, lambda _: None, again)
            files = " ".join(
                f"--file {quote(f'{setup}={path}')}" for setup, path in zip(setups, (pair.a, pair.b), strict=True)
            )
            before = told.get(name)
            why = (
                before.left_out.why.replace(before.again, again)
                if before
                else (
                    "its recordings fit; it came later, or what would be played of it gave a setup away; to add it: "
                    f"{hint} track add {quote(name)} {files}"
                )
            )
        except (AudioError, CatalogueError) as error:
            why = str(error)
        found.append(LeftOut(name, why))
    first, second = _both(casebook, setups)
    noted.keep(casebook, (first.id, second.id), [one.track for one in found], found, again)
    return found


def given_away(casebook: Casebook, setups: tuple[str, str]) -> dict[str, noted.Noted]:
    """What is noted of the tracks that were left out because what would be played of them gives a setup away."""
    ids = tuple(setup.id for setup in _both(casebook, setups))
    return {
        one.left_out.track: one
        for one in noted.everything(casebook)
        if one.setups == ids and one.left_out.why.startswith(two_folders.GIVES_AWAY)
    }


def check_lags(casebook: Casebook, setups: tuple[str, str], lags_s: Mapping[str, float], hint: str) -> None:
    """Nothing, if these tracks of the comparison lie so, in seconds, as somebody says.

    Raises
    ------
    CatalogueError
        If one does not; the message says how to choose another lag.
    """
    for name, lag_s in lags_s.items():
        own = recordings.of(casebook, _both(casebook, setups)[1], catalogue.find(casebook, Track, name).id)
        laid = alignments.in_force(casebook, [own]).get(own.id)
        if laid is None or laid.best is None or abs(laid.best.lag_s - lag_s) > track_alignment.SAME_LAG_S:
            raise CatalogueError(
                f"{name!r} is in this comparison already, at another lag; to choose this one: "
                f"{hint} track align {quote(name)} --lag {quote(f'{setups[1]}={lag_s:.3f}')}"
            )


def is_played(casebook: Casebook, track: str, moment_s: float) -> bool:
    """Whether a passage of a track holds a moment, in seconds, already."""
    music = catalogue.named(casebook, Track, track)
    return music is not None and any(
        one.start_frame <= moment_s * one.rate_hz <= one.start_frame + one.frames
        for one in catalogue.everything(casebook, Passage)
        if one.track_id == music.id
    )


def add(
    casebook: Casebook,
    folders: tuple[Path, Path],
    setups: tuple[str, str],
    wish: Wish,
    pairs: Sequence[pairing.Pair],
    *,
    lags_s: Mapping[str, float],
    around_s: Mapping[str, Sequence[float]],
    progress: Callable[[str], None] = lambda _: None,
    again: str,
    polarity: bool = False,
) -> Comparison:
    """Take further pairs of recordings into a comparison, and into its waiting draft, or into a new one of all it has.

    `polarity`: inverted polarity is turned round as well.

    Raises
    ------
    CatalogueError
        If none of them can be compared.
    """

    def drafted(casebook: Casebook, asked: Wish) -> Plan:
        waiting = _waiting(casebook, setups, wish)
        if waiting is None:
            name = drafting.draft(casebook, replace(asked, passages=())).name
        else:
            before = waiting.wish.passages  # none: all of them
            name = waiting.name
            passages = (*before, *asked.passages) if before else ()
            drafting.redraft(
                casebook, waiting, replace(waiting.wish, passages=passages, accepted=_accepted(waiting, wish))
            )
        draft = plan_rows.draft(casebook, name)
        assert draft is not None
        selection = select(casebook, draft.wish.setups, draft.wish.passages)
        rate_hz = match_files.kept_rate(casebook, selection)
        match_files.make_match_sheet(casebook, selection, rate_hz=rate_hz)  # one sheet and check hold for all of a plan
        giveaway_check.check(casebook, selection)
        return _completed(casebook, name, progress, polarity=polarity)

    return two_folders.prepare(
        casebook,
        *folders,
        wish,
        paired=pairing.Pairing(tuple(pairs), (), ()),
        around_s=around_s,
        lags_s=lags_s,
        progress=progress,
        again=again,
        polarity=polarity,
        into=_both(casebook, setups),
        draft=drafted,
    )


def _both(casebook: Casebook, setups: tuple[str, str]) -> tuple[Setup, Setup]:
    one, other = (catalogue.find(casebook, Setup, name) for name in setups)
    return one, other


def sealed(casebook: Casebook, setups: tuple[str, str], wish: Wish) -> SealedPlan | None:
    """The newest sealed plan of these setups that asks the same of the same listeners.

    None if there is none, or a draft of the same waits: there was something to add to what was sealed.
    """
    if _waiting(casebook, setups, wish) is not None:
        return None
    asked = wish.method, set(wish.listeners), set(setups)
    given_up = plan_rows.given_up(casebook)
    for one in reversed(plan_rows.every_sealed(casebook)):
        plan = one.plan
        if plan.id in given_up:
            continue
        listeners = {listener.name for listener in plan.listeners}
        if (plan.method.name, listeners, {setup.name for setup in plan.setups}) == asked:
            return one
    return None


def others(casebook: Casebook, setups: tuple[str, str], wish: Wish) -> tuple[PlanStanding, ...]:
    """The plans and drafts between these setups, given up ones left out, where none asks the same; else none."""
    if _waiting(casebook, setups, wish) is not None or sealed(casebook, setups, wish) is not None:
        return ()
    return tuple(
        one for one in overview.gather(casebook).plans if set(one.setups) == set(setups) and one.state != GIVEN_UP
    )


def as_it_waits(casebook: Casebook, setups: tuple[str, str], wish: Wish, unsaid: Collection[str]) -> Wish:
    """The wish, with what was not said of it (`unsaid`: listeners, trials) taken from the newest draft that waits.

    The wish as it is where a draft or a sealed plan asks the very same, or no draft agrees with what was said.
    """
    if _waiting(casebook, setups, wish) is not None or sealed(casebook, setups, wish) is not None:
        return wish
    said = [part for part in ("method", "listeners", "trials") if part not in unsaid]
    for one in reversed(_drafts(casebook, setups)):
        if all(getattr(one.wish, part) == getattr(wish, part) for part in said):
            return replace(wish, listeners=one.wish.listeners, trials=one.wish.trials)
    return wish


def plan(
    casebook: Casebook,
    setups: tuple[str, str],
    wish: Wish,
    progress: Callable[[str], None] = lambda _: None,
    *,
    polarity: bool = False,
) -> Plan:
    """The draft that waits, or a new one where there is none that asks the same, with evidence that holds now.

    `polarity`: inverted polarity is turned round as well.
    """
    waiting = _waiting(casebook, setups, wish)
    if waiting is not None:
        if _accepted(waiting, wish) != waiting.wish.accepted:
            drafting.redraft(casebook, waiting, replace(waiting.wish, accepted=_accepted(waiting, wish)))
        return _completed(casebook, waiting.name, progress, polarity=polarity)
    own = _drafts(casebook, setups)
    passages = own[-1].wish.passages if own else ()
    name = drafting.draft(casebook, replace(wish, setups=setups, passages=passages)).name
    return _completed(casebook, name, progress, polarity=polarity)


def _drafts(casebook: Casebook, setups: tuple[str, str]) -> list[Draft]:
    return [one for one in plan_rows.every_draft(casebook) if set(one.wish.setups) == set(setups)]


def _waiting(casebook: Casebook, setups: tuple[str, str], wish: Wish) -> Draft | None:
    """The newest draft of these setups that asks the same; None if there is none."""
    asked = wish.method, wish.listeners, wish.trials
    own = _drafts(casebook, setups)
    return next((one for one in reversed(own) if (one.wish.method, one.wish.listeners, one.wish.trials) == asked), None)


def _accepted(waiting: Draft, wish: Wish) -> tuple[tuple[str, str], ...]:
    """What a draft accepts, with what is accepted now: the reason given last counts."""
    return tuple((dict(waiting.wish.accepted) | dict(wish.accepted)).items())


def _completed(casebook: Casebook, name: str, progress: Callable[[str], None], *, polarity: bool) -> Plan:
    """A draft as it would be sealed once it has what can be had of its evidence."""
    _complete(casebook, name, progress, polarity)
    made = drafting.drafted(casebook, name)
    assert made is not None
    return made


def _complete(casebook: Casebook, name: str, progress: Callable[[str], None], polarity: bool) -> None:
    """Match, check and mend what the draft lacks, as far as that can be done; each at most once."""
    steps = [("match", "matching"), ("check", "checking"), ("mend", "mending")]
    for lacking, said in (*steps, *([("polarity", "turning polarity of")] if polarity else [])):
        stands = next(one for one in overview.gather(casebook).plans if one.name == name)
        if lacking not in stands.lacks:
            continue
        progress(f"{said} what {name} plays …")
        draft = plan_rows.draft(casebook, name)
        assert draft is not None
        selection = select(casebook, draft.wish.setups, draft.wish.passages)
        is_mend = lacking in ("mend", "polarity")
        if is_mend:
            mends.mend(casebook, selection, polarity=polarity)
        if lacking != "check":
            match_files.make_match_sheet(casebook, selection, rate_hz=match_files.kept_rate(casebook, selection))
        if lacking != "match":
            giveaway_check.check(casebook, selection, mended=selection if is_mend else None, polarity=polarity)
