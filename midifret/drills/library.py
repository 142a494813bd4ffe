"""Where drills are found: those shipped, those in the home folder, and any file named by its path."""

import difflib
import re
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

from midifret.drills.build import NOTHING_LEFT, build
from midifret.drills.drill import Drill
from midifret.drills.models import DrillFile
from midifret.files import Document, Home, Node, check_model, read_document, shipped_folder
from midifret.files.document import path_text
from midifret.files.models import faulty_paths
from midifret.neck import Neck
from midifret.terms import BadInput, Problem

_ENDINGS = (".yaml", ".yml")
# Leaving out a fault can empty the group that it stood in, and then the item with that group.
_MOST_PASSES = 4
MOST_JOINED = 3  # drills inside drills; deeper ones could not be followed by a reader either


@dataclass(frozen=True, slots=True)
class Entry:
    """A drill file. name: as commands take it. shipped: it came with the program."""

    name: str
    path: Path
    shipped: bool


def entries(home: Home) -> tuple[Entry, ...]:
    """Return every drill file, shipped ones first; a person's own replaces a shipped one of its name.

    Raises BadInput where two files of one folder tree have the same name.
    """
    found: dict[str, Entry] = {}
    for folder, is_shipped in ((shipped_folder("drills"), True), (home.drills, False)):
        twins: dict[str, list[Path]] = defaultdict(list)
        for path in sorted(p for p in folder.rglob("*") if p.suffix in _ENDINGS and p.name[0] != "."):
            twins[path.stem].append(path)
        for name, paths in twins.items():
            if len(paths) > 1:
                where = " and ".join(str(path) for path in paths)
                raise BadInput(f"two drills have the name {name}: {where}", allowed="rename one of them")
            found[name] = Entry(name, paths[0], is_shipped)
    return tuple(sorted(found.values(), key=lambda entry: _natural(entry.name)))


def find(name: str, home: Home) -> Drill:
    """Return a drill by its name, or by the path of its .yaml file.

    Raises BadInput for an unknown name, with the nearest ones, and with every problem of a faulty file.
    """
    known = {entry.name: entry for entry in entries(home)}
    path = Path(name)
    if path.suffix in _ENDINGS and name not in known:
        return _Loader(known).load(Entry(path.stem, path, shipped=False), shown=name)
    if name not in known:
        raise _unknown(name, known)
    return _Loader(known).load(known[name])


def load_all(home: Home) -> tuple[tuple[Drill, ...], tuple[BadInput, ...]]:
    """Return every drill that can be read, by stage, and the errors of those that cannot."""
    known = {entry.name: entry for entry in entries(home)}
    loader = _Loader(known)
    drills: list[Drill] = []
    errors: list[BadInput] = []
    for entry in known.values():
        try:
            drills.append(loader.load(entry))
        except BadInput as error:
            errors.append(error)
    return tuple(sorted(drills, key=_teaching_order)), tuple(errors)


def check(document: Document, neck: Neck, home: Home) -> tuple[Problem, ...]:
    """Return every problem of a drill file: what is wrong in itself and what the neck has not."""
    known = {entry.name: entry for entry in entries(home)}
    name = Path(document.file).stem
    content, problems = check_model(document, DrillFile)
    given_up: set[str] = set()
    for _ in range(_MOST_PASSES):
        if content is not None:
            break
        document = _playable(document, given_up)
        content, _ = check_model(document, DrillFile)
    if content is None:
        return problems
    drill, unjoined = _Loader(known).read(Entry(name, Path(document.file), shipped=False), content, document)
    problems = (*problems, *unjoined)
    try:
        build(drill, neck)
    except BadInput as error:
        problems += tuple(
            problem
            for problem in error.problems
            if problem.key.partition(".")[0] not in given_up
            and not (problem.message == NOTHING_LEFT and problems)  # for what was left out is told already
        )
    unique = dict.fromkeys(problems)
    return tuple(sorted(unique, key=lambda problem: (problem.line or 0, problem.column or 0)))


