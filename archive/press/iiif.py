"""A board as a manifest of the IIIF Presentation API 3.0 (https://iiif.io/api/presentation/3.0/).

Each work is a canvas with the painting on it; where a leaf shows it in several ways, they are a choice of images.  What
is shown of a part is marked on the whole, since the painting is the painting.  Kept studies are left out: they are a
person's own, and their pictures have no address for others.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any
from urllib.parse import quote, urlsplit

from archive.errors import ArchiveError
from archive.press import words
from archive.press.caption import number, web_address
from archive.press.content import Piece, Plate, Pressed, PressedLeaf
from archive.press.pictures import media_type
from archive.store import PICTURES
from ingest.provenance import address

CONTEXT = "http://iiif.io/api/presentation/3/context.json"

_RIGHTS = re.compile(
    r"http://(creativecommons\.org/(licenses|publicdomain)|rightsstatements\.org/vocab)/[A-Za-z0-9./-]+"
)
"""The addresses that the API's section 3.1 lets `rights` have; other pages of these hosts are no statements."""

_FIELDS = (
    ("artist", "Artist"), ("artist_dates", "Artist's dates"), ("date", "Date"), ("medium", "Medium"),
    ("culture", "Culture"), ("collection", "Collection"), ("accession_number", "Accession number"),
    ("credit_line", "Credit line"), ("rights_basis", "Rights rest on"), ("obtained_from", "Picture obtained from"),
)  # fmt: skip


def manifest(pressed: Pressed, base_url: str, language: str = "en") -> dict[str, Any]:
    """The manifest; ``base_url`` is the address of the archive's pages, with a slash at its end.

    Identifiers and pictures are addresses below it, so viewers reach them where the archive is served.
    Raises `ArchiveError` for a board without a picture of a work, since a manifest has at least one canvas (5.2).
    """
    base = base_url if base_url.endswith("/") else f"{base_url}/"
    own = f"{base}-/boards/{quote(pressed.board, safe='')}/press/iiif"
    shown = [
        (leaf, at, piece)
        for leaf in pressed.leaves
        for at, piece in enumerate(leaf.pieces)
        if piece.work and piece.plates
    ]
    if not shown:
        message = "There is no picture of a work to make a manifest of."
        raise ArchiveError(message)
    made: dict[str, Any] = {
        "@context": CONTEXT,
        "id": own,
        "type": "Manifest",
        "label": _said(pressed.title, language),
    }
    summary = "\n\n".join(filter(None, (pressed.aim, pressed.notes, pressed.task)))
    if summary:
        made["summary"] = _said(summary, language)
    made["requiredStatement"] = {
        "label": _said(words.SOURCES, "en"),
        "value": {"none": [words.whole_credit(piece.record) for _, _, piece in shown]},
    }
    made["items"] = [_canvas(own, base, leaf, at, piece, language) for leaf, at, piece in shown]
    pairs = [leaf for leaf in pressed.leaves if sum(1 for other, *_ in shown if other is leaf) == 2]
    if pairs:
        made["structures"] = [_pair(own, leaf, language) for leaf in pairs]
    return made


def _canvas(own: str, base: str, leaf: PressedLeaf, at: int, piece: Piece, language: str) -> dict[str, Any]:
    called = number(leaf, at)
    canvas = _canvas_id(own, called)
    width, height = whole_size(piece)
    made: dict[str, Any] = {
        "id": canvas,
        "type": "Canvas",
        "label": {"none": [f"{called}. {words.named(piece.record)}"]},
        "height": height,
        "width": width,
    }
    summary = "\n\n".join(filter(None, (leaf.question, leaf.note)))
    if summary:
        made["summary"] = _said(summary, language)
    made["metadata"] = [
        {"label": _said(label, "en"), "value": {"none": [piece.record[name]]}}
        for name, label in _FIELDS
        if piece.record.get(name)
    ]
    made["requiredStatement"] = {
        "label": _said("Credit", "en"),
        "value": {"none": [words.whole_credit(piece.record)]},
    }
    rights = rights_uri(piece.record)
    if rights:
        made["rights"] = rights
    page = web_address(piece)
    page_uri = uri(page)
    if page_uri:
        made["homepage"] = [
            {
                "id": page_uri,
                "type": "Text",
                "label": {"none": [piece.record.get("collection") or address(page)]},
                "format": "text/html",
            }
        ]
    made["items"] = [
        {
            "id": f"{canvas}/page",
            "type": "AnnotationPage",
            "items": [
                {
                    "id": f"{canvas}/painting",
                    "type": "Annotation",
                    "motivation": "painting",
                    "body": _body(base, piece, width, height),
                    "target": canvas,
                }
            ],
        }
    ]
    if piece.part:
        made["annotations"] = [_marked(canvas, piece, language)]
    return made


