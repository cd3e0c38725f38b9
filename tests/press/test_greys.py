"""The greys that are printed, rendered by another program and measured by another library."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from numpy.typing import NDArray
from press.pdf_reading import Drawn, needs_pdftoppm, opened, rectangles, rendered, squeezed

from archive.press import grey_steps, practice
from archive.press.paper import Printed
from ingest.value_map import MAP_LIGHTNESS

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour


def lightness(rgb: NDArray[np.uint8]) -> float:
    """CIE L* of an sRGB colour, as colour-science has it (IEC 61966-2-1 and CIE 015)."""
    xyz = colour.sRGB_to_XYZ(np.asarray(rgb, dtype=float) / 255)
    return float(colour.XYZ_to_Lab(xyz, colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"])[0])


def middle(page: NDArray[np.uint8], patch: Drawn, dpi: int) -> NDArray[np.uint8]:
    mm = dpi / 25.4
    return page[round((patch.y + patch.height / 2) * mm), round((patch.x + patch.width / 2) * mm)]


@needs_pdftoppm
def test_each_step_is_as_light_as_is_said(on_paper: Printed) -> None:
    number = len(opened(on_paper.content).pages)
    page = opened(on_paper.content).pages[number - 1]
    steps = [each for each in rectangles(page, filled=True) if each.height == pytest.approx(15, abs=0.05)]
    pixels = rendered(on_paper.content, number, 100)
    found = [lightness(middle(pixels, step, 100)) for step in steps]
    assert found == pytest.approx([0, 10, 20, 30, 40, 50, 60, 70, 80, 90, 100], abs=1.0)
    assert squeezed("0 10 20 30 40 50 60 70 80 90 100") in squeezed(page.extract_text())


@needs_pdftoppm
def test_the_greys_of_the_maps_are_as_light_as_is_said(on_paper: Printed) -> None:
    number = len(opened(on_paper.content).pages)
    page = opened(on_paper.content).pages[number - 1]
    marked = [each for each in rectangles(page, filled=True) if each.height == pytest.approx(4.6, abs=0.05)]
    pixels = rendered(on_paper.content, number, 100)
    wanted = [tone for values in (2, 3, 5) for tone in MAP_LIGHTNESS[values]]
    assert [lightness(middle(pixels, patch, 100)) for patch in marked] == pytest.approx(wanted, abs=1.0)
    for tone in wanted:
        assert grey_steps.said(tone) in page.extract_text()


@needs_pdftoppm
def test_the_scale_of_a_practice_sheet_is_as_light_as_is_said() -> None:
    content = practice.sheet()
    page = opened(content).pages[0]
    scale = [each for each in rectangles(page, filled=True) if each.height == pytest.approx(7, abs=0.05)]
    pixels = rendered(content, 1, 100)
    assert [lightness(middle(pixels, patch, 100)) for patch in scale] == pytest.approx(MAP_LIGHTNESS[5], abs=1.0)


def test_greys_are_written_without_hue(on_paper: Printed) -> None:
    # DeviceGray operators alone: a grey in three inks takes a tint on most printers (common practice).
    for page in opened(on_paper.content).pages:
        operators = page.get_contents().get_data().split()
        assert b"rg" not in operators
        assert b"RG" not in operators
        assert b"k" not in operators


@pytest.mark.parametrize("tone", [*grey_steps.STEPS, *MAP_LIGHTNESS[5]])
def test_the_nearest_code_is_within_a_quarter_of_what_is_said(tone: float) -> None:
    code = round(grey_steps.printed_lightness(tone), 2)
    assert code == pytest.approx(tone, abs=0.25)
    assert float(grey_steps.said(tone)) == pytest.approx(code, abs=0.3)
