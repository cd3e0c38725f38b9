"""Photos of sheets made with the truth about them, and the steps of reading them by hand-made cases.

Full-size measurements by difficulty are those of ``tests/benchmarks/sheets.py``; here are a few photos of each kind.
"""

from __future__ import annotations

import io
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from drawn_tone import png_of
from numpy.typing import NDArray
from PIL import Image
from sheet_checks import compare, jaccard, proportions, rotated, turned_back, wash_error
from sheet_maker import Difficulty, MadePhoto, make_photo

from ingest.lightness import (
    LIGHT_OF_CODE,
    LUMINANCE_ROW,
    lightness_CIE1976,
    linear_from_srgb,
    luminance_CIE1976,
    srgb_from_linear,
    srgb_lightness,
)
from ingest.picture_file import UnreadablePicture
from ingest.reading import read, read_tone
from ingest.sheet import Sheet, SheetError, finding, panel_picture, read_sheet, reader
from ingest.sheet.alike import as_large_as_others
from ingest.sheet.ends import to_their_ends
from ingest.sheet.filling import in_grid
from ingest.sheet.finding import find_panels
from ingest.sheet.frame import Frame, View, square_on
from ingest.sheet.geometry import area, homography, in_order, overlap, proportion, transform
from ingest.sheet.islands import islands
from ingest.sheet.looks import look_at
from ingest.sheet.order import missing_cells, reading_order
from ingest.sheet.rectangles import Rectangle
from ingest.sheet.shine import filled, shining
from ingest.sheet.strips import WHITE

SIZE = (1000, 750)
SEEDS: tuple[tuple[Difficulty, int], ...] = (
    ("easy", 202),
    ("easy", 201),
    ("medium", 201),
    ("hard", 201),
    ("hard", 203),
    ("hard", 204),
)


@pytest.fixture(scope="module")
def photos() -> list[tuple[MadePhoto, Sheet]]:
    made = [make_photo(seed, difficulty, size=SIZE) for difficulty, seed in SEEDS]
    return [(each, read_sheet(each.jpeg)) for each in made]


def test_every_panel_is_found_where_it_is_and_in_order(photos: list[tuple[MadePhoto, Sheet]]) -> None:
    for made, sheet in photos:
        compared = compare(made, sheet)
        # Jaccard index after rectification by the true homography, as in SmartDoc 2015, challenge 1.
        assert min(compared.jaccard) >= 0.95, made.traits
        assert compared.extra == 0, made.traits
        assert compared.in_order
        assert sheet.layout == made.layout
        assert not sheet.need_corners


def test_an_even_wash_stays_a_wash(photos: list[tuple[MadePhoto, Sheet]]) -> None:
    errors = [
        wash_error(panel, seen)[0]
        for made, sheet in photos
        for panel, seen in compare(made, sheet).pairs
        if panel.even and not made.toned
    ]
    assert len(errors) >= 3
    assert np.abs(errors).max() <= 3.0


def test_proportions_are_those_of_the_scan(photos: list[tuple[MadePhoto, Sheet]]) -> None:
    apart = [
        float(np.abs(np.subtract(*proportions(panel, seen))).max())
        for made, sheet in photos
        for panel, seen in compare(made, sheet).pairs
        if not panel.even and panel.shiny is None
    ]
    assert np.median(apart) <= 0.01
    assert np.mean(np.array(apart) <= 0.03) >= 0.8


def test_shine_is_masked_and_said_what_to_do_about(photos: list[tuple[MadePhoto, Sheet]]) -> None:
    shiny = [
        (panel, seen, sheet)
        for made, sheet in photos
        for panel, seen in compare(made, sheet).pairs
        if panel.shiny is not None
    ]
    assert shiny
    for panel, seen, sheet in shiny:
        assert panel.shiny is not None
        assert seen.mask is not None
        true = np.asarray(Image.fromarray(panel.shiny).resize(seen.mask.shape[::-1]))
        assert (true & ~seen.mask).sum() >= 0.7 * true.sum()
        assert (~seen.mask).mean() < 0.25
        assert any("let it dry" in note and "window" in note for note in sheet.notes)
        # Up to an eighth of so small a panel is hidden; read as what lies around it, the values keep their shares.
        assert np.abs(np.subtract(*proportions(panel, seen))).max() <= 0.05


