"""The command that lets a shell complete commands and options."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any, ClassVar

import click
from click.shell_completion import (
    CompletionItem,
    ShellComplete,
    add_completion_class,
    get_completion_class,
    split_arg_string,
)

from trials.cli.options import show

SHELLS = ("bash", "zsh", "fish", "powershell")

_POWERSHELL = """\
Register-ArgumentCompleter -Native -CommandName %(prog_name)s -ScriptBlock {
    param($word, $line, $cursor)
    $env:COMP_WORDS = $line.ToString()
    $env:COMP_INCOMPLETE = $word
    $env:%(complete_var)s = "powershell_complete"
    %(prog_name)s | ForEach-Object {
        $kind, $value, $help = $_ -split "`t", 3
        if (-not $help) { $help = $value }
        $kind = "ParameterValue"
        [System.Management.Automation.CompletionResult]::new($value, $value, $kind, $help)
    }
    Remove-Item Env:COMP_WORDS, Env:COMP_INCOMPLETE, Env:%(complete_var)s
}
"""

# Where each shell looks for completions by itself; else the line to add to its own settings.
_INSTALLED: Mapping[str, tuple[str, str]] = {
    "bash": ("~/.local/share/bash-completion/completions/tallybed", ""),
    "fish": ("~/.config/fish/completions/tallybed.fish", ""),
    "zsh": ("~/.zfunc/_tallybed", "fpath=(~/.zfunc $fpath); autoload -Uz compinit; compinit"),
    "powershell": ("~/.config/powershell/tallybed.ps1", ". ~/.config/powershell/tallybed.ps1"),
}
_SETTINGS = {"zsh": "~/.zshrc", "powershell": "$PROFILE"}


class PowerShellComplete(ShellComplete):
    """PowerShell, which hands over the whole line as one text."""

    name: ClassVar[str] = "powershell"
    source_template: ClassVar[str] = _POWERSHELL

    def get_completion_args(self) -> tuple[list[str], str]:
        """The complete words after the program's name, and the one being typed."""
        words = split_arg_string(os.environ["COMP_WORDS"])[1:]
        incomplete = os.environ.get("COMP_INCOMPLETE", "")
        return (words[:-1] if incomplete and words else words), incomplete

    def format_completion(self, item: CompletionItem) -> str:
        """A kind, a value and its help, parted by tabs."""
        return f"{item.type}\t{item.value}\t{item.help or ''}"


add_completion_class(PowerShellComplete)


@click.command()
@click.argument("shell", type=click.Choice(SHELLS))
@click.option("--install", is_flag=True, help="Write the script where the shell looks for it.")
@click.pass_context
def completion(context: click.Context, shell: str, install: bool) -> None:
    """Complete commands and options with the Tab key.

    Prints the script for your shell. With --install it is written to a file, and you see what
    else the shell needs.
    """
    script = _script(context.find_root().command, shell)
    if not install:
        show(script)
        return
    place, line = _INSTALLED[shell]
    file = Path(place).expanduser()
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(script, encoding="utf-8")
    show(f"Wrote {place}. It works in the next {shell} you open.\n")
    if line:
        show(f"Add this line to {_SETTINGS[shell]}, if it is not there:\n  {line}\n")


def _script(command: click.Command, shell: str) -> str:
    kind: Any = get_completion_class(shell)
    return str(kind(command, {}, "tallybed", "_TALLYBED_COMPLETE").source())
