"""XML of strangers: no entities, no depth, no numbers beyond the limits; every fault with line and column."""

import io
import xml.etree.ElementTree as ElementTree
import zipfile
from pathlib import PurePosixPath
from xml.etree.ElementTree import Element
from xml.parsers import expat

from midifret.scores.faults import ScoreFault
from midifret.scores.limits import MOST_BYTES, MOST_DEPTH, MOST_ENTRIES, MOST_NOTES

_NOTES = {"note", "mRest", "space"}


def parse_xml(data: bytes) -> Element:
    """Parse a document, after looking it over without building anything.

    Raises ScoreFault for XML that is broken, declares entities, is too deep or holds too many notes.
    """
    _look_over(data)
    try:
        return ElementTree.fromstring(data)
    except (ElementTree.ParseError, ValueError, LookupError) as error:
        raise ScoreFault(f"this is not XML that can be read ({error})") from None


def _look_over(data: bytes) -> None:
    parser = expat.ParserCreate(namespace_separator=" ")
    depth = notes = 0

    def entity(name: str, *_: object) -> None:
        raise ScoreFault(
            f"the file declares the entity {name!r}",
            "XML without entities of its own",
            line=parser.CurrentLineNumber,
            column=parser.CurrentColumnNumber + 1,
        )

    def begin(name: str, _: object) -> None:
        nonlocal depth, notes
        depth += 1
        if depth > MOST_DEPTH:
            raise ScoreFault(
                f"elements lie more than {MOST_DEPTH} deep in one another",
                line=parser.CurrentLineNumber,
                column=parser.CurrentColumnNumber + 1,
            )
        if name.rpartition(" ")[2] in _NOTES:
            notes += 1
            if notes > MOST_NOTES:
                raise ScoreFault(
                    f"the file holds more than {MOST_NOTES:,} notes and rests", "a shorter score"
                )

    def end(_: str) -> None:
        nonlocal depth
        depth -= 1

    parser.EntityDeclHandler = entity
    parser.StartElementHandler = begin
    parser.EndElementHandler = end
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        said = expat.errors.messages.get(error.code, "not well-formed")
        if said.startswith("not well-formed") and not _is_utf8(data):
            said = "bytes that are not UTF-8, which it says or is taken to be"
        raise ScoreFault(f"broken XML: {said}", line=error.lineno, column=error.offset + 1) from None
    except (ValueError, LookupError) as error:
        raise ScoreFault(f"broken XML: {error}") from None


def _is_utf8(data: bytes) -> bool:
    """Whether bytes can be UTF-8; those that name another encoding are left to the parser."""
    head = data[:200].lower()
    if head.startswith((b"\xff\xfe", b"\xfe\xff")) or (b"encoding" in head and b"utf-8" not in head):
        return True
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def unpack(data: bytes) -> bytes:
    """Return the score in a compressed MusicXML file; nothing is written anywhere.

    The container names it (MusicXML 4.0, Compressed .mxl files). Raises ScoreFault for anything that is not
    such a file, is damaged or encrypted, or unpacks to more than the limits.
    """
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
        names = archive.namelist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as error:
        raise ScoreFault(f"this is not a compressed score that can be opened ({error})") from None
    if len(names) > MOST_ENTRIES:
        raise ScoreFault(f"{len(names):,} files lie in the compressed score", f"at most {MOST_ENTRIES}")
    if "META-INF/container.xml" in names:
        container = parse_xml(_entry(archive, "META-INF/container.xml"))
        roots = [e.get("full-path", "") for e in container.iter() if e.tag.rpartition("}")[2] == "rootfile"]
        if not roots:
            raise ScoreFault("META-INF/container.xml names no score", "a rootfile with its full-path")
        name = roots[0]
    else:
        scores = [n for n in names if n.endswith((".xml", ".musicxml")) and not n.startswith("META-INF/")]
        if len(scores) != 1:
            raise ScoreFault("no META-INF/container.xml says which file in it is the score")
        name = scores[0]
    path = PurePosixPath(name)
    if path.is_absolute() or ".." in path.parts or "\\" in name or ":" in name:
        raise ScoreFault(f"the compressed score points outside itself: {name!r}", "a path within the file")
    if name not in names:
        raise ScoreFault(f"the compressed score names {name!r}, which is not in it")
    return _entry(archive, name)


def _entry(archive: zipfile.ZipFile, name: str) -> bytes:
    try:
        with archive.open(name) as stream:
            data = stream.read(MOST_BYTES + 1)
    except (zipfile.BadZipFile, OSError, EOFError, RuntimeError, NotImplementedError, ValueError) as error:
        raise ScoreFault(f"{name!r} in the compressed score cannot be unpacked ({error})") from None
    except Exception as error:  # the decompressors raise errors of their own kinds (zlib.error, LZMAError)
        raise ScoreFault(f"{name!r} in the compressed score is damaged ({error})") from None
    if len(data) > MOST_BYTES:
        raise ScoreFault(
            f"{name!r} in the compressed score unpacks to more than {MOST_BYTES // 1024 // 1024} MB"
        )
    return data
