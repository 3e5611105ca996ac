"""`verify`: does the record hold? And the record of a plan, for anyone to check without this program."""

from __future__ import annotations

from dataclasses import asdict
from importlib.resources import files as package_files

import click

from .context import Context, counted, give, json_option, say


@click.command()
@click.option("--head", help="A chain hash published earlier; the record must still contain it.")
@click.option("--record", "plan", help="Print the record of a plan that is over, with its chain, to check alone.")
@click.option("--rule", is_flag=True, help="Print the sealing rule, with the stand-alone check.")
@json_option
@click.pass_context
def verify(ctx: click.Context, head: str | None, plan: str | None, rule: bool, as_json: bool) -> None:
    """Recompute chain, seals and keys, compare tables and catalogue; exit status 1 if anything does not hold."""
    from ..plans import seals
    from ..results import exported_record, verification

    context: Context = ctx.obj
    if rule:
        say((package_files("sessions.plans") / "sealing.md").read_text(encoding="utf-8"))
        return
    with context.open() as casebook:
        if plan is not None:
            give(exported_record.exported(casebook, seals.sealed_plan(casebook, plan)))
            return
        found = verification.verify(casebook, head)
    if as_json:
        give(asdict(found) | {"ok": found.ok})
    else:
        for fault in found.broken:
            say(fault)
        if found.older_entries:
            say(
                f"{found.older_entries} entries of the catalogue were there before the chain held them; they were "
                "compared with the sealed plans and match sheets, as far as those name them."
            )
        state = "The record holds" if found.ok else "THE RECORD DOES NOT HOLD"
        say(
            f"{state}: {counted(found.rows, 'row')} in the chain, {counted(found.plans, 'sealed plan')}. "
            f"Its end: {found.head}"
        )
    ctx.exit(0 if found.ok else 1)


COMMANDS = {"verify": verify}
