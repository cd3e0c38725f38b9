"""As many damaged files as good ones: every good one comes in, every other one has its reason."""

from __future__ import annotations

from pathlib import Path

from damaged_files import DAMAGES, write_good_and_damaged

from archive.ingesting import ingest
from archive.store import Archive
from archive.verify import verify
from ingest.provenance import read_records

COUNT = 40


def test_good_pictures_come_in_and_damaged_files_are_named(tmp_path: Path) -> None:
    records = read_records(write_good_and_damaged(tmp_path / "files", COUNT, (120, 90)))
    summary = ingest(records, tmp_path / "archive", workers=2)
    assert (summary.new, len(summary.unread), summary.works) == (COUNT, COUNT, COUNT)
    reasons: dict[str, set[str]] = {name: set() for name in DAMAGES}
    for file, reason in summary.unread:
        reasons[file.rpartition("-")[0]].add(reason)
    assert all(said and "fault in Blotbook" not in "".join(said) for said in reasons.values()), reasons
    assert not any("broke down" in reason for said in reasons.values() for reason in said)
    with Archive.open(tmp_path / "archive") as archive:
        assert all(work.startswith("good-") for work in archive.work_ids())
        assert len(archive.set_aside()) == COUNT
    assert verify(tmp_path / "archive") == []
