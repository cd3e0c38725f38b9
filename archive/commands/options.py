"""Options that several parts of the command share."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

_Function = TypeVar("_Function", bound=Callable[..., Any])


def archive_option(function: _Function) -> _Function:
    """``--archive DIR``, needed."""
    return click.option(
        "--archive",
        "archive",
        type=click.Path(file_okay=False, path_type=Path),
        metavar="DIR",
        required=True,
        help="The folder of the archive.",
    )(function)


def workers_option(function: _Function) -> _Function:
    """``--workers N``, as many as there are processors for us unless it is given."""
    return click.option(
        "--workers",
        type=click.IntRange(1, 256),
        metavar="N",
        default=processors,
        show_default="one for each processor",
        help="How many pictures are read at the same time.",
    )(function)


def port_option(function: _Function) -> _Function:
    """``--port N``."""
    return click.option(
        "--port",
        type=click.IntRange(0, 65535),
        default=8001,
        show_default=True,
        metavar="N",
        help="The port to serve at; 0 takes any that is free.",
    )(function)


def processors() -> int:
    """How many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
