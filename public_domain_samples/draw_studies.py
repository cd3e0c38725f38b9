"""Draw the three studies in ``studies/`` again: invented subjects, three values each.

    python -m public_domain_samples.draw_studies

Seeds are fixed, so the studies come out the same each time.
"""

from __future__ import annotations

import csv
import hashlib
import sys
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from public_domain_samples import STUDIES
from public_domain_samples.paper import (
    CHALK,
    CHARCOAL,
    GREY_PAPER,
    WHITE_PAPER,
    Sheet,
    clip,
    outline,
    over,
    smooth_step,
)

CC0 = "https://creativecommons.org/publicdomain/zero/1.0/"
MADE_BY = "drawn by code for Blotbook"
LONG_SIDE = 600


def lamp_on_a_kitchen_table() -> Sheet:
    """Grey paper is the middle value; charcoal for the room, white chalk for lamp and lit table."""
    sheet = Sheet(LONG_SIDE, 450, GREY_PAPER, seed=11)
    shade = sheet.mask(outline("44,17 57,16.5 63.5,38.5 37.5,39"), curved=False)
    stem = sheet.mask(outline("49.5,39 52,39 52.2,60 49.2,60"), curved=False, wobble=1.5)
    foot = sheet.mask(outline("45,60.5 50.5,57.5 56.5,60.5 50.8,63.8"))
    glow = sheet.mask(
        outline("46,2 63,5 76,22 80,45 78,64 24,64 21,42 29,12"),
        wobble=6,
    )
    pool = sheet.mask(outline("20,68.5 32,61 52,58.5 72,60.5 84,68 76,78.5 50,82.5 27,79"))
    front = sheet.mask(outline("-5,90.5 50,90 105,88.5 105,105 -5,105"), curved=False)
    room = sheet.mask(outline("-5,-5 105,-5 105,56 -5,57.5"), curved=False)
    jug = sheet.mask(outline("69.5,47 74.5,45.5 76.5,50 80,60 79,70 73.5,72.5 67.5,70 66.5,60 70,51.5"))
    handle = sheet.line(outline("76.5,51 83,52 84,60 79.5,65"), 8, 1.0)
    cup = sheet.mask(outline("27.5,62 34.5,61 35.5,66.5 33.5,71.5 29.5,71.8 27,67.5"))
    jug_shadow = sheet.mask(outline("76,70 88,71.5 99,75.5 93,78.5 80,75.5 73,73"))
    dark_room = room * (1 - glow)
    pool_shadow = sheet.mask(outline("-5,84 50,87 105,80 105,90 -5,91"), curved=False)
    charcoal = over(
        sheet.hatch(dark_room, 62, 0.88, spacing=9, ragged=9),
        sheet.hatch(dark_room, 48, 0.66, spacing=8, ragged=5),
        sheet.hatch(front, 4, 0.95),
        sheet.hatch(front, 40, 0.62),
        sheet.hatch(pool_shadow, 3, 0.5, spacing=6, ragged=9),
    )
    charcoal = sheet.rub(charcoal, ndimage.gaussian_filter(dark_room, 6) * smooth_step(0.9 + sheet.noise(120)), 26)
    charcoal *= 1 - 0.92 * np.clip(shade + pool * 0.9, 0, 1)
    charcoal = over(
        charcoal,
        sheet.hatch(jug, 80, 0.98, spacing=5, ragged=2),
        sheet.hatch(jug, 30, 0.72, spacing=6, ragged=2),
        handle,
        sheet.hatch(clip(stem + foot), 85, 0.95, spacing=5, ragged=2),
        sheet.hatch(cup, 70, 0.86, spacing=5, ragged=2),
        sheet.hatch(jug_shadow, 5, 0.88, spacing=5, ragged=4),
        sheet.line(outline("-2,57.8 22,57.2 27,57.3"), 3, 0.7),
        sheet.line(outline("83,56.7 102,56"), 3, 0.7),
        sheet.line(outline("44,16.5 57.2,16.3"), 3, 0.8),
        sheet.line(outline("43,17 36.8,39.5 64,39"), 2.2, 0.6),
    )
    sheet.lay(0.96 * charcoal, CHARCOAL)
    objects = clip(jug + cup + stem + foot + jug_shadow)
    lit = pool * (1 - ndimage.gaussian_filter(objects, 2))
    chalk = over(
        sheet.hatch(shade, 78, 1.0, spacing=6, ragged=3),
        sheet.hatch(shade, 95, 0.7, spacing=7, ragged=3),
        sheet.hatch(lit, 4, 0.95, spacing=7, ragged=9),
        sheet.hatch(lit, 22, 0.6, spacing=8, ragged=6),
        sheet.line(outline("70,49 68.5,56 68,62"), 4, 0.9),
        sheet.line(outline("35,62.5 35.2,66"), 3.5, 0.9),
    )
    sheet.lay(0.93 * chalk, CHALK)
    return sheet


