"""What can be done in the window: each by a key, and by a press on its line of the list."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from trajplan.show._window.edited import Hold
    from trajplan.show._window.session import Session, Sight
    from trajplan.show._window.window import Window

__all__ = ["COMMANDS", "Command", "find_command"]

#: mm of one nudge, and of one with the shift key.
NUDGE = 0.5
FINE_NUDGE = 0.1
#: Degrees by which the cut, and the view, is turned at a time.
TURN = 5.0
TURN_VIEW = 15.0
#: Share of the picture's height that is left when one goes nearer.
NEARER = 0.8


@dataclass(frozen=True, slots=True, eq=False)
class Command:
    """Something that can be done."""

    keys: tuple[str, ...]  # as X names them, the first is the one in the list
    shown: str  # the key as the list writes it
    text: str
    run: Callable[[Window], None]
    on: Callable[[Session], bool] = lambda _: False  # whether it is switched on


def find_command(key: str) -> Command | None:
    """The command of a key.

    Parameters
    ----------
    key : str
        Name of the key, such as ``z`` or ``Left``; capitals mean the same.

    Returns
    -------
    Command or None
    """
    name = key.lower() if len(key) == 1 else key
    return next((command for command in COMMANDS if name in command.keys), None)


def _nudge(right: float, up: float) -> Callable[[Window], None]:
    def run(window: Window) -> None:
        size = FINE_NUDGE if window.fine else NUDGE
        lens = window.lens()
        window.session.drag(size * (right * lens.right + up * lens.up))

    return run


def _hold(what: Hold) -> Callable[[Window], None]:
    return lambda window: window.session.hold(what)


def _holds(what: Hold) -> Callable[[Session], bool]:
    return lambda session: session.looking.hold == what


def _sight(sight: Sight) -> Callable[[Window], None]:
    def run(window: Window) -> None:
        window.session.look(sight)
        window.aim()

    return run


def _sees(sight: Sight) -> Callable[[Session], bool]:
    return lambda session: session.looking.sight == sight


def _is_cut(session: Session) -> bool:
    return session.looking.cut is not None


def _measures(session: Session) -> bool:
    return session.looking.distances


def _steps(session: Session) -> bool:
    return session.looking.step is not None


def _cut(window: Window) -> None:
    window.session.cut()
    window.aim()


def _turn(degrees: float) -> Callable[[Window], None]:
    def run(window: Window) -> None:
        window.session.turn(degrees)
        if window.session.looking.cut is not None:
            window.aim()

    return run


def _turn_view(across: float, over: float) -> Callable[[Window], None]:
    return lambda window: window.turn_view(TURN_VIEW * across, TURN_VIEW * over)


def _zoom(factor: float) -> Callable[[Window], None]:
    return lambda window: window.zoom(factor)


def _pick_next(window: Window) -> None:
    session = window.session
    if session.looking.picked is not None:
        session.pick((session.looking.picked + 1) % len(session.state.table.ids))


COMMANDS: tuple[Command, ...] = (
    Command(("Tab",), "1-9 Tab", "screw", _pick_next),
    Command(("e",), "E", "hold entry", _hold("entry"), _holds("entry")),
    Command(("t",), "T", "hold target", _hold("target"), _holds("target")),
    Command(("b",), "B", "hold both", _hold("both"), _holds("both")),
    Command(("Left",), "Left", "nudge", _nudge(-1, 0)),
    Command(("Right",), "Right", "nudge", _nudge(1, 0)),
    Command(("Up",), "Up", "nudge", _nudge(0, 1)),
    Command(("Down",), "Down", "nudge", _nudge(0, -1)),
    Command(("a",), "A", "look across", _sight("side"), _sees("side")),
    Command(("d",), "D", "down the drill", _sight("down"), _sees("down")),
    Command(("j",), "J", "turn left", _turn_view(-1, 0)),
    Command(("l",), "L", "turn right", _turn_view(1, 0)),
    Command(("i",), "I", "turn up", _turn_view(0, 1)),
    Command(("k",), "K", "turn down", _turn_view(0, -1)),
    Command(("plus", "equal", "Add"), "+", "nearer", _zoom(NEARER)),
    Command(("minus", "Subtract"), "-", "farther", _zoom(1.0 / NEARER)),
    Command(("c",), "C", "cut open", _cut, _is_cut),
    Command(("comma",), ",", "turn cut back", _turn(-TURN)),
    Command(("period",), ".", "turn cut on", _turn(TURN)),
    Command(
        ("m",),
        "M",
        "measure gaps",
        lambda window: window.session.show_distances(),
        _measures,
    ),
    Command(
        ("n", "space"),
        "N",
        "next step",
        lambda window: window.session.go(1),
        _steps,
    ),
    Command(("p", "BackSpace"), "P", "step back", lambda window: window.session.go(-1)),
    Command(("w",), "W", "work out errors", lambda window: window.complete()),
    Command(("z",), "Z", "undo", lambda window: window.session.undo()),
    Command(("y",), "Y", "redo", lambda window: window.session.redo()),
    Command(("r",), "R", "reset plan", lambda window: window.session.reset()),
    Command(("s",), "S", "save as new", lambda window: window.save()),
    Command(("Next", "Page_Down"), "PgDn", "more words", lambda window: window.words.page(1)),
    Command(("Prior", "Page_Up"), "PgUp", "words back", lambda window: window.words.page(-1)),
    Command(("q",), "Q", "close", lambda window: window.close()),
)
