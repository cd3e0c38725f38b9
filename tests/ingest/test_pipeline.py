"""Many pictures, several processes, one outcome for each."""

from __future__ import annotations

import hashlib
import io
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from painting import paint, write_collection
from PIL import Image

from ingest import pipeline
from ingest.picture import WORKING_SIDE
from ingest.pipeline import Failed, Reduced, Task, Unchanged, reduce, reduce_one, street_version
from ingest.provenance import Records, SourceRecord, read_records
from ingest.reading import read


def _png() -> bytes:
    buffer = io.BytesIO()
    paint("bands").save(buffer, "PNG")
    return buffer.getvalue()


PNG = _png()


@pytest.fixture(scope="module")
def records(small_records: Path) -> Records:
    return read_records(small_records)


def record(work: str, file: str, sha256: str = "") -> SourceRecord:
    return SourceRecord(work=work, file=file, sha256=sha256)


def test_an_outcome_holds_what_the_reading_found(tmp_path: Path) -> None:
    paint("light-mass", size=(1200, 900)).save(tmp_path / "a.png")
    outcome = reduce_one(Task("a", tmp_path / "a.png"))
    reading = read(tmp_path / "a.png")
    assert isinstance(outcome, Reduced)
    assert outcome.measures == reading.measures
    assert outcome.masses == reading.masses
    assert outcome.signature == reading.signature.tobytes()
    assert outcome.sentence == reading.sentence
    assert (outcome.width, outcome.height, outcome.display) == (1200, 900, (960, 720))
    assert outcome.sha256 == hashlib.sha256((tmp_path / "a.png").read_bytes()).hexdigest()


