"""Output that cannot be written, and recordings of no drill as JSON."""

import json
import subprocess
import sys
from pathlib import Path

import mido
import pytest

_FULL = Path("/dev/full")  # every write to it fails with "No space left on device" (full(4))


def _run(home: Path, *arguments: str, stdout: object = subprocess.PIPE) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", "from midifret.cli.main import main; main()", "--home", str(home)]
    return subprocess.run(
        [*command, *arguments], stdout=stdout, stderr=subprocess.PIPE, text=True, timeout=60, check=False
    )


@pytest.mark.skipif(not _FULL.exists(), reason="this system has no /dev/full")
@pytest.mark.parametrize(
    "arguments", [("drills",), ("drills", "--json"), ("places", "E4", "--json"), ("report",)], ids=" ".join
)
def test_a_full_disk_under_the_output_is_told(tmp_path: Path, arguments: tuple[str, ...]) -> None:
    with _FULL.open("w") as full:
        done = _run(tmp_path, *arguments, stdout=full)
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert "the output cannot be written" in done.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="no POSIX shell")
@pytest.mark.parametrize("arguments", [("drills",), ("drills", "--json")], ids=" ".join)
def test_an_output_that_is_closed_is_no_failure(tmp_path: Path, arguments: tuple[str, ...]) -> None:
    code = "from midifret.cli.main import main; main()"
    command = [sys.executable, "-c", code, "--home", str(tmp_path), *arguments]
    # "$@" >&- starts a program without standard output (POSIX, Shell Command Language, 2.7.6).
    done = subprocess.run(
        ["sh", "-c", '"$@" >&-', "sh", *command], stderr=subprocess.PIPE, text=True, timeout=60, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")


def _song(path: Path, *messages: mido.Message) -> Path:
    file = mido.MidiFile(type=0)
    file.tracks.append(mido.MidiTrack(messages))
    file.save(path)
    return path


def test_replay_of_a_recording_of_no_drill_is_one_document(tmp_path: Path) -> None:
    notes = [
        mido.Message("note_on", channel=0, note=64, velocity=80, time=0),
        mido.Message("note_off", channel=0, note=64, time=480),
    ]
    song = _song(tmp_path / "song.mid", *notes)
    replayed, decoded = (_run(tmp_path, command, str(song), "--json") for command in ("replay", "decode"))
    assert replayed.returncode == 0
    document = json.loads(replayed.stdout)
    assert document == json.loads(decoded.stdout)
    # E4 is the open first string of standard tuning.
    assert [(n["string"], n["fret"], n["name"]) for n in document["notes"]] == [(1, 0, "E4")]


def test_replay_of_silence_is_one_document_and_exit_1(tmp_path: Path) -> None:
    done = _run(tmp_path, "replay", str(_song(tmp_path / "silence.mid")), "--json")
    assert done.returncode == 1
    assert json.loads(done.stdout)["notes"] == []
    assert "no note" in done.stderr


def test_a_home_without_a_name_is_refused(tmp_path: Path) -> None:
    command = [sys.executable, "-c", "from midifret.cli.main import main; main()", "--home", "", "report"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False, cwd=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert "--home names no folder" in done.stderr
    assert not list(tmp_path.iterdir())
