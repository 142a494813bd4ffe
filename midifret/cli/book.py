"""midifret book: back up, export or rebuild the practice book."""

import contextlib
import datetime as dt
import os
from collections.abc import Iterator
from pathlib import Path

import click

from midifret.cli.app import app_of
from midifret.terms import BadInput, Unavailable

_OWNER_ONLY = 0o600


@click.group("book")
def command() -> None:
    """Back up, export or rebuild the practice book."""


@command.command("backup")
@click.argument("file", type=click.Path(path_type=Path))
@click.pass_context
def backup(context: click.Context, file: Path) -> None:
    """Copy the whole book into FILE, also while it is in use."""
    with app_of(context).open_book() as book:
        book.backup(file)
    click.echo(f"The practice book is copied to {file}.")


@command.command("export")
@click.argument("file", type=click.Path(path_type=Path, allow_dash=True))
@click.option("--player", required=True, metavar="NAME", help="Whose book.")
@click.pass_context
def export(context: click.Context, file: Path, *, player: str) -> None:
    """Write a player's whole book into FILE as one JSON document, or to the terminal where FILE is -."""
    with app_of(context).open_book() as book:
        pieces = book.export(player)
        if str(file) == "-":
            for piece in pieces:
                click.echo(piece, nl=False)
            return
        _write(file, pieces)
    click.echo(f"The book of {player} is written to {file}.")


@command.command("rebuild")
@click.pass_context
def rebuild(context: click.Context) -> None:
    """Compute all summaries, and what players remember, again from the answers."""
    from midifret.cli.remembering import memory_now  # the other commands do without it

    with app_of(context).open_book() as book:
        answers = book.rebuild()
        click.echo(f"The summaries are computed again from {answers} answers.")
        now_utc = dt.datetime.now(dt.UTC)
        for player in book.players():
            memory_now(book, player.name, now_utc, say=lambda text: click.echo(f"{text}.", err=True))
    click.echo("What players remember is worked out again.")


def _write(file: Path, pieces: Iterator[str]) -> None:
    """Write a file for its owner only, whole or not at all."""
    if file.exists():
        raise BadInput(f"{file} exists already", allowed="name a new file; nothing is overwritten")
    part = file.with_name(file.name + ".part")
    try:
        os.close(os.open(part, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, _OWNER_ONLY))
        with part.open("w", encoding="utf-8") as out:
            out.writelines(pieces)
        part.replace(file)
    except OSError as error:
        raise Unavailable(
            f"{file} cannot be written ({error.strerror})",
            allowed="name a file in a folder that you may write in, on a disk with room",
        ) from None
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
