"""Standard MIDI Files against other libraries: theirs read ours, ours reads theirs."""

import io
from pathlib import Path

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from midifret.terms import TimedMessage
from midifret.terms.marks import CuePoint, Mark, MarkKind, TypedName
from midifret.wire.take import Take, format_take, parse_take, read_take, write_take

# Six strings, string n on channel n as people count; open strings from the note table.
OPEN = (64, 59, 55, 50, 45, 40)
NOTES = [
    (0.5 * n, n % 6, OPEN[n % 6] + n % 13, 40 + n) for n in range(40)
]  # onset s, channel, MIDI, velocity
TAKE = Take(
    messages=tuple(
        message
        for onset_s, channel, midi, velocity in NOTES
        for message in (
            TimedMessage(onset_s, bytes((0x90 | channel, midi, velocity))),
            TimedMessage(onset_s + 0.25, bytes((0x80 | channel, midi, 0))),
        )
    ),
    drill="rows/row-5",
    seed=3,
    guitar="default",
    cues=tuple(CuePoint(n + 1, 0.5 * n) for n in range(40)),
    marks=(Mark(MarkKind.ENDED_EARLY, 20.0),),
    typed=(TypedName("F#", 7.0),),
)


def onsets(take: Take) -> list[tuple[float, int, int, int]]:
    return [
        (time_s, data[0] & 0x0F, data[1], data[2])
        for time_s, data in take.messages
        if data[0] & 0xF0 == 0x90 and data[2]
    ]


def test_mido_reads_what_we_write(tmp_path: Path) -> None:
    write_take(tmp_path / "take.mid", TAKE)
    file = mido.MidiFile(tmp_path / "take.mid")
    # The contract of takes: 2,000 ticks a second or finer.
    assert file.ticks_per_beat * 1_000_000 / 500_000 >= 2000
    time_s = 0.0
    notes, cues, texts, marks, lyrics = [], [], [], [], []
    for message in file:
        time_s += message.time
        if message.type == "note_on":
            notes.append((pytest.approx(time_s, abs=1e-4), message.channel, message.note, message.velocity))
        elif message.type == "cue_marker":
            cues.append((message.text, pytest.approx(time_s, abs=1e-4)))
        elif message.type == "text":
            texts.append((message.text, time_s))
        elif message.type == "marker":
            marks.append(message.text)
        elif message.type == "lyrics":
            lyrics.append(message.text)
    assert notes == NOTES
    assert cues == [(str(cue.n), cue.time_s) for cue in TAKE.cues]
    assert texts == [("drill: rows/row-5", 0.0), ("seed: 3", 0.0), ("guitar: default", 0.0)]
    assert (marks, lyrics) == (["ended early"], ["F#"])


def test_symusic_reads_what_we_write(tmp_path: Path) -> None:
    symusic = pytest.importorskip("symusic")
    write_take(tmp_path / "take.mid", TAKE)
    score = symusic.Score(tmp_path / "take.mid", ttype="second")
    notes = sorted((note.time, note.pitch, note.velocity) for track in score.tracks for note in track.notes)
    assert notes == [(pytest.approx(time_s, abs=1e-4), midi, loud) for time_s, _, midi, loud in sorted(NOTES)]
    assert all(
        note.duration == pytest.approx(0.25, abs=2e-4) for track in score.tracks for note in track.notes
    )


def test_pretty_midi_reads_what_we_write(tmp_path: Path) -> None:
    pretty_midi = pytest.importorskip("pretty_midi")
    write_take(tmp_path / "take.mid", TAKE)
    song = pretty_midi.PrettyMIDI(str(tmp_path / "take.mid"))
    notes = sorted(
        (note.start, note.pitch, note.velocity) for part in song.instruments for note in part.notes
    )
    assert notes == [(pytest.approx(time_s, abs=1e-4), midi, loud) for time_s, _, midi, loud in sorted(NOTES)]


