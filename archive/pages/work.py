"""One work: the painting and its value maps, words, measures, masses, source and rights, works like it."""

from __future__ import annotations

import asyncio
import dataclasses
from typing import Any

from archive.match import Matches
from archive.pages.frame import Page, Problem, grey, is_twin, page, path_part
from archive.pages.language import later, say
from archive.pages.leaves import arrangement_url, box, leaf, picture_url, plate, summary, work_url
from archive.pages.room import Room, need_room
from archive.pages.words import (
    FIRST_MEASURES,
    amount,
    by_line,
    how_clearly,
    is_whole,
    likeness_words,
    mass_words,
    measure_name,
    shares_words,
    title_of,
)
from archive.store import Work
from ingest.arrangement_types import CLEAR, TYPES, named
from ingest.lightness import grey_code
from ingest.masses import SMALLEST_MASS
from ingest.provenance import address
from ingest.rights import read_rights
from ingest.value_map import MAP_LIGHTNESS
from ingest.words import first_sentence

LIKE = 6
_MASSES = 9
_CLOSE = 25.0
"""L* from the 5th to the 95th hundredth below which the maps look far bolder than the picture: two and a half steps of
Munsell value for all of it (our own number)."""

WAYS = (
    ("painting", later("Painting"), "painting", later("The painting.")),
    (
        "squint",
        later("Squint"),
        "squint",
        later("Squinted at: detail melts into its mean tone, the large edges stand."),
    ),
    ("five", later("Five"), "map5", later("In five values.")),
    ("three", later("Three"), "map3", later("In three values: dark, middle, light.")),
    ("two", later("Two"), "map2", later("In two values: what belongs to the light, what to the dark.")),
    ("masses", later("Masses"), "map3", later("Its masses, outlined and numbered as in the list.")),
)
"""Ways of looking: name in addresses, name for people, picture of the work, caption."""


@page("GET", "HEAD")
async def work(datasette: Any, request: Any) -> Page:
    """The work named in the path; ?as= chooses a way of looking, ?mass= one of its masses.

    Works like it are looked for where ?like=1 asks for them, as the page itself does once it is there, and in the twin.
    """
    room = need_room(datasette)
    asked_for = is_twin(request) or request.args.get("like") == "1"
    found, like = await asyncio.to_thread(_gather, room, path_part(request, "work"), like=asked_for)
    ways = [_way(datasette, found, way) for way in WAYS]
    asked = request.args.get("as") or "painting"
    stage = next((way for way in ways if way["way"] == asked), ways[0])
    matched = [(match, await asyncio.to_thread(room.archive.work, match.work)) for match in like.matches]
    masses = [mass for mass in found["masses"] if mass["area"] >= SMALLEST_MASS]
    masses = sorted(masses, key=lambda mass: -mass["area"])[:_MASSES]
    laid = [_mass(mass, stage["plate"]) for mass in masses]
    chosen = _chosen(request.args.get("mass") or "", laid) if stage["way"] == "masses" else 0
    own_url = work_url(datasette, found["work"])
    measured = {row["measure"]: row for row in found["measures"]}
    return Page(
        "work.html",
        title_of(found),
        _data(datasette, found, matched, like.note),
        {
            "work_name": found["work"],
            "work_title": title_of(found),
            "by": by_line(found),
            "sentence": found["sentence"],
            "ways": ways,
            "stage": stage,
            "dot": max(14, round(min(found["display_width"], found["display_height"]) * 0.035)),
            "masses": laid,
            "chosen": chosen,
            "caption": laid[chosen - 1]["words"] if chosen else stage["caption"],
            "greys": ",".join(str(grey_code(lightness)) for lightness in MAP_LIGHTNESS[3]),
            "accents": len(found["masses"]) - len(masses),
            "masses_url": f"{own_url}?as=masses",
            "like_url": f"{own_url}?like=1#like",
            "like_here": asked_for,
            "arrangement": _arrangement(datasette, room, found),
            "laid_out": _laid_out(found["types"]),
            "close": close_tones(measured["lightness_span"]["value"]) if "lightness_span" in measured else "",
            "types": [row for row in found["types"] if row["degree"] >= CLEAR],
            "shares": shares(measured),
            "first_measures": [_measure(measured[name]) for name in FIRST_MEASURES if name in measured],
            "measures": [_measure(row) for row in found["measures"]],
            "facts": _facts(found),
            "row_url": datasette.urls.row("archive", "works", found["work"]),
            "like": [
                leaf(
                    datasette,
                    other,
                    figures=likeness_words(match.similarity, match.mirrored),
                    part=None if is_whole(match.part) else match.part,
                    masses=match.masses,
                )
                for match, other in matched
                if other is not None
            ],
            "like_note": like.note,
        },
        tab="",
    )


def shares(measured: dict[str, dict[str, Any]]) -> dict[str, Any]:
    """Proportions for the bar of light, middle and dark: words, and a rectangle of 0..100 for each."""
    parts = [float(measured[name]["value"] or 0.0) for name in ("light", "mid", "dark")]
    starts = (0.0, parts[0], parts[0] + parts[1])
    greys = [grey(lightness) for lightness in reversed(MAP_LIGHTNESS[3])]
    return {
        "words": shares_words(*parts),
        "shares": [
            {"start": round(start * 100, 2), "width": round(part * 100, 2), "grey": tone}
            for start, part, tone in zip(starts, parts, greys, strict=True)
        ],
    }


def _chosen(asked: str, masses: list[dict[str, Any]]) -> int:
    """The number, from 1, of the mass asked for; 0 for none."""
    number = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 4 else 0
    return number if number <= len(masses) else 0


