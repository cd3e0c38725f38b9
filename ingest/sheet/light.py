"""The light on the sheet, told by its own gutters and margins alone.

What a camera sees is reflectance times light, so light is divided out in linear light, never subtracted. It is sampled
in the strips right outside the panels, where one material lies, and never within a panel: a wash would be taken for a
shadow and bleached. The logarithm of the light is modelled as a surface of second order, steps along straight lines
where a shadow's edge crosses the sheet (its place and softness searched, its depth and colour fitted), and what is left
in the strips, smoothed: cockles of the paper.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ingest.lightness import LUMINANCE_ROW, FloatArray

Numbers = NDArray[np.float64]

_TURNS = np.arange(0, 180, 9)
_PLACES = np.linspace(-1.0, 1.0, 41)
_WIDTHS = (0.015, 0.05, 0.13)
"""Softness of a shadow's edge, as a share of half the block of panels."""

_SHADOWS = 2
_LEAST_STEP = 0.07
"""Natural logarithm of the step from light to shadow, from which it is one."""

_BETTER = 0.8
"""A shadow's edge is believed when it leaves at most this much of the deviation in the strips."""

_SMOOTHING = 0.07
_MOST_SAMPLES = 700
_FLOOR = 1e-4
_HOLD = 1e-6
"""What draws each weight to none, against samples that count 1, so that what they do not tell stays small."""


@dataclass(frozen=True)
class Step:
    """A shadow's edge: direction in radians, place and softness in halves of the block."""

    turn: float
    place: float
    width: float


@dataclass(frozen=True)
class Light:
    """Light over the frame, 1 where the strips' material would be white.

    middle, half: centre and half size, in pixels of the frame, of what coordinates are measured in. weights (terms, 3):
    for each channel. steps: edges of shadows. left_over (h, w, 3): smoothed rest on a grid of `grain` pixels.
    """

    middle: Numbers
    half: float
    weights: Numbers
    steps: tuple[Step, ...]
    left_over: Numbers
    grain: int

    def at(self, points: Numbers) -> FloatArray:
        """Linear light (..., 3) at points (..., 2) of the frame."""
        u = (points.reshape(-1, 2) - self.middle) / self.half
        log = _terms(u, self.steps) @ self.weights
        where = (points.reshape(-1, 2) / self.grain - 0.5).T[::-1]
        for channel in range(3):
            rest = ndimage.map_coordinates(self.left_over[..., channel], where, order=1, mode="nearest")
            log[:, channel] += rest
        return np.exp(log).reshape(*points.shape[:-1], 3).astype(np.float32)


