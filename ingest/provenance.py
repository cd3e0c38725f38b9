"""The source record: what a picture is, where it came from, and the right to keep it.

A records file is a CSV with one row for each picture.  Only ``file`` (the picture, beside the CSV or below
its folder) and ``rights`` (see `ingest.rights`) are needed; the other columns of `COLUMNS` are taken when
they are there, and columns with other names are left alone.  One bad row never costs the others: it is
handed back as a `Problem` that says what is wrong with it and where.
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from ingest.part import part_text, read_part
from ingest.picture_place import place_of
from ingest.records_table import Row, UnreadableRecords, read_table
from ingest.rights import read_rights

__all__ = [
    "COLUMNS",
    "Problem",
    "Records",
    "SourceRecord",
    "UnreadableRecords",
    "credit",
    "read_records",
    "slug",
    "subjects_of",
]

COLUMNS = (
    "id", "file", "title", "artist", "artist_dates", "date", "begin_year", "end_year", "medium", "culture",
    "country", "subject", "collection", "accession_number", "object_url", "rights", "rights_basis", "credit_line",
    "obtained_from", "sha256", "part",
)  # fmt: skip
"""The columns of a records file, in the order in which we write them."""

EARLIEST_YEAR, LATEST_YEAR = -40000, 2200


@dataclass(frozen=True)
class SourceRecord:
    """What is known of one picture, all text cleaned of control characters and stray spaces.

    ``work`` is its stable name (letters, digits, hyphens), ``file`` its address, or its path below the folder of the
    records with forward slashes, ``rights`` the published address of its rights statement, ``sha256`` the hash that
    its bytes must have ('' when the record names none), ``part`` what of the file is the picture ('whole',
    or 'x0,y0,x1,y1' in pixels of the upright file; '' leaves it to trimming).  ``country`` is where the work was made
    or, failing that, its painter's country; ``subject`` is what it shows, several parted by '; '.  Years are negative
    before our era; unknown text is '' and unknown years are None.
    """

    work: str
    file: str
    title: str = ""
    artist: str = ""
    artist_dates: str = ""
    date: str = ""
    begin_year: int | None = None
    end_year: int | None = None
    medium: str = ""
    culture: str = ""
    country: str = ""
    subject: str = ""
    collection: str = ""
    accession_number: str = ""
    object_url: str = ""
    rights: str = ""
    rights_basis: str = ""
    credit_line: str = ""
    obtained_from: str = ""
    sha256: str = ""
    part: str = ""


@dataclass(frozen=True)
class Problem:
    """Something wrong with one row.

    ``kind`` is 'rights' (refused: its rights do not place it in the public domain), 'record' (the row cannot
    be used) or 'remark' (the row is used, without the part named in ``reason``).  ``line`` counts from 1 in
    the file; ``rights`` names the statement of a refusal.
    """

    kind: str
    line: int
    file: str
    work: str
    title: str
    reason: str
    rights: str = ""


@dataclass(frozen=True)
class Records:
    """A records file as read: the folder or address its pictures lie under, the usable records, and what was wrong."""

    folder: Path | str
    records: tuple[SourceRecord, ...]
    problems: tuple[Problem, ...]

    @property
    def unusable(self) -> tuple[Problem, ...]:
        """Rows that give no work: refused rights and broken rows."""
        return tuple(problem for problem in self.problems if problem.kind != "remark")


def read_records(source: Path, *, pictures: Path | str = "") -> Records:
    """Read a records file.

    ``pictures`` is the folder or the address below which the files lie that it names, '' for the folder of the records.
    Raises `UnreadableRecords`, with one sentence for people, when the file as a whole is no table with the
    columns ``file`` and ``rights``; everything wrong with single rows is in the result.
    """
    table = read_table(source)
    folder = pictures if isinstance(pictures, str) and pictures else Path(pictures or source.parent).resolve()
    records: list[SourceRecord] = []
    problems: list[Problem] = []
    lines_of: dict[str, int] = {}
    for row in table:
        record, found = _read_row(row, folder)
        problems += found
        if record is None:
            continue
        earlier = lines_of.setdefault(record.work, row.line)
        if earlier != row.line:
            reason = f"the row names the same work as line {earlier} (“{record.work}”); give each its own id"
            problems.append(Problem("record", row.line, record.file, record.work, record.title, reason))
            continue
        records.append(record)
    return Records(folder, tuple(records), tuple(problems))


def _read_row(row: Row, folder: Path | str) -> tuple[SourceRecord | None, list[Problem]]:
    fields = {name: _clean(value) for name, value in row.fields.items()}
    title = fields.get("title", "")
    problems: list[Problem] = []

    def problem(kind: str, reason: str, rights: str = "") -> None:
        problems.append(Problem(kind, row.line, file, work, title, reason, rights))

    file, wrong = place_of(folder, row.fields.get("file", "").strip())
    work = _work_id(fields, file) if file else slug(fields.get("id", ""))
    if row.wrong or wrong:
        problem("record", row.wrong or wrong)
        return None, problems
    rights = read_rights(fields.get("rights", ""))
    if not rights.admits:
        problem("rights", rights.reason, rights.name)
        return None, problems
    years: dict[str, int | None] = {}
    for name in ("begin_year", "end_year"):
        try:
            years[name] = _year(fields.get(name, ""))
        except ValueError:
            years[name] = None
            problem("remark", f"{name} “{fields[name][:40]}” is not a year and was left out")
    begin, end = years["begin_year"], years["end_year"]
    if begin is not None and end is not None and begin > end:
        problem("remark", f"begin_year {begin} is later than end_year {end}; both were left out")
        begin = end = None
    sha256 = fields.get("sha256", "").lower()
    if sha256 and not re.fullmatch(r"[0-9a-f]{64}", sha256):
        problem("record", "its sha256 is not 64 hexadecimal digits, so the picture cannot be checked")
        return None, problems
    part = ""
    if fields.get("part"):
        try:
            part = part_text(read_part(fields["part"]))
        except ValueError as error:
            problem("remark", f"part “{fields['part'][:40]}” {error}; it was left out")
    basis = fields.get("rights_basis", "")
    if not basis and "/" not in fields["rights"]:
        basis = f"stated as “{fields['rights']}” in its record"
    as_they_are = {
        name: fields.get(name, "")
        for name in ("title", "artist", "artist_dates", "date", "medium", "culture", "country",
                     "collection", "accession_number", "credit_line", "obtained_from")
    }  # fmt: skip
    object_url = fields.get("object_url", "")
    if object_url and not re.match(r"(?i)https?://[^\s/]", object_url):
        problem("remark", f"object_url “{object_url[:80]}” is not a web address and was left out")
        object_url = ""
    record = SourceRecord(
        work=work, file=file, begin_year=begin, end_year=end, object_url=object_url, rights=rights.uri,
        rights_basis=basis, sha256=sha256, part=part,
        subject="; ".join(subjects_of(fields.get("subject", ""))), **as_they_are,
    )  # fmt: skip
    return record, problems


def _clean(text: str) -> str:
    """Composed form, no control characters, single spaces."""
    composed = unicodedata.normalize("NFC", text)
    kept = (" " if unicodedata.category(char) in ("Cc", "Zl", "Zp") else char for char in composed)
    return " ".join("".join(kept).split())


def subjects_of(text: str) -> list[str]:
    """The subjects in a record's ``subject``, which semicolons or upright strokes part; each once, in their order."""
    return list(dict.fromkeys(part.strip() for part in re.split(r"[;|]", text) if part.strip()))


