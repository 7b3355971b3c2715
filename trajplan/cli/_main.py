"""From the words of a call to an exit status; the only place that catches errors."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

from trajplan.cli._parser import parser
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
    args = parser().parse_args(argv)
    try:
        status: int = args.run(args)
        sys.stdout.flush()
    except InputError as error:
        return _refuse(str(error))
    except GeometryError as error:
        return _refuse(f"{error}; check the numbers that were given")
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        print("trajplan: stopped", file=sys.stderr)
        return 130
    except Exception as error:  # noqa: BLE001 - the one place that stands between a bug and a user
        return _broke(error)
    return status


def _refuse(sentence: str) -> int:
    print(f"trajplan: {' '.join(sentence.split())}", file=sys.stderr)
    return 2


def _broke(error: Exception) -> int:
    if os.environ.get("TRAJPLAN_TRACEBACK"):
        raise error
    print(
        f"trajplan: the program broke ({type(error).__name__}: {error}); this is a fault of the "
        "program, set TRAJPLAN_TRACEBACK=1 to see where",
        file=sys.stderr,
    )
    return 3
