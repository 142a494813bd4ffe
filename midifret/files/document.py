"""YAML read safely: plain values only, every value with its line and column, and limits on size and depth."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML, events
from ruamel.yaml.error import MarkedYAMLError, YAMLError

from midifret.terms import BadInput, Problem

# A long drill with a hundred places has some 3 kB and 300 values. The limits leave room for far more and
# still keep a hostile file from costing more than a moment.
MOST_BYTES = 256 * 1024
MOST_VALUES = 20_000
MOST_DEPTH = 24

Path_ = tuple[str | int, ...]
Scalar = str | int | float | bool | None

# The core schema of YAML 1.2.2, chapter 10.3: nothing else is a number, a truth value or empty, so that
# 6:5, off, no and 1_0 stay the texts that were typed.
_NULL = re.compile(r"(null|Null|NULL|~|)\Z")
_BOOL = {"true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False}
_INT = re.compile(r"[-+]?[0-9]+\Z")
_OCTAL_OR_HEX = re.compile(r"0(o[0-7]+|x[0-9a-fA-F]+)\Z")
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?\Z")
_PLAIN_TAGS = {f"tag:yaml.org,2002:{name}" for name in ("str", "int", "float", "bool", "null", "seq", "map")}
# What YAML calls printable (1.2.2, production 1), as far as it concerns text files.
_UNPRINTABLE = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_LONGEST_NUMBER = 40


@dataclass(slots=True)
class Node:
    """One value of a file.

    value: a scalar, a list of nodes, or a dict of nodes by key. line, column: where it begins, from 1.
    keys: where each key of a dict begins. size: how many values it holds, aliases counted each time.
    """

    value: "Scalar | list[Node] | dict[str, Node]"
    line: int
    column: int
    keys: dict[str, tuple[int, int]] = field(default_factory=dict)
    size: int = 1

    def plain(self) -> Any:
        """Return the value with nothing but Python's own types."""
        if isinstance(self.value, list):
            return [node.plain() for node in self.value]
        if isinstance(self.value, dict):
            return {key: node.plain() for key, node in self.value.items()}
        return self.value


@dataclass(frozen=True, slots=True)
class Document:
    """One YAML file that was read. file: its path as the person gave it."""

    file: str
    root: Node

    def where(self, path: Path_, *, at_key: bool = False) -> tuple[int, int]:
        """Line and column of the value at a path of keys and indexes, or of the nearest one above it.

        An index where the file has a single value instead of a list means that value; a key where it has
        a list instead of a group means that list.
        at_key: where the last key begins, not its value.
        """
        node, key_at = self.root, None
        for step in path:
            if isinstance(node.value, dict) and step in node.value:
                key_at = node.keys[str(step)]
                node = node.value[str(step)]
            elif isinstance(node.value, list) and isinstance(step, int) and step < len(node.value):
                key_at = None
                node = node.value[step]
            elif step != 0 and not (isinstance(node.value, list) and isinstance(step, str)):
                break
        return key_at if at_key and key_at is not None else (node.line, node.column)

    def problem(self, path: Path_, message: str, allowed: str = "", *, at_key: bool = False) -> Problem:
        """Make a problem of this file at a path."""
        return Problem(self.file, *self.where(path, at_key=at_key), path_text(path), message, allowed)

    def without(self, paths: tuple[Path_, ...]) -> "Document":
        """Return the document with the values at these paths left out; what is left keeps its place."""
        return replace(self, root=_without(self.root, paths))


def path_text(path: Path_) -> str:
    """Write a path as people read it, counting from 1: ask[2].walk.from."""
    text = ""
    for step in path:
        text += f"[{step + 1}]" if isinstance(step, int) else f".{step}" if text else step
    return text


def _without(node: Node, paths: tuple[Path_, ...]) -> Node:
    # As in `where`: a single value may stand for a list of one, a list for a group with that list in it.
    if isinstance(node.value, dict):
        paths = tuple(path[1:] if path and path[0] == 0 else path for path in paths)
    elif isinstance(node.value, list):
        paths = tuple(path[1:] if path and isinstance(path[0], str) else path for path in paths)
    gone = {path[0] for path in paths if len(path) == 1}

    def kept(step: str | int, child: Node) -> Node:
        return _without(child, tuple(path[1:] for path in paths if len(path) > 1 and path[0] == step))

    if isinstance(node.value, dict):
        return replace(node, value={k: kept(k, child) for k, child in node.value.items() if k not in gone})
    if isinstance(node.value, list):
        return replace(node, value=[kept(i, child) for i, child in enumerate(node.value) if i not in gone])
    return node


