"""What can be wrong with an archive, said to people."""

from __future__ import annotations


class ArchiveError(Exception):
    """Something is wrong with an archive or with what was asked of it; the message is one clear sentence."""
