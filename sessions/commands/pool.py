"""`pool`: the same statistics over many casebooks, or over what they exported."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from .context import counted, give, json_option, progress, say, table

FURTHER = {"question": "question", "passage": "passage_id", "listener": "listener_id", "casebook": "casebook"}
CAUTION = (
    "The p-values are of all these answers together, as if somebody had planned to look at them so; which question was "
    "planned stands in each casebook. A dispersion well above 1 says that listeners are not alike."
)


@click.command()
@click.argument("sources", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="SOURCE...")
@click.option("--by", multiple=True, type=click.Choice(list(FURTHER)), help="Tell groups apart by this too (repeat).")
@click.option(
    "--engine", type=click.Choice(["duckdb", "spark"]), default="duckdb", show_default=True, help="What adds it up."
)
@json_option
def pool(sources: tuple[Path, ...], by: tuple[str, ...], engine: str, as_json: bool) -> None:
    """Answers of many casebooks together: how many were right (of a preference: for the first setup), whether that is
    more than guessing, how unlike listeners are. SOURCE is a casebook, a folder with casebooks or exports in it, or a
    file of export --as parquet.

    Pooled is what counts in plans that ended as planned, by method and setups (their names); how many answers are not,
    and why, is told below. A casebook whose record does not hold is left out and named; Parquet files cannot be
    checked. What stands in several sources (copies, exports, merged casebooks) counts once, for the casebook whose
    identifier is first, and is told; a session that two of them tell otherwise is refused.
    Needs the extra `pool`; --engine spark computes the same on the Spark session that the environment names.
    """
    from ..export import engine as engines
    from ..export import pool as pools

    def connect(folder: Path) -> Any:
        return engines.spark() if engine == "spark" else engines.duckdb(folder)

    progress("Reading …")
    found = pools.pool(sources, [FURTHER[one] for one in by], connect)
    if as_json:
        stated = {name: value for name, value in asdict(found).items() if name != "groups"}
        give({**stated, "groups": [one.to_document() for one in found.groups]})
        return
    headings = ["method", "setups", *by, "counted", "of", "listeners", "p", "95 %", "dispersion"]
    rows = []
    for one in found.groups:
        counts = one.counts
        rows.append(
            [
                *(str(value).replace("|", " / ") for value in one.by.values()),
                f"{counts.right} {one.counted_as}",
                str(counts.trials),
                str(counts.listeners),
                f"{counts.p_value:.4g}",
                f"{counts.interval.low:.3f} to {counts.interval.high:.3f}",
                "-" if counts.dispersion is None else f"{counts.dispersion:.2f} (p {counts.dispersion_p:.2g})",
            ]
        )
    say(table(headings, rows), whole=True)
    say(f"{found.pooled} of {counted(found.answers, 'answer')} in {counted(found.casebooks, 'casebook')}. {CAUTION}")
    for what, reasons in (("not pooled", found.not_pooled), ("not read", found.not_read)):
        if reasons:
            say(f"{what}: {'; '.join(f'{number} {why}' for why, number in reasons)}")
    for several, answers in found.counted_once:
        say(f"counted once: {counted(answers, 'answer')} that stand in {' and in '.join(several)}")
    for book, why in found.left_out:
        say(f"left out: {book}: {why}")


COMMANDS = {"pool": pool}
