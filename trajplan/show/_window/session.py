"""A session of editing a plan: pick, move, turn, look, step, undo, save; no window in it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, TypeAlias

from trajplan.arrays import as_vector
from trajplan.errors import OutputError
from trajplan.files import write_plan
from trajplan.show._drill.sheet import drill_sheet
from trajplan.show._window.edited import Edited, ends_of, moved, opened, screw_of, settled
from trajplan.show._window.history import History

if TYPE_CHECKING:
    from pathlib import Path

    from trajplan.arrays import Vec3
    from trajplan.files import PlanFile, ScrewRecord
    from trajplan.planner import Setup
    from trajplan.show._drill.sheet import Step
    from trajplan.show._window.edited import Hold

__all__ = ["DrillStep", "Looking", "Session", "Sight"]

#: From where the plan is looked at: across the screws, down the drill, square to the cut.
Sight: TypeAlias = Literal["side", "down", "cut"]


@dataclass(frozen=True, slots=True)
class Looking:
    """What is looked at and held; no part of the plan, and not undone with it."""

    picked: int | None  # row of the screw; None where the plan has none
    hold: Hold = "target"
    sight: Sight = "side"
    cut: float | None = None  # degrees of the cutting plane about the axis; None: no cut
    distances: bool = False  # whether clearances are drawn
    step: int | None = None  # of the drilling order; None: the finished plan


@dataclass(frozen=True, slots=True)
class DrillStep:
    """One step of the drilling order."""

    screw: str | None  # id; None for steps of the whole plan
    heading: str
    step: Step


class Session:
    """A plan that is looked at and changed, one screw at a time.

    Parameters
    ----------
    setup : Setup
        The case.
    record : PlanFile
        Its plan, shown to the letter until an axis is moved.
    """

    def __init__(self, setup: Setup, record: PlanFile) -> None:
        self.setup = setup
        self._history = History(opened(setup, record))
        self._held = False  # between `grab` and `release`
        self._base: Edited | None = None  # as it was when it was grabbed
        self.looking = Looking(picked=0 if self.state.table.ids else None)

    @property
    def state(self) -> Edited:
        """The plan as it stands."""
        return self._history.now

    @property
    def record(self) -> PlanFile:
        """The plan as it stands, as a plan file would hold it."""
        return self.state.record

    @property
    def edited(self) -> bool:
        """Whether the plan is another than the one that was opened."""
        return self.state is not self._history.first

    @property
    def can_undo(self) -> bool:
        """Whether a move can be taken back."""
        return self._history.can_undo

    @property
    def can_redo(self) -> bool:
        """Whether a move was taken back."""
        return self._history.can_redo

    @property
    def screw(self) -> ScrewRecord | None:
        """The screw that is picked."""
        row = self.looking.picked
        return None if row is None else screw_of(self.state, row)

    @property
    def ends(self) -> tuple[Vec3, Vec3] | None:
        """Entry and target of the screw that is picked, (3,) mm each."""
        row = self.looking.picked
        return None if row is None else self.ends_of(row)

    def ends_of(self, row: int) -> tuple[Vec3, Vec3]:
        """Entry and target of a screw.

        Parameters
        ----------
        row : int
            Row of the screw, from 0.

        Returns
        -------
        entry, target : (3,) float arrays, mm
        """
        return ends_of(self.state, row)

    @property
    def dragging(self) -> bool:
        """Whether something was moved since `grab`."""
        return self._held

    # picking and looking

    def pick(self, row: int) -> None:
        """Pick a screw; a row that the plan does not have changes nothing.

        Parameters
        ----------
        row : int
            Row of the screw, from 0.
        """
        if 0 <= row < len(self.state.table.ids):
            self.looking = replace(self.looking, picked=row)

    def hold(self, what: Hold) -> None:
        """Choose what moves are applied to.

        Parameters
        ----------
        what : {"entry", "target", "both"}
            End of the axis, or the axis as a whole.
        """
        self.looking = replace(self.looking, hold=what)

    def look(self, sight: Sight) -> None:
        """Choose from where to look.

        Parameters
        ----------
        sight : {"side", "down", "cut"}
            Across the screws, down the drill of the screw picked, or square to the cut.
        """
        self.looking = replace(self.looking, sight=sight)

    def cut(self) -> None:
        """Cut the bone through the axis of the screw picked, or make it whole again."""
        if self.looking.cut is not None:
            self.looking = replace(self.looking, cut=None, sight="side")
        elif self.looking.picked is not None:
            self.looking = replace(self.looking, cut=0.0, sight="cut")

    def turn(self, degrees: float) -> None:
        """Turn the cut about the axis; where there is none, nothing happens.

        Parameters
        ----------
        degrees : float
            By how much, right-handed about the axis from head to tip.
        """
        if self.looking.cut is not None:
            angle = (self.looking.cut + degrees) % 360.0
            self.looking = replace(self.looking, cut=angle, sight="cut")

    def show_distances(self) -> None:
        """Draw clearances, or leave them out again."""
        self.looking = replace(self.looking, distances=not self.looking.distances)

    # the drilling order

    @property
    def steps(self) -> tuple[DrillStep, ...]:
        """Steps of the drill sheet, in order."""
        sheet = drill_sheet(self.record, self.setup.catalogue)
        return (
            *(DrillStep(None, "Before drilling", step) for step in sheet.before),
            *(DrillStep(s.screw, s.heading, step) for s in sheet.screws for step in s.steps),
            *(DrillStep(None, "After the last screw", step) for step in sheet.after),
        )

    @property
    def step(self) -> DrillStep | None:
        """The step that is shown."""
        number, steps = self.looking.step, self.steps
        return None if number is None or not steps else steps[min(number, len(steps) - 1)]

    def go(self, by: int) -> None:
        """Go along the drilling order; before its first step lies the finished plan.

        Parameters
        ----------
        by : int
            Steps, negative to go back.
        """
        now = -1 if self.looking.step is None else self.looking.step
        at = min(max(now + by, -1), len(self.steps) - 1)
        self.looking = replace(self.looking, step=None if at < 0 else at)
        if self.step is not None and self.step.screw in self.state.table.ids:
            self.pick(self.state.table.ids.index(self.step.screw))

    # moving

    def grab(self) -> None:
        """Begin a drag: all moves until `release` are undone as one."""
        self._base, self._held = self.state, False

    def release(self) -> None:
        """End a drag."""
        self._base, self._held = None, False

    def drag(self, by: Vec3) -> None:
        """Move what is held to where it was when grabbed, plus a shift.

        Parameters
        ----------
        by : (3,) float array, mm
            Shift since `grab`.
        """
        base = self._base if self._base is not None else self.state
        row = self.looking.picked
        if row is None:
            return
        entry, target = ends_of(base, row)
        shift, hold = as_vector(by), self.looking.hold
        self.place(
            entry + shift * (hold != "target"),
            target + shift * (hold != "entry"),
        )

    def place(self, entry: Vec3, target: Vec3) -> None:
        """Draw the axis of the screw picked through two points.

        Parameters
        ----------
        entry, target : (3,) float arrays, mm
            Points on the axis, head side first; too near one another, nothing happens.
        """
        row = self.looking.picked
        if row is None:
            return
        state = moved(self.setup, self._history.first, self.state, row, (entry, target))
        if state is None:
            return
        if self._base is not None and self._held:
            self._history.swap(state)
        else:
            self._history.add(state)
        self._held = self._base is not None

    def complete(self) -> None:
        """Work out how much error the screws forgive, where moves left that open."""
        self._history.swap(settled(self.setup, self._history.first, self.state))

    def undo(self) -> None:
        """Take the last move back."""
        self._history.undo()

    def redo(self) -> None:
        """Do again what was taken back."""
        self._history.redo()

    def reset(self) -> None:
        """Go back to the plan that was opened; this can be undone."""
        if self.edited:
            self._history.add(self._history.first)

    # keeping

    def save(self, path: Path) -> None:
        """Write the plan as it stands, complete, into a new file.

        Parameters
        ----------
        path : Path
            A file that is not there yet.

        Raises
        ------
        OutputError
            If it is there, or cannot be written.
        """
        if path.exists():
            raise OutputError(
                "there is a file of this name already", remedy="save under another", file=path
            )
        self.complete()
        write_plan(path, self.record)
