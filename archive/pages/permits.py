"""What people may do here, asked through Datasette's own actions and permissions."""

from __future__ import annotations

from typing import Any

from archive.modes import ACTIONS, BOARDS, KEEP, KIOSK, LEAVES, SHOW, House, is_teacher
from archive.pages.language import later, say
from archive.pages.room import room_of

_TABLES = ("execute-sql", "view-database-download")
"""What Datasette lets everybody do, and a mode may not."""


_ONLY_LOOKED_AT = {
    SHOW: later("This screen is for looking alone; pictures cannot be shown to it."),
    KEEP: later("This screen is for looking alone; no studies are kept here."),
    BOARDS: later("This screen is for looking alone; boards are not changed here."),
    LEAVES: later("This screen is for looking alone; nothing is put onto boards here."),
}
"""Why something is refused where there is nobody who may do it."""


def house_of(datasette: Any) -> House:
    """The rules of this server; those of a person alone when none were given."""
    found = getattr(datasette, "blotbook_house", None)
    return found if isinstance(found, House) else House()


def actions() -> list[Any]:
    """Our actions, for Datasette's register."""
    from datasette.permissions import Action

    return [Action(name=name, description=description) for name, description in ACTIONS.items()]


def rule(datasette: Any, actor: Any, action: str) -> Any:
    """What the mode says of an action, as Datasette wants it; None where it says nothing."""
    from datasette.permissions import PermissionSQL

    if room_of(datasette) is None:
        return None
    house = house_of(datasette)
    reason = f"mode {house.mode}"
    if action in ACTIONS:
        return PermissionSQL.allow(reason) if house.may(action, actor) else PermissionSQL.deny(reason)
    if action in _TABLES and not house.may_in_tables(action, actor):
        return PermissionSQL.deny(reason)
    return None


async def may(datasette: Any, request: Any, action: str) -> bool:
    """Whether whoever asks may do one of `archive.modes.ACTIONS`."""
    return bool(await datasette.allowed(action=action, actor=request.actor))


def all_of(datasette: Any, request: Any) -> dict[str, Any]:
    """For templates: what may be done, in which mode, and whether the teacher is signed in.

    Asked of the mode itself, which is what Datasette's permissions rest on: nothing is opened by what a template shows.
    """
    house = house_of(datasette)
    given = {action: house.may(action, request.actor) for action in ACTIONS}
    return {
        **given,
        "show": given[SHOW],
        "keep": given[KEEP],
        "boards": given[BOARDS],
        "leaves": given[LEAVES],
        "class_board": house.class_board,
        "mode": house.mode,
        "teacher": is_teacher(request.actor),
    }


def refusal(datasette: Any, action: str) -> str:
    """Why something is refused, in a sentence that is true of the mode."""
    house = house_of(datasette)
    if house.mode == KIOSK:
        return say(_ONLY_LOOKED_AT[action])
    leaves = say("Here the teacher alone puts works onto boards.")
    if house.class_board:
        leaves = say("Here works can be put onto the board of the class alone.")
    sentences = {
        SHOW: say("This screen is for looking alone; pictures cannot be shown to it."),
        KEEP: say("Here the teacher alone keeps studies and looks back on them."),
        BOARDS: say("Here the teacher alone changes boards."),
        LEAVES: leaves,
    }
    return sentences[action]
