"""From a photo of a sheet to its panels, each straightened and with the light divided out."""

from ingest.sheet.reader import panel_picture, read_sheet
from ingest.sheet.sheet import Corner, Corners, Panel, Sheet, SheetError
from ingest.sheet.strips import WHITE

__all__ = ["WHITE", "Corner", "Corners", "Panel", "Sheet", "SheetError", "panel_picture", "read_sheet"]
