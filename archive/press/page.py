"""A board as one HTML file: pictures, words and styles inside it, nothing loaded from anywhere, no script."""

from __future__ import annotations

import base64
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from archive.press import records, words
from archive.press.caption import by_line, number, web_address
from archive.press.content import Piece, Plate, Pressed
from archive.press.grey_steps import said
from archive.press.iiif import whole_size
from archive.press.pictures import for_screen, opened
from ingest.lightness import grey_code
from ingest.provenance import address
from ingest.value_map import MAP_LIGHTNESS


def html(pressed: Pressed, language: str = "en") -> str:
    """The whole file as text, to be written as UTF-8."""
    leaves = [
        {
            "number": leaf.number,
            "note": leaf.note,
            "question": leaf.question,
            "pieces": [_piece(number(leaf, at), piece) for at, piece in enumerate(leaf.pieces)],
        }
        for leaf in pressed.leaves
    ]
    greys = [{"code": grey_code(lightness), "said": said(lightness)} for lightness in MAP_LIGHTNESS[5]]
    return _template().render(board=pressed, leaves=leaves, greys=greys, words=words, language=language)


def _piece(called: str, piece: Piece) -> dict[str, Any]:
    return {
        "called": called,
        "title": piece.title,
        "by": by_line(piece),
        "holding": words.holding(piece.record) if piece.work else "",
        "part": words.part(piece.part) if piece.part else "",
        "missing": piece.missing,
        "address": web_address(piece),
        "shown_address": address(web_address(piece)),
        "plates": [_plate(piece, plate) for plate in piece.plates],
        "record": records.lines(piece),
    }


def _plate(piece: Piece, plate: Plate) -> dict[str, Any]:
    content, kind = for_screen(plate)
    width, height = opened(plate).size if plate.part else whole_size(piece)
    return {
        "data": f"data:{kind};base64,{base64.b64encode(content).decode()}",
        "alt": plate.alt,
        "label": plate.label,
        "width": width,
        "height": height,
        "aspect": f"{width / height:.4f}",
    }


@cache
def _template() -> Template:
    environment = Environment(
        loader=PackageLoader("archive.press"), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    return environment.get_template("board.html")
