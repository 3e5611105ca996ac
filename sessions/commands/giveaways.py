"""`giveaways`: cues, other than the sound under test, that could give a setup away; and their repair."""

from __future__ import annotations

from typing import Any

import click

from .context import Context, give, json_option, progress, say


@click.command()
@click.option("--setup", "setups", multiple=True, help="A setup to check (repeat); all of them if none is named.")
@click.option("--passage", "passages", multiple=True, help="A passage to check (repeat); all of them if none is named.")
@click.option("--mend", "mending", is_flag=True, help="Repair offset, drift, length and rate, match and check again.")
@click.option("--polarity", is_flag=True, help="With --mend: also turn inverted polarity round.")
@json_option
@click.pass_context
def giveaways(
    ctx: click.Context,
    setups: tuple[str, ...],
    passages: tuple[str, ...],
    mending: bool,
    polarity: bool,
    as_json: bool,
) -> None:
    """Look for cues that give a setup away: level, onset, clipping, noise, polarity and more; exit status 1 if any."""
    from ..preparation import match_files

    context: Context = ctx.obj
    with context.open() as casebook:
        selection = match_files.select(casebook, setups, passages)
        progress(f"checking {len(selection.setups)} setups on {len(selection.passages)} passages …")
        mended: list[dict[str, Any]] = []
        if mending:
            sheet = match_files.newest_sheet(casebook, selection)
            mended = match_files.mend(casebook, selection, polarity=polarity)
            if mended and sheet is not None:
                match_files.make_match_sheet(
                    casebook, selection, by=sheet[1]["by"], tolerance_lu=sheet[1]["tolerance_lu"]
                )
        document = match_files.check_giveaways(casebook, selection)
    shown = {"ok": document["ok"], "findings": document["findings"]} | ({"mended": mended} if mending else {})
    if as_json:
        give(shown)
    else:
        tell(shown)
    ctx.exit(0 if document["ok"] else 1)


def tell(document: dict[str, Any]) -> None:
    """The check in words."""
    for repair in document.get("mended", []):
        parts = []
        if repair["delay_s"]:
            parts.append(f"shifted by {1000 * repair['delay_s']:+.3f} ms")
        if repair["stretch_ppm"]:
            parts.append(f"clock corrected by {repair['stretch_ppm']:+.1f} ppm")
        if repair["rate_hz"]:
            parts.append(f"brought to {repair['rate_hz']} Hz")
        if repair["invert"]:
            parts.append("polarity turned round")
        say(f"mended  {repair['setup']} in {repair['passage']}: {', '.join(parts) or 'length'} ({repair['why']})")
    for finding in document["findings"]:
        say(f"{finding['kind']}  {finding['setup']} in {finding['passage']}: {finding['what']}")
        say(
            f"    measured {finding['measured']:.4g} {finding['unit']}, limit {finding['limit']:.4g} {finding['unit']}"
            f" ({finding['source']})"
        )
    if document["ok"]:
        say("No giveaway found.")
    else:
        say(f"{len(document['findings'])} giveaways. What can be repaired: earwitness giveaways --mend [--polarity].")


COMMANDS = {"giveaways": giveaways}
