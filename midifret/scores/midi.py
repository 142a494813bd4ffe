"""Standard MIDI Files as written values: notes on a grid, spelled by key, one part a track or channel."""

import io
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

import mido

from midifret.scores.faults import ScoreFault
from midifret.scores.limits import MOST_BARS, MOST_MIDI_BYTES, MOST_NOTES, MOST_PARTS
from midifret.scores.spelling import spelled
from midifret.scores.written import (
    WrittenBar,
    WrittenKey,
    WrittenMeter,
    WrittenNote,
    WrittenPart,
    WrittenScore,
    WrittenTempo,
)

_DRUMS = 9  # channel 10 as people count (General MIDI 1)
# Thirty-seconds and triplets of sixteenths: what stands within half a step of either moves there [ours].
_GRIDS = (8, 12)
_MAJOR_FIFTHS = {"Cb": -7, "Gb": -6, "Db": -5, "Ab": -4, "Eb": -3, "Bb": -2, "F": -1, "C": 0, "G": 1, "D": 2}
_MAJOR_FIFTHS |= {"A": 3, "E": 4, "B": 5, "F#": 6, "C#": 7}
_MINOR_FIFTHS = {"Ab": -7, "Eb": -6, "Bb": -5, "F": -4, "C": -3, "G": -2, "D": -1, "A": 0, "E": 1, "B": 2}
_MINOR_FIFTHS |= {"F#": 3, "C#": 4, "G#": 5, "D#": 6, "A#": 7}


@dataclass(slots=True)
class _Struck:
    track: int
    channel: int
    onset: Fraction
    end: Fraction
    midi: int


def from_midi(data: bytes) -> WrittenScore:
    """Read a Standard MIDI File of type 0 or 1. Raises ScoreFault."""
    if len(data) > MOST_MIDI_BYTES:
        most = f"at most {MOST_MIDI_BYTES // 1024 // 1024} MB"
        raise ScoreFault(f"this MIDI file is larger than a score needs: {len(data):,} bytes", most)
    try:
        song = mido.MidiFile(file=io.BytesIO(data), clip=True)
    except (OSError, EOFError, ValueError, KeyError, IndexError, LookupError) as error:
        raise ScoreFault(f"this is not a Standard MIDI File that can be read ({error})") from None
    if song.type not in (0, 1):
        raise ScoreFault(f"this Standard MIDI File has the type {song.type}", "type 0 or 1")
    quarter = song.ticks_per_beat
    if quarter <= 0:
        raise ScoreFault("this Standard MIDI File counts in frames, not in beats", "ticks per quarter note")
    struck: list[_Struck] = []
    names: dict[int, str] = {}
    meters: list[tuple[Fraction, int, int]] = []
    keys: list[tuple[Fraction, int, str]] = []
    tempos: list[tuple[Fraction, float]] = []
    for index, track in enumerate(song.tracks):
        tick = 0
        sounding: dict[tuple[int, int], list[_Struck]] = {}
        for message in track:
            tick += message.time
            now = Fraction(tick, quarter)
            if message.type == "track_name":
                names.setdefault(index, " ".join(message.name.split())[:200])
            elif message.type == "time_signature":
                meters.append((now, message.numerator, message.denominator))
            elif message.type == "key_signature":
                keys.append((now, *_key(message.key)))
            elif message.type == "set_tempo" and message.tempo:
                tempos.append((now, 60_000_000 / message.tempo))
            elif message.type == "note_on" and message.velocity:
                note = _Struck(index, message.channel, now, now, message.note)
                sounding.setdefault((message.channel, message.note), []).append(note)
                struck.append(note)
                if len(struck) > MOST_NOTES:
                    raise ScoreFault(f"the file holds more than {MOST_NOTES:,} notes", "a shorter score")
            elif message.type in ("note_on", "note_off"):
                for note in sounding.get((message.channel, message.note), [])[:1]:
                    note.end = now
                    sounding[message.channel, message.note].remove(note)
        for left in sounding.values():
            for note in left:
                note.end = Fraction(tick, quarter)
    warnings = _to_grid(struck)
    return _score(struck, names, sorted(meters), sorted(keys), sorted(tempos), song.type == 0, warnings)


def _key(name: str) -> tuple[int, str]:
    if name.endswith("m"):
        return _MINOR_FIFTHS.get(name[:-1], 0), "minor"
    return _MAJOR_FIFTHS.get(name, 0), "major"


