"""Documentation that cannot rot: fresh generated pages, links that lead somewhere, real commands."""

from __future__ import annotations

import importlib.util
import re
import subprocess
import tomllib
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGES = sorted([*ROOT.glob("*.md"), *ROOT.glob("docs/*.md"), *ROOT.glob("public_domain_samples/*.md")])


@pytest.fixture(scope="module")
def generate() -> ModuleType:
    spec = importlib.util.spec_from_file_location("generate", ROOT / "docs" / "generate.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("name", ["collections.md", "commands.md", "records.md", "schema.md"])
def test_generated_pages_are_fresh(generate: ModuleType, name: str) -> None:
    assert name in generate.PAGES
    kept = (ROOT / "docs" / name).read_text(encoding="utf-8")
    assert kept == generate.PAGES[name](), f"docs/{name} is stale: run python docs/generate.py"


def test_every_command_is_documented(generate: ModuleType) -> None:
    text = (ROOT / "docs" / "commands.md").read_text(encoding="utf-8")
    for name in generate.blotbook.commands:
        assert f"## `blotbook {name}`" in text


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.relative_to(ROOT).as_posix())
def test_links_within_the_repository_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#\s]+)[^)]*\)", page.read_text(encoding="utf-8")):
        if not target.startswith(("http:", "https:", "mailto:")):
            assert (page.parent / target).exists(), target


def test_readme_shows_the_two_commands_that_the_checks_run() -> None:
    lines = (ROOT / "README.md").read_text(encoding="utf-8").splitlines()
    commands = [line.strip() for line in lines if line.startswith("    python3 -m venv .venv && ")]
    assert len(commands) == 2
    assert commands[0].endswith(" && .venv/bin/blotbook demo")
    assert commands[1].endswith(" && .venv/bin/python -m pytest")
    assert all(" -c docs/constraints.txt " in command for command in commands)
    picked = "grep -m 1 '^    python3 -m venv .*pytest$' README.md"
    assert picked in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_readme_names_only_commands_and_options_that_exist(generate: ModuleType) -> None:
    shown = re.findall(r"blotbook (\w+)([^`\n&]*)", (ROOT / "README.md").read_text(encoding="utf-8"))
    assert {name for name, _ in shown} >= {"demo", "ingest", "match", "serve"}
    for name, rest in shown:
        command = generate.blotbook.commands[name]
        for part in rest.split():
            if not hasattr(command, "commands"):
                break
            command = command.commands[part]
        known = {option for parameter in command.params for option in parameter.opts}
        assert set(re.findall(r"(?<=\s)--[\w-]+", rest)) <= known, f"blotbook {name}{rest}"


def test_constraints_pin_each_library_that_the_project_asks_for() -> None:
    pinned = dict(re.findall(r"^([\w.-]+)==(\S+)$", (ROOT / "docs" / "constraints.txt").read_text(), re.M))
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asked = [
        *project["dependencies"],
        *(x for extra in project["optional-dependencies"].values() for x in extra),
    ]
    names = {re.split(r"[\[<>=]", requirement)[0] for requirement in asked} - {"blotbook"}
    assert names <= set(pinned)


def test_checks_can_be_run() -> None:
    script = ROOT / ".ci" / "run"
    assert script.stat().st_mode & 0o111
    subprocess.run(["bash", "-n", str(script)], check=True)
