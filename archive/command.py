"""The command ``blotbook``: one group, and a module of `archive.commands` for each of its parts.

Nothing heavy is imported here or there until a part runs, so that help comes at once.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from typing import Any

import click

from archive.commands.arrange import arrange
from archive.commands.board import board
from archive.commands.compare import compare
from archive.commands.demo import demo
from archive.commands.gather import gather
from archive.commands.ingest import ingest
from archive.commands.match import match
from archive.commands.pack import pack, unpack
from archive.commands.panels import panels
from archive.commands.practice import practice
from archive.commands.read import read
from archive.commands.serve import serve
from archive.commands.verify import verify
from archive.commands.withdraw import withdraw

# Matching is many small products: threads of the algebra library cost it more than they save, and on a busy computer
# many times more. Set before NumPy is loaded, which happens only when a part runs.
for _library in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_library, "1")

WRONG_USE = 2
FAILURE = 1


class Blotbook(click.Group):
    """The group; it says every error in one sentence and keeps Python's own account of it to itself.

    Exit codes: 0 for done, 1 for failure, 2 for wrong use.  With ``BLOTBOOK_TRACEBACK`` set in the
    environment, errors are raised as they are.
    """

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        **extra: Any,
    ) -> Any:
        """Run the command; leaves by SystemExit unless ``standalone_mode`` is off."""
        if not standalone_mode:
            return super().main(args, prog_name, complete_var, standalone_mode=False, **extra)
        try:
            code = super().main(args, prog_name, complete_var, standalone_mode=False, **extra)
        except click.UsageError as error:
            path = error.ctx.command_path if error.ctx else "blotbook"
            _say(f"{error.format_message()} '{path} --help' tells more.")
            code = WRONG_USE
        except click.ClickException as error:
            _say(error.format_message())
            code = error.exit_code
        except (click.Abort, KeyboardInterrupt):
            _say("Stopped.")
            code = FAILURE
        except BrokenPipeError:
            # Whoever read our output has enough of it; Python must not try to write the rest when it ends.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            code = FAILURE
        except Exception as error:
            if os.environ.get("BLOTBOOK_TRACEBACK"):
                raise
            _say(_sentence(error))
            code = FAILURE
        sys.exit(code if isinstance(code, int) else 0)


def _sentence(error: Exception) -> str:
    import sqlite3

    from archive.errors import ANEW, ArchiveError, is_damage
    from archive.serving import ServingError
    from ingest.collections.source import CollectionProblem
    from ingest.gather_journal_file import JournalProblem
    from ingest.provenance import UnreadableRecords

    if isinstance(error, (ArchiveError, CollectionProblem, JournalProblem, ServingError, UnreadableRecords)):
        return str(error)
    if isinstance(error, sqlite3.Error) and is_damage(error):
        return f"The database of the archive is damaged ({error}); 'blotbook verify' tells more. As a way out, {ANEW}."
    if isinstance(error, OSError) and error.strerror:
        return f"{error.strerror}: {error.filename}." if error.filename else f"{error.strerror}."
    fault = f"{type(error).__name__}: {error}".strip(": ")
    return f"A fault in Blotbook stopped it ({fault}); with BLOTBOOK_TRACEBACK=1 set, it says where."


def _say(sentence: str) -> None:
    click.echo(f"blotbook: {sentence}", err=True)


@click.group(
    cls=Blotbook,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 96},
)
@click.version_option(package_name="blotbook", message="%(package)s %(version)s")
@click.pass_context
def main(context: click.Context) -> None:
    """Find the great paintings that are built like a study of yours.

    Blotbook reads paintings as a painter squints at them: tone alone, detail gone, the shapes of light,
    middle and dark kept crisp. It keeps them in an archive, groups those that are laid out alike, and finds
    the works, or the parts of works, that are built like a small tonal study.

    Begin with 'blotbook demo', which makes an archive of the paintings that come with Blotbook and shows it
    in your browser.
    """
    if context.invoked_subcommand is None:
        click.echo(context.get_help())


for _part in (
    demo,
    gather,
    ingest,
    match,
    compare,
    read,
    panels,
    arrange,
    board,
    practice,
    serve,
    verify,
    withdraw,
    pack,
    unpack,
):
    main.add_command(_part)