def read_document(path: Path, shown: str | None = None) -> Document:
    """Read one YAML file.

    shown: the path as errors name it, by default `path`.
    Raises BadInput with the fault's line and column for anything but one well-formed document of plain
    values within the limits, and for a file that cannot be read.
    """
    file = shown if shown is not None else str(path)
    try:
        with path.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise BadInput(f"{file}: there is no such file") from None
    except IsADirectoryError:
        raise BadInput(f"{file}: this is a folder, not a file") from None
    except OSError as error:
        raise BadInput(f"{file}: cannot be read ({error.strerror})") from None
    return parse_document(data, file)


def parse_document(data: bytes, file: str) -> Document:
    """Read one YAML document from bytes; limits and errors as in `read_document`."""
    if len(data) > MOST_BYTES:
        raise _fault(file, 1, 1, "the file is too large", f"at most {MOST_BYTES // 1024} kB")
    text = _decoded(data, file)
    composer = _Composer(file)
    try:
        root = composer.compose(YAML(typ="safe", pure=True).parse(text))
    except MarkedYAMLError as error:
        raise _syntax_fault(file, text, error) from None
    except (YAMLError, RecursionError, ValueError, AssertionError, IndexError, KeyError) as error:
        # The parser has more than one way to give up on bytes that are no YAML at all.
        raise _fault(file, 1, 1, f"this is not YAML ({type(error).__name__})") from None
    if root is None:
        raise _fault(file, 1, 1, "the file is empty")
    return Document(file, root)


def _decoded(data: bytes, file: str) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise _fault(file, 1, 1, "the file is in UTF-16", "save it as UTF-8")
    try:
        # A byte order mark at the start is legal (YAML 1.2.2, chapter 5.2); some editors write one.
        text = data.decode("utf-8").removeprefix("\ufeff")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8").removeprefix("\ufeff")
        raise _fault(
            file, *_line_column(before), "this is not UTF-8 text", "save the file as UTF-8"
        ) from None
    if unprintable := _UNPRINTABLE.search(text):
        what = f"the character U+{ord(unprintable[0]):04X} cannot stand in a YAML file"
        raise _fault(file, *_line_column(text[: unprintable.start()]), what, "delete it")
    return text


def _line_column(before: str) -> tuple[int, int]:
    lines = before.splitlines(keepends=True)
    if not lines or lines[-1].endswith(("\n", "\r")):
        return len(lines) + 1, 1
    return len(lines), len(lines[-1]) + 1


def _fault(file: str, line: int, column: int, message: str, allowed: str = "") -> BadInput:
    problem = Problem(file, line, column, "", message, allowed)
    return BadInput(f"{file} cannot be read", problems=(problem,))


def _syntax_fault(file: str, text: str, error: MarkedYAMLError) -> BadInput:
    """Say a parser's complaint in plain words."""
    mark = error.problem_mark or error.context_mark
    line, column = (mark.line, mark.column) if mark is not None else (0, 0)
    lines = text.splitlines() or [""]
    here = lines[line] if line < len(lines) else ""
    said = str(error.problem or error.context or "")
    if "\t" in here[: column + 1]:
        return _fault(
            file, line + 1, here.index("\t") + 1, "a tab stands here", "spaces, before a line and within it"
        )
    if "mapping values are not allowed" in said:
        message, allowed = "a colon stands where none can", "put a text that has a colon in quotes"
    elif "could not find expected ':'" in said:
        message, allowed = "a key without a colon", "key: value"
    elif "found undefined alias" in said or "found undefined tag" in said:
        message, allowed = said, "plain values"
    elif "quoted scalar" in str(error.context) or "stream end" in said or "end of stream" in said:
        message, allowed = "a quote or bracket that was opened is not closed", ""
    elif "cannot start any token" in said:
        message, allowed = "a text cannot begin with this sign", "put the text in quotes"
    elif "did not find expected" in said or "expected <block end>" in said:
        message, allowed = "the lines do not fit together here", "the same indent for all keys of a group"
    else:
        message, allowed = said or "this is not YAML", ""
    return _fault(file, line + 1, column + 1, message, allowed)


