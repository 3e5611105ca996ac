"""What waits in a casebook, and the command that comes next. Pure: where it stands in, steps out."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from dataclasses import dataclass

from . import accepted_kinds
from .standings import AWAITS_PHRASE, DRAFT, GIVEN_UP, OVER, Overview, PassageStanding, PlanStanding, UnplannedStanding

USUAL, OTHERS = "bs1770", ("a", "c", "band")  # measures by which files are matched
LOUDNESS = ("zwicker@", "zwicker-n5@")  # others, with the level of full scale behind them
ALSO = "--add-passage"  # takes one into a draft, and leaves what was left out on purpose


@dataclass(frozen=True)
class Step:
    """What is to be done, and the words of the command that does it (in capitals what is to be filled in)."""

    what: str
    words: tuple[str, ...]

    def command(self, hint: str) -> str:
        """The command as it is typed, safe in a shell; `hint` is how the program and the casebook are called."""
        return f"{hint} {shlex.join(self.words)}"


def waiting(stands: Overview) -> list[Step]:
    """All that waits, what comes first first; the last resort is to tell what was found.

    Files that moved or were changed stop whoever prepares; a sealed plan plays what was prepared before.
    """
    steps, files = _measured(stands) + (_preparing(stands) or _planning(stands)), _files(stands)
    if any(plan.state not in (DRAFT, OVER, GIVEN_UP) for plan in stands.plans):
        return [*steps, *_newcomers(stands), *files]
    if any(plan.state != DRAFT for plan in stands.plans):
        drafts = any(plan.state == DRAFT for plan in stands.plans)
        return [*([*steps, *_newcomers(stands)] if drafts else [*_newcomers(stands), *steps]), *files]
    return [*files, *steps, *(step for step in _placing(stands) if step not in steps)]


def _placing(stands: Overview) -> list[Step]:
    """What must be chosen before a track can be played: where a recording of it lies."""
    what = "a recording of {!r} fits at several places; choose one"
    return [Step(what.format(track), ("track", "align", track)) for track in stands.unplaced]


def _files(stands: Overview) -> list[Step]:
    relink, steps = ("setup", "relink", "DIR"), []
    if stands.moved:
        files = "1 file is" if stands.moved == 1 else f"{stands.moved} files are"
        steps.append(Step(f"{files} not where {'it was' if stands.moved == 1 else 'they were'}", relink))
    if stands.changed:
        files = "1 file is" if stands.changed == 1 else f"{stands.changed} files are"
        what = f"{files} not what was added; put the old one back, or take this one away and point at the old one"
        steps.append(Step(what, relink))
    return steps


def _measured(stands: Overview) -> list[Step]:
    """What there is to see where setups have curves and none has anything to play yet: that comes first."""
    own = [setup for setup in stands.setups if setup.curves]
    if not own or stands.plans or any(setup.tracks for setup in stands.setups):
        return []
    shown = Step("curves are there to be seen", ("curve", "show", own[0].name))
    return [shown, Step("the report shows what was measured", ("report",))]


def _preparing(stands: Overview) -> list[Step]:
    """What is to be done before there is anything to play; a plan that is sealed needs none of it."""
    if any(plan.state != DRAFT for plan in stands.plans):
        return []
    if len(stands.setups) < 2:
        which = "no setup yet" if not stands.setups else "one setup alone compares with nothing"
        return [Step(which, ("setup", "add", "NAME", "--from", "DIR"))]
    real = any(setup.kind != "files" for setup in stands.setups)
    drafted = {name for plan in stands.plans for name in plan.setups}
    for setup in stands.setups:
        if not setup.tracks and (setup.name in drafted or not drafted):  # what came after a draft holds up none
            if setup.kind != "files":
                return [Step(f"{setup.name} has no music to play", ("track", "music", "DIR"))]
            return [Step(f"{setup.name} has no recording", ("track", "add", "TRACK", "--file", f"{setup.name}=FILE"))]
    if not stands.passages and stands.unplaced:
        return _placing(stands)
    if not stands.passages:
        add = ("passage", "add", "TRACK", "--from", "0:30", "--to", "0:45")
        return [Step("no passage yet", add if real else ("passage", "suggest", "--add"))]
    return []


def _planning(stands: Overview) -> list[Step]:
    open_plans = [plan for plan in stands.plans if plan.state not in (OVER, GIVEN_UP)]
    steps = [step for plan in open_plans for step in of_plan(stands, plan)]
    if steps:
        only_drafts = all(plan.state == DRAFT for plan in stands.plans)
        return [*steps, *(_without_files(stands) if only_drafts else [])]
    over = [plan for plan in stands.plans if plan.state == OVER]
    if over:
        asked = {name for plan in stands.plans for name in plan.setups}
        new = [setup.name for setup in stands.setups if setup.tracks and setup.name not in asked]
        about = f", about {' and '.join(new)}" if new else ""
        report = Step("all plans are over; the report tells them", ("report",))
        further_question = Step(f"a further question{about}", ("plan", "--help"))
        if not any(name in passage.matched for passage in stands.passages for name in new):
            return [report, further_question]
        return [*(_checking(stands, new) or [further_question]), report]
    who = _somebody(stands)
    named = "; with a name in place of NAME" if who == "NAME" else ""
    return _evidence(stands) or [Step(f"nothing is planned yet{named}", ("plan", "abx", "--listener", who))]


def _newcomers(stands: Overview) -> list[Step]:
    """What setups and passages lack that came after a plan was sealed: recordings, or a level match."""
    steps = _without_files(stands)
    able = [setup for setup in stands.setups if setup.tracks]
    known = {name for passage in stands.passages for name in passage.matched}
    known |= {name for plan in stands.plans for name in plan.setups}
    setups = [setup for setup in able if setup.name not in known]
    passages = [one for one in stands.passages if one.match == "none"]
    new = [*(setup.name for setup in setups), *(one.name for one in passages)]
    played = [one for one in stands.passages if one in passages or all(one.track in own.tracks for own in setups)]
    playing = [setup for setup in able if all(one.track in setup.tracks for one in played)]
    if not new or not played or len(playing) < 2 or not {one.name for one in setups} <= {one.name for one in playing}:
        return steps
    named = [word for setup in playing for word in ("--setup", setup.name)] if len(playing) < len(able) else []
    if len(played) < len(stands.passages):
        named += [word for one in played for word in ("--passage", one.name)]
    what = f"{', '.join(new)} {'is' if len(new) == 1 else 'are'} not level-matched yet"
    return [*steps, Step(what, (*_match(any(setup.kind != "files" for setup in playing)), *named))]


def _without_files(stands: Overview) -> list[Step]:
    """What gives recordings to the setups that have nothing at all."""
    return [
        Step(f"{setup.name}: no files yet", ("track", "add", "TRACK", "--file", f"{setup.name}=FILE"))
        for setup in stands.setups
        if setup.kind == "files" and not (setup.tracks or setup.curves or setup.facts)
    ]


def of_plan(stands: Overview, plan: PlanStanding) -> list[Step]:
    """What waits of a plan that is not over."""
    if plan.state == DRAFT:
        seal = Step(f"draft {plan.name} is not sealed", ("seal", plan.name))
        first = _lacking(stands, plan) or _more_trials(plan) or seal
        return [first, *_accepting(plan, first), *further(plan)]
    if plan.state == AWAITS_PHRASE:
        return [Step(f"{plan.name} awaits words from somebody else", ("phrase", plan.name, "WORDS"))]
    if plan.missing_audio:
        what = f"{plan.name}: {plan.missing_audio} of {plan.audio} prepared files are missing; prepare them again"
        return [Step(what, _again(plan))]
    return [
        Step(
            f"{plan.name}: {one.name} {'has begun' if one.begun else 'has not begun'}",
            ("listen", plan.name, "--listener", one.name),
        )
        for one in sorted(plan.listeners, key=lambda one: one.name != stands.last_active)
        if not one.complete
    ]


def further(plan: PlanStanding) -> list[Step]:
    """What takes passages into a draft that were added after it was written."""
    if not plan.further:
        return []
    what = f"{', '.join(plan.further)} {'is' if len(plan.further) == 1 else 'are'} not in draft {plan.name}"
    return [Step(what, ("edit", "draft", plan.name, *(word for one in plan.further for word in (ALSO, one))))]


def is_of_files(by: str) -> bool:
    """Whether files were matched by this measure."""
    return by in (USUAL, *OTHERS) or by.startswith(LOUDNESS)


def _again(plan: PlanStanding) -> tuple[str, ...]:
    """What prepares a sealed plan's files again, the same to the bit; of real gear what says which are gone."""
    if not is_of_files(plan.matched_by):
        return ("plan", "show", plan.name)
    by = ("--by", plan.matched_by) if plan.matched_by != USUAL else ()
    return ("match", "files", *by, *(("--rate", str(plan.rate_hz)) if plan.rate_hz else ()))


