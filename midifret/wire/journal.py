"""The journal: what is played in a run, on disk within a twentieth of a second, and a take in the end.

A journal is a text file beside the takes: a first line, lines about the run, then one line for each thing
that happened, with its time in seconds from the start. A lock file says that a living process writes it.
"""

import contextlib
import json
import os
import threading
import time
from collections import deque
from dataclasses import dataclass, replace
from pathlib import Path

from filelock import FileLock, Timeout

from midifret.terms import BadInput, TimedMessage, Unavailable
from midifret.terms.calibration import ViewKind
from midifret.terms.marks import CuePoint, DuePoint, Mark, MarkKind, TypedName
from midifret.wire.take import Take, parse_section, view_of, write_take

SUFFIX = ".journal"
# What a killed process may lose at most: less than one prompt, whose answer takes some tenths of a second.
_WRITE_EVERY_S = 0.05
# What a power cut may lose at most. Asking the disk more often would wear it and gain nothing that a player
# would notice.
_SYNC_EVERY_S = 1.0

_FIRST_LINE = "midifret journal 1"
_UNSURE = "unsure"  # after the number of a prompt: nobody told when its cue was shown
_LONGEST_TIME = 1e9  # seconds; more is a damaged line


class Journal:
    """Takes down one run, times in seconds from the start of its take.

    `message` to `typed`, and `check`, may be called from the thread that hears: they touch nothing but
    memory; a thread of the journal's own writes it out. The rest is for other threads, or for the end.
    """

    def __init__(
        self,
        take_path: Path,
        *,
        drill: str = "",
        seed: int | None = None,
        guitar: str = "",
        tempo_bpm: float | None = None,
        section: tuple[int, int] | None = None,
        reading: str = "",
        asked: str = "",
        view: ViewKind | None = None,
        thread: bool = True,
    ) -> None:
        """Begin the journal of the take that will be at `take_path`.

        asked: what a run is whose prompts are chosen as it goes, as `head_text` writes it; `asked` then takes
        down each. thread: False leaves the writing to whoever calls `flush`. Raises Unavailable where the
        folder refuses a file, or where another run writes to that take.
        """
        self.take_path = take_path
        self.path = take_path.with_suffix(SUFFIX)
        self._waiting: deque[tuple[str, float, object]] = deque()
        self._unwritten = b""
        self._error: OSError | None = None
        self._flushing = threading.Lock()
        self._closing = threading.Event()
        self._lock = _lock_of(self.path)
        self._synced_s = time.monotonic()
        self._dirty = False
        head = [_FIRST_LINE, f"drill {json.dumps(drill)}", f"guitar {json.dumps(guitar)}"]
        head += [f"seed {seed}"] if seed is not None else []
        head += [f"tempo {tempo_bpm!r}"] if tempo_bpm is not None else []
        head += ["section {} {}".format(*section)] if section is not None else []
        head += [f"view {json.dumps(view.value)}"] if view is not None else []
        head += [f"reading {json.dumps(reading)}"] if reading else []
        head += [f"asked {json.dumps(asked)}"] if asked else []
        try:
            self._lock.acquire(timeout=0)
        except Timeout:
            raise Unavailable(
                f"{self.path}: another run writes this take", allowed="another name for the take"
            ) from None
        except OSError as error:
            raise _cannot_write(self.path, error) from error
        try:
            self._file = os.open(self.path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY, 0o600)
        except FileExistsError:
            self._unlock()
            raise Unavailable(
                f"{self.path}: left over from a run that was killed",
                allowed="recover it first, or give the take another name",
            ) from None
        except OSError as error:
            self._unlock()
            raise _cannot_write(self.path, error) from error
        self._unwritten = "".join(f"{line}\n" for line in head).encode()
        self.flush()
        refused = self._error
        if refused is not None:
            self.discard()
            raise _cannot_write(self.path, refused) from refused
        self._thread = threading.Thread(target=self._keep_writing, name="journal", daemon=True)
        if thread:
            self._thread.start()

    def message(self, time_s: float, data: bytes) -> None:
        """Take down a message, as it came."""
        self._waiting.append(("m", time_s, data))

    def cue(self, n: int, time_s: float, *, sure: bool = True) -> None:
        """Take down the cue of prompt n; said again, the later time holds. sure: as in CuePoint."""
        self._waiting.append(("c", time_s, n if sure else f"{n} {_UNSURE}"))

    def due(self, n: int, time_s: float, half_window_s: float) -> None:
        """Take down when prompt n is due in tempo; said again, the later one holds."""
        self._waiting.append(("d", time_s, f"{n} {half_window_s!r}"))

    def forget_due_from(self, n: int) -> None:
        """Take back when prompt n and all after it are due."""
        self._waiting.append(("f", 0.0, n))

    def asked(self, text: str) -> None:
        """Take down a prompt chosen as the run goes. It stays, whatever is taken back."""
        self._waiting.append(("p", 0.0, text))

    def withdraw_from(self, n: int) -> None:
        """Take back the cues of prompt n and all after it: a note turned out to be another one."""
        self._waiting.append(("w", 0.0, n))

    def mark(self, kind: str, time_s: float) -> None:
        """Take down a pause, its end, a skip or an early end: the text of a MarkKind."""
        self._waiting.append(("k", time_s, str(kind)))

    def typed(self, name: str, time_s: float) -> None:
        """Take down a note name that was typed."""
        self._waiting.append(("t", time_s, name))

    def flush(self, *, sync: bool = False) -> None:
        """Write out what waits; with `sync`, down to the disk. What the disk refuses waits on."""
        with self._flushing:
            waiting = [self._waiting.popleft() for _ in range(len(self._waiting))]
            self._unwritten += "".join(self._line(*item) for item in waiting).encode()
            try:
                while self._unwritten:
                    written = os.write(self._file, self._unwritten)
                    self._unwritten = self._unwritten[written:]
                    self._dirty = True
                now_s = time.monotonic()
                if self._dirty and (sync or now_s - self._synced_s >= _SYNC_EVERY_S):
                    os.fsync(self._file)
                    self._synced_s, self._dirty = now_s, False
                self._error = None
            except OSError as error:
                self._error = error

    def check(self) -> None:
        """Raise Unavailable while what was played cannot be written, a full disk for example."""
        if self._error is not None:
            raise _cannot_write(self.path, self._error) from self._error

    def close(self) -> Take:
        """End the run: write the take, then remove the journal; return the take.

        Raises Unavailable where the take cannot be written; the journal then stays, as far as it could be
        written, and becomes a take at the next start.
        """
        self._stop()
        self.flush(sync=True)
        written = False
        try:
            take, _ = _parse(self.path.read_bytes() + self._unwritten, str(self.path))
            write_take(self.take_path, take)
            written = True
        except OSError as error:
            raise _cannot_write(self.path, error) from error
        finally:
            os.close(self._file)
            if written:  # before the lock is let go, or another process would take it for a dead one's
                _remove(self.path)
            self._unlock()
        return take

    def discard(self) -> None:
        """End without a take, for a run in which nothing happened."""
        self._stop()
        os.close(self._file)
        _remove(self.path)
        self._unlock()

    def _keep_writing(self) -> None:
        while not self._closing.wait(_WRITE_EVERY_S):
            self.flush()

    def _stop(self) -> None:
        self._closing.set()
        if hasattr(self, "_thread") and self._thread.is_alive():
            self._thread.join()

    def _unlock(self) -> None:
        if self._lock.is_locked:
            _let_go(self._lock)

    def _line(self, kind: str, time_s: float, what: object) -> str:
        at_s = max(0.0, time_s)
        if isinstance(what, bytes):
            text = what.hex()
        elif kind in ("t", "p"):
            text = json.dumps(what)
        else:
            text = str(what)
        return f"{kind} {at_s:.6f} {text}\n"


