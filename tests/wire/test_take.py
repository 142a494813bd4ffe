"""Takes written and read back; any file of type 0 or 1 read; damaged ones refused with the byte at fault."""

import os
import stat
import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.terms import BadInput, TimedMessage, Unavailable
from midifret.terms.calibration import ViewKind
from midifret.terms.marks import CuePoint, DuePoint, Mark, MarkKind, TypedName
from midifret.wire import smf
from midifret.wire.take import (
    TICKS_A_SECOND,
    Take,
    format_take,
    parse_take,
    read_take,
    write_take,
)

TAKE = Take(
    messages=(
        TimedMessage(0.0, b"\xb0\x65\x00"),
        TimedMessage(1.5, b"\x90\x40\x64"),
        TimedMessage(1.5, b"\xe0\x00\x40"),
        TimedMessage(2.0001, b"\x80\x40\x00"),
        TimedMessage(700.0, b"\xc5\x07"),
    ),
    drill="rows/row-5 – Übung",
    seed=-3,
    guitar="default",
    cues=(CuePoint(1, 1.0), CuePoint(2, 2.5)),
    marks=(
        Mark(MarkKind.PAUSE, 3.0),
        Mark(MarkKind.RESUME, 9.25),
        Mark(MarkKind.SKIP, 9.5),
        Mark(MarkKind.SIGNAL, 9.75),
        Mark(MarkKind.GONE, 10.0),
        Mark(MarkKind.VOID, 11.0),
        Mark(MarkKind.ENDED_EARLY, 700.0),
    ),
    tempo_bpm=66.5,
    section=(12, 8),
    dues=(DuePoint(1, 2.0, 0.125), DuePoint(2, 2.9023, 0.1)),
    typed=(TypedName("F#", 1.75), TypedName("Bb", 2.75)),
    reading='{"notes":["0","1","G3"],"title":"a: b"}',
    view=ViewKind.STAND,
)


def varlen(number: int) -> bytes:
    """A number of seven bits a byte (SMF 1.0)."""
    data = bytes((number & 0x7F,))
    while number := number >> 7:
        data = bytes((number & 0x7F | 0x80,)) + data
    return data


def file_of(*tracks: bytes, kind: int = 1, division: int = 480, count: int | None = None) -> bytes:
    """A Standard MIDI File by hand, after SMF 1.0."""
    head = b"MThd" + (6).to_bytes(4, "big") + kind.to_bytes(2, "big")
    head += (len(tracks) if count is None else count).to_bytes(2, "big") + division.to_bytes(2, "big")
    return head + b"".join(b"MTrk" + len(track).to_bytes(4, "big") + track for track in tracks)


END = b"\x00\xff\x2f\x00"


def test_a_take_comes_back_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "take.mid"
    write_take(path, TAKE)
    back = read_take(path)
    assert [data for _, data in back.messages] == [data for _, data in TAKE.messages]
    # Times are kept to a tick, a ten-thousandth of a second.
    for name in ("messages", "cues", "marks", "typed"):
        times = [(a.time_s, b.time_s) for a, b in zip(getattr(TAKE, name), getattr(back, name), strict=True)]
        assert all(abs(one - other) <= 0.5 / TICKS_A_SECOND + 1e-9 for one, other in times)
    assert (back.drill, back.seed, back.guitar) == (TAKE.drill, TAKE.seed, TAKE.guitar)
    assert [cue.n for cue in back.cues] == [1, 2]
    assert [mark.kind for mark in back.marks] == list(MarkKind)
    assert (back.tempo_bpm, back.section) == (TAKE.tempo_bpm, TAKE.section)
    assert (back.reading, back.view) == (TAKE.reading, ViewKind.STAND)
    assert [(due.n, due.half_window_s) for due in back.dues] == [(1, 0.125), (2, 0.1)]
    assert [due.due_s for due in back.dues] == pytest.approx([2.0, 2.9023])
    assert [typed.name for typed in back.typed] == ["F#", "Bb"]
    assert back.end_s == pytest.approx(700.0)


