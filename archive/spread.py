"""Choosing works for a lesson: members of an arrangement that differ in all but their pattern, and the opposite of it.

The rule of `spread`, so that anybody can do it by hand: begin with the clearest member.  Then take again and again the
one that brings most that is new, asked in this order: a hand that is not there yet; a century; a subject; a pattern
(register, scale and strongest type); and last the higher degree.  What a record does not say is never new.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from archive.works import HELD, measured

if TYPE_CHECKING:
    from archive.store import Archive
    from archive.works import Work

CLEAR_DEGREE = 0.5
"""The degree from which a member stands for its arrangement in a lesson, while there are enough such."""

_LOOKED_AT = 80
"""Clearest members among which a lesson chooses."""

_SHORTEST_WORD = 4
_NO_SUBJECT = frozenset(
    ("with", "from", "near", "view", "scene", "study", "portrait", "landscape", "painting", "untitled", "after", "over",
     "under", "into", "upon", "called", "known", "part")
)  # fmt: skip
"""Words of titles that say nothing of what is shown."""


def members(archive: Archive, slug: str, enough: int) -> list[Work]:
    """The clear members of an arrangement, the clearest first, each with all that is known of it.

    Where it is called after a type, those that are of it: a lesson says that they are.  Of a small arrangement, where
    fewer than ``enough`` are so or are clear, all members.
    """
    rows = archive.works(where={"arrangement": slug}, sort="-degree", size=_LOOKED_AT).works
    clear = [row for row in rows if row["degree"] >= CLEAR_DEGREE]
    known = (archive.work(row["work"]) for row in (clear if len(clear) >= enough else rows))
    found = [work for work in known if work is not None]
    kind = _type_called(found[0]["arrangement_name"]) if found else None
    of_it = [work for work in found if any(row["type"] == kind and row["degree"] >= HELD for row in work["types"])]
    return of_it if len(of_it) >= enough else found


def _type_called(name: str) -> str | None:
    from ingest.arrangement_types import TYPES

    return next((kind.slug for kind in TYPES if kind.name == name), None)


def spread(works: Sequence[Work], count: int) -> list[Work]:
    """Up to ``count`` of the works, well spread by the rule above, in the order in which they are taken.

    ``works`` are rows as `archive.store.Archive.work` gives them.  Ties fall to the one that comes first by its id.
    """
    left = sorted(works, key=lambda work: (-(work["degree"] or 0.0), work["work"]))
    taken: list[Work] = left[:1]
    left = left[1:]
    while left and len(taken) < count:
        best = max(left, key=lambda work: (_brings(work, taken), work["degree"] or 0.0))
        taken.append(best)
        left.remove(best)
    return taken


def subjects(work: Work) -> frozenset[str]:
    """What a work shows, as its record says; where that is silent, the words of its title that may tell."""
    if work.get("subjects"):
        return frozenset(subject.casefold() for subject in work["subjects"])
    words = re.findall(r"[^\W\d_]+", work["title"].casefold())
    return frozenset(word for word in words if len(word) >= _SHORTEST_WORD and word not in _NO_SUBJECT)


def pattern(work: Work) -> tuple[Any, ...]:
    """Register, scale and strongest type: in what works of one arrangement still differ as patterns."""
    found = measured(work)
    strongest = work["types"][0]["type"] if work["types"] else ""
    return found.get("register", ""), found.get("scale", ""), strongest


def contrary(archive: Archive, slug: str) -> Work | None:
    """The typical work of another arrangement whose light and dark lie most unlike those of this one's typical work.

    Unlike is the lowest correlation of tone, place by place, left and right counting as the same.  None when there is
    no other arrangement.
    """
    import numpy as np

    from ingest.signature import coarse_fields

    groups = archive.arrangements()
    typical = {row["slug"]: row["medoid"] for row in groups if row["medoid"]}
    own = typical.pop(slug, None)
    if own is None or not typical:
        return None
    rows = {work: row for row, work in enumerate(archive.work_ids())}
    others = sorted(typical.values())
    fields = coarse_fields(np.asarray(archive.signatures())[[rows[work] for work in (own, *others)]])
    tones = fields.reshape(len(fields), -1)
    tones = tones - tones.mean(axis=1, keepdims=True)
    tones /= np.maximum(np.linalg.norm(tones, axis=1, keepdims=True), 1e-6)
    turned = tones.reshape(fields.shape)[:, :, ::-1].reshape(tones.shape)
    alike = np.maximum(tones[1:] @ tones[0], turned[1:] @ tones[0])
    return archive.work(others[int(alike.argmin())])


def _brings(work: Work, taken: Sequence[Work]) -> tuple[bool, bool, bool, bool]:
    artists = {other["artist"] for other in taken}
    centuries = {other["century"] for other in taken}
    shown = frozenset[str]().union(*(subjects(other) for other in taken))
    patterns = {pattern(other) for other in taken}
    own = subjects(work)
    return (
        bool(work["artist"]) and work["artist"] not in artists,
        work["century"] is not None and work["century"] not in centuries,
        bool(own) and not own & shown,
        pattern(work) not in patterns,
    )
