#!/usr/bin/env python3
"""Tell which Debian package brings a system library that a Python package misses.

usage: python scripts/system_libraries.py [dev]    (dev: what the tests need as well)

Exit status 0 if everything loads, 2 with one line a library otherwise.
"""

from __future__ import annotations

import ctypes
import ctypes.util
import importlib
import re
import shutil
import sys

MODULES = ("numpy", "scipy.spatial", "trimesh", "igl", "numba", "rtree", "shapely", "pyvista")

#: Debian package that brings a library (Debian 12 and 13).
PACKAGES = {
    "libGL.so": "libgl1",
    "libEGL.so": "libegl1",
    "libOSMesa.so": "libosmesa6",
    "libX11.so": "libx11-6",
    "libXrender.so": "libxrender1",
    "libXext.so": "libxext6",
    "libXcursor.so": "libxcursor1",
    "libXt.so": "libxt6",
    "libSM.so": "libsm6",
    "libICE.so": "libice6",
    "libgomp.so": "libgomp1",
    "libstdc++.so": "libstdc++6",
    "libexpat.so": "libexpat1",
}

#: Programs that the tests drive a real window and a real page with, and their packages.
PROGRAMS = {"Xvfb": "xvfb", "xdotool": "xdotool", "chromium": "chromium"}

#: Libraries that printing a report to PDF needs, and their packages.
PRINTING = {
    "libpango-1.0.so.0": "libpango-1.0-0",
    "libpangoft2-1.0.so.0": "libpangoft2-1.0-0",
    "libharfbuzz-subset.so.0": "libharfbuzz-subset0",
}

#: Either of these lets pictures be drawn without a screen.
OFF_SCREEN = ("libEGL.so.1", "libOSMesa.so.8", "libOSMesa.so.6")


def _package_of(library: str) -> str:
    for stem, package in PACKAGES.items():
        if library.startswith(stem):
            return package
    return f"the package that holds {library} (see `apt-file search {library}`)"


def _loads(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def main() -> int:
    """Try every module and print what is missing.

    Returns
    -------
    int
        Exit status.
    """
    missing: dict[str, str] = {}
    for module in MODULES:
        try:
            importlib.import_module(module)
        except ImportError as error:
            found = re.search(r"(lib[\w+.-]+\.so[.\d]*)", str(error))
            library = found.group(1) if found else str(error)
            missing[library] = _package_of(library) if found else f"({module}: {error})"
    if sys.platform.startswith("linux") and not any(map(_loads, OFF_SCREEN)):
        missing[OFF_SCREEN[0]] = _package_of(OFF_SCREEN[0])
    if "dev" in sys.argv[1:]:
        missing |= {p: package for p, package in PROGRAMS.items() if shutil.which(p) is None}
        missing |= {lib: package for lib, package in PRINTING.items() if not _loads(lib)}
    for library, package in missing.items():
        print(f"{library} is missing; install it with: apt-get install {package}", file=sys.stderr)
    return 2 if missing else 0


if __name__ == "__main__":
    sys.exit(main())