def _lacking(stands: Overview, plan: PlanStanding) -> Step | None:
    """What a draft lacks first, before it can be sealed and count."""
    if not plan.lacks:
        return None
    named = tuple(word for name in plan.setups for word in ("--setup", name))
    if plan.lacks[0] == "setups":
        what = f"draft {plan.name} named no setups, and there are more by now than it takes"
        return Step(what, ("edit", "draft", plan.name, *named))
    if plan.lacks[0] == "match":
        real = any(setup.kind != "files" for setup in stands.setups if setup.name in plan.setups)
        return Step(f"draft {plan.name} is not level-matched", (*_match(real), *named))
    if plan.lacks[0] == "acceptance":
        if not plan.sound:
            return _accept(plan)
        kinds, poor = " and ".join(plan.unaccepted), " and ".join(plan.poor)
        what = f"draft {plan.name} would be void by what cannot be mended ({kinds}); to leave {poor} out"
        return Step(what, ("edit", "draft", plan.name, *(word for one in plan.sound for word in ("--passage", one))))
    if plan.lacks[0] == "mend":
        return Step(f"draft {plan.name} has giveaways that can be mended", ("giveaways", "--mend", *named))
    if plan.lacks[0] == "polarity":
        what = f"draft {plan.name} has a setup with polarity turned, which can be turned back"
        return Step(what, ("giveaways", "--mend", "--polarity", *named))
    return Step(f"draft {plan.name} is not checked for giveaways", ("giveaways", *named))


