"""The demo: an archive of the paintings that come with Blotbook, and studies to try it with."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

from archive.errors import ArchiveError

FOLDER = Path("demo-archive")
"""Where the demo archive is made unless another folder is named, below the folder one is in."""


@dataclass(frozen=True)
class Study:
    """A study to try the matching with."""

    title: str
    file: Path


def sample_records() -> Path:
    """The records of the sample paintings.

    Raises `ArchiveError` when they are not there, as in an installation that left them out.
    """
    import public_domain_samples

    if not public_domain_samples.RECORDS.is_file():
        message = f"The sample paintings are missing: there is no {public_domain_samples.RECORDS}."
        raise ArchiveError(message)
    return public_domain_samples.RECORDS


def sample_studies() -> list[Study]:
    """The studies drawn for Blotbook, as files."""
    import public_domain_samples

    listed = public_domain_samples.STUDIES
    with listed.open(encoding="utf-8", newline="") as rows:
        return [Study(row["title"], listed.parent / row["file"]) for row in csv.DictReader(rows)]
