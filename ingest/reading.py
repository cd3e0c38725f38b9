"""The whole street: a picture file becomes a lightness field, value maps, measures, words and a signature.

A master's painting and a student's thumbnail walk the same street.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from ingest.arrangement_facts import facts_of
from ingest.arrangement_types import type_degrees
from ingest.lightness import FloatArray, lightness_CIE1976
from ingest.masses import Mass, find_masses
from ingest.measures import Measures, measure
from ingest.part import Part
from ingest.picture import Picture, read_picture
from ingest.products import one_thread_a_product
from ingest.signature import Signature, signature
from ingest.squint import DEFAULT_SHARE, squint
from ingest.value_map import MAP_LIGHTNESS, ValueMap, value_maps
from ingest.words import describe

READING_VERSION = "9"
"""Stored beside every reading; raise it when the same bytes would read differently."""


@dataclass(frozen=True)
class Reading:
    """All that is read from one picture.

    squinted: (h, w) float32 L*. maps: value maps by number of values (2, 3, 5). types: degree 0..1 by slug.
    """

    picture: Picture
    squinted: FloatArray
    maps: dict[int, ValueMap]
    measures: Measures
    masses: tuple[Mass, ...]
    types: dict[str, float]
    signature: Signature
    sentence: str


def read(source: Path | bytes, *, trim: bool = True, part: Part | None = None, share: float = DEFAULT_SHARE) -> Reading:
    """Read a picture file or its bytes; `part` overrules trimming, `share` is the squint.

    Raises UnreadablePicture with one clear sentence.
    """
    return read_tone(read_picture(source, trim=trim, part=part), share)


def read_tone(picture: Picture, share: float = DEFAULT_SHARE) -> Reading:
    """The part of the street after the picture has been decoded."""
    with one_thread_a_product():
        squinted = squint(picture.luminance, share, picture.mask)
        maps = value_maps(squinted, MAP_LIGHTNESS, picture.mask)
        masses = find_masses(maps[3].labels)
        measures = measure(squinted, maps[3], masses, picture.mask, lightness_CIE1976(picture.luminance))
        return Reading(
            picture=picture,
            squinted=squinted,
            maps=maps,
            measures=measures,
            masses=masses,
            types=type_degrees(facts_of(squinted, maps[3], measures, picture.mask)),
            signature=signature(squinted, maps[3]),
            sentence=describe(measures, masses),
        )