def _to_grid(struck: list[_Struck]) -> list[str]:
    moved, most = 0, Fraction(0)
    for note in struck:
        onset, end = _near(note.onset), _near(note.end)
        if end <= onset:
            end = onset + Fraction(1, _GRIDS[-1])
        if onset != note.onset:
            moved, most = moved + 1, max(most, abs(onset - note.onset))
        note.onset, note.end = onset, end
    if not moved:
        return []
    return [f"{moved} of {len(struck)} notes moved to the grid, by at most {float(most):.3f} of a quarter"]


def _near(time: Fraction) -> Fraction:
    return min((Fraction(round(time * grid), grid) for grid in _GRIDS), key=lambda t: abs(t - time))


def _score(
    struck: list[_Struck],
    names: dict[int, str],
    meters: list[tuple[Fraction, int, int]],
    keys: list[tuple[Fraction, int, str]],
    tempos: list[tuple[Fraction, float]],
    one_track: bool,
    warnings: list[str],
) -> WrittenScore:
    if not struck:
        raise ScoreFault("there is no note in this file")
    bars = _bars(meters, max(note.end for note in struck))
    groups: dict[tuple[int, bool], list[_Struck]] = {}
    for note in struck:
        group = note.channel if one_track else note.track
        groups.setdefault((group, note.channel == _DRUMS), []).append(note)
    if len(groups) > MOST_PARTS:
        raise ScoreFault(f"the file has {len(groups)} parts", f"at most {MOST_PARTS}")
    parts = []
    for (group, drums), notes in sorted(groups.items()):
        name = f"channel {group + 1}" if one_track else names.get(group, "") or f"track {group + 1}"
        fifths = keys[0][1] if keys else 0
        written = () if drums else tuple(_notes(notes, bars, keys, fifths))
        parts.append(
            WrittenPart(
                name=name,
                bars=bars,
                notes=written,
                sounding=True,
                unpitched=len(notes) if drums else 0,
                meters=tuple(WrittenMeter(*_where(t, bars), n, d) for t, n, d in meters if _inside(t, bars)),
                keys=tuple(WrittenKey(*_where(t, bars), f, m) for t, f, m in keys if _inside(t, bars)),
                tempos=tuple(WrittenTempo(*_where(t, bars), bpm) for t, bpm in tempos if _inside(t, bars)),
            )
        )
    title = "" if one_track is False and len(parts) > 1 else names.get(0, "")
    return WrittenScore("MIDI", title, "", tuple(parts), tuple(warnings))


def _bars(meters: list[tuple[Fraction, int, int]], end: Fraction) -> tuple[WrittenBar, ...]:
    """Lay bars through the file; four quarters where it states no meter (SMF 1.0)."""
    bars: list[WrittenBar] = []
    here, length = Fraction(0), Fraction(4)
    following = list(meters)
    while here < end or not bars:
        while following and following[0][0] <= here:
            _, beats, unit = following.pop(0)
            length = Fraction(4 * max(beats, 1), max(unit, 1))
        until = here + length
        if following and here < following[0][0] < until:
            until = following[0][0]
        bars.append(WrittenBar(str(len(bars) + 1), here, until - here))
        if len(bars) > MOST_BARS:
            raise ScoreFault(f"the file has more than {MOST_BARS:,} bars")
        here = until
    return tuple(bars)


def _inside(time: Fraction, bars: tuple[WrittenBar, ...]) -> bool:
    return time < bars[-1].onset_quarter + bars[-1].duration_quarter


def _where(time: Fraction, bars: tuple[WrittenBar, ...]) -> tuple[int, Fraction]:
    low, high = 0, len(bars) - 1
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if bars[middle].onset_quarter <= time else (low, middle - 1)
    return low, time - bars[low].onset_quarter


def _notes(
    notes: list[_Struck],
    bars: tuple[WrittenBar, ...],
    keys: list[tuple[Fraction, int, str]],
    fifths: int,
) -> Iterable[WrittenNote]:
    following = list(keys)
    for note in sorted(notes, key=lambda n: (n.onset, n.midi)):
        while following and following[0][0] <= note.onset:
            fifths = following.pop(0)[1]
        bar, onset = _where(note.onset, bars)
        yield WrittenNote(bar, onset, note.end - note.onset, *spelled(note.midi, fifths))
