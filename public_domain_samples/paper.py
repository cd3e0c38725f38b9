"""A sheet of paper and what a hand does on it: hatching, lines, rubbing and washes."""

from __future__ import annotations

import io
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy import interpolate, ndimage

OVERSAMPLING = 2
"""Sheets are drawn at this many times their size and reduced at the end."""

Field = NDArray[np.float64]
Points = Sequence[tuple[float, float]]

GREY_PAPER, WHITE_PAPER = (0.262, 0.258, 0.248), (0.83, 0.815, 0.775)
CHARCOAL, CHALK, INK = (0.026, 0.025, 0.025), (0.85, 0.84, 0.82), (0.014, 0.016, 0.020)
"""Linear-light R, G, B of the papers and of what is put on them, 0 to 1."""


class Sheet:
    """A sheet of paper with a tooth, on which tone is laid; coordinates are shares of width and height."""

    def __init__(self, width: int, height: int, paper: tuple[float, float, float], seed: int) -> None:
        self.rng = np.random.default_rng(seed)
        self.shape = (height * OVERSAMPLING, width * OVERSAMPLING)
        rows, columns = np.mgrid[: self.shape[0], : self.shape[1]].astype(float)
        self.rows, self.columns = rows, columns
        # The tooth: fine grain, a little coarser grain, and the faint ribs of laid paper.
        ribs = np.sin(columns / 2.6 + 1.5 * self.noise(80))
        self.tooth = _ranked(0.7 * self.noise(1.0) + 0.5 * self.noise(2.2) + 0.16 * ribs)
        self.light = np.array(paper) * (1 + 0.012 * self.noise(60) + 0.02 * self.noise(1.5))[..., None]

    def noise(self, sigma: float) -> Field:
        """Return a noise field of mean 0 and deviation 1, its blots about ``sigma`` px wide."""
        coarse = max(1.0, sigma / 4)
        small = tuple(int(np.ceil(side / coarse)) + 2 for side in self.shape)
        field = ndimage.gaussian_filter(self.rng.standard_normal(small), sigma / coarse, mode="reflect")
        field = ndimage.zoom(field, coarse, order=1)[: self.shape[0], : self.shape[1]]
        if field.shape != self.shape:
            missing = [(0, self.shape[i] - field.shape[i]) for i in (0, 1)]
            field = np.pad(field, missing, mode="edge")
        return np.asarray((field - field.mean()) / field.std())

    def mask(self, points: Points, *, curved: bool = True, wobble: float = 3.0) -> Field:
        """Return a filled shape, 0 to 1, its outline as unsteady as a hand's (``wobble`` px)."""
        height, width = self.shape
        corners = np.array([(x * width, y * height) for x, y in points])
        if curved:
            closed = np.vstack([corners, corners[:1]])
            knots, _ = interpolate.splprep(closed.T, s=0, per=True)
            corners = np.stack(interpolate.splev(np.linspace(0, 1, 240), knots), axis=1)
        picture = Image.new("L", (width, height))
        ImageDraw.Draw(picture).polygon([tuple(corner) for corner in corners], fill=255)
        clean = np.asarray(picture, dtype=float) / 255
        unsteady = wobble * OVERSAMPLING
        moved = [
            self.rows + unsteady * (self.noise(45) + 0.35 * self.noise(9)),
            self.columns + unsteady * (self.noise(45) + 0.35 * self.noise(9)),
        ]
        return np.asarray(ndimage.map_coordinates(clean, moved, order=1, mode="nearest"))

    def hatch(self, mask: Field, angle: float, pressure: float, *, spacing: float = 7.0, ragged: float = 5.0) -> Field:
        """Return how much of the paper strokes of charcoal or chalk cover, 0 to 1.

        Strokes run at ``angle`` degrees, ``spacing`` px apart; each ends a little early or late
        (``ragged`` px) and has its own pressure. The heights of the tooth take the pigment first.
        """
        turn = np.deg2rad(angle)
        pitch = spacing * OVERSAMPLING
        across = -np.sin(turn) * self.columns + np.cos(turn) * self.rows + 0.35 * pitch * self.noise(50)
        stroke = np.floor(across / pitch).astype(int)
        stroke -= stroke.min()
        late = (self.rng.standard_normal(stroke.max() + 1) * ragged * OVERSAMPLING)[stroke]
        own = (1 + 0.16 * self.rng.standard_normal(stroke.max() + 1))[stroke]
        moved = [self.rows + late * np.sin(turn), self.columns + late * np.cos(turn)]
        reached = ndimage.map_coordinates(mask, moved, order=1, mode="nearest")
        ridge = 0.80 + 0.20 * np.cos(2 * np.pi * (across / pitch - 0.5))
        pressed = pressure * ridge * own * (1 + 0.10 * self.noise(35))
        grain = reached * smooth_step((pressed - self.tooth + 0.1) / 0.42)
        # Dust lies between the grains and blurs them.
        return over(0.9 * grain, 0.35 * ndimage.gaussian_filter(grain, 2.5 * OVERSAMPLING))

    def line(self, points: Points, width: float, pressure: float) -> Field:
        """Return the coverage of one drawn line, pressed unevenly."""
        height, wide = self.shape
        corners = np.array([(x * wide, y * height) for x, y in points])
        degree = min(3, len(corners) - 1)
        knots, _ = interpolate.splprep(corners.T, s=0, k=degree)
        path = np.stack(interpolate.splev(np.linspace(0, 1, 160), knots), axis=1)
        picture = Image.new("L", (wide, height))
        draw = ImageDraw.Draw(picture)
        swell = ndimage.gaussian_filter1d(self.rng.standard_normal(160), 12)
        for start, end, more in zip(path[:-1], path[1:], swell / swell.std(), strict=False):
            thick = max(1, round(width * OVERSAMPLING * (1 + 0.25 * more)))
            draw.line([*start, *end], fill=255, width=thick)
        drawn = ndimage.gaussian_filter(np.asarray(picture, dtype=float) / 255, 0.8)
        unsteady = [axis + 1.6 * OVERSAMPLING * self.noise(30) for axis in (self.rows, self.columns)]
        drawn = ndimage.map_coordinates(drawn, unsteady, order=1, mode="nearest")
        pressed = pressure * (1 + 0.2 * self.noise(25))
        return np.asarray(drawn * smooth_step((pressed - self.tooth + 0.1) / 0.42))

    def rub(self, coverage: Field, where: Field, length: float) -> Field:
        """Return the coverage with a finger drawn over it, left to right, where ``where`` is 1."""
        soft = ndimage.gaussian_filter(coverage, 2)
        dragged = ndimage.uniform_filter1d(soft, int(length * OVERSAMPLING), axis=1)
        return np.asarray(coverage + 0.75 * where * (dragged - coverage))

    def wash(self, mask: Field, strength: float, *, pooled: float = 0.9) -> Field:
        """Return the optical density of a flat wash: mottled, and darker where it dried at its edge."""
        body = ndimage.gaussian_filter(mask, 0.9 * OVERSAMPLING)
        inside = ndimage.distance_transform_edt(mask > 0.5) / OVERSAMPLING
        edge = np.exp(-inside / 2.2) * np.clip(0.6 + 0.7 * self.noise(40), 0, 1.6)
        mottled = 1 + 0.10 * self.noise(38) + 0.06 * self.noise(12) + 0.10 * (0.5 - self.tooth)
        bloom = np.clip(self.noise(26) - 1.7, 0, 1)
        return np.asarray(body * strength * np.clip(mottled + pooled * edge - 0.5 * bloom, 0.2, None))

    def lay(self, coverage: Field, pigment: tuple[float, float, float]) -> None:
        """Cover the paper with a body colour where ``coverage`` says so."""
        share = np.clip(coverage, 0, 1)[..., None]
        self.light = self.light * (1 - share) + np.array(pigment) * share

    def stain(self, density: Field) -> None:
        """Let ink sink in: light falls by ``density`` down to the ink's own tone."""
        self.light = np.array(INK) + (self.light - np.array(INK)) * np.power(10.0, -density)[..., None]

    def jpeg(self) -> bytes:
        """Return the sheet, reduced to its size, as JPEG."""
        step = OVERSAMPLING
        reduced = ndimage.uniform_filter(self.light, (step, step, 1))[step - 1 :: step, step - 1 :: step]
        clipped = np.clip(reduced, 0, 1)
        encoded = np.where(clipped <= 0.0031308, 12.92 * clipped, 1.055 * clipped ** (1 / 2.4) - 0.055)
        stream = io.BytesIO()
        Image.fromarray(np.round(encoded * 255).astype(np.uint8)).save(stream, "JPEG", quality=88)
        return stream.getvalue()


def outline(percent: str) -> Points:
    """Return the points of 'x,y x,y …', given in percent of width and height, as shares."""
    pairs = (pair.split(",") for pair in percent.split())
    return [(float(x) / 100, float(y) / 100) for x, y in pairs]


def clip(field: Field) -> Field:
    """Return the field held between 0 and 1."""
    return np.clip(field, 0, 1)


def over(*coverages: Field) -> Field:
    """Return the coverage of several passes laid over each other, 0 to 1."""
    bare = np.ones_like(coverages[0])
    for coverage in coverages:
        bare = bare * (1 - np.clip(coverage, 0, 1))
    return 1 - bare


def smooth_step(field: Field) -> Field:
    """Return the field held between 0 and 1, with soft turns at both ends."""
    inside = np.clip(field, 0, 1)
    return inside * inside * (3 - 2 * inside)


def _ranked(field: Field) -> Field:
    """Return each value's rank among all, 0 to 1: a share of heights is then a share of the area."""
    order = field.ravel().argsort().argsort()
    return (order / (order.size - 1)).reshape(field.shape)
