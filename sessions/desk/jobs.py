"""The long work that the desk can start: two folders to a draft, passages, match files, giveaways, mends, the report.

Each is plain data that another process is given; what it does is done by the rooms below, as the command line does it.
"""

from __future__ import annotations

import shlex
from dataclasses import dataclass
from pathlib import Path

from ..casebook import catalogue
from ..casebook.catalogue import Listener, Setup, Track
from ..casebook.store import open_casebook
from ..errors import CatalogueError
from ..plans.standing_words import counted
from .deeds import plan_page
from .works import Outcome, Tell

PASSAGES, REPORT, EVIDENCE = "/desk/passages", "/desk/results", "/desk/evidence"


@dataclass(frozen=True)
class Compare:
    """Two folders of recordings to a draft plan, or on with them from wherever they stand.

    Attributes
    ----------
    listener
        Who listens, with a comma between several, as in the form of a plan.
    """

    folder_a: str
    folder_b: str
    method: str
    listener: str
    trials: int | None

    title, place = "Comparing two folders", "/desk/compare"

    def run(self, folder: Path, tell: Tell) -> Outcome:
        """Pair, lay, cut, mend, match, check and draft."""
        from ..plans import drafting, plan_rows, resumed_comparison, two_folders
        from ..preparation import recording_folder, unread_files
        from .builder import method_named

        method_named(self.method)
        dirs = _folder(self.folder_a), _folder(self.folder_b)
        again = f"earwitness --casebook {shlex.quote(str(folder))} compare {shlex.join(map(str, dirs))}"
        wish = plan_rows.Wish(method=self.method, listeners=_names(self.listener), trials=self.trials)
        with open_casebook(folder) as casebook:
            drafting.check_wish(wish, list(catalogue.names(casebook, Listener).values()))
            for one in dirs:
                recording_folder.check_folder(one)
            lines = [unread_files.sentence(unread) for one in dirs if (unread := recording_folder.unread_in(one))]
            setups = resumed_comparison.made_before(casebook, *dirs)
            if setups is not None:
                made = resumed_comparison.plan(casebook, setups, wish, tell)
                return Outcome(
                    (*lines, "These folders were compared before; it went on from there."), plan_page(made.name)
                )
            tell("pairing the recordings …")
            paired = two_folders.pair_folders(*dirs)
            found = two_folders.prepare(casebook, *dirs, wish, paired=paired, progress=tell, again=again)
        lines += [f"without a partner, so not compared: {path}" for path in found.left_over]
        lines += [f"left out: {one.track}: {one.why}" for one in found.left_out]
        lines += [f"mended: {one.setup} in {one.passage}: {one.done}" for one in found.mended]
        lines += [counted(len(found.passages), "passage") + " to be heard."]
        return Outcome(tuple(lines), plan_page(found.plan.name))


@dataclass(frozen=True)
class Suggest:
    """A passage of each track in which the setups differ most."""

    title, place = "Looking for passages", PASSAGES

    def run(self, folder: Path, tell: Tell) -> Outcome:
        """Look through every track that all recordings have, and add what is found."""
        from ..casebook import recordings
        from ..preparation import passage_proposals

        with open_casebook(folder) as casebook:
            setups = [one for one in catalogue.everything(casebook, Setup) if not one.is_real]
            tracks, found, lines = catalogue.everything(casebook, Track), [], []
            for number, track in enumerate(tracks, 1):
                tell(f"track {number} of {len(tracks)}: where the setups differ in {track.name} …")
                having = {one.setup_id for one in recordings.of_track(casebook, track)}
                try:
                    own = [one for one in setups if one.id in having]
                    found += passage_proposals.suggest(casebook, track, own).passages
                except CatalogueError as error:
                    lines.append(f"{track.name}: {error}")
            added = passage_proposals.add(casebook, found)
        return Outcome((*lines, f"{counted(len(added.made), 'passage')} added."), PASSAGES)


@dataclass(frozen=True)
class MatchFiles:
    """Equal loudness of recordings; of a draft's setups and passages, or of all."""

    setups: tuple[str, ...] = ()
    passages: tuple[str, ...] = ()

    title, place = "Matching levels", PASSAGES

    def run(self, folder: Path, tell: Tell) -> Outcome:
        """Match, prepare, measure again."""
        from ..preparation import match_files
        from ..preparation.measures_in_words import within
        from ..preparation.selection import select

        with open_casebook(folder) as casebook:
            selection = select(casebook, self.setups, self.passages)
            rate_hz = match_files.kept_rate(casebook, selection)
            sheet = match_files.make_match_sheet(casebook, selection, rate_hz=rate_hz, progress=tell)
        return Outcome(
            (f"{sheet.residual_lu:.3f} LU left, {within(sheet)} the tolerance of {sheet.tolerance_lu:g} LU.",),
            EVIDENCE,
        )


