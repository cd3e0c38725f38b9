"""Works: all of them, chosen by words, by how they are built, by who made them and when; every choice is an address."""

from __future__ import annotations

import asyncio
import dataclasses
from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from archive.catalogue import BINS, CHOICES, MANY_MASSES, NONE, SHARES, Found, Wanted
from archive.errors import ArchiveError
from archive.pages.frame import Page, Problem, page
from archive.pages.language import later, say
from archive.pages.leaves import leaf, summary, table_url, turning
from archive.pages.numbers import whole_number
from archive.pages.room import Room, need_room
from archive.pages.words import century_words
from archive.store import Work

SIZE = 24
_LONGEST = 200
_MOST_OFFERED = 150
"""Values offered in one field, those with the most works: a longer list nobody reads."""

_BUILT = ("arrangement", "type", "register", "scale", "light_masses", "dark_masses")
"""Choices that are always in sight; the others can be unfolded."""

_FIELDS = {
    "arrangement": later("Arrangement"),
    "type": later("Laid out as"),
    "register": later("Register, or key"),
    "scale": later("Scale"),
    "light_masses": later("Light masses"),
    "dark_masses": later("Dark masses"),
    "artist": later("Painter"),
    "century": later("Century"),
    "subject": later("It shows"),
    "country": later("Country"),
    "culture": later("Culture"),
    "collection": later("Collection"),
}

_SHARES = {"light": later("Light"), "mid": later("Middle"), "dark": later("Dark")}

_SORTS = {
    "painter": later("by painter"),
    "title": later("by title"),
    "date": later("the oldest first"),
    "lightest": later("the lightest first"),
    "darkest": later("the darkest first"),
    "clearest": later("the clearest of their arrangement first"),
    "fit": later("the best fit of the words first"),
}


@page("GET", "HEAD")
async def works(datasette: Any, request: Any) -> Page:
    """The works that ?q= and the fields choose; ?_next= turns to the leaves after."""
    room = need_room(datasette)
    wanted, token = _wanted(request.args), request.args.get("_next") or ""
    start = _start(token)
    try:
        found, shown, names = await asyncio.to_thread(_gather, room, wanted, start)
    except ArchiveError as error:
        raise Problem(str(error)) from error
    path, query = str(datasette.urls.path("/-/works")), as_query(wanted)
    pages = turning(path, query, token=token, shown=len(shown), size=SIZE, total=found.total)
    count = await asyncio.to_thread(lambda: len(room.catalogue))
    following = f"{path}.json{pages.after.removeprefix(path)}" if pages.after else None
    return Page(
        "works.html",
        say("Works"),
        {
            "q": wanted.text,
            "wanted": dataclasses.asdict(wanted),
            "count": found.total,
            "counts": {name: dict(values) for name, values in found.counts.items()},
            "spreads": {name: dataclasses.asdict(spread) for name, spread in found.spreads.items()},
            "works": [summary(datasette, work) for work in shown],
            "next": str(start + SIZE) if following else None,
            "next_url": following,
        },
        {
            "q": wanted.text,
            "path": path,
            "count": count,
            "total": found.total,
            "graphs": [_graph(name, wanted, found) for name in SHARES],
            "fields": [_field(name, wanted, found, names) for name in _BUILT],
            "more": [_field(name, wanted, found, names) for name in CHOICES if name not in _BUILT],
            "more_open": any(name not in _BUILT for name in wanted.chosen),
            "sorts": [
                {"value": value, "name": say(name), "on": value == wanted.sort}
                for value, name in _SORTS.items()
                if value != "fit" or wanted.text
            ],
            "conditions": _conditions(wanted, names, path),
            "found": [leaf(datasette, work) for work in shown],
            "pages": pages,
            "table_url": table_url(datasette, "works", **({"_search": wanted.text} if wanted.text else {})),
        },
        tab="works",
    )


def as_query(wanted: Wanted) -> dict[str, str]:
    """The shortest query that asks for the same again."""
    query = {"q": wanted.text} if wanted.text else {}
    for name, (low, high) in wanted.shares.items():
        query |= {f"{name}_from": str(low)} if low > 0 else {}
        query |= {f"{name}_to": str(high)} if high < 100 else {}
    query |= dict(wanted.chosen)
    usual = "fit" if wanted.text else "painter"
    return query | ({"sort": wanted.sort} if wanted.sort != usual else {})