def two_figures_by_a_window() -> Sheet:
    """White paper: window, sun on the floor and a lit side left open, the rest rubbed, darks on top."""
    sheet = Sheet(450, LONG_SIDE, WHITE_PAPER, seed=23)
    whole = np.ones(sheet.shape)
    window = sheet.mask(outline("10,7.5 50,6 50.5,56 10.5,57.5"), curved=False)
    sun = sheet.mask(outline("6,83 37,81 40,96.5 1,98.5"), curved=False)
    standing = sheet.mask(
        outline(
            "39.5,26.5 43,21.5 48.5,22 51,27 48.5,32.5 50,34.5 57.5,37.5 61,47 58.5,58 "
            "60,74 62.5,90 53,92.5 41,91.5 38.5,76 37.5,60 34.5,50 35.5,40 42.5,34.5 43,32"
        ),
        wobble=1.8,
    )
    head = sheet.mask(
        outline("70,45.5 71.5,40.5 76.5,38.5 81.5,41 82,46 78,51 72.5,50.5"),
        wobble=1.2,
    )
    body = sheet.mask(
        outline(
            "74.5,49 79,49 80,53 87.5,56 91.5,65 90.5,75 88,81.5 78,82 73.5,86 74,95.5 "
            "63.5,96.5 64.5,86 63,76.5 69.5,71 69,62 71.5,55.5 75,53"
        ),
        wobble=1.8,
    )
    seated = clip(head + body)
    hair = sheet.mask(
        outline("73.5,38.5 79,37.5 84,41 84.5,47 81,52.5 78.5,49 78.5,44"),
        wobble=1.2,
    )
    lit = clip(
        sheet.mask(
            outline("69.5,45.5 71.5,40.5 75.5,39.5 76.5,45 75,51 72,50.5"),
            wobble=1,
        )
        + sheet.mask(
            outline("74.5,54 78.5,56.5 77,63 75.5,69 66.5,75 66,93 63,95 64.5,86 62.5,77 69,71 68.5,62"),
            wobble=1.8,
        )
    )
    curtain = sheet.mask(outline("-5,-5 16,-5 13.5,20 8.5,42 12,60 -5,62"))
    wall = sheet.mask(outline("56,-5 105,-5 105,82 58,75"), curved=False)
    floor = sheet.mask(outline("40,80 105,82 105,105 43,105"), curved=False)
    bare = clip(window * (1 - curtain) + sun)
    middle = over(
        sheet.hatch(whole * (1 - bare), 55, 0.64, spacing=11, ragged=4),
        sheet.hatch(whole * (1 - bare), 125, 0.34, spacing=13, ragged=4),
    )
    middle = sheet.rub(middle, (1 - 0.9 * ndimage.gaussian_filter(bare, 3)) * whole, 22)
    lifted = ndimage.gaussian_filter(lit, 1.5)
    middle = middle * (1 - 0.9 * lifted)
    around = 1 - seated
    darks = [
        (wall * around, 58, 0.95, 8.0),
        (wall * around, 100, 0.76, 9.0),
        (floor * around, 12, 0.84, 8.0),
        (floor * around, 50, 0.5, 8.0),
        (curtain, 84, 0.90, 8.0),
        (curtain, 70, 0.60, 9.0),
        (standing, 76, 1.15, 6.0),
        (standing, 40, 0.95, 6.0),
        (hair, 60, 1.05, 4.0),
    ]
    dark = over(*(sheet.hatch(mask, angle, press, spacing=gap, ragged=3) for mask, angle, press, gap in darks))
    dark = sheet.rub(dark, 0.7 * wall * smooth_step(sheet.noise(100)), 22)
    drawn = over(
        sheet.line(outline("30,7 30.2,30 30.5,56.5"), 6, 1.0),
        sheet.line(outline("10,30 30,29.5 40,29.2"), 5, 1.0),
        sheet.line(outline("9.8,57 30,57.2 37,56.8"), 6, 1.0),
        sheet.line(outline("50.5,6 51,25"), 3, 0.8),
        sheet.line(outline("10,7.3 30,6.6 51,5.8"), 3, 0.8),
        sheet.line(outline("-2,76.5 20,76 38,75.7"), 3, 0.7),
        sheet.line(outline("92.5,55 92.5,80 94,97"), 7, 1.1),
        sheet.line(outline("74,81.5 83,83 93,80"), 6, 1.1),
        sheet.line(outline("77.5,83 77,96"), 6, 1.1),
        sheet.line(outline("71.5,56 69,63 68,71"), 1.8, 0.8),
        sheet.line(outline("70,72 64,77 65,86 64,96.5"), 1.8, 0.8),
    )
    sheet.lay(0.97 * over(0.66 * middle, dark, drawn), CHARCOAL)
    return sheet


