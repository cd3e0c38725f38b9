"""How each measure is computed, in a line; `docs/schema.md` and the archive's table of meanings show them.

L is the squinted picture in L*; N its pixels; the map has the values light, mid and dark; a mass is a connected shape
of one value (`ingest.masses`). x runs from 0 at the left to 1 at the right, y from 0 at the top to 1 at the bottom.
"""

from __future__ import annotations

_SIDES = ("left", "top", "right", "bottom")

FORMULAS: dict[str, str] = {
    "light": "pixels that are light / N",
    "mid": "pixels that are mid / N",
    "dark": "pixels that are dark / N",
    "register": "lower if median(L) < 40, upper if median(L) > 60, else middle",
    "scale": "limited if P95(L) - P5(L) < 40, extended if > 65, else moderate",
    "median_lightness": "median(L)",
    "lightness_span": "P95(L) - P5(L)",
    "near_median": "pixels with |L - median(L)| <= 12 / N",
    "values_present": "1 if P98(L) - P2(L) < 5; 2 if the smaller step between the means of the three values is under "
    "0.165 of the whole; else 3",
    "gap_light_mid": "mean(L over light) - mean(L over mid)",
    "gap_mid_dark": "mean(L over mid) - mean(L over dark)",
    "unsure_light": "pixels with |L - threshold of light| < 3 / N",
    "unsure_dark": "pixels with |L - threshold of dark| < 3 / N",
    "light_masses": "number of light masses with area >= 0.01 N",
    "mid_masses": "number of mid masses with area >= 0.01 N",
    "dark_masses": "number of dark masses with area >= 0.01 N",
    "breadth_light": "area of the largest light mass / area of all light",
    "breadth_mid": "area of the largest mid mass / area of all mid",
    "breadth_dark": "area of the largest dark mass / area of all dark",
    "principality_light": "area of the largest light mass / area of the second, at most 20",
    "principality_dark": "area of the largest dark mass / area of the second, at most 20",
    "interchange": "2 min(l, d), where l and d are the shares of the outline of the largest mid mass that border light "
    "and dark",
    "light_x": "mean(x over light)",
    "light_y": "mean(y over light)",
    "dark_x": "mean(x over dark)",
    "dark_y": "mean(y over dark)",
    "steelyard": "2 (dark_x - 1/2)",
    "dcm_dark": "200 sqrt((dark_x - 1/2)^2 + (dark_y - 1/2)^2)",
    "dcm_light": "200 sqrt((light_x - 1/2)^2 + (light_y - 1/2)^2)",
    "apb_dark": "mean of eight 100 |A - B| / (A + B) of the area of dark: halves about the upright, the level and both "
    "diagonals, inner and outer half about each of the four",
    "apb_light": "the same for the area of light",
    "symmetry": "mean over the upright and the level axis of 100 sum(both of a mirrored pair dark * w) / sum(w), w "
    "from 1 at the edge to 2 at the axis",
    "contrast_step": "largest, over stretches of border in the map, of max(L) - min(L) within 1 % of the diagonal",
    "contrast_x": "x of that stretch",
    "contrast_y": "y of that stretch",
    "contrast_sharpness": "across that stretch, L* unsquinted: largest step within 0.5 % of the diagonal / step over "
    "4 % (10 if that is less)",
    "crispness": "pixels of border in the map with max(L) - min(L) > 20 within 1 % of the diagonal / pixels of border",
    "gradation": "R^2 of the least-squares plane L = a + b x + c y",
    "gradation_direction": "atan2(-c, b) of that plane, 0 to 360",
    "rows_explained": "between-strip variance of L over 24 level strips / variance of L",
    "columns_explained": "between-strip variance of L over 24 upright strips / variance of L",
    "slant_explained": "the largest of the same over 24 strips at 30, 45, 60, 120, 135 and 150 degrees",
    "slant_ends": "mean(L of the last quarter) - mean(L of the first quarter) along that slant",
    "radial_explained": "between-ring variance of L over 24 rings about the centre / variance of L",
    "radial_sign": "sign of mean(L within 1/4 of the centre) - mean(L beyond 1/2)",
    "edge_light": "pixels that are light within 5 % of the shorter side from the edge / pixels there",
    "edge_dark": "pixels that are dark within 5 % of the shorter side from the edge / pixels there",
    **{f"light_{side}": f"the same along the {side} alone" for side in _SIDES},
    **{f"dark_{side}": f"the same along the {side} alone" for side in _SIDES},
}
