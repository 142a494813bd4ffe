"""Takes: a recording of what was played, kept as a Standard MIDI File that any music program opens."""

import contextlib
import io
import os
import re
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path

import mido

from midifret.tempo import LEAST_BPM, MOST_BPM
from midifret.terms import TimedMessage, Unavailable
from midifret.terms.calibration import ViewKind
from midifret.terms.marks import CuePoint, DuePoint, Mark, MarkKind, TypedName
from midifret.wire.smf import LARGEST_FILE_BYTES, read_smf

TICKS_A_SECOND = 10_000
_QUARTER_US = 500_000
_TICKS_A_QUARTER = TICKS_A_SECOND * _QUARTER_US // 1_000_000
_LONGEST_DELTA = 0x0FFFFFFF  # ticks between two events (SMF 1.0: four bytes of seven bits); 7.4 hours

_META, _TEXT, _LYRIC, _MARKER, _CUE_POINT = 0xFF, 0x01, 0x05, 0x06, 0x07


_TYPED_NAME = re.compile(r"[A-G][#b]?\Z")
_DUE = re.compile(r"due (\d{1,9}) (\d{1,6}(?:\.\d{1,6})?) ms\Z", re.ASCII)
_UNSURE = re.compile(r"cue (\d{1,9}) unsure\Z", re.ASCII)
_SECTION = re.compile(r"(\d{1,4}) (\d{1,4})\Z", re.ASCII)
_MARK_TEXTS = frozenset(kind.value for kind in MarkKind)
_VIEWS = {kind.value: kind for kind in ViewKind}


@dataclass(frozen=True, slots=True)
class Take:
    """A recording, times in seconds from its start.

    messages: channel messages in the order of time. drill, guitar: names, empty where the file gives none.
    seed: of the drill, or None. tempo_bpm: None in free tempo. section: as in Exercise. dues: when prompts
    were due in tempo, in the order of time. cues: empty in a recording that knows of no prompts. length_s: to
    the end of the longest track, as the file has it, 0 for a take that is no file yet. reading: the music
    that was read and where, as `reading_text` writes it; empty for a drill. asked: of a run whose prompts
    were chosen as it went, what it was and then each prompt, as `asked_text` writes them; else empty. view:
    on which its cues were seen; None where the file does not say.
    """

    messages: tuple[TimedMessage, ...]
    drill: str = ""
    seed: int | None = None
    guitar: str = ""
    cues: tuple[CuePoint, ...] = ()
    marks: tuple[Mark, ...] = ()
    typed: tuple[TypedName, ...] = ()
    length_s: float = field(default=0.0, compare=False)
    tempo_bpm: float | None = None
    section: tuple[int, int] | None = None
    dues: tuple[DuePoint, ...] = ()
    reading: str = ""
    asked: tuple[str, ...] = ()
    view: ViewKind | None = None

    @property
    def gone_s(self) -> tuple[float, ...]:
        """When the guitar went, rising."""
        return tuple(mark.time_s for mark in self.marks if mark.kind is MarkKind.GONE)

    @property
    def end_s(self) -> float:
        """The time of the last thing in it."""
        times = [item.time_s for items in (self.cues, self.marks, self.typed) for item in items[-1:]]
        times += [due.due_s for due in self.dues[-1:]]
        return max([self.length_s, *times, *(message.time_s for message in self.messages[-1:])], default=0.0)


def read_take(path: Path) -> Take:
    """Read a take, or any Standard MIDI File of type 0 or 1.

    Raises BadInput, with the byte where it can be told, for a file that is damaged or of another kind, and
    Unavailable for one that cannot be opened.
    """
    name = str(path)
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_FILE_BYTES + 1)
    except OSError as error:
        raise Unavailable(
            f"{name}: {error.strerror or error}", allowed="a MIDI file that can be read"
        ) from error
    return parse_take(data, name)


def parse_take(data: bytes, name: str) -> Take:
    """Read the bytes of a take; see `read_take`. name: for errors."""
    messages: list[TimedMessage] = []
    cues: list[CuePoint] = []
    marks: list[Mark] = []
    dues: list[DuePoint] = []
    lyrics: list[TypedName] = []
    texts: dict[str, str] = {}
    unsure: set[int] = set()
    asked: list[str] = []
    length_s = 0.0
    for time_s, event in read_smf(data, name):
        length_s = time_s
        if event[0] != _META:
            messages.append(TimedMessage(time_s, event))
            continue
        kind, text = event[1], _decode(event[2:])
        if kind == _TEXT and time_s == 0.0:
            key, colon, value = text.partition(": ")
            if colon and key == "asked":
                asked.append(value)
            elif colon:
                texts.setdefault(key, value)
        elif kind == _CUE_POINT and text.isascii() and text.isdigit() and len(text) < 10:
            cues.append(CuePoint(int(text), time_s))
        elif kind == _MARKER and text in _MARK_TEXTS:
            marks.append(Mark(MarkKind(text), time_s))
        elif kind == _MARKER and (due := _DUE.match(text)):
            dues.append(DuePoint(int(due[1]), time_s, float(due[2]) / 1000))
        elif kind == _MARKER and (unseen := _UNSURE.match(text)):
            unsure.add(int(unseen[1]))
        elif kind == _LYRIC and _TYPED_NAME.match(text):
            lyrics.append(TypedName(text, time_s))
    seed = texts.get("seed", "")
    drill = texts.get("drill", "")
    return Take(
        messages=tuple(messages),
        drill=drill,
        seed=int(seed) if seed.isascii() and seed.lstrip("-").isdigit() and len(seed) < 20 else None,
        guitar=texts.get("guitar", ""),
        cues=tuple(replace(cue, sure=cue.n not in unsure) for cue in cues),
        marks=tuple(marks),
        dues=tuple(dues),
        tempo_bpm=_tempo_bpm(texts.get("tempo", "")),
        section=parse_section(texts.get("section", "")),
        reading=texts.get("reading", ""),
        asked=tuple(asked),
        view=view_of(texts.get("view", "")),
        length_s=length_s,
        typed=tuple(lyrics) if drill else (),  # in other people's files lyrics are words of a song
    )


