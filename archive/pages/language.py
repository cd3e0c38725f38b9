"""The words of the pages: every visible sentence passes through here on its way out, in the language of who asks.

Sentences stand in the code in English and are their own keys. What they are in other languages stands in
``languages/*.po``, one file a language, in the form of GNU gettext.
"""

from __future__ import annotations

import contextvars
import functools
import io
import re
from gettext import GNUTranslations, NullTranslations
from pathlib import Path
from typing import Any

LANGUAGE = "lang"
"""What chooses a language in an address is called so, and the cookie that remembers it."""

ENGLISH = "en"
FOLDER = Path(__file__).parent / "languages"

_spoken: contextvars.ContextVar[str] = contextvars.ContextVar("spoken", default=ENGLISH)
_RANGE = re.compile(
    r"\s*(?P<range>[A-Za-z]{1,8}(?:-[A-Za-z0-9]{1,8})*|\*)\s*(?:;\s*q=(?P<q>0(?:\.\d{0,3})?|1(?:\.0{0,3})?)\s*)?"
)


def say(message: str, /, **values: Any) -> str:
    """The sentence `message` in the language of who asks, with ``%(name)s`` places filled from `values`.

    Templates call it as ``_``. A sentence without values is returned as it is, so a lone per cent sign
    needs no doubling.
    """
    said = _catalogue(_spoken.get()).gettext(message)
    return said % values if values else said


def say_count(one: str, many: str, count: int, /, **values: Any) -> str:
    """Of two wordings the one that the language wants with `count`, which fills ``%(count)s``; ``_n`` in templates."""
    return _catalogue(_spoken.get()).ngettext(one, many, count) % {"count": count, **values}


def later(message: str) -> str:
    """Marks a sentence for the catalogue where it stands; it is said where it is shown."""
    return message


def number(value: float, places: int = 0) -> str:
    """A number with so many decimal places, written as the language does."""
    from babel.numbers import format_decimal

    return format_decimal(round(value, places), "0" + ("." + "0" * places if places else ""), _spoken.get())


def speak(language: str) -> None:
    """From here on, in this task and what it begins, say everything in this language, one of `languages`."""
    _spoken.set(language)


def spoken() -> str:
    """The language that is spoken here."""
    return _spoken.get()


def direction() -> str:
    """'ltr' or 'rtl': which way the language is written."""
    from babel import Locale

    return str(Locale.parse(_spoken.get()).text_direction)


def in_english() -> str:
    """Attributes for an element with words of the archive, which are English whatever the page is."""
    from markupsafe import Markup

    return "" if _spoken.get() == ENGLISH else Markup(' lang="en" dir="ltr"')


@functools.cache
def languages() -> dict[str, str]:
    """The languages that there are, each by its own name, English first."""
    from babel import Locale

    known = (ENGLISH, *sorted(file.stem for file in FOLDER.glob("*.po")))
    return {code: str(Locale.parse(code).get_display_name()).capitalize() for code in known}


def negotiated(accepted: str) -> str:
    """The language that suits an Accept-Language header (RFC 9110, 12.5.4) best; English where none does."""
    wanted: list[tuple[float, str]] = []
    for part in accepted[:500].split(","):
        found = _RANGE.fullmatch(part)
        if found is not None and (weight := float(found["q"] or 1)) > 0:
            wanted.append((weight, found["range"].lower()))
    # Sorting is stable: of ranges with the same weight the first comes first.
    for _, asked in sorted(wanted, key=lambda pair: -pair[0]):
        if asked == "*":
            break
        # RFC 4647, 3.4, lookup: the range is shortened until it is one of ours.
        while asked:
            if asked in languages():
                return asked
            asked = asked.rpartition("-")[0]
    return ENGLISH


@functools.cache
def _catalogue(language: str) -> NullTranslations:
    if language == ENGLISH:
        return NullTranslations()
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    packed = io.BytesIO()
    with (FOLDER / f"{language}.po").open("rb") as file:
        write_mo(packed, read_po(file, locale=language))
    packed.seek(0)
    return GNUTranslations(packed)
