"""`read` with a simulated player, from score file to book; judged again from its take; bad input."""

import datetime as dt
import json
import random
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import mido
import pytest

from midifret.book.book import Book
from midifret.cli import read as read_command
from midifret.cli.app import App
from midifret.cli.main import run as run_program
from midifret.cli.running import Table, play_once
from midifret.clock import SimulatedClock
from midifret.files import Home
from midifret.players import Skill
from midifret.players.timing import OnClick
from midifret.session.around import Finished, Setting
from midifret.terms import Judged, Place, Verdict
from midifret.terms.calibration import CalibrationPart, Caveat, Measurement, Reading
from midifret.wire.take import read_take

from .playing import NECK, Call, Port, played_by

SURE = Skill(accuracy=1.0, median_response_s=0.3, on_click=OnClick(spread_s=0.01, owned_bpm=400.0, lapse=0.0))

# Written with clef-octave-change -1, so that <pitch> is what sounds (MusicXML 4.0): bar 1 G3 C4 E4 A4, MIDI
# 55 60 64 69; bar 2 a half note E4 and quarters C4, B3.
_NOTES = (("G", 3, 1), ("C", 4, 1), ("E", 4, 1), ("A", 4, 1)), (("E", 4, 2), ("C", 4, 1), ("B", 3, 1))


def hz(midi: int) -> float:
    """ISO 16: A4 = 440 Hz."""
    return float(440 * 2 ** ((midi - 69) / 12))


MIDIS = [55, 60, 64, 69, 64, 60, 59]


def music_xml(bars: Any = _NOTES, *, extra: str = "") -> str:
    kinds = {1: "quarter", 2: "half"}
    written = []
    for number, notes in enumerate(bars, start=1):
        attributes = (
            "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time>"
            "<clef><sign>G</sign><line>2</line><clef-octave-change>-1</clef-octave-change></clef></attributes>"
            if number == 1
            else ""
        )
        inside = "".join(
            f"<note><pitch><step>{step}</step><octave>{octave}</octave></pitch>"
            f"<duration>{lasts}</duration><type>{kinds[lasts]}</type></note>"
            for step, octave, lasts in notes
        )
        written.append(f'<measure number="{number}">{attributes}{inside}</measure>')
    return (
        '<?xml version="1.0" encoding="UTF-8"?><score-partwise version="4.0">'
        "<work><work-title>Small Tune</work-title></work>"
        '<part-list><score-part id="P1"><part-name>Guitar</part-name></score-part></part-list>'
        f'<part id="P1">{"".join(written)}</part>{extra}</score-partwise>'
    )


@pytest.fixture
def tune(tmp_path: Path) -> Path:
    path = tmp_path / "tune.musicxml"
    path.write_text(music_xml(), encoding="utf-8")
    return path


@pytest.fixture
def call(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., Call]:
    def called(*arguments: str, skill: Skill = SURE, as_json: bool = True, silent: bool = False) -> Call:
        def with_player(app: App, book: Book, setting: Setting, table: Table) -> Finished:
            seated = replace(table, poll_s=0.002) if silent else played_by(skill, setting, table)
            return play_once(app, book, setting, seated)

        monkeypatch.setattr(read_command, "open_source", lambda *_, **__: Port())
        monkeypatch.setattr(read_command, "RealClock", SimulatedClock)
        monkeypatch.setattr(read_command, "play_once", with_player)
        options = ["--json"] if as_json else []
        code = run_program(["--home", str(tmp_path / "home"), *arguments, *options])
        return Call(code, *capsys.readouterr())

    return called


def take_of(tmp_path: Path) -> Path:
    (take,) = sorted((tmp_path / "home").rglob("*_read-*.mid"))
    return take


