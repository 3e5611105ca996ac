"""Groups of commands: nothing of their help is cut, its paragraphs fill their lines, a typing slip gets a proposal."""

from __future__ import annotations

import inspect
import re
import textwrap

import click

from ..casebook.near_names import meant

BAD_USAGE = 2
FIRST_SENTENCE = re.compile(r".*?[.?!](?= [A-Z]|$)")


class CommandGroup(click.Group):
    """A group whose help is broken anew at this width, and lists each command with its whole first sentence."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """What was typed; of nothing the group's help, as it is laid out, and not told as the one line of a refusal."""
        if not args and self.no_args_is_help and not ctx.resilient_parsing:
            click.echo(ctx.get_help(), err=True)
            ctx.exit(BAD_USAGE)
        return super().parse_args(ctx, args)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that was typed; one that is not there is refused with the one that was probably meant."""
        typed = args[0]
        if self.get_command(ctx, typed) is None and not typed.startswith("-") and not ctx.resilient_parsing:
            near = meant(typed, self.list_commands(ctx))
            ctx.fail(f"no command {typed!r}" + (f"; did you mean {near!r}?" if near else ""))
        return super().resolve_command(ctx, args)

    def format_help_text(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The group's own text, paragraph by paragraph."""
        formatter.write_paragraph()
        width = max(formatter.width - 2, 20)
        for number, paragraph in enumerate(inspect.cleandoc(self.help or "").split("\n\n")):
            if number:
                formatter.write("\n")
            for row in textwrap.wrap(" ".join(paragraph.split()), width, break_long_words=False):
                formatter.write(f"  {row}\n")

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Every command with the first sentence of its help."""
        rows = [(name, self._sentence(ctx, name)) for name in self.list_commands(ctx)]
        if rows:
            with formatter.section("Commands"):
                formatter.write_dl(rows)

    def _sentence(self, ctx: click.Context, name: str) -> str:
        command = self.get_command(ctx, name)
        text = " ".join(inspect.cleandoc((command and command.help) or "").split("\n\n")[0].split())
        found = FIRST_SENTENCE.match(text)
        return found[0] if found else text


def whose_option(ctx: click.Context, option: str) -> list[str]:
    """The commands of a group that know an option which the group itself does not."""
    group = ctx.command
    if ctx.parent is None or not isinstance(group, click.Group):
        return []
    known = ((name, group.get_command(ctx, name)) for name in group.list_commands(ctx))
    return [
        name
        for name, one in known
        if one is not None and any(option in (*own.opts, *own.secondary_opts) for own in one.params)
    ]
