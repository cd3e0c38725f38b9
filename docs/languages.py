"""Bring the catalogues of the pages' sentences up to date: what is new comes in empty, what is gone goes out.

    python docs/languages.py [CODE ...]

Without a CODE all languages that there are are brought up to date; with one that is new ('fr'), its catalogue is begun.
"""

from __future__ import annotations

import io
import re
import sys
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import read_po, write_po

PAGES = Path(__file__).parent.parent / "archive" / "pages"
LANGUAGES = PAGES / "languages"
KEYWORDS = {"say": None, "later": None, "_": None, "say_count": (1, 2), "_n": (1, 2)}
_OF_A_PROJECT = re.compile(
    rb'^"(?:Report|POT|PO-Rev|Last|Language-Team|Generated|Project)[^"]*"\n'
    rb"|^# .*(?:ORGANIZATION|license|AUTHOR).*\n",
    re.MULTILINE,
)
"""Lines at the head of a catalogue that say who and when; the history of the file does."""

METHODS = [("**.py", "python"), ("templates/**.html", "jinja2")]


def sentences() -> Catalog:
    """All sentences of the pages, untranslated."""
    found = Catalog(project="Blotbook", fuzzy=False)
    for file, _, message, comments, _ in extract_from_dir(PAGES, METHODS, keywords=KEYWORDS):
        found.add(message, None, [(file, 0)], auto_comments=comments)
    return found


def brought_up_to_date(code: str) -> Catalog:
    """The catalogue of a language with every sentence of the pages and no other."""
    file = LANGUAGES / f"{code}.po"
    kept = Catalog(locale=code, project="Blotbook", fuzzy=False)
    if file.exists():
        with file.open("rb") as written:
            kept = read_po(written, locale=code)
    kept.update(sentences(), no_fuzzy_matching=True)
    kept.obsolete.clear()
    return kept


def main() -> None:
    """Write the catalogues."""
    for code in sys.argv[1:] or [file.stem for file in sorted(LANGUAGES.glob("*.po"))]:
        catalogue = brought_up_to_date(code)
        written = io.BytesIO()
        write_po(written, catalogue, width=110, sort_output=True, include_lineno=False)
        (LANGUAGES / f"{code}.po").write_bytes(_OF_A_PROJECT.sub(b"", written.getvalue()))
        lacking = sum(
            not any(entry.string if entry.pluralizable else [entry.string]) for entry in catalogue if entry.id
        )
        print(f"{code}: {len(catalogue)} sentences, {lacking} of them not translated yet")


if __name__ == "__main__":
    main()
