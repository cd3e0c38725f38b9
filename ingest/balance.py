"""Where the weight of a picture lies: balance measures published for pictures, restated on any mass m >= 0.

Both polarities are of interest (the darks as mass, or the lights), so the caller chooses the mass.

Sources: Wilson & Chatterjee 2005, Empirical Studies of the Arts 23:165 (APB); Hübner & Fillinger 2016, Frontiers in
Psychology 7:335 (DCM, mirror symmetry); the steelyard: Poore 1903, Pictorial Composition ch. III, and Ross 1907, A
Theory of Pure Design. They are measurements, not marks: studies disagree on how they relate to liking (McManus,
Stöver & Kim 2011, i-Perception 2:615, found no support for the theory within single photographs).
"""

from __future__ import annotations

import functools

import numpy as np
from numpy.typing import NDArray

Mass2D = NDArray[np.float32]


def centre_of_mass(mass: Mass2D) -> tuple[float, float]:
    """(x, y) in 0..1 of the frame, of mass (h, w); the middle when there is no mass."""
    total = float(mass.sum())
    if total <= 0:
        return 0.5, 0.5
    height, width = mass.shape
    x = float(mass.sum(axis=0) @ ((np.arange(width) + 0.5) / width)) / total
    y = float(mass.sum(axis=1) @ ((np.arange(height) + 0.5) / height)) / total
    return x, y


def deviation_DCM(mass: Mass2D) -> float:
    """Distance of the centre of mass from the frame's centre, 0 (centred) to 141.4 (all in a corner)."""
    x, y = centre_of_mass(mass)
    return 200.0 * float(np.hypot(x - 0.5, y - 0.5))


def steelyard(mass: Mass2D) -> float:
    """Lateral moment about the upright axis, -1 (all at the left edge) through 0 (balanced) to 1 (all at the right)."""
    return 2.0 * (centre_of_mass(mass)[0] - 0.5)


def balance_APB(mass: Mass2D) -> float:
    """Assessment of Preference for Balance, 0 (even in all eight ways) to 100.

    The mean of eight imbalances, each 100*|A-B|/(A+B): left and right, top and bottom, the two sides of each diagonal,
    and inner against outer half about the upright, the level and the two diagonal axes.
    """
    total = float(mass.sum())
    if total <= 0:
        return 0.0
    return float(np.mean([100.0 * abs(float(np.vdot(mass, sign))) / total for sign in _halves(*mass.shape)]))


@functools.lru_cache(maxsize=8)
def _halves(height: int, width: int) -> tuple[Mass2D, ...]:
    """The eight ways of halving a frame, each (height, width) with 1 on one half and -1 on the other."""
    u = ((np.arange(width) + 0.5) / width).astype(np.float32)[None, :]
    v = ((np.arange(height) + 0.5) / height).astype(np.float32)[:, None]
    falling, rising = v - u, u + v - 1.0
    # Corner triangles with legs 1/sqrt(2) of the sides hold a quarter of the area each.
    corner = np.float32(1.0 - np.sqrt(0.5))
    return (
        np.sign(u - 0.5) * np.ones_like(v),
        np.sign(v - 0.5) * np.ones_like(u),
        np.sign(falling),
        np.sign(rising),
        np.sign(np.abs(u - 0.5) - 0.25) * np.ones_like(v),
        np.sign(np.abs(v - 0.5) - 0.25) * np.ones_like(u),
        np.sign(np.abs(falling) - corner),
        np.sign(np.abs(rising) - corner),
    )


def mirror_symmetry(dark: NDArray[np.bool_]) -> float:
    """Symmetry of the darks about the upright and level axes, 0 to 100; matches near an axis count up to double.

    dark: (h, w) bool. An all-dark frame gives 100; light matching light counts nothing (Hübner & Fillinger 2016),
    so that the number grows with the amount of dark: dark scattered over a share d of the picture gives about 100 d^2.
    """
    found = []
    for field in (dark, dark.T):
        half = field.shape[1] // 2
        if half == 0:
            return 0.0
        pairs = (field[:, :half] & field[:, ::-1][:, :half]).mean(axis=0)
        weights = 1.0 + np.arange(half) / half
        found.append(float(pairs @ weights) / float(weights.sum()))
    return 100.0 * float(np.mean(found))
