"""Make photos of taped sheets of studies, with the truth about them: a sheet, a camera, a light, a shutter.

It shares no code with ``ingest``. Difficulty is "easy", "medium" or "hard" and sets slant, how much of the photo the
sheet fills, what the light does, and how plainly panels stand off their gutters. Everything random comes from the seed.

    made = make_photo(7, "hard")
    made.jpeg; made.panels[0].corners; made.to_sheet
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage
from sheet_textures import FIRST, Field, Kit, Rng, blots, composition, linear_of

Difficulty = Literal["easy", "medium", "hard"]
DIFFICULTIES: tuple[Difficulty, ...] = ("easy", "medium", "hard")

SLANTS = {"easy": (0.0, 10.0), "medium": (8.0, 22.0), "hard": (20.0, 35.0)}
FILLS = {"easy": (0.75, 0.97), "medium": (0.55, 1.0), "hard": (0.4, 1.0)}
ROLLS = {"easy": 4.0, "medium": 8.0, "hard": 14.0}
FALLS = {"easy": 0.25, "medium": 0.5, "hard": 0.8}
"""The natural logarithm of how much brighter one side of the sheet is than the other, at most."""
QUALITIES = {"easy": (85, 95), "medium": (75, 92), "hard": (60, 88)}
NOISE = {"easy": 0.004, "medium": 0.008, "hard": 0.014}

FOCAL = 0.82
DRAWN_SIDE = 320
BARE_PAPER = 94.0


@dataclass(frozen=True)
class MadePanel:
    """corners: (4, 2) x, y in the photo, clockwise from top left. rectangle: the same on the sheet, in sheet widths.
    lightness: (h, w) L* of the drawing in even light, paper at `BARE_PAPER` or, if toned, at its own. even: whether it
    is one even wash. shiny: (h, w) bool where a wet spot shines, or None. proportion: width over height."""

    corners: Field
    rectangle: Field
    lightness: Field
    even: bool
    shiny: NDArray[np.bool_] | None
    proportion: float


@dataclass(frozen=True)
class MadePhoto:
    """A photo and the truth: to_sheet (3, 3) takes photo pixels to the sheet; strips (n, 2) are points of the photo on
    gutters and margins, with one material each number in strip_material."""

    jpeg: bytes
    width: int
    height: int
    panels: tuple[MadePanel, ...]
    layout: tuple[int, int] | None
    to_sheet: Field
    sheet: Field
    toned: bool
    traits: tuple[str, ...]


@dataclass(frozen=True)
class _Sheet:
    """raster: linear sRGB (h, w, 3), `scale` pixels a sheet width; alpha where there is paper or tape."""

    raster: Field
    alpha: Field
    scale: float
    ratio: float
    panels: tuple[tuple[Field, Field, bool], ...]


def make_photo(
    seed: int,
    difficulty: Difficulty,
    kit: Kit = FIRST,
    *,
    size: tuple[int, int] = (1600, 1200),
    drawings: tuple[Field, ...] = (),
    plain: bool = False,
    cut: bool = True,
) -> MadePhoto:
    """One photo, always the same for the same arguments. ``drawings`` (L* fields, bare paper at ``BARE_PAPER``) are put
    on the sheet in place of made-up ones; ``plain`` leaves toned paper and shine out. ``cut``: the photo is cut out of
    a larger one, so that its middle is not where the lens looked; else it is as the camera took it."""
    rng = np.random.default_rng([seed, DIFFICULTIES.index(difficulty), len(kit.drawers[0].__name__)])
    level = DIFFICULTIES.index(difficulty)
    layout = _layout(rng, kit, len(drawings))
    portrait = bool(rng.random() < 0.4)
    width, height = size[::-1] if portrait else size
    ratio = _ratio(rng, layout, portrait)
    fill = rng.uniform(*FILLS[difficulty])
    matrix = _camera(rng, difficulty, width, height, ratio, fill, cut)
    toned = bool(level and rng.random() < 0.15) and not plain
    traits: list[str] = [f"{layout[0]}x{layout[1]}" if layout[0] else "free"]
    reach = float(np.ptp(_through(matrix, _CORNERS * [1, ratio]), axis=0).max())
    sheet = _draw_sheet(rng, difficulty, kit, layout, ratio, min(1600.0, reach * 1.15), toned, drawings, traits)
    photo, panels, corners = _expose(rng, difficulty, kit, sheet, matrix, (width, height), traits, plain)
    quality = int(rng.integers(*QUALITIES[difficulty]))
    buffer = io.BytesIO()
    Image.fromarray(photo).save(buffer, "JPEG", quality=quality)
    return MadePhoto(
        buffer.getvalue(), width, height, panels, layout if layout[0] else None,
        np.linalg.inv(matrix), corners, toned, tuple(traits),
    )  # fmt: skip


_CORNERS = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])


def _through(matrix: Field, points: Field) -> Field:
    flat = np.concatenate([points, np.ones((*points.shape[:-1], 1))], axis=-1) @ matrix.T
    return flat[..., :2] / flat[..., 2:]


def _layout(rng: Rng, kit: Kit, drawings: int) -> tuple[int, int]:
    if drawings:
        return {1: (1, 1), 2: (1, 2), 4: (2, 2), 6: (2, 3)}[drawings]
    return kit.layouts[rng.integers(len(kit.layouts))]


def _ratio(rng: Rng, layout: tuple[int, int], portrait: bool) -> float:
    """Height over width of the sheet: of the A series mostly, upright or lying as the panels ask."""
    long = rng.choice([1.414, 1.333, 1.294])
    rows, columns = layout
    upright = portrait if rows == columns else rows > columns
    return float(long if upright else 1 / long)


def _camera(rng: Rng, difficulty: Difficulty, width: int, height: int, ratio: float, fill: float, cut: bool) -> Field:
    """The homography from the sheet, x in 0..1 and y in 0..ratio, to the photo's pixels."""
    slant = np.radians(rng.uniform(*SLANTS[difficulty]))
    about, roll = rng.uniform(0, 2 * np.pi), np.radians(rng.uniform(-1, 1) * ROLLS[difficulty])
    axis = np.array([np.cos(about), np.sin(about), 0.0])
    cross = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    tilt = np.eye(3) + np.sin(slant) * cross + (1 - np.cos(slant)) * cross @ cross
    c, s = np.cos(roll), np.sin(roll)
    turn = tilt @ np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
    focal = FOCAL * max(width, height)
    middle = np.array([[1, 0, -0.5], [0, 1, -ratio / 2], [0, 0, 1]])
    off = rng.uniform(-0.5, 0.5, 2)
    size = np.array([width, height])

    def seen(distance: float, aside: Field) -> Field:
        plane = np.stack([turn[:, 0], turn[:, 1], np.array([*aside, distance])], axis=1)
        lens = np.array([[focal, 0, width / 2], [0, focal, height / 2], [0, 0, 1]])
        return lens @ plane @ middle

    def filling(aside: Field) -> float:
        near, far = 0.3, 8.0
        for _ in range(40):
            distance = (near + far) / 2
            spread = np.ptp(_through(seen(distance, aside), _CORNERS * [1, ratio]), axis=0) / size
            near, far = (near, distance) if spread.max() < fill else (distance, far)
        return distance

    def to_go(matrix: Field) -> Field:
        # What of the photo is left over is shared out at random; the sheet stays within it, if only just.
        quad = _through(matrix, _CORNERS * [1, ratio])
        left_over = np.maximum(size - np.ptp(quad, axis=0), 0)
        return size / 2 - (quad.min(axis=0) + quad.max(axis=0)) / 2 + off * left_over

    aside = np.zeros(2)
    matrix = seen(filling(aside), aside)
    if cut:
        lens_shift = np.eye(3)
        lens_shift[:2, 2] = to_go(matrix)
        return lens_shift @ matrix
    for _ in range(20):
        distance = filling(aside)
        aside = aside + to_go(seen(distance, aside)) * distance / focal
    return seen(filling(aside), aside)


