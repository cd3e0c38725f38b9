"""Any folder with a table of records: pictures beside it, or at addresses that it names.

The table is a CSV as `ingest.provenance` reads them.  Columns of other names are told by ``columns``
(``title=Bezeichnung``); a column ``picture`` may give the address of a picture in place of ``file``.  What comes is a
copy that is checked like anything from the web; the folder itself is left as it is.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ingest.collections.fields import kind_of, mentions, several, span, text
from ingest.collections.source import (
    KIND,
    NOT_USABLE,
    Asks,
    CollectionProblem,
    Entry,
    LeftOut,
    Listing,
    Manners,
    Wanted,
    Work,
    admit,
)
from ingest.provenance import COLUMNS, slug, subjects_of
from ingest.records_table import UnreadableRecords, read_table

OWN = (*COLUMNS, "picture", "kind")
"""The columns that are read; ``kind`` is the type of work, and where it is empty the work is taken."""

_AS_THEY_ARE = (
    "title", "artist", "artist_dates", "date", "medium", "culture", "country", "collection", "accession_number",
    "object_url", "credit_line", "part",
)  # fmt: skip


class Folder:
    """A table of records on this computer."""

    name = "folder"
    title = "A folder with a table"
    manners = Manners(
        pace=1.0,
        says="files are copied at once; of addresses one a second is asked of each host, fewer with `--pace`",
        rights="the column `rights`, as in [Records and rights](records.md)",
        maps="the columns of a records file; `--column OURS=THEIRS` names those that are called otherwise; `picture`, "
        "the address of a picture; `kind`, the type of work",
        docs=("records.md",),
    )

    def __init__(self, source: Path, columns: Mapping[str, str] | None = None) -> None:
        self._table = _table_in(source)
        self.asked_of = str(self._table.resolve())
        self._columns = {theirs: ours for ours, theirs in (columns or {}).items()}
        unknown = sorted(set(columns or {}) - set(OWN))
        if unknown:
            message = f"There is no column '{unknown[0]}'; those to choose from are {', '.join(OWN)}."
            raise CollectionProblem(message)

    def listing(self, ask: Asks, wanted: Wanted, cursor: str) -> Listing:
        """All rows of the table."""
        try:
            rows = read_table(self._table, rename=self._columns, needed=("rights",))
        except UnreadableRecords as problem:
            raise CollectionProblem(str(problem)) from problem
        entries: list[Entry] = []
        left_out: list[LeftOut] = []
        seen: dict[str, int] = {}
        for row in rows:
            fields = row.fields
            key = _key(fields) or f"line {row.line}"
            if not mentions(wanted.query, *fields.values()):
                continue
            if row.wrong:
                left_out.append(LeftOut(key, NOT_USABLE, row.wrong, text(fields.get("title"))))
            elif seen.setdefault(key, row.line) != row.line:
                reason = f"line {row.line} names the same work as line {seen[key]}"
                left_out.append(LeftOut(f"{key}, line {row.line}", NOT_USABLE, reason, text(fields.get("title"))))
            else:
                entries.append(Entry(key, fields))
        return Listing(tuple(entries), "", len(entries) + len(left_out), tuple(left_out))

    def work(self, ask: Asks, wanted: Wanted, entry: Entry) -> Work | LeftOut:
        """One row."""
        return read(entry.key, entry.held, self._table.parent, wanted)


def read(key: str, fields: dict[str, str], folder: Path, wanted: Wanted) -> Work | LeftOut:
    """One row of a table whose pictures lie below ``folder``."""
    kind = text(fields.get("kind"))
    if kind and kind_of(kind) not in wanted.kinds:
        return LeftOut(key, KIND, f"it is of the type “{kind}”", text(fields.get("title")))
    file, address = fields.get("file", "").strip(), fields.get("picture", "").strip()
    pictures = [address] if re.match(r"(?i)https?://", address) else []
    if file:
        path = (folder / file.replace("\\", "/")).resolve()
        if not path.is_relative_to(folder.resolve()):
            return LeftOut(
                key, NOT_USABLE, "its file lies outside of the folder of the table", text(fields.get("title"))
            )
        pictures.insert(0, str(path))
    kept: dict[str, Any] = {name: text(fields.get(name)) for name in _AS_THEY_ARE}
    return admit(
        "",
        key,
        rights=fields.get("rights", ""),
        rights_basis=text(fields.get("rights_basis")) or f"stated as “{text(fields.get('rights'))}” in its record",
        pictures=tuple(pictures),
        received=dict(fields),
        **span(fields.get("begin_year"), fields.get("end_year"), kept["date"]),
        subject=several(subjects_of(fields.get("subject", ""))),
        obtained_from=text(fields.get("obtained_from")) or "a folder",
        **kept,
    )


def _key(fields: Mapping[str, str]) -> str:
    if fields.get("id", "").strip():
        return slug(fields["id"])
    if fields.get("collection", "").strip() and fields.get("accession_number", "").strip():
        return slug(f"{fields['collection']} {fields['accession_number']}")
    return slug(re.sub(r"\.[A-Za-z0-9]{1,5}$", "", fields.get("file", "").strip() or fields.get("picture", "").strip()))


def _table_in(source: Path) -> Path:
    if not source.is_dir():
        return source
    named = source / "records.csv"
    tables = [named] if named.is_file() else sorted(source.glob("*.csv"))
    if len(tables) != 1:
        found = "no table (a file that ends in .csv)" if not tables else f"{len(tables)} tables; name the one"
        message = f"{source} has {found} in it."
        raise CollectionProblem(message)
    return tables[0]
