"""Keys and mouse on a real window, sent from another process."""

import os
import subprocess
import time

#: Seconds that a step may take on a machine that is busy otherwise.
PATIENCE = 90.0


class Hand:
    """Keys and mouse on a window, found by its title."""

    def __init__(self, display):
        self.env = {**os.environ, "DISPLAY": display}
        self.window = self.tell("search", "--sync", "--onlyvisible", "--name", "trajplan").split()[
            0
        ]
        self.tell("windowfocus", "--sync", self.window)

    def tell(self, *words):
        done = subprocess.run(
            ["xdotool", *words],
            env=self.env,
            capture_output=True,
            text=True,
            timeout=PATIENCE,
            check=True,
        )
        return done.stdout

    def key(self, *names):
        for name in names:
            self.tell("key", name)

    def move(self, pixel):
        x, y = pixel
        self.tell("mousemove", "--window", self.window, str(x), str(1000 - y))

    def click(self, pixel):
        self.move(pixel)
        self.tell("click", "1")

    def drag(self, start, by, steps=6):
        self.move(start)
        self.tell("mousedown", "1")
        for step in range(1, steps + 1):
            self.move((start[0] + by[0] * step // steps, start[1] + by[1] * step // steps))
        self.tell("mouseup", "1")


def wait_for(path):
    """Content of a file that another process writes whole."""
    end = time.monotonic() + PATIENCE
    while not path.exists():
        assert time.monotonic() < end, f"{path.name} was not written"
        time.sleep(0.05)
    return path.read_bytes()
