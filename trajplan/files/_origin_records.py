"""Records of what a file comes from: the program and the case."""

from __future__ import annotations

from pydantic import Field

from trajplan.files._records import Record

__all__ = ["SHA256", "CaseRecord", "ProgramRecord"]

SHA256 = r"^([0-9a-f]{64})?$"  # empty for what was handed over in memory


class ProgramRecord(Record):
    """The program that wrote the plan."""

    name: str
    version: str


class CaseRecord(Record):
    """The case that was planned."""

    name: str = Field(description="file name")
    sha256: str = Field(
        pattern=SHA256, description="of the file's bytes, and of what a row of a batch changed"
    )