def test_the_pictures_of_an_outcome_are_what_they_are_said_to_be(tmp_path: Path) -> None:
    paint("bands", size=(1200, 900)).save(tmp_path / "a.png")
    outcome = reduce_one(Task("a", tmp_path / "a.png"))
    assert isinstance(outcome, Reduced)
    opened = {name: Image.open(io.BytesIO(shown.content)) for name, shown in outcome.pictures.items()}
    assert {name: (image.format, image.size) for name, image in opened.items()} == {
        "painting": ("JPEG", (960, 720)),
        "thumb": ("JPEG", (320, 240)),
        "squint": ("JPEG", (WORKING_SIDE, WORKING_SIDE * 3 // 4)),
        "map2": ("PNG", (640, 480)),
        "map3": ("PNG", (640, 480)),
        "map5": ("PNG", (640, 480)),
    }
    assert all(shown.suffix == opened[name].format.lower() for name, shown in outcome.pictures.items())
    # Three bands: the three-value map has its three greys and nothing between them.
    greys = np.asarray(opened["map3"].convert("L"))
    assert len(np.unique(greys)) == 3
    assert greys[60].mean() > greys[240].mean() > greys[420].mean()


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "empty"),
        (b"no picture at all", "not a picture"),
        (PNG[: len(PNG) // 2], "damaged"),
    ],
)
def test_a_picture_that_cannot_be_read_has_a_reason(tmp_path: Path, content: bytes, says: str) -> None:
    (tmp_path / "x.png").write_bytes(content)
    outcome = reduce_one(Task("x", tmp_path / "x.png"))
    assert isinstance(outcome, Failed)
    assert outcome.reason.endswith(".")
    assert says in outcome.reason


def test_missing_foreign_and_folders_have_reasons(tmp_path: Path) -> None:
    paint("bands").save(tmp_path / "a.png")
    assert reduce_one(Task("a", tmp_path / "none.png")) == Failed("a", "There is no such file.")
    assert reduce_one(Task("a", tmp_path)) == Failed("a", "There is no such file.")
    wrong = reduce_one(Task("a", tmp_path / "a.png", stated="0" * 64))
    assert isinstance(wrong, Failed)
    assert "sha256" in wrong.reason


def test_known_bytes_are_not_read_again(tmp_path: Path) -> None:
    paint("bands").save(tmp_path / "a.png")
    digest = hashlib.sha256((tmp_path / "a.png").read_bytes()).hexdigest()
    assert reduce_one(Task("a", tmp_path / "a.png", known=digest)) == Unchanged("a")
    assert isinstance(reduce_one(Task("a", tmp_path / "a.png", known="0" * 64)), Reduced)


def test_a_fault_of_ours_costs_one_picture(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def faulty(*_: object) -> None:
        _ = 1 // 0

    paint("bands").save(tmp_path / "a.png")
    monkeypatch.setattr("ingest.reading.squint", faulty)
    outcome = reduce_one(Task("a", tmp_path / "a.png"))
    assert isinstance(outcome, Failed)
    assert "ZeroDivisionError" in outcome.reason


def test_outcomes_come_in_order_and_do_not_depend_on_the_workers(records: Records) -> None:
    progress: list[int] = []
    one = list(reduce(records.records, records.folder, workers=1, on_progress=progress.append))
    two = list(reduce(records.records, records.folder, workers=2))
    assert one == two
    assert [outcome.work for outcome in one] == [record.work for record in records.records]
    assert all(isinstance(outcome, Reduced) for outcome in one)
    assert progress == list(range(1, len(one) + 1))


def test_bad_pictures_among_good_ones_cost_only_themselves(tmp_path: Path) -> None:
    listed = []
    for number in range(9):
        file = tmp_path / f"{number}.png"
        if number % 3 == 1:
            file.write_bytes(b"not a picture")
        else:
            paint("bands", number).save(file)
        listed.append(record(f"w{number}", file.name))
    outcomes = list(reduce(listed, tmp_path, workers=2))
    assert [type(outcome) for outcome in outcomes] == [Reduced, Failed, Reduced] * 3


def test_a_worker_killed_from_outside_loses_nothing(records: Records) -> None:
    killed: list[int] = []

    def kill_one(done: int) -> None:
        if done == 4:
            worker = multiprocessing.active_children()[0]
            os.kill(worker.pid or 0, signal.SIGKILL)
            killed.append(done)

    outcomes = list(reduce(records.records, records.folder, workers=2, on_progress=kill_one))
    assert killed == [4]
    assert [type(outcome) for outcome in outcomes] == [Reduced] * len(records.records)
    assert [outcome.work for outcome in outcomes] == [record.work for record in records.records]


def die_at_the_third(task: Task) -> pipeline.Outcome:
    """Stands in for a decoder that brings its process down at one certain picture."""
    if task.work == "made-02":
        os._exit(11)
    return Unchanged(task.work)


def test_a_picture_that_brings_its_process_down_is_named(records: Records, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pipeline, "reduce_one", die_at_the_third)
    outcomes = list(reduce(records.records, records.folder, workers=2))
    assert [outcome.work for outcome in outcomes] == [record.work for record in records.records]
    (failed,) = [outcome for outcome in outcomes if isinstance(outcome, Failed)]
    assert failed.work == "made-02"
    assert "broke down" in failed.reason


def process_number(task: Task) -> pipeline.Outcome:
    """Names the process that it runs in."""
    return Failed(task.work, str(os.getpid()))


def test_workers_make_way_for_new_ones(records: Records, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pipeline, "_RENEWED_AFTER", 3)
    monkeypatch.setattr(pipeline, "reduce_one", process_number)
    outcomes = list(reduce(records.records[:7], records.folder, workers=1))
    numbers = [outcome.reason for outcome in outcomes if isinstance(outcome, Failed)]
    assert len(outcomes) == len(numbers) == 7
    assert len(set(numbers[:3])) == len(set(numbers[3:6])) == 1
    assert len(set(numbers)) == 3


def threads(task: Task) -> pipeline.Outcome:
    """Names the limits on threads that hold in the process, once NumPy is loaded."""
    import threadpoolctl

    found = {pool["num_threads"] for pool in threadpoolctl.threadpool_info() if pool["user_api"] == "blas"}
    return Failed(task.work, f"{os.environ['OMP_NUM_THREADS']} {sorted(found)} {np.__name__}")


def test_each_worker_keeps_to_one_thread(records: Records, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pipeline, "reduce_one", threads)
    (outcome,) = reduce(records.records[:1], records.folder, workers=1)
    assert isinstance(outcome, Failed)
    assert outcome.reason.startswith("1 ")


def test_leaving_early_ends_the_workers(records: Records) -> None:
    outcomes = reduce(records.records, records.folder, workers=2)
    next(outcomes)
    outcomes.close()
    assert multiprocessing.active_children() == []


@pytest.mark.skipif(sys.platform == "win32", reason="asks the system for processes in the way of POSIX")
def test_workers_do_not_outlive_a_parent_that_is_killed(tmp_path: Path) -> None:
    write_collection(tmp_path / "collection")
    script = tmp_path / "parent.py"
    script.write_text(
        "import multiprocessing, sys, time\n"
        "from pathlib import Path\n"
        "from ingest.pipeline import reduce\n"
        "from ingest.provenance import read_records\n"
        "if __name__ == '__main__':\n"
        "    read = read_records(Path(sys.argv[1]))\n"
        "    for _ in reduce(read.records, read.folder, workers=2):\n"
        "        print(*(child.pid for child in multiprocessing.active_children()), flush=True)\n"
        "        time.sleep(60)\n"
    )
    root = Path(pipeline.__file__).parents[1]
    with subprocess.Popen(
        [sys.executable, script, tmp_path / "collection" / "records.csv"],
        env={**os.environ, "PYTHONPATH": str(root)},
        stdout=subprocess.PIPE,
        text=True,
    ) as parent:
        assert parent.stdout is not None
        workers = [int(number) for number in parent.stdout.readline().split()]
        parent.kill()
    assert len(workers) == 2
    deadline = time.monotonic() + 10
    while any(is_running(worker) for worker in workers) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert not any(is_running(worker) for worker in workers)


def is_running(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    state = Path(f"/proc/{process}/stat")
    return not state.exists() or state.read_text().rsplit(")", 1)[1].split()[0] != "Z"


def test_the_version_names_the_reading_and_the_pictures() -> None:
    from ingest.reading import READING_VERSION
    from ingest.showing import SHOWING_VERSION

    assert street_version() == f"{READING_VERSION}-{SHOWING_VERSION}"


def test_handing_out_work_does_not_load_numpy() -> None:
    # A worker sets its number of threads before NumPy is loaded, so the module that it starts in must not load it.
    code = "import sys, ingest.pipeline; sys.exit('numpy' in sys.modules)"
    root = Path(pipeline.__file__).parents[1]
    assert subprocess.run([sys.executable, "-c", code], cwd=root, check=False).returncode == 0