def _rectangles(rng: Rng, layout: tuple[int, int], ratio: float, margin: float, gutter: float) -> list[Field]:
    """Panels as (4, 2) corners on the sheet."""
    left, right, top, bottom = margin, 1 - margin, margin, ratio - margin
    boxes: list[tuple[float, float, float, float]] = []
    rows, columns = layout
    if rows:
        wide = (right - left - gutter * (columns - 1)) / columns
        high = (bottom - top - gutter * (rows - 1)) / rows
        if rows * columns == 1:
            # A single thumbnail sits somewhere on its page.
            wide, high = (side * rng.uniform(0.55, 1.0) for side in (wide, high))
            left += rng.uniform(0, right - left - wide)
            top += rng.uniform(0, bottom - top - high)
        else:
            high = min(high, wide * rng.uniform(0.7, 1.5))
            wide = min(wide, high * rng.uniform(1.0, 1.8))
            left += rng.uniform(0.3, 0.7) * (right - left - columns * wide - (columns - 1) * gutter)
            top += rng.uniform(0.3, 0.7) * (bottom - top - rows * high - (rows - 1) * gutter)
        for row in range(rows):
            for column in range(columns):
                x, y = left + column * (wide + gutter), top + row * (high + gutter)
                boxes.append((x, y, x + wide, y + high))
    else:
        # One large beside or above smaller ones, as notes round a chosen study.
        split = rng.uniform(0.5, 0.65)
        if ratio < 1:
            edge = left + split * (right - left)
            boxes.append((left, top, edge, bottom - rng.uniform(0, 0.2) * (bottom - top)))
            middle = top + rng.uniform(0.4, 0.6) * (bottom - top)
            boxes.append((edge + gutter, top, right, middle - gutter / 2))
            boxes.append((edge + gutter, middle + gutter / 2, right - rng.uniform(0, 0.1), bottom))
        else:
            edge = top + split * (bottom - top)
            boxes.append((left, top, right - rng.uniform(0, 0.2) * (right - left), edge))
            middle = left + rng.uniform(0.4, 0.6) * (right - left)
            boxes.append((left, edge + gutter, middle - gutter / 2, bottom))
            boxes.append((middle + gutter / 2, edge + gutter, right, bottom - rng.uniform(0, 0.1)))
    loose = 0.0015 * np.ones(2)
    return [np.array([[a, b], [c, b], [c, d], [a, d]]) + rng.normal(0, loose, (4, 2)) for a, b, c, d in boxes]