def test_a_turned_photo_gives_the_same_panels(photos: list[tuple[MadePhoto, Sheet]]) -> None:
    made, sheet = photos[0]
    for quarters in (1, 2, 3):
        turned = read_sheet(rotated(made, quarters))
        assert len(turned.panels) == len(sheet.panels)
        back = [turned_back(np.array(panel.corners), quarters, made.width, made.height) for panel in turned.panels]
        for panel in sheet.panels:
            assert max(jaccard(np.array(panel.corners), other, 300) for other in back) >= 0.97


def test_orientation_in_the_file_is_followed(photos: list[tuple[MadePhoto, Sheet]]) -> None:
    """EXIF 2.3, orientation 6: the camera was held so that the photo must be turned clockwise to be upright."""
    made, sheet = photos[1]
    lying = Image.fromarray(np.ascontiguousarray(np.rot90(np.asarray(Image.open(io.BytesIO(made.jpeg))))))
    exif = Image.Exif()
    exif[0x0112] = 6
    buffer = io.BytesIO()
    lying.save(buffer, "PNG", exif=exif, compress_level=1)
    upright = read_sheet(buffer.getvalue())
    assert (upright.width, upright.height) == (made.width, made.height)
    np.testing.assert_allclose(upright.panels[0].corners, sheet.panels[0].corners, atol=2.0)


def test_panels_walk_the_street_untrimmed(photos: list[tuple[MadePhoto, Sheet]]) -> None:
    for _, sheet in photos[:2]:
        for panel in sheet.panels:
            picture = panel_picture(panel)
            assert picture.trims == ()
            buffer = io.BytesIO()
            Image.fromarray(panel.rgb).save(buffer, "PNG")
            by_file = read(buffer.getvalue(), part="whole").measures
            by_array = read_tone(picture).measures
            assert abs(by_file.light - by_array.light) <= 0.01
            assert abs(by_file.dark - by_array.dark) <= 0.01


def test_corners_given_for_panels_are_kept_as_given(photos: list[tuple[MadePhoto, Sheet]]) -> None:
    made, _ = photos[0]
    # Given in any order, they come back in reading order, each clockwise from its top left.
    sheet = read_sheet(made.jpeg, corners=[panel.corners[::-1].tolist() for panel in reversed(made.panels)])
    for panel, true in zip(sheet.panels, made.panels, strict=True):
        np.testing.assert_allclose(panel.corners, true.corners, atol=0.5)
        assert panel.confidence == 1.0


def test_panels_whose_corners_nobody_moved_are_read_as_before(photos: list[tuple[MadePhoto, Sheet]]) -> None:
    for at in (0, 5):
        made, seen = photos[at]
        corners = [np.array(panel.corners) for panel in seen.panels]
        again = read_sheet(made.jpeg, corners=[each.tolist() for each in corners], unmoved=[True] * len(corners))
        for panel, before in zip(again.panels, seen.panels, strict=True):
            assert not panel.told
            assert panel.confidence == before.confidence
            np.testing.assert_array_equal(panel.rgb, before.rgb)
        # One that was moved lies where it was put and has straight sides; the others are read as if it had not been.
        corners[0][2] -= 9.0
        moved = read_sheet(
            made.jpeg, corners=[each.tolist() for each in corners], unmoved=[False] + [True] * (len(corners) - 1)
        )
        assert [panel.told for panel in moved.panels] == [True] + [False] * (len(corners) - 1)
        np.testing.assert_allclose(moved.panels[0].corners, corners[0], atol=0.5)
        for panel, before in zip(moved.panels[1:], seen.panels[1:], strict=True):
            one, other = (read_tone(panel_picture(each)).measures for each in (panel, before))
            assert one.light == pytest.approx(other.light, abs=0.003)
            assert one.dark == pytest.approx(other.dark, abs=0.003)


def test_corners_of_the_sheet_and_a_layout_are_enough(photos: list[tuple[MadePhoto, Sheet]]) -> None:
    made, _ = photos[0]
    sheet = read_sheet(made.jpeg, corners=made.sheet.tolist(), layout=made.layout)
    assert sheet.layout == made.layout
    assert min(compare(made, sheet).jaccard) >= 0.95


@pytest.mark.parametrize("tone", [0.0, 50.0, 100.0])
def test_a_sheet_on_which_nothing_is_seen_is_parted_evenly_by_its_corners(tone: float) -> None:
    sheet = read_sheet(
        png_of(np.full((450, 600), tone)), layout=(2, 2), corners=[(10, 10), (590, 10), (590, 440), (10, 440)]
    )
    assert (sheet.layout, len(sheet.panels)) == ((2, 2), 4)
    np.testing.assert_allclose(sheet.panels[0].corners[0], (10 + 0.05 * 290, 10 + 0.05 * 215), atol=2)


