"""An archive on disk, and everything that is read from it.

An archive is a folder::

    archive.db        SQLite; a whole edition at a time: it is never changed in place, only replaced
    pictures/ab/…     display copies, named by the SHA-256 of their content ('ab/ab12….jpeg')
    signatures.npy    (works, length) uint8, one row for each work, in the order of ``works.row``

Reading::

    archive = Archive.open(folder)              # ArchiveError with one sentence if that cannot be
    page = archive.works(where={"arrangement": "bands"}, sort="-degree", size=50)
    page.works, page.total, page.next           # list of dicts, count, token for the next page or None
    archive.work("met-436532")                  # one work with measures, masses, types, arrangement, credit
    archive.arrangements(), archive.arrangement("bands"), archive.types()
    archive.search("wheat field")               # any text is fine: quotes, commas, half a word
    archive.counts(), archive.sources(), archive.rights(), archive.facet("century"), archive.set_aside()
    archive.signatures(), archive.work_ids()    # memory-mapped rows, and which work each row is

An `Archive` may be used from several threads.  It goes on showing the edition that it was opened with when
a new one is put in its place (`Archive.replaced` says so); open it again to see that one.  Rows are dicts by
column name; text that is not known is '' and a number that is not known is None.  Names of pictures are
paths below ``pictures/``.

Writing is done through `archive.edition.Edition`.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from archive.errors import ArchiveError, version_in
from archive.schema import VERSION
from archive.signature_file import SIGNATURES, pending_name
from archive.works import FACETS, HELD, Work, WorksPage, chosen_ids, find_works, one_work, works_named

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["DATABASE", "FACETS", "PICTURES", "SIGNATURES", "Archive", "ArchiveError", "Work", "WorksPage"]

Answer = TypeVar("Answer")

DATABASE = "archive.db"
PICTURES = "pictures"


def file_mark(path: Path) -> tuple[int, int, int, int]:
    """What tells a file from another that is put in its place; zeros when there is none."""
    try:
        found = path.stat()
    except OSError:
        return 0, 0, 0, 0
    return found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns


class Archive:
    """Read access to one edition of an archive."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._local = threading.local()
        self._connections: list[sqlite3.Connection] = []
        self._guard = threading.Lock()
        self._closed = False
        self._file = file_mark(folder / DATABASE)
        self._signatures: NDArray[np.uint8] | None = None
        self._remembered: dict[tuple[object, ...], Any] = {}
        self._remembering = threading.RLock()

    @classmethod
    def create(cls, folder: Path) -> Archive:
        """Make an empty archive in ``folder`` (made if need be) and open it.

        Raises `ArchiveError` if there is one already or the folder cannot be written.
        """
        from archive.edition import Edition

        if (folder / DATABASE).exists():
            message = f"There is an archive in {folder} already."
            raise ArchiveError(message)
        with Edition.begin(folder) as edition:
            edition.publish()
        return cls.open(folder)

    @classmethod
    def open(cls, folder: Path) -> Archive:
        """Open the archive in ``folder``, bringing its tables up to date first if it is of an older form.

        Raises `ArchiveError` when there is none, when it is damaged, or when a newer Blotbook made it.
        """
        if not (folder / DATABASE).is_file():
            message = f"There is no archive in {folder}; 'blotbook ingest' makes one, and 'blotbook demo' one to try."
            raise ArchiveError(message)
        archive = cls(folder)
        try:
            version = version_in(archive.connection, folder / DATABASE)
        except (ArchiveError, sqlite3.Error) as error:
            archive.close()
            if isinstance(error, ArchiveError):
                raise
            message = f"{folder / DATABASE} cannot be opened ({error})."
            raise ArchiveError(message) from error
        if version > VERSION:
            archive.close()
            message = f"The archive in {folder} was made by a newer Blotbook; this one cannot read it."
            raise ArchiveError(message)
        if version < VERSION:
            archive.close()
            from archive.edition import Edition

            with Edition.begin(folder) as edition:
                edition.publish()
            return cls.open(folder)
        return archive

    @property
    def connection(self) -> sqlite3.Connection:
        """This thread's own read-only connection; rows come as `sqlite3.Row`."""
        connection: sqlite3.Connection | None = getattr(self._local, "connection", None)
        if connection is None:
            with self._guard:
                if self._closed:
                    message = f"The archive in {self.folder} has been closed."
                    raise ArchiveError(message)
                connection = self._connect()
            self._local.connection = connection
        return connection

    @property
    def replaced(self) -> bool:
        """Whether a newer edition lies in the place of the one that was opened."""
        return file_mark(self.folder / DATABASE) != self._file

    def _connect(self) -> sqlite3.Connection:
        address = (self.folder / DATABASE).resolve().as_uri() + "?mode=ro&immutable=1"
        before = self.replaced
        # A connection is closed by another thread, and shared with others when its edition is gone from the disk.
        connection = sqlite3.connect(address, uri=True, check_same_thread=False)
        if self._connections and (before or self.replaced):
            connection.close()
            return self._connections[0]
        connection.row_factory = sqlite3.Row
        self._connections.append(connection)
        return connection

    def close(self) -> None:
        """Close the connections of all threads."""
        with self._guard:
            self._closed = True
            for connection in self._connections:
                connection.close()
            self._connections.clear()

    def __enter__(self) -> Archive:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def remember(self, what: tuple[object, ...], ask: Callable[[], Answer]) -> Answer:
        """What `ask` answers, asked once: an edition never changes. For counts over all works, not for pages of them;
        whoever asks must not change the answer."""
        if what not in self._remembered:
            with self._remembering:
                if what not in self._remembered:
                    self._remembered[what] = ask()
        answer: Answer = self._remembered[what]
        return answer

    # -- works -------------------------------------------------------------------------------------------

    def works(
        self,
        *,
        where: Mapping[str, str | int] | None = None,
        search: str = "",
        sort: str = "work",
        size: int = 50,
        next: str | None = None,
    ) -> WorksPage:
        """A page of works.

        ``where`` chooses by any of `FACETS`, by ``arrangement`` (its slug; '' for works of no clear
        arrangement), by ``type`` (a type's slug: works that are clearly of it; their
        ``degree_of_type`` comes along) or by any measure in words (``register``, ``scale``).  ``sort`` is
        'work', 'title', 'artist', 'date', 'degree' (of the arrangement), 'degree_of_type', 'relevance' (with
        ``search``) or any measure; a '-' before it turns the order round.  ``size`` is 1 to 1000; ``next``
        is the token of the page before.  Raises `ArchiveError` for a name that is not known or a token that
        is none.
        """
        return find_works(
            self.connection, where or {}, search=search, sort=sort, size=size, next=next,
            measures=self.measure_names(),
        )  # fmt: skip

    def search(self, text: str, *, size: int = 50, next: str | None = None) -> WorksPage:
        """Works whose title, artist, culture, medium, collection or sentence has every word of ``text``, or a
        word that begins with it; the best first.  Any text is allowed."""
        return self.works(search=text or " ", sort="relevance", size=size, next=next)

    def work(self, work: str) -> Work | None:
        """One work with all that is known of it, or None.

        Beside the columns of ``works``: ``measures`` (list of dicts measure, value, unit, says, source, in
        order), ``masses`` (list of rows, the largest of each value first), ``types`` (list of type, name,
        sentence, degree, strongest first), ``subjects`` (in the order of the alphabet), ``obtained_from``;
        ``trimmed`` and ``trims`` are lists.
        """
        return one_work(self.connection, work)

    def named(self, works: Sequence[str]) -> list[Work]:
        """Works by their ids, in that order, each as in a list; ids that are not there are left out."""
        return works_named(self.connection, works)

    def caption(self, work: str) -> dict[str, str]:
        """What names one work: ``work``, ``title``, ``artist``, ``date``, ``collection``,
        ``accession_number``.  Raises `ArchiveError` when there is no such work."""
        row = self.connection.execute(
            "SELECT work, title, artist, date, collection, accession_number FROM works WHERE work = ?",
            (work,),
        ).fetchone()
        if row is None:
            message = f"The archive has no work “{work}”."
            raise ArchiveError(message)
        return {name: value or "" for name, value in dict(row).items()}

    def work_ids(self) -> list[str]:
        """The works in the order of their rows in `signatures`."""
        rows = self.connection.execute("SELECT work FROM works WHERE row IS NOT NULL ORDER BY row")
        return [work for (work,) in rows]

    def chosen(self, where: Mapping[str, str | int]) -> list[str]:
        """The works that ``where`` chooses, as in `works`, by their ids."""
        return chosen_ids(self.connection, where, self.measure_names())

    # -- arrangements and types --------------------------------------------------------------------------

    def arrangements(self) -> list[dict[str, Any]]:
        """All arrangements, the fullest first, each with the pictures and title of its most typical work."""
        return self.remember(
            ("arrangements",),
            lambda: self._rows(
                "SELECT arrangements.*, works.title AS medoid_title, works.artist AS medoid_artist, "
                "works.painting AS medoid_painting, works.thumb AS medoid_thumb, works.map3 AS medoid_map3, "
                "works.display_width AS medoid_width, works.display_height AS medoid_height "
                "FROM arrangements LEFT JOIN works ON works.work = arrangements.medoid "
                "ORDER BY members DESC, slug"
            ),
        )

    def arrangement(self, slug: str) -> dict[str, Any] | None:
        """One arrangement, or None.  Its members: ``works(where={'arrangement': slug}, sort='-degree')``."""
        return next((row for row in self.arrangements() if row["slug"] == slug), None)

    def neighbours(self, slug: str) -> list[dict[str, Any]]:
        """The arrangements nearest to one: ``slug``, ``name``, and ``but``, what this one has that they have not."""
        return self._rows(
            "SELECT there.slug, there.name, but FROM arrangement_neighbours "
            "JOIN arrangements AS here USING (arrangement) "
            "JOIN arrangements AS there ON there.arrangement = neighbour WHERE here.slug = ? ORDER BY place",
            (slug,),
        )

    def type_names(self) -> list[dict[str, Any]]:
        """``type`` (its slug) and ``name`` of the named types in order."""
        return self._rows("SELECT type, name FROM types ORDER BY place")

    def types(self) -> list[dict[str, Any]]:
        """The named types in order, with ``works``: how many works are clearly of each."""
        return self.remember(
            ("types",),
            lambda: self._rows(
                "SELECT types.*, (SELECT count(*) FROM work_types WHERE work_types.type = types.type "
                f"AND degree >= {HELD}) AS works FROM types ORDER BY place"
            ),
        )

    # -- what is in here ---------------------------------------------------------------------------------

    def counts(self) -> dict[str, int]:
        """How many works, artists, arrangements, works of no clear arrangement, sources, files set aside."""
        asked = {
            "works": "SELECT count(*) FROM works",
            "artists": "SELECT count(DISTINCT artist) FROM works",
            "arrangements": "SELECT count(*) FROM arrangements",
            "unarranged": "SELECT count(*) FROM works WHERE arrangement IS NULL",
            "sources": "SELECT count(*) FROM sources",
            "set_aside": "SELECT count(*) FROM set_aside",
        }
        return self.remember(("counts",), lambda: {name: self._value(sql, (), 0) for name, sql in asked.items()})

    def sources(self) -> list[dict[str, Any]]:
        """Where the pictures were obtained, with ``works``, the most first."""
        return self.remember(
            ("sources",),
            lambda: self._rows(
                "SELECT sources.*, count(work) AS works FROM sources LEFT JOIN works USING (source) "
                "GROUP BY source ORDER BY works DESC, obtained_from"
            ),
        )

    def rights(self) -> list[dict[str, Any]]:
        """The rights statements in use: ``rights`` (address), ``name``, ``works``."""
        from ingest.rights import read_rights

        sql = "SELECT rights, count(*) AS works FROM works GROUP BY rights ORDER BY works DESC"
        rows = self.remember(("rights",), lambda: self._rows(sql))
        return [{**row, "name": read_rights(row["rights"]).name} for row in rows]

    def facet(self, column: str) -> list[dict[str, Any]]:
        """How many works there are of each value of one of `FACETS`: ``value``, ``works``, the most first."""
        if column not in FACETS:
            message = f"Works cannot be counted by '{column}'."
            raise ArchiveError(message)
        table = "work_subjects" if column == "subject" else "works"
        return self.remember(
            ("facet", column),
            lambda: self._rows(
                f"SELECT {column} AS value, count(*) AS works FROM {table} WHERE {column} IS NOT NULL "
                f"GROUP BY {column} ORDER BY works DESC, value"
            ),
        )

    def set_aside(self) -> list[dict[str, Any]]:
        """What gave no work: ``file``, ``work``, ``title``, ``kind``, ``reason``, ``rights``."""
        return self._rows("SELECT * FROM set_aside ORDER BY kind, file, work")

    def measure_names(self) -> list[str]:
        """The columns of the table ``measures``, in order."""
        return [name for _, name, *_ in self.connection.execute("PRAGMA table_info(measures)") if name != "work"]

    def measure_meanings(self) -> list[dict[str, Any]]:
        """What each measure means: ``measure``, ``place``, ``unit``, ``says``, ``source``, in order."""
        return self._rows("SELECT * FROM measure_meanings ORDER BY place")

    def setting(self, name: str) -> str:
        """A value of the table ``settings``; '' if there is none."""
        found: str = self._value("SELECT value FROM settings WHERE name = ?", (name,), "")
        return found

    # -- signatures --------------------------------------------------------------------------------------

    def signatures_file(self) -> Path:
        """The file of signatures that belongs to this edition.

        A new edition brings its signatures under a name with their hash, and takes the plain name right
        after; if it was stopped between the two, they still lie under the long name.
        """
        pending = self.folder / pending_name(self.setting("signatures_sha256"))
        return pending if pending.exists() else self.folder / SIGNATURES

    def signatures(self) -> NDArray[np.uint8]:
        """(works, length) uint8, memory-mapped and read-only; row i belongs to ``work_ids()[i]``.

        Raises `ArchiveError` when the file is missing or does not fit the works.
        """
        import numpy as np

        if self._signatures is not None:
            return self._signatures
        expected = self._value("SELECT count(row) FROM works", (), 0)
        file = self.signatures_file()
        try:
            found: NDArray[np.uint8] = np.load(file, mmap_mode="r" if expected else None, allow_pickle=False)
        except (OSError, ValueError) as error:
            message = f"{file} is missing or damaged; 'blotbook verify --repair' makes it again."
            raise ArchiveError(message) from error
        if found.ndim != 2 or found.dtype != np.uint8 or len(found) != expected:
            message = f"{file} does not fit the works; 'blotbook verify --repair' makes it again."
            raise ArchiveError(message)
        # They stay those of this edition when another one, with its own, is put in its place.
        self._signatures = found
        return found

    # -- shared ------------------------------------------------------------------------------------------

    def _rows(self, sql: str, values: Sequence[object] = ()) -> list[dict[str, Any]]:
        return [dict(row) for row in self.connection.execute(sql, values)]

    def _value(self, sql: str, values: Sequence[object], otherwise: Any) -> Any:
        row = self.connection.execute(sql, values).fetchone()
        return otherwise if row is None or row[0] is None else row[0]
