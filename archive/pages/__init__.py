"""The Datasette plugin of Blotbook: its hooks and its table of routes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

from datasette import hookimpl as untyped_hookimpl

from archive.pages import (
    about,
    arrangement,
    board,
    boards,
    compare,
    faults,
    field,
    find,
    gate,
    gather,
    home,
    line,
    pad,
    permits,
    practice,
    pressed,
    reading,
    screen,
    sheet,
    sql,
    surround,
    tables,
    teacher,
    viewfinder,
    wall,
    work,
    works,
)
from archive.pages.elsewhere import heard
from archive.pages.language import in_english, number, say, say_count
from archive.pages.room import room_of

Hook = TypeVar("Hook", bound=Callable[..., Any])

hookimpl = cast(Callable[[Hook], Hook], untyped_hookimpl)

TWIN = r"(?P<twin>\.json)?$"

ROUTES = (
    (r"^/" + TWIN, home.home),
    (r"^/-/arrangements/(?P<slug>[^/]+?)" + TWIN, arrangement.arrangement),
    (r"^/-/works/(?P<work>[^/]+?)" + TWIN, work.work),
    (r"^/-/field" + TWIN, field.field),
    (r"^/-/field/marks(?P<twin>)$", field.marks),
    (r"^/-/find" + TWIN, find.find),
    (r"^/-/compare" + TWIN, compare.beside),
    (r"^/-/pad" + TWIN, pad.pad),
    (r"^/-/reading(?P<twin>\.json)$", reading.reading),
    (r"^/-/viewfinder" + TWIN, viewfinder.viewfinder),
    (r"^/-/sheet" + TWIN, sheet.sheet),
    (r"^/-/practice" + TWIN, practice.practice),
    (r"^/-/practice/(?P<study>[0-9a-f]+)/(?P<which>picture|map3)$", practice.picture),
    (r"^/-/works" + TWIN, works.works),
    (r"^/-/search" + TWIN, works.works),
    (r"^/-/boards" + TWIN, boards.boards),
    (r"^/-/boards/(?P<board>[^/]+?)" + TWIN, board.board),
    (r"^/-/boards/(?P<board>[^/]+?)/wall" + TWIN, wall.wall),
    (r"^/-/boards/(?P<board>[^/]+?)/press/(?P<form>[a-z]+)(?P<twin>)$", pressed.pressed),
    (r"^/-/gather" + TWIN, gather.gather),
    (r"^/-/about" + TWIN, about.about),
    (r"^/-/screen" + TWIN, screen.screen),
    (r"^/-/teacher" + TWIN, teacher.teacher),
    (r"^/-/databases" + TWIN, tables.databases),
    (r"^/-/waiting/(?P<ticket>[A-Za-z0-9_-]+?)" + TWIN, line.line),
    (r"^/-/surround(?P<twin>)$", surround.choose),
)


@hookimpl
def register_routes(datasette: Any) -> list[tuple[str, Any]]:
    """Our pages, in a Datasette that was built for an archive; in any other there are none."""
    return list(ROUTES) if room_of(datasette) else []


@hookimpl
def register_actions() -> list[Any]:
    """What may be allowed or not beyond looking."""
    return permits.actions()


@hookimpl
def permission_resources_sql(datasette: Any, actor: Any, action: str) -> Any:
    """The rules of the mode that the archive is served in."""
    return permits.rule(datasette, actor, action)


@hookimpl
def prepare_jinja2_environment(env: Any, datasette: Any) -> None:  # noqa: ARG001
    """What our templates say everything with, also within macros."""
    env.globals |= {"_": say, "_n": say_count, "number": number, "in_english": in_english, "heard": heard}


@hookimpl
def asgi_wrapper(datasette: Any) -> Callable[[Any], Any]:
    """The gate that every request passes."""
    return lambda app: gate.guarded(datasette, app)


@hookimpl
def handle_exception(datasette: Any, request: Any, exception: Exception) -> Any:
    """Faults are said in one sentence; Datasette says what it foresees itself."""
    return faults.answer(datasette, request, exception)


@hookimpl
def prepare_connection(conn: Any, database: str, datasette: Any) -> None:
    """Bounds on SQL, and functions that explain."""
    if tables.is_ours(datasette, database):
        sql.prepare(conn, datasette)


@hookimpl
def render_cell(datasette: Any, row: Any, value: Any, column: str, database: str) -> Any:
    """Pictures in the cells of the archive's tables."""
    return tables.picture_cell(datasette, row, value, column) if tables.is_ours(datasette, database) else None


@hookimpl
def extra_css_urls(datasette: Any, template: str) -> list[str]:
    """Neutral greys for Datasette's own pages; ours bring their own style sheet."""
    return tables.style_sheets(datasette, template)


@hookimpl
def menu_links(datasette: Any) -> list[dict[str, str]]:
    """Ways back from Datasette's own pages to ours."""
    return tables.ways_back(datasette)


@hookimpl
def row_actions(datasette: Any, database: str, table: str, row: Any) -> list[dict[str, str]]:
    """From the row of a work or an arrangement to its page."""
    return tables.page_of_row(datasette, table, row) if tables.is_ours(datasette, database) else []