def test_corners_of_panels_within_each_other_or_not_of_the_layout_are_refused() -> None:
    photo = png_of(np.full((450, 600), 90.0))
    outer, inner = [(10, 10), (590, 10), (590, 440), (10, 440)], [(50, 50), (200, 50), (200, 200), (50, 200)]
    with pytest.raises(SheetError, match="lie over each other"):
        read_sheet(photo, corners=[outer, inner])
    beside = [(300, 50), (500, 50), (500, 200), (300, 200)]
    with pytest.raises(SheetError, match="Corners of 2 panels were given, and a layout of 2 x 2"):
        read_sheet(photo, corners=[inner, beside], layout=(2, 2))


def test_a_layout_that_is_not_there_asks_for_corners(photos: list[tuple[MadePhoto, Sheet]]) -> None:
    made, _ = photos[0]
    sheet = read_sheet(made.jpeg, layout=(3, 2))
    assert not sheet.found
    assert "3 rows of 2" in sheet.need_corners
    assert "corners" in sheet.need_corners


@pytest.mark.parametrize("field", [np.full((300, 400), 90.0), np.random.default_rng(3).uniform(10, 90, (300, 400))])
def test_where_no_panels_are_corners_are_asked_for(field: np.ndarray) -> None:
    sheet = read_sheet(png_of(field))
    assert not sheet.found
    assert sheet.panels == ()
    assert "four corners" in sheet.need_corners


