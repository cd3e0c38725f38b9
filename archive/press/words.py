"""Every sentence and name that is printed, in one place."""

from __future__ import annotations

from collections.abc import Mapping

from ingest.provenance import SourceRecord, credit
from ingest.rights import read_rights

UNTITLED = "Untitled"
STUDY = "A study"
STUDY_KEPT = "{study}. A student’s own study, kept in this archive."
UNKNOWN_ARTIST = "Artist not recorded"
WITHDRAWN = "This work is no longer in the archive; its record is kept."
NO_PICTURE = "The archive has no picture of this work."
NO_STUDY = "This study is no longer kept."

WAYS = {
    "painting": "Painting",
    "squint": "Squinted at",
    "five": "Five values",
    "three": "Three values",
    "two": "Two values",
}
"""What is written under a picture of each way of showing."""

ALTS = {
    "painting": "{title}.",
    "squint": "{title}, squinted at: detail melts into its mean tone.",
    "five": "{title}, in five values.",
    "three": "{title}, in three values.",
    "two": "{title}, in two values.",
}
"""What stands in for each picture where it is not seen; ``title`` names the work."""

PART = "The part from {x0} to {x1} % of the width and from {y0} to {y1} % of the height, from the top left."
PART_SHOWN = "The part that the board shows."
TO_COMPARE = "{number}: two to compare"
TASK = "To practise"
CONTINUED = "Continued"
CONTINUES = "… continued at the end, under {number}."
SOURCES = "Where the pictures come from"
NO_LEAVES = "This board has no leaves yet."
SOURCES_SAY = (
    "Each work’s record as its collection publishes it. The square code beside a picture opens the museum’s own page."
)
RIGHTS = "Rights: {name}, {address}."
RIGHTS_UNSTATED = "Rights not stated."
RIGHTS_BASIS = "They rest on: {basis}."
OBTAINED = "Picture obtained from {source}."
PAGE_OF = "{page} of {pages}"
LINK_ALT = "Square code with the address {address}"
GREYS = "Greys, L* under sRGB"
COARSE = (
    "Pictures under 200 dots an inch, since the archive’s copies are up to 960 px on the long side: {listed}. "
    "With more leaves on a page they print smaller and finer."
)
COARSE_ONE = "{number} ({dpi} dpi)"
LETTERS_MISSING = (
    "No font at hand has these characters; each is printed as \ufffd: {listed}. A font that has them can be "
    "named to Blotbook in the environment variable BLOTBOOK_FONTS; docs/press.md tells more."
)

PRINTER_TITLE = "Is the printer telling the truth?"
PRINTER_SAY = (
    "These steps are even to the eye: each is 10 L* lighter than the one before, 0 black and 100 the bare paper. Print "
    "at full size without “enhancing”, and look in daylight. All eleven should part from their neighbours. Where the "
    "dark steps close up, the darks of the maps will too: choose a lighter setting or better paper, and judge by the "
    "marked greys, in which the value maps are printed."
)
PRINTER_EXACT = (
    "L* is CIE lightness. The file holds plain greys (DeviceGray) and says that they mean sRGB; on paper L* 100 is the "
    "paper’s own white and the darkest step is as dark as the ink, so what is printed spans a little less."
)
PRINTER_ALT = "Eleven grey steps side by side, from black, L* 0, to paper white, L* 100, each 10 lighter than the last."
PRINTER_MAPS = {2: "two values", 3: "three values", 5: "five values"}

