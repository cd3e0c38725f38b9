"""Rights statements: which of them place a work in the public domain, and why the others do not.

A picture is admitted only when its record says, by a statement with a published address, that the work is
free of copyright and carries no other stated restriction.  The statements are those of Creative Commons
(https://creativecommons.org/public-domain/) and of RightsStatements.org (https://rightsstatements.org/page/),
read in every form in which museums write them: ``http`` or ``https``, with or without ``www.``, a trailing
slash, a language or a ``/deed``; ``/vocab/`` or ``/page/``; or a few plain words (`WORDS`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from urllib.parse import urlsplit


@dataclass(frozen=True)
class Rights:
    """One reading of a rights statement.

    ``uri`` is its published address in the publisher's own spelling ('' when the statement is not known),
    ``name`` what it is called, ``admits`` whether a picture under it is taken, and ``reason`` why not
    ('' when it is).
    """

    uri: str
    name: str
    admits: bool
    reason: str = ""


CC0 = Rights("https://creativecommons.org/publicdomain/zero/1.0/", "CC0 1.0", True)
PUBLIC_DOMAIN_MARK = Rights("https://creativecommons.org/publicdomain/mark/1.0/", "Public Domain Mark 1.0", True)
PUBLIC_DOMAIN_CERTIFICATION = Rights(
    "https://creativecommons.org/licenses/publicdomain/",
    "Public Domain Dedication and Certification (retired)",
    True,
)
NO_COPYRIGHT_US = Rights("http://rightsstatements.org/vocab/NoC-US/1.0/", "No Copyright - United States", True)

ADMITTED = (CC0, PUBLIC_DOMAIN_MARK, PUBLIC_DOMAIN_CERTIFICATION, NO_COPYRIGHT_US)
"""The statements that admit a picture."""


def _refused(code: str, name: str, reason: str) -> Rights:
    return Rights(f"http://rightsstatements.org/vocab/{code}/1.0/", name, False, reason)


REFUSED = (
    _refused("InC", "In Copyright", "the work is in copyright"),
    _refused("InC-OW-EU", "In Copyright - EU Orphan Work", "the work is in copyright, its owner not found"),
    _refused("InC-EDU", "In Copyright - Educational Use Permitted", "the work is in copyright"),
    _refused("InC-NC", "In Copyright - Non-Commercial Use Permitted", "the work is in copyright"),
    _refused(
        "InC-RUU",
        "In Copyright - Rights-holder(s) Unlocatable or Unidentifiable",
        "the work is in copyright, its owner not found",
    ),
    _refused("NoC-CR", "No Copyright - Contractual Restrictions", "a contract restricts its use"),
    _refused("NoC-NC", "No Copyright - Non-Commercial Use Only", "only non-commercial use is allowed"),
    _refused("NoC-OKLR", "No Copyright - Other Known Legal Restrictions", "other laws restrict its use"),
    _refused("NKC", "No Known Copyright", "its holder believes it to be free but does not state that it is"),
    _refused("CNE", "Copyright Not Evaluated", "nobody has examined its copyright"),
    _refused("UND", "Copyright Undetermined", "its copyright was examined without a result"),
)
"""The statements of RightsStatements.org that do not admit a picture, each with the reason."""

WORDS = {
    "cc0": CC0,
    "cc 0": CC0,
    "cc0 1 0": CC0,
    "cc0 1 0 universal": CC0,
    "cc zero": CC0,
    "creative commons zero": CC0,
    "creative commons 0": CC0,
    "public domain cc0": CC0,
    "cc0 public domain": CC0,
    "cc0 public domain dedication": CC0,
    "pdm": PUBLIC_DOMAIN_MARK,
    "pdm 1 0": PUBLIC_DOMAIN_MARK,
    "cc pdm": PUBLIC_DOMAIN_MARK,
    "cc pdm 1 0": PUBLIC_DOMAIN_MARK,
    "public domain": PUBLIC_DOMAIN_MARK,
    "public domain mark": PUBLIC_DOMAIN_MARK,
    "public domain mark 1 0": PUBLIC_DOMAIN_MARK,
    "noc us": NO_COPYRIGHT_US,
    "no copyright united states": NO_COPYRIGHT_US,
} | {
    re.sub(r"[\W_]+", " ", words).strip().casefold(): refused
    for refused in REFUSED
    for words in (refused.uri.split("/")[-3], refused.name)
}
"""Plain words that stand for a statement, in small letters with single spaces for everything else.

'Public domain' alone is read as the Public Domain Mark: the holder says that no copyright is known to remain.
"""

_BY_CODE = {statement.uri.split("/")[-3].casefold(): statement for statement in (*REFUSED, NO_COPYRIGHT_US)}


def read_rights(text: str) -> Rights:
    """What the rights statement ``text`` (an address or a few plain words) allows.

    Never raises: an empty or unknown statement is a refusal whose reason says so.
    """
    given = text.strip()
    if not given:
        return Rights("", "no statement", False, "its record states no rights")
    if re.match(r"(?i)https?://|(www\.)?(creativecommons|rightsstatements)\.org/", given):
        return _read_address(given)
    known = WORDS.get(re.sub(r"[\W_]+", " ", given).strip().casefold())
    if known is not None:
        return known
    return Rights("", _short(given), False, f"“{_short(given)}” is not a known statement of public domain")


def _read_address(address: str) -> Rights:
    short = _short(address)
    unknown = Rights("", short, False, f"{short} is not a known statement of public domain")
    try:
        parts = urlsplit(address if "://" in address else "https://" + address)
        host = (parts.hostname or "").removeprefix("www.")
    except ValueError:
        return unknown
    steps = [step for step in parts.path.casefold().split("/") if step]
    if host == "rightsstatements.org" and len(steps) >= 2 and steps[0] in ("vocab", "page", "data"):
        return _BY_CODE.get(steps[1], unknown)
    if host != "creativecommons.org":
        return unknown
    if steps[:3] == ["publicdomain", "zero", "1.0"]:
        return CC0
    if steps[:3] == ["publicdomain", "mark", "1.0"]:
        return PUBLIC_DOMAIN_MARK
    if steps[:2] in (["licenses", "publicdomain"], ["publicdomain", "certification"]):
        return PUBLIC_DOMAIN_CERTIFICATION
    if steps[:1] == ["licenses"] and len(steps) >= 2:
        name = " ".join(["CC", steps[1].upper(), *steps[2:3]])
        return Rights(address, name, False, "a licence is granted, so the work is in copyright")
    return unknown


def _short(text: str) -> str:
    """The statement as it is quoted to people: one line of at most 80 characters."""
    line = " ".join(text.split())
    return line if len(line) <= 80 else line[:79] + "…"
