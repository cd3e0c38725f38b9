"""What all our pages share: one frame, the surround, a JSON twin at the same path, strict headers."""

from __future__ import annotations

import functools
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import parse_qsl, unquote, urlencode

from datasette.utils.asgi import Response

from archive.pages import permits, waiting
from archive.pages.elsewhere import heard
from archive.pages.language import LANGUAGE, direction, languages, later, say, say_count, spoken
from ingest.lightness import grey_code

PLUGIN = "blotbook"
"""The distribution's name, which Datasette's `static()` asks for."""

SURROUND_COOKIE = "surround"
SURROUNDS = {
    "paper": (later("White paper"), 97.0),
    "grey": (later("Middle grey"), 50.0),
    "dark": (later("Dark"), 12.0),
}
"""Name and L* of each surround, as in the style sheet."""

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; img-src 'self' data:; style-src 'self'; script-src 'self'; "
        "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
}

_TABS = (
    ("arrangements", later("Arrangements"), "/"),
    ("works", later("Works"), "/-/works"),
    ("field", later("Field"), "/-/field"),
    ("find", later("Find"), "/-/find"),
    ("boards", later("Boards"), "/-/boards"),
    ("about", later("About"), "/-/about"),
    ("tables", later("Tables"), "/-/"),
)


def grey(lightness: float) -> str:
    """The hueless sRGB colour, '#rrggbb', that shows an L* of 0..100."""
    return f"#{grey_code(lightness):02x}" + f"{grey_code(lightness):02x}" * 2


_STEPS = tuple(grey(step) for step in range(0, 101, 10))


class Problem(Exception):
    """Something that can't be shown; `str()` is one clear sentence, `status` the HTTP status.

    A sentence of another room may be given as it is; it is said in the language of who asks where that is known.
    """

    def __init__(self, sentence: str, status: int = 400) -> None:
        super().__init__(heard(sentence))
        self.status = status


@dataclass(frozen=True)
class Page:
    """One answer in both of its forms: `context` for the template, `data` for the JSON twin."""

    template: str
    title: str
    data: Mapping[str, Any]
    context: Mapping[str, Any] = field(default_factory=dict)
    tab: str = ""
    status: int = 200
    headers: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Turn:
    """The answer to a form that changed something: the browser turns to the page at `url`, a JSON twin gets `data`."""

    url: str
    data: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Parcel:
    """A file to take away: its bytes, media type and name (ASCII, without a path)."""

    data: bytes
    media_type: str
    name: str


Answer = Page | Turn | Parcel
View = Callable[[Any, Any], Awaitable[Answer]]


def page(
    *methods: str, needs: str = "", posts: str = "", private: bool = False
) -> Callable[[View], Callable[[Any, Any], Awaitable[Any]]]:
    """Make a function (datasette, request) -> Page, Turn or Parcel into a route that answers only the given methods.

    needs: the action of `archive.modes` that whoever asks must be allowed; posts: the one needed for a POST alone.
    private: whether it shows a person's own pictures, so that no browser and nobody between may keep a copy.
    """

    def decorate(view: View) -> Callable[[Any, Any], Awaitable[Any]]:
        @functools.wraps(view)
        async def route(datasette: Any, request: Any) -> Any:
            await datasette.ensure_permission(action="view-instance", actor=request.actor)
            try:
                if request.method not in methods:
                    message = say("This page doesn't answer that kind of request.")
                    raise Problem(message, 405)
                for action in filter(None, (needs, posts if request.method == "POST" else "")):
                    await need(datasette, request, action)
                shown = await _in_turn(datasette, request, view)
            except Problem as problem:
                shown = _problem_page(problem)
            response = await _answer(datasette, request, shown, methods)
            if private:
                response.headers["Cache-Control"] = "private, no-store"
            return response

        return route

    return decorate


async def need(datasette: Any, request: Any, action: str) -> None:
    """Raises Problem when whoever asks may not do this."""
    if not await permits.may(datasette, request, action):
        raise Problem(permits.refusal(datasette, action), 403)


async def _in_turn(datasette: Any, request: Any, view: View) -> Answer:
    """What a view answers; a form that has to wait long is answered with the page of those who wait.

    A twin waits to the end, unless it is asked for with 'Prefer: respond-async' (RFC 7240).
    """
    if request.method != "POST":
        return await view(datasette, request)
    wants_place = not is_twin(request) or "respond-async" in request.headers.get("prefer", "")
    answer = await waiting.in_turn(lambda: view(datasette, request), patience=waiting.PATIENCE if wants_place else None)
    if not isinstance(answer, tuple):
        return answer
    ticket = waiting.tickets_of(datasette).give(*answer)
    return waiting_page(datasette, ticket) if is_twin(request) else Turn(_ticket_url(datasette, ticket))


def _ticket_url(datasette: Any, ticket: waiting.Ticket) -> str:
    return str(datasette.urls.path(f"/-/waiting/{ticket.name}"))


