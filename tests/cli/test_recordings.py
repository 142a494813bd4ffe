"""Commands on recordings, and the demo: documents, exit codes, and what they say of faulty files."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import mido
import pytest

from midifret.cli.main import run
from midifret.wire.take import read_take

OPEN = (64, 59, 55, 50, 45, 40)  # music21 instrument.Guitar().stringPitches

Call = Callable[..., tuple[int, Any, str]]


@pytest.fixture
def call(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Call:
    """Run a command with --json in a home of its own; return exit code, document and standard error."""

    def run_it(*arguments: str) -> tuple[int, Any, str]:
        code = run(["--home", str(tmp_path / "home"), *arguments, "--json"])
        captured = capsys.readouterr()
        return code, json.loads(captured.out) if captured.out else None, captured.err

    return run_it


def write(path: Path, plucks: list[tuple[float, int, int]], cues: dict[int, float] | None = None) -> Path:
    """Write plucks (seconds, string, fret) with mido: one track, 1,000 ticks a second."""
    events: list[tuple[float, int, mido.Message | mido.MetaMessage]] = []
    for time_s, string, fret in plucks:
        key = OPEN[string - 1] + fret
        events.append((time_s, 1, mido.Message("note_on", channel=string - 1, note=key, velocity=80)))
        events.append((time_s + 0.2, 0, mido.Message("note_off", channel=string - 1, note=key)))
    for n, time_s in (cues or {}).items():
        events.append((time_s, 2, mido.MetaMessage("cue_marker", text=str(n))))
    events.sort(key=lambda event: event[:2])
    track, last = mido.MidiTrack(), 0
    for time_s, _, message in events:
        tick = round(time_s * 1000)
        track.append(message.copy(time=tick - last))
        last = tick
    file = mido.MidiFile(type=0, ticks_per_beat=500)
    file.tracks.append(track)
    file.save(path)
    return path


ROW_5 = [(6, 5), (5, 5), (4, 5), (3, 5), (2, 5), (1, 5), (2, 5), (3, 5), (4, 5), (5, 5), (6, 5)]


def perfect(path: Path) -> Path:
    return write(path, [(1.0 + i, string, fret) for i, (string, fret) in enumerate(ROW_5)])


def test_decode_prints_every_key_of_its_contract(call: Call, tmp_path: Path) -> None:
    code, document, _ = call("decode", str(write(tmp_path / "t.mid", [(0.5, 6, 5), (1.5, 1, 0)])))
    assert code == 0
    assert set(document) == {"notes", "voided", "warnings"}
    first, second = document["notes"]
    assert {"time_s", "string", "fret", "midi", "name", "velocity", "duration_s", "channel", "attack"} <= set(
        first
    )
    assert (first["string"], first["fret"], first["midi"], first["name"]) == (6, 5, 45, "A2")
    assert (second["name"], second["channel"], second["attack"]) == ("E4", 1, "plucked")
    assert first["time_s"] == pytest.approx(0.5)
    assert first["duration_s"] == pytest.approx(0.2)


def test_a_recording_without_a_note_ends_with_1(call: Call, tmp_path: Path) -> None:
    path = str(write(tmp_path / "empty.mid", []))
    assert call("decode", path)[:2] == (1, {"notes": [], "voided": [], "warnings": []})
    code, document, error = call("judge", "row-5-leap-1", path)
    assert code == 1
    assert [answer["verdict"] for answer in document["answers"]] == ["missed"] * 11
    assert "no note" in error
    assert call("replay", path)[0] == 1


def test_a_perfect_recording_meets_its_gate(call: Call, tmp_path: Path) -> None:
    code, document, _ = call("judge", "row-5-leap-1", str(perfect(tmp_path / "t.mid")))
    assert code == 0
    assert document["drill"] == "row-5-leap-1"
    assert {"prompts", "right", "accuracy", "median_response_s", "median_recall_s", "gate_met"} <= set(
        document["summary"]
    )
    assert (document["summary"]["accuracy"], document["summary"]["gate_met"]) == (1.0, True)
    first = document["answers"][0]
    keys = {"n", "cue_s", "answer_s", "verdict", "asked", "played", "corrections", "response_s", "recall_s"}
    assert keys <= set(first)
    assert first["asked"]["places"] == [{"string": 6, "fret": 5}]
    assert first["asked"]["name"] == "A2"


def test_a_gate_not_met_ends_with_1(call: Call, tmp_path: Path) -> None:
    plucks = [(1.0, 6, 4)] + [(2.0 + i, string, fret) for i, (string, fret) in enumerate(ROW_5)]
    code, document, _ = call("judge", "row-5-leap-1", str(write(tmp_path / "t.mid", plucks)))
    assert code == 1
    first = document["answers"][0]
    assert (first["verdict"], first["played"]["fret"]) == ("fret-off", 4)
    assert [(note["string"], note["fret"]) for note in first["corrections"]] == [(6, 5)]


def test_cue_points_date_the_prompts(call: Call, tmp_path: Path) -> None:
    cues = {n: n - 0.6 for n in range(1, 12)}
    plucks = [(n + 0.0, *ROW_5[n - 1]) for n in range(1, 12)]
    _, document, _ = call("judge", "row-5-leap-1", str(write(tmp_path / "t.mid", plucks, cues)))
    assert [answer["response_s"] for answer in document["answers"]] == pytest.approx([0.6] * 11)
    assert document["answers"][2]["cue_s"] == pytest.approx(2.4)


def test_a_note_off_the_neck_is_warned_of_and_wrong(call: Call, tmp_path: Path) -> None:
    path = tmp_path / "t.mid"
    plucks = [(1.0, 1, 30)] + [(2.0 + i, string, fret) for i, (string, fret) in enumerate(ROW_5)]
    code, document, error = call("judge", "row-5-leap-1", str(write(path, plucks)))
    assert code == 1
    assert document["answers"][0]["verdict"] == "wrong"
    assert document["answers"][0]["played"]["string"] is None
    assert "fret 30 of string 1" in error


def test_replay_stops_at_each_mistake(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plucks = [(1.0, 6, 4)] + [(2.0 + i, string, fret) for i, (string, fret) in enumerate(ROW_5)]
    path = str(write(tmp_path / "t.mid", plucks))
    assert run(["--home", str(tmp_path / "h"), "replay", path, "--drill", "row-5-leap-1"]) == 0
    text = capsys.readouterr().out
    assert "Prompt 1: A on string 6, fret 5" in text
    assert "Right string, one fret too low." in text
    assert "1 of 1" in text
    assert run(["--home", str(tmp_path / "h"), "replay", path]) == 0
    assert "Note 12: A on string 6, fret 5" in capsys.readouterr().out


def test_replay_of_a_perfect_take_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = str(perfect(tmp_path / "t.mid"))
    assert run(["--home", str(tmp_path / "h"), "replay", path, "--drill", "row-5-leap-1"]) == 0
    assert "All 11 answers were right" in capsys.readouterr().out


@pytest.mark.parametrize("command", [["decode"], ["judge", "row-5-leap-1"], ["replay"]])
@pytest.mark.parametrize("content", [b"", b"MThd", b"hello", b"MThd\0\0\0\6\0\2\0\1\1\xe0MTrk\0\0\0\0"])
def test_a_file_that_is_no_recording(call: Call, tmp_path: Path, command: list[str], content: bytes) -> None:
    path = tmp_path / "broken.mid"
    path.write_bytes(content)
    code, document, error = call(*command, str(path))
    assert (code, document) == (2, None)
    assert "broken.mid" in error
    assert "Traceback" not in error


def test_the_demo_plays_and_keeps_apart_from_people(call: Call) -> None:
    code, document, _ = call("demo", "--fast")
    assert code == 0
    assert "in process" in document["transport"]
    assert len(document["runs"]) == 5
    assert all(run["answers"] for run in document["runs"])
    assert document["report"]["simulated"] is True
    assert document["report"]["answers"] == sum(len(run["answers"]) for run in document["runs"])
    _, people, _ = call("report")
    assert people["answers"] == 0


def test_the_takes_of_the_demo_are_judged_as_they_were_live(call: Call, tmp_path: Path) -> None:
    _, document, _ = call("demo", "--fast")
    takes = {read_take(path).drill: path for path in (tmp_path / "home" / "takes").glob("*.mid")}
    assert len(takes) == 5
    for played in document["runs"]:
        _, judged, _ = call("judge", played["drill"], str(takes[played["drill"]]))
        assert [a["verdict"] for a in judged["answers"]] == [a["verdict"] for a in played["answers"]]
        late = [
            (a["late_ms"], b["late_ms"]) for a, b in zip(judged["answers"], played["answers"], strict=True)
        ]
        for again, live in late:
            assert again == (None if live is None else pytest.approx(live, abs=0.2))  # kept to 0.1 ms
    assert judged["summary"]["tempo"]["tempo_bpm"] == 96


def test_the_demo_plays_the_same_each_time(call: Call) -> None:
    first, second = call("demo", "--fast")[1], call("demo", "--fast")[1]
    assert [[a["verdict"] for a in run["answers"]] for run in first["runs"]] == [
        [a["verdict"] for a in run["answers"]] for run in second["runs"]
    ]


def test_the_demo_s_takes_judge_the_same(call: Call, tmp_path: Path) -> None:
    """What was judged live and what is judged from the take must agree, naming drills included."""
    runs = call("demo", "--fast")[1]["runs"]
    takes = sorted((tmp_path / "home" / "takes").glob("*.mid"))
    assert len(takes) == len(runs)
    for live in runs:
        [take] = [path for path in takes if f"_{live['drill']}_" in path.name]
        _, judged, _ = call("judge", live["drill"], str(take))
        assert [a["verdict"] for a in judged["answers"]] == [a["verdict"] for a in live["answers"]]
        for again, first in zip(judged["answers"], live["answers"], strict=True):
            # The take keeps times to 0.1 ms.
            assert again["response_s"] == pytest.approx(first["response_s"], abs=0.0005)


def test_a_note_that_nothing_ends_lasts_to_the_end_of_the_track(call: Call, tmp_path: Path) -> None:
    """SMF 1.0: the end-of-track event gives the track its exact length."""
    track = bytes.fromhex("00 90 45 50 83 60 FF 2F 00")  # 480 ticks later: a quarter of 0.5 s
    head = b"MThd" + bytes.fromhex("00 00 00 06 00 00 00 01 01 E0") + b"MTrk" + len(track).to_bytes(4, "big")
    path = tmp_path / "t.mid"
    path.write_bytes(head + track)
    [note] = call("decode", str(path))[1]["notes"]
    assert note["duration_s"] == pytest.approx(0.5)


def test_a_take_of_a_drill_that_is_gone_says_what_can_be_done(call: Call, tmp_path: Path) -> None:
    path = perfect(tmp_path / "t.mid")
    file = mido.MidiFile(path)
    file.tracks[0].insert(0, mido.MetaMessage("text", text="drill: my-own-drill"))
    file.save(path)
    code, _, told = call("replay", str(path))
    assert code == 2
    assert "my-own-drill" in told
    assert "--all" in told


def test_a_player_of_the_demos_name_in_the_settings_is_refused_with_its_line(
    call: Call, tmp_path: Path
) -> None:
    (tmp_path / "home").mkdir()
    settings = tmp_path / "home" / "settings.yaml"
    settings.write_text("guitar: default\nplayer: demo\n", encoding="utf-8")
    code, _, told = call("report")
    assert code == 2
    assert f"{settings}:2:9" in told


def test_judge_and_replay_tell_what_was_voided(call: Call, tmp_path: Path) -> None:
    path = perfect(tmp_path / "t.mid")
    assert call("judge", "row-5-leap-1", str(path))[1]["voided"] == {}
    file = mido.MidiFile(path)
    # A soft octave above for 20 ms just before the second note, which is due at 2.0 s (1,000 ticks a second).
    at = next(i for i, m in enumerate(file.tracks[0]) if m.type == "note_on" and m.channel == 4)
    true = file.tracks[0][at]
    false = mido.Message("note_on", channel=4, note=true.note + 12, velocity=15, time=true.time)
    over = mido.Message("note_off", channel=4, note=true.note + 12, time=20)
    file.tracks[0][at : at + 1] = [false, over, true.copy(time=5)]
    file.save(path)
    for command in (["judge", "row-5-leap-1", str(path)], ["replay", str(path), "--drill", "row-5-leap-1"]):
        _, document, _ = call(*command)
        assert document["voided"] == {"false harmonic": 1}
        assert [answer["verdict"] for answer in document["answers"]] == ["right"] * 11


def test_a_guitar_that_tells_no_strings_is_judged_by_pitch_and_says_so(call: Call, tmp_path: Path) -> None:
    guitars = tmp_path / "home" / "guitars"
    guitars.mkdir(parents=True)
    (guitars / "one.yaml").write_text("title: One\ntuning: standard\nencoding: one-channel\n")
    path = perfect(tmp_path / "t.mid")
    file = mido.MidiFile(path)
    file.tracks[0][:] = [m.copy(channel=0) if hasattr(m, "channel") else m for m in file.tracks[0]]
    file.save(path)
    code, document, _ = call("judge", "row-5-leap-1", str(path), "--guitar", "one")
    assert code == 0
    assert [answer["verdict"] for answer in document["answers"]] == ["right"] * 11
    assert all(answer["played"]["place_assumed"] for answer in document["answers"])
    _, heard, _ = call("judge", "row-5-leap-1", str(perfect(tmp_path / "per-string.mid")))
    assert not any(answer["played"]["place_assumed"] for answer in heard["answers"])
