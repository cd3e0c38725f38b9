"""Write ``commands.md``, ``schema.md`` and ``records.md`` in this folder from the program itself.

    python docs/generate.py

A test fails while one of them says something else than the program does. Blotbook has to be installed.
"""

from __future__ import annotations

import re
import sqlite3
import tempfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import click

from archive.command import main as blotbook
from archive.schema import VERSION
from archive.store import DATABASE, Archive
from ingest import formulas
from ingest.provenance import COLUMNS
from ingest.rights import ADMITTED, REFUSED, WORDS

HERE = Path(__file__).resolve().parent
NOTE = "<!-- Written by generate.py; change the program and run it again. -->"
WIDTH = 96


def commands() -> str:
    """Return commands.md: the help of the command and of each of its parts, as a terminal shows it."""
    pages = [f"## `{path}`\n\n```text\n{text}\n```" for path, text in _helps(blotbook, "blotbook", None)]
    return "\n\n".join(["# Commands", NOTE, *pages]) + "\n"


def schema() -> str:
    """Return schema.md: every table and view of a new archive, and what each measure means."""
    with tempfile.TemporaryDirectory() as folder:
        Archive.create(Path(folder) / "archive").close()
        connection = sqlite3.connect(Path(folder) / "archive" / DATABASE)
        kept = connection.execute(
            "SELECT type, name, sql FROM sqlite_master WHERE type IN ('table', 'view') "
            "AND name NOT LIKE 'sqlite_%' AND name NOT GLOB 'works_fts_*' ORDER BY type, name"
        ).fetchall()
        measures = connection.execute(
            "SELECT measure, unit, says, formula, source FROM measure_meanings ORDER BY place"
        ).fetchall()
        connection.close()
    said = _comments()
    parts = [
        "# Tables of an archive",
        NOTE,
        f"An archive is a folder; its `{DATABASE}` is a SQLite database of these tables (schema {VERSION}). "
        "Other programs may read it at any time: it is replaced as a whole and never changed in place. "
        "Pictures are named as they lie under `pictures/`.",
    ]
    for kind, name, sql in kept:
        title = f"## `{name}`" + (" (view)" if kind == "view" else "")
        parts += [title, *([said[name]] if name in said else []), f"```sql\n{sql}\n```"]
    symbols = (formulas.__doc__ or "").split("\n\n")[1].replace("\n", " ").strip()
    parts += ["## What the measures mean", symbols, _table(("measure", "unit", "says", "formula", "after"), measures)]
    return "\n\n".join(parts) + "\n"


RECORDS = """\
# Records and rights

{note}

A records file is a CSV with one row for each picture and these columns: {columns}. Only `file` (a path
relative to the records file) and `rights` are needed; the others may be left out, and columns of other names
are left alone. A field that is not known is empty. A row that cannot be used is set aside with its reason and
costs the others nothing. `subject` may name several, parted by semicolons; `country` is where the work was made or
its painter's country.

A work keeps its name for good: the `id` column where there is one, or else collection and accession number,
or else the path of its file. Where `sha256` is given, the file's bytes must have that hash.

Margins, mounts and frames round a painting are trimmed by themselves. Where that goes wrong, `part` overrules
it for one work: `whole` keeps all of the file, and `x0,y0,x1,y1` (left, top, right and bottom in pixels of the
upright file; in quotation marks where commas part the columns) keeps that rectangle. `blotbook read --part` tries a
part out. When the field changes, the next ingest reads that work again.

## Rights that admit a picture

The address may be written with `http` or `https`, with or without a closing slash. Plain words are read
without regard to capitals and punctuation.

{admitted}

## Rights that do not

Pictures with these statements are refused and counted, and so are those with any other statement or none.

{refused}
"""


def records() -> str:
    """Return records.md: the columns of a records file, and which rights admit a picture."""
    words = {
        statement.uri: ", ".join(f"`{words}`" for words, meant in WORDS.items() if meant is statement)
        for statement in ADMITTED
    }
    admitted = [(statement.uri, statement.name, words[statement.uri]) for statement in ADMITTED]
    refused = [(statement.uri, statement.name, statement.reason) for statement in REFUSED]
    return RECORDS.format(
        note=NOTE,
        columns=", ".join(f"`{column}`" for column in COLUMNS),
        admitted=_table(("statement", "name", "or in words"), admitted),
        refused=_table(("statement", "name", "because"), refused),
    )


def _helps(command: click.Command, path: str, parent: click.Context | None) -> Iterator[tuple[str, str]]:
    settings = {**command.context_settings, "terminal_width": WIDTH}
    context = click.Context(command, info_name=path.split()[-1], parent=parent, **settings)
    yield path, command.get_help(context)
    if isinstance(command, click.Group):
        for name in command.list_commands(context):
            part = command.get_command(context, name)
            if part is not None and not part.hidden:
                yield from _helps(part, f"{path} {name}", context)


def _comments() -> dict[str, str]:
    """Return the remark above each CREATE TABLE in the migrations, by table."""
    found = {}
    for script in sorted((HERE.parent / "archive" / "schema").glob("*.sql")):
        text = script.read_text(encoding="utf-8")
        for remark, name in re.findall(r"((?:^--.*\n)+)CREATE (?:VIRTUAL )?(?:TABLE|VIEW) (\w+)", text, re.M):
            found[name] = " ".join(line.removeprefix("--").strip() for line in remark.splitlines())
    return found


def _table(heads: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    lines = ["| " + " | ".join(heads) + " |", "|" + "---|" * len(heads)]
    for name, *rest in rows:
        cells = [f"`{name}`", *(str(cell).replace("|", "\\|") for cell in rest)]
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines)


PAGES: dict[str, Callable[[], str]] = {"commands.md": commands, "schema.md": schema, "records.md": records}


def main() -> int:
    """Write the pages."""
    for name, page in PAGES.items():
        (HERE / name).write_text(page(), encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