def test_the_music_of_a_long_reading_is_kept_whole() -> None:
    # Some 60 bytes a note: more than one byte of length in the file (SMF 1.0: seven bits each).
    text = "x" * 60 * 20_000
    assert parse_take(format_take(Take((), reading=text)), "long").reading == text


@pytest.mark.parametrize("lines", [(), ("view: ",), ("view: mirror",), ("View: stand",)])
def test_a_take_that_names_no_view_that_is_known_has_none(lines: tuple[str, ...]) -> None:
    texts = b"".join(b"\x00\xff\x01" + varlen(len(line)) + line.encode() for line in ("drill: x", *lines))
    take = parse_take(file_of(texts + END), "old")
    assert (take.drill, take.view) == ("x", None)


def test_an_empty_take_is_a_whole_file() -> None:
    assert parse_take(format_take(Take(())), "empty") == Take(())


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such rights")
def test_a_take_belongs_to_its_owner_only(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        write_take(tmp_path / "take.mid", TAKE)
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "take.mid").stat().st_mode) == 0o600
    assert [path.name for path in tmp_path.iterdir()] == ["take.mid"]


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(Unavailable, match=r"nowhere.*cannot be written"):
        write_take(tmp_path / "nowhere" / "take.mid", TAKE)


@pytest.mark.parametrize("step", ["write", "fsync", "replace"])
def test_a_full_disk_leaves_the_take_before_it_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    path = tmp_path / "take.mid"
    write_take(path, Take((TimedMessage(0.0, b"\x90\x40\x40"),)))
    before = path.read_bytes()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    if step == "fsync":
        monkeypatch.setattr(os, "fsync", full)
    elif step == "replace":
        monkeypatch.setattr(Path, "replace", full)
    else:
        monkeypatch.setattr(os, "fdopen", full)
    with pytest.raises(Unavailable, match="No space left"):
        write_take(path, TAKE)
    assert path.read_bytes() == before
    assert [left.name for left in tmp_path.iterdir()] == ["take.mid"]


def test_a_pause_of_ten_hours_fits() -> None:
    # Two events are at most 0FFFFFFF ticks apart (SMF 1.0), which is 7.4 hours here.
    take = Take((TimedMessage(0.0, b"\x90\x40\x40"), TimedMessage(36_000.0, b"\x80\x40\x00")))
    assert parse_take(format_take(take), "long").messages[1].time_s == pytest.approx(36_000.0)


def test_what_is_no_channel_message_is_left_out_of_a_take() -> None:
    kept = TimedMessage(1.0, b"\x90\x40\x40")
    strange = [b"\xf8", b"\xf0\x01\xf7", b"\x90\x40", b"", b"\x40\x40", b"\x90\xff\x40", b"\xff\x2f\x00"]
    take = Take((*(TimedMessage(0.5, data) for data in strange), kept))
    assert parse_take(format_take(take), "x").messages == (kept,)


messages = st.one_of(
    st.builds(
        lambda kind, channel, a, b: bytes((kind | channel, a, b)),
        st.sampled_from((0x80, 0x90, 0xA0, 0xB0, 0xE0)),
        st.integers(0, 15),
        st.integers(0, 127),
        st.integers(0, 127),
    ),
    st.builds(
        lambda kind, channel, a: bytes((kind | channel, a)),
        st.sampled_from((0xC0, 0xD0)),
        st.integers(0, 15),
        st.integers(0, 127),
    ),
)


@given(st.lists(st.tuples(st.integers(0, 10**6), messages), max_size=40))
def test_any_messages_come_back_in_their_order(steps: list[tuple[int, bytes]]) -> None:
    tick, timed = 0, []
    for step, data in steps:
        tick += step
        timed.append(TimedMessage(tick / TICKS_A_SECOND, data))
    back = parse_take(format_take(Take(tuple(timed))), "x").messages
    assert [data for _, data in back] == [data for _, data in timed]
    assert [time_s for time_s, _ in back] == pytest.approx([time_s for time_s, _ in timed], abs=1e-6)