@dataclass(frozen=True)
class MatchVolts:
    """Gear in the room matched by voltmeter: readings as ``SETUP@HZ=VOLTS``, and with the trims as ``SETUP=VOLTS``."""

    readings: tuple[str, ...] = ()
    afters: tuple[str, ...] = ()

    title, place = "Matching by voltmeter", "/desk/match"

    def run(self, folder: Path, tell: Tell) -> Outcome:
        """Prepare every passage with the trims that the readings ask for."""
        from ..preparation import match_real_gear, volt_readings
        from ..preparation.measures_in_words import within
        from .real_gear_match import gear

        with open_casebook(folder) as casebook:
            selection = gear(casebook)
            given = volt_readings.given(selection, self.readings, self.afters)
            if given is None:
                raise CatalogueError(
                    "no reading is typed; read each setup at its terminals, and type what the meter shows"
                )
            tell("preparing all passages with the trims …")
            sheet = match_real_gear.by_voltmeter(casebook, selection, *given)
        return Outcome(
            (f"{sheet.residual_lu:.3f} dB left, {within(sheet)} the tolerance of {sheet.tolerance_lu:g} dB.",), EVIDENCE
        )


@dataclass(frozen=True)
class Check:
    """Giveaways looked for; `mend`: what can be mended is mended before, and all is matched and checked again."""

    setups: tuple[str, ...] = ()
    passages: tuple[str, ...] = ()
    mend: bool = False
    polarity: bool = False

    place = PASSAGES

    @property
    def title(self) -> str:
        """What it does."""
        return "Mending giveaways" if self.mend else "Looking for giveaways"

    def run(self, folder: Path, tell: Tell) -> Outcome:
        """Check, or mend, match again and check."""
        from ..preparation import giveaway_check, match_files, mends
        from ..preparation.selection import select

        with open_casebook(folder) as casebook:
            selection = select(casebook, self.setups, self.passages)
            tell(f"checking {counted(len(selection.passages), 'passage')} …")
            lines: list[str] = []
            if self.mend:
                mended = mends.mend(casebook, selection, polarity=self.polarity)
                lines = [f"mended: {one.setup} in {one.passage}: {one.done}" for one in mended]
                tell("matching what was mended, and checking it again …")
                now = {(one.setup_id, one.passage_id) for one in mended}
                sheets = match_files.match_mended(casebook, selection, now, lines.append)
                check = giveaway_check.check_mended(casebook, selection, sheets, self.polarity, tell)
            else:
                check = giveaway_check.check(casebook, selection, progress=tell)
        found = f"{counted(len(check.findings), 'giveaway')} found." if check.findings else "No giveaway found."
        return Outcome((*lines, found), EVIDENCE)


@dataclass(frozen=True)
class PrepareAt:
    """A draft's files prepared again at a rate that the device takes."""

    plan: str
    rate_hz: int

    title, place = "Preparing all again for the device", "/desk/plan"

    def run(self, folder: Path, tell: Tell) -> Outcome:
        """Prepare, match and check."""
        from ..plans import playable

        with open_casebook(folder) as casebook:
            tell(f"preparing all again at {self.rate_hz} Hz …")
            playable.prepared_at(casebook, self.plan, self.rate_hz)
        return Outcome(
            (f"All setups were prepared again at {self.rate_hz} Hz, in the same way.",), plan_page(self.plan)
        )


@dataclass(frozen=True)
class WriteReport:
    """The report of a casebook in which no plan is open."""

    title, place = "Writing the report", REPORT

    def run(self, folder: Path, tell: Tell) -> Outcome:
        """Gather, draw, write."""
        from . import ended

        with open_casebook(folder) as casebook:
            tell("gathering and drawing …")
            path = ended.write_report(casebook)
        return Outcome((f"The report: {path}",), REPORT)


def _names(typed: str) -> tuple[str, ...]:
    """Who listens, each once; what is empty is left for the plan to refuse."""
    names = filter(None, (name.strip() for name in typed.split(",")))
    return tuple(dict.fromkeys(names))


def _folder(typed: str) -> Path:
    """A folder as it was typed, or copied with the quotation marks that file browsers put around a path."""
    text = typed.strip().strip("\"'").strip()
    if not text:
        raise CatalogueError("no folder is named; type the path of the folder that holds the recordings")
    return Path(text).expanduser()
