"""The square codes, read off the rendered page by another library."""

from __future__ import annotations

import pytest
from press.pdf_reading import needs_pdftoppm, opened, rendered

from archive.press.content import Pressed
from archive.press.paper import Printed


@needs_pdftoppm
@pytest.mark.parametrize("way", [(2, False), (6, False)])
def test_codes_open_the_pages_of_the_museums(
    papers: dict[tuple[int, bool], Printed], pressed: Pressed, way: tuple[int, bool]
) -> None:
    reader = pytest.importorskip("zxingcpp")
    content = papers[way].content
    found = {
        code.text
        for number in range(1, len(opened(content).pages) + 1)
        for code in reader.read_barcodes(rendered(content, number, 200))
    }
    wanted = {piece.record["object_url"] for _, piece in pressed.pieces() if piece.record.get("object_url")}
    assert wanted <= found