def _inside(quad: Field, x: Field, y: Field) -> Field:
    """How deep each point lies within a quadrilateral, in sheet widths; negative outside."""
    depth = np.full(x.shape, np.inf)
    for start, end in zip(quad, np.roll(quad, -1, axis=0), strict=True):
        along = (end - start) / np.hypot(*(end - start))
        depth = np.minimum(depth, along[0] * (y - start[1]) - along[1] * (x - start[0]))
    return depth


def _draw_sheet(
    rng: Rng,
    difficulty: Difficulty,
    kit: Kit,
    layout: tuple[int, int],
    ratio: float,
    scale: float,
    toned: bool,
    drawings: tuple[Field, ...],
    traits: list[str],
) -> _Sheet:
    level = DIFFICULTIES.index(difficulty)
    taped = bool(rng.random() < 0.55)
    gutter = rng.uniform(0.03, 0.06)
    margin = gutter * rng.uniform(1.0, 1.4) + rng.uniform(0.0, 0.05)
    quads = _rectangles(rng, layout, ratio, margin, gutter)
    x, y = np.meshgrid(np.arange(-0.06, 1.06, 1 / scale), np.arange(-0.06, ratio + 0.06, 1 / scale))
    paper = (
        np.array(kit.toned[rng.integers(len(kit.toned))]) if toned else np.array([BARE_PAPER, 0.3, rng.uniform(0, 7)])
    )
    if toned:
        traits.append("toned")
    tooth = blots(x.shape, 1.0, rng) * 0.5
    raster = linear_of(paper[0] + tooth, paper[1], paper[2])
    alpha = ((x >= 0) & (x <= 1) & (y >= 0) & (y <= ratio)).astype(float)
    if taped:
        tape = kit.tapes[rng.integers(len(kit.tapes))]
        traits.append(f"tape L*{tape[0]:.0f}")
        crepe = 0.8 * blots(x.shape, 1.5, rng)
        laid = linear_of(tape[0] + crepe, tape[1], tape[2])
        near = np.max([_inside(quad, x, y) for quad in quads], axis=0) > -gutter * 1.02
        raster = np.where(near[..., None], laid, raster)
        alpha = np.maximum(alpha, near)
        rim = near & ~ndimage.binary_erosion(near, iterations=1)
        raster = np.where(rim[..., None], raster * 0.85, raster)
    else:
        traits.append("tape pulled")
    pale = level == 2 and rng.random() < 0.25 and not toned
    if pale:
        traits.append("pale")
    drawn: list[tuple[Field, Field, bool]] = []
    even_at = int(rng.integers(len(quads))) if rng.random() < 0.5 and not drawings else -1
    for at, quad in enumerate(quads):
        given = drawings[at] if drawings else None
        tone = _drawing(rng, kit, quad, paper[0], toned, at == even_at, pale, taped, given)
        _lay(rng, raster, x, y, quad, tone, paper, scale, taped, level)
        drawn.append((quad, tone, at == even_at))
    if rng.random() < 0.3 and layout[0]:
        traits.append("notes")
        _write(rng, raster, x, y, quads, ratio)
    return _Sheet(raster, alpha, scale, ratio, tuple(drawn))


