"""Find: a study comes in, the works built like it come out, each with the part that answers and why."""

from __future__ import annotations

import asyncio
import dataclasses
from typing import Any

from archive.match import Match, Matches
from archive.modes import SHOW
from archive.pages.compare import beside_value
from archive.pages.frame import Page, Problem, is_from_elsewhere, is_twin, page
from archive.pages.language import later, say
from archive.pages.leaves import Plate, leaf, study_plate
from archive.pages.permits import may
from archive.pages.room import Room, need_room
from archive.pages.student import in_thread, ways
from archive.pages.upload import (
    CHOICES,
    MEGABYTES,
    ONLY,
    Asked,
    as_data_url,
    asked_by_address,
    asked_by_form,
    carried,
    pictures_of,
    read_study,
)
from archive.pages.words import century_words, is_whole, likeness_words
from archive.pages.work import match_data, shares
from archive.store import Work
from ingest.reading import Reading

COUNT = 12

_FIELDS = {
    "arrangement": later("Arrangement"),
    "century": later("Century"),
    "artist": later("Painter"),
    "collection": later("Collection"),
}

_MOST_OFFERED = 200
"""Values offered in one field, those with the most works; a longer list nobody reads."""


@page("GET", "HEAD", "POST", posts=SHOW)
async def find(datasette: Any, request: Any) -> Page:
    """GET: the form, or the answer to a demo study (?example=). POST: the answer to an uploaded study."""
    room = need_room(datasette)
    invites = await may(datasette, request, SHOW)
    try:
        asked = await asked_by_form(datasette, request) if request.method == "POST" else asked_by_address(request, room)
        if asked is None:
            return _form_page(datasette, room, invites)
        reading = await read_study(asked, room)
    except Problem as problem:
        if is_twin(request) or problem.status == 404:
            raise
        return _form_page(datasette, room, invites, problem)
    matches = await in_thread(room, _match, room, reading, asked)
    found = await asyncio.to_thread(_works, room, matches)
    # Making the pictures of the answer takes long enough to keep others waiting, so it is not done in between.
    answer: Page = await in_thread(room, _answer_page, datasette, room, asked, reading, matches, found)
    return answer


def _match(room: Room, reading: Reading, asked: Asked) -> Matches:
    return room.gallery.match(
        reading,
        count=COUNT,
        whole=asked.choices["whole"],
        mirrored=asked.choices["mirrored"],
        heed_register=asked.choices["heed_register"],
        among=room.archive.chosen(asked.only) if asked.only else None,
    )


def _works(room: Room, matches: Matches) -> list[tuple[Match, Work]]:
    found = []
    for match in matches.matches:
        work = room.archive.work(match.work)
        if work is not None:
            found.append((match, work))
    return found


def _choices(chosen: dict[str, bool]) -> list[dict[str, Any]]:
    return [{"name": name, "label": say(label), "on": chosen[name]} for name, (_, label) in CHOICES.items()]


def _only(room: Room, chosen: dict[str, str]) -> list[dict[str, Any]]:
    """The fields by which works can be chosen, each with its values and how many works have them."""
    named = {row["slug"]: row["name"] for row in room.archive.arrangements()}
    values = {
        "arrangement": [(slug, name) for slug, name in named.items()],
        **{
            name: [
                (str(row["value"]), f"{_said(name, row['value'])} ({row['works']})")
                for row in room.archive.facet(name)[:_MOST_OFFERED]
            ]
            for name in ONLY
            if name != "arrangement"
        },
    }
    return [
        {
            "name": name,
            "label": say(_FIELDS[name]),
            "options": [option for option in values[name] if option[0]],
            "chosen": chosen.get(name, ""),
        }
        for name in ONLY
    ]


def _said(name: str, value: Any) -> str:
    return century_words(int(value)) if name == "century" else str(value)


def _form_page(datasette: Any, room: Room, invites: bool, problem: Problem | None = None) -> Page:
    studies = [
        {
            "slug": study.slug,
            "name": study.title,
            "url": datasette.urls.path(f"/-/find?example={study.slug}"),
            "plate": study_plate(datasette, study),
        }
        for study in room.studies
    ]
    return Page(
        "find.html",
        say("Show a study") if invites else say("Try one of our studies"),
        {
            "examples": [{key: study[key] for key in ("slug", "name", "url")} for study in studies],
            "choices": {name: at_first for name, (at_first, _) in CHOICES.items()},
            "megabytes": MEGABYTES,
        },
        {
            "study": None,
            "ways": ways(datasette, "find"),
            "problem": str(problem) if problem else "",
            "from_elsewhere": problem is not None and is_from_elsewhere(problem),
            "studies": studies,
            "choices": _choices({name: at_first for name, (at_first, _) in CHOICES.items()}),
            "only": _only(room, {}),
            "megabytes": MEGABYTES,
        },
        tab="find",
        status=problem.status if problem else 200,
    )


def _answer_page(
    datasette: Any, room: Room, asked: Asked, reading: Reading, matches: Matches, found: list[tuple[Match, Work]]
) -> Page:
    pictures = pictures_of(reading)
    measures = dataclasses.asdict(reading.measures)
    width, height = pictures["study"].size
    plates = [
        Plate(
            as_data_url(pictures["study"], "JPEG"), width, height,
            f"{asked.name}. {reading.sentence}",
            say("Upright and trimmed.") if reading.picture.trims else say("All of it, upright."),
        ),
        Plate(as_data_url(pictures["map3"], "PNG"), width, height, reading.sentence, say("In three values.")),
    ]  # fmt: skip
    return Page(
        "find.html",
        say("Works built like %(study)s", study=asked.name) if asked.example else say("Works built like your study"),
        {
            "study": {
                "name": asked.name,
                "example": asked.example or None,
                "sentence": reading.sentence,
                "measures": measures,
                "types": reading.types,
                "trims": list(reading.picture.trims),
            },
            "choices": asked.choices,
            "only": asked.only,
            "matches": [match_data(datasette, match, work) for match, work in found],
            "note": matches.note,
        },
        {
            "study": {
                "name": asked.name,
                "example": asked.example,
                "carried": "" if asked.example else carried(pictures["study"]),
                "as_is": asked.as_is,
                "sentence": reading.sentence,
                "shares": shares({name: {"value": measures[name]} for name in ("light", "mid", "dark")}),
                "plates": plates,
                "trims": "; ".join(reading.picture.trims),
            },
            "choices": _choices(asked.choices),
            "only": _only(room, asked.only),
            "narrowed": bool(asked.only),
            "matches": [
                leaf(
                    datasette,
                    work,
                    lines=(match.sentence,),
                    figures=likeness_words(match.similarity, match.mirrored),
                    part=None if is_whole(match.part) else match.part,
                    beside=_beside(match),
                    masses=match.masses,
                )
                for match, work in found
            ],
            "mirrored": any(match.mirrored for match, _ in found),
            "sheet_url": datasette.urls.path("/-/sheet"),
            "note": matches.note,
        },
        tab="find",
    )


def _beside(match: Match) -> str:
    return beside_value(match.work, None if is_whole(match.part) else match.part, match.mirrored)