def harbour_at_evening() -> Sheet:
    """Ink wash on white paper: light sky and water left dry, one middle wash, one dark."""
    sheet = Sheet(LONG_SIDE, 420, WHITE_PAPER, seed=37)
    hills = sheet.mask(
        outline("-5,36 7,31 19,32.5 30,38.5 43,42.5 52,44 60,45.5 60,50 -5,50.5"),
        wobble=2,
    )
    cloud = sheet.mask(outline("32,13 48,8.5 66,11 86,7.5 106,10 106,21 84,19.5 66,23.5 50,19"))
    cloud_low = sheet.mask(outline("-6,16.5 10,17.5 22,21.5 12,24.5 -6,24"))
    water = sheet.mask(
        outline("-5,60.5 20,60 43,62.5 40,70 35,80 33,105 -5,105"),
        curved=False,
    )
    water_right = sheet.mask(
        outline("60,61.5 80,60 105,61 105,105 66,105 62,86 63,72"),
        curved=False,
    )
    quay = sheet.mask(outline("70,44 105,41 105,70 80,62.5 68.5,55.5"), curved=False)
    houses = sheet.mask(
        outline("75.5,45 75.5,33.5 80,28.5 84.5,33 84.7,36 89,36 89,22.5 94.5,16.5 105,21 105,46"),
        curved=False,
        wobble=2,
    )
    hull = sheet.mask(
        outline("10.5,60 17,64.5 31,66 45.5,64 53.5,57.5 50.5,70 44.5,75.5 30,76.5 17.5,75 13,69"),
        wobble=2,
    )
    cabin = sheet.mask(outline("18.5,65 19,57.5 28.5,57 29,66"), curved=False, wobble=2)
    sail = sheet.mask(outline("34.3,16.5 40,30 45.5,43 49.5,55.5 42,59 34.8,60"), wobble=2)
    reflection = np.maximum.reduce(
        [
            sheet.mask([(x, y), (x + w * 0.4, y - 0.017), (x + w, y - 0.004), (x + w * 0.5, y + 0.016)], wobble=2)
            for x, y, w in [(0.15, 0.80, 0.31), (0.20, 0.846, 0.24), (0.18, 0.89, 0.18), (0.27, 0.93, 0.14)]
        ]
    )
    ripples = [
        sheet.line([(x, y), (x + long / 2, y + 0.004), (x + long, y - 0.003)], 5, 2.0)
        for x, y, long in [
            (0.43, 0.74, 0.09),
            (0.52, 0.81, 0.13),
            (0.40, 0.885, 0.11),
            (0.55, 0.93, 0.10),
            (0.47, 0.665, 0.10),
        ]
    ]
    middle = np.maximum.reduce(
        [
            sheet.wash(clip(cloud), 0.40),
            sheet.wash(cloud_low, 0.36),
            sheet.wash(hills, 0.56),
            sheet.wash(water, 0.47),
            sheet.wash(water_right, 0.50),
            *(0.42 * ripple for ripple in ripples),
        ]
    )
    sheet.stain(middle)
    sheet.stain(sheet.wash(sail, 0.34))
    rig = over(
        sheet.line(outline("33.5,8.5 33.8,35 34,67"), 5, 2.0),
        sheet.line(outline("33.5,10 43,33 53,57"), 1.4, 1.6),
        sheet.line(outline("33.5,10 24,36 12.5,60"), 1.2, 1.4),
        sheet.line(outline("68.5,54.5 84,63 102,68.5"), 4, 2.0),
    )
    dark = np.maximum.reduce(
        [
            sheet.wash(clip(quay + houses), 1.18, pooled=0.3),
            sheet.wash(clip(hull + cabin), 1.30, pooled=0.3),
            sheet.wash(reflection, 0.85, pooled=0.3),
            1.3 * rig,
        ]
    )
    sheet.stain(dark)
    return sheet


@dataclass(frozen=True)
class Study:
    """What studies.csv says of one study, and the function that draws it."""

    file: str
    title: str
    medium: str
    draw: Callable[[], Sheet]


ALL = (
    Study(
        "lamp-on-a-kitchen-table.jpg",
        "Lamp on a kitchen table",
        "charcoal and white chalk on grey paper",
        lamp_on_a_kitchen_table,
    ),
    Study(
        "two-figures-by-a-window.jpg",
        "Two figures by a window",
        "charcoal on white paper",
        two_figures_by_a_window,
    ),
    Study("harbour-at-evening.jpg", "Harbour at evening", "ink wash on white paper", harbour_at_evening),
)


def main() -> int:
    """Draw all three and write their record."""
    STUDIES.parent.mkdir(exist_ok=True)
    with STUDIES.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(["file", "title", "made_by", "medium", "rights", "sha256"])
        for study in ALL:
            content = study.draw().jpeg()
            (STUDIES.parent / study.file).write_bytes(content)
            digest = hashlib.sha256(content).hexdigest()
            writer.writerow([study.file, study.title, MADE_BY, study.medium, CC0, digest])
    return 0


if __name__ == "__main__":
    sys.exit(main())
