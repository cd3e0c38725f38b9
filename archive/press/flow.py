"""Words that run on from column to column and from page to page."""

from __future__ import annotations

from archive.press.document import Face, Paper
from archive.press.grid import Box

COLUMN_GAP = 8.0


class Flow:
    """A column of words, or several beside one another; a new page is begun when they are full."""

    def __init__(self, paper: Paper, body: Box, used: float = 0.0) -> None:
        self.paper = paper
        self.body = body
        self.y = body.y + used
        self._top = self.y
        self._lowest = self.y
        self._count = 1
        self._column = 0

    @property
    def width(self) -> float:
        """Width of a column, mm."""
        return (self.body.width - COLUMN_GAP * (self._count - 1)) / self._count

    @property
    def x(self) -> float:
        """Where the column begins, mm from the left of the page."""
        return self.body.x + self._column * (self.width + COLUMN_GAP)

    @property
    def left(self) -> float:
        """How much of the column is free, mm."""
        return self.body.y + self.body.height - self.y

    def columns(self, count: int) -> None:
        """Go on in as many columns below all that is there."""
        self._lowest = self._top = self.y = max(self.y, self._lowest)
        self._count, self._column = count, 0

    def need(self, height: float) -> None:
        """Go on, column by column, to one that has as much room, mm, or to a page of its own."""
        while self.left < height and self.y > self.body.y:
            self.turn()

    def turn(self) -> None:
        """Go to the next column, or the next page after the last."""
        self._lowest = max(self._lowest, self.y)
        self._column += 1
        if self._column == self._count:
            self.paper.add_page()
            self._column = 0
            self._top = self._lowest = self.body.y
        self.y = self._top

    def space(self, height: float) -> None:
        """Leave room, mm, unless a column has just begun."""
        if self.y > self._top:
            self.y += height

    def heading(self, text: str, face: Face, level: int = 2, after: float = 1.5) -> None:
        """A heading, which is not left alone at the foot of a page."""
        self.need(self.paper.height(text, self.width, face) + 14)
        self.y += self.paper.heading(text, self.x, self.y, self.width, face, level) + after

    def height(self, text: str, face: Face, indent: float = 0.0) -> float:
        """How high a paragraph stands in a column, mm."""
        return self.paper.height(text, self.width - indent, face)

    def words(self, text: str, face: Face, *, indent: float = 0.0, width: float | None = None, link: str = "") -> None:
        """A paragraph, on as many pages as it takes."""
        rest = text
        while rest:
            across = min(width or self.width, self.width) - indent
            self.need(min(face.line * 2, self.paper.height(rest, across, face)))
            height, rest = self.paper.words(rest, self.x + indent, self.y, across, face, link=link, room=self.left)
            self.y += height
            if rest:
                self.turn()
