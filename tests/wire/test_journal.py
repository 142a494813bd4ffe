"""The journal: nothing but the last moment is lost when a process dies, and nothing at all when it ends."""

import os
import signal
import stat
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.terms import TimedMessage, Unavailable
from midifret.terms.calibration import ViewKind
from midifret.terms.marks import CuePoint, DuePoint, Mark, MarkKind, TypedName
from midifret.wire.journal import Journal, recover
from midifret.wire.take import Take, read_take

ON, OFF = b"\x90\x40\x64", b"\x80\x40\x00"


def journal(folder: Path, *, thread: bool = False) -> Journal:
    return Journal(
        folder / "run.mid",
        drill="rows/row-5",
        seed=7,
        guitar="default",
        tempo_bpm=66.5,
        section=(12, 8),
        reading='{"title": "a\\nb"}',
        view=ViewKind.STAND,
        thread=thread,
    )


def play(journal: Journal) -> None:
    journal.cue(1, 1.0)
    journal.message(1.5, ON)
    journal.typed("F#", 1.75)
    journal.mark(MarkKind.PAUSE, 2.0)
    journal.due(1, 2.0, 0.125)
    journal.due(2, 2.5, 0.125)
    journal.due(3, 3.0, 0.125)
    journal.forget_due_from(2)
    journal.due(2, 3.25, 0.1)
    journal.cue(1, 3.0)  # cued again: the later time holds
    journal.message(3.5, OFF)


PLAYED = Take(
    messages=(TimedMessage(1.5, ON), TimedMessage(3.5, OFF)),
    drill="rows/row-5",
    seed=7,
    guitar="default",
    cues=(CuePoint(1, 3.0),),
    marks=(Mark(MarkKind.PAUSE, 2.0),),
    typed=(TypedName("F#", 1.75),),
    tempo_bpm=66.5,
    section=(12, 8),
    reading='{"title": "a\\nb"}',
    view=ViewKind.STAND,
    dues=(DuePoint(1, 2.0, 0.125), DuePoint(2, 3.25, 0.1)),
)
ENDED_EARLY = (*PLAYED.marks, Mark(MarkKind.ENDED_EARLY, 3.5))


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


@pytest.mark.parametrize("thread", [False, True])
def test_a_run_that_ends_in_order_leaves_a_take_and_no_journal(tmp_path: Path, thread: bool) -> None:
    running = journal(tmp_path, thread=thread)
    play(running)
    running.check()
    assert running.close() == PLAYED
    assert read_take(tmp_path / "run.mid") == PLAYED
    assert names(tmp_path) == {"run.mid"}
    assert not [thread for thread in threading.enumerate() if thread.name == "journal"]


