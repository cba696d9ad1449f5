"""The command that explains commands, terms and methods."""

from __future__ import annotations

import click

from trials.cli.options import show


@click.command("help")
@click.argument("topics", nargs=-1, metavar="[COMMAND|terms|methods]")
@click.pass_context
def help_topic(context: click.Context, topics: tuple[str, ...]) -> None:
    """Explain a command, the terms or the statistical methods."""
    if topics == ("terms",):
        from trials.report.glossary import glossary_page

        show(glossary_page())
        return
    if topics == ("methods",):
        from trials.report.methods import methods_page

        show(methods_page())
        return
    at = context.find_root()
    for topic in topics:
        below = at.command.commands if isinstance(at.command, click.Group) else {}
        if topic not in below:
            asked = " ".join(topics)
            raise click.UsageError(
                f"There is no help on {asked!r}. Name a command, terms or methods."
            )
        at = click.Context(below[topic], at, topic, show_default=True)
    show(at.command.get_help(at) + "\n")
