"""The server: its address, its settings, how it stops, what it says when it can't."""

from __future__ import annotations

import hashlib
import os
import signal
import socket
import subprocess
import sys
import threading
import urllib.error
import urllib.request
from email.message import Message
from pathlib import Path
from typing import Any

import pytest

from archive.errors import ArchiveError
from archive.serving import SETTINGS, ServingError, build_datasette, serve

COMMAND = [sys.executable, "-c", "from archive.command import main; main()"]


def fetch(address: str) -> tuple[int, dict[str, str], bytes]:
    try:
        with urllib.request.urlopen(address, timeout=20) as answer:
            return answer.status, lowered(answer.headers), answer.read()
    except urllib.error.HTTPError as error:
        return error.code, lowered(error.headers), error.read()


def lowered(headers: Message) -> dict[str, str]:
    return {name.lower(): value for name, value in headers.items()}


@pytest.fixture
def served(small_archive: Path) -> Any:
    process = subprocess.Popen(
        [*COMMAND, "serve", "--archive", str(small_archive), "--port", "0"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    line = process.stdout.readline()
    address = next((word for word in line.split() if word.startswith("http://")), "")
    yield process, address
    process.kill()
    process.communicate()


def test_the_command_prints_an_address_that_answers(served: Any) -> None:
    process, address = served
    assert address.startswith("http://127.0.0.1:")
    status, headers, body = fetch(address)
    assert status == 200
    assert b"<h1>" in body
    assert "server" not in headers
    process.send_signal(signal.SIGINT)
    out, errors = process.communicate(timeout=20)
    assert process.returncode == 0
    assert "Traceback" not in out + errors


def test_stopping_while_somebody_sends_a_picture_is_no_fault(served: Any) -> None:
    process, address = served
    head = (
        "POST /-/find HTTP/1.1\r\nHost: localhost\r\nContent-Type: multipart/form-data; boundary=b\r\n"
        "Content-Length: 1000\r\n\r\n--b"
    )
    with socket.create_connection(("127.0.0.1", int(address.rstrip("/").rpartition(":")[2]))) as line:
        line.sendall(head.encode())
        assert fetch(address)[0] == 200
        process.send_signal(signal.SIGINT)
        out, errors = process.communicate(timeout=20)
    assert process.returncode == 0
    assert "Traceback" not in out + errors


def test_pictures_are_kept_by_browsers_for_good(served: Any, small_archive: Path) -> None:
    _, address = served
    picture = next((small_archive / "pictures").rglob("*.jpeg"))
    name = picture.relative_to(small_archive).as_posix()
    digest = hashlib.sha256(picture.read_bytes()).hexdigest()
    assert picture.stem == digest
    status, headers, body = fetch(f"{address}{name}?_hash={digest[:12]}")
    assert status == 200
    assert body == picture.read_bytes()
    assert headers["content-type"] == "image/jpeg"
    assert "immutable" in headers["cache-control"]
    status, headers, _ = fetch(f"{address}{name}")
    assert "immutable" not in headers.get("cache-control", "")
    for outside in ("../archive.db", "%2e%2e/archive.db", "..%2Farchive.db"):
        assert fetch(f"{address}pictures/{outside}")[0] == 404, outside


def test_a_taken_port_is_said_so(small_archive: Path) -> None:
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        holder.listen()
        port = holder.getsockname()[1]
        with pytest.raises(ServingError, match=rf"^Port {port} is taken by another program; .*--port\.$"):
            serve(small_archive, "127.0.0.1", port)
        done = subprocess.run(
            [*COMMAND, "serve", "--archive", str(small_archive), "--port", str(port)],
            capture_output=True, text=True, timeout=60, check=False,
        )  # fmt: skip
    assert done.returncode == 1
    assert done.stderr.count("\n") == 1
    assert f"Port {port} is taken" in done.stderr


@pytest.mark.parametrize("host", ["no.such.host.invalid", "203.0.113.7"])
def test_an_address_that_is_not_ours_is_said_so(small_archive: Path, host: str) -> None:
    with pytest.raises(ServingError, match="is no address of this computer"):
        serve(small_archive, host, 0, mode="kiosk")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may use every port")
def test_a_port_of_the_system_is_said_so(small_archive: Path) -> None:
    with pytest.raises(ServingError, match="1024"):
        serve(small_archive, "127.0.0.1", 80)


def test_a_folder_without_an_archive_is_said_so(tmp_path: Path) -> None:
    with pytest.raises(ArchiveError):
        build_datasette(tmp_path)
    assert list(tmp_path.iterdir()) == [], "looking must not make anything"


def test_ready_is_told_the_address_while_it_serves(small_archive: Path) -> None:
    answered: list[tuple[int, bytes]] = []

    def ready(address: str) -> None:
        def ask() -> None:
            try:
                status, _, body = fetch(address + "-/about.json")
                answered.append((status, body))
            finally:
                os.kill(os.getpid(), signal.SIGINT)

        threading.Thread(target=ask).start()

    serve(small_archive, "127.0.0.1", 0, ready=ready)
    assert answered[0][0] == 200


@pytest.mark.asyncio
async def test_sql_is_free_but_not_for_long(small_archive: Path) -> None:
    datasette = build_datasette(small_archive)
    endless = "with recursive n(i) as (select 1 union all select i + 1 from n) select count(*) from n"
    response = await datasette.client.get("/archive/-/query.json", params={"sql": endless})
    assert response.status_code == 400
    assert datasette.setting("sql_time_limit_ms") == SETTINGS["sql_time_limit_ms"] <= 5000


@pytest.mark.asyncio
async def test_the_archive_is_opened_as_it_never_changes(small_archive: Path) -> None:
    datasette = build_datasette(small_archive)
    database = datasette.get_database("archive")
    assert database.is_mutable is False
    for sql in ("delete from works", "attach 'x.db' as x", "pragma user_version = 9"):
        answer = await datasette.client.get("/archive/-/query.json", params={"sql": sql})
        assert answer.status_code >= 400, sql
    assert (await datasette.client.get("/archive/works.json?_extra=count")).json()["count"] > 0
    names = {path.name for path in small_archive.iterdir()}
    assert not {name for name in names if name.startswith("archive.db-")}