def _drawing(
    rng: Rng, kit: Kit, quad: Field, paper: float, toned: bool, even: bool, pale: bool, taped: bool, given: Field | None
) -> Field:
    """L* of one panel's drawing, as of a scan."""
    if given is not None:
        return given
    across, down = np.hypot(*(quad[1] - quad[0])), np.hypot(*(quad[3] - quad[0]))
    longest = max(across, down)
    shape = (max(40, round(DRAWN_SIDE * down / longest)), max(40, round(DRAWN_SIDE * across / longest)))
    drawer = kit.drawers[rng.integers(len(kit.drawers))]
    if even:
        return np.asarray(rng.uniform(50, 76) * (paper / BARE_PAPER) + 1.2 * blots(shape, 1.5, rng))
    labels = composition(rng, shape, lights_at_border=bool(rng.random() < 0.3))
    tone = drawer(labels, rng, BARE_PAPER)
    if toned:
        # The paper is the middle tone: darks are drawn, lights are put on with white chalk.
        below = np.clip(tone, 0, 55) / 55 * paper
        tone = np.where(tone > 70, np.clip(paper + (tone - 70) / 24 * (92 - paper), 0, 95), below)
    if pale:
        tone = BARE_PAPER - (BARE_PAPER - tone) * rng.uniform(0.22, 0.4) - 3.5
    elif not taped:
        # With the tape gone, a film of dust or thin wash still lies on the lights.
        tone = np.minimum(tone, max(tone.max(), paper)) - rng.uniform(2.5, 7.0) * (tone > paper - 12)
    return np.clip(tone, 3, 98)


def _lay(
    rng: Rng,
    raster: Field,
    x: Field,
    y: Field,
    quad: Field,
    tone: Field,
    paper: Field,
    scale: float,
    taped: bool,
    level: int,
) -> None:
    """Put a drawing on the sheet, with what stays at its border: a ridge of pigment, a pencil line, or nothing."""
    depth = _inside(quad, x, y)
    (x0, y0), (x1, y1) = quad.min(axis=0) - 2 / scale, quad.max(axis=0) + 2 / scale
    rows = np.flatnonzero((y[:, 0] >= y0) & (y[:, 0] <= y1))
    columns = np.flatnonzero((x[0] >= x0) & (x[0] <= x1))
    part = np.ix_(rows, columns)
    u = (x[part] - quad[0, 0]) / (quad[1, 0] - quad[0, 0])
    v = (y[part] - quad[0, 1]) / (quad[3, 1] - quad[0, 1])
    at = [v * tone.shape[0] - 0.5, u * tone.shape[1] - 0.5]
    lightness = ndimage.map_coordinates(tone, at, order=1, mode="nearest")
    inside = depth[part]
    cover = np.clip(inside * scale + 0.5, 0, 1)
    border = rng.choice(["ridge", "pencil", "none"], p=[0.4, 0.3, 0.3])
    if not taped and border != "none":
        line = np.exp(-(((inside * scale - 1.0) / 1.0) ** 2))
        lightness = lightness - (6 if border == "ridge" else 22) * line * (1 - 0.4 * level / 2)
    if taped:
        # Tape is a tenth of a millimetre thick: its edge throws a line of shadow, and pigment gathers along it.
        line = np.exp(-(((inside * scale - 0.6) / 0.8) ** 2))
        lightness = lightness - rng.uniform(3, 10) * line
    tint = np.clip(1 - np.abs(lightness - paper[0]) / 50, 0, 1)
    laid = linear_of(np.clip(lightness, 3, 98), paper[1] * tint, paper[2] * tint)
    if not taped and rng.random() < 0.4:
        # Smudges beyond the border, where a hand has been.
        smudge = np.clip(blots(x.shape, 0.03 * scale, rng) - 1.2, 0, 1) * (depth < 0) * (depth > -0.03) * 0.12
        raster *= 1 - smudge[..., None]
    raster[part] = raster[part] * (1 - cover[..., None]) + laid * cover[..., None]


