"""Rules of the IIIF Presentation API 3.0 that a manifest of ours must keep, read off the specification's text.

https://iiif.io/api/presentation/3.0/ ; the section is named beside each rule. These are our own checks; they find
some things that the published JSON schema lets pass, such as a manifest without canvases. `test_manifest_schema` holds
manifests to the schema itself where it is at hand, and `test_elsewhere` to the models that iiif-prezi3 makes from it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

CONTEXT = "http://iiif.io/api/presentation/3/context.json"


def broken(manifest: dict[str, Any]) -> list[str]:
    """What of a manifest is against the rules; an empty list when nothing is."""
    return list(_broken(manifest))


def _broken(manifest: dict[str, Any]) -> Iterator[str]:
    context = manifest.get("@context")
    if (context[-1] if isinstance(context, list) else context) != CONTEXT:
        yield "4.6: the context is, or ends with, that of the API"
    if manifest.get("type") != "Manifest":
        yield "3.2: the type of a manifest is Manifest"
    if not manifest.get("items"):
        yield "5.2: a manifest has at least one canvas"
    yield from _described(manifest, "the manifest")
    if "label" not in manifest:
        yield "3.1: a manifest has a label"
    ids = [each["id"] for each in _walk(manifest) if each.get("type") in _OWN and "items" in each]
    if len(ids) != len(set(ids)):
        yield "3.2: ids are unique"
    canvases = {canvas.get("id") for canvas in manifest.get("items", [])}
    for canvas in manifest.get("items", []):
        yield from _canvas(canvas)
    for part in manifest.get("structures", []):
        if part.get("type") != "Range" or not part.get("items"):
            yield "5.4: structures are ranges with items"
        for item in part.get("items", []):
            if item.get("type") == "Canvas" and item.get("id") not in canvases:
                yield "5.4: a range is of canvases of its manifest"


_OWN = ("Manifest", "Canvas", "AnnotationPage", "Range")


def _canvas(canvas: dict[str, Any]) -> Iterator[str]:
    if canvas.get("type") != "Canvas":
        yield "5.2: the items of a manifest are canvases"
    if not _address(canvas.get("id")) or "#" in canvas["id"]:
        yield "5.3: the id of a canvas is an HTTP(S) address without a fragment"
    for side in ("height", "width"):
        if not (isinstance(canvas.get(side), int) and canvas[side] > 0):
            yield f"3.3: the {side} of a canvas is a positive whole number"
    yield from _described(canvas, "a canvas")
    for page in canvas.get("items", []):
        if page.get("type") != "AnnotationPage" or not _address(page.get("id")):
            yield "5.5: the items of a canvas are annotation pages with an id"
        for note in page.get("items", []):
            if note.get("type") != "Annotation" or note.get("motivation") != "painting":
                yield "5.6: what is associated by items has the motivation painting"
            if str(note.get("target", "")).split("#")[0] != canvas.get("id"):
                yield "5.6: the target of painting is the canvas"
            yield from _body(note.get("body", {}))
    for page in canvas.get("annotations", []):
        for note in page.get("items", []):
            if note.get("motivation") == "painting":
                yield "3.4: annotations are not painting"


def _body(body: dict[str, Any]) -> Iterator[str]:
    choices = body.get("items", []) if body.get("type") == "Choice" else [body]
    if not choices:
        yield "5.7: a choice has items"
    for each in choices:
        if each.get("type") != "Image" or not _address(each.get("id")):
            yield "3.2: an image has the type Image and an HTTP(S) id"
        if not re.fullmatch(r"image/[\w.+-]+", each.get("format", "")):
            yield "3.3: the format is a media type"


def _described(thing: dict[str, Any], called: str) -> Iterator[str]:
    if not _address(thing.get("id")):
        yield f"3.2: the id of {called} is an HTTP(S) address"
    for name in ("label", "summary"):
        if name in thing and not _language_map(thing[name]):
            yield f"4.4: {name} of {called} is texts by language"
    for pair in [*thing.get("metadata", []), *([thing["requiredStatement"]] if "requiredStatement" in thing else [])]:
        if set(pair) != {"label", "value"} or not all(_language_map(part) for part in pair.values()):
            yield f"3.1: metadata and requiredStatement of {called} are a label and a value"
    rights = thing.get("rights")
    if rights is not None and not (_RIGHTS.match(rights) and _address(rights)):
        yield f"3.1: rights of {called} are those of Creative Commons or RightsStatements.org, written with http"
    for page in thing.get("homepage", []):
        if not (_address(page.get("id")) and page.get("type") and _language_map(page.get("label"))):
            yield f"3.4: a homepage of {called} has id, type and label"
        if not page.get("format"):
            yield f"3.4: a homepage of {called} should have a format"


_RIGHTS = re.compile(r"http://(creativecommons\.org/(licenses|publicdomain)|rightsstatements\.org/vocab)/")

_PLAIN = r"(?:[A-Za-z0-9._~!$&'()*+,;=:@-]|%[0-9A-Fa-f]{2})"
_URI = re.compile(
    rf"https?://(?:\[[0-9A-Fa-f:.]+\]|(?:(?![:@]){_PLAIN})+)(?::[0-9]*)?"
    rf"(?:/(?:{_PLAIN}|/)*)?(?:\?(?:{_PLAIN}|[/?])*)?(?:#(?:{_PLAIN}|[/?])*)?"
)
"""RFC 3986, appendix A, for http and https without user names; a host is needed by RFC 9110, 4.2.1."""


def _address(value: object) -> bool:
    return isinstance(value, str) and _URI.fullmatch(value) is not None


def _language_map(value: object) -> bool:
    return (
        isinstance(value, dict)
        and bool(value)
        and all(re.fullmatch(r"none|@none|[a-zA-Z]{2,8}(-[a-zA-Z0-9]{1,8})*", key) for key in value)
        and all(
            isinstance(texts, list) and texts and all(isinstance(each, str) for each in texts)
            for texts in value.values()
        )
    )


def _walk(thing: object) -> Iterator[dict[str, Any]]:
    if isinstance(thing, dict):
        yield thing
        for part in thing.values():
            yield from _walk(part)
    elif isinstance(thing, list):
        for part in thing:
            yield from _walk(part)
