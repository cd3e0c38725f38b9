# ruff: noqa: E501
"""Files that were made to harm whoever decodes them, or whoever is shown them: each by a name that says what it is."""

from __future__ import annotations

import gzip
import io
import struct
import zipfile
import zlib

from PIL import Image


def small(kind: str = "PNG", size: tuple[int, int] = (64, 48), mode: str = "RGB", **options: object) -> bytes:
    """A harmless picture to begin from."""
    held = io.BytesIO()
    Image.linear_gradient("L").resize(size).convert(mode).save(held, kind, **options)  # type: ignore[arg-type]
    return held.getvalue()


def chunk(kind: bytes, data: bytes) -> bytes:
    """A PNG chunk with its checksum (PNG, third edition, 5.3)."""
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(width: int, height: int, rows: bytes, depth: int = 8, colour: int = 0, extra: bytes = b"") -> bytes:
    """A PNG whose head says what it likes."""
    head = struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + extra + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def bomb(width: int, height: int) -> bytes:
    """Rows of zeros, which pack about a thousandfold."""
    packer = zlib.compressobj(9)
    row, out = b"\x00" * (width + 1), []
    for _ in range(height):
        out.append(packer.compress(row))
    return png(width, height, b"".join(out) + packer.flush())


def exif(data: bytes) -> bytes:
    """A JPEG with these bytes as its Exif segment."""
    picture = small("JPEG")
    return picture[:2] + b"\xff\xe1" + struct.pack(">H", len(data) + 8) + b"Exif\x00\x00" + data + picture[2:]


def tiff_entries(entries: list[tuple[int, int, int, int]], after: int = 0) -> bytes:
    """A little-endian TIFF head with one directory (TIFF 6.0, section 2)."""
    body = struct.pack("<H", len(entries)) + b"".join(struct.pack("<HHII", *entry) for entry in entries)
    return b"II*\x00" + struct.pack("<I", 8) + body + struct.pack("<I", after)


def svg(inside: str) -> bytes:
    """An SVG file."""
    return f'<svg xmlns="http://www.w3.org/2000/svg" width="64" height="64">{inside}</svg>'.encode()


