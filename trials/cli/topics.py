"""The command that explains commands, terms and methods."""

from __future__ import annotations

import click

from trials.cli.options import show


@click.command("help")
@click.argument("topic", required=False, metavar="[COMMAND|terms|methods]")
@click.pass_context
def help_topic(context: click.Context, topic: str | None) -> None:
    """Explain a command, the terms or the statistical methods."""
    group = context.find_root().command
    commands = group.commands if isinstance(group, click.Group) else {}
    if topic is None:
        show(group.get_help(context.find_root()) + "\n")
    elif topic == "terms":
        from trials.report.glossary import glossary_page

        show(glossary_page())
    elif topic == "methods":
        from trials.report.methods import methods_page

        show(methods_page())
    elif topic in commands:
        command = commands[topic]
        below = click.Context(command, context.find_root(), topic, show_default=True)
        show(command.get_help(below) + "\n")
    else:
        raise click.UsageError(f"There is no help on {topic!r}. Name a command, terms or methods.")
