"""Printed documents into files, with clear words where that cannot be done."""

import os
import tempfile
from collections.abc import Sequence
from pathlib import Path

from midifret.pages.printer import Format
from midifret.terms import BadInput, Unavailable

ENDINGS = ("pdf", "png", "svg", "musicxml")


def ending_of(path: Path) -> str:
    """The kind of file that a name asks for: pdf, png, svg or musicxml. Raises BadInput for any other."""
    ending = path.suffix.lower().removeprefix(".")
    if ending not in ENDINGS:
        told = f"the ending {path.suffix!r}" if path.suffix else "no ending"
        raise BadInput(
            f"{path}: {told} names no kind of page", allowed=", ".join(f".{known}" for known in ENDINGS)
        )
    return ending


def format_of(path: Path) -> Format:
    """The same for a printed page: MusicXML is none. Raises BadInput."""
    ending = ending_of(path)
    if ending == "musicxml":
        raise BadInput(f"{path}: this cannot be written as MusicXML", allowed=".pdf, .png, .svg")
    return Format(ending)


def check_folder(path: Path) -> None:
    """Raise Unavailable where a file could not be written, before it is drawn."""
    folder = path.parent
    if path.is_dir():
        raise Unavailable(f"{path}: this is a folder", allowed="the name of a file to write")
    if not folder.is_dir():
        raise Unavailable(f"{path}: there is no folder {folder}", allowed="a folder that is there")
    if not os.access(folder, os.W_OK) or (path.exists() and not os.access(path, os.W_OK)):
        raise Unavailable(f"{path}: nothing may be written there", allowed="a file or folder of your own")


def check_new(path: Path) -> None:
    """Raise BadInput where a file would be overwritten."""
    if path.is_file():
        raise BadInput(f"{path}: this file is there already", allowed="another name, or --overwrite")


def write_pages(path: Path, pages: Sequence[bytes], *, overwrite: bool = True) -> tuple[Path, ...]:
    """Write one file, or one for each page with its number before the ending; return their paths.

    A file is whole or not there. Raises Unavailable where it cannot be written, BadInput where one of them is
    there already and not to be overwritten; nothing is written then.
    """
    check_folder(path)
    if len(pages) == 1:
        paths = [path]
    else:
        digits = len(str(len(pages)))
        paths = [path.with_stem(f"{path.stem}-{n:0{digits}}") for n in range(1, len(pages) + 1)]
    if not overwrite:
        for each in paths:
            check_new(each)
    for each, page in zip(paths, pages, strict=True):
        try:
            _write(each, page)
        except OSError as error:
            raise Unavailable(
                f"{each}: it cannot be written: {error.strerror}", allowed="another file, or room on the disk"
            ) from error
    return tuple(paths)


def _write(path: Path, data: bytes) -> None:
    if path.exists() and not path.is_file():  # a pipe or a device
        path.write_bytes(data)
        return
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    beside = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        beside.chmod(path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask())
        beside.replace(path)
    except OSError:
        beside.unlink(missing_ok=True)
        raise


def _umask() -> int:
    now = os.umask(0)
    os.umask(now)
    return now
