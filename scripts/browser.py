"""Headless Chromium for the pictures of README.md and for the tests of a page."""

from __future__ import annotations

import shutil
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser

__all__ = ["chromium"]

#: A browser that starts no service of its own and asks no network for anything.
FLAGS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip


@contextmanager
def chromium() -> Iterator[Browser]:
    """Start a browser, and end it.

    Yields
    ------
    playwright.sync_api.Browser
    """
    from playwright.sync_api import sync_playwright

    program = shutil.which("chromium") or shutil.which("google-chrome")
    if program is None:
        raise SystemExit("this needs a browser: apt-get install chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=list(FLAGS))
        yield browser
        browser.close()