def waiting_page(datasette: Any, ticket: waiting.Ticket) -> Page:
    """The page that says how many come before a request, and asks again by itself."""
    before, url = waiting.tickets_of(datasette).before(ticket), _ticket_url(datasette, ticket)
    sentence = say("Your picture is being read now.")
    if before:
        sentence = say_count("%(count)d picture comes before yours.", "%(count)d pictures come before yours.", before)
    return Page(
        "waiting.html",
        sentence,
        {"waiting": True, "place": before, "sentence": sentence, "url": f"{url}.json"},
        {"sentence": sentence, "url": url},
        tab="find",
        status=202,
        headers={
            "Refresh": f"{waiting.AGAIN}; url={url}",
            "Retry-After": str(waiting.AGAIN),
            "Location": f"{url}.json",
        },
    )


def surround_of(request: Any) -> str:
    """'paper', 'grey' or 'dark' as remembered by the browser; '' when nothing valid is."""
    chosen = str(request.cookies.get(SURROUND_COOKIE, ""))
    return chosen if chosen in SURROUNDS else ""


def path_part(request: Any, name: str) -> str:
    """A named part of the route's path, decoded."""
    return unquote(str(request.url_vars[name]))


def is_twin(request: Any) -> bool:
    """Whether the JSON twin of a page is asked for."""
    return bool(request.url_vars.get("twin"))


def is_from_elsewhere(problem: Problem) -> bool:
    """Whether the sentence of a problem is that of another room, in the English that it was said in there."""
    return problem.__cause__ is not None and str(problem.__cause__) == str(problem)


def _problem_page(problem: Problem) -> Page:
    heading = say("Not in this book") if problem.status == 404 else say("That did not work")
    return Page(
        "problem.html",
        heading,
        {"ok": False, "error": str(problem), "errors": [str(problem)], "status": problem.status},
        {"heading": heading, "sentence": str(problem), "from_elsewhere": is_from_elsewhere(problem)},
        status=problem.status,
    )


async def problem_answer(datasette: Any, request: Any, status: int, sentence: str) -> Any:
    """A response that says a problem in one sentence, for whoever stands outside of our own routes."""
    return await _answer(datasette, request, _problem_page(Problem(sentence, status)), ())


async def _answer(datasette: Any, request: Any, shown: Answer, methods: tuple[str, ...]) -> Any:
    headers = dict(HEADERS)
    if isinstance(shown, Turn):
        if is_twin(request):
            return Response.json({"ok": True, **shown.data}, headers=headers)
        return Response.redirect(shown.url, 303, headers)
    if isinstance(shown, Parcel):
        headers["Content-Disposition"] = f'attachment; filename="{shown.name}"'
        return Response(shown.data, headers=headers, content_type=shown.media_type)
    headers.update(shown.headers)
    if shown.status == 405:
        headers["Allow"] = ", ".join(methods)
    if shown.status in (429, 503):
        headers.setdefault("Retry-After", "60")
    if is_twin(request):
        return Response.json({"ok": True, **shown.data}, status=shown.status, headers=headers)
    path = str(request.path)
    twin = path + ".json" + (f"?{request.query_string}" if request.query_string else "")
    headers["Content-Language"] = spoken()
    headers["Vary"] = "Accept-Language, Cookie"
    headers["Link"] = f'<{twin}>; rel="alternate"; type="application/json"'
    chosen = surround_of(request)
    html = await datasette.render_template(
        f"blotbook/{shown.template}",
        {
            **shown.context,
            "may": permits.all_of(datasette, request),
            "title": shown.title,
            "plugin": PLUGIN,
            "surround": chosen,
            "surrounds": [
                {"value": value, "name": say(name), "grey": grey(lightness), "chosen": value == chosen}
                for value, (name, lightness) in SURROUNDS.items()
            ],
            "steps": _STEPS,
            "tabs": [
                {
                    "name": say(name),
                    "url": datasette.urls.path(where),
                    "here": _here(key, where, request, shown.tab),
                }
                for key, name, where in _TABS
            ],
            "here": str(request.full_path) if request.method == "GET" else path,
            "twin": twin,
            "language": spoken(),
            "direction": direction(),
            "languages": [
                {"code": code, "name": name, "url": _in_language(path, request, code), "here": code == spoken()}
                for code, name in languages().items()
            ],
        },
        request=request,
    )
    return Response.html(html, status=shown.status, headers=headers)


def _in_language(path: str, request: Any, code: str) -> str:
    """The address of this page in a language; what a form sent is not in it."""
    asked = parse_qsl(request.query_string, keep_blank_values=True) if request.method == "GET" else []
    kept = [(name, value) for name, value in asked if name != LANGUAGE]
    return f"{path}?{urlencode([*kept, (LANGUAGE, code)])}"


def _here(key: str, where: str, request: Any, tab: str) -> str:
    if key != tab:
        return ""
    return "page" if str(request.path).endswith(where) else "true"
