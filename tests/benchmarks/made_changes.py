"""Changes to a picture that must not change how its tone is read, each with its undoing on a map.

Nothing here uses ``ingest``.
"""

from __future__ import annotations

import io
import itertools
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

Labels = NDArray[np.uint8]
Floats = NDArray[np.float64]
Make = Callable[[Image.Image], bytes]
Undo = Callable[[Labels], Labels]


@dataclass(frozen=True)
class Change:
    """make: the changed file's bytes. undo: brings a map of the changed picture back onto the map of the picture.
    inner: share cut off each side, which the picture's own map must lose too before the two are compared.
    same_light: whether the change leaves all the light there is to see; when it does not, the map may change too."""

    make: Make
    undo: Undo
    inner: float = 0.0
    same_light: bool = True


def png(image: Image.Image) -> bytes:
    buffer = io.BytesIO()
    image.save(buffer, "PNG", compress_level=1)
    return buffer.getvalue()


def jpeg(image: Image.Image, quality: int = 60) -> bytes:
    buffer = io.BytesIO()
    image.save(buffer, "JPEG", quality=quality)
    return buffer.getvalue()


def scaled(image: Image.Image, factor: float) -> Image.Image:
    """The picture at another size, its light averaged as light."""
    size = (round(image.width * factor), round(image.height * factor))
    filtering = Image.Resampling.BOX if factor < 1 else Image.Resampling.BICUBIC
    light = _linear(np.asarray(image.convert("RGB")) / 255).astype(np.float32)
    bands = [np.asarray(Image.fromarray(light[..., at]).resize(size, filtering)) for at in range(3)]
    return Image.fromarray(np.rint(_coded(np.stack(bands, axis=-1).clip(0, 1)) * 255).astype(np.uint8))


def shrunk_by_codes(image: Image.Image) -> Image.Image:
    """Half the size as most programs do it, averaging coded values: fine texture grows darker than it was."""
    return image.resize((image.width // 2, image.height // 2), Image.Resampling.LANCZOS)


def cropped(image: Image.Image, share: float) -> Image.Image:
    x, y = round(image.width * share), round(image.height * share)
    return image.crop((x, y, image.width - x, image.height - y))


def recoloured(image: Image.Image) -> Image.Image:
    """Every colour exchanged for another of the same luminance: red becomes green, green blue, blue red; what no
    screen can show at that luminance is made paler."""
    linear = _linear(np.asarray(image.convert("RGB"), dtype=np.float64) / 255)
    row = np.array([0.2126, 0.7152, 0.0722])
    target = (linear @ row)[..., None]
    turned = linear[..., [2, 0, 1]]
    turned = turned * target / np.maximum((turned @ row)[..., None], 1e-9)
    most = turned.max(axis=2, keepdims=True)
    paler = np.where(most > 1, (1 - target) / np.maximum(most - target, 1e-9), 1.0).clip(0, 1)
    turned = (target + (turned - target) * paler).clip(0, 1)
    return Image.fromarray(_nearest_codes(_coded(turned) * 255, target[..., 0], row))


def _linear(coded: Floats) -> Floats:
    """Linear light of coded values 0..1 (IEC 61966-2-1)."""
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)


def _coded(linear: Floats) -> Floats:
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)


def _nearest_codes(coded: Floats, target: Floats, row: Floats) -> NDArray[np.uint8]:
    """Of the eight ways to round three codes up or down, the one whose luminance comes nearest to the target."""
    best = np.full(target.shape, np.inf)
    chosen = np.zeros(coded.shape, dtype=np.uint8)
    for up in itertools.product((0, 1), repeat=3):
        codes = np.minimum(np.floor(coded) + up, 255)
        off = np.abs(_linear(codes / 255) @ row - target)
        nearer = off < best
        best = np.where(nearer, off, best)
        chosen[nearer] = codes[nearer]
    return chosen


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
    "halved by codes": Change(lambda i: png(shrunk_by_codes(i)), _same, same_light=False),
    "3 % cut off": Change(lambda i: png(cropped(i, 0.03)), _same, inner=0.03, same_light=False),
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