@dataclass(frozen=True, slots=True)
class Recovered:
    """A journal left by a process that died.

    take_path: where its take is now, or would have been. damaged_lines: lines that could not be read and were
    left out. problem: why it could not be made a take, the journal being still there; empty if all went well.
    """

    journal_path: Path
    take_path: Path
    take: Take | None
    damaged_lines: int = 0
    problem: str = ""


def recover(takes_folder: Path) -> tuple[Recovered, ...]:
    """Turn the journals of dead processes into takes, marked as ended early; leave living ones alone.

    Nothing is raised: a journal that cannot be read or a folder that cannot be written is told of and kept.
    """
    if not takes_folder.is_dir():
        return ()
    found = []
    for path in sorted(takes_folder.glob(f"*{SUFFIX}")):
        lock = _lock_of(path)
        try:
            lock.acquire(timeout=0)
        except Timeout:
            continue
        except OSError as error:
            problem = f"{path}: {error.strerror or error}"
            found.append(Recovered(path, path.with_suffix(".mid"), None, problem=problem))
            continue
        try:
            if not path.exists():
                continue  # its process has just ended in order
            if path.stat().st_size == 0:
                _remove(path)  # of a process killed before it could write a word
            else:
                found.append(_recover_one(path))
        finally:
            _let_go(lock)
    return tuple(found)


