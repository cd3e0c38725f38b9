"""From rows of the archive to what templates lay on a page: pictures with their words, boxes on them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Any
from urllib.parse import quote, urlencode

from archive.outlines import Outline
from archive.pages.language import say
from archive.pages.room import PICTURES_MOUNT, STUDIES_MOUNT, Study
from archive.pages.words import by_line, title_of
from ingest.showing import THUMB_SIDE

_WIDE = 1.9
"""From this width by height on, a map and its painting lie above each other instead of side by side."""

WORKS_COLUMNS = ("thumb", "map3", "title", "artist", "date", "arrangement", "degree", "sentence", "credit")
"""Columns of the table of works that our links ask for, in this order."""

_SHAPES_TO_TWO, _MOST_SHAPE = 8, 14
"""Steps of width by height until it has doubled, and the outermost step, as in the style sheet."""

MEAN_SIDE = 256
"""Width and height, px, told to the browser for the square patterns of arrangements."""


@dataclass(frozen=True)
class Plate:
    """A picture to show: address, size in px (its proportions hold, its size is the style sheet's), words.

    larger: the same picture in the full `width`; `url` has it `small_width` px wide then.
    """

    url: str
    width: int
    height: int
    alt: str
    caption: str = ""
    larger: str = ""
    small_width: int = 0

    @property
    def shape(self) -> int:
        """See `shape_of`."""
        return shape_of(self.width, self.height)

    @property
    def srcset(self) -> str:
        """The pictures that a browser may choose from, '' where there is but one."""
        return f"{self.url} {self.small_width}w, {self.larger} {self.width}w" if self.larger else ""


@dataclass(frozen=True)
class Box:
    """A rectangle on a plate, in the plate's px."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class Drawn:
    """A mass of a study drawn on a plate: the path of its outline in the plate's px, whether it has a fellow there."""

    path: str
    alike: bool
    words: str


@dataclass(frozen=True)
class Leaf:
    """A work in a list: map and painting with words, and where given a part outlined on both and masses on the map."""

    url: str
    title: str
    by: str
    lines: tuple[str, ...]
    figures: str
    wide: bool
    map: Plate
    painting: Plate
    pick: str
    pick_label: str
    map_box: Box | None = None
    painting_box: Box | None = None
    beside: str = ""
    beside_label: str = ""
    masses: tuple[Drawn, ...] = ()


@dataclass(frozen=True)
class Turning:
    """Where a page of leaves stands in the whole list."""

    first: int
    last: int
    count: int
    before: str
    after: str


def shape_of(width: float, height: float) -> int:
    """Width by height in steps, eight for a doubling, 0 for a square: style sheets keep room for a picture by it."""
    return max(-_MOST_SHAPE, min(_MOST_SHAPE, round(_SHAPES_TO_TWO * math.log2(width / height))))


def picture_url(datasette: Any, name: str) -> str:
    """Address of a picture under the static mount; with the hash from its name it can be kept for good."""
    return str(datasette.urls.path(f"/{PICTURES_MOUNT}/{name}?_hash={PurePosixPath(name).stem[:12]}"))


def study_plate(datasette: Any, study: Study) -> Plate:
    """The picture of a demo study."""
    url = datasette.urls.path(f"/{STUDIES_MOUNT}/{quote(study.file.name)}?_hash={study.sha256[:12]}")
    return Plate(str(url), study.width, study.height, f"{study.title}, {study.medium}")


def work_url(datasette: Any, work: str) -> str:
    """Address of the page of a work."""
    return str(datasette.urls.path(f"/-/works/{quote(work, safe='')}"))


def arrangement_url(datasette: Any, slug: str) -> str:
    """Address of the page of an arrangement."""
    return str(datasette.urls.path(f"/-/arrangements/{quote(slug, safe='')}"))


def table_url(datasette: Any, table: str, **chosen: str) -> str:
    """Address of one of Datasette's own table pages, with filters; of works, what is seen comes first."""
    columns = [("_col", name) for name in WORKS_COLUMNS] if table == "works" else []
    query = f"?{urlencode([*columns, *chosen.items()])}" if columns or chosen else ""
    return str(datasette.urls.path(f"/archive/{table}{query}"))


def plate(datasette: Any, work: Mapping[str, Any], which: str, alt: str = "", caption: str = "") -> Plate:
    """One of a work's pictures: which is painting, thumb, squint, map2, map3 or map5."""
    words = alt or (painting_words(work) if which in ("painting", "thumb") else work["sentence"])
    width, height = work["display_width"], work["display_height"]
    larger, small_width = "", 0
    if which == "thumb" and max(width, height) > THUMB_SIDE:
        larger, small_width = picture_url(datasette, work["painting"]), round(width * THUMB_SIDE / max(width, height))
    return Plate(picture_url(datasette, work[which]), width, height, words, caption, larger, small_width)


def painting_words(work: Mapping[str, Any]) -> str:
    """Alt text of a painting itself: what it is, then its pattern."""
    return say("The painting %(title)s. %(sentence)s", title=title_of(work), sentence=work["sentence"])


def leaf(
    datasette: Any,
    work: Mapping[str, Any],
    *,
    lines: Sequence[str] = (),
    figures: str = "",
    part: Sequence[float] | None = None,
    masses: Sequence[Outline] = (),
    beside: str = "",
) -> Leaf:
    """A work in a list; `lines` stand for its sentence, `part` (x0, y0, x1, y1 in 0..1) is outlined, masses drawn.

    beside: what a button sends to lay a study beside it.
    """
    map_plate, painting = plate(datasette, work, "map3"), plate(datasette, work, "thumb")
    return Leaf(
        url=work_url(datasette, work["work"]),
        title=title_of(work),
        by=by_line(work),
        lines=tuple(lines) or (work["sentence"],),
        figures=figures,
        wide=work["display_width"] / work["display_height"] > _WIDE,
        map=map_plate,
        painting=painting,
        pick=pick_value(work["work"], part),
        pick_label=say("Pick"),
        map_box=box(map_plate, part) if part else None,
        painting_box=box(painting, part) if part else None,
        beside=beside,
        beside_label=say("Lay beside it"),
        masses=tuple(_drawn(map_plate, mass) for mass in masses),
    )


def _drawn(on: Plate, mass: Outline) -> Drawn:
    """What a hand ran on past the edge of the work is drawn along it."""
    rings = (
        "L".join(f"{min(max(x, 0), 1) * on.width:.1f} {min(max(y, 0), 1) * on.height:.1f}" for x, y in ring)
        for ring in mass.points
    )
    return Drawn(" ".join(f"M{ring}Z" for ring in rings), mass.alike, mass.words)


def pick_value(work: str, part: Sequence[float] | None = None) -> str:
    """What a tick of a work, or of a part (x0, y0, x1, y1 in 0..1) of it, sends to the page that gathers them."""
    return work if part is None else f"{work}@{','.join(f'{share:.4f}' for share in part)}"


def box(on: Plate, part: Sequence[float]) -> Box:
    """The rectangle `part` (x0, y0, x1, y1 in 0..1) in the px of a plate."""
    x0, y0, x1, y1 = part
    return Box(
        round(x0 * on.width, 1), round(y0 * on.height, 1),
        round((x1 - x0) * on.width, 1), round((y1 - y0) * on.height, 1),
    )  # fmt: skip


def turning(path: str, query: Mapping[str, str], *, token: str, shown: int, size: int, total: int) -> Turning:
    """Links to the leaves before and after; `token` is where this page begins, '' for the first."""
    start = int(token or 0)

    def at(offset: int) -> str:
        chosen = dict(query) | ({"_next": str(offset)} if offset else {})
        return path + (f"?{urlencode(chosen)}" if chosen else "")

    before = at(max(0, start - size)) if start else ""
    after = at(start + size) if start + shown < total else ""
    return Turning(min(start + 1, total), start + shown, total, before, after)


def summary(datasette: Any, work: Mapping[str, Any]) -> dict[str, Any]:
    """A work in a list of the JSON twins."""
    return {
        "work": work["work"],
        "accession_number": work["accession_number"],
        "title": work["title"],
        "artist": work["artist"],
        "date": work["date"],
        "sentence": work["sentence"],
        "arrangement": work["arrangement_slug"],
        "degree": work["degree"],
        "url": work_url(datasette, work["work"]),
        "painting": picture_url(datasette, work["painting"]),
        "thumb": picture_url(datasette, work["thumb"]),
        "map3": picture_url(datasette, work["map3"]),
    }
