"""Files that a part of the command writes: under a name that fits, and not over another without a word."""

from __future__ import annotations

from pathlib import Path

import click

_OTHERS = frozenset(
    {"pdf", "html", "htm", "png", "jpg", "jpeg", "webp", "gif", "tif", "tiff", "svg", "json", "csv", "tsv", "txt", "md",
     "zip", "doc", "docx", "odt", "rtf", "xls", "xlsx", "ods", "ppt", "pptx", "odp"}
)  # fmt: skip
"""Endings that say what a file is. Any other may be part of a name, as in 'lesson.2'."""

_ALIKE = {"htm": "html"}


def check_ending(file: Path, ending: str, advice: str = "") -> None:
    """Raise `click.UsageError` when the name of a file says that it is something else than it will be.

    ``ending``: what the name should end in, without a dot. ``advice``: what else could have been meant.
    """
    given = file.suffix[1:].lower()
    if given in _OTHERS and _ALIKE.get(given, given) != ending:
        message = f"What is written is {ending.upper()}, so '{file.name}' should end in .{ending}{advice}."
        raise click.UsageError(message)


def write_file(file: Path, content: bytes) -> None:
    """Write it, and say so when it takes the place of another."""
    replaced = file.is_file()
    file.write_bytes(content)
    if replaced:
        click.echo(f"Note: {file} was there already and was replaced.", err=True)