def test_a_reading_is_judged_by_place_and_kept_in_the_book(
    call: Callable[..., Call], tune: Path, tmp_path: Path
) -> None:
    found = call("read", str(tune), "--position", "V", "--no-check")
    assert found.exit_code == 0, found.stderr
    document = found.document
    assert document["drill"] == "read:Small Tune@V"
    assert [answer["asked"]["midi"] for answer in document["answers"]] == MIDIS
    assert [answer["verdict"] for answer in document["answers"]] == ["right"] * 7
    assert document["position"] == 5
    assert document["position_name"] == "V"
    assert [bar["right"] for bar in document["bars"]] == [4, 3]
    assert [item["n"] for item in document["alignment"]] == list(range(1, 8))
    assert [note["verdict"] for note in document["page"]] == ["right"] * 7
    with Book.open(Home.of(str(tmp_path / "home")).book) as book:
        (player,) = (each.name for each in book.players())
        assert book.runs_of(player, "read:Small Tune@V") == 1
        answers = book.answers_of(1)
        assert {answer.prompt.judged for answer in answers} == {Judged.POSITION}
        # Reading feeds the same map of places as drills; 55 in position V is string 4, fret 5.
        assert answers[0].counted_place == Place(4, 5)
        # Who reads looks ahead: no time of recall is claimed.
        assert all(answer.recall is None and answer.response_s is None for answer in answers)
        # There is the time between two notes, as in walks, and it says that nothing is taken off it.
        between_s = [answer.interval.time_s for answer in answers if answer.interval is not None]
        onsets_s = [answer.answer_s for answer in answers if answer.answer_s is not None]
        assert between_s == pytest.approx([later - first for first, later in pairwise(onsets_s)], abs=1e-6)
        assert {flag for a in answers if a.interval for flag in a.interval.caveats} == {Caveat.WITH_LATENCY}
    shown = [answer["interval_s"] for answer in document["answers"]]
    assert shown[0] is None
    assert shown[1:] == pytest.approx(between_s, abs=1e-4)
    assert document["summary"]["median_recall_s"] is None


def test_the_take_alone_is_enough_to_judge_it_again(
    call: Callable[..., Call], tune: Path, tmp_path: Path
) -> None:
    skill = replace(SURE, accuracy=0.6, seed=5)
    live = call("read", str(tune), "--position", "V", "--no-check", skill=skill)
    take = take_of(tmp_path)
    tune.unlink()  # the music is in the take
    again = call("judge", "read:Small Tune@V", str(take))
    assert again.exit_code == 0, again.stderr
    told = [(a["n"], a["verdict"], len(a["corrections"])) for a in live.document["answers"]]
    assert [(a["n"], a["verdict"], len(a["corrections"])) for a in again.document["answers"]] == told
    assert {verdict for _, verdict, _ in told} != {"right"}
    assert again.document["bars"] == live.document["bars"]
    assert again.document["practise"] == live.document["practise"]
    assert call("replay", str(take)).exit_code == 0


def test_in_tempo_it_is_due_by_its_rhythm_and_judged_again_alike(
    call: Callable[..., Call], tune: Path, tmp_path: Path
) -> None:
    live = call("read", str(tune), "--position", "5", "--tempo", "90", "--no-check")
    assert live.exit_code == 0, live.stderr
    answers = live.document["answers"]
    assert [answer["verdict"] for answer in answers] == ["right"] * 7
    dues = [answer["due_s"] for answer in answers]
    # Quarters at 90 are two thirds of a second apart; the half note takes two of them.
    between = [later - earlier for earlier, later in pairwise(dues)]
    assert between == pytest.approx([2 / 3] * 4 + [4 / 3] + [2 / 3], abs=0.001)
    again = call("judge", "read:Small Tune@V", str(take_of(tmp_path)))
    told = [(a["verdict"], round(a["late_ms"], 1)) for a in answers]
    # A take keeps times to 0.1 ms.
    assert [a["verdict"] for a in again.document["answers"]] == [verdict for verdict, _ in told]
    assert [a["late_ms"] for a in again.document["answers"]] == pytest.approx(
        [late_ms for _, late_ms in told], abs=0.25
    )


def test_any_recording_is_judged_against_a_score(
    call: Callable[..., Call], tune: Path, tmp_path: Path
) -> None:
    # A recording of nobody's reading: bar 1, a restart, a wrong note; written with mido.
    places = [(4, 5), (3, 5), (2, 5), (4, 5), (3, 5), (2, 5), (1, 5), (2, 5), (3, 6), (4, 9)]
    track = mido.MidiTrack()
    for string, fret in places:
        key = NECK.midi(Place(string, fret))
        track.append(mido.Message("note_on", channel=string - 1, note=key, velocity=80, time=300))
        track.append(mido.Message("note_off", channel=string - 1, note=key, time=200))
    file = mido.MidiFile(type=0, ticks_per_beat=500)
    file.tracks.append(track)
    path = tmp_path / "played.mid"
    file.save(path)
    found = call("read", str(tune), "--position", "5", "--take", str(path))
    assert found.exit_code == 0, found.stderr
    verdicts = [answer["verdict"] for answer in found.document["answers"]]
    assert verdicts == [*["right"] * 5, Verdict.FRET_OFF.value, "right"]
    assert "free tempo" not in found.stderr
    anywhere = call("read", str(tune), "--take", str(path), as_json=False)
    assert "Small Tune  on the whole neck" in anywhere.out
    assert [item["n"] for item in found.document["alignment"]] == [1, 2, 3, 1, 2, 3, 4, 5, 6, 7]
    assert [item["jumped"] for item in found.document["alignment"]] == [False] * 3 + [True] + [False] * 6
    # The wrong note is in bar 2; in bar 1 the fourth note was waited for while the bar began anew.
    assert found.document["practise"] == ["2", "1"]