def _recover_one(path: Path) -> Recovered:
    take_path = path.with_suffix(".mid")
    try:
        take, damaged = _parse(path.read_bytes(), str(path))
        if not any(mark.kind is MarkKind.ENDED_EARLY for mark in take.marks):
            take = replace(take, marks=(*take.marks, Mark(MarkKind.ENDED_EARLY, take.end_s)))
        write_take(take_path, take)
    except (BadInput, OSError) as error:
        return Recovered(path, take_path, None, problem=str(error))
    _remove(path)
    return Recovered(path, take_path, take, damaged)


def _parse(data: bytes, name: str) -> tuple[Take, int]:
    """Return the take of a journal and how many lines were damaged; a last line without end is dropped."""
    lines = data.split(b"\n")[:-1]
    if not lines or lines[0] != _FIRST_LINE.encode():
        raise BadInput(f"{name}: line 1: this is not a journal", allowed=f"{_FIRST_LINE!r} in the first line")
    messages: list[TimedMessage] = []
    cues: dict[int, CuePoint] = {}
    marks: list[Mark] = []
    typed: list[TypedName] = []
    dues: dict[int, DuePoint] = {}
    asked: list[str] = []
    section: tuple[int, int] | None = None
    head: dict[str, str | int | float] = {}
    damaged = 0
    for line in lines[1:]:
        try:
            kind, _, rest = line.decode().partition(" ")
            if kind in ("drill", "guitar", "reading", "view"):
                head[kind] = _text(rest)
                continue
            if kind == "asked":
                asked.append(_text(rest))
                continue
            if kind == "seed":
                head[kind] = int(rest)
                continue
            if kind == "tempo":
                head[kind] = float(rest)
                continue
            if kind == "section":
                section = parse_section(rest)
                continue
            at, _, what = rest.partition(" ")
            time_s = float(at)
            if not 0 <= time_s <= _LONGEST_TIME:
                raise ValueError
            if kind == "m":
                messages.append(TimedMessage(time_s, bytes.fromhex(what)))
            elif kind == "c":
                number, _, unsure = what.partition(" ")
                n = int(number)
                cues.pop(n, None)
                cues[n] = CuePoint(n, time_s, unsure != _UNSURE)
            elif kind == "d":
                number, _, half = what.partition(" ")
                dues[int(number)] = DuePoint(int(number), time_s, float(half))
            elif kind == "f":
                dues = {n: due for n, due in dues.items() if n < int(what)}
            elif kind == "w":
                cues = {n: cue for n, cue in cues.items() if n < int(what)}
            elif kind == "k":
                marks.append(Mark(MarkKind(what), time_s))
            elif kind == "t":
                typed.append(TypedName(_text(what), time_s))
            elif kind == "p":
                asked.append(_text(what))
            else:
                raise ValueError
        except ValueError:
            damaged += 1
    seed, tempo_bpm = head.get("seed"), head.get("tempo")
    take = Take(
        messages=tuple(messages),
        drill=str(head.get("drill", "")),
        seed=seed if isinstance(seed, int) else None,
        guitar=str(head.get("guitar", "")),
        reading=str(head.get("reading", "")),
        view=view_of(str(head.get("view", ""))),
        asked=tuple(asked),
        cues=tuple(cues.values()),
        marks=tuple(marks),
        typed=tuple(typed),
        tempo_bpm=tempo_bpm if isinstance(tempo_bpm, float) else None,
        section=section,
        dues=tuple(sorted(dues.values(), key=lambda due: due.due_s)),
    )
    return take, damaged


def _text(quoted: str) -> str:
    text = json.loads(quoted)
    if not isinstance(text, str):
        raise ValueError
    return text


def _lock_of(path: Path) -> FileLock:
    return FileLock(path.with_name(path.name + ".lock"), thread_local=False, mode=0o600)


def _let_go(lock: FileLock) -> None:
    _remove(Path(lock.lock_file))  # while it is held, so that nobody waits at a file that is gone
    lock.release()
    if os.name == "nt":
        _remove(Path(lock.lock_file))  # Windows removes no open file


def _remove(path: Path) -> None:
    with contextlib.suppress(OSError):
        path.unlink()


def _cannot_write(path: Path, error: OSError) -> Unavailable:
    return Unavailable(
        f"{path}: what is played cannot be written: {error.strerror or error}",
        allowed="free some disk space, or give yourself the right to write there",
    )


_BINARY = getattr(os, "O_BINARY", 0)  # Windows would else write two bytes for each end of line
