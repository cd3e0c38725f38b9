"""Who may do what: alone on a laptop, in a classroom, on a screen that is there to be looked at."""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass

ALONE, CLASSROOM, KIOSK = "alone", "classroom", "kiosk"
MODES = (ALONE, CLASSROOM, KIOSK)

TEACHER = "teacher"
"""Who signs in, as Datasette names an actor."""

SHOW, KEEP, BOARDS, LEAVES = "blotbook-show", "blotbook-keep", "blotbook-boards", "blotbook-leaves"

ACTIONS = {
    SHOW: "Show pictures of one's own: studies, sheets, photos",
    KEEP: "Keep studies, look back on them and delete them",
    BOARDS: "Make boards and change them",
    LEAVES: "Put works onto the board of the class, and write notes there",
}
"""What may be allowed or not beyond looking, and what it means."""


@dataclass(frozen=True)
class House:
    """The rules of one server. class_board: id of the board that students may add to, '' for none."""

    mode: str = ALONE
    class_board: str = ""

    def may(self, action: str, actor: object) -> bool:
        """Whether an actor (a dict with an 'id', or None) may do one of `ACTIONS`."""
        if self.mode == ALONE or (self.mode == CLASSROOM and is_teacher(actor)):
            return True
        if self.mode == CLASSROOM:
            return action == SHOW or (action == LEAVES and bool(self.class_board))
        return False

    def may_in_tables(self, action: str, actor: object) -> bool:
        """Whether an actor may do what Datasette lets everybody do by itself."""
        if self.mode == ALONE or is_teacher(actor):
            return True
        if action == "execute-sql":
            return self.mode == CLASSROOM
        return action != "view-database-download"


def is_teacher(actor: object) -> bool:
    """Whether whoever asks has signed in."""
    return isinstance(actor, dict) and actor.get("id") == TEACHER


def is_loopback(host: str) -> bool:
    """Whether an address, or a name, reaches this computer alone."""
    if host.lower() == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False