@pytest.mark.parametrize(
    "options",
    [
        ["--port", "x"],
        ["--virtual"],
        ["--countdown", "0"],
        ["--no-check"],
        ["--click", "off"],
        ["--click-port", "x"],
        ["--send-clock"],
        ["--no-send-clock"],
        ["--volume", "5"],
        ["--tempo", "60"],
        ["--window", "100"],
        ["--follow-clock", "x"],
    ],
)
def test_what_only_a_live_reading_heeds_is_refused_beside_a_take(
    call: Callable[..., Call], tune: Path, tmp_path: Path, options: list[str]
) -> None:
    # Before the take is looked at.
    found = call("read", str(tune), "--take", str(tmp_path / "none.mid"), *options)
    assert found.exit_code == 2
    assert f"{options[0]} " in found.stderr
    assert "--take cannot go together" in found.stderr


def test_a_take_in_tempo_is_judged_by_its_own_beat(
    call: Callable[..., Call], tune: Path, tmp_path: Path
) -> None:
    live = call("read", str(tune), "--position", "5", "--tempo", "90", "--no-check")
    again = call("read", str(tune), "--position", "5", "--take", str(take_of(tmp_path)))
    assert again.exit_code == 0, again.stderr
    assert again.document["tempo_bpm"] == 90
    assert [a["verdict"] for a in again.document["answers"]] == ["right"] * 7
    assert [a["due_s"] for a in again.document["answers"]] == pytest.approx(
        [a["due_s"] for a in live.document["answers"]], abs=0.001
    )


def test_a_take_is_judged_by_the_newest_calibration_of_the_guitar(
    call: Callable[..., Call], tune: Path, tmp_path: Path
) -> None:
    call("read", str(tune), "--position", "5", "--tempo", "90", "--no-check")
    take = str(take_of(tmp_path))
    # A guitar that is heard 6 ms and two periods of the note late; plucks spread by 5 ms.
    draw = random.Random(1)
    places = [Place(6, 0), Place(1, 12), Place(5, 0), Place(2, 12)] * 24
    readings = tuple(
        Reading(0.006 + 2 / hz(NECK.midi(place)) + draw.gauss(0, 0.005), NECK.midi(place), place, right=True)
        for place in places
    )
    with Book.open(Home.of(str(tmp_path / "home")).book) as book:
        now = dt.datetime.now(dt.UTC)
        book.put_measurement("me", Measurement(CalibrationPart.CLICK, "default", "some port", now, readings))
    raw = call("judge", "read:Small Tune@V", take)
    freed = call("judge", "read:Small Tune@V", take, "--player", "me")
    again = call("read", str(tune), "--position", "5", "--take", take, "--player", "me")
    assert freed.exit_code == 0, freed.stderr
    assert raw.document["summary"]["tempo"]["flags"] == ["with latency"]
    assert freed.document["summary"]["tempo"]["flags"] == []
    late = [a["late_ms"] for a in freed.document["answers"]]
    taken = [before["late_ms"] - after for before, after in zip(raw.document["answers"], late, strict=True)]
    expected = [6 + 2000 / hz(midi) for midi in MIDIS]
    assert taken == pytest.approx(expected, abs=3)
    assert [a["late_ms"] for a in again.document["answers"]] == late


def test_a_player_who_is_not_known_has_no_calibration(
    call: Callable[..., Call], tune: Path, tmp_path: Path
) -> None:
    call("read", str(tune), "--position", "5", "--no-check")
    take = str(take_of(tmp_path))
    for arguments in (["read", str(tune), "--take", take], ["judge", "read:Small Tune@V", take]):
        found = call(*arguments, "--player", "nobody")
        assert found.exit_code == 2
        assert "nobody" in found.stderr


def test_a_reading_in_which_nothing_was_heard_is_told_by_its_code(
    call: Callable[..., Call], tune: Path
) -> None:
    found = call("read", str(tune), "--position", "5", "--tempo", "90", "--no-check", silent=True)
    assert found.exit_code == 1
    assert found.document["answers"] == []
    assert found.document["score"]["reached"] == 0


