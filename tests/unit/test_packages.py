"""Packages: what pyproject.toml needs is locked with hashes, and its licences are listed."""

import re
from importlib.metadata import metadata
from pathlib import Path

import pytest
from packaging.version import Version

from scripts.bounds import bounds

ROOT = Path(__file__).parents[2]
PACKAGES = ROOT / "trajplan" / "help" / "packages.md"
LOCK = (ROOT / "scripts" / "dev.lock").read_text(encoding="utf-8")
TABLE = dict(
    re.findall(r"(?m)^\| `([\w-]+)` \| ([^|]+) \| [^|]+ \|$", PACKAGES.read_text(encoding="utf-8"))
)
#: How the metadata of packages name a licence: the SPDX short name, the trove classifier, or text.
NAMES = {
    "MIT": r"\bMIT\b",
    "BSD": r"\bBSD\b|\b0BSD\b|Redistribution and use in source and binary forms",
    "Apache 2.0": r"Apache",
    "MPL 2.0": r"MPL|Mozilla Public",
    "Python Software Foundation": r"Python Software Foundation",
}


@pytest.mark.parametrize(("name", "least"), bounds().items())
def test_each_package_is_locked_at_or_above_its_bound(name, least):
    found = re.findall(rf"(?m)^{name}(?:\[[^\]]*\])?==([^\s;]+)", LOCK)
    assert found
    assert all(least is None or Version(version) >= Version(least) for version in found)


def test_the_lock_holds_hashes_and_no_place_to_fetch_from():
    packages = re.split(r"(?m)^(?=\S)", LOCK)[1:]
    assert len(packages) > 50
    assert all("==" in package and "--hash=sha256:" in package for package in packages)
    assert not re.search(r"https?:|index-url|find-links", LOCK)


@pytest.mark.parametrize("name", bounds())
def test_its_licence_is_the_one_that_it_states(name):
    about = metadata(name)
    stated = " ".join(
        [about.get("License-Expression") or "", about.get("License") or ""]
        + [text for text in about.get_all("Classifier") or [] if text.startswith("License")]
    )
    listed = [licence.strip() for licence in TABLE[name].split(",")]
    assert listed
    for licence in listed:
        assert re.search(NAMES[licence], stated), (licence, stated[:200])