def test_taking_down_touches_no_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    running = journal(tmp_path)
    size = running.path.stat().st_size

    def refuse(*_: object) -> int:
        raise AssertionError("the disk was touched")

    with monkeypatch.context() as patch:
        for name in ("write", "fsync", "open"):
            patch.setattr(os, name, refuse)
        play(running)
        running.check()
    assert running.path.stat().st_size == size
    running.flush()
    assert running.path.stat().st_size > size
    running.discard()
    assert names(tmp_path) == set()


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such rights")
def test_a_journal_belongs_to_its_owner_only(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        running = journal(tmp_path)
    finally:
        os.umask(before)
    assert stat.S_IMODE(running.path.stat().st_mode) == 0o600
    running.discard()


def test_the_disk_is_asked_at_most_once_a_second(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    now_s = [1000.0]
    synced: list[float] = []
    monkeypatch.setattr("midifret.wire.journal.time.monotonic", lambda: now_s[0])
    running = journal(tmp_path)
    monkeypatch.setattr(os, "fsync", lambda handle: synced.append(now_s[0]))
    for _ in range(100):
        now_s[0] += 0.05
        running.message(0.0, ON)
        running.flush()
    assert 4 <= len(synced) <= 6  # in 5 s
    now_s[0] += 5.0
    running.flush()
    count = len(synced)
    now_s[0] += 5.0
    running.flush()  # nothing new was written
    assert len(synced) == count
    running.discard()


def test_a_full_disk_is_told_and_nothing_is_lost_once_there_is_room(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    running = journal(tmp_path)
    write = os.write

    def nearly_full(handle: int, data: bytes) -> int:
        if len(data) <= 5:
            raise OSError(28, "No space left on device")
        return write(handle, data[:5])  # the disk takes a part of a line, then nothing

    with monkeypatch.context() as patch:
        patch.setattr(os, "write", nearly_full)
        running.message(1.5, ON)
        running.flush()
        with pytest.raises(Unavailable, match=r"run\.journal.*No space left on device.*free some disk space"):
            running.check()
    play(running)
    running.flush()
    running.check()
    take = running.close()
    assert take.messages == (TimedMessage(1.5, ON), *PLAYED.messages)


def test_a_disk_too_full_for_the_take_keeps_the_journal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    running = journal(tmp_path)
    play(running)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(Path, "replace", full)
        with pytest.raises(Unavailable, match="No space left"):
            running.close()
    assert names(tmp_path) == {"run.journal"}
    (recovered,) = recover(tmp_path)
    assert recovered.take is not None
    assert recovered.take.messages == PLAYED.messages
    assert names(tmp_path) == {"run.mid"}


def test_a_disk_that_is_full_from_the_start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> int:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, "write", full)
        with pytest.raises(Unavailable, match="No space left"):
            journal(tmp_path)
    assert names(tmp_path) == set()


def test_a_journal_left_over_is_not_written_over(tmp_path: Path) -> None:
    (tmp_path / "run.journal").write_text("precious")
    with pytest.raises(Unavailable, match="left over"):
        journal(tmp_path)
    assert (tmp_path / "run.journal").read_text() == "precious"
    assert names(tmp_path) == {"run.journal"}


def test_a_folder_that_takes_no_files(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("not a folder")
    with pytest.raises(Unavailable, match="cannot be written"):
        journal(tmp_path / "file")


def test_two_runs_do_not_write_one_take(tmp_path: Path) -> None:
    first = journal(tmp_path)
    with pytest.raises(Unavailable, match="another run writes this take"):
        journal(tmp_path)
    play(first)
    assert first.close() == PLAYED


KILLED = """
import sys, time
from pathlib import Path
from midifret.wire.journal import Journal
journal = Journal(Path(sys.argv[1]) / "run.mid", drill="rows/row-5", seed=7, guitar="default")
journal.cue(1, 1.0)
for n in range(200):
    journal.message(1.5 + n / 1000, bytes((0x90, 0x40, 1 + n % 127)))
size = journal.path.stat().st_size
deadline_s = time.monotonic() + 10
while b"m 1.699" not in journal.path.read_bytes() and time.monotonic() < deadline_s:
    time.sleep(0.005)
print("written", flush=True)
time.sleep(60)
"""


def test_a_killed_process_leaves_a_journal_that_becomes_a_take(tmp_path: Path) -> None:
    command = [sys.executable, "-c", KILLED, str(tmp_path)]
    child = subprocess.Popen(command, stdout=subprocess.PIPE)
    try:
        assert child.stdout is not None
        assert child.stdout.readline() == b"written\n"
        assert recover(tmp_path) == ()  # it lives: its journal is left alone
        assert "run.journal" in names(tmp_path)
        with pytest.raises(Unavailable, match="another run"):
            journal(tmp_path)
        child.send_signal(signal.SIGKILL if os.name != "nt" else signal.SIGTERM)
        child.wait(10)
    finally:
        child.kill()
        child.wait()
    (recovered,) = recover(tmp_path)
    assert recovered.take_path == tmp_path / "run.mid"
    assert (recovered.damaged_lines, recovered.problem) == (0, "")
    take = read_take(recovered.take_path)
    assert [data for _, data in take.messages] == [bytes((0x90, 0x40, 1 + n % 127)) for n in range(200)]
    assert (take.drill, take.seed, take.guitar) == ("rows/row-5", 7, "default")
    assert take.cues == (CuePoint(1, 1.0),)
    assert [mark.kind for mark in take.marks] == [MarkKind.ENDED_EARLY]
    assert names(tmp_path) == {"run.mid"}
    assert recover(tmp_path) == ()


def test_a_journal_torn_at_any_byte_gives_what_came_before(tmp_path: Path) -> None:
    running = journal(tmp_path)
    play(running)
    running.flush()
    data = running.path.read_bytes()
    running.discard()
    first_line = data.index(b"\n") + 1
    for length in range(1, len(data) + 1):
        (tmp_path / "run.journal").write_bytes(data[:length])
        (recovered,) = recover(tmp_path)
        if length < first_line:
            assert "not a journal" in recovered.problem
            assert names(tmp_path) == {"run.journal"}
            continue
        assert recovered.damaged_lines == 0
        assert recovered.take is not None
        whole = data[:length].count(b"\nm ", 0, data.rindex(b"\n", 0, length) + 1)
        assert recovered.take.messages == PLAYED.messages[:whole]
        assert names(tmp_path) == {"run.mid"}
        (tmp_path / "run.mid").unlink()
    assert recovered.take is not None
    assert recovered.take.marks == ENDED_EARLY


def test_damaged_lines_are_left_out_and_counted(tmp_path: Path) -> None:
    running = journal(tmp_path)
    play(running)
    running.flush()
    data = running.path.read_bytes()
    running.discard()
    bad = b"m 9 zz\n\0\0\0\0\nm nan 904064\nc 1 x\nk 1 nap\nt 1 5\nz 1 1\nm -1 904064\n\xff\xfe\nseed x\n"
    (tmp_path / "run.journal").write_bytes(data + bad)
    (recovered,) = recover(tmp_path)
    assert recovered.damaged_lines == bad.count(b"\n")
    assert recovered.take is not None
    assert recovered.take.messages == PLAYED.messages


@given(st.binary(max_size=120))
def test_any_bytes_in_a_journal_are_a_take_or_a_problem(
    tmp_path_factory: pytest.TempPathFactory, data: bytes
) -> None:
    folder = tmp_path_factory.mktemp("any")
    (folder / "run.journal").write_bytes(b"midifret journal 1\n" + data)
    (recovered,) = recover(folder)
    assert recovered.problem == ""
    assert read_take(folder / "run.mid").marks[-1].kind is MarkKind.ENDED_EARLY


def test_an_empty_journal_is_cleared_away_and_a_strange_one_kept(tmp_path: Path) -> None:
    (tmp_path / "empty.journal").touch()
    (tmp_path / "mine.journal").write_text("Dear diary")
    (tmp_path / "other.mid").touch()
    (recovered,) = recover(tmp_path)
    assert recovered.journal_path.name == "mine.journal"
    assert "not a journal" in recovered.problem
    assert names(tmp_path) == {"mine.journal", "other.mid"}
    assert recover(tmp_path / "nowhere") == ()


def test_withdrawn_cues_are_not_in_the_take(tmp_path: Path) -> None:
    """A note that turned out to be another one had cued prompt 3 for nothing."""
    journal = Journal(tmp_path / "take.mid", drill="x", thread=False)
    for n, time_s in ((1, 1.0), (2, 2.0), (3, 3.0)):
        journal.cue(n, time_s)
    journal.withdraw_from(2)
    journal.cue(2, 2.0)
    assert [(cue.n, cue.time_s) for cue in journal.close().cues] == [(1, 1.0), (2, 2.0)]


def test_a_cue_that_nobody_told_of_says_so_until_it_is_told(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "take.mid", drill="x", thread=False)
    journal.cue(1, 1.0, sure=False)
    journal.cue(1, 1.02)
    journal.cue(2, 2.0, sure=False)
    told = (CuePoint(1, 1.02), CuePoint(2, 2.0, sure=False))
    assert journal.close().cues == told
    assert read_take(tmp_path / "take.mid").cues == told