def _write(rng: Rng, raster: Field, x: Field, y: Field, quads: list[Field], ratio: float) -> None:
    """A line of handwriting in the lower margin, if there is one."""
    free = max(quad[:, 1].max() for quad in quads)
    if ratio - free < 0.04:
        return
    start, end = sorted(rng.uniform(0.05, 0.95, 2))
    base = free + rng.uniform(0.55, 0.8) * (ratio - free)
    high = 0.2 * (ratio - free)
    script = base + high * np.sin(x * rng.uniform(150, 260)) * (0.6 + 0.4 * np.sin(x * 31))
    ink = np.exp(-(((y - script) / 0.0016) ** 2)) * (x > start) * (x < end)
    raster *= 1 - 0.8 * ink[..., None]


def _expose(
    rng: Rng,
    difficulty: Difficulty,
    kit: Kit,
    sheet: _Sheet,
    matrix: Field,
    size: tuple[int, int],
    traits: list[str],
    plain: bool,
) -> tuple[NDArray[np.uint8], tuple[MadePanel, ...], Field]:
    width, height = size
    level = DIFFICULTIES.index(difficulty)
    x, y = np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5)
    on = _through(np.linalg.inv(matrix), np.stack([x, y], axis=-1))
    # Wash paper cockles: points move a little as seen, and slopes catch more or less light.
    buckled = bool(level and rng.random() < 0.5)
    waves = [(rng.uniform(0.25, 0.6), rng.uniform(0, 2 * np.pi), rng.uniform(0, 2 * np.pi)) for _ in range(3)]
    moved = rng.uniform(0.0005, 0.0016, 2) * buckled
    if buckled:
        traits.append("buckled")

    def bend(points: Field) -> Field:
        total = np.zeros(points.shape[:-1])
        for length, way, phase in waves:
            along = points[..., 0] * np.cos(way) + points[..., 1] * np.sin(way)
            total = total + np.sin(2 * np.pi * along / length + phase)
        return total

    heights = bend(on)
    at = on + heights[..., None] * moved
    pixel = [(at[..., 1] + 0.06) * sheet.scale, (at[..., 0] + 0.06) * sheet.scale]
    seen = np.stack(
        [ndimage.map_coordinates(sheet.raster[..., c], pixel, order=1, mode="constant") for c in range(3)], -1
    )
    alpha = ndimage.map_coordinates(sheet.alpha, pixel, order=1, mode="constant")[..., None]
    ground = kit.grounds[rng.integers(len(kit.grounds))]
    traits.append(ground.__name__)
    under = ground(height, width, rng)
    # The sheet throws a soft shadow of its own on what it lies on.
    under = under * (1 - 0.35 * ndimage.gaussian_filter(np.roll(alpha[..., 0], (4, 3), (0, 1)), 5)[..., None])
    scene = seen * alpha + under * (1 - alpha)
    light = _light(rng, difficulty, kit, on, sheet.ratio, traits)
    if buckled:
        shade = (
            1
            + rng.uniform(0.01, 0.03)
            * ndimage.gaussian_filter(np.gradient(heights, axis=1), 2)
            / max(float(np.abs(np.gradient(heights, axis=1)).max()), 1e-9)
            * 2
        )
        light = light * np.where(alpha > 0.5, shade[..., None], 1.0)
    # Paper in the fullest light is exposed to just below white, or in hard light to just beyond it.
    on_sheet = light[alpha[..., 0] > 0.5]
    top = float(np.percentile(on_sheet[:, 1], 99.5)) * 0.86
    exposure = rng.uniform(0.7, 0.97 if level < 2 else 1.0) / top
    image = scene * light * exposure
    to_photo = matrix
    panels: list[MadePanel] = []
    for quad, tone, even in sheet.panels:
        flat = quad.copy()
        for _ in range(6):
            flat = quad - bend(flat)[..., None] * moved
        corners = _through(to_photo, flat)
        shiny = None
        if level and rng.random() < 0.12 and not plain and not even:
            shiny = _shine(rng, image, on, quad, tone.shape)
            if "shine" not in traits:
                traits.append("shine")
        across, down = np.hypot(*(quad[1] - quad[0])), np.hypot(*(quad[3] - quad[0]))
        panels.append(MadePanel(corners, quad, tone, even, shiny, float(across / down)))
    blur = rng.uniform(0.4, 0.7 + 0.35 * level)
    image = np.stack([ndimage.gaussian_filter(image[..., c], blur) for c in range(3)], -1)
    grain = NOISE[difficulty] * np.sqrt(np.clip(image, 0.02, 1)) * rng.standard_normal(image.shape)
    image = np.clip(image + grain, 0, 1)
    coded = np.where(image <= 0.0031308, 12.92 * image, 1.055 * np.maximum(image, 0.0031308) ** (1 / 2.4) - 0.055)
    outline = _through(to_photo, _CORNERS * [1, sheet.ratio])
    return np.rint(255 * coded).astype(np.uint8), tuple(panels), outline


