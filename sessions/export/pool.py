"""The same statistics over many casebooks, or over the judged trials that they exported.

Casebooks are read one after the other into a Parquet file of their own; what the engine then adds up never stands in
memory as a whole.
"""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from stats import counted_methods
from stats.errors import StatsError
from stats.pooled_counts import PooledCounts, pooled_counts

from ..casebook import merging, session_rows
from ..casebook.store import FILE_NAME
from ..errors import CasebookError, ExportError
from ..plans import plan_rows
from ..plans.methods.table import METHODS
from ..results import verification
from . import engine, judged_trials, not_pooled, parquet, pool_expressions, tables
from .not_pooled import Counted

MOST_TOLD = 5  # sessions that stand in several sources, as named in the refusal


@dataclass(frozen=True)
class Group:
    """What the trials of one group come to, and by what they are one."""

    by: dict[str, Any]
    chance: float
    counts: PooledCounts

    def to_document(self) -> dict[str, Any]:
        """As the command line prints it."""
        return {**self.by, "counted_as": self.counted_as, "chance": self.chance, **asdict(self.counts)}

    @property
    def counted_as(self) -> str:
        """What is counted: right answers, or of a preference choices of the first setup, which are not right."""
        if not METHODS[self.by["method"]].asks_preference:
            return "right"
        return f"for {str(self.by['setups']).split('|')[0]}"


@dataclass(frozen=True)
class Pool:
    """What was pooled.

    Attributes
    ----------
    answers, pooled
        Answers that were read, and how many of them are in a group.
    counted_once
        Sources in which the same answers stand, copies and exports of a casebook, and how many answers these are.
    left_out
        Casebooks whose record does not hold, each with the first reason.
    not_pooled
        Why others of the answers that were read are in no group, and how many; they add up to all.
    not_read
        The same of answers in casebooks that were not read, as far as they can be counted there.
    """

    casebooks: int
    answers: int
    pooled: int
    groups: tuple[Group, ...]
    left_out: tuple[tuple[str, str], ...] = ()
    not_pooled: Counted = ()
    not_read: Counted = ()
    counted_once: tuple[tuple[tuple[str, ...], int], ...] = ()


Standing = Mapping[str, Mapping[str, int]]
"""Of sessions, by identifier, the sources in which they stand, each with how many answers."""


def pool(sources: Sequence[Path], further: Sequence[str], connect: Callable[[Path], Any]) -> Pool:
    """The statistics of all that lies in some folders and files.

    Parameters
    ----------
    sources
        Casebooks, folders that hold casebooks or exports, Parquet files.
    further
        By what else than method and setups groups are told apart.
    connect
        Gives the engine; it is handed a folder for what does not fit into memory.

    Raises
    ------
    ExportError
        If there is nothing to pool, a source cannot be read, or two of them tell a session otherwise.
    """
    files, books = _found(sources)
    _check_installed(files, books)
    with tempfile.TemporaryDirectory(prefix="earwitness-pool-") as home:
        left_out, not_read = list[tuple[str, str]](), Unread()
        sources_of = {file: str(file) for file in files}
        for number, book in enumerate(books):  # a file each, so that it is known what stands where
            own = Path(home) / f"{judged_trials.NAME}-{number}.parquet"
            parquet.write_parquet(_of_book(book, left_out, not_read), own)
            files.append(own)
            sources_of[own] = str(book)
        if not files:
            raise ExportError("nothing to pool there: give casebooks, or folders and files of export --as parquet")

        def where(sessions: Sequence[str]) -> Standing:
            found = parquet.where(files, sessions)
            return {
                session: {sources_of[Path(file)]: answers for file, answers in own.items()}
                for session, own in found.items()
            }

        trials = engine.read(connect(Path(home)), files, pool_expressions.COLUMNS)
        found = of_table(trials, further, tuple(left_out), where)
        return replace(found, not_read=not_read.counted())


def of_table(
    trials: Any,
    further: Sequence[str],
    left_out: tuple[tuple[str, str], ...] = (),
    where: Callable[[Sequence[str]], Standing] = lambda sessions: {},
) -> Pool:
    """The statistics of a table of judged trials, by whatever engine holds it; each answer counts once.

    Parameters
    ----------
    where
        Says in which sources sessions stand.

    Raises
    ------
    ExportError
        If two sources tell a session otherwise.
    """
    trials = pool_expressions.of_one_question(trials)
    several = [row["session_id"] for row in engine.rows(pool_expressions.doubled(trials))]
    if several:
        trials = pool_expressions.once(trials)
        unlike = [row["session_id"] for row in engine.rows(pool_expressions.doubled(trials).limit(MOST_TOLD))]
        if unlike:
            raise ExportError(_not_alike(unlike, where(unlike)))
    by = [*pool_expressions.ALWAYS, *further]
    [total] = engine.rows(pool_expressions.totals(trials))
    found = [_group(row, by) for row in engine.rows(pool_expressions.groups(trials, by))]
    others = not_pooled.counted(engine.rows(pool_expressions.by_reason(trials)))
    return Pool(
        total["casebooks"], total["answers"], total["pooled"], tuple(found), left_out, others,
        counted_once=_counted_once(where(several)) if several else (),
    )  # fmt: skip