def fit_light(linear: FloatArray, strips: NDArray[np.bool_], grain: int) -> Light | None:
    """The light on a frame in linear sRGB (h, w, 3), from `strips` (h, w) bool; None when there is too little of them.

    grain: how many pixels are averaged to one sample.
    """
    samples, weight = _averaged(linear, strips, grain)
    there = weight > 0.3
    if there.sum() < 24:
        return None
    y, x = np.nonzero(there)
    points = (np.stack([x, y], axis=1) + 0.5) * grain
    logs = np.log(np.maximum(samples[there], _FLOOR))
    low, high = points.min(axis=0), points.max(axis=0)
    middle, half = (low + high) / 2, float((high - low).max()) / 2 + 1.0
    u = (points - middle) / half
    thin = slice(None, None, max(1, -(-len(u) // _MOST_SAMPLES)))
    tone = logs @ np.asarray(LUMINANCE_ROW)
    steps = _shadows(u[thin], tone[thin])
    trust = _trust(u, tone, steps)
    terms = _terms(u, steps)
    weighed = terms * trust[:, None]
    weights = np.linalg.solve(weighed.T @ terms + _HOLD * np.eye(terms.shape[1]), weighed.T @ logs)
    rest = logs - terms @ weights
    field, mass = np.zeros((*there.shape, 3)), np.zeros(there.shape)
    field[y, x], mass[y, x] = rest * trust[:, None], trust
    spread = _SMOOTHING * 2 * half / grain
    mass = ndimage.gaussian_filter(mass, spread)
    # Far from every strip the rest is not known, and is left at none.
    smooth = np.stack([ndimage.gaussian_filter(field[..., c], spread) for c in range(3)], axis=-1)
    smooth /= (mass + 0.02 * float(mass.max()) + 1e-12)[..., None]
    return Light(middle, half, np.asarray(weights, dtype=np.float64), steps, smooth, grain)


def _averaged(linear: FloatArray, strips: NDArray[np.bool_], grain: int) -> tuple[Numbers, Numbers]:
    height, width = (side // grain for side in strips.shape)
    rows, columns = np.nonzero(strips[: height * grain, : width * grain])
    cell, cells = rows // grain * width + columns // grain, height * width
    seen = linear[rows, columns]
    total = np.stack([np.bincount(cell, seen[:, c], cells) for c in range(3)], axis=-1).reshape(height, width, 3)
    share = np.bincount(cell, minlength=cells).reshape(height, width).astype(np.float64)
    return total / np.maximum(share, 1)[..., None], share / grain**2


def _surface(u: Numbers) -> Numbers:
    x, y = u[:, 0], u[:, 1]
    return np.stack([np.ones(len(x)), x, y, x * x, x * y, y * y], axis=1)


def _edge(u: Numbers, step: Step) -> Numbers:
    away = u[:, 0] * np.cos(step.turn) + u[:, 1] * np.sin(step.turn) - step.place
    return np.asarray(0.5 * np.tanh(away / step.width))


def _terms(u: Numbers, steps: tuple[Step, ...]) -> Numbers:
    return np.concatenate([_surface(u), *(_edge(u, step)[:, None] for step in steps)], axis=1)


def _trust(u: Numbers, tone: Numbers, steps: tuple[Step, ...]) -> Numbers:
    """Weights 0..1 of the samples: writing, smudges and bits of drawing in the strips are let go (Tukey 1977)."""
    terms = _terms(u, steps)
    trust = np.ones(len(u))
    hold = _HOLD * np.eye(terms.shape[1])
    for _ in range(6):
        weighed = terms * trust[:, None]
        rest = tone - terms @ np.linalg.solve(weighed.T @ terms + hold, weighed.T @ tone)
        scale = max(1.4826 * float(np.median(np.abs(rest - np.median(rest)))), 0.004)
        trust = np.clip(1 - (rest / (5 * scale)) ** 2, 0, 1) ** 2
    return np.asarray(trust)


def _shadows(u: Numbers, tone: Numbers) -> tuple[Step, ...]:
    steps: tuple[Step, ...] = ()
    for _ in range(_SHADOWS):
        found = _next_shadow(u, tone, steps)
        if found is None:
            break
        steps = (*steps, found)
    return steps


def _next_shadow(u: Numbers, tone: Numbers, steps: tuple[Step, ...]) -> Step | None:
    terms = _terms(u, steps)
    basis, _ = np.linalg.qr(terms)
    # Outliers are drawn in, not left out: across a shadow's edge everything is an outlier of the surface.
    rest = tone - basis @ (basis.T @ tone)
    limit = 4 * max(1.4826 * float(np.median(np.abs(rest))), 0.02)
    rest = np.clip(rest, -limit, limit)

    points, explained, left = (each.astype(np.float32) for each in (u, basis, rest))

    def gain(tried: list[Step]) -> Numbers:
        told = np.array([(np.cos(step.turn), np.sin(step.turn), step.place, step.width) for step in tried])
        across, down, place, width = told.T.astype(np.float32)
        edges = points @ np.stack([across / width, down / width])
        edges -= place / width
        np.tanh(edges, out=edges)
        edges *= np.float32(0.5)
        # What of each edge the surface does not explain, and how much of the rest it explains.
        shared = explained.T @ edges
        free = np.einsum("ij,ij->j", edges, edges) - np.einsum("ij,ij->j", shared, shared)
        return np.asarray((left @ edges - (left @ explained) @ shared) ** 2 / np.maximum(free, 1e-3 * len(u)))

    tried = [Step(np.radians(t), float(p), w) for t in _TURNS for p in _PLACES for w in _WIDTHS]
    best = tried[int(gain(tried).argmax())]
    for finer in (1.0, 0.4, 0.15):
        tried = [
            Step(best.turn + np.radians(dt * finer), best.place + dp * finer, best.width * (1 + dw * finer))
            for dt in (-4, -2, 0, 2, 4)
            for dp in (-0.03, -0.015, 0, 0.015, 0.03)
            for dw in (-0.5, 0, 0.8)
        ]
        best = tried[int(gain(tried).argmax())]
    full = _terms(u, (*steps, best))
    fit = np.linalg.lstsq(full, tone, rcond=None)[0]
    before, after = np.abs(rest), np.abs(tone - full @ fit)
    believed = abs(fit[-1]) > _LEAST_STEP and float(after.mean()) < _BETTER * float(before.mean())
    return best if believed else None
