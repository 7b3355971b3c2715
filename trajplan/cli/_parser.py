"""The commands and what each takes."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING, NoReturn

from trajplan.cautions import CAUTION_TEXT
from trajplan.cli._batch import add_batch
from trajplan.cli._documents import add_documents
from trajplan.cli._helping import add_helping
from trajplan.cli._looking import add_looking
from trajplan.cli._modelling import add_modelling
from trajplan.cli._planning import add_demo, add_planning
from trajplan.cli._reducing import add_reducing
from trajplan.cli._showing import add_showing
from trajplan.cli._streams import complain

if TYPE_CHECKING:
    from trajplan.cli._output import Run

__all__ = ["parser"]


def parser() -> argparse.ArgumentParser:
    """Build the parser of all commands.

    Returns
    -------
    argparse.ArgumentParser
        What it parses has ``run``, a function of it that answers the exit status.
    """
    top = _Parser(
        prog="trajplan",
        description="Plan and check lag-screw trajectories through a fractured bone surface.",
        epilog=CAUTION_TEXT,
    )
    top.add_argument("--version", action="store_true", help="print the version and stop")
    top.set_defaults(run=_no_command, parser=top, command="")
    commands = top.add_subparsers(title="commands", metavar="COMMAND", parser_class=_Parser)

    def command(name: str, run: Run, text: str) -> argparse.ArgumentParser:
        sub = commands.add_parser(name, help=text, description=text, epilog=CAUTION_TEXT)
        sub.set_defaults(run=run, command=name)
        return sub

    for add in _ADDED:
        add(command)
    return top


#: What adds commands, in the order in which the help lists them.
_ADDED = (
    add_looking,
    add_modelling,
    add_reducing,
    add_planning,
    add_showing,
    add_documents,
    add_batch,
    add_demo,
    add_helping,
)


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        """Answer a wrong call in one line, like every other wrong input."""
        complain(f"{message}; see `{self.prog} --help`")
        sys.exit(2)


def _no_command(args: argparse.Namespace) -> int:
    if args.version:
        from trajplan.planner import program_version

        print(f"trajplan {program_version()}")
    else:
        args.parser.print_help()
    return 0
