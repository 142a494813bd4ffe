"""The process that reads one foreign score under limits: bytes come in, JSON goes out, no more.

Run by midifret/scores/parse.py as `python -m midifret.scores.child SUFFIX [TUNE]`.
"""

import json
import os
import sys
from typing import BinaryIO

from midifret.scores.faults import ScoreFault
from midifret.scores.kinds import Kind, kind_of
from midifret.scores.limits import MOST_BYTES, MOST_CPU_S, MOST_MEMORY_BYTES
from midifret.scores.written import WrittenScore, to_json


def main(arguments: list[str]) -> None:
    """Read standard input, write `{"score": ...}` or `{"fault": ...}` to standard output."""
    answer = os.fdopen(os.dup(1), "wb")
    _limit()
    # Whatever the library prints goes nowhere.
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    data = sys.stdin.buffer.read(MOST_BYTES + 1)
    tune = int(arguments[1]) if len(arguments) > 1 else None
    try:
        document = to_json(read(arguments[0], data, tune))
        _write(answer, b'{"score":' + document.encode() + b"}")
    except ScoreFault as fault:
        _fault(answer, fault.message, fault.allowed, fault.line, fault.column)
    except MemoryError:
        _fault(answer, f"reading it takes more than {MOST_MEMORY_BYTES // 1024 // 1024} MB of memory")
    except RecursionError:
        _fault(answer, "it is nested too deep to be read")
    except ModuleNotFoundError as error:
        _write(answer, json.dumps({"missing": error.name}).encode())
    except Exception as error:  # hostile bytes find ways through a library that nobody thought of
        words = " ".join(str(error).split())[:300]
        _fault(answer, f"it cannot be read ({type(error).__name__}: {words})")
    answer.flush()
    os._exit(0)


def _fault(
    answer: BinaryIO, message: str, allowed: str = "", line: int | None = None, column: int | None = None
) -> None:
    fault = {"message": message, "allowed": allowed, "line": line, "column": column}
    _write(answer, json.dumps({"fault": fault}).encode())


def _write(answer: BinaryIO, data: bytes) -> None:
    answer.write(data)


def _limit() -> None:
    """Give up memory, time, files and core dumps before the first foreign byte is read."""
    try:
        import resource
    except ImportError:  # Windows: the one who started this process watches its time
        return
    for name, most in (
        ("RLIMIT_AS", MOST_MEMORY_BYTES),
        ("RLIMIT_CPU", MOST_CPU_S),
        ("RLIMIT_FSIZE", 0),
        ("RLIMIT_CORE", 0),
    ):
        limit = getattr(resource, name, None)
        if limit is None:
            continue
        try:
            hard = resource.getrlimit(limit)[1]
            most = most if hard == resource.RLIM_INFINITY else min(most, hard)
            resource.setrlimit(limit, (most, most))
        except (ValueError, OSError):  # macOS grants no limit of memory
            continue


def read(suffix: str, data: bytes, tune: int | None = None) -> WrittenScore:
    """Read a score from bytes, in this process. Raises ScoreFault."""
    if len(data) > MOST_BYTES:
        raise ScoreFault(f"the file is larger than {MOST_BYTES // 1024 // 1024} MB", "a shorter score")
    kind = kind_of(suffix, data)
    if tune is not None and kind is not Kind.ABC:
        raise ScoreFault("a tune was asked for by its number", "an .abc file")
    if kind is Kind.MIDI:
        from midifret.scores.midi import from_midi

        return from_midi(data)
    from midifret.scores import by_music21  # some 60 MB: not for MIDI files

    if kind in (Kind.ABC, Kind.KERN):
        text = _decoded(data)
        if "\x00" in text:
            raise ScoreFault("there are zero bytes in this text")
        return by_music21.from_abc(text, tune) if kind is Kind.ABC else by_music21.from_kern(text)
    from midifret.scores.xml_safely import parse_xml, unpack

    if kind is Kind.COMPRESSED:
        data = unpack(data)
    root = parse_xml(data)
    if kind is Kind.MEI:
        return by_music21.from_mei(root)
    return by_music21.from_musicxml(root)


def _decoded(data: bytes) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")  # what older collections are written in


if __name__ == "__main__":
    main(sys.argv[1:])
