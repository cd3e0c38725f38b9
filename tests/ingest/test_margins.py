"""The picture is found in its file: in pages of known truth, and whole where there is nothing but picture.

The full measurement is `benchmarks/trimming.py`; these are a few pages of each kind, and drawings.
"""

from __future__ import annotations

import io

import numpy as np
import pytest
from benchmarks import made_pages
from benchmarks.made_pages import encode, overlap
from PIL import Image, ImageDraw, ImageFont

from ingest.blocks import snapped
from ingest.picture import Picture, read_picture

PARTS = list(made_pages.clean_parts(every=23))
DARK, MID, LIGHT, PAPER = 40, 128, 225, 250
"""Codes of the greys that the drawings are laid in."""

Rectangle = tuple[float, float, float, float, int]
"""left, top, right, bottom in 0..1, and the grey."""


def drawing(ground: int, *shapes: Rectangle, noise: float = 0.0) -> bytes:
    """A drawing of flat rectangles, 600 x 450, with the noise of a scan."""
    image = Image.new("L", (600, 450), ground)
    draw = ImageDraw.Draw(image)
    for x0, y0, x1, y1, grey in shapes:
        draw.rectangle((600 * x0, 450 * y0, 600 * x1 - 1, 450 * y1 - 1), fill=grey)
    codes = np.asarray(image) + np.random.default_rng(3).normal(0, noise, (450, 600))
    buffer = io.BytesIO()
    Image.fromarray(np.rint(codes.clip(0, 255)).astype(np.uint8)).save(buffer, "PNG")
    return buffer.getvalue()


def kept(pixels: made_pages.Pixels) -> made_pages.Truth:
    """What is kept of a page, as a mask over it."""
    picture = read_picture(encode(pixels))
    x0, y0, x1, y1 = picture.trimmed
    mask = np.zeros(pixels.shape[:2], dtype=bool)
    inside = Image.fromarray(np.ones((y1 - y0, x1 - x0), dtype=bool) if picture.mask is None else picture.mask)
    mask[y0:y1, x0:x1] = np.asarray(inside.resize((x1 - x0, y1 - y0), Image.Resampling.NEAREST)).astype(bool)
    return mask


def whole(picture: Picture) -> bool:
    return picture.trimmed == (0, 0, picture.width, picture.height) and picture.mask is None


@pytest.mark.parametrize("kind", made_pages.KINDS)
def test_the_picture_is_found_in_its_page(kind: str) -> None:
    rng = np.random.default_rng([1903, *kind.encode()])
    scores = []
    for _, image in PARTS:
        page = made_pages.KINDS[kind](made_pages.sized(image), rng)
        if made_pages.stands_out(page):
            scores.append(overlap(page.truth, kept(page.pixels)))
        if len(scores) == 2:
            break
    assert scores
    assert min(scores) >= 0.93
    assert np.mean(scores) >= 0.98


def test_pictures_without_a_margin_are_left_whole() -> None:
    """Pale skies and dark edges are picture."""
    for file, image in PARTS:
        assert kept(made_pages.sized(image)).mean() > 0.995, file


@pytest.mark.parametrize("side", range(4))
def test_a_spot_of_the_paper_beside_the_picture_is_not_its_edge(side: int) -> None:
    """Foxing close to a picture leaves no gap between them."""
    _, image = PARTS[0]
    page = made_pages.KINDS["pale scanner margin"](made_pages.sized(image), np.random.default_rng(1774))
    truth = np.rot90(page.truth, side)
    pixels = np.rot90(page.pixels, side).copy()
    rows, columns = np.flatnonzero(truth.any(axis=1)), np.flatnonzero(truth.any(axis=0))
    middle = (rows[0] + rows[-1]) // 2
    spot = slice(middle, middle + 9), slice(columns[0] - 12, columns[0] - 3)
    pixels[spot] = (90, 70, 50)
    found = kept(pixels)
    assert overlap(truth, found) > 0.99
    assert not found[spot].any()


def test_the_rim_of_a_mount_is_not_where_its_picture_begins() -> None:
    """Between a white bevel and a dark picture a blur has the tone of the mount: but for a few pixels it wipes the
    bevel out, so that nothing seems to begin along the side of the block that reaches to them."""
    content, smooth = np.zeros((2, 400, 500), dtype=bool)
    content[100:300, 80:420] = smooth[100:300, 80:420] = True
    content[95:98, 80:420] = True
    smooth[95:98, 200:204] = True
    assert snapped((80, 95, 420, 300), content, smooth) == (80, 100, 420, 300)
    assert snapped((80, 95, 420, 300), content, content) == (80, 95, 420, 300), "a rim that is seen belongs to it"
    smooth[95:98, 200:230] = True
    assert snapped((80, 95, 420, 300), content, smooth) == (80, 95, 420, 300), "what is longer is no spot"


@pytest.mark.parametrize("side", range(4))
def test_black_beside_paper_may_be_as_deep_as_paper_elsewhere(side: int) -> None:
    """It passes for the fourth side of a frame of paper; the paper that is left then shows on one side alone, and is
    known by what has been taken off on the others."""
    _, image = PARTS[0]
    inner = made_pages.sized(image)
    high, wide = inner.shape[:2]
    paper = np.full((high + 92, wide + 102, 3), (232, 224, 206), dtype=np.float64)
    paper[:, -36:] = paper[:, :2] = paper[:2] = paper[-8:] = (14, 13, 12)
    paper += np.random.default_rng(1452).normal(0, 1.5, (*paper.shape[:2], 1))
    paper[36:-56, 36:-66] = inner
    truth = np.zeros(paper.shape[:2], dtype=bool)
    truth[36:-56, 36:-66] = True
    page = np.rint(np.rot90(paper, side).clip(0, 255)).astype(np.uint8)
    assert overlap(np.rot90(truth, side), kept(page)) > 0.98