@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    for candidate in (data, file_of(data + END), file_of(data), file_of(data, kind=0, division=0xE728)):
        refused = None
        try:
            take = parse_take(candidate, "x")
        except BadInput as error:
            refused = error
        if refused is not None:
            assert refused.message.startswith("x: byte ")
            assert refused.allowed
        else:
            assert all(0x80 <= data[0] < 0xF0 and data[1:].isascii() for _, data in take.messages)


def test_a_file_cut_at_any_byte_is_refused_with_its_length() -> None:
    whole = format_take(TAKE)
    for length in range(len(whole)):
        with pytest.raises(BadInput) as refused:
            parse_take(whole[:length], "cut.mid")
        offset = int(str(refused.value).split("byte ")[1].split(":")[0])
        assert offset in (length, 0), str(refused.value)


# Byte counts: a header is 14 bytes, a track begins with 8; see file_of.
@pytest.mark.parametrize(
    ("data", "where", "what"),
    [
        (b"", 0, "empty"),
        (b"RIFF" + bytes(40), 0, "not a MIDI file"),
        (b"MThd\x00\x00\x00\x06\x00", 9, "inside its header"),
        (b"MThd\x00\x00\x00\x05" + bytes(10), 4, "too short"),
        (file_of(END, kind=2), 8, "type 2"),
        (file_of(END, kind=7), 8, "no type 7"),
        (file_of(END, count=0), 10, "no track"),
        (file_of(END, division=0), 12, "0 ticks"),
        (file_of(END, division=0xE600), 12, "26 frames"),
        (file_of(END, division=0xE800), 12, "24 frames with 0 ticks"),
        (file_of(END, count=2), 26, "after 1 of 2 tracks"),
        (file_of(b"\x00\x40\x40"), 23, "status byte"),
        (file_of(b"\x00\x90\x40\xc0" + END), 24, "data byte over 127"),
        (file_of(b"\x00\x90\x40"), 25, "inside an event"),
        (file_of(b"\x00\xff\x01\x7f" + END), 30, "inside an event"),
        (file_of(b"\x00\xf5" + END), 23, "not defined"),
        (file_of(b"\x81\x82\x83\x84\x05\x90\x40\x40" + END), 25, "more than four bytes"),
        (file_of(b"\x00\xff\x51\x03\x00\x00\x00" + END), 26, "tempo"),
        (file_of(b"\x00\xff\x51\x01\x07" + END), 26, "tempo"),
    ],
)
def test_a_damaged_file_is_refused_with_the_byte_at_fault(data: bytes, where: int, what: str) -> None:
    with pytest.raises(BadInput, match=rf"song\.mid: byte {where}: .*{what}"):
        parse_take(data, "song.mid")


def test_a_file_too_large_is_refused_before_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "huge.mid"
    with path.open("wb") as file:
        file.write(file_of(END))
        file.truncate(3_000_000_000)  # takes no room on the disk
    with pytest.raises(BadInput, match=r"huge\.mid: the file is too large.*16,000,000"):
        read_take(path)


def test_a_file_that_is_not_there_or_a_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(Unavailable, match=r"none\.mid: No such file"):
        read_take(tmp_path / "none.mid")
    with pytest.raises(Unavailable, match="directory"):
        read_take(tmp_path)


def test_tempo_changes_hold_for_all_tracks() -> None:
    # 480 ticks a quarter: 0.5 s until the tempo is set to 1 s a quarter at tick 480, then 0.25 s at 960.
    tempo = b"\x83\x60\xff\x51\x03\x0f\x42\x40" + b"\x83\x60\xff\x51\x03\x03\xd0\x90" + END
    notes = b"".join(b"\x83\x60\x90\x40" + bytes((velocity,)) for velocity in (1, 2, 3)) + END
    for tracks in ((tempo, notes), (notes, tempo)):
        times = [time_s for time_s, _ in parse_take(file_of(*tracks), "x").messages]
        assert times == pytest.approx([0.5, 1.5, 1.75])


