"""Arrangements persist by the works they share, and what changed is said."""

from __future__ import annotations

from archive.arrangement_changes import Members, changes, inherit

OLD = {
    3: Members("bands", "level bands", frozenset("abcdef")),
    7: Members("wings", "light between dark wings", frozenset("ghij")),
}


def test_a_group_with_most_works_in_common_keeps_number_slug_and_name() -> None:
    titles = inherit(
        OLD, [("other", "other words"), ("slant", "slanting division")], [frozenset("ghik"), frozenset("xyz")]
    )
    assert titles[0] == (7, "wings", "light between dark wings")
    assert titles[1] == (8, "slant", "slanting division")


def test_half_in_common_is_enough_and_less_is_not() -> None:
    assert inherit(OLD, [("new", "new")], [frozenset("abcdefuvwxyz")])[0].number == 3
    assert inherit(OLD, [("new", "new")], [frozenset("abcdefuvwxyz0")])[0].number == 8


def test_an_old_group_lives_on_in_one_new_group_only() -> None:
    titles = inherit(OLD, [("one", "one"), ("two", "two")], [frozenset("abcd"), frozenset("ef")])
    assert [title.slug for title in titles] == ["bands", "two"]


def test_a_name_that_is_kept_is_not_given_again() -> None:
    titles = inherit(OLD, [("bands", "level bands"), ("bands", "level bands")], [frozenset("xyz"), frozenset("abcdef")])
    assert titles[0] == (8, "bands-2", "level bands 2")
    assert titles[1] == (3, "bands", "level bands")


def test_what_changed_is_said_and_what_did_not_is_not() -> None:
    has = {
        3: Members("bands", "level bands", frozenset("abcdeg")),
        9: Members("slant", "slanting division", frozenset("h")),
    }
    assert changes(OLD, has) == [
        "“level bands” has 6 works: 1 came, 1 went.",
        "“slanting division” is new, with 1 work.",
        "“light between dark wings” is gone.",
    ]
    assert changes(OLD, OLD) == []
