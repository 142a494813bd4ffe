"""The folder of the player's own scores: what lies there, how hard it is and in which positions it lies.

What was read of each file is kept in an index beside the folder, so that a file is read again only when it
has changed; one that was renamed is known by what is in it. The index holds what does not depend on guitar
and levels, and can be deleted at any time. What the player chose of a file is kept apart from it.

A file that does not say its octave is read in the one that fits a guitar better, and says so, until the
player chooses.
"""

import json
import os
from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from midifret.cli.shelf_choices import (
    NOTHING_CHOSEN,
    FileChoice,
    digest_of,
    load_file_choices,
    save_file_choices,
    write_kept,
)
from midifret.files import Home
from midifret.melody import Fit, Hardness, Level, fingerprint, fits, hardness, measure
from midifret.melody.measures import Measures, Rhythm
from midifret.neck import Neck, Tuning
from midifret.reading.build import reading_name
from midifret.scores import Octave, OctaveUnsaid, score_of
from midifret.scores.kinds import SUFFIXES
from midifret.scores.parse import parse
from midifret.terms import BadInput, Unavailable
from midifret.terms.score import Score

VERSION = 2
MOST_FILES = 2_000  # beyond it a folder is no shelf of somebody's own [ours]
_MOST_AT_ONCE = 4  # files read at one time, of 60 to 400 MB each [ours]
_KEPT_EACH = 20  # files read before the index is written [ours]
MOST_INDEX_BYTES = 64 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class Read:
    """What was read of one score. midis: how many notes it has of each pitch."""

    title: str
    composer: str
    bars: int
    midis: Mapping[int, int]
    measures: Measures
    fingerprint: str
    reading_stem: str
    tuning_midis: tuple[int, ...]
    capo: int


@dataclass(frozen=True, slots=True)
class OnShelf:
    """One score of the folder.

    file: from the folder on. fits: the positions that suit it on this guitar. choice: how it is read, where
    the player said so. assumed: the octave that was taken as the file does not say one, None where it does
    or the player chose.
    """

    file: str
    read: Read
    hardness: Hardness
    fits: tuple[Fit, ...]
    times_read: int
    choice: FileChoice = NOTHING_CHOSEN
    assumed: Octave | None = None

    def fit(self, position: int) -> Fit | None:
        """How it lies in a position, None where it does not."""
        return next((fit for fit in self.fits if fit.position == position), None)


@dataclass(frozen=True, slots=True)
class NotRead:
    """A file that could not be read, and why, in words."""

    file: str
    why: str


@dataclass(frozen=True, slots=True)
class Shelf:
    """The whole folder. scores: unread ones first, then the easy ones. read_now: files read just now."""

    folder: Path
    scores: tuple[OnShelf, ...]
    faulty: tuple[NotRead, ...]
    read_now: int


def scores_folder(home: Home) -> Path:
    """The folder of the player's own scores."""
    return home.scores


def index_path(home: Home) -> Path:
    """The file in which the index is kept."""
    return home.root / "scores-index.json"


