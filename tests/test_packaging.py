"""The distribution: quick to import, and a built wheel that holds all it needs."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGES = ("archive", "ingest", "public_domain_samples")
LEAVE_OUT = shutil.ignore_patterns(".*", "__pycache__", "build", "dist", "*.egg-info", "demo-archive")


def _python(code: str, folder: Path, path: Path) -> str:
    """Return what a fresh interpreter prints that finds our packages in ``path`` alone."""
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(path), "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


@pytest.mark.parametrize("package", ["ingest", "archive"])
def test_import_is_light(package: str, tmp_path: Path) -> None:
    code = (
        "import sys, time; start = time.perf_counter(); "
        f"import {package}; "
        "print(time.perf_counter() - start, [name for name in "
        "('sklearn', 'skimage', 'scipy', 'datasette', 'PIL') if name in sys.modules])"
    )
    # The best of three: the first may have to read everything from a cold disk.
    printed = [_python(code, tmp_path, ROOT).split(maxsplit=1) for _ in range(3)]
    assert {heavy for _, heavy in printed} == {"[]"}
    assert min(float(seconds) for seconds, _ in printed) < 0.3


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the wheel from a copy, since building leaves folders behind, and without asking a registry."""
    pytest.importorskip("setuptools", minversion="77")
    folder = tmp_path_factory.mktemp("wheel")
    shutil.copytree(ROOT, folder / "source", ignore=LEAVE_OUT)
    subprocess.run(
        [
            *(sys.executable, "-m", "pip", "wheel", "--no-deps", "--no-build-isolation", "--quiet"),
            *("--disable-pip-version-check", "--wheel-dir", str(folder), str(folder / "source")),
        ],
        check=True,
        timeout=300,
    )
    (built,) = folder.glob("blotbook-*.whl")
    return built


def test_the_wheel_holds_every_file_of_the_packages_and_no_other_package(wheel: Path) -> None:
    source = wheel.parent / "source"
    ours = {
        path.relative_to(source).as_posix()
        for package in PACKAGES
        for path in (source / package).rglob("*")
        if path.is_file()
    }
    with zipfile.ZipFile(wheel) as archive:
        held = {name for name in archive.namelist() if ".dist-info/" not in name}
    assert held == ours
    assert {"public_domain_samples/records.csv", "archive/py.typed", "ingest/py.typed"} <= held
    assert any(name.startswith("archive/pages/templates/") for name in held)
    assert any(name.startswith("archive/pages/static/") for name in held)
    assert any(name.startswith("archive/schema/") and name.endswith(".sql") for name in held)


def test_the_wheel_names_licence_command_and_plugin(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        texts = {
            name.split(".dist-info/")[1]: archive.read(name).decode("utf-8")
            for name in archive.namelist()
            if name.endswith(("/METADATA", "/entry_points.txt", "/LICENSE"))
        }
    assert "License-Expression: MIT" in texts["METADATA"]
    assert "MIT License" in texts["licenses/LICENSE"]
    assert "blotbook = archive.command:main" in texts["entry_points.txt"]
    assert "blotbook = archive.pages" in texts["entry_points.txt"]


def test_samples_are_found_from_the_unpacked_wheel(wheel: Path, tmp_path: Path) -> None:
    site = tmp_path / "site"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(site)
    code = (
        "import csv, archive.command, public_domain_samples as samples; "
        "rows = list(csv.DictReader(samples.RECORDS.open(encoding='utf-8'))); "
        "files = [samples.FOLDER / row['file'] for row in rows]; "
        "print(archive.command.__file__, len(rows), sum(file.is_file() for file in files))"
    )
    command, rows, files = _python(code, tmp_path, site).rsplit(maxsplit=2)
    assert Path(command).is_relative_to(site)
    assert int(rows) == int(files) > 210