def zipped(name: str, data: bytes) -> bytes:
    """A ZIP archive of one file."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, data)
    return held.getvalue()


_RATIONAL_BOMB = tiff_entries([(0x010E, 5, 0x0FFFFFFF, 8)])
_SCRIPT = "<script>alert(document.domain)</script>"


def harmful() -> dict[str, bytes]:
    """All of them."""
    jpeg, whole = small("JPEG"), small("PNG")
    zeros = zlib.compress(b"\x00" * 100)
    found = {
        # nothing, or not a picture
        "empty": b"",
        "one-byte": b"\x00",
        "zeros": b"\x00" * 4096,
        "text": b"just words\n" * 50,
        "null-and-newlines": b"\r\n\x00" * 500,
        "python-pickle": b"cos\nsystem\n(S'touch pickled'\ntR.",
        "pickle-protocol-5": b"\x80\x05\x8c\x05posix\x94\x8c\x06system\x94\x93\x8c\x0dtouch pickled\x85R.",
        "npy": b"\x93NUMPY\x01\x00v\x00{'descr': '|O', 'fortran_order': False, 'shape': (1,), }" + b" " * 60 + b"\n",
        "elf": b"\x7fELF\x02\x01\x01" + b"\x00" * 200,
        "shell": b"#!/bin/sh\ntouch /tmp/pwned\n",
        "html": b"<!doctype html><html><body>" + _SCRIPT.encode() + b"</body></html>",
        "javascript": b"alert(1)//",
        "php": b"<?php system($_GET['c']); ?>",
        "pdf": b"%PDF-1.7\n1 0 obj<</Type/Catalog/OpenAction<</S/JavaScript/JS(app.alert(1))>>>>endobj\n%%EOF",
        "postscript": b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 64 64\n(pwned) (w) file\nshowpage\n%%EOF\n",
        "eps-with-preview": b"\xc5\xd0\xd3\xc6" + struct.pack("<7I", 32, 100, 0, 0, 0, 0, 0xFFFF) + b"%!PS-Adobe\n" * 10,
        "wmf": b"\xd7\xcd\xc6\x9a" + b"\x00" * 100,
        "emf": b"\x01\x00\x00\x00" + b"\x00" * 36 + b" EMF" + b"\x00" * 60,
        "svg-script": svg(_SCRIPT),
        "svg-onload": svg("").replace(b"<svg", b'<svg onload="alert(1)"'),
        "svg-foreign": svg("<foreignObject><iframe src='javascript:alert(1)'/></foreignObject>"),
        "svg-entity": b'<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]><svg xmlns="http://www.w3.org/2000/svg">&x;</svg>',
        "svg-laughs": b"<!DOCTYPE s [<!ENTITY a 'ha'>" + b"".join(
            f"<!ENTITY a{at} '{f'&a{at - 1 or str()};' * 10}'>".encode() for at in range(1, 9)
        ) + b"]><s>&a8;</s>",
        "svg-href": svg('<image href="http://127.0.0.1:1/x.png"/>'),
        "svg-gzipped": gzip.compress(svg(_SCRIPT)),
        "zip": zipped("../../pwned.txt", b"pwned"),
        "zip-bomb": zipped("zeros", b"\x00" * 20_000_000),
        "gzip-bomb": gzip.compress(b"\x00" * 20_000_000),
        "sqlite": b"SQLite format 3\x00" + b"\x00" * 200,
        "mp4": b"\x00\x00\x00\x18ftypmp42\x00\x00\x00\x00mp42isom" + b"\x00" * 64,
        "psd": b"8BPS\x00\x01" + b"\x00" * 6 + struct.pack(">HIIHH", 3, 30000, 30000, 8, 3) + b"\x00" * 64,
        "icns": b"icns\xff\xff\xff\xff" + b"ic10\xff\xff\xff\xff",
        "ico": b"\x00\x00\x01\x00\xff\xff" + b"\x00" * 64,
        "fits": b"SIMPLE  =                    T" + b" " * 2850,
        "jpeg2000": b"\x00\x00\x00\x0cjP  \r\n\x87\n" + b"\x00" * 64,
        "jpeg2000-stream": b"\xff\x4f\xff\x51\x00\x2f\x00\x00" + b"\xff" * 60,
        "xpm": b'/* XPM */ static char *x[] = {"99999 99999 2 1", ". c #000", "x c #fff"};',
        "hdf5": b"\x89HDF\r\n\x1a\n" + b"\x00" * 64,
        "gribs": b"GRIB" + b"\x00" * 64 + b"7777",
        "dds": b"DDS " + struct.pack("<I", 124) + b"\xff" * 120,
        "bufr": b"BUFR" + b"\x00" * 60,
        "tga": b"\x00\x00\x0a" + b"\x00" * 9 + struct.pack("<HH", 65535, 65535) + b"\x18\x00" + b"\xff" * 32,
        "pcx": b"\x0a\x05\x01\x08" + b"\x00" * 4 + b"\xff\xff\xff\xff" + b"\x00" * 120,
        "sgi": b"\x01\xda\x01\x01\x00\x03\xff\xff\xff\xff\x00\x03" + b"\x00" * 500,
        # PNG
        "png-bomb-9000": bomb(9000, 9000),
        "png-bomb-7999": bomb(7999, 7999),
        "png-says-huge": png(29_999, 29_999, zeros),
        "png-says-2-31": png(2**31 - 1, 2**31 - 1, zeros),
        "png-says-over-31": png(2**32 - 1, 1, zeros),
        "png-zero-wide": png(0, 100, zeros),
        "png-zero-high": png(100, 0, zeros),
        "png-needle": png(1, 29_000, zlib.compress(b"\x00\x00" * 29_000)),
        "png-thread": png(29_000, 1, zlib.compress(b"\x00" * 29_001)),
        "png-short-rows": png(500, 500, zlib.compress(b"\x00" * 50)),
        "png-long-rows": png(16, 16, zlib.compress(b"\x00" * 3_000_000)),
        "png-bad-zlib": png(64, 64, b"\x78\x9c" + b"\xff" * 64),
        "png-bad-filter": png(16, 16, zlib.compress((b"\x09" + b"\x01" * 16) * 16)),
        "png-bad-depth": png(64, 64, zeros, depth=7),
        "png-bad-colour": png(64, 64, zeros, colour=5),
        "png-no-palette": png(16, 16, zlib.compress((b"\x00" + b"\x01" * 16) * 16), colour=3),
        "png-text-bomb": png(16, 16, zeros, extra=chunk(b"zTXt", b"a\x00\x00" + zlib.compress(b"a" * 60_000_000, 9))),
        "png-itxt-bomb": png(16, 16, zeros, extra=chunk(b"iTXt", b"a\x00\x01\x00\x00\x00" + zlib.compress(b"a" * 60_000_000, 9))),
        "png-icc-bomb": png(16, 16, zeros, extra=chunk(b"iCCP", b"a\x00\x00" + zlib.compress(b"\x00" * 60_000_000, 9))),
        "png-thousand-chunks": png(16, 16, zeros, extra=chunk(b"tEXt", b"k\x00" + b"v" * 50) * 20_000),
        "png-chunk-says-4g": b"\x89PNG\r\n\x1a\n\xff\xff\xff\xffIHDR" + b"\x00" * 40,
        "png-no-end": whole[:-12],
        "png-cut": whole[: len(whole) // 2],
        "png-head-alone": whole[:33],
        "png-wrong-sum": whole[:40] + b"\x00\x01\x02\x03" + whole[44:],
        "png-twice": whole + whole,
        "png-animated": small("PNG", save_all=True, append_images=[Image.new("RGB", (64, 48), "white")] * 3),
        "png-transparent-bomb": small("PNG", size=(3000, 3000), mode="RGBA"),
        # JPEG
        "jpeg-cut": jpeg[: len(jpeg) // 2],
        "jpeg-head-alone": jpeg[:20],
        "jpeg-says-65535": jpeg.replace(b"\xff\xc0\x00\x11\x08\x00\x30\x00\x40", b"\xff\xc0\x00\x11\x08\xff\xff\xff\xff"),
        "jpeg-zero": jpeg.replace(b"\xff\xc0\x00\x11\x08\x00\x30\x00\x40", b"\xff\xc0\x00\x11\x08\x00\x00\x00\x00"),
        "jpeg-no-scan": jpeg[: jpeg.index(b"\xff\xda")] + b"\xff\xd9",
        "jpeg-no-tables": jpeg.replace(b"\xff\xdb", b"\xff\xfe"),
        "jpeg-bad-huffman": jpeg.replace(b"\xff\xc4", b"\xff\xc4\xff\xff", 1),
        "jpeg-markers": b"\xff\xd8" + b"\xff\xe0\x00\x02" * 20_000 + jpeg[2:],
        "jpeg-comment-script": jpeg[:2] + b"\xff\xfe" + struct.pack(">H", 2 + len(_SCRIPT)) + _SCRIPT.encode() + jpeg[2:],
        "jpeg-then-html": jpeg + _SCRIPT.encode() * 50,
        "jpeg-then-zip": jpeg + zipped("x", b"y" * 1000),
        "jpeg-then-php": jpeg + b"<?php phpinfo(); ?>",
        "jpeg-progressive-many-scans": small("JPEG", size=(800, 600), progressive=True) + b"\xff\xda" * 4000,
        "jpeg-cmyk": small("JPEG", mode="CMYK"),
        "jpeg-mpf-loop": jpeg[:2] + b"\xff\xe2\x00\x30MPF\x00II*\x00\x08\x00\x00\x00" + b"\xff" * 32 + jpeg[2:],
        "exif-rational-bomb": exif(_RATIONAL_BOMB),
        "exif-loops": exif(tiff_entries([(0x8769, 4, 1, 8)], after=8)),
        "exif-65535-entries": exif(b"II*\x00\x08\x00\x00\x00\xff\xff" + b"\x00" * 2000),
        "exif-orientation-99": exif(tiff_entries([(0x0112, 3, 1, 99)])),
        "exif-orientation-text": exif(tiff_entries([(0x0112, 2, 4, 0x41414141)])),
        "exif-thumbnail-far": exif(tiff_entries([(0x0201, 4, 1, 0xFFFFFFF0), (0x0202, 4, 1, 0xFFFF)])),
        "exif-not-exif": exif(b"\x00\x01\x02\x03" * 100),
        "exif-empty": exif(b""),
        "exif-largest": exif(b"II*\x00" + b"\xff" * 65_000),
        "icc-nonsense": small("JPEG", icc_profile=b"\xff" * 5000),
        "icc-short": small("JPEG", icc_profile=b"\x00"),
        "icc-says-4g": small("JPEG", icc_profile=b"\xff\xff\xff\xff" + b"\x00" * 124 + b"\xff\xff\xff\xff" * 10),
        # GIF, BMP, WebP, TIFF, PPM
        "gif-says-65535": b"GIF89a\xff\xff\xff\xff\x80\x00\x00" + b"\x00" * 6 + b",\x00\x00\x00\x00\xff\xff\xff\xff\x00\x02\x02\x44\x01\x00;",
        "gif-ten-thousand-frames": b"GIF89a\x40\x00\x40\x00\x80\x00\x00" + b"\x00" * 6 + b",\x00\x00\x00\x00\x40\x00\x40\x00\x00\x02\x02\x44\x01\x00" * 10_000 + b";",
        "gif-no-end": b"GIF89a\x40\x00\x40\x00\x80\x00\x00" + b"\x00" * 6,
        "gif-is-javascript": b"GIF89a/*\x00\x40\x00\x80\x00\x00*/=1;alert(1)//",
        "gif-bad-lzw": b"GIF89a\x40\x00\x40\x00\x80\x00\x00" + b"\x00" * 6 + b",\x00\x00\x00\x00\x40\x00\x40\x00\x00\x0f\xff" + b"\xff" * 255 + b"\x00;",
        "bmp-says-huge": b"BM" + struct.pack("<IHHIIiiHHIIiiII", 100, 0, 0, 54, 40, 2**31 - 1, 2**31 - 1, 1, 24, 0, 0, 0, 0, 0, 0),
        "bmp-negative": b"BM" + struct.pack("<IHHIIiiHHIIiiII", 100, 0, 0, 54, 40, -64, -64, 1, 24, 0, 0, 0, 0, 0, 0) + b"\x00" * 99,
        "bmp-run-length": b"BM" + struct.pack("<IHHIIiiHHIIiiII", 100, 0, 0, 54, 40, 20_000, 20_000, 1, 8, 1, 0, 0, 0, 0, 0) + b"\xff\x00" * 999,
        "bmp-offset-far": b"BM" + struct.pack("<IHHIIiiHHIIiiII", 100, 0, 0, 2**32 - 1, 40, 64, 64, 1, 24, 0, 0, 0, 0, 0, 0),
        "webp-says-16383": b"RIFF" + struct.pack("<I", 30) + b"WEBPVP8L" + struct.pack("<I", 10) + b"\x2f\xff\xff\xff\x0f" + b"\x00" * 9,
        "webp-riff-alone": b"RIFF\xff\xff\xff\xffWEBP",
        "webp-cut": small("WEBP")[:40],
        "webp-extended-huge": b"RIFF" + struct.pack("<I", 22) + b"WEBPVP8X" + struct.pack("<I", 10) + b"\x00" * 4 + b"\xff" * 6,
        "tiff-no-entries": tiff_entries([]),
        "tiff-loop": tiff_entries([(256, 4, 1, 64)], after=8),
        "tiff-says-huge": tiff_entries([(256, 4, 1, 0xFFFFFFFF), (257, 4, 1, 0xFFFFFFFF), (258, 3, 1, 8), (262, 3, 1, 1), (273, 4, 1, 8), (279, 4, 1, 8)]),
        "tiff-million-strips": tiff_entries([(256, 4, 1, 64), (257, 4, 1, 64), (258, 3, 1, 8), (262, 3, 1, 1), (273, 4, 0xFFFFFF, 8), (279, 4, 0xFFFFFF, 8)]),
        "tiff-jpeg-in-tiff": tiff_entries([(256, 4, 1, 5000), (257, 4, 1, 5000), (259, 3, 1, 7), (262, 3, 1, 6), (273, 4, 1, 8), (279, 4, 1, 100)]),
        "tiff-deflate-bomb": small("TIFF", size=(4000, 4000), mode="L", compression="tiff_adobe_deflate"),
        "tiff-big-endian-nonsense": b"MM\x00*\x00\x00\x00\x08\xff\xff" + b"\xff" * 100,
        "tiff-bigtiff": b"II+\x00\x08\x00\x00\x00" + struct.pack("<Q", 2**63),
        "ppm-says-huge": b"P6 999999999 999999999 255\n",
        "ppm-negative": b"P6 -5 -5 255\n" + b"\x00" * 75,
        "ppm-endless-number": b"P6 " + b"9" * 100_000 + b" 1 255\n",
        "ppm-endless-comment": b"P6 #" + b"x" * 500_000,
        "ppm-maxval": b"P5 64 64 99999999\n" + b"\x00" * 4096,
        "pfm-nan": b"Pf 32 32 -1.0\n" + b"\x00\x00\xc0\x7f" * 1024,
        "pfm-infinite": b"Pf 32 32 -1.0\n" + b"\x00\x00\x80\x7f" * 1024,
        "heif-empty-boxes": b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic" + b"\x00\x00\x00\x08meta" * 100,
        "heif-box-says-4g": b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic\xff\xff\xff\xffmeta",
        "heif-box-in-itself": b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic" + b"\x00\x00\x00\x00meta" * 2000,
        "avif-empty": b"\x00\x00\x00\x1cftypavif\x00\x00\x00\x00avifmif1miaf" + b"\x00" * 64,
        "avif-cut": small("AVIF")[:200],
        "one-pixel": small(size=(1, 1)),
        "fifteen-pixels": small(size=(15, 15)),
    }  # fmt: skip
    return found
