"""Copies a working copy into a fresh database so that the same content gives the same bytes."""

from __future__ import annotations

import sqlite3

from archive.schema.reading_tables import table_columns

UNPUBLISHED = "unpublished"
"""The setting that says that a working copy has what no edition has yet; it is not copied."""

SIGNATURES_SHA256 = "signatures_sha256"

_TABLES = {
    "arrangements": "arrangement",
    "arrangement_neighbours": "arrangement, place",
    "types": "place, type",
    "work_types": "work, type",
    "work_subjects": "work, subject",
    "measure_meanings": "place",
    "measures": "work",
    "masses": "work, mass",
    "signatures": "work",
    "set_aside": "file, work",
}


def copy_edition(connection: sqlite3.Connection, signatures_sha256: str) -> None:
    """Copy ``main`` into the empty, migrated database attached as ``fresh``, in the open transaction.

    Rows go in the order of their keys.  Sources are numbered in the order of their names; ``works.row``
    counts the works that have a signature of today's length from 0, in the order of their names.
    """
    from ingest.signature import SIGNATURE_LENGTH

    connection.execute(
        "INSERT INTO fresh.sources (source, obtained_from) "
        "SELECT row_number() OVER (ORDER BY obtained_from), obtained_from FROM main.sources "
        "WHERE source IN (SELECT source FROM main.works)"
    )
    columns = [name for name in table_columns(connection, "works") if name not in ("row", "source")]
    # The table's own row numbers, which the search goes by, are set too, or they would follow the insertion.
    connection.execute(
        f"INSERT INTO fresh.works (rowid, row, source, {', '.join(columns)}) "
        "SELECT row_number() OVER (ORDER BY works.work), "
        "CASE WHEN rows.work IS NOT NULL THEN count(rows.work) OVER (ORDER BY works.work) - 1 END, "
        f"kept.source, {', '.join(f'works.{name}' for name in columns)} FROM main.works "
        "LEFT JOIN (SELECT work FROM main.signatures WHERE length(signature) = ?) AS rows USING (work) "
        "LEFT JOIN main.sources AS had ON had.source = works.source "
        "LEFT JOIN fresh.sources AS kept ON kept.obtained_from = had.obtained_from ORDER BY works.work",
        (SIGNATURE_LENGTH,),
    )
    for table, key in _TABLES.items():
        listed = ", ".join(f'"{name}"' for name in table_columns(connection, table))
        connection.execute(f"INSERT INTO fresh.{table} ({listed}) SELECT {listed} FROM main.{table} ORDER BY {key}")
    connection.execute(
        "INSERT INTO fresh.settings SELECT name, value FROM main.settings WHERE name NOT IN (?, ?) ORDER BY name",
        (UNPUBLISHED, SIGNATURES_SHA256),
    )
    connection.execute("INSERT INTO fresh.settings VALUES (?, ?)", (SIGNATURES_SHA256, signatures_sha256))