def open_shelf(
    home: Home,
    neck: Neck,
    levels: Sequence[Level],
    *,
    fingerprints: Collection[str] = (),
    read_drills: Mapping[str, int] | None = None,
    chosen: Mapping[str, FileChoice] | None = None,
    octave: Octave | None = None,
    say: Callable[[str], None] = lambda _: None,
) -> Shelf:
    """Look through the folder; read what is new or has changed, and keep the index.

    fingerprints: of the music that the player was given. read_drills: how often readings of these names were
    played. chosen: what is to be read otherwise from now on, by file. octave: from now on, of every file
    that does not say its own and of which none was chosen. say: told before each file that is read. Raises
    BadInput for a folder with too many files and for choices of a file that is not there.
    """
    folder = scores_folder(home)
    paths = _files(folder)
    kept = _load(index_path(home))
    by_hash = {(entry["hash"], Path(name).suffix): entry for name, entry in kept.items() if entry["hash"]}
    remembered = load_file_choices(home)
    new = dict(chosen or {})
    if missing := sorted(set(new) - {path.relative_to(folder).as_posix() for path in paths}):
        raise BadInput(
            f"there is no score {missing[0]!r} in {folder}", allowed="a file as `midifret scores` names it"
        )
    entries: dict[str, dict[str, Any]] = {}
    choices: dict[str, FileChoice] = {}
    read_now = 0

    def one(path: Path) -> tuple[str, dict[str, Any], FileChoice, int]:
        name = path.relative_to(folder).as_posix()
        head = _head(path, kept.get(name))
        known = kept.get(name) or {}
        same = known.get("hash") == head["hash"]
        before = known if same else by_hash.get((head["hash"], path.suffix))
        choice = new.get(name, NOTHING_CHOSEN).over(remembered.of(name, head["hash"]))
        entry, fresh = _entry(path, head, before, choice, name, say)
        if octave is not None and "assumed" in entry:
            choice = FileChoice(octave=octave).over(choice)
            entry, fresh = _entry(path, head, entry, choice, name, say)
        return name, entry, choice, int(fresh)

    # Each file is read by a process of its own, so that threads are enough to use several processors.
    pool = ThreadPoolExecutor(max_workers=min(_MOST_AT_ONCE, os.cpu_count() or 1))
    try:
        for name, entry, choice, fresh in pool.map(one, paths):
            entries[name], choices[name] = entry, choice
            read_now += fresh
            if fresh and read_now % _KEPT_EACH == 0:  # who stops it does not begin anew
                write_kept(home, index_path(home), {"version": VERSION, "files": kept | entries})
    finally:
        pool.shutdown(cancel_futures=True)
    if entries != kept:
        write_kept(home, index_path(home), {"version": VERSION, "files": entries})
    told = {n: (entries[n]["hash"], choice) for n, choice in choices.items() if choice != NOTHING_CHOSEN}
    if {name: choice for name, (_, choice) in told.items()} != remembered.by_name:
        save_file_choices(home, told)
    found: list[OnShelf] = []
    faulty: list[NotRead] = []
    for name, entry in entries.items():
        if "why" in entry:
            faulty.append(NotRead(name, entry["why"]))
            continue
        read = _read_of(entry["read"])
        times = (read.fingerprint in fingerprints) + sum(
            count for drill, count in (read_drills or {}).items() if drill.startswith(read.reading_stem)
        )
        try:
            own = _neck_for(read, neck)
        except ValueError as error:
            faulty.append(NotRead(name, str(error)))
            continue
        assumed = Octave(entry["assumed"]) if "assumed" in entry else None
        how_hard, fitting = hardness(read.measures, levels), fits(read.midis, own)
        found.append(OnShelf(name, read, how_hard, fitting, times, choices[name], assumed))
    found.sort(key=lambda one: (one.times_read, one.hardness.level, one.file))
    return Shelf(folder, tuple(found), tuple(faulty), read_now)


def _files(folder: Path) -> list[Path]:
    if not folder.is_dir():
        return []
    try:
        paths = sorted(
            path
            for path in folder.rglob("*")
            if path.suffix.lower() in SUFFIXES
            and not any(part.startswith(".") for part in path.relative_to(folder).parts)
            and not path.is_dir()
        )
    except OSError as error:
        raise Unavailable(f"the folder {folder} cannot be read ({error.strerror})") from None
    if len(paths) > MOST_FILES:
        raise BadInput(f"{folder} holds {len(paths):,} scores", allowed=f"at most {MOST_FILES:,}")
    return paths