def format_take(take: Take) -> bytes:
    """Return a take as a Standard MIDI File of type 1: a track of texts and cues, and one of messages.

    Names typed are lyrics: unlike text events, other programs show these at their moment under the notes, and
    they cannot be mistaken for the texts at tick 0. What is not a whole channel message is left out.
    """
    notes: list[tuple[float, mido.Message]] = []
    for time_s, data in take.messages:
        with contextlib.suppress(ValueError, IndexError):  # mido's own, of messages cut short
            message = mido.Message.from_bytes(data)
            if hasattr(message, "channel"):
                notes.append((time_s, message))
    words = [
        (0.0, mido.MetaMessage("set_tempo", tempo=_QUARTER_US)),
        *((0.0, mido.MetaMessage("text", text=text)) for text in _head_lines(take)),
        *((cue.time_s, mido.MetaMessage("cue_marker", text=str(cue.n))) for cue in take.cues),
        *((c.time_s, mido.MetaMessage("marker", text=f"cue {c.n} unsure")) for c in take.cues if not c.sure),
        *((mark.time_s, mido.MetaMessage("marker", text=mark.kind.value)) for mark in take.marks),
        *((due.due_s, mido.MetaMessage("marker", text=_due_text(due))) for due in take.dues),
        *((typed.time_s, mido.MetaMessage("lyrics", text=typed.name)) for typed in take.typed),
    ]
    words.sort(key=lambda item: item[0])
    file = mido.MidiFile(type=1, ticks_per_beat=_TICKS_A_QUARTER, charset="utf-8")
    file.tracks += [_track(words), _track(notes)]
    written = io.BytesIO()
    file.save(file=written)
    return written.getvalue()


def write_take(path: Path, take: Take) -> None:
    """Write a take so that the file is there whole or not at all, readable by its owner only.

    Raises Unavailable where the folder or the disk refuses; what was at `path` before is then untouched.
    """
    data = format_take(take)
    temporary: Path | None = None
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)  # for the owner only
        temporary = Path(name)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        temporary.replace(path)
        _sync_folder(path.parent)
    except OSError as error:
        if temporary is not None:
            with contextlib.suppress(OSError):
                temporary.unlink()
        raise Unavailable(
            f"{path}: the take cannot be written: {error.strerror or error}",
            allowed="free some disk space, or give yourself the right to write there",
        ) from error


def _head_lines(take: Take) -> list[str]:
    lines = [f"drill: {take.drill}"] if take.drill else []
    lines += [f"seed: {take.seed}"] if take.seed is not None else []
    lines += [f"guitar: {take.guitar}"] if take.guitar else []
    lines += [f"tempo: {take.tempo_bpm:g}"] if take.tempo_bpm is not None else []
    lines += [f"view: {take.view}"] if take.view is not None else []
    lines += [f"reading: {take.reading}"] if take.reading else []
    lines += [f"asked: {line}" for line in take.asked]
    return lines + (["section: {} {}".format(*take.section)] if take.section is not None else [])


def view_of(text: str) -> ViewKind | None:
    """Read the view that a take or a journal names; None where it names none that is known."""
    return _VIEWS.get(text)


def parse_section(text: str) -> tuple[int, int] | None:
    """Read the section that a take or a journal names: begin and count; None where it names none."""
    match = _SECTION.match(text)
    return (int(match[1]), int(match[2])) if match else None


def _due_text(due: DuePoint) -> str:
    return f"due {due.n} {due.half_window_s * 1000:.3f} ms"


def _tempo_bpm(text: str) -> float | None:
    """The tempo that a take names; None where it names none that could be one."""
    try:
        tempo_bpm = float(text)
    except ValueError:
        return None
    return tempo_bpm if LEAST_BPM <= tempo_bpm <= MOST_BPM else None


def _track(events: Iterable[tuple[float, mido.Message | mido.MetaMessage]]) -> mido.MidiTrack:
    track = mido.MidiTrack()
    last = 0
    for time_s, message in events:
        tick = max(last, round(time_s * TICKS_A_SECOND))
        while tick - last > _LONGEST_DELTA:
            track.append(mido.MetaMessage("text", text="", time=_LONGEST_DELTA))
            last += _LONGEST_DELTA
        message.time = tick - last
        track.append(message)
        last = tick
    return track


def _decode(data: bytes) -> str:
    try:
        return data.decode()
    except UnicodeDecodeError:
        return data.decode("latin-1")  # what older programs write


def _sync_folder(folder: Path) -> None:
    """Make the new name last through a power cut, where the system can be asked for that."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
