"""A real Dask cluster of several processes on this computer gives the archive that one process gives."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from archive.errors import ArchiveError
from archive.ingesting import ingest
from archive.verify import verify
from ingest.cluster import Cluster, libraries
from ingest.engines import EngineFault
from ingest.pipeline import Failed, Outcome, Task, Unchanged, reduce
from ingest.provenance import read_records

distributed = pytest.importorskip("distributed", reason="needs the extra 'distributed'")
dask = pytest.importorskip("dask", reason="needs the extra 'distributed'")

KILLER = "made-02"


@pytest.fixture(scope="module")
def cluster() -> Iterator[Any]:
    """Three worker processes of one thread each, and what watches over them."""
    with (
        dask.config.set({"distributed.scheduler.allowed-failures": 1, "distributed.admin.log-length": 0}),
        distributed.LocalCluster(
            n_workers=3, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
        ) as opened,
    ):
        yield opened


def test_a_cluster_gives_the_very_same_archive_also_when_a_worker_is_killed(
    cluster: Any, small_records: Path, small_content: dict[str, bytes], tmp_path: Path
) -> None:
    with distributed.Client(cluster, set_as_default=False) as client:
        processes = client.run(os.getpid)
    killed: list[int] = []

    def kill_one(done: int, _: int) -> None:
        if done == 3 and not killed:
            killed.append(next(iter(processes.values())))
            os.kill(killed[0], signal.SIGKILL)

    summary = ingest(read_records(small_records), tmp_path, scheduler=cluster.scheduler_address, on_progress=kill_one)
    assert (summary.new, summary.unread, len(killed)) == (16, [], 1)
    with distributed.Client(cluster, set_as_default=False) as client:
        client.wait_for_workers(3, timeout=30)
        assert killed[0] not in client.run(os.getpid).values()
    assert {path: (tmp_path / path).read_bytes() for path in small_content} == small_content
    assert verify(tmp_path) == []


def die_at_one(task: Task) -> Outcome:
    """Stands in for a decoder that brings its process down at one certain picture."""
    if task.work == KILLER:
        os._exit(11)
    return Unchanged(task.work)


def test_a_picture_that_brings_down_every_worker_is_named(
    cluster: Any, small_records: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ingest.pipeline.reduce_one", die_at_one)
    read = read_records(small_records)
    with Cluster(cluster.scheduler_address) as engine:
        outcomes = list(reduce(read.records[:6], read.folder, engine=engine))
    assert [outcome.work for outcome in outcomes] == [record.work for record in read.records[:6]]
    assert [outcome.work for outcome in outcomes if isinstance(outcome, Failed)] == [KILLER]


def test_workers_that_would_read_otherwise_are_refused(
    cluster: Any, small_records: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = tuple((name, "1.0" if name == "pillow" else number) for name, number in libraries())
    monkeypatch.setattr("ingest.cluster.libraries", lambda: other)
    with pytest.raises(ArchiveError, match=r"has pillow [\d.]+ and this computer 1\.0"):
        ingest(read_records(small_records), tmp_path, scheduler=cluster.scheduler_address)


def test_a_folder_that_workers_do_not_see_is_said_once(cluster: Any, tmp_path: Path) -> None:
    with Cluster(cluster.scheduler_address) as engine:
        engine.see(tmp_path)
        with pytest.raises(EngineFault, match="does not see the folder"):
            engine.see(tmp_path / "elsewhere")


def test_a_scheduler_that_is_not_there_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ingest.cluster._PATIENCE", 0.5)
    with pytest.raises(EngineFault, match=r"No scheduler answers at tcp://127\.0\.0\.1:9"):
        Cluster("tcp://127.0.0.1:9")