def _gather(room: Room, work: str, *, like: bool) -> tuple[Work, Matches]:
    found = room.archive.work(work)
    if found is None:
        message = say("No work of this archive has that name.")
        raise Problem(message, 404)
    return found, room.gallery.like(work, count=LIKE) if like else Matches((), "")


def _way(datasette: Any, found: Work, way: tuple[str, str, str, str]) -> dict[str, Any]:
    key, name, column, caption = way
    words = say(caption) if key != "three" else f"{say(caption)} {found['sentence']}"
    small = "thumb" if column == "painting" else column
    return {
        "way": key,
        "name": say(name),
        "caption": words,
        "url": work_url(datasette, found["work"]) + ("" if key == "painting" else f"?as={key}"),
        "plate": plate(datasette, found, column),
        "small": plate(datasette, found, small),
    }


def _laid_out(types: list[dict[str, Any]]) -> str:
    """The types that name a work, in a sentence; two that are held about as much name it together."""
    held = {kind.slug: 0.0 for kind in TYPES} | {row["type"]: float(row["degree"]) for row in types}
    names = [say("“%(name)s”", name=kind.name) for kind in named(held)]
    if not names:
        return say("It is of no clear type of layout.")
    if len(names) == 1:
        return say("Laid out as %(name)s.", name=names[0])
    return say("Laid out as %(name)s and about as much as %(others)s.", name=names[0], others=", ".join(names[1:]))


def close_tones(span: float | None) -> str:
    """What to heed in the maps of a picture whose tones span few L*; '' for one that has light and dark."""
    if span is None or span >= _CLOSE:
        return ""
    return say(
        "Its tones lie close together: nine tenths of it are within %(span)d L*. The maps draw them far apart; light "
        "and dark are meant beside each other, not on the whole scale.", span=round(span),
    )  # fmt: skip


def _mass(mass: dict[str, Any], on: Any) -> dict[str, Any]:
    rectangle = box(on, (mass["x0"], mass["y0"], mass["x1"], mass["y1"]))
    return {
        "words": mass_words(mass),
        "value": mass["value"],
        "shares": ",".join(f"{mass[edge]:.4f}" for edge in ("x0", "y0", "x1", "y1")),
        "box": rectangle,
        "cx": round(mass["x"] * on.width, 1),
        "cy": round(mass["y"] * on.height, 1),
    }


def _measure(row: dict[str, Any]) -> dict[str, Any]:
    return {
        "name": measure_name(row["measure"]),
        "amount": amount(row["value"], row["unit"]),
        "says": row["says"],
        "source": row["source"],
    }


def _arrangement(datasette: Any, room: Room, found: Work) -> dict[str, Any] | None:
    slug = found["arrangement_slug"]
    row = room.archive.arrangement(slug) if slug else None
    if row is None:
        return None
    return {
        "name": row["name"],
        "sentence": first_sentence(row["sentence"]),
        "url": arrangement_url(datasette, slug),
        "degree": found["degree"],
        "how": how_clearly(found["degree"]),
    }


def _facts(found: Work) -> list[dict[str, str]]:
    rights = read_rights(found["rights"]).name
    artist = found["artist"] + (f" ({found['artist_dates']})" if found["artist_dates"] else "")
    trims = "; ".join(found["trims"])
    picture = say(
        "%(width)d × %(height)d px, colour profile: %(profile)s",
        width=found["width"], height=found["height"], profile=found["profile"],
    )  # fmt: skip
    facts = (
        (say("Title"), found["title"], ""),
        (say("Painter"), artist, ""),
        (say("Date"), found["date"], ""),
        (say("Medium"), found["medium"], ""),
        (say("Culture"), found["culture"], ""),
        (say("Country"), found["country"], ""),
        (say("It shows"), "; ".join(found["subjects"]), ""),
        (say("Collection"), found["collection"], ""),
        (say("Accession number"), found["accession_number"], ""),
        (say("Page of the object"), address(found["object_url"]), found["object_url"]),
        (say("Credit"), found["credit"], ""),
        (say("Rights"), rights, found["rights"]),
        (say("They rest on"), found["rights_basis"], ""),
        (say("Obtained from"), found["obtained_from"], ""),
        (say("Picture file"), picture, ""),
        (say("Trimmed away"), trims, ""),
        (say("SHA-256 of the file"), found["sha256"], ""),
    )
    return [
        {"name": name, "text": text, "url": url if url.startswith(("http://", "https://")) else ""}
        for name, text, url in facts
        if text
    ]


def _data(datasette: Any, found: Work, matched: list[tuple[Any, Work | None]], note: str) -> dict[str, Any]:
    pictures = ("painting", "thumb", "squint", "map2", "map3", "map5")
    known = {name: value for name, value in found.items() if name not in (*pictures, "row", "file")}
    return {
        **known,
        "url": work_url(datasette, found["work"]),
        "pictures": {name: picture_url(datasette, found[name]) for name in pictures},
        "like": [match_data(datasette, match, other) for match, other in matched if other is not None],
        "note": note,
    }


def match_data(datasette: Any, match: Any, other: Work) -> dict[str, Any]:
    """A match in the JSON twins."""
    return {
        **summary(datasette, other),
        "similarity": match.similarity,
        "part": list(match.part),
        "mirrored": match.mirrored,
        "reason": match.sentence,
        "agreement": match.agreement,
        "masses": [dataclasses.asdict(mass) for mass in match.masses],
    }
