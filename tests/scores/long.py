"""One long tune in every kind of file: sixteenths, four notes again and again, sixteen in a bar."""

import io

import mido

from tests.scores.writing import musicxml, note

_BAR = ("E4", "G4", "B3", "E3")


def long_tune(suffix: str, notes: int) -> bytes:
    """A file of this kind with so many notes, rounded down to whole bars."""
    return _KINDS[suffix](notes // 16)


def _musicxml(bars: int) -> bytes:
    return musicxml(*["".join(note(pitch, 0.25) for pitch in _BAR * 4)] * bars).encode()


def _abc(bars: int) -> bytes:
    lines = "\n".join(["egBE egBE egBE egBE|"] * bars)
    return f"X:1\nT:Long\nM:4/4\nL:1/16\nK:C clef=treble-8\n{lines}\n".encode()


def _kern(bars: int) -> bytes:
    lines = [f"={bar}\n" + "16e\n16g\n16B\n16E\n" * 4 for bar in range(1, bars + 1)]
    return f"**kern\n*clefGv2\n*M4/4\n{''.join(lines)}==\n*-\n".encode()


def _mei(bars: int) -> bytes:
    inside = "".join(f'<note dur="16" pname="{p[0].lower()}" oct="{p[1]}"/>' for p in _BAR) * 4
    measures = "".join(
        f'<measure n="{bar}"><staff n="1"><layer n="1">{inside}</layer></staff></measure>'
        for bar in range(1, bars + 1)
    )
    return (
        '<mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.0"><meiHead><fileDesc><titleStmt>'
        "<title>Long</title></titleStmt><pubStmt/></fileDesc></meiHead><music><body><mdiv><score>"
        '<scoreDef meter.count="4" meter.unit="4" key.sig="0"><staffGrp><staffDef n="1" lines="5" '
        'clef.shape="G" clef.line="2" clef.dis="8" clef.dis.place="below"/></staffGrp></scoreDef>'
        f"<section>{measures}</section></score></mdiv></body></music></mei>"
    ).encode()


def _midi(bars: int) -> bytes:
    return midi_with_bends(bars * 16, 0)


def midi_with_bends(notes: int, bends: int) -> bytes:
    """A MIDI file in which every note is bent so often."""
    track = mido.MidiTrack()
    for number in (64, 67, 59, 52) * (notes // 4):
        track.append(mido.Message("note_on", note=number, time=0))
        track += [mido.Message("pitchwheel", pitch=bend, time=0) for bend in range(bends)]
        track.append(mido.Message("note_off", note=number, time=120))
    song = mido.MidiFile(type=1, ticks_per_beat=480)
    song.tracks.append(track)
    stream = io.BytesIO()
    song.save(file=stream)
    return stream.getvalue()


_KINDS = {".musicxml": _musicxml, ".abc": _abc, ".krn": _kern, ".mei": _mei, ".mid": _midi}
LONG_KINDS = tuple(_KINDS)
