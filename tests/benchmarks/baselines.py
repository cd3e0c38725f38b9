"""What others do: four plain ways to find a picture by another one, each on the whole work.

All see the same pictures, L* on a 64 x 64 frame, and may turn the study over, as matching may.
"""

from __future__ import annotations

from abc import ABC, abstractmethod

import numpy as np
from numpy.typing import NDArray
from scipy import fft
from skimage.feature import hog
from skimage.metrics import structural_similarity

Floats = NDArray[np.float32]


class Baseline(ABC):
    """A gallery of works (n, 64, 64) L*, asked for its likeness (n,) to a study (64, 64)."""

    name: str

    def __init__(self, works: Floats) -> None:
        self._features = np.stack([self.feature(work) for work in works])

    def likeness(self, study: Floats) -> NDArray[np.float64]:
        return np.maximum(self._one_face(study), self._one_face(np.ascontiguousarray(study[:, ::-1])))

    def _one_face(self, study: Floats) -> NDArray[np.float64]:
        return np.asarray(self._features @ self.feature(study), dtype=np.float64)

    @abstractmethod
    def feature(self, picture: Floats) -> Floats:
        """A vector whose product with another's is their likeness."""


class Correlation(Baseline):
    """Correlation of thumbnails of 16 x 16 cells."""

    name = "16x16 correlation"

    def feature(self, picture: Floats) -> Floats:
        return _unit(_coarse(picture, 16))


class Hog(Baseline):
    """Histograms of oriented gradients (Dalal & Triggs 2005), 8 x 8 cells of 8 px."""

    name = "HOG"

    def feature(self, picture: Floats) -> Floats:
        return _unit(hog(picture, orientations=9, pixels_per_cell=(8, 8), cells_per_block=(2, 2)))


class PerceptualHash(Baseline):
    """Signs, about their median, of the 8 x 8 lowest waves of the cosine transform of 32 x 32 cells."""

    name = "perceptual hash"

    def feature(self, picture: Floats) -> Floats:
        waves = fft.dctn(_coarse(picture, 32), norm="ortho")[:8, :8].ravel()
        return np.where(waves > np.median(waves[1:]), 1, -1).astype(np.float32)


class StructuralSimilarity(Baseline):
    """SSIM (Wang et al. 2004) of 32 x 32 cells in windows of 7."""

    name = "SSIM"
    _SIDE, _WINDOW = 32, 7

    def __init__(self, works: Floats) -> None:
        # One call for all works: laid below each other, and only windows that lie inside one work are counted.
        self._count = len(works)
        self._works = np.concatenate([_coarse(work, self._SIDE) for work in works])

    def feature(self, picture: Floats) -> Floats:
        return _coarse(picture, self._SIDE)

    def _one_face(self, study: Floats) -> NDArray[np.float64]:
        tiled = np.tile(self.feature(study), (self._count, 1))
        _, each = structural_similarity(self._works, tiled, win_size=self._WINDOW, data_range=100.0, full=True)
        edge = self._WINDOW // 2
        inside = each.reshape(self._count, self._SIDE, self._SIDE)[:, edge:-edge, edge:-edge]
        return np.asarray(inside.mean(axis=(1, 2)), dtype=np.float64)


BASELINES: tuple[type[Baseline], ...] = (Correlation, StructuralSimilarity, PerceptualHash, Hog)


def _coarse(picture: Floats, side: int) -> Floats:
    step = picture.shape[0] // side
    return picture.reshape(side, step, side, step).mean(axis=(1, 3))


def _unit(vector: NDArray[np.floating]) -> Floats:
    centred = np.ravel(vector) - vector.mean()
    return (centred / max(float(np.linalg.norm(centred)), 1e-9)).astype(np.float32)