def _year(text: str) -> int | None:
    """A whole year, also when a spreadsheet wrote it as '1650.0'; None for nothing; ValueError otherwise."""
    if not text:
        return None
    match = re.fullmatch(r"([+\-−]?\d{1,5})(?:[.,]0+)?", text)
    if match is None:
        raise ValueError(text)
    year = int(match[1].replace("−", "-"))
    if not EARLIEST_YEAR <= year <= LATEST_YEAR:
        raise ValueError(text)
    return year


def _work_id(fields: Mapping[str, str], file: str) -> str:
    """The id given, else collection and accession number, else the path of the file without its ending."""
    if fields.get("id"):
        return slug(fields["id"])
    if fields.get("collection") and fields.get("accession_number"):
        return slug(f"{fields['collection']} {fields['accession_number']}")
    return slug(re.sub(r"\.[A-Za-z0-9]{1,5}$", "", file))


def slug(text: str) -> str:
    """A stable name for addresses: small ASCII letters and digits with single hyphens, at most 120 long.

    Accents fall away ('Géricault' gives 'gericault').  Whatever has no ASCII form, or does not fit, is told
    apart by a short hash of the whole text, so that two different Japanese names stay different.
    """
    folded = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    plain = re.sub(r"[^a-z0-9]+", "-", folded.casefold()).strip("-")
    lost = any(char.isalnum() and not char.isascii() for char in folded.casefold())
    if not text or (plain and not lost and len(plain) <= 120):
        return plain
    digest = hashlib.sha256(unicodedata.normalize("NFC", text).encode("utf-8", "surrogatepass")).hexdigest()
    return f"{plain[:100]}-{digest[:10]}".strip("-")


def address(url: str) -> str:
    """A web address as people read it, without its scheme."""
    return re.sub(r"^https?://(www\.)?", "", url).rstrip("/")


def credit(record: SourceRecord) -> str:
    """The credit line to print under a picture: who, what, when, where it is, and under which rights.

    Parts that the record does not have are left out; a work without title is 'Untitled'.
    """
    artist = record.artist or "Artist not recorded"
    if record.artist_dates:
        artist += f" ({record.artist_dates})"
    what = ", ".join(part for part in (artist, record.title or "Untitled", record.date) if part)
    where = ", ".join(part for part in (record.collection, record.accession_number) if part)
    statements = (what, record.medium, where, record.credit_line, read_rights(record.rights).name)
    return " ".join(f"{part.rstrip('.')}." for part in statements if part)