def _accept(plan: PlanStanding) -> Step:
    """What accepts all that a draft has of what nothing mends; what is given up with that is said."""
    kinds, given_up = " and ".join(plan.unaccepted), accepted_kinds.by_itself(plan.unaccepted)
    others = "or have it play other passages (--passage NAME); else it would be void"
    what = (
        f"draft {plan.name} has what cannot be mended ({kinds}); accept it with your reason in place of WHY{given_up}, "
        f"{'or leave passages out' if plan.sound else others}"
    )
    accept = tuple(word for kind in plan.unaccepted for word in ("--accept", f"{kind}=WHY"))
    return Step(what, ("edit", "draft", plan.name, *accept))


def _accepting(plan: PlanStanding, first: Step) -> list[Step]:
    """The second way beside leaving passages out, where that comes first."""
    return [_accept(plan)] if plan.lacks[:1] == ("acceptance",) and first != _accept(plan) else []


def _more_trials(plan: PlanStanding) -> Step | None:
    """What helps a draft that can show nothing, which `seal` refuses."""
    if not plan.vain:
        return None
    what = f"draft {plan.name} can show nothing with so few trials; with as many as that takes (N)"
    return Step(what, ("edit", "draft", plan.name, "--trials", "N"))


def _evidence(stands: Overview) -> list[Step]:
    """What the passages lack, where no plan says which of them it needs."""
    real = any(setup.kind != "files" for setup in stands.setups)
    unmatched = [one for one in stands.passages if one.match in ("none", "outdated", "off")]
    if len(unmatched) == len(stands.passages):
        return [Step("the setups are not level-matched", _match(real))]
    if all(one.check == "none" for one in stands.passages):
        return [Step("nothing is checked for giveaways", ("giveaways",))]
    repairs = {repair for one in stands.passages for repair in one.repairs}
    return [to_mend(_named(stands, stands.passages), turned="polarity" in repairs)] if repairs else []


def _checking(stands: Overview, new: Sequence[str]) -> list[Step]:
    """What the passages lack on which a setup is matched that no plan has asked about yet."""
    own = [one for one in stands.passages if set(new) & set(one.matched)]
    named = _named(stands, own)
    if any(one.check == "none" for one in own):
        return [Step(f"{' and '.join(new)} not checked for giveaways yet", ("giveaways", *named))]
    repairs = {repair for one in own for repair in one.repairs}
    return [to_mend(named, turned="polarity" in repairs)] if repairs else []


def _named(stands: Overview, passages: Sequence[PassageStanding]) -> tuple[str, ...]:
    """The options that name what is matched on these passages; none where that is all there is."""
    matched = {name for one in passages for name in one.matched}
    setups = [one.name for one in stands.setups if one.name in matched]
    named = [word for name in setups for word in ("--setup", name)] if len(setups) < len(stands.setups) else []
    if len(passages) < len(stands.passages):
        named += [word for one in passages for word in ("--passage", one.name)]
    return tuple(named)


def to_mend(named: tuple[str, ...] = (), *, turned: bool) -> Step:
    """The mend of giveaways; `turned`: of polarity too."""
    return Step("giveaways can be mended", ("giveaways", "--mend", *(("--polarity",) if turned else ()), *named))


def of_its_own(stands: Overview, one: UnplannedStanding) -> Step:
    """What plays a passage that a sealed plan does not: a plan of its own, or where that would be void what helps."""
    passage = next(each for each in stands.passages if each.name == one.passage)
    opened = [kind for kind in passage.found if kind not in passage.accepted]
    without = f"plan {one.plan} is sealed without {one.passage}"
    if passage.repairs:
        mend = to_mend(("--passage", one.passage), turned="polarity" in passage.repairs)
        return Step(f"{without}, which has giveaways that can be mended ({', '.join(opened)}); first", mend.words)
    method = one.method if one.method == "preference" else "abx"
    who = tuple(word for name in one.listeners for word in ("--listener", name))
    words = ("plan", method, "--passage", one.passage, *who)
    if opened:
        accept = tuple(word for kind in opened for word in ("--accept", f"{kind}=WHY"))
        what = (
            f"{without}, since a plan of it would be void ({' and '.join(opened)}); bring other recordings of "
            f"{one.track}, or accept that with your reason in place of WHY{accepted_kinds.by_itself(opened)}"
        )
        return Step(what, (*words, *accept))
    return Step(f"{without}; to have it played, a plan of its own", words)


def is_open(stands: Overview) -> bool:
    """Whether a draft waits, or a plan runs."""
    return any(plan.state not in (OVER, GIVEN_UP) for plan in stands.plans)


def _somebody(stands: Overview) -> str:
    """Who was there last, or else the first listener there is."""
    return stands.last_active or next(iter(stands.listeners), "NAME")


def _match(real: bool) -> tuple[str, ...]:
    return ("match", "mic", "--mic", "DEVICE:1") if real else ("match", "files")
