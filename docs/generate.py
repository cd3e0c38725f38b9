"""Write ``commands.md``, ``schema.md``, ``records.md`` and ``collections.md`` in this folder from the program itself.

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
from ingest.collections import MUSEUMS, museum
from ingest.collections.folder import Folder
from ingest.collections.iiif import Iiif
from ingest.collections.source import SIDE
from ingest.gather import MOST_IN_A_ROW
from ingest.gather_bring import MOST_ALIKE
from ingest.gather_picture import LEAST_SIDE, PLAIN, SHAPE
from ingest.gather_web import MOST_PATIENCE, TRIES, user_agent
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
relative to the records file, or an [address](scale.md#pictures-at-addresses)) and `rights` are needed; the others may
be left out, and columns of other names are left alone. A field that is not known is empty. A row that cannot be used
is set aside with its reason and costs the others nothing. `subject` may name several, parted by semicolons; `country`
is where the work was made or its painter's country.

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


COLLECTIONS = """\
# Open collections

{note}

`blotbook gather COLLECTION --into DIR` brings public-domain works of an open collection into a folder: pictures,
their records, hashes, and the records as they were received. `blotbook ingest DIR/records.csv --archive ARCHIVE`
takes them into an archive.

    blotbook gather aic --into chicago --limit 200 --contact you@school.example
    blotbook gather smk --query "harbour" --into copenhagen
    blotbook gather https://museum.example/iiif/collection.json --into museum
    blotbook gather ~/scans --into scans --column title=Bezeichnung --column file=Datei

## How it asks

- **By name.** Every request says `{agent}`; with `--contact`, a mail or web address by which the museum can reach you.
- **Slowly.** One thing at a time, and to each host no sooner than the collection's pace after the last; `--pace` makes
  it slower, nothing makes it faster. A host's robots.txt is read first and obeyed (RFC 9309), with its `Crawl-delay`.
  The terms of each collection are at the addresses below; to read them is yours to do.
- **For no more than needed.** Pictures of about {side} px on the longest side (`--side`), by IIIF where there is any,
  or the smaller of the files that are published. What has come is not asked for again.
- **Patiently.** A server that is busy (408, 425, 429, 500, 502, 503, 504) or silent is asked {tries} times in all,
  after as long as its `Retry-After` says, or else after about 1, 2, 4, 8 seconds, half of it by chance. One that
  wants to be left alone for more than {patience} minutes is, at once; so is one at which {row} works in a
  row did not come.
- **Public hosts only.** An address from a record or a redirect that leads into a private network is refused, as is a
  redirect from https to http. A host that you name yourself may lie anywhere.

## What comes, and what does not

A work comes when its record states rights that admit it ([Records and rights](records.md)), is of a wanted kind
(paintings; `--also drawings,prints` for those), and its picture passes the checks: as many bytes as were announced,
the content type of a picture, decoded without fault, at least {least} px on its longer side, of the shape that the
record states to within {shape:.0%}. A placeholder is told by one exact colour over {plain:.0%} of it, by another shape,
or by the very same file for {alike} works. Everything else is counted in the table at the end and named, with the
reason, in `DIR/left-out.csv`.

    DIR/records.csv     for `blotbook ingest`
    DIR/pictures/       named by their works: the collection's short name and its own key
    DIR/received/       each record as it was received (JSON, or the museum's CSV files)
    DIR/left-out.csv    what did not come, and why
    DIR/gathering.db    what is done and what is still to do; SQLite

Any stop, a pulled plug among them, costs at most the answer that was under way, and a picture that broke off is gone on
with where it broke (`Range` with `If-Range`). The same command goes on. What did not come for a passing reason is tried
again by each command; what failed for good is not. `--again` asks for the list and the records anew and for pictures
that have changed since (`ETag`): works that are no longer free stay in `records.csv` without rights, so that the next
ingest takes them out of the archive; what is merely missing for a while stays as it was.

Beside waiting, a work costs 0.05 to 0.11 s on two busy cores and 2 kB beside its picture, in long lists as in short
(`tests/benchmarks/gather_speed.py`). So the pace decides: with one request a second, 3,000 paintings take under an hour
where a work is one request (`aic`, `cleveland`, `smk`, `nga`) or two to different hosts (`met`), and some
two and a half hours where three of them go to one host (a search of `rijksmuseum`).

## The collections

Field names and addresses are those of the published documentation; where a museum changes them, gather says that an
answer has not the documented form, and stops. It has been run against records and documents in these forms, not
against the museums' servers.

{each}

## Another collection

One module in `ingest/collections/` of some hundred lines:

1. Read the documentation and the terms; name their addresses in the module's docstring and in its `Manners`.
2. Write `read(item, wanted)`: a published record becomes `admit(...)` with the fields of a source record, or a
   `LeftOut` with the reason. The rights are the record's own statement; where it has but a flag, say in
   `rights_basis` what the flag means and where that is published. Unknown fields stay empty.
3. Write `listing` (a page of the list and the cursor of the next) and `work` (further requests by `ask.json`, if the
   list does not tell enough).
4. Add it to `MUSEUMS` in `ingest/collections/__init__.py` and run `python docs/generate.py`.
5. Test it in `tests/ingest/test_collections.py` with small made-up records in the published shape, served by
   `tests/museum_server.py`: paging, rights that do not admit, another kind of work, no picture.
"""


def collections() -> str:
    """Return collections.md: how each open collection is asked, and what is read of it."""
    found = [museum(name) for name in MUSEUMS] + [Iiif("https://museum.example/"), Folder(HERE / "none.csv")]
    parts = []
    for each in found:
        manners = each.manners
        docs = ", ".join(
            f"[{address}]({address})" if "/" not in address else f"<{address}>" for address in manners.docs
        )
        lines = (
            f"### {each.title}" + (f" (`{each.name}`)" if each.name in MUSEUMS else ""),
            f"- Documentation: {docs}",
            f"- Pace: {manners.pace:g} s between requests to a host. {_sentence(manners.says)}",
            f"- Rights: {manners.rights}",
            f"- Read: {manners.maps}",
        )
        parts.append(lines[0] + "\n\n" + "\n".join(lines[1:]))
    return COLLECTIONS.format(
        note=NOTE,
        agent=re.sub(r"/\S+", "/VERSION", user_agent()),
        side=SIDE,
        tries=TRIES,
        patience=f"{MOST_PATIENCE / 60:.0f}",
        row=MOST_IN_A_ROW,
        least=LEAST_SIDE,
        shape=SHAPE,
        plain=PLAIN,
        alike=MOST_ALIKE,
        each="\n\n".join(parts),
    )


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."


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


PAGES: dict[str, Callable[[], str]] = {
    "collections.md": collections,
    "commands.md": commands,
    "records.md": records,
    "schema.md": schema,
}


def main() -> int:
    """Write the pages."""
    for name, page in PAGES.items():
        (HERE / name).write_text(page(), encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
