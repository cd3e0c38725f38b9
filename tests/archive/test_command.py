"""The command as people and other programs use it: help, results, one sentence for each error."""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import click
import numpy as np
import pytest
from click.testing import CliRunner, Result
from painting import paint, write_collection
from PIL import Image

import archive.command
from archive.command import main
from archive.commands.progress import Progress
from archive.store import Archive

ROOT = Path(archive.command.__file__).parents[1]
RUN = [sys.executable, "-c", "from archive.command import main; main(prog_name='blotbook')"]


def run(*arguments: str | Path) -> Result:
    result = CliRunner().invoke(main, [str(argument) for argument in arguments], prog_name="blotbook")
    assert "Traceback" not in result.output
    return result


def lines(result: Result) -> list[dict[str, object]]:
    return [json.loads(line) for line in result.stdout.splitlines()]


def environment() -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"}


@pytest.fixture
def copy(small_archive: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(small_archive, tmp_path / "copy"))


@pytest.fixture
def study(tmp_path: Path) -> Path:
    paint("bands", 2).save(tmp_path / "study.png")
    return tmp_path / "study.png"


# -- help and errors -------------------------------------------------------------------------------------------


def test_help_names_every_part_and_each_part_explains_itself() -> None:
    assert run("--help").output == run().output
    assert set(main.commands) == {
        *("demo", "gather", "ingest", "match", "compare", "read", "panels", "arrange", "board", "practice"),
        *("serve", "verify", "withdraw", "pack", "unpack"),
    }
    for name, command in main.commands.items():
        assert name in run("--help").output
        text = run(name, "--help").output
        assert text.startswith(f"Usage: blotbook {name}")
        assert len((command.help or "").split()) > 25
        for parameter in command.params:
            if isinstance(parameter, click.Option):
                assert parameter.help, f"{name} {parameter.name}"


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys, archive, ingest, archive.command\n"
        "heavy = {'numpy', 'scipy', 'sklearn', 'skimage', 'PIL', 'datasette', 'uvicorn'} & set(sys.modules)\n"
        "sys.exit(', '.join(heavy) or 0)"
    )
    asked = subprocess.run([sys.executable, "-c", code], env=environment(), capture_output=True, check=False)
    assert (asked.returncode, asked.stderr) == (0, b"")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["paint"], "No such command 'paint'"),
        (["match", "--archive", "x"], "Missing argument 'STUDY...'"),
        (["match", "x.png"], "Missing option '--archive'"),
        (["ingest", "none.csv", "--archive", "x"], "'none.csv' does not exist"),
        (["read", "x.png", "--values", "4"], "'4' is not one of"),
        (["read", "x.png", "y.png", "--map", "out.png"], "--map takes one picture at a time"),
        (["read", "x.png", "--map", "out.jpg"], "must end in .png"),
        (["match", "x.png", "--archive", "x", "--count", "0"], "0 is not in the range"),
        (["serve", "--archive", "x", "--port", "70000"], "70000 is not in the range"),
        (["demo", "--archive", "x", "--host", "0.0.0.0"], "No such option '--host'"),
        (["pack", "--archive", "x", "x.zip"], "without --archive: 'blotbook pack ARCHIVE FILE.zip'"),
        (["unpack", "x.zip", "--archive", "x"], "without --archive: 'blotbook unpack FILE.zip ARCHIVE'"),
        (["practice", "panels", "-o", "panels.txt"], "'panels.txt' should end in .pdf."),
    ],
)
def test_wrong_use_is_one_sentence_and_exit_code_2(arguments: list[str], says: str) -> None:
    result = run(*arguments)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert says in result.stderr
    assert result.stderr.count("\n") == 1
    assert result.stderr.startswith("blotbook: ")


@pytest.mark.parametrize(
    "arguments",
    [["match", "x.png"], ["arrange"], ["serve"], ["verify"]],
    ids=lambda arguments: arguments[0],
)
def test_no_archive_is_one_sentence_and_exit_code_1(arguments: list[str], tmp_path: Path) -> None:
    result = run(*arguments, "--archive", tmp_path / "none")
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr.startswith("blotbook: There is no archive in ")
    assert "'blotbook demo'" in result.stderr
    assert result.stderr.count("\n") == 1