def test_we_read_what_symusic_writes(tmp_path: Path) -> None:
    symusic = pytest.importorskip("symusic")
    score = symusic.Score(480)
    score.tempos.append(symusic.Tempo(0, 90.0))
    for channel in range(6):
        track = symusic.Track(name=f"string {channel + 1}")
        for onset_s, at, midi, velocity in NOTES:
            if at == channel:
                # At 90 quarters a minute, 480 ticks each: 720 ticks a second.
                track.notes.append(symusic.Note(round(onset_s * 720), 180, midi, velocity))
        score.tracks.append(track)
    path = tmp_path / "theirs.mid"
    score.dump_midi(path)
    ours = onsets(read_take(path))
    expected = [(pytest.approx(time_s, abs=1e-3), midi, velocity) for time_s, _, midi, velocity in NOTES]
    assert [(time_s, midi, velocity) for time_s, _, midi, velocity in ours] == expected
    # One channel a track, the strings kept apart.
    channels = {at: channel for (_, channel, _, _), (_, at, _, _) in zip(ours, NOTES, strict=True)}
    assert len(set(channels.values())) == 6
    assert all(channels[at] == channel for (_, channel, _, _), (_, at, _, _) in zip(ours, NOTES, strict=True))


def test_we_read_what_music21_writes(tmp_path: Path) -> None:
    music21 = pytest.importorskip("music21")
    score = music21.stream.Score()
    for channel in range(6):
        part = music21.stream.Part()
        part.insert(0, music21.instrument.Guitar())
        part.partName = f"string {channel + 1}"
        for onset_s, at, midi, velocity in NOTES:
            if at == channel:
                note = music21.note.Note(midi, quarterLength=0.5)
                note.volume.velocity = velocity
                part.insert(onset_s * 2, note)  # 120 quarters a minute, the default of the standard
        score.insert(0, part)
    path = tmp_path / "theirs.mid"
    score.write("midi", fp=path)
    ours = sorted((round(time_s, 2), midi, velocity) for time_s, _, midi, velocity in onsets(read_take(path)))
    first_s = ours[0][0]  # music21 may begin its files with a rest
    assert [(round(time_s - first_s, 2), midi, loud) for time_s, midi, loud in ours] == [
        (time_s, midi, velocity) for time_s, _, midi, velocity in sorted(NOTES)
    ]


steps = st.lists(
    st.tuples(
        st.integers(0, 2000),
        st.one_of(
            st.builds(
                lambda kind, channel, a, b: mido.Message.from_bytes((kind | channel, a, b)),
                st.sampled_from((0x80, 0x90, 0xB0, 0xE0)),
                st.integers(0, 15),
                st.integers(0, 127),
                st.integers(0, 127),
            ),
            st.builds(lambda tempo: mido.MetaMessage("set_tempo", tempo=tempo), st.integers(1, 0xFFFFFF)),
            st.builds(
                lambda data: mido.Message("sysex", data=data), st.lists(st.integers(0, 127), max_size=9)
            ),
        ),
    ),
    max_size=25,
)


@settings(max_examples=60)
@given(steps, st.integers(1, 32_767))
def test_any_one_track_that_mido_writes_is_read_as_mido_reads_it(
    track: list[tuple[int, mido.Message]], ticks_a_quarter: int
) -> None:
    file = mido.MidiFile(type=0, ticks_per_beat=ticks_a_quarter)
    file.tracks.append(mido.MidiTrack(message.copy(time=step) for step, message in track))
    written = io.BytesIO()
    file.save(file=written)
    theirs, time_s = [], 0.0
    for message in mido.MidiFile(file=io.BytesIO(written.getvalue())):
        time_s += message.time
        if not message.is_meta and message.type != "sysex":
            theirs.append((pytest.approx(time_s, rel=1e-9, abs=1e-9), bytes(message.bytes())))
    assert [tuple(message) for message in parse_take(written.getvalue(), "x").messages] == theirs


def test_a_take_read_and_written_again_is_the_same_file() -> None:
    once = format_take(TAKE)
    assert format_take(parse_take(once, "once")) == once