def _head(path: Path, kept: dict[str, Any] | None) -> dict[str, Any]:
    """What tells whether a file is as it was; it is opened only where its time or length changed."""
    try:
        state = path.stat()
        if kept is not None and (kept["time_ns"], kept["bytes"]) == (state.st_mtime_ns, state.st_size):
            return {"time_ns": state.st_mtime_ns, "bytes": state.st_size, "hash": kept["hash"]}
        return {"time_ns": state.st_mtime_ns, "bytes": state.st_size, "hash": digest_of(path)}
    except OSError as error:
        return {"time_ns": 0, "bytes": -1, "hash": "", "why": f"cannot be read ({error.strerror})"}


def _entry(
    path: Path,
    head: dict[str, Any],
    before: dict[str, Any] | None,
    choice: FileChoice,
    name: str,
    say: Callable[[str], None],
) -> tuple[dict[str, Any], bool]:
    """The entry of a file, that of before where it holds, and whether the file was read for it."""
    if "why" in head:
        return head, False
    head = head | {"choice": choice.document}
    if before is not None and before.get("choice") == head["choice"]:
        return before | head, False
    say(name)
    try:
        written = parse(path, choice.tune)
        try:
            score = score_of(written, str(path), choice.choices)
        except OctaveUnsaid as unsaid:
            head = head | {"assumed": unsaid.likely.value}
            score = score_of(written, str(path), replace(choice.choices, octave=unsaid.likely))
        return head | {"read": _document(read_of(score))}, True
    except Unavailable:
        raise
    except BadInput as error:
        return head | {"why": _reason(error, path)}, True


def _reason(error: BadInput, path: Path) -> str:
    """What is wrong with a file, in one line without its name."""
    first = error.problems[0] if error.problems else None
    if first is not None:
        where = f"line {first.line}: " if first.line is not None else ""
        allowed = f" ({first.allowed})" if first.allowed else ""
        return f"{where}{first.message}{allowed}"
    text = error.message.removeprefix(f"{path}: ").removeprefix(f"{path} ")
    return f"{text} ({error.allowed})" if error.allowed else text


def read_of(score: Score) -> Read:
    """What the index keeps of a score."""
    return Read(
        title=score.title,
        composer=score.composer,
        bars=len(score.bars),
        midis=dict(sorted(Counter(note.midi for note in score.notes).items())),
        measures=measure(score),
        fingerprint=fingerprint(score),
        reading_stem=reading_name(score, 0).rpartition("@")[0] + "@",
        tuning_midis=score.tuning_midis,
        capo=score.capo,
    )


def _neck_for(read: Read, neck: Neck) -> Neck:
    """The guitar's neck, tuned as the score asks. Raises ValueError where it cannot be."""
    if not read.tuning_midis and not read.capo:
        return neck
    tuning = Tuning("score", "As in the score", read.tuning_midis) if read.tuning_midis else neck.tuning
    return Neck(tuning, neck.frets, read.capo or neck.capo)


def _document(read: Read) -> dict[str, Any]:
    document = asdict(read)
    document["midis"] = {str(midi): count for midi, count in read.midis.items()}
    document["measures"]["rhythms"] = {str(r): share for r, share in read.measures.rhythms.items()}
    return document


def _read_of(document: Mapping[str, Any]) -> Read:
    measures = dict(document["measures"])
    measures["rhythms"] = {Rhythm(name): share for name, share in measures["rhythms"].items()}
    values = dict(document)
    values["midis"] = {int(midi): count for midi, count in document["midis"].items()}
    values["measures"] = Measures(**measures)
    values["tuning_midis"] = tuple(document["tuning_midis"])
    return Read(**values)


def _load(path: Path) -> dict[str, dict[str, Any]]:
    """The entries that were kept; none where the index is missing, of another version or damaged."""
    try:
        if path.stat().st_size > MOST_INDEX_BYTES:
            return {}
        document = json.loads(path.read_bytes())
        if document["version"] != VERSION:
            return {}
        entries: dict[str, dict[str, Any]] = document["files"]
        for entry in entries.values():
            _ = entry["time_ns"], entry["bytes"], entry["hash"]
            if "why" not in entry:
                _read_of(entry["read"])
        return entries
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return {}