def test_afterwards_the_piece_is_printed_with_its_verdicts(call: Callable[..., Call], tune: Path) -> None:
    found = call(
        "read",
        str(tune),
        "--position",
        "V",
        "--no-check",
        skill=replace(SURE, accuracy=0.5, seed=3),
        as_json=False,
    )
    assert "Small Tune  in position V" in found.out
    assert "  1 │ G" in found.out
    assert "Where to practise" in found.out
    printed = found.out[found.out.index("Small Tune") :]
    assert max(map(len, printed.splitlines())) <= 80


def test_the_fingering_shown_is_what_counts(call: Callable[..., Call], tune: Path) -> None:
    found = call("read", str(tune), "--fingered", "--no-check")
    assert found.exit_code == 0, found.stderr
    assert found.document["drill"] == "read:Small Tune@fingered"
    assert all(len(answer["asked"]["places"]) == 1 for answer in found.document["answers"])


@pytest.mark.parametrize(
    ("options", "words"),
    [
        # 19 frets: from position 16 on four fingers have a fret each up to the last [calc].
        (["--position", "17"], "no position 17: four fingers need frets 17 to 20, and its last is 19"),
        (["--position", "19"], "(0 (the open position) to 16)"),
        (["--position", "five"], "'five' is not a position"),
        (["--position", "0", "--open", "never"], "the open position cannot be read without open strings"),
        (["--position", "V", "--tempo", "5000"], "5000"),
        (
            ["--position", "V", "--window", "100"],
            "needs a tempo (with --tempo BPM or --follow-clock)",
        ),
        (["--tempo", "60", "--follow-clock", "x"], "--follow-clock and --tempo cannot go together"),
        (["--follow-clock", "x", "--click", "midi"], "--click midi and --follow-clock cannot go together"),
        (["--position", "V", "--click", "midi"], "--click midi needs a tempo"),
        (
            ["--position", "V", "--transpose", "-20"],
            "2 of 7 notes of tune.musicxml are not on this neck (2 too low): B (MIDI 35) in bar 1",
        ),
    ],
)
def test_what_cannot_be_read_is_told(
    call: Callable[..., Call], tune: Path, options: list[str], words: str
) -> None:
    found = call("read", str(tune), *options)
    assert found.exit_code == 2
    assert words in found.stderr
    assert "Traceback" not in found.stderr


def test_a_take_of_another_kind_is_no_reading(call: Callable[..., Call], tune: Path, tmp_path: Path) -> None:
    file = mido.MidiFile(type=0)
    file.tracks.append(mido.MidiTrack([mido.MetaMessage("text", text="reading: {}")]))
    path = tmp_path / "odd.mid"
    file.save(path)
    odd = call("judge", "read:Small Tune@V", str(path))
    assert odd.exit_code == 2
    assert "cannot be understood" in odd.stderr
    file.tracks[0].pop(0)
    file.save(path)
    none = call("judge", "read:Small Tune@V", str(path))
    assert none.exit_code == 2
    assert "does not hold the music" in none.stderr


def test_the_take_says_what_was_read_and_where(call: Callable[..., Call], tune: Path, tmp_path: Path) -> None:
    call("read", str(tune), "--position", "V", "--open", "freely", "--bars", "2", "--no-check")
    kept = json.loads(read_take(take_of(tmp_path)).reading)
    assert (kept["title"], kept["position"], kept["open_strings"]) == ("Small Tune", 5, "freely")
    assert [row[2] for row in kept["notes"]] == ["E4", "C4", "B3"]
    # B3 lies at string 3, fret 4 (out of the hand), string 4, fret 9 (by stretching), and on string 2, open.
    assert kept["notes"][2][7] == "4:9 2:0"


def test_a_reading_stands_in_the_report_with_its_places(call: Callable[..., Call], tune: Path) -> None:
    call("read", str(tune), "--position", "V", "--no-check")
    report = call("report")
    assert report.exit_code == 0, report.stderr
    assert "read:Small Tune@V" in report.out
    counted = [place for place in report.document["places"] if place["answers"]]
    # 64 twice at 2:5, 60 twice at 3:5 (MIDIS): the map that drills fill in too.
    assert {(place["string"], place["fret"]): place["answers"] for place in counted} == {
        (4, 5): 1,
        (3, 5): 2,
        (2, 5): 2,
        (1, 5): 1,
        (4, 9): 1,
    }


def test_a_rule_for_open_strings_needs_a_position(call: Callable[..., Call], tune: Path) -> None:
    # Without a position every place of a note is right, open strings too.
    found = call("read", str(tune), "--open", "never")
    assert found.exit_code == 2
    assert "--open needs a position (with --position N)" in found.stderr