def test_no_picture_is_said_in_one_sentence() -> None:
    with pytest.raises(UnreadablePicture, match=r"^[A-Z].*\.$"):
        read_sheet(b"no picture at all")


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        ([(0, 0), (10, 0), (10, 10)], "fours"),
        ([(0, 0), (100, 0), (50, 20), (50, 90)], "none inside"),
        ([[(0, 0), (100, 0), (100, 100), (0, 100)]] * 2, "over each other"),
    ],
)
def test_corners_that_make_no_sense_are_refused_in_words(corners: list, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        read_sheet(png_of(np.full((200, 300), 80.0)), corners=corners)


def test_light_is_divided_out_and_a_wash_not_bleached() -> None:
    """By hand: L* 50 and 70 on white paper, in light that falls to a third from left to right."""
    reflectance = np.full((600, 900), ((95 + 16) / 116) ** 3)
    reflectance[120:480, 100:420] = ((50 + 16) / 116) ** 3
    reflectance[120:480, 480:800] = ((70 + 16) / 116) ** 3
    lit = reflectance * np.exp(-np.log(3) * np.arange(900) / 899)
    star = np.where(lit > 216 / 24389, 116 * np.cbrt(lit) - 16, lit * 24389 / 27)
    sheet = read_sheet(png_of(star))
    assert sheet.layout == (1, 2)
    for panel, tone in zip(sheet.panels, (50, 70), strict=True):
        seen = srgb_lightness(panel.rgb)
        assert abs(float(np.median(seen)) - tone) <= 1.0
        assert float(np.percentile(np.abs(seen - tone), 99)) <= 2.0


def test_toned_paper_keeps_its_ground() -> None:
    """By hand: paper of L* 65 with darks and with white chalk of L* 92, the lightest thing on it."""
    field = np.full((600, 800), 65.0)
    field[120:480, 100:380], field[120:480, 440:700] = 25.0, 30.0
    field[200:330, 160:300], field[220:380, 500:640] = 92.0, 92.0
    sheet = read_sheet(png_of(field))
    assert sheet.toned
    assert any("toned" in note for note in sheet.notes)
    for panel in sheet.panels:
        assert abs(float(np.percentile(srgb_lightness(panel.rgb), 97)) - 92) <= 2.0
        assert abs(float(np.percentile(srgb_lightness(panel.rgb), 30)) - 27.5) <= 5.0


def test_what_is_hidden_goes_on_as_it_is_around_it() -> None:
    """By hand: a dark and a light half, and a bright spot in the middle of each."""
    field = np.full((60, 100), 0.1, dtype=np.float32)
    field[:, 50:] = 0.6
    spotted, hidden = field.copy(), np.zeros(field.shape, dtype=bool)
    hidden[20:40, 15:35], hidden[20:40, 65:85] = True, True
    spotted[hidden] = 1.0
    np.testing.assert_allclose(filled(spotted, hidden), field, atol=1e-5)


def test_glare_is_masked_as_far_as_it_fades() -> None:
    """By hand: glare that fades out by a bell of 12 pixels over a dark wash of linear light 0.08."""
    y, x = np.mgrid[:200, :200]
    glare = np.exp(-((y - 100.0) ** 2 + (x - 90.0) ** 2) / (2 * 12.0**2))
    raw = np.repeat(np.clip(0.08 + 2.0 * glare, 0, 1)[..., None], 3, axis=2).astype(np.float32)
    hidden = shining(raw, raw, 0.85)
    assert float(glare[~hidden].max()) <= 0.04
    assert float(hidden.mean()) <= 0.15


def test_a_panel_cut_short_is_drawn_out_to_where_its_sides_end() -> None:
    """By hand: a panel of two tones, given as the left one alone; its upper and lower side run on to the true end."""
    field = np.full((300, 400), 93.0)
    field[80:220, 80:200], field[80:220, 200:320] = 30.0, 60.0
    rgb = np.asarray(Image.open(io.BytesIO(png_of(field))).convert("RGB"))
    frame = square_on(View(rgb, (400, 300)), np.eye(3))
    short = np.array([80.0, 80.0, 200.0, 220.0]) / frame.scale
    whole = np.array([80.0, 80.0, 320.0, 220.0]) / frame.scale
    left, top, right, bottom = short.tolist()
    (panel,) = to_their_ends(frame, [Rectangle((left, top, right, bottom), (1.0,) * 4, (93.0, 0.0, 0.0), 1.0)])
    np.testing.assert_allclose(panel.box, whole, atol=3.0)
    assert panel.confidence >= 0.9
    left, top, right, bottom = whole.tolist()
    true = Rectangle((left, top, right, bottom), (1.0,) * 4, (93.0, 0.0, 0.0), 1.0)
    assert to_their_ends(frame, [true]) == [true]


def test_a_wash_in_blue_tape_is_read_against_warm_paper_around_the_tape() -> None:
    """By hand: cream paper in warm light, so red is a quarter more than blue in it; the wash reflects four tenths of
    it, of which CIE 1976 makes L* 66 where the paper has `WHITE`."""
    paper = linear_from_srgb(np.array([238, 230, 212]) / 255)
    assert 0.16 < np.log(paper[0] / paper[2]) < 0.3
    photo = np.full((640, 520, 3), 0.25) * [1.1, 1.0, 0.9]
    photo[40:600, 40:480] = paper
    photo[90:550, 90:430] = linear_from_srgb(np.array([70, 146, 198]) / 255)
    photo[120:520, 120:400] = 0.4 * paper
    stream = io.BytesIO()
    Image.fromarray(np.rint(255 * srgb_from_linear(photo)).astype(np.uint8)).save(stream, "PNG")
    (panel,) = read_sheet(stream.getvalue()).panels
    seen = lightness_CIE1976(LIGHT_OF_CODE[panel.rgb] @ np.asarray(LUMINANCE_ROW))
    expected = float(lightness_CIE1976(0.4 * float(luminance_CIE1976(WHITE))))
    assert expected == pytest.approx(66, abs=0.5)
    assert float(np.median(seen)) == pytest.approx(expected, abs=3.0)


def test_what_begins_where_the_gutter_ends_is_no_side_that_runs_on() -> None:
    """By hand: a panel on 12 pixels of paper, and beyond the paper two dark lines in line with its sides."""
    field = np.full((300, 400), 93.0)
    field[80:220, 80:200] = 30.0
    field[60:240, 212:] = 60.0
    field[78:84, 212:], field[216:222, 212:] = 20.0, 20.0
    frame, (panel,) = _drawn(field, (80, 80, 200, 220))
    assert to_their_ends(frame, [panel]) == [panel]


def test_what_is_drawn_beside_the_panels_is_an_island() -> None:
    """By hand: two panels, something dark and round half as large as one, and a note."""
    field = np.full((600, 800), 92.0)
    y, x = np.mgrid[:600, :800]
    field[(y - 440) ** 2 + (x - 200) ** 2 < 95**2] = 40.0
    field[560:566, 300:420] = 30.0
    field[80:300, 80:360] = 30.0
    field[80:300, 440:720] = 50.0
    frame, panels = _drawn(field, (80, 80, 360, 300), (440, 80, 720, 300))
    (island,) = islands(frame, panels)
    np.testing.assert_allclose(np.array(island) * frame.scale, (105, 345, 295, 535), atol=12)
    # On paper that goes on to the border of the photo, or is another panel's own, there is none.
    field[340:540, 100:300] = 92.0
    assert islands(*_drawn(field, (80, 80, 360, 300), (440, 80, 720, 300))) == []


@pytest.mark.parametrize("tone", [40.0, pytest.param(77.0, id="pale")])
def test_beside_an_island_no_panel_is_sure_and_its_corners_are_asked_for(tone: float) -> None:
    field = np.full((600, 800), 92.0)
    y, x = np.mgrid[:600, :800]
    field[80:300, 80:360] = 30.0
    field[80:300, 440:720] = 50.0
    whole = read_sheet(png_of(field))
    assert len(whole.panels) == 2
    assert not whole.doubtful
    assert min(panel.confidence for panel in whole.panels) >= 0.85
    field[(y - 440) ** 2 + (x - 200) ** 2 < 95**2] = tone
    sheet = read_sheet(png_of(field))
    assert len(sheet.panels) == 2
    assert max(panel.confidence for panel in sheet.panels) < 0.85
    assert sheet.need_corners.startswith("One more panel was seen")
    (about,) = sheet.doubtful
    np.testing.assert_allclose([about[0], about[2]], [(105, 345), (295, 535)], atol=16)
    # Who says how many panels there are is believed.
    assert not read_sheet(png_of(field), layout=(1, 2)).doubtful


def test_a_side_that_is_not_seen_is_told_by_two_others_on_its_line() -> None:
    """By hand: a column of three panels, the right side of the last one bare."""
    field = np.full((700, 500), 92.0)
    for top in (60, 260, 460):
        field[top : top + 160, 100:400] = 40.0
    field[460:620, 240:400] = np.linspace(40, 92, 160)
    boxes = ((100, 60, 400, 220), (100, 260, 400, 420), (100, 460, 400, 620))
    frame, panels = _drawn(field, *boxes)
    panels[2] = replace(panels[2], support=(1.0, 0.7, 0.0, 0.7))
    found, grid = in_grid(frame, panels, None)
    assert grid == (3, 1)
    assert panels[2].confidence < 0.31
    assert 0.4 < found[2].confidence < 0.85
    alone, _ = in_grid(frame, [panels[0], panels[2]], None)
    assert alone[1].support[2] == 0.0


@pytest.mark.parametrize(("side", "several"), [(700, False), (250, True)])
def test_a_sheet_that_fills_the_photo_is_looked_at_once(
    side: int, several: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By hand: four dark panels on a sheet of paper that is as large as the photo, or a third of it."""
    looks = []
    monkeypatch.setattr(finding, "look_at", lambda *given: looks.append(look_at(*given)) or looks[-1])
    field = np.full((750, 1000), 55.0)
    left, top = (1000 - side) // 2, (750 - side) // 2
    field[top : top + side, left : left + side] = 93.0
    for row in (0.1, 0.55):
        for column in (0.1, 0.55):
            y, x = top + round(row * side), left + round(column * side)
            field[y : y + round(0.35 * side), x : x + round(0.35 * side)] = 25.0
    sheet = read_sheet(png_of(field))
    assert sheet.layout == (2, 2)
    assert (len(looks) > 1) == several


def _drawn(field: np.ndarray, *boxes: tuple[int, int, int, int]) -> tuple[Frame, list[Rectangle]]:
    """A field of L* seen square on, and rectangles round some parts of it, all of whose sides are seen."""
    rgb = np.asarray(Image.open(io.BytesIO(png_of(field))).convert("RGB"))
    frame = square_on(View(rgb, (rgb.shape[1], rgb.shape[0])), np.eye(3))
    gutter = (float(np.percentile(field, 95)), 0.0, 0.0)
    return frame, [
        Rectangle((a / frame.scale, b / frame.scale, c / frame.scale, d / frame.scale), (1.0,) * 4, gutter, 1.0)
        for a, b, c, d in boxes
    ]


def test_a_panel_in_doubt_is_not_cut_but_its_corners_are_told(
    photos: list[tuple[MadePhoto, Sheet]], monkeypatch: pytest.MonkeyPatch
) -> None:
    made, whole = photos[0]

    def one_in_doubt(*given: Any) -> Any:
        found = find_panels(*given)
        assert found is not None
        return replace(found, chosen=[*found.chosen[:-1], replace(found.chosen[-1], trust=0.1)])

    monkeypatch.setattr(reader, "find_panels", one_in_doubt)
    sheet = read_sheet(made.jpeg)
    assert [panel.corners for panel in sheet.panels] == [panel.corners for panel in whole.panels[:-1]]
    # Where its sides run is followed only when it is cut.
    assert np.abs(np.array(sheet.doubtful) - [whole.panels[-1].corners]).max() < 2
    assert sheet.need_corners.startswith("One more panel was seen")
    assert sheet.need_corners in sheet.notes
    assert sheet.layout is None
    corners = [panel.corners for panel in sheet.panels] + list(sheet.doubtful)
    assert len(read_sheet(made.jpeg, corners=corners).panels) == len(whole.panels)


PAPER = (0.0, 0.0, 0.0)
ALL_SEEN = (1.0, 1.0, 1.0, 1.0)


@pytest.mark.parametrize(
    ("seen", "others", "drawn_out"), [(0.6, 200.0, True), (1.0, 200.0, False), (0.6, 120.0, False)]
)
def test_a_panel_with_a_bare_end_is_drawn_out_to_the_size_of_the_others(
    seen: float, others: float, drawn_out: bool
) -> None:
    # Common practice: the panels of one sheet are measured or taped alike. One is white at its top.
    frame = square_on(View(np.full((600, 700, 3), 240, np.uint8), (700, 600)), np.eye(3))
    whole = [Rectangle((60.0, top, 300.0, top + others), ALL_SEEN, PAPER, 1.0) for top in (50.0, 300.0)]
    short = Rectangle((360.0, 130.0, 600.0, 250.0), (1.0, seen, 1.0, 1.0), PAPER, 1.0)
    found = as_large_as_others(frame, [*whole, short])
    assert found[:2] == whole
    assert found[2].box == ((360.0, 50.0, 600.0, 250.0) if drawn_out else short.box)
    assert (found[2].confidence <= 0.6) == drawn_out


def test_a_panel_is_not_drawn_out_over_another_one() -> None:
    frame = square_on(View(np.full((600, 700, 3), 240, np.uint8), (700, 600)), np.eye(3))
    whole = [Rectangle((left, 300.0, left + 240, 500.0), ALL_SEEN, PAPER, 1.0) for left in (60.0, 360.0)]
    above = Rectangle((60.0, 60.0, 300.0, 150.0), ALL_SEEN, PAPER, 1.0)
    short = Rectangle((60.0, 170.0, 300.0, 290.0), (1.0, 0.5, 1.0, 1.0), PAPER, 1.0)
    assert as_large_as_others(frame, [*whole, above, short])[3] == short


def test_a_homography_is_found_from_four_points() -> None:
    true = np.array([[1.1, 0.2, 30.0], [-0.1, 0.9, 12.0], [2e-4, -1e-4, 1.0]])
    points = np.array([[0, 0], [400, 10], [390, 300], [-5, 280]], dtype=float)
    np.testing.assert_allclose(homography(points, transform(true, points)), true, atol=1e-8)


@pytest.mark.parametrize("lens", [0.7, 0.82, 1.0])
@pytest.mark.parametrize("way", [0.0, 30.0, 45.0, 90.0])
@pytest.mark.parametrize("slant", [5.0, 20.0, 35.0])
def test_the_proportion_of_a_slanted_a4_sheet_is_the_square_root_of_two(slant: float, way: float, lens: float) -> None:
    """ISO 216: A4 is 210 x 297 mm. The photo is made by the pinhole camera equation; the sheet is turned about an axis
    in its plane (Rodrigues 1840) by a slant. With another lens than a telephone's it is known less well."""
    photo = _a4_at(slant, way, lens)
    close = 0.005 if lens == 0.82 else 0.06
    assert proportion(photo, (1600, 1200)) == pytest.approx(np.sqrt(2), rel=close)


def test_a_longer_lens_is_told_by_a_sheet_that_slants_to_both_sides() -> None:
    """Taken for the usual lens, the sheet would come out 5.4 % too narrow."""
    assert proportion(_a4_at(35, 60, 1.3), (1600, 1200)) == pytest.approx(np.sqrt(2), rel=0.035)


def _a4_at(slant: float, way: float, lens: float) -> NDArray[np.float64]:
    """(4, 2) corners of an A4 sheet in a photo of 1600 x 1200, seen with a lens of so many of its longer sides."""
    flat = np.array([[-1.485, -1.05, 0], [1.485, -1.05, 0], [1.485, 1.05, 0], [-1.485, 1.05, 0]])
    angle, to = np.radians(slant), np.radians(way)
    axis = np.array([np.cos(to), np.sin(to), 0.0])
    along = (flat @ axis)[:, None] * axis
    turned = along + (flat - along) * np.cos(angle) + np.cross(axis, flat) * np.sin(angle) + [0, 0, 6 * lens / 0.82]
    return np.asarray(turned[:, :2] / turned[:, 2:] * lens * 1600 + [800, 600])


@pytest.mark.parametrize("difficulty", ["easy", "medium", "hard"])
def test_panels_have_the_format_they_were_drawn_in(difficulty: Difficulty) -> None:
    """A photo as the camera took it; each panel by itself would tell its format less well."""
    made = make_photo(1, difficulty, plain=True, cut=False)
    pairs = compare(made, read_sheet(made.jpeg)).pairs
    assert len(pairs) == len(made.panels)
    for panel, seen in pairs:
        height, width = seen.rgb.shape[:2]
        assert width / height == pytest.approx(panel.proportion, rel=0.03)


def test_overlap_of_quadrilaterals() -> None:
    square = np.array([[0, 0], [2, 0], [2, 2], [0, 2]], dtype=float)
    assert overlap(square, square) == pytest.approx(1.0)
    assert overlap(square, square + np.array([1, 0])) == pytest.approx(1 / 3)
    assert overlap(square, square + np.array([1, 1])) == pytest.approx(1 / 7)
    assert overlap(square, square + np.array([3, 0])) == 0.0


def test_corners_are_put_clockwise_from_the_top_left() -> None:
    square = np.array([[10, 10], [90, 12], [88, 70], [8, 72]], dtype=float)
    for mixed in (square[::-1], square[[2, 0, 3, 1]], np.roll(square, 2, axis=0)):
        np.testing.assert_array_equal(in_order(mixed), square)
    assert area(square) > 0


def test_reading_order_goes_row_by_row() -> None:
    boxes = [(60.0, 2.0, 100.0, 40.0), (0.0, 50.0, 40.0, 90.0), (0.0, 0.0, 40.0, 42.0), (60.0, 52.0, 100.0, 90.0)]
    assert reading_order(boxes) == ([2, 0, 1, 3], (2, 2))
    assert reading_order(boxes[:3]) == ([2, 0, 1], None)
    assert reading_order([]) == ([], None)


@pytest.mark.parametrize("layout", [(2, 2), (2, 3), (3, 2)])
def test_panels_come_row_by_row_however_the_photo_is_turned(layout: tuple[int, int]) -> None:
    """By hand: each panel has an L* of its own, so that its place in the order is told by its tone."""
    rows, columns = layout
    tones = np.random.default_rng(1).permutation(np.linspace(28, 76, rows * columns)).reshape(layout)
    field = np.full((30 + rows * 150, 30 + columns * 170), 95.0)
    for (row, column), tone in np.ndenumerate(tones):
        field[30 + row * 150 : 150 + row * 150, 30 + column * 170 : 170 + column * 170] = tone
    for quarters in range(4):
        sheet = read_sheet(png_of(np.rot90(field, quarters)))
        assert sheet.layout == (layout if quarters % 2 == 0 else layout[::-1])
        seen = [float(np.median(srgb_lightness(panel.rgb))) for panel in sheet.panels]
        np.testing.assert_allclose(seen, np.rot90(tones, quarters).ravel(), atol=2.0)


def test_a_cell_missing_from_a_grid_is_told_by_the_others() -> None:
    boxes = [(0.0, 0.0, 40.0, 40.0), (60.0, 0.0, 100.0, 40.0), (0.0, 50.0, 40.0, 90.0)]
    assert missing_cells(boxes) == [(60.0, 50.0, 100.0, 90.0)]
    # Unequal panels stand in no grid, and nothing is missing.
    assert missing_cells([(0.0, 0.0, 70.0, 40.0), (60.0, 50.0, 100.0, 90.0), (0.0, 50.0, 40.0, 90.0)]) == []
