"""`match`: the evidence that setups play equally loud."""

from __future__ import annotations

from typing import Any

import click

from ..errors import CatalogueError
from .context import Context, give, json_option, progress, say, table

BY = {
    "bs1770": "loudness by ITU-R BS.1770",
    "a": "A-weighted level",
    "c": "C-weighted level",
    "band": "level 500-2000 Hz",
}


@click.group()
def match() -> None:
    """Match sheets: equal loudness, measured again."""


@match.command("files")
@click.option("--setup", "setups", multiple=True, help="A setup to match (repeat); all of them if none is named.")
@click.option(
    "--passage",
    "passages",
    multiple=True,
    help="A passage to match on (repeat); all of them if none is named.",
)
@click.option("--by", type=click.Choice(list(BY)), default="bs1770", show_default=True, help="What equal means.")
@click.option("--tolerance", type=float, default=0.1, show_default=True, help="The mismatch allowed, in LU (or dB).")
@click.option(
    "--rate",
    type=click.IntRange(8000, 192000),
    help="Prepare at this rate in Hz; otherwise the highest used.",
)
@json_option
@click.pass_context
def match_files(
    ctx: click.Context,
    setups: tuple[str, ...],
    passages: tuple[str, ...],
    by: Any,
    tolerance: float,
    rate: int | None,
    as_json: bool,
) -> None:
    """Bring recordings to equal loudness by attenuation, prepare them, and measure the prepared audio again."""
    from ..trials import preparing

    context: Context = ctx.obj
    if not 0.01 <= tolerance <= 3:
        raise CatalogueError(f"--tolerance {tolerance:g} is out of range; give 0.01 to 3 LU, usually 0.1")
    with context.open() as casebook:
        selection = preparing.select(casebook, setups, passages)
        progress(f"matching {len(selection.setups)} setups on {len(selection.passages)} passages …")
        document = preparing.make_match_sheet(casebook, selection, by=by, tolerance_lu=tolerance, rate_hz=rate)
    if as_json:
        give(document)
    else:
        tell(document)
    ctx.exit(0 if document["ok"] else 1)


def tell(document: dict[str, Any]) -> None:
    """The match sheet in words."""
    unit = "LUFS" if document["by"] == "bs1770" else "dB"
    rows = [
        [
            part["passage"],
            own["setup"],
            f"{own['loudness_lufs']:.2f}",
            f"{own['gain_db']:+.2f}",
            f"{own['after_lufs']:.2f}",
            f"{own['true_peak_dbtp']:.1f}",
        ]
        for part in document["passages"]
        for own in part["setups"]
    ]
    say(table(["passage", "setup", "LUFS before", "gain dB", "LUFS after", "dBTP after"], rows))
    worst = max(document["passages"], key=lambda part: part["residual_lu"])
    verdict = "within" if document["ok"] else "MORE THAN"
    say(
        f"Matched by {BY[document['by']]} ({unit}). Largest mismatch left: {document['residual_lu']:.3f} LU "
        f"(in {worst['passage']}; ± {worst['uncertainty_lu']:.2f} LU from moment to moment), "
        f"{verdict} the tolerance of {document['tolerance_lu']:g} LU."
    )


COMMANDS = {"match": match}
