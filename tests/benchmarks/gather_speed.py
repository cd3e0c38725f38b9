"""What gathering costs beside waiting: works a second from a small museum on this computer, without a pace.

    PYTHONPATH=tests:. python tests/benchmarks/gather_speed.py [--works 200] [--side 1200]

Prints how long a work takes in all, and how large journal, records and received records are for each work.  With a
collection's own pace of a second or more, this is time that passes while it waits.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from pathlib import Path

from museum_server import Answer, Asked, jpeg, js, museum

from ingest.collections.aic import ArtInstitute
from ingest.collections.source import Wanted
from ingest.gather import gather
from ingest.gather_web import Web


def artwork(number: int, width: int, height: int) -> dict[str, object]:
    """A made-up record in the Art Institute's shape."""
    return {
        "id": number, "title": f"Painting {number}", "main_reference_number": f"1900.{number}", "date_start": 1850,
        "date_end": 1855, "date_display": "c. 1850/55", "artist_display": "Ada Painter\nFrench, 1820–1890",
        "artist_title": "Ada Painter", "place_of_origin": "France", "medium_display": "Oil on canvas",
        "is_public_domain": True, "artwork_type_title": "Painting", "subject_titles": ["harbors", "ships"],
        "image_id": str(number), "thumbnail": {"width": width, "height": height},
    }  # fmt: skip


def main() -> None:
    """Gather from a museum that answers at once, and print what it took."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--works", type=int, default=200)
    parser.add_argument("--side", type=int, default=1200)
    options = parser.parse_args()
    size = (min(843, options.side), round(min(843, options.side) * 0.75))
    drawn = [jpeg("bands", seed, size) for seed in range(8)]
    with museum() as house, tempfile.TemporaryDirectory() as name:

        def search(asked: Asked) -> Answer:
            start = (int(asked.query["page"]) - 1) * 100
            data = [artwork(number, *size) for number in range(start, min(start + 100, options.works))]
            config = {"iiif_url": f"{house.address}/iiif"}
            return js({"pagination": {"total": options.works}, "data": data, "config": config})

        house.routes["/artworks/search"] = search
        for number in range(options.works):
            # A tail of their own, so that no two works have the very same file.
            body = drawn[number % len(drawn)] + number.to_bytes(4, "big")
            house.routes[f"/iiif/{number}/full/{size[0]},/0/default.jpg"] = Answer(body, "image/jpeg")
        folder = Path(name)
        begun = time.perf_counter()
        with Web(pace=0.0, named=[house.address]) as web:
            gathered = gather(ArtInstitute(house.address), folder, Wanted(), web)
        took = time.perf_counter() - begun
        begun = time.perf_counter()
        with Web(pace=0.0, named=[house.address]) as web:
            gather(ArtInstitute(house.address), folder, Wanted(), web)
        again = time.perf_counter() - begun
        journal = (folder / "gathering.db").stat().st_size
        received = sum(file.stat().st_size for file in (folder / "received").iterdir())
        print(f"{gathered.came} works of {size[0]} x {size[1]} px, {len(drawn[0]) / 1000:.0f} kB each")
        print(f"{1000 * took / gathered.came:.1f} ms a work, {gathered.came / took:.0f} works a second")
        print(f"{again:.2f} s for the same command once more, which asks for nothing")
        print(f"journal {journal / gathered.came:.0f} bytes a work, received records {received / gathered.came:.0f}")


if __name__ == "__main__":
    main()