PANEL_ALT = "An empty panel to draw in. {format}"
PRACTICE_TITLE = "Practice sheet"
PRACTICE_SUBJECT = {
    3: "Empty panels to lay a picture in three values",
    2: "Empty panels to lay a picture in two values",
}
STUDY_SUBJECT = "A painting, and beside it an empty panel of its format"
NAME = "Name"
DAY = "Day"
DRAW_HERE = "Your study"
STEPS_TITLE = "In brief"
STEPS = {
    3: (
        "Squint until detail goes. Say to yourself where the light ends.",
        "Leave the paper for the lights. Lay all the rest in one middle grey.",
        "Within the grey, join the darks into as few shapes as you can.",
        "Three values, then stop. Hold it at arm’s length: does the pattern still tell?",
    ),
    2: (
        "Squint until detail goes. Say of each shape whether it belongs to the light or to the dark.",
        "Leave the paper for the lights. Lay all the dark in one flat tone, with no middle.",
        "Where dark meets dark, let it run together; where light meets light, leave no line.",
        "Two values, then stop. Hold it at arm’s length: does the pattern still tell?",
    ),
}
"""What to do in brief, by the number of values; two and then three is Dow's order (1899, Composition)."""
SCALE_TITLE = "Your own scale"
SCALE_SAY = "Printed above, L* under sRGB; match each grey below it with what you draw with."
SCALE_ALT = "Five printed greys, and below each an empty field to match it in."
NOTES = "Notes"
CAUTIONS_TITLE = "Take care"
CAUTIONS = (
    "Dust: do not blow it off; tap it onto the sheet, wipe with a damp cloth, wash your hands. Fixative: outdoors or "
    "in a spray booth, away from flames and other people, adults only. Never look at the sun, not even with eyes half "
    "closed. Blades: an adult cuts card and tape, away from the hand. The rules of your school or country and the "
    "maker’s safety sheet come first."
)
SORT_TITLE = "Which belong together?"
SORT_SUBJECT = "Value maps to cut out and sort, with answers at the end"
SORT_SAY = (
    "Print on one side of the paper only. Cut the cards apart and shuffle them. Lay together those whose light and "
    "dark are laid out alike, whatever they show. Give each heap one sentence that is true of all its cards and of no "
    "other. There may be other good ways to sort: say the reason before you look at the answers."
)
SORT_ALT = "Card {letter}. {sentence}"
SORT_ANSWERS = "Answers"
SORT_ANSWERS_SAY = "Keep this page back until everybody has said why. These heaps are Blotbook’s arrangements."
SORT_ALONE = "Of no clear arrangement"
SORT_HEAP = "{name}: cards {letters}."


def named(record: Mapping[str, str]) -> str:
    """Title and artist in one phrase."""
    return ", ".join(part for part in (record.get("title") or UNTITLED, record.get("artist", "")) if part)


def by_line(record: Mapping[str, str]) -> str:
    """Who made it and when, as far as is known."""
    artist = record.get("artist", "")
    if artist and record.get("artist_dates"):
        artist += f" ({record['artist_dates']})"
    return ", ".join(part for part in (artist or UNKNOWN_ARTIST, record.get("date", "")) if part)


def study_by_line(record: Mapping[str, str]) -> str:
    """Whose a study is and when it was kept."""
    return ", ".join(part for part in (record.get("artist", ""), record.get("date", "")) if part)


def holding(record: Mapping[str, str]) -> str:
    """What it is made of, where it is, to whom it is owed, and under which rights it is shown."""
    where = ", ".join(part for part in (record.get("collection", ""), record.get("accession_number", "")) if part)
    statements = (record.get("medium", ""), where, record.get("credit_line", ""), rights_name(record))
    return " ".join(f"{part.rstrip('.')}." for part in statements if part)


def rights_name(record: Mapping[str, str]) -> str:
    """What its rights statement is called, or the statement itself when it is not known."""
    stated = record.get("rights", "")
    return (read_rights(stated).name or stated) if stated else ""


def whole_credit(record: Mapping[str, str]) -> str:
    """The credit line to print, kept or made from the record."""
    if record.get("credit"):
        return record["credit"]
    known = SourceRecord(
        work="", file="", title=record.get("title", ""), artist=record.get("artist", ""),
        artist_dates=record.get("artist_dates", ""), date=record.get("date", ""), medium=record.get("medium", ""),
        collection=record.get("collection", ""), accession_number=record.get("accession_number", ""),
        rights=record.get("rights", ""), credit_line=record.get("credit_line", ""),
    )  # fmt: skip
    told = credit(known)
    unstated = f"{read_rights('').name}."
    return told if known.rights else told.removesuffix(unstated) + RIGHTS_UNSTATED


def part(of: tuple[float, float, float, float]) -> str:
    """Which part of a picture is shown."""
    x0, y0, x1, y1 = (round(share * 100) for share in of)
    return PART.format(x0=x0, x1=x1, y0=y0, y1=y1)
