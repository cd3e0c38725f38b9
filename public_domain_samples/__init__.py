"""Public-domain pictures with their records, and three studies of our own: what the demo is built from."""

from __future__ import annotations

from pathlib import Path

FOLDER = Path(__file__).resolve().parent
"""The folder that ``file`` in the records is relative to."""

RECORDS = FOLDER / "records.csv"
"""One row per picture: what it is, whose it was, under which rights, and its hash."""

STUDIES = FOLDER / "studies" / "studies.csv"
"""One row per study drawn for this project, to try the matching with."""
