"""Many cases at once: on workers of this machine or of a cluster, stopped and gone on with.

`trajplan.batch` is this package and its main function in one: ``trajplan.batch(cases)`` calls
`batch`.
"""

import sys
from types import ModuleType
from typing import Any

from trajplan.batch._batch import batch
from trajplan.batch._command import BatchRun, batch_text, run_batch
from trajplan.batch._find import find_jobs
from trajplan.batch._jobs import Job
from trajplan.batch._outcome import Outcome
from trajplan.batch._summary import Summary, summarize

__all__ = [
    "BatchRun",
    "Job",
    "Outcome",
    "Summary",
    "batch",
    "batch_text",
    "find_jobs",
    "run_batch",
    "summarize",
]


class _Callable(ModuleType):
    """Importing a package binds its name in the parent, where the function's name would be."""

    def __call__(self, *args: Any, **options: Any) -> Any:  # noqa: ANN401 - as `batch` takes them
        return batch(*args, **options)


sys.modules[__name__].__class__ = _Callable