class _Composer:
    """Builds nodes from the events of a parser, one document, within the limits."""

    def __init__(self, file: str) -> None:
        self._file = file
        self._anchors: dict[str, Node] = {}
        self._open: list[str | None] = []
        self._values = 0

    def compose(self, stream: Iterator[Any]) -> Node | None:
        root: Node | None = None
        documents = 0
        for event in stream:
            if isinstance(event, events.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    raise self._bad(event, "a second document begins here", "one document a file")
            elif isinstance(event, events.NodeEvent):
                root = self._node(event, stream)
        if root is not None and root.value is None:
            return None
        return root

    def _bad(self, event: Any, message: str, allowed: str = "") -> BadInput:
        mark = event.start_mark
        return _fault(self._file, mark.line + 1, mark.column + 1, message, allowed)

    def _count(self, event: Any, values: int) -> None:
        self._values += values
        if self._values > MOST_VALUES:
            raise self._bad(
                event, "the file holds too many values", f"at most {MOST_VALUES}, aliases included"
            )

    def _node(self, event: Any, stream: Iterator[Any]) -> Node:
        mark = event.start_mark
        if isinstance(event, events.AliasEvent):
            return self._alias(event)
        tag = str(event.tag) if event.tag is not None else None
        if tag is not None and tag not in _PLAIN_TAGS:
            raise self._bad(event, f"the tag {tag} is not read here", "plain values without tags")
        self._count(event, 1)
        node = Node(None, mark.line + 1, mark.column + 1)
        self._open.append(event.anchor)
        if len(self._open) > MOST_DEPTH:
            raise self._bad(event, "values are nested too deeply", f"at most {MOST_DEPTH} levels")
        if isinstance(event, events.ScalarEvent):
            self._check_text(event)
            text_tag = tag is not None and tag.endswith(":str")
            node.value = event.value if event.style or text_tag else self._scalar(event)
        elif isinstance(event, events.SequenceStartEvent):
            node.value = self._sequence(node, stream)
        else:
            node.value = self._mapping(node, stream)
        self._open.pop()
        if event.anchor is not None:
            self._anchors[event.anchor] = node
        return node

    def _alias(self, event: Any) -> Node:
        if event.anchor in self._open:
            raise self._bad(event, f"the alias *{event.anchor} stands inside what it names")
        if event.anchor not in self._anchors:
            raise self._bad(event, f"the alias *{event.anchor} names nothing above it")
        node = self._anchors[event.anchor]
        self._count(event, node.size)
        return replace(node, line=event.start_mark.line + 1, column=event.start_mark.column + 1)

    def _sequence(self, node: Node, stream: Iterator[Any]) -> list[Node]:
        children: list[Node] = []
        for event in stream:
            if isinstance(event, events.SequenceEndEvent):
                break
            children.append(self._node(event, stream))
            node.size += children[-1].size
        return children

    def _mapping(self, node: Node, stream: Iterator[Any]) -> dict[str, Node]:
        children: dict[str, Node] = {}
        for event in stream:
            if isinstance(event, events.MappingEndEvent):
                break
            if not isinstance(event, events.ScalarEvent):
                raise self._bad(event, "a key must be a single word")
            self._check_text(event)
            key = event.value
            if key in children:
                line = node.keys[key][0]
                raise self._bad(event, f'the key "{key}" is written twice, first in line {line}')
            node.keys[key] = (event.start_mark.line + 1, event.start_mark.column + 1)
            self._count(event, 1)
            children[key] = self._node(next(stream), stream)
            node.size += children[key].size
        return children

    def _check_text(self, event: Any) -> None:
        """Refuse what only an escape in quotes could bring in: control characters and half surrogates."""
        if unprintable := _UNPRINTABLE.search(event.value):
            raise self._bad(
                event, f"the text holds the character U+{ord(unprintable[0]):04X}", "visible text"
            )

    def _scalar(self, event: Any) -> Scalar:
        text = event.value
        if _NULL.match(text):
            return None
        if text in _BOOL:
            return _BOOL[text]
        if len(text) > _LONGEST_NUMBER:
            return str(text)
        if _INT.match(text):
            return int(text)
        if _OCTAL_OR_HEX.match(text):
            return int(text, 0)
        if _FLOAT.match(text):
            return float(text)
        return str(text)
