"""What in a file is not picture: page paper, mounts, photographic ground, captions and colour bars round the painting.

The outermost ring of the file says what the ground is, if one look rules it. Everything that leaves it is content; the
largest block of content is the picture, and smaller blocks set off by a clear gap (a caption, a colour bar, a grey
ramp) are not. A cut is only made where the picture begins along a whole side at once: a pale sky or a dark ground
fades into its picture in places, a margin ends along its whole length. Content that fills an oval, a round or an arch
instead of a rectangle is kept with a mask. What is kept must hold a pattern: a black square on white paper is a
drawing of a square and no plate. A drawing in flat tones is its own ground more often than not, so of it only paper
and black are taken off, and only where they end along all four sides.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ingest.appearance import FLAT, appearance, in_words
from ingest.blocks import Box, begun, main_block, picture_block, snapped
from ingest.flatness import has_flat_tones
from ingest.ground import ground_all_round
from ingest.lightness import FloatArray
from ingest.mouldings import frame_depths
from ingest.print_lines import off_print
from ingest.rounded import BEGUN, EVEN, rounded_shape
from ingest.shadows import shadow_depth
from ingest.sides import looks_cut_off, off_sides
from ingest.windows import gaussian

_AGREE = 4
"""Pixels within which two ways of finding a margin agree."""

_PATTERN = 5.0
"""L* that what is kept must span; see `value_map.find_thresholds`."""

_DRAWN_GROUND = (8.0, 85.0)
"""L* up to which, and from which, the ground of a drawing in flat tones may be no part of it."""

_DRAWN_BEGUN = 0.9


@dataclass(frozen=True)
class Trim:
    """part: the picture (x0, y0, x1, y1) in 0..1 of the file. mask: (h, w) bool inside `part`, or None.
    reasons: what was taken off, in words."""

    part: tuple[float, float, float, float]
    mask: NDArray[np.bool_] | None
    reasons: tuple[str, ...]


def find_picture(luminance: FloatArray, rgb: NDArray[np.uint8] | None = None) -> Trim:
    """The picture within its margins; luminance (h, w) float32 0..1 and, where there is colour, sRGB codes (h, w, 3) of
    the whole file. A doubtful margin is left on."""
    field = appearance(luminance, rgb)
    height, width = luminance.shape
    drawn = has_flat_tones(field[..., 0])
    left, top, right, bottom = 0, 0, width, height
    reasons: list[str] = []
    mask: NDArray[np.bool_] | None = None
    framed: Box | None = None
    for _ in range(5):
        # After a cut the outermost lines may be half margin; they are not asked what the next ground is.
        aside = 2 if reasons else 0
        inner = field[top + aside : bottom - aside, left + aside : right - aside]
        cut_off = looks_cut_off(field, (left, top, right, bottom))
        box, why, mask = _off_drawing(inner) if drawn else _off_everything(inner, cut_off)
        if not why or not _holds_pattern(inner, box, mask):
            mask = None
            if framed is not None:
                # Nothing else says where the rest of the frame ends.
                left, top, right, bottom = framed
                reasons.append("a frame")
            break
        reasons += why
        hidden = None if drawn or mask is not None else _hidden_frame(inner, box)
        framed = None if hidden is None else _moved(hidden, inner, aside, left, top)
        if mask is not None and aside:
            mask = np.pad(mask, aside, mode="edge") if box == _whole(inner) else mask
        left, top, right, bottom = _moved(box, inner, aside, left, top)
        if mask is not None:
            break
    part = (left / width, top / height, right / width, bottom / height)
    return Trim(part, mask, tuple(dict.fromkeys(reasons)))


def _holds_pattern(field: FloatArray, box: Box, mask: NDArray[np.bool_] | None) -> bool:
    """Whether what is kept holds more than one tone, apart from its grain and its outermost rim."""
    left, top, right, bottom = box
    rim = max(3, round(0.01 * min(right - left, bottom - top)))
    kept = ndimage.gaussian_filter(field[top:bottom:2, left:right:2, 0], 1.0)[rim:-rim, rim:-rim]
    if mask is not None:
        kept = kept[ndimage.binary_erosion(mask[::2, ::2], iterations=rim)[rim:-rim, rim:-rim]]
    if not kept.size:
        return False
    low, high = np.percentile(kept, [1, 99])
    return bool(high - low >= _PATTERN)


def _off_everything(field: FloatArray, cut_off: list[FloatArray]) -> tuple[Box, list[str], NDArray[np.bool_] | None]:
    """What is taken off a field in one step, where sides of one look have just been cut off."""
    box, why, mask = _off_ground(field)
    height, width = field.shape[:2]
    cut = (box[0], box[1], width - box[2], height - box[3])
    if mask is None and min(cut) == 0:
        # Ground on all sides is plain enough; where it is not, mouldings may say more than a margin or two. Three
        # margins are only given up for four that agree with them, at least two of them closely and none less deep: on
        # the fourth a frame may touch the file's edge.
        depths = frame_depths(field)
        deeper = [other - own for own, other in zip(cut, depths or cut, strict=True) if own]
        agree = sum(abs(more) <= _AGREE for more in deeper) >= 2 and min(deeper, default=0) >= -_AGREE
        if depths is not None and (len(deeper) < 3 or agree):
            return (depths[0], depths[1], width - depths[2], height - depths[3]), ["a frame"], None
        if not why:
            box, why = off_sides(field, cut_off)
        if not why:
            box, why = off_print(field)
    return box, why, mask


def _hidden_frame(field: FloatArray, box: Box) -> Box | None:
    """The picture in a frame that ends where margins on all sides, outside a box, end on two sides that meet, and
    equally far within them on the two others: on the first its own tone is that of the wall. None without one."""
    height, width = field.shape[:2]
    cut = (box[0], box[1], width - box[2], height - box[3])
    depths = frame_depths(field) if min(cut) > 0 else None
    if depths is None:
        return None
    deeper = np.subtract(depths, cut)
    left_on = np.flatnonzero(np.abs(deeper) > _AGREE)
    if len(left_on) != 2 or (left_on[1] - left_on[0]) % 2 == 0:
        return None
    alike = deeper[left_on].min() > 0 and np.ptp(deeper[left_on]) <= _AGREE / 2
    return (depths[0], depths[1], width - depths[2], height - depths[3]) if alike else None


def _off_drawing(field: FloatArray) -> tuple[Box, list[str], NDArray[np.bool_] | None]:
    """The same for a drawing in flat tones."""
    ground = ground_all_round(field)
    if ground is None or _DRAWN_GROUND[0] < ground.lightness < _DRAWN_GROUND[1]:
        return _whole(field), [], None
    content = ground.away(field) > ground.allowed
    box, _ = main_block(content)
    left, top, right, bottom = box
    block = content[top:bottom, left:right]
    if not block.size or min(begun(block).values()) < _DRAWN_BEGUN:
        return _whole(field), [], None
    return box, [f"{in_words(ground.lightness)} margin round a drawing"], None


def _whole(field: FloatArray) -> Box:
    height, width = field.shape[:2]
    return 0, 0, width, height


def _moved(box: Box, inner: FloatArray, aside: int, left: int, top: int) -> Box:
    """A box found inside `inner`, in pixels of the file; sides left alone keep the lines that were set aside."""
    height, width = inner.shape[:2]
    return (
        left + (box[0] + aside if box[0] else 0),
        top + (box[1] + aside if box[1] else 0),
        left + box[2] + (aside if box[2] < width else 2 * aside),
        top + box[3] + (aside if box[3] < height else 2 * aside),
    )


def _off_ground(field: FloatArray) -> tuple[Box, list[str], NDArray[np.bool_] | None]:
    """The picture on a ground that shows on all sides: its box, the reasons, and a mask when it is no rectangle."""
    height, width = field.shape[:2]
    whole = _whole(field)
    ground = ground_all_round(field)
    if ground is None:
        return _rounded_at_corners(field[..., 0])
    away = ground.away(field)
    smooth = gaussian(field, 1.0, 2, mirrored=True)
    content, box, others = picture_block(away, ground.away(smooth), ground.allowed)
    left, top, right, bottom = box
    if right - left < 0.3 * width or bottom - top < 0.3 * height:
        return whole, [], None
    box = left, top, right, bottom = snapped(box, away > ground.allowed, content)
    block = content[top:bottom, left:right]
    words = in_words(ground.lightness)
    mask = rounded_shape(block, away[top:bottom, left:right], field[top:bottom, left:right, 0])
    if mask is not None:
        return box, [f"{words} ground round a picture that is no rectangle", *others], mask
    starts = begun(block)
    cut = {"left": left, "top": top, "right": width - right, "bottom": height - bottom}
    sure = {side for side in cut if cut[side] and starts[side] >= BEGUN}
    # Where three sides are sure, the fourth belongs to the same ground even if the picture starts out in its look.
    if len(sure) >= 3:
        sure |= {side for side in cut if cut[side] and starts[side] >= 0.15}
    if not sure:
        return whole, [], None
    inner = field[top:bottom, left:right]
    across, longest = inner.swapaxes(0, 1), max(inner.shape[:2])
    kept: Box = (
        left + shadow_depth(across, ground, longest) if "left" in sure else 0,
        top + shadow_depth(inner, ground, longest) if "top" in sure else 0,
        right - shadow_depth(across[::-1], ground, longest) if "right" in sure else width,
        bottom - shadow_depth(inner[::-1], ground, longest) if "bottom" in sure else height,
    )
    reasons = [f"{words} margin at the {side}" for side in ("top", "bottom", "left", "right") if side in sure]
    return kept, reasons + (others if len(sure) >= 3 else []), None


def _rounded_at_corners(lightness: FloatArray) -> tuple[Box, list[str], NDArray[np.bool_] | None]:
    """A round or arched picture that reaches the file's edges, so that its ground shows in the corners alone."""
    height, width = lightness.shape
    deep, wide = max(2, height // 25), max(2, width // 25)
    corners = np.concatenate([lightness[:deep, :wide].ravel(), lightness[:deep, -wide:].ravel()])
    tone = float(np.median(corners))
    mask = None
    if float(corners.std()) <= EVEN:
        near = np.abs(ndimage.gaussian_filter(lightness, 0.7) - tone) <= FLAT
        patches, _ = ndimage.label(near)
        ground = np.isin(patches, [patches[0, 0], patches[0, -1], patches[-1, 0], patches[-1, -1]]) & near
        mask = rounded_shape(~ground, np.abs(lightness - tone), lightness, at_corners=True)
    reasons = [] if mask is None else [f"{in_words(tone)} corners round a picture that is no rectangle"]
    return (0, 0, width, height), reasons, mask
