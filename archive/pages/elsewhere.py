"""What other rooms say when something cannot be done: they speak English, here it is said in the language of who asks.

A sentence that is not listed stays as it is, and the page marks it as English.
"""

from __future__ import annotations

import functools
import re

from archive.pages.language import ENGLISH, later, say, spoken

SENTENCES = (
    # Boards and what stands on them.
    later("There is no board of that name."),
    later("A board needs a title."),
    later("The board was written by a newer Blotbook; this one cannot read it."),
    later("The study on that leaf is not kept here any more, so the leaf cannot come back."),
    later("The archive has no work “%(work)s”."),
    later("The archive has no arrangement “%(slug)s”."),
    later("A contrast needs two different arrangements."),
    later("An exercise in sorting takes two to %(most)s different arrangements."),
    later("A board holds up to %(most)s leaves, and this one is full."),
    later("A board holds up to %(most)s leaves, and this would be %(count)s."),
    later("A board holds up to %(most)s leaves; there is room for %(left)s."),
    later("There is room for %(most)s boards, and all of it is taken."),
    later("There is room for %(most)s studies, and all of it is taken; delete some first."),
    later(
        "While you wrote, somebody else changed the same on the board “%(theirs)s”. "
        "Theirs stands there; yours is kept as the board “%(yours)s”."
    ),
    later("Another program is writing to boards.db just now. Nothing was changed; try again in a minute."),
    later("The disk is full, and boards.db cannot be written. Nothing was changed; make room, then try again."),
    later("boards.db cannot be opened or written in the folder of the archive. Nothing was changed."),
    # What leaves as a file.
    later("There is no picture of a work to make a manifest of."),
    later("There is no picture to make a study sheet of."),
    later("Study sheets have 1 or 2 works to a page, not %(count)s."),
    later("There is nothing to sort: the board shows fewer than two works in three values."),
    # Pictures that come in.
    later("The file is empty."),
    later("The file is not a picture in a format that Blotbook reads (JPEG, PNG, TIFF, WebP, AVIF, HEIC, GIF, BMP)."),
    later("The picture is damaged or cut short (%(why)s)."),
    later("The picture is animated; Blotbook reads still pictures."),
    later("The picture is %(width)s x %(height)s pixels, too small to hold a pattern of values."),
    later(
        "The picture is %(width)s x %(height)s pixels, so long and narrow that its values make no pattern; "
        "Blotbook reads up to %(most)s times as long as wide."
    ),
    later(
        "The picture is %(width)s x %(height)s pixels; Blotbook reads up to %(side)s a side "
        "and %(most)s million in all."
    ),
    later(
        "The picture has %(count)s million pixels; here it may have up to %(most)s. Make it smaller and send it again."
    ),
    later("The picture needs more memory than there is."),
    later("That picture could not be read."),
    later("Reading that picture broke off: it is damaged, or needs more memory than one picture may have here."),
    later("Reading that picture took too long and was stopped."),
    later("%(count)s pictures are waiting to be read already; please send yours again in a minute."),
    later("No picture can be read just now; the server could not start what reads them."),
    # The door of a classroom.
    later("Too many wrong codes. Wait %(seconds)s seconds, then try again."),
)  # fmt: skip
"""Those that are met most often, with places for what changes in them."""

_PLACE = re.compile(r"%\((\w+)\)s")


def heard(sentence: str) -> str:
    """The sentence of another room in the language of who asks; as it is where there is no translation of it."""
    if spoken() == ENGLISH:
        return sentence
    for known, pattern in _patterns():
        found = pattern.fullmatch(sentence)
        if found is not None:
            return say(known, **found.groupdict())
    return sentence


@functools.cache
def _patterns() -> tuple[tuple[str, re.Pattern[str]], ...]:
    """Each sentence with what recognises it."""
    return tuple((known, re.compile(_pattern(known), re.DOTALL)) for known in SENTENCES)


def _pattern(known: str) -> str:
    # What is between the places, and their names, in turn.
    words = _PLACE.split(known)
    return "".join(f"(?P<{part}>.+?)" if at % 2 else re.escape(part) for at, part in enumerate(words))
