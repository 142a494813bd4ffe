"""The commands ports and monitor, without any MIDI system."""

import json
from pathlib import Path

import click.testing
import pytest

from midifret.cli import monitor, ports
from midifret.cli.main import run
from midifret.clock import SimulatedClock
from midifret.files import Home
from midifret.gear import load_guitar
from midifret.terms import Glitch, Note, NoteRevised, NoteSettled, Place, TimedMessage, Voided
from midifret.wire.ports import PortList
from midifret.wire.virtual_guitar import VirtualGuitar


class ScriptedSource:
    """A port on which a virtual guitar plays, pulled out or interrupted at a given time."""

    name = "scripted port"
    untrusted = 0

    def __init__(
        self,
        guitar: VirtualGuitar,
        clock: SimulatedClock,
        *,
        gone_s: float = 1e9,
        back_s: float = 1e9,
        interrupt_s: float = 1e9,
    ) -> None:
        self.guitar, self.clock = guitar, clock
        self.gone_s, self.back_s, self.interrupt_s = gone_s, back_s, interrupt_s
        self.closed = False

    def poll(self) -> list[TimedMessage]:
        if self.clock.now_s() > self.interrupt_s:
            raise KeyboardInterrupt
        due = self.guitar.due(self.clock.now_s())
        return [message for message in due if not self.gone_s <= message.time_s < self.back_s]

    def connected(self, *, at_once: bool = False) -> bool:
        return not self.trouble

    @property
    def trouble(self) -> str:
        gone = self.gone_s <= self.clock.now_s() < self.back_s
        return "The guitar's port is gone (scripted port). Plug it in again." if gone else ""

    @property
    def last_there_s(self) -> float:
        return min(self.clock.now_s(), self.gone_s) if self.trouble else self.clock.now_s()

    def close(self) -> None:
        self.closed = True


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> SimulatedClock:
    simulated = SimulatedClock(100.0)
    monkeypatch.setattr(monitor, "RealClock", lambda: simulated)
    return simulated


@pytest.fixture
def guitar(tmp_path: Path) -> VirtualGuitar:
    return VirtualGuitar(load_guitar("default", Home.of(tmp_path)))


def listen(
    monkeypatch: pytest.MonkeyPatch, home: Path, source: ScriptedSource, *arguments: str
) -> tuple[click.testing.Result, object]:
    """Run the monitor on a source; return the result and what the command gave back."""
    monkeypatch.setattr(monitor, "open_source", lambda part, clock: source)
    runner = click.testing.CliRunner()
    result = runner.invoke(monitor.command, [*arguments], obj=str(home), standalone_mode=False)
    assert source.closed
    return result, result.return_value


def test_monitor_shows_each_note_with_its_place(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, clock: SimulatedClock, guitar: VirtualGuitar
) -> None:
    guitar.pluck(Place(6, 5), 101.0, velocity=64)
    guitar.pluck(Place(1, 2), 102.5, velocity=127)
    result, code = listen(monkeypatch, tmp_path, ScriptedSource(guitar, clock), "--seconds", "5")
    assert code == 0
    rows = [line.split() for line in result.stdout.splitlines()[2:]]
    # time, string, fret, name, cents, velocity, channel
    assert [row[1:] for row in rows] == [
        ["6", "5", "A", "+0", "64", "6"],
        ["1", "2", "F#", "+0", "127", "1"],
    ]
    assert [float(row[0]) for row in rows] == [pytest.approx(1.0, abs=0.002), pytest.approx(2.5, abs=0.002)]


def test_monitor_gives_one_document_in_the_form_of_decode(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, clock: SimulatedClock, guitar: VirtualGuitar
) -> None:
    guitar.pluck(Place(2, 1), 101.0)
    source = ScriptedSource(guitar, clock, interrupt_s=103.0)
    result, code = listen(monkeypatch, tmp_path, source, "--json")
    assert code == 130
    document = json.loads(result.stdout)
    assert set(document) == {"notes", "voided", "warnings"}
    (note,) = document["notes"]
    assert (note["string"], note["fret"], note["midi"], note["name"]) == (2, 1, 60, "C4")
    assert note["duration_s"] == pytest.approx(0.4, abs=0.005)


def test_monitor_says_when_nothing_was_heard(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, clock: SimulatedClock, guitar: VirtualGuitar
) -> None:
    result, code = listen(monkeypatch, tmp_path, ScriptedSource(guitar, clock), "--seconds", "1")
    assert code == 1
    assert "nothing was heard" in result.stderr


