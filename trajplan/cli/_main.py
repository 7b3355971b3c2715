"""From the words of a call to an exit status; the only place that catches errors."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

from trajplan.cli._parser import parser
from trajplan.cli._streams import complain, printed
from trajplan.cli._working import at_work
from trajplan.errors import GeometryError, InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["main"]


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command.

    Parameters
    ----------
    argv : sequence of str, optional
        Words after the program's name; by default those of the process.

    Returns
    -------
    int
        Exit status.
    """
    try:
        with printed():
            return _run(argv)
    except InputError as error:
        return _refuse(str(error))
    except GeometryError as error:
        return _refuse(f"{error}; check the numbers that were given")
    except OSError as error:  # the system's word on a name, a right or a disk, not ours
        place = f"{error.filename}: " if error.filename else ""
        return _refuse(f"{place}{error.strerror or error}; check names, rights and room")
    except KeyboardInterrupt:
        complain("stopped")
        return 130
    except Exception as error:  # noqa: BLE001 - the one place that stands between a bug and a user
        return _broke(error)


def _run(argv: Sequence[str] | None) -> int:
    args = parser().parse_args(argv)
    with at_work(args.command):
        status: int = args.run(args)
        sys.stdout.flush()
    return status


def _refuse(sentence: str) -> int:
    complain(sentence)
    return 2


def _broke(error: Exception) -> int:
    if os.environ.get("TRAJPLAN_TRACEBACK"):
        raise error
    complain(
        f"the program broke ({type(error).__name__}: {error}); this is a fault of the program, "
        "set TRAJPLAN_TRACEBACK=1 to see where"
    )
    return 3
