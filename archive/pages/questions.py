"""Questions to the tables that teach: each a stored query of Datasette, to be read, run, changed and taken further."""

from __future__ import annotations

from typing import Any

_SEEN = "works.work, works.thumb, works.map3, works.title, works.artist, works.date"
_FROM = "from works join measures using (work)"
_ORDER = "limit 60"


def questions() -> dict[str, dict[str, Any]]:
    """The stored queries of the archive's database, as Datasette's configuration has them."""
    return {
        "more_than_half_dark_one_light_mass": {
            "title": ("More than half dark, and one light mass"),
            "description": (
                "The plainest way to lead the eye: one light shape in the dark. See where the light stands, and how "
                "small it may be and still hold the picture."
            ),
            "sql": f"select {_SEEN}, dark, light, round(light_x, 2) as light_across, round(light_y, 2) as light_down\n"
            f"{_FROM}\nwhere dark > 0.5 and light_masses = 1\norder by dark desc {_ORDER}",
        },
        "light_with_few_darks": {
            "title": ("More than half light, with few dark accents"),
            "description": (
                "The contrary: a light field that a few darks hold together. Count the darks and see how far apart "
                "they stand."
            ),
            "sql": f"select {_SEEN}, light, dark, dark_masses\n{_FROM}\n"
            f"where light > 0.5 and dark < 0.15 and dark_masses between 1 and 3\norder by light desc {_ORDER}",
        },
        "little_between_light_and_dark": {
            "title": ("Light and dark, and little between"),
            "description": (
                "Where the middle is left out, shapes must tell everything. Good to copy in two values, with ink or "
                "cut paper."
            ),
            "sql": f"select {_SEEN}, light, mid, dark\n{_FROM}\n"
            f"where mid < 0.3 and light > 0.15 and dark > 0.15\norder by mid {_ORDER}",
        },
        "registers_and_scales": {
            "title": ("How many works keep to which register and scale"),
            "description": (
                "Register: whether the tones lie high, in the middle or low. Scale: whether they use much or little of "
                "the way from white to black (Harrison 1909). Most painters do not use all of it."
            ),
            "sql": "select register, scale, count(*) as works, round(avg(median_lightness), 1) as mean_lightness,\n"
            "  round(avg(lightness_span), 1) as mean_span\nfrom measures\ngroup by register, scale\n"
            "order by works desc",
        },
        "whole_pictures_in_a_narrow_scale": {
            "title": ("Whole pictures in a narrow scale"),
            "description": (
                "The least way from the lightest to the darkest tone. How can a picture be clear with so little?"
            ),
            "sql": f"select {_SEEN}, register, round(lightness_span, 1) as lightness_span,\n"
            f"  value_name(median_lightness) as mostly\n{_FROM}\nwhere values_present > 1\n"
            f"order by lightness_span {_ORDER}",
        },
        "interchange": {
            "title": ("Light against dark here, dark against light there"),
            "description": (
                "Interchange (Ruskin 1857): a light shape stands on dark, and where the ground turns light the shape "
                "turns dark."
            ),
            "sql": f"select {_SEEN}, round(interchange, 2) as interchange, work_types.degree\n{_FROM}\n"
            "join work_types using (work)\nwhere work_types.type = 'interchange'\n"
            f"order by work_types.degree desc, measures.interchange desc {_ORDER}",
        },
        "centuries": {
            "title": ("Light, middle and dark through the centuries"),
            "description": (
                "The mean shares of the works that are here, century by century. A few works more or less change it: "
                "see how many there are before you believe it."
            ),
            "sql": "select century, count(*) as works, round(avg(light), 2) as light, round(avg(mid), 2) as middle,\n"
            "  round(avg(dark), 2) as dark, round(avg(light_masses), 1) as light_masses,\n"
            "  round(avg(dark_masses), 1) as dark_masses\nfrom works join measures using (work)\n"
            "where century is not null\ngroup by century order by century",
        },
        "habits_of_a_painter": {
            "title": ("The habits of one painter"),
            "description": ("Write a name, or a part of one: the works with their proportions and their pattern."),
            "sql": f"select {_SEEN}, light, mid, dark, register, scale, words(work) as pattern\n{_FROM}\n"
            f"where artist like '%' || :artist || '%' and :artist <> ''\norder by begin_year {_ORDER}",
        },
        "two_works": {
            "title": ("Two works, compared in words"),
            "description": (
                "Write the names of two works, as in the column “work” of any table. Likeness runs from 0 to 1 and "
                "measures the pattern alone."
            ),
            "sql": "select :work as work, words(:work) as pattern, built_of(:work) as masses,\n"
            "  :other as other, words(:other) as pattern_of_other, built_of(:other) as masses_of_other,\n"
            "  likeness(:work, :other) as likeness",
        },
        "kin_within_its_arrangement": {
            "title": ("The nearest kin of a work within its arrangement"),
            "description": (
                "Write the name of a work: forty works of the same arrangement, those like it first. The page of the "
                "work looks through all works, and through parts of them too."
            ),
            "sql": f"with kin as (\n  select work from works\n  where arrangement = "
            "(select arrangement from works where work = :work) and work <> :work\n"
            f"  order by degree desc limit 40\n)\nselect {_SEEN}, likeness(:work, works.work) as likeness\n"
            "from kin join works using (work)\norder by likeness desc",
        },
    }
