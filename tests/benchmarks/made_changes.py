"""Changes to a picture that must not change how its tone is read, each with its undoing on a map.

Nothing here uses ``ingest``.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

Labels = NDArray[np.uint8]
Make = Callable[[Image.Image], bytes]
Undo = Callable[[Labels], Labels]


@dataclass(frozen=True)
class Change:
    """make: the changed file's bytes. undo: brings a map of the changed picture back onto the map of the picture.
    inner: share cut off each side, which the picture's own map must lose too before the two are compared."""

    make: Make
    undo: Undo
    inner: float = 0.0


def png(image: Image.Image) -> bytes:
    buffer = io.BytesIO()
    image.save(buffer, "PNG", compress_level=1)
    return buffer.getvalue()


def jpeg(image: Image.Image, quality: int = 60) -> bytes:
    buffer = io.BytesIO()
    image.save(buffer, "JPEG", quality=quality)
    return buffer.getvalue()


def scaled(image: Image.Image, factor: float) -> Image.Image:
    filtering = Image.Resampling.BOX if factor < 1 else Image.Resampling.BICUBIC
    return image.resize((round(image.width * factor), round(image.height * factor)), filtering)


def cropped(image: Image.Image, share: float) -> Image.Image:
    x, y = round(image.width * share), round(image.height * share)
    return image.crop((x, y, image.width - x, image.height - y))


def recoloured(image: Image.Image) -> Image.Image:
    """Every colour exchanged for another of the same luminance: red becomes green, green blue, blue red; what no
    screen can show at that luminance is made paler."""
    code = np.asarray(image.convert("RGB"), dtype=np.float64) / 255
    linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    row = np.array([0.2126, 0.7152, 0.0722])
    target = (linear @ row)[..., None]
    turned = linear[..., [2, 0, 1]]
    turned = turned * target / np.maximum((turned @ row)[..., None], 1e-9)
    most = turned.max(axis=2, keepdims=True)
    paler = np.where(most > 1, (1 - target) / np.maximum(most - target, 1e-9), 1.0).clip(0, 1)
    turned = (target + (turned - target) * paler).clip(0, 1)
    coded = np.where(turned <= 0.0031308, 12.92 * turned, 1.055 * turned ** (1 / 2.4) - 0.055)
    return Image.fromarray(np.rint(coded * 255).astype(np.uint8))


def _same(labels: Labels) -> Labels:
    return labels


CHANGES: dict[str, Change] = {
    "turned by 90": Change(lambda i: png(i.transpose(Image.Transpose.ROTATE_90)), lambda m: np.rot90(m, -1)),
    "turned by 180": Change(lambda i: png(i.transpose(Image.Transpose.ROTATE_180)), lambda m: np.rot90(m, 2)),
    "mirrored": Change(lambda i: png(i.transpose(Image.Transpose.FLIP_LEFT_RIGHT)), lambda m: m[:, ::-1]),
    "half the size": Change(lambda i: png(scaled(i, 0.5)), _same),
    "twice the size": Change(lambda i: png(scaled(i, 2)), _same),
    "JPEG quality 60": Change(jpeg, _same),
    "recoloured": Change(lambda i: png(recoloured(i)), _same),
    "3 % cut off": Change(lambda i: png(cropped(i, 0.03)), _same, inner=0.03),
}


def differing(own: Labels, other: Labels, change: Change) -> float:
    """Share of the pixels in which two maps differ, after the change is undone; maps of any two sizes."""
    back = Image.fromarray(np.ascontiguousarray(change.undo(other)))
    kept = cropped(Image.fromarray(own), change.inner)
    return float((np.asarray(back.resize(kept.size, Image.Resampling.NEAREST)) != np.asarray(kept)).mean())


def shares(labels: Labels, change: Change | None = None) -> NDArray[np.float64]:
    """Shares of dark, mid and light of a map, less what a change cuts off."""
    part = labels if change is None else np.asarray(cropped(Image.fromarray(labels), change.inner))
    return np.bincount(part.ravel(), minlength=3)[:3] / part.size
