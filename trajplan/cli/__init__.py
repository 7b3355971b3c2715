"""The command line: commands, output, exit status; no geometry.

Exit status 0: done, nothing fails a rule. 1: done, some rule fails. 2: the input or the
call is wrong; one line on standard error says what, where and how to mend it. 3: the
program itself broke.
"""

from trajplan.cli._main import main

__all__ = ["main"]
