"""trajplan: lag-screw trajectories through a fractured bone surface, planned and checked.

>>> import trajplan
>>> plan = trajplan.plan_case(trajplan.read_case("meshes/shaft.toml"))  # doctest: +SKIP
>>> plan.verdict.word  # doctest: +SKIP

Names are loaded when they are first used, so that importing the package is quick; nothing
here imports pyvista or matplotlib before something is drawn.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trajplan.batch import batch
    from trajplan.bone import Bone, Surface, as_surface, line_spans, make_bone, read_surface
    from trajplan.checks import Finding, Limits, Verdict
    from trajplan.files import Case, PlanFile, read_axes, read_case, read_plan, write_plan
    from trajplan.implants import find_screw, load_catalogue
    from trajplan.planner import Plan, check_axes, plan_case, plan_record, set_up
    from trajplan.trajectory import Axes

_HOMES = {
    "trajplan.bone": ("Bone", "Surface", "as_surface", "line_spans", "make_bone", "read_surface"),
    "trajplan.checks": ("Finding", "Limits", "Verdict"),
    "trajplan.files": (
        "Case",
        "PlanFile",
        "read_axes",
        "read_case",
        "read_plan",
        "write_plan",
    ),
    "trajplan.implants": ("find_screw", "load_catalogue"),
    "trajplan.planner": ("Plan", "check_axes", "plan_case", "plan_record", "set_up"),
    "trajplan.trajectory": ("Axes",),
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}

__all__ = [
    "Axes",
    "Bone",
    "Case",
    "Finding",
    "Limits",
    "Plan",
    "PlanFile",
    "Surface",
    "Verdict",
    "as_surface",
    "batch",
    "check_axes",
    "find_screw",
    "line_spans",
    "load_catalogue",
    "make_bone",
    "plan_case",
    "plan_record",
    "read_axes",
    "read_case",
    "read_plan",
    "read_surface",
    "set_up",
    "write_plan",
]


def __getattr__(name: str) -> object:
    if name == "batch":
        # Importing the package binds it here, so it answers to a call itself.
        return import_module("trajplan.batch")
    if name not in _HOME_OF:
        raise AttributeError(f"module 'trajplan' has no attribute {name!r}")
    return getattr(import_module(_HOME_OF[name]), name)


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