def test_damage_met_while_reading_is_no_fault_of_ours(small_archive: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def faulty(*_: object, **__: object) -> None:
        problem = sqlite3.DatabaseError("database disk image is malformed")
        problem.sqlite_errorcode = sqlite3.SQLITE_CORRUPT
        raise problem

    monkeypatch.setattr("archive.verify.verify", faulty)
    result = run("verify", "--archive", small_archive)
    assert result.exit_code == 1
    assert result.stderr.startswith(
        "blotbook: The database of the archive is damaged (database disk image is malformed)"
    )
    assert "'blotbook unpack'" in result.stderr


def test_a_fault_of_ours_is_one_sentence_too(small_archive: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def faulty(*_: object, **__: object) -> None:
        message = "unforeseen"
        raise RuntimeError(message)

    monkeypatch.setattr("archive.verify.verify", faulty)
    result = run("verify", "--archive", small_archive)
    assert result.exit_code == 1
    assert "A fault in Blotbook stopped it (RuntimeError: unforeseen)" in result.stderr
    assert result.stderr.count("\n") == 1
    monkeypatch.setenv("BLOTBOOK_TRACEBACK", "1")
    raised = CliRunner().invoke(main, ["verify", "--archive", str(small_archive)])
    assert isinstance(raised.exception, RuntimeError)


def test_a_reader_that_leaves_early_is_no_error(small_archive: Path, study: Path) -> None:
    command = [*RUN, "match", *[str(study)] * 40, "--archive", str(small_archive), "--json"]
    with subprocess.Popen(command, env=environment(), stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.readline()
        process.stdout.close()
        assert process.stderr.read() == b""


# -- read ------------------------------------------------------------------------------------------------------


def test_read_says_how_a_picture_is_laid_out(study: Path) -> None:
    result = run("read", study)
    assert result.exit_code == 0
    assert "register" in result.output
    assert f"{study}: " in result.output


def test_read_as_json_is_one_object_a_line(study: Path, tmp_path: Path) -> None:
    from ingest.reading import read

    paint("light-mass", 1).save(tmp_path / "other.png")
    (tmp_path / "bad.png").write_bytes(b"x")
    result = run("read", study, tmp_path / "bad.png", tmp_path / "other.png", tmp_path / "none.png", "--json")
    assert result.exit_code == 1
    first, bad, other, none = lines(result)
    reading = read(study)
    assert first["file"] == str(study)
    assert first["proportions"] == {
        name: round(getattr(reading.measures, name), 4) for name in ("light", "mid", "dark")
    }
    assert (first["register"], first["scale"]) == (reading.measures.register, reading.measures.scale)
    assert first["trimmed"] == [0, 0, 240, 180]
    assert first["sentence"] == reading.sentence
    assert isinstance(first["masses"], list)
    assert len(first["masses"]) == len(reading.masses)
    assert first["types"].keys() == reading.types.keys()  # type: ignore[attr-defined]
    assert other["file"] == str(tmp_path / "other.png")
    assert set(bad) == set(none) == {"file", "error"}


def test_read_tells_the_values_the_strongest_contrast_and_how_sure_the_map_is(study: Path) -> None:
    result = run("read", study, "--values", "5", "--json")
    (facts,) = lines(result)
    assert facts["sure"].keys() == {  # type: ignore[attr-defined]
        "values_present", "gap_light_mid", "gap_mid_dark", "unsure_light", "unsure_dark",
    }  # fmt: skip
    told = facts["map"]
    assert isinstance(told, dict)
    assert told["values"] == len(told["shares"]) == len(told["lightness"]) == len(told["thresholds"]) + 1 == 5
    assert sum(told["shares"]) == pytest.approx(1, abs=0.001)
    assert facts["profile"] == "sRGB, assumed: the file carries no profile"
    words = run("read", study, "--values", "5").output
    assert re.search(r"light \d+% \(L\* \d+\), half light .*, middle .*, half dark .*, dark \d+% \(L\* \d+\)", words)
    assert re.search(r"strongest contrast .*: a step of \d+ L\*, its edge (sharp|firm|soft)", words)


def test_read_squints_as_hard_as_asked(tmp_path: Path) -> None:
    paint("scattered", 4, (480, 360)).save(tmp_path / "study.png")
    light, hard = (run("read", tmp_path / "study.png", "--squint", share, "--json") for share in ("0.004", "0.08"))
    (fine,), (blot,) = lines(light), lines(hard)
    assert (fine["squint"], blot["squint"]) == (0.004, 0.08)
    assert len(fine["masses"]) > len(blot["masses"])  # type: ignore[arg-type]


def test_read_takes_the_part_that_is_named(study: Path) -> None:
    (facts,) = lines(run("read", study, "--part", "20,10,200,150", "--json"))
    assert (facts["trimmed"], facts["trims"]) == ([20, 10, 200, 150], ["cut to the part asked for"])
    assert "cut to the part asked for: read from 20,10 to 200,150 of 240 x 180 pixels" in run(
        "read", study, "--part", "20,10,200,150"
    ).output  # fmt: skip
    beyond = run("read", study, "--part", "20,10,2000,150")
    assert beyond.exit_code == 1
    assert "does not lie within the picture, which is 240 x 180 pixels." in beyond.stderr
    assert run("read", study, study, "--part", "whole").exit_code == 0


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--squint", "0.5"], "--squint takes a share of the diagonal between 0.002 and 0.08, not 0.5."),
        (["--squint", "nan"], "--squint takes a share of the diagonal"),
        (["--part", "half"], "'half' is neither 'whole' nor four whole numbers of pixels as in 120,80,1620,1280."),
        (["other.png", "--part", "0,0,9,9"], "--part with a rectangle takes one picture at a time, and 2 are named."),
        (["other.png", "--map", "map.png"], "--map takes one picture at a time, and 2 are named."),
        (["--map", "map.jpg"], "--map writes a PNG, so its name must end in .png, not 'map.jpg'."),
    ],
)
def test_wrong_use_of_read_is_one_sentence(study: Path, arguments: list[str], says: str) -> None:
    result = run("read", study, *arguments)
    assert result.exit_code == 2
    assert says in result.stderr
    assert result.stderr.count("\n") == 1


@pytest.mark.parametrize("values", [2, 3, 5])
def test_read_writes_the_value_map(study: Path, tmp_path: Path, values: int) -> None:
    out = tmp_path / "map.png"
    assert run("read", study, "--values", str(values), "--map", out).exit_code == 0
    with Image.open(out) as image:
        assert image.size == (640, 480)
        assert 2 <= len(np.unique(np.asarray(image))) <= values


def test_a_file_that_is_written_over_is_named(study: Path, tmp_path: Path) -> None:
    for arguments in (["read", study, "--map", tmp_path / "map.png"], ["practice", "panels", "-o", tmp_path / "p.pdf"]):
        assert run(*arguments).stderr == ""
        assert run(*arguments).stderr == f"Note: {arguments[-1]} was there already and was replaced.\n"


def test_a_map_that_cannot_be_written_is_one_sentence(study: Path, tmp_path: Path) -> None:
    result = run("read", study, "--map", tmp_path / "none" / "map.png")
    assert result.exit_code == 1
    assert "No such file or directory" in result.stderr
    assert result.stderr.count("\n") == 1


# -- ingest ----------------------------------------------------------------------------------------------------


def test_ingest_says_what_became_of_everything(tmp_path: Path) -> None:
    records = write_collection(tmp_path / "collection", 6)
    with records.open("a", encoding="utf-8") as file:
        file.write("x1,pictures/none.png,T,P,,,M,1,CC0,,\n")
        file.write("x2,pictures/x.png,T,P,,,M,2,http://rightsstatements.org/vocab/UND/1.0/,,\n")
        file.write("x3,pictures/y.png,T,P,,,M,3,Copyright Undetermined,,\n")
    result = run("ingest", records, "--archive", tmp_path / "archive", "--workers", "2")
    assert result.exit_code == 0
    said = [" ".join(line.split()) for line in result.stdout.splitlines()]
    assert said[0] == "6 came in"
    assert "0 already there" in said
    assert "2 refused for their rights" in said
    assert "2 Copyright Undetermined" in said
    assert "1 could not be read" in said
    assert "pictures/none.png: There is no such file." in said
    assert said[-1] == "The archive has 6 works."
    assert "looking through 7 of 7" in result.stderr
    again = run("ingest", records, "--archive", tmp_path / "archive")
    assert "6 already there" in " ".join(again.stdout.split())
    assert "0 came in" in " ".join(again.stdout.split())


def test_ingest_fails_when_no_work_comes_of_it(tmp_path: Path) -> None:
    (tmp_path / "records.csv").write_text("file,rights\nnone.png,CC0\nb.png,no idea\n")
    result = run("ingest", tmp_path / "records.csv", "--archive", tmp_path / "archive")
    assert result.exit_code == 1
    assert "none.png: There is no such file." in result.stdout
    (tmp_path / "records.csv").write_text("name,rights\nnone.png,CC0\n")
    result = run("ingest", tmp_path / "records.csv", "--archive", tmp_path / "archive")
    assert result.exit_code == 1
    assert "no column 'file'" in result.stderr


def test_long_lists_of_reasons_are_cut(tmp_path: Path) -> None:
    rows = "".join(f"{number}.png,CC0\n" for number in range(25))
    (tmp_path / "records.csv").write_text("file,rights\n" + rows)
    result = run("ingest", tmp_path / "records.csv", "--archive", tmp_path / "archive")
    assert result.stdout.count("There is no such file.") == 20
    assert "and 5 more" in result.stdout
    with Archive.open(tmp_path / "archive") as opened:
        assert opened.counts()["set_aside"] == 25


def test_the_interrupt_key_keeps_what_was_read(tmp_path: Path) -> None:
    import signal

    records = write_collection(tmp_path / "collection", 144)
    command = [*RUN, "ingest", str(records), "--archive", str(tmp_path / "archive"), "--workers", "2"]
    with subprocess.Popen(
        command, env=environment(), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stderr is not None
        # Six tenths are 87 pictures: three batches are committed, and no more than eight others are under way. What is
        # left takes long enough that a busy computer sends the signal before it is done.
        for _ in range(6):
            process.stderr.readline()
        process.send_signal(signal.SIGINT)
        rest = process.stderr.read()
    assert process.returncode == 1
    assert "Traceback" not in rest
    assert rest.splitlines()[-1] == (
        "blotbook: Stopped; what was read is kept, and the same command goes on from there."
    )
    again = run("ingest", records, "--archive", tmp_path / "archive", "--workers", "2")
    assert "72 already there" in " ".join(again.stdout.split())


# -- match, arrange, verify ------------------------------------------------------------------------------------


def test_match_as_json_is_one_object_a_line_and_a_bad_study_costs_no_other(
    small_archive: Path, study: Path, tmp_path: Path
) -> None:
    (tmp_path / "bad.png").write_bytes(b"x")
    Image.new("L", (200, 150), 128).save(tmp_path / "flat.png")
    result = run(
        "match", tmp_path / "bad.png", study, tmp_path / "flat.png",
        "--archive", small_archive, "--count", "3", "--json",
    )  # fmt: skip
    assert result.exit_code == 1
    bad, good, flat = lines(result)
    assert set(bad) == {"study", "error"}
    assert good["study"] == str(study)
    matches = good["matches"]
    assert isinstance(matches, list)
    assert len(matches) == 3
    assert {"work", "accession_number", "title", "artist", "similarity", "part", "mirrored", "sentence"} <= set(
        matches[0]
    )
    assert matches[0]["work"] in ("made-02", "made-10")
    similarities = [match["similarity"] for match in matches]
    assert similarities == sorted(similarities, reverse=True)
    assert flat["matches"] == []
    assert flat["note"]
    alone = run("match", tmp_path / "flat.png", "--archive", small_archive)
    assert alone.exit_code == 1
    assert "no pattern of values" in alone.stdout


def test_match_in_words_and_its_options(small_archive: Path, study: Path) -> None:
    result = run(
        "match", study, "--archive", small_archive, "--count", "2", "--whole", "--no-mirrored",
        "--heed-register",
    )  # fmt: skip
    assert result.exit_code == 0
    assert "1. Painter" in result.stdout
    assert re.search(r"\(made-02, likeness [01]\.\d\d\)", result.stdout), "called as on the pages"
    assert "mirrored" not in result.stdout


def test_match_names_only_works_that_the_records_choose(small_archive: Path, study: Path) -> None:
    every = run("match", study, "--archive", small_archive, "--count", "16", "--json")
    chosen = run("match", study, "--archive", small_archive, "--count", "16", "--json", "--only", "artist=Painter A")
    everything = [match["artist"] for match in json.loads(every.stdout)["matches"]]
    assert set(everything) > {"Painter A"}
    assert [match["artist"] for match in json.loads(chosen.stdout)["matches"]] == [
        artist for artist in everything if artist == "Painter A"
    ]
    both = ["--only", "artist=Painter B", "--only", "century=20"]
    nobody = run("match", study, "--archive", small_archive, "--json", *both)
    assert nobody.exit_code == 1
    assert lines(nobody)[0]["matches"] == []
    assert lines(nobody)[0]["note"]
    assert run("match", study, "--archive", small_archive, "--only", "artist").exit_code == 2
    unknown = run("match", study, "--archive", small_archive, "--only", "weather=fine")
    assert unknown.exit_code == 1
    assert "weather" in unknown.stderr


@pytest.mark.parametrize(
    ("only", "says"),
    [
        ("artist=painter-a", "; perhaps 'Painter A' is meant."),
        ("artist=Paintr C", "; perhaps 'Painter C' or "),
        ("century=1", "; there are 17, 18, 19, 20."),
        ("arrangement=bands", "; perhaps 'level-bands' is meant."),
        ("arrangement=nope", "; there are dark-mass-on-light-ground, "),
        ("register=low", "; perhaps 'lower' is meant."),
        ("culture=Dutch", "has culture=Dutch."),
    ],
)
def test_match_names_a_value_that_no_work_has_and_what_may_be_meant(
    small_archive: Path, study: Path, only: str, says: str
) -> None:
    result = run("match", study, "--archive", small_archive, "--only", only)
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr.startswith(f"blotbook: No work of the archive has {only}")
    assert says in result.stderr


def test_the_arrangement_that_the_help_of_match_names_is_there(small_archive: Path, study: Path) -> None:
    (named,) = re.findall(r"arrangement=[\w-]+", run("match", "--help").stdout)
    assert run("match", study, "--archive", small_archive, "--only", named).exit_code == 0
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert f"--lesson {named.partition('=')[2]}" in readme


def test_arrange_says_that_nothing_changed_and_lists_the_groups(copy: Path) -> None:
    result = run("arrange", "--archive", copy)
    assert result.exit_code == 0
    said = result.stdout.splitlines()
    assert said[0] == "Nothing has changed."
    assert said[-1].endswith("of no clear arrangement")
    assert sum(int(line.split()[0]) for line in said[1:]) == 16


def test_verify_says_what_is_wrong_and_repairs(copy: Path) -> None:
    assert run("verify", "--archive", copy).stdout == "The archive is in order.\n"
    (copy / "signatures.npy").unlink()
    result = run("verify", "--archive", copy)
    assert result.exit_code == 1
    assert "wrong: " in result.stdout
    assert "signatures.npy is missing" in result.stdout
    result = run("verify", "--archive", copy, "--repair")
    assert result.exit_code == 0
    assert "The signatures were written again." in result.stdout
    assert result.stdout.endswith("The archive is in order.\n")


def test_verify_names_the_way_out_last(copy: Path) -> None:
    shutil.rmtree(copy / "pictures")
    result = run("verify", "--archive", copy)
    assert result.exit_code == 1
    assert len(result.stdout.splitlines()) == 2
    assert "'blotbook verify --repair' first" in result.stdout.splitlines()[-1]
    assert "The next ingest" in run("verify", "--archive", copy, "--repair").stdout.splitlines()[-1]
    (copy / "archive.db").write_bytes(b"")
    assert "make it anew with 'blotbook ingest'" in run("verify", "--archive", copy).stdout.splitlines()[-1]


# -- serve and demo --------------------------------------------------------------------------------------------


def test_serve_prints_its_address_answers_and_ends_quietly(small_archive: Path) -> None:
    import signal

    command = [*RUN, "serve", "--archive", str(small_archive), "--port", "0"]
    with subprocess.Popen(
        command, env=environment(), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        said = process.stdout.readline()
        address = said.split()[4]
        assert said == f"The archive is at {address} (Ctrl-C ends it).\n"
        with urllib.request.urlopen(address, timeout=10) as answer:
            assert answer.status == 200
        process.send_signal(signal.SIGINT)
        deadline = time.monotonic() + 10
        while process.poll() is None and time.monotonic() < deadline:
            time.sleep(0.05)
        assert process.poll() == 0
        assert "Traceback" not in process.stderr.read()


def test_serve_says_at_its_start_that_the_boards_are_damaged(copy: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("archive.serving.serve", lambda *_, **__: None)
    assert run("serve", "--archive", copy).stderr == ""
    (copy / "boards.db").write_bytes(b"no boards at all" * 1000)
    assert run("serve", "--archive", copy).stderr.startswith("blotbook: boards.db is damaged: ")


def test_a_port_that_is_taken_is_one_sentence(small_archive: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        result = run("serve", "--archive", small_archive, "--port", str(taken.getsockname()[1]))
    assert result.exit_code == 1
    assert "is taken by another program" in result.stderr
    assert result.stderr.count("\n") == 1


def test_demo_makes_its_archive_once_and_says_how_to_go_on(
    small_records: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import public_domain_samples

    monkeypatch.setattr(public_domain_samples, "RECORDS", small_records)
    result = run("demo", "--archive", tmp_path / "demo", "--no-serve", "--workers", "2")
    assert result.exit_code == 0
    assert "The archive has 16 works." in result.stdout
    hint = next(line for line in result.stdout.splitlines() if "blotbook match" in line).split()
    assert Path(hint[2]).is_file()
    matched = run(*hint[1:], "--json")
    assert matched.exit_code == 0
    assert len(lines(matched)[0]["matches"]) == 5  # type: ignore[arg-type]
    assert f"blotbook serve --archive {tmp_path / 'demo'}" in result.stdout
    stamp = (tmp_path / "demo" / "archive.db").stat().st_mtime_ns
    again = run("demo", "--archive", tmp_path / "demo", "--no-serve")
    assert "16 already there" in " ".join(again.stdout.split())
    assert (tmp_path / "demo" / "archive.db").stat().st_mtime_ns == stamp


def test_demo_without_its_samples_is_one_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import public_domain_samples

    monkeypatch.setattr(public_domain_samples, "RECORDS", tmp_path / "none.csv")
    result = run("demo", "--archive", tmp_path / "demo", "--no-serve")
    assert result.exit_code == 1
    assert "The sample paintings are missing" in result.stderr
    assert not (tmp_path / "demo").exists()


# -- progress --------------------------------------------------------------------------------------------------


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_progress_elsewhere_than_on_a_terminal_is_a_line_for_each_tenth() -> None:
    stream, now = io.StringIO(), [0.0]
    with Progress("reading", stream, lambda: now[0]) as progress:
        for done in range(1, 101):
            now[0] += 0.5
            progress(done, 100)
    said = stream.getvalue().splitlines()
    assert len(said) == 10
    assert said[0] == "reading 10 of 100, 2.0 a second, 45 s left"
    assert said[-1] == "reading 100 of 100, 2.0 a second"


def test_progress_on_a_terminal_is_one_line_that_goes_away() -> None:
    stream, now = Terminal(), [0.0]
    with Progress("reading", stream, lambda: now[0]) as progress:
        for done in range(1, 5):
            now[0] += 3000
            progress(done, 4)
    text = stream.getvalue()
    assert "\n" not in text
    assert "2 h 30 min left" in text
    assert text.split("\r")[-2].strip() == ""
    assert all(len(part) <= 79 for part in text.split("\r"))


def test_progress_that_is_broken_off_leaves_its_line() -> None:
    stream = Terminal()
    with Progress("reading", stream, iter([0.0, 100.0]).__next__) as progress:
        progress(1, 4)
        progress.__exit__(KeyboardInterrupt, KeyboardInterrupt(), None)
        kept = stream.getvalue()
    assert kept.endswith("1 of 4, 0.0 a second, 5 min 00 s left\n")