def _wanted(args: Any) -> Wanted:
    text = (args.get("q") or "").strip()[:_LONGEST]
    shares = {}
    for name in SHARES:
        low, high = _hundredth(args.get(f"{name}_from"), 0), _hundredth(args.get(f"{name}_to"), 100)
        if (low, high) != (0, 100):
            shares[name] = (low, high)
    chosen = {name: value[:_LONGEST] for name in CHOICES if (value := (args.get(name) or "").strip())}
    sort = args.get("sort") or ""
    if sort not in _SORTS or (sort == "fit" and not text):
        sort = "fit" if text else "painter"
    return Wanted(text, chosen, shares, sort)


def _hundredth(text: str | None, otherwise: int) -> int:
    if not text:
        return otherwise
    if not (text.isascii() and text.isdigit() and len(text) <= 3 and int(text) <= 100):
        message = say("How much of a picture is light, middle or dark is given in hundredths, from 0 to 100.")
        raise Problem(message)
    return int(text)


def _start(token: str) -> int:
    if token and not (token.isascii() and token.isdigit() and len(token) < 12):
        message = say("The page asked for is not known; begin again at the first.")
        raise Problem(message)
    return int(token or 0)


def _gather(room: Room, wanted: Wanted, start: int) -> tuple[Found, list[Work], dict[str, dict[str, str]]]:
    found = room.catalogue.find(wanted, start, SIZE)
    names = {
        "arrangement": {row["slug"]: row["name"] for row in room.archive.arrangements()},
        "type": {row["type"]: row["name"] for row in room.archive.type_names()},
    }
    return found, room.archive.named(found.works), names


def _said(name: str, value: str, names: Mapping[str, Mapping[str, str]]) -> str:
    """A value of a choice in words."""
    if value == NONE and name == "arrangement":
        return say("of none clearly")
    if name in names:
        return names[name].get(value, value)
    if name == "century" and (century := whole_number(value)) is not None:
        return century_words(century)
    if name.endswith("_masses") and value == str(MANY_MASSES):
        return say("%(count)s or more", count=value)
    return value


def _graph(name: str, wanted: Wanted, found: Found) -> dict[str, Any]:
    """A histogram: columns of all works in outline and of those found filled, each to its own tallest."""
    spread = found.spreads[name]
    low, high = wanted.shares.get(name, (0, 100))
    tallest, most = max(max(spread.everywhere), 1), max(max(spread.found), 1)
    columns = [
        {
            "all": round(everywhere / tallest * 40, 1),
            "found": round(here / most * 40, 1),
            "out": (at + 1) * 100 / BINS <= low or at * 100 / BINS > high,
        }
        for at, (everywhere, here) in enumerate(zip(spread.everywhere, spread.found, strict=True))
    ]
    said = say("No work is found.")
    if spread.middle:
        said = say("half of those found: %(low)d to %(high)d %%", low=spread.middle[0], high=spread.middle[1])
    return {"name": name, "legend": say(_SHARES[name]), "low": low, "high": high, "columns": columns, "said": said}


def _field(name: str, wanted: Wanted, found: Found, names: Mapping[str, Mapping[str, str]]) -> dict[str, Any]:
    counts, chosen = dict(found.counts[name]), wanted.chosen.get(name, "")
    kept = set(sorted(counts, key=lambda value: -counts[value])[:_MOST_OFFERED]) | ({chosen} if chosen else set())
    options = [
        {"value": value, "name": f"{_said(name, value, names)} ({counts.get(value, 0)})", "on": value == chosen}
        for value in [*counts, *([chosen] if chosen and chosen not in counts else [])]
        if value in kept
    ]
    return {"name": name, "label": say(_FIELDS[name]), "options": options}


def _conditions(wanted: Wanted, names: Mapping[str, Mapping[str, str]], path: str) -> list[dict[str, str]]:
    """Each condition in words, with the address of the same list without it."""
    told = []
    if wanted.text:
        without = dataclasses.replace(wanted, text="", sort="painter" if wanted.sort == "fit" else wanted.sort)
        told.append((say("with the words “%(words)s”", words=wanted.text), without))
    for name, (low, high) in wanted.shares.items():
        words = say("%(low)d to %(high)d %% %(value)s", low=low, high=high, value=say(_SHARES[name]).lower())
        rest = {other: bounds for other, bounds in wanted.shares.items() if other != name}
        told.append((words, dataclasses.replace(wanted, shares=rest)))
    for name, value in wanted.chosen.items():
        rest_of = {other: kept for other, kept in wanted.chosen.items() if other != name}
        words = f"{say(_FIELDS[name])}: {_said(name, value, names)}"
        told.append((words, dataclasses.replace(wanted, chosen=rest_of)))
    addresses = [(words, urlencode(as_query(without))) for words, without in told]
    return [{"words": words, "url": path + (f"?{query}" if query else "")} for words, query in addresses]
