"""Good pictures and damaged files side by side, with their records."""

from __future__ import annotations

import hashlib
import io
import random
import struct
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path

from painting import LAYOUTS, paint
from PIL import Image


def write_good_and_damaged(folder: Path, count: int, size: tuple[int, int] = (200, 150)) -> Path:
    """``count`` good pictures and as many damaged files under ``folder``, one after the other; their records.

    The good ones are called good-…, the damaged ones by what was done to them.
    """
    folder.mkdir(parents=True)
    chance = random.Random(1)
    rows = ["id,file,rights,sha256"]
    for number in range(count):
        kind = ("JPEG", "PNG", "WEBP")[number % 3]
        content = encoded(paint(LAYOUTS[number % len(LAYOUTS)], number, size), kind)
        (folder / f"good-{number:05}.{kind.lower()}").write_bytes(content)
        rows.append(f"good-{number:05},good-{number:05}.{kind.lower()},CC0,")
        name, (damage, stated) = list(DAMAGES.items())[number % len(DAMAGES)]
        (folder / f"{name}-{number:05}.jpg").write_bytes(damage(content, chance))
        digest = hashlib.sha256(content).hexdigest() if stated else ""
        rows.append(f"{name}-{number:05},{name}-{number:05}.jpg,CC0,{digest}")
    (folder / "records.csv").write_text("\n".join(rows) + "\n")
    return folder / "records.csv"


def encoded(image: Image.Image, kind: str) -> bytes:
    """The bytes of a picture as a file of this kind."""
    buffer = io.BytesIO()
    image.save(buffer, kind)
    return buffer.getvalue()


def truncated(content: bytes, chance: random.Random) -> bytes:
    """Cut somewhere in its first nine tenths."""
    return content[: chance.randrange(1, len(content) * 9 // 10)]


def flipped(content: bytes, chance: random.Random) -> bytes:
    """One bit turned over: many decoders would not notice, the hash in the record does."""
    changed = bytearray(content)
    changed[chance.randrange(len(changed))] ^= 1 << chance.randrange(8)
    return bytes(changed)


def renamed(_: bytes, chance: random.Random) -> bytes:
    """Something else under the name of a picture."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as packed:
        packed.writestr("letter.txt", chance.randbytes(200))
    other = (b"<html><body>404 Not Found</body></html>", buffer.getvalue(), b"%PDF-1.7\n", b"\0" * 5000, b"")
    return chance.choice(other)


def png(width: int, height: int, data: bytes) -> bytes:
    """A grey PNG that says it has this size, with these bytes of compressed pixels (PNG, third edition, 5 and 11.2)."""
    header = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    chunks = ((b"IHDR", header), (b"IDAT", data), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body)) for name, body in chunks
    )


_LINES = zlib.compress(b"\0" * 40_000_000, 9)


def large_bomb(_: bytes, chance: random.Random) -> bytes:
    """A few kilobytes that say they are a picture of 3,600 to 10,000 megapixels."""
    side = chance.randrange(60_000, 100_000)
    return png(side, side, _LINES)


def metadata_bomb(content: bytes, _: random.Random) -> bytes:
    """A small picture that is cut off, with text of many megabytes pressed into it (PNG, 11.3.3: zTXt)."""
    text = b"note\0\0" + zlib.compress(b"\0" * 80_000_000, 9)
    whole = png(100, 100, zlib.compress(b"\0" * 101)[: len(content) % 5 + 3])
    return (
        whole[:33]
        + struct.pack(">I", len(text))
        + b"zTXt"
        + text
        + struct.pack(">I", zlib.crc32(b"zTXt" + text))
        + whole[33:]
    )


DAMAGES: dict[str, tuple[Callable[[bytes, random.Random], bytes], bool]] = {
    "truncated": (truncated, False),
    "flipped": (flipped, True),
    "renamed": (renamed, False),
    "large-bomb": (large_bomb, False),
    "metadata-bomb": (metadata_bomb, False),
}
"""What is done to a file, and whether its record states the hash of the good one."""