@pytest.mark.parametrize(
    ("frames", "rate"),
    # SMPTE frame rates; 29 in the header is 30 drop, 29.97 frames a second (SMF 1.0).
    [(24, 24.0), (25, 25.0), (29, 30_000 / 1001), (30, 30.0)],
)
def test_smpte_time_is_converted_and_knows_no_tempo(frames: int, rate: float) -> None:
    division = (256 - frames) << 8 | 40  # 40 ticks a frame
    track = b"\x00\xff\x51\x03\x01\x00\x00" + varlen(40 * 100) + b"\x90\x40\x40" + END
    (message,) = parse_take(file_of(track, division=division), "x").messages
    assert message.time_s == pytest.approx(100 / rate)


def test_within_a_tick_a_note_ends_before_another_track_begins_one_on_its_string() -> None:
    first = b"\x00\x90\x40\x40" + b"\x60\x80\x40\x00" + END
    second = b"\x60\x90\x42\x40" + END
    for tracks in ((first, second), (second, first)):
        data = [data for _, data in parse_take(file_of(*tracks), "x").messages]
        assert data == [b"\x90\x40\x40", b"\x80\x40\x00", b"\x90\x42\x40"]


def test_within_a_tick_one_track_keeps_its_order() -> None:
    # A note that begins and ends in the same tick must not end before it begins.
    track = b"\x00\x90\x40\x40\x00\x40\x00\x00\x41\x40" + END
    data = [data for _, data in parse_take(file_of(track), "x").messages]
    assert data == [b"\x90\x40\x40", b"\x90\x40\x00", b"\x90\x41\x40"]


def test_what_does_not_matter_here_is_stepped_over() -> None:
    odd = b"\x00\xff\x59\x02\x63\x63"  # a key signature that there is not
    odd += b"\x00\xff\x7f\x03\x00\x01\x02" + b"\x00\xf0\x03\x7e\x01\xf7" + b"\x00\xf7\x02\xf3\x01"
    odd += b"\x00\xf8" + b"\x00\xf2\x01\x02" + b"\x00\xff\x07\x03abc" + b"\x00\xff\x06\x04Coda"
    track = b"\x00\x90\x40\x40" + odd + b"\x0a\x80\x40\x00" + END + b"\x00\x90\x01\x01"  # after the end
    alien = b"XFIH\x00\x00\x00\x05hello"  # other chunks are to be skipped (SMF 1.0)
    whole = file_of(track)
    take = parse_take(whole[:14] + alien + whole[14:] + b"\x00junk", "x")
    assert [data for _, data in take.messages] == [b"\x90\x40\x40", b"\x80\x40\x00"]
    assert (take.cues, take.marks) == ((), ())


def test_a_longer_header_is_read() -> None:
    # "More parameters may be added to the MThd chunk in the future" (SMF 1.0).
    whole = file_of(b"\x00\x90\x40\x40" + END)
    longer = b"MThd\x00\x00\x00\x08" + whole[8:14] + b"\x12\x34" + whole[14:]
    assert len(parse_take(longer, "x").messages) == 1


def test_words_of_other_peoples_files_are_not_typed_names() -> None:
    lyric = b"\x00\xff\x05\x02Bb"
    drill = b"\x00\xff\x01\x08drill: x"
    assert parse_take(file_of(lyric + END), "x").typed == ()
    assert parse_take(file_of(drill + lyric + END), "x").typed == (TypedName("Bb", 0.0),)


def test_texts_in_an_old_encoding_are_read() -> None:
    text = "drill: Übung".encode("latin-1")
    track = b"\x00\xff\x01" + bytes((len(text),)) + text + END
    assert parse_take(file_of(track), "x").drill == "Übung"


def test_half_a_million_events_are_read_in_bounded_time() -> None:
    body = b"\x00\xe0\x00\x40" + b"".join(b"\x01" + bytes((n & 0x7F, 0x40)) for n in range(500_000))
    start_s = time.perf_counter()
    assert len(parse_take(file_of(body + END), "x").messages) == 500_001
    assert time.perf_counter() - start_s < 10.0  # 1 s on a quiet machine
    assert len(body) < smf.LARGEST_FILE_BYTES
