"""The command that shows the pages of help."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse

    from trajplan.cli._output import Command

__all__ = ["add_helping"]


def add_helping(command: Command) -> None:
    """Add `help`."""
    sub = command("help", _help, "print a page: keys, limits, rules, words, commands, proof, ...")
    sub.add_argument("topic", nargs="?", metavar="TOPIC", help="page; without it: all topics")


def _help(args: argparse.Namespace) -> int:
    from trajplan.show import help_text, help_topics

    if args.topic is None:
        topics = help_topics()
        wide = max(map(len, topics))
        print("trajplan help TOPIC prints one of these pages:", "", sep="\n")
        print(*(f"  {name:{wide}}  {title}" for name, title in topics.items()), sep="\n")
    else:
        print(help_text(args.topic))
    return 0
