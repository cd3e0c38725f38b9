"""The tables that hold what was read from the pictures: ``measures`` and ``masses``.

Their columns are the fields of `ingest.measures.Measures` and `ingest.masses.Mass`, in order.  They are read
again from the pictures whenever those change, so they follow the dataclasses and not a history of their own:
every column may be empty until a work is read again.
"""

from __future__ import annotations

import dataclasses
import sqlite3
from typing import Any

COLUMN_TYPES = {"float": "REAL", "int": "INTEGER", "str": "TEXT"}


def columns_of(reading: type[Any]) -> dict[str, str]:
    """Name and SQL type of each field of a dataclass of numbers and words, in order."""
    return {
        field.name: COLUMN_TYPES[field.type if isinstance(field.type, str) else field.type.__name__]
        for field in dataclasses.fields(reading)
    }


def create_reading_tables(connection: sqlite3.Connection) -> None:
    """Make the two tables, and the view that joins measures to what a person wants to see beside them."""
    from ingest.masses import Mass
    from ingest.measures import Measures

    measures, masses = columns_of(Measures), columns_of(Mass)
    connection.execute(
        "-- What was measured in each work; measure_meanings says what each column means.\n"
        "CREATE TABLE measures (\n"
        "    work TEXT PRIMARY KEY REFERENCES works(work) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,\n"
        f"    {_listed(measures)}\n)"
    )
    connection.execute(
        "CREATE TABLE masses (\n"
        "    -- The connected shapes of the three-value map: light, mid, dark, the largest of each first.\n"
        "    -- Places and areas are shares of the picture, 0 to 1.\n"
        "    work TEXT NOT NULL REFERENCES works(work) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,\n"
        "    mass INTEGER NOT NULL,\n"
        f"    {_listed(masses)},\n"
        "    PRIMARY KEY (work, mass)\n)"
    )
    shown = ", ".join(f'measures."{name}"' for name in measures)
    connection.execute(
        "CREATE VIEW works_with_measures AS\n"
        "SELECT works.work, works.thumb, works.title, works.artist, works.date, works.century,\n"
        f"    arrangements.name AS arrangement, works.degree, {shown}\n"
        "FROM works JOIN measures ON measures.work = works.work\n"
        "LEFT JOIN arrangements ON arrangements.arrangement = works.arrangement"
    )


def _listed(columns: dict[str, str]) -> str:
    return ",\n    ".join(f'"{name}" {kind}' for name, kind in columns.items())


def follow_readings(connection: sqlite3.Connection) -> None:
    """Bring the tables that follow the code up to it: columns of readings, meanings of measures, types.

    What the two tables hold under names that still exist is kept.  A type that is no longer known stays
    while a work that has not been read again is of it.
    """
    from ingest.arrangement_types import TYPES
    from ingest.formulas import FORMULAS
    from ingest.masses import Mass
    from ingest.measures import Measures

    wanted = {"measures": list(columns_of(Measures)), "masses": list(columns_of(Mass))}
    had = {table: table_columns(connection, table) for table in wanted}
    if any(set(had[table]) - {"work", "mass"} != set(names) for table, names in wanted.items()):
        connection.execute("DROP VIEW IF EXISTS works_with_measures")
        for table in wanted:
            connection.execute(f"CREATE TEMP TABLE had_{table} AS SELECT * FROM main.{table}")
            connection.execute(f"DROP TABLE main.{table}")
        create_reading_tables(connection)
        for table in wanted:
            shared = _quoted(set(had[table]) & set(table_columns(connection, table)))
            connection.execute(f"INSERT INTO main.{table} ({shared}) SELECT {shared} FROM had_{table}")
            connection.execute(f"DROP TABLE temp.had_{table}")
    connection.execute("DELETE FROM measure_meanings")
    connection.executemany(
        "INSERT INTO measure_meanings (measure, place, unit, says, formula, source) VALUES (?, ?, ?, ?, ?, ?)",
        [
            (
                field.name,
                place,
                field.metadata["unit"],
                field.metadata["says"],
                FORMULAS[field.name],
                field.metadata["source"],
            )
            for place, field in enumerate(dataclasses.fields(Measures), 1)
        ],
    )
    connection.executemany(
        "INSERT INTO types (type, place, name, sentence, source) VALUES (?, ?, ?, ?, ?) "
        "ON CONFLICT (type) DO UPDATE SET place = excluded.place, name = excluded.name, "
        "sentence = excluded.sentence, "
        "source = excluded.source",
        [(kind.slug, place, kind.name, kind.sentence, kind.source) for place, kind in enumerate(TYPES, 1)],
    )
    known = ", ".join("?" for _ in TYPES)
    connection.execute(
        f"DELETE FROM types WHERE type NOT IN ({known}) AND type NOT IN (SELECT type FROM work_types)",
        [kind.slug for kind in TYPES],
    )


def table_columns(connection: sqlite3.Connection, table: str, schema: str = "main") -> list[str]:
    """The names of a table's columns, in order."""
    return [name for _, name, *_ in connection.execute(f"PRAGMA {schema}.table_info({table})")]


def _quoted(names: set[str]) -> str:
    return ", ".join(f'"{name}"' for name in sorted(names))