def test_monitor_refuses_a_time_that_is_no_number(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    # nan is neither below nor above any bound (IEEE 754), so that a range lets it through.
    assert run(["--home", str(tmp_path), "monitor", "--seconds", "nan"]) == 2
    assert "nan seconds cannot be listened" in capsys.readouterr().err


def test_monitor_waits_for_a_port_that_has_gone(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, clock: SimulatedClock, guitar: VirtualGuitar
) -> None:
    for time_s, fret in ((101.0, 5), (104.0, 6), (107.0, 7)):
        guitar.pluck(Place(6, fret), time_s)
    source = ScriptedSource(guitar, clock, gone_s=103.0, back_s=106.0)
    result, code = listen(monkeypatch, tmp_path, source, "--seconds", "10")
    assert code == 0
    assert [line.split()[2] for line in result.stdout.splitlines()[2:]] == ["5", "7"]
    assert "port is gone" in result.stderr
    assert "The monitor waits." in result.stderr
    assert "scripted port is heard again." in result.stderr
    assert clock.now_s() == pytest.approx(110.0, abs=0.01)


def test_monitor_ends_on_time_though_the_port_is_still_gone(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, clock: SimulatedClock, guitar: VirtualGuitar
) -> None:
    guitar.pluck(Place(6, 5), 101.0, hold_s=60.0)
    source = ScriptedSource(guitar, clock, gone_s=103.0)
    result, code = listen(monkeypatch, tmp_path, source, "--seconds", "5", "--json")
    assert code == 0
    assert clock.now_s() == pytest.approx(105.0, abs=0.01)
    (note,) = json.loads(result.stdout)["notes"]
    assert note["duration_s"] == pytest.approx(2.0, abs=0.01)  # it sounded until the port went


def test_a_note_off_the_neck_is_shown_with_a_warning(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, clock: SimulatedClock, guitar: VirtualGuitar
) -> None:
    source = ScriptedSource(guitar, clock)
    chunks = [[TimedMessage(100.0, b"\x90\x7f\x40"), TimedMessage(100.0, b"\x9f\x40\x40")]]
    monkeypatch.setattr(source, "poll", lambda: chunks.pop() if chunks else [])
    result, code = listen(monkeypatch, tmp_path, source, "--seconds", "1")
    assert code == 0
    assert "channel 16 has no string" in result.stdout
    assert "the neck has 0 to 19" in result.stdout


def test_a_doubtful_note_is_shown_once_it_is_sure_and_a_glitch_with_its_reason() -> None:
    soft = Note(7, 1.0, 6, 5, 45, 12, 5, doubtful=True)
    assert monitor.event_lines(soft) == []
    assert monitor.event_lines(NoteRevised(soft)) == []
    (line,) = monitor.event_lines(NoteSettled(soft._replace(doubtful=False)))
    assert line.split()[:7] == ["1.000", "6", "5", "A", "+0", "12", "6"]
    assert "doubtful at first" in line
    (line,) = monitor.event_lines(Voided(soft, Glitch.CROSSTALK, "string 5 was struck"))
    assert line.split()[:7] == ["1.000", "6", "5", "A", "+0", "12", "6"]
    assert line.endswith("not counted, crosstalk: string 5 was struck")


def test_what_was_not_counted_is_summed_up_by_kind_at_the_end(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, clock: SimulatedClock, guitar: VirtualGuitar
) -> None:
    # Up a string by a note-on for each semitone, 20 ms apart, so that the fret between is only passed.
    source = ScriptedSource(guitar, clock)
    chunks = [[TimedMessage(101.0 + n / 50, bytes((0x90, 64 + n, 80))) for n in range(3)]]
    monkeypatch.setattr(source, "poll", lambda: chunks.pop() if chunks and clock.now_s() > 101.1 else [])
    result, code = listen(monkeypatch, tmp_path, source, "--seconds", "3")
    assert code == 0
    assert result.stdout.splitlines()[-1] == "Not counted as notes: 1 (1 passed on the way)."


def test_ports_are_listed_for_people_and_programs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ports, "list_ports", lambda: PortList("ALSA", ("Guitar 20:0",), ()))
    runner = click.testing.CliRunner()
    lines = runner.invoke(ports.command, []).stdout.splitlines()
    assert lines == ["Inputs (ALSA):", "  Guitar 20:0", "Outputs (ALSA):", "  none"]
    document = json.loads(runner.invoke(ports.command, ["--json"]).stdout)
    assert document == {"system": "ALSA", "inputs": ["Guitar 20:0"], "outputs": [], "reason": None}


def test_without_midi_the_list_is_empty_with_a_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ports, "list_ports", lambda: PortList(None, reason="no MIDI system answers"))
    runner = click.testing.CliRunner()
    result = runner.invoke(ports.command, [])
    assert (result.exit_code, result.stdout) == (0, "No MIDI ports: no MIDI system answers\n")
    document = json.loads(runner.invoke(ports.command, ["--json"]).stdout)
    assert document == {"system": None, "inputs": [], "outputs": [], "reason": "no MIDI system answers"}
