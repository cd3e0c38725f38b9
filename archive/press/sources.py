"""Source records in full, as they stand at the end of what is printed."""

from __future__ import annotations

from archive.press import records, words
from archive.press.caption import web_address
from archive.press.content import Piece
from archive.press.document import SOFT, Face
from archive.press.flow import Flow

CODE = 14.0
"""Side of a square code beside a record, mm."""

_FIRST, _OTHERS = Face(8), Face(7, ink=SOFT)
_INDENT = 5.0


def record(flow: Flow, called: str, piece: Piece, *, code: bool = False) -> None:
    """One record, kept together where a column has room; with ``code`` the square code of its address beside it."""
    first, *others = records.lines(piece)
    text = f"{called}\u2002{first}"
    url = web_address(piece) if code else ""
    side = CODE if url else 0.0
    across = flow.width - (side + 3.0 if side else 0.0)
    height = flow.paper.height(text, across, _FIRST)
    height += sum(flow.paper.height(line, across - _INDENT, _OTHERS) for line in others)
    flow.need(min(max(height, side), flow.body.height))
    top = flow.y
    if url:
        flow.paper.square_code(url, flow.x + flow.width - side, top + 0.6, side, words.LINK_ALT.format(address=url))
    flow.words(text, _FIRST, width=across)
    for line in others:
        link = line if line.startswith(("http://", "https://")) else ""
        flow.words(line, _OTHERS, indent=_INDENT, width=across, link=link)
    if top < flow.y:
        flow.y = max(flow.y, top + side)
    flow.space(2.2)