def _playable(document: Document, given_up: set[str]) -> Document:
    """Leave out what the model refuses, so that what remains can be checked against a neck as well.

    An item of `ask` that is refused as a whole keeps its place in the list with another in its stead; its
    key is added to given_up.
    """
    paths = faulty_paths(document, DrillFile)
    whole = {path[1] for path in paths if len(path) == 2 and path[0] == "ask"}
    document = document.without(tuple(path for path in paths if not (len(path) == 2 and path[0] == "ask")))
    content = document.root.value
    if not isinstance(content, dict):
        return document
    for key in ("title", "stage", "trains"):
        content.setdefault(key, Node("-", 1, 1))
    if whole and "ask" in content:
        ask = content["ask"]
        items = ask.value if isinstance(ask.value, list) else [ask]
        kept = [_stand_in() if i in whole else item for i, item in enumerate(items)]
        content["ask"] = Node(kept, ask.line, ask.column)
        given_up |= {path_text(("ask", i)) for i in whole}
    return document


def _stand_in() -> Node:
    return Node({"row": Node({"fret": Node(0, 1, 1)}, 1, 1)}, 1, 1)


def _teaching_order(drill: Drill) -> tuple[object, ...]:
    return _natural(drill.content.stage), drill.content.step, _natural(drill.name)


def _natural(text: str) -> tuple[tuple[bool, int, str], ...]:
    """Sort key that puts row-5 before row-12."""
    parts = re.findall(r"\d+|\D+", text)
    return tuple((not part.isdigit(), int(part) if part.isdigit() else 0, part) for part in parts)


def _unknown(name: str, known: dict[str, Entry]) -> BadInput:
    near = difflib.get_close_matches(name, known, n=5, cutoff=0.5)
    names = f"did you mean {', '.join(near)}? " if near else ""
    return BadInput(f"there is no drill {name!r}", allowed=f"{names}midifret drills lists them all")


class _Loader:
    """Reads drills and the drills that they join."""

    def __init__(self, known: dict[str, Entry]) -> None:
        self._known = known
        self._loaded: dict[str, Drill] = {}

    def load(self, entry: Entry, *, shown: str | None = None, inside: tuple[str, ...] = ()) -> Drill:
        if entry.name in self._loaded:
            return self._loaded[entry.name]
        document = read_document(entry.path, shown)
        content, problems = check_model(document, DrillFile)
        if content is None:
            raise BadInput(f"the drill {entry.name} has faults", problems=problems)
        drill, problems = self.read(entry, content, document, inside=inside)
        if problems:
            raise BadInput(f"the drill {entry.name} has faults", problems=problems)
        self._loaded[entry.name] = drill
        return drill

    def read(
        self, entry: Entry, content: DrillFile, document: Document, *, inside: tuple[str, ...] = ()
    ) -> tuple[Drill, tuple[Problem, ...]]:
        """Join what the drill joins; return it with what could not be joined left out and told."""
        parts: dict[str, Drill] = {}
        problems: list[Problem] = []
        inside = (*inside, entry.name)
        for index, item in enumerate(content.ask):
            if item.drill is None:
                continue
            name, path = item.drill.name, ("ask", index, "drill", "name")
            if name in inside:
                chain = " > ".join((*inside, name))
                problems.append(document.problem(path, f"the drills join in a circle: {chain}"))
            elif len(inside) > MOST_JOINED:
                message = f"drills are joined more than {MOST_JOINED} deep: {' > '.join((*inside, name))}"
                problems.append(document.problem(path, message, "name the innermost drill directly"))
            elif name not in self._known:
                unknown = _unknown(name, self._known)
                problems.append(document.problem(path, unknown.message, unknown.allowed))
            else:
                try:
                    parts[name] = self.load(self._known[name], inside=inside)
                except BadInput as error:
                    problems += error.problems or (document.problem(path, error.message, error.allowed),)
        return Drill(entry.name, content, document, parts, entry.shipped), tuple(problems)