def _body(base: str, piece: Piece, width: int, height: int) -> dict[str, Any]:
    images = [_image(base, plate, width, height) for plate in piece.plates]
    return images[0] if len(images) == 1 else {"type": "Choice", "items": images}


def _image(base: str, plate: Plate, width: int, height: int) -> dict[str, Any]:
    return {
        "id": f"{base}{PICTURES}/{plate.name}",
        "type": "Image",
        "label": _said(plate.label, "en"),
        "format": media_type(plate),
        "height": height,
        "width": width,
    }


def _marked(canvas: str, piece: Piece, language: str) -> dict[str, Any]:
    """A note on the part that the board shows, as a rectangle of the canvas (W3C Media Fragments)."""
    width, height = whole_size(piece)
    x0, y0, x1, y1 = piece.part or (0.0, 0.0, 1.0, 1.0)
    corner = round(x0 * width), round(y0 * height)
    size = max(1, round(x1 * width) - corner[0]), max(1, round(y1 * height) - corner[1])
    return {
        "id": f"{canvas}/part",
        "type": "AnnotationPage",
        "items": [
            {
                "id": f"{canvas}/part/1",
                "type": "Annotation",
                "motivation": "highlighting",
                "body": {
                    "type": "TextualBody",
                    "value": words.PART_SHOWN,
                    "language": language,
                    "format": "text/plain",
                },
                "target": f"{canvas}#xywh={corner[0]},{corner[1]},{size[0]},{size[1]}",
            }
        ],
    }


def _pair(own: str, leaf: PressedLeaf, language: str) -> dict[str, Any]:
    return {
        "id": f"{own}/pair/{leaf.number}",
        "type": "Range",
        "label": _said(words.TO_COMPARE.format(number=leaf.number), language),
        "items": [{"id": _canvas_id(own, number(leaf, at)), "type": "Canvas"} for at in range(2)],
    }


def whole_size(piece: Piece) -> tuple[int, int]:
    """Width and height of the whole display copy, px."""
    x0, y0, x1, y1 = piece.part or (0.0, 0.0, 1.0, 1.0)
    return max(1, round(piece.width / (x1 - x0))), max(1, round(piece.height / (y1 - y0)))


def rights_uri(record: Mapping[str, str]) -> str:
    """The rights statement as the API wants it, with http; '' when it is none that section 3.1 knows."""
    stated = record.get("rights", "").replace("https://", "http://", 1)
    return stated if _RIGHTS.fullmatch(stated) else ""


def uri(address: str) -> str:
    """A web address as collections write them, as a URI by the grammar of RFC 3986; '' when it leads to no host.

    What the grammar does not let stand where it is (letters beyond ASCII, brackets, a '%' that begins no code) is
    percent-encoded; what is encoded already stays.
    """
    try:
        parts = urlsplit(re.sub(r"%(?![0-9A-Fa-f]{2})", "%25", address))
        host, _ = parts.hostname, parts.port
    except ValueError:
        return ""
    if parts.scheme not in ("http", "https") or not host:
        return ""
    plain = "!$&'()*+,;=:@%~"
    # Brackets are the mark of an IPv6 host, and stand nowhere else.
    made = f"{parts.scheme}://{quote(parts.netloc, safe=plain + ('[]' if ':' in host else ''))}"
    made += quote(parts.path, safe=plain + "/")
    made += f"?{quote(parts.query, safe=plain + '/?')}" if parts.query else ""
    return made + (f"#{quote(parts.fragment, safe=plain + '/?')}" if parts.fragment else "")


def _canvas_id(own: str, called: str) -> str:
    return f"{own}/canvas/{called}"


def _said(text: str, language: str) -> dict[str, list[str]]:
    return {language: [text]}