def _counted_once(where: Standing) -> tuple[tuple[tuple[str, ...], int], ...]:
    found = Counter[tuple[str, ...]]()
    for own in where.values():
        found[tuple(sorted(own))] += max(own.values())
    return tuple(found.most_common())


def _not_alike(sessions: Sequence[str], where: Standing) -> str:
    told = "; ".join(f"{one} in {' and in '.join(sorted(where.get(one, ()))) or 'this table'}" for one in sessions)
    return f"answers that stand there twice are not alike ({told}); give the one source of them that is right"


def _group(row: dict[str, Any], by: Sequence[str]) -> Group:
    try:
        side = counted_methods.counted_method(row["method"]).alternative
    except StatsError as error:
        raise ExportError(f"no method of this version is called {row['method']!r}; install the newest") from error
    counts = pooled_counts(
        int(row["right"]),
        int(row["answers"]),
        int(row["listeners"]),
        float(row["squares"]),
        float(row["chance"]),
        "two-sided" if side == "two-sided" else "greater",
    )
    return Group({name: row[name] for name in by}, float(row["chance"]), counts)


def _found(sources: Sequence[Path]) -> tuple[list[Path], list[Path]]:
    """The Parquet files and the casebooks of some sources."""
    files, books = list[Path](), list[Path]()
    for source in sources:
        if source.is_file():
            files.append(source)
        elif source.is_dir():
            books += [one.parent for one in sorted(source.rglob(FILE_NAME))]
            own = sorted(source.rglob("*.parquet"))
            named = [one for one in own if one.stem == judged_trials.NAME]
            files += named or own
        else:
            raise ExportError(f"{source} is not there; name a casebook, a folder or a Parquet file")
    return list(dict.fromkeys(one.resolve() for one in files)), list(dict.fromkeys(one.resolve() for one in books))


def _check_installed(files: Sequence[Path], books: Sequence[Path]) -> None:
    """Nothing, if the extra is there; a casebook need not be exported first, whatever is lacking.

    Raises
    ------
    ExportError
        If not.
    """
    try:
        parquet.check_installed()
        engine.check_installed()
    except ExportError as error:
        if files or not books:
            raise
        several = f"these are {len(books)} casebooks, which pool reads as they are; what adds them up"
        of_one = f"{books[0]} is a casebook, which pool reads as it is; what adds it up"
        alone = f". The results of this one casebook: earwitness --casebook {books[0]} verdict"
        raise ExportError(
            f"{several if len(books) > 1 else of_one} is an extra that is not installed here: "
            f"install earwitness with it (pipx install '.[pool]'){'' if len(books) > 1 else alone}"
        ) from error


class Unread:
    """How many answers of casebooks were not read, by why: those of a copy once."""

    def __init__(self) -> None:
        self._most: dict[tuple[str, str, str], int] = {}

    def add(self, why: str, progress: Sequence[session_rows.Progress]) -> None:
        """What one casebook has of it."""
        own = Counter[tuple[str, str, str]]()
        for one in progress:
            own[why, one.plan_id, one.listener_id] += one.answered
        for key, answers in own.items():
            self._most[key] = max(answers, self._most.get(key, 0))

    def counted(self) -> Counted:
        """The reasons, that of most answers first."""
        found = Counter[str]()
        for (why, *_), answers in self._most.items():
            found[why] += answers
        return tuple((why, number) for why, number in found.most_common() if number)


def _of_book(book: Path, left_out: list[tuple[str, str]], not_read: Unread) -> tables.Table:
    def rows() -> Iterator[judged_trials.Values]:
        try:
            with merging.read_only(book) as opened:
                broken = verification.verify(opened).broken
                over = frozenset[str]() if broken else plan_rows.openings(opened).keys()
                why = not_pooled.NOT_HOLDING if broken else not_pooled.NOT_OVER
                not_read.add(why, [one for one in session_rows.progress(opened) if one.plan_id not in over])
                if broken:
                    left_out.append((str(book), broken[0]))
                else:
                    yield from judged_trials.values(opened)
        except CasebookError as error:
            left_out.append((str(book), str(error)))

    return tables.Table(judged_trials.NAME, tables.judged_columns(), rows)