def test_what_is_kept_of_a_sample_holds_all_of_its_painting() -> None:
    """The clean parts were looked through by eye; trimming must not cut into them."""
    for file, image in PARTS:
        with Image.open(made_pages.SAMPLES / file) as opened:
            upright = opened.size
        picture = read_picture(made_pages.SAMPLES / file)
        x0, y0, x1, y1 = picture.trimmed
        assert (picture.width, picture.height) == upright
        assert x1 - x0 >= 0.98 * image.width, file
        assert y1 - y0 >= 0.98 * image.height, file


BARS: tuple[Rectangle, ...] = tuple((0.1 + 0.21 * at, 0.1, 0.2 + 0.21 * at, 0.9, DARK) for at in range(4))
CHECKS: tuple[Rectangle, ...] = tuple(
    (0.1 + 0.2 * column, 0.1 + 0.2 * row, 0.3 + 0.2 * column, 0.3 + 0.2 * row, DARK)
    for row in range(4)
    for column in range(4)
    if (row + column) % 2
)
DRAWINGS: dict[str, tuple[int, tuple[Rectangle, ...]]] = {
    "four bars": (PAPER, BARS),
    "four bars from top to bottom": (PAPER, tuple((x0, 0.0, x1, 1.0, grey) for x0, _, x1, _, grey in BARS)),
    "checks": (PAPER, CHECKS),
    "one dark rectangle on white": (PAPER, ((0.3, 0.25, 0.7, 0.75, DARK),)),
    "one white rectangle in the dark": (DARK, ((0.3, 0.25, 0.7, 0.75, PAPER),)),
    "a bar at the right": (PAPER, ((0.7, 0.1, 0.85, 0.9, DARK),)),
    "a pale study": (235, ((0.2, 0.3, 0.5, 0.8, 210), (0.6, 0.2, 0.9, 0.6, 222))),
    "a light ringed by dark": (DARK, ((0.12, 0.15, 0.88, 0.85, MID), (0.4, 0.4, 0.6, 0.6, LIGHT))),
    "dark at both sides": (LIGHT, ((0.0, 0.0, 0.15, 1.0, DARK), (0.85, 0.0, 1.0, 1.0, DARK))),
    "level stripes": (PAPER, tuple((0.1, 0.1 + 0.2 * at, 0.9, 0.2 + 0.2 * at, DARK) for at in range(4))),
    "two panels side by side": (PAPER, ((0.05, 0.1, 0.45, 0.9, MID), (0.55, 0.1, 0.95, 0.9, DARK))),
}


@pytest.mark.parametrize("noise", [0.0, 2.0])
@pytest.mark.parametrize("name", DRAWINGS)
def test_the_ground_of_a_drawing_is_part_of_it(name: str, noise: float) -> None:
    ground, shapes = DRAWINGS[name]
    assert whole(read_picture(drawing(ground, *shapes, noise=noise)))


def test_a_study_on_a_sheet_of_paper_is_cut_out_of_it() -> None:
    picture = read_picture(drawing(PAPER, (0.15, 0.15, 0.85, 0.85, MID), (0.4, 0.4, 0.6, 0.6, LIGHT)))
    np.testing.assert_allclose(picture.trimmed, (90, 67, 510, 382), atol=3)
    assert "margin round a drawing" in picture.trims[0]


def test_gilt_is_told_from_a_grey_wall_of_its_lightness() -> None:
    """Gilt (176, 140, 74) and grey (145, 145, 145) are both L* 60; the frame is found by its hue."""
    _, image = PARTS[1]
    picture = made_pages.sized(image)
    height, width = picture.shape[:2]
    page = np.full((height + 140, width + 140, 3), 145, dtype=np.uint8)
    page[40:-40, 40:-40] = (176, 140, 74)
    page[70:-70, 70:-70] = picture
    found = read_picture(encode(page))
    np.testing.assert_allclose(found.trimmed, (70, 70, 70 + width, 70 + height), atol=4)


def test_print_that_runs_to_the_edge_is_taken_off() -> None:
    """A page cropped so closely that plate and caption leave no ground on all sides."""
    _, image = PARTS[2]
    picture = made_pages.sized(image)
    height, width = picture.shape[:2]
    page = np.full((height + 90, width, 3), (236, 228, 212), dtype=np.uint8)
    page[:height] = picture
    printed = Image.fromarray(page)
    draw = ImageDraw.Draw(printed)
    for line in range(2):
        words = "AFTER THE PICTURE IN THE COLLECTION OF THE SCHOOL " * 3
        draw.text((0, height + 22 + 30 * line), words, fill=(40, 36, 34), font=ImageFont.load_default(14))
    found = read_picture(encode(np.asarray(printed)))
    np.testing.assert_allclose(found.trimmed, (0, 0, width, height), atol=3)
    assert found.trims == ("print below the plate",)