def _light(rng: Rng, difficulty: Difficulty, kit: Kit, on: Field, ratio: float, traits: list[str]) -> Field:
    """Light (h, w, 3) over the photo, given where each pixel lies on the sheet: a fall, a cast, perhaps a shadow."""
    level = DIFFICULTIES.index(difficulty)
    x, y = on[..., 0] - 0.5, on[..., 1] - ratio / 2
    reach = np.hypot(1, ratio) / 2
    way = rng.uniform(0, 2 * np.pi)
    fall = rng.uniform(0.3, 1.0) * FALLS[difficulty] / 2
    log = fall * np.clip((x * np.cos(way) + y * np.sin(way)) / reach, -2, 2)
    log = log - rng.uniform(0, 0.12) * np.clip((x**2 + y**2) / reach**2, 0, 3)
    cast = np.exp(np.array([1.0, 0.0, -1.2]) * rng.normal(0, 0.035))
    light = np.exp(log)[..., None] * cast
    if level and rng.random() < (0.4 if level == 1 else 0.6):
        traits.append("shadow")
        way = rng.uniform(0, 2 * np.pi)
        distance = x * np.cos(way) + y * np.sin(way) - rng.uniform(-0.25, 0.25) * reach
        if kit.curved_shadows:
            bow = x * np.sin(way) - y * np.cos(way)
            distance = distance + rng.uniform(-0.5, 0.5) * bow**2
        penumbra = rng.uniform(0.01, 0.08) if level == 2 else rng.uniform(0.04, 0.15)
        lit = 1 / (1 + np.exp(-np.clip(distance / (penumbra / 2), -40, 40)))
        depth = rng.uniform(0.45, 0.75)
        shadow = depth * np.exp(np.array([-1.0, 0.0, 1.0]) * rng.uniform(0, 0.06))
        light = light * (shadow + (1 - shadow) * lit[..., None])
    return light


def _shine(rng: Rng, image: Field, on: Field, quad: Field, shape: tuple[int, int]) -> NDArray[np.bool_]:
    """A wet spot that mirrors the window: lifts `image` towards white in place, and says where on the panel."""
    low, high = quad.min(axis=0), quad.max(axis=0)
    middle = low + (high - low) * rng.uniform(0.25, 0.75, 2)
    half = (high - low).min() * rng.uniform(0.06, 0.14, 2)

    def spot(points: Field) -> Field:
        off = (points - middle) / half
        return np.exp(-((off**2).sum(axis=-1) ** 2))

    image += 1.1 * spot(on)[..., None]
    v, u = np.mgrid[: shape[0], : shape[1]]
    there = low + (high - low) * np.stack([(u + 0.5) / shape[1], (v + 0.5) / shape[0]], axis=-1)
    return np.asarray(spot(there) > 0.4)
