"""Clicks as notes and as MIDI clock: what goes out, when, and what if the port goes or time stands."""

import itertools
from collections.abc import Iterator

import mido
import pytest

from midifret.gear import ClickSettings, ClickSounds
from midifret.tempo import Beats, ClockFollower, ClockState, Stretch, clock_messages
from midifret.terms import TimedMessage
from midifret.wire.click import LATEST_S, AllOf, ClickFigures, ClickOutput, SilentClick
from midifret.wire.click_midi import HELD_S, STALL_S, MidiClick, MidiClockOut

CLOCK, START, CONTINUE, STOP = (
    bytes((mido.Message(n).bytes()[0],)) for n in ("clock", "start", "continue", "stop")
)


class Port:
    """Keeps what it is sent, and when; can be broken."""

    def __init__(self) -> None:
        self.name = "synth"
        self.trouble = ""
        self.sent: list[TimedMessage] = []
        self.now_s = 0.0
        self.broken = False
        self.closed = 0

    def send(self, data: bytes) -> bool:
        if self.broken:
            self.trouble = "gone"
            return False
        self.sent.append(TimedMessage(self.now_s, data))
        return True

    def look(self, now_s: float) -> None:
        pass

    def close(self) -> None:
        self.closed += 1

    @property
    def data(self) -> list[bytes]:
        return [message.data for message in self.sent]


def turns(
    output: ClickOutput, port: Port, to_s: float, *, step_s: float = 0.001, from_s: float = 0.0
) -> None:
    """Turn the loop each step until a time."""
    for n in range(round((to_s - from_s) / step_s) + 1):
        port.now_s = from_s + n * step_s
        output.due(port.now_s)


def note_ons(port: Port) -> Iterator[tuple[float, mido.Message]]:
    for time_s, data in port.sent:
        message = mido.Message.from_bytes(data)
        if message.type == "note_on" and message.velocity:
            yield time_s, message


def test_each_kind_of_click_has_its_note_on_the_channel_and_is_sent_when_due():
    port = Port()
    click = MidiClick(port, ClickSettings())
    click.plan(Beats(120, 0.5, a_bar=2, parts=2).clicks(3))
    turns(click, port, 2.0)
    heard = [(round(time_s, 3), m.note, m.velocity, m.channel) for time_s, m in note_ons(port)]
    # 120 bpm: a beat each 0.5 s, halves between [calc]; the notes are those of the shipped settings
    assert heard == [
        (0.5, 76, 112, 9),
        (0.75, 42, 64, 9),
        (1.0, 77, 96, 9),
        (1.25, 42, 64, 9),
        (1.5, 76, 112, 9),
        (1.75, 42, 64, 9),
    ]
    assert click.figures().sent == 6
    assert click.name == "MIDI click on synth, channel 10"


def test_every_note_is_ended_once_before_the_next_and_never_held_longer_than_said():
    port = Port()
    click = MidiClick(port, ClickSettings(channel=0))
    click.plan(Beats(400, 0.1, parts=8).clicks(4))  # the fastest clicks that there are: 18.75 ms apart [calc]
    click.plan(Beats(60, 2.0).clicks(2))
    turns(click, port, 4.0)
    held: dict[int, float] = {}
    ended = 0
    for time_s, data in port.sent:
        message = mido.Message.from_bytes(data)
        assert message.channel == 0
        if message.type == "note_on":
            assert not held
            held[message.note] = time_s
        else:
            assert time_s - held.pop(message.note) <= HELD_S + 0.0011
            ended += 1
    assert not held
    assert ended == click.figures().sent == 4 * 8 + 2


def test_own_notes_channel_and_a_kind_left_out():
    port = Port()
    click = MidiClick(
        port, ClickSettings(channel=2, notes=ClickSounds(1, 2, 3), velocities=ClickSounds(9, 8, 0))
    )
    click.plan(Beats(60, 0.0, parts=2).clicks(2))
    turns(click, port, 2.0)
    assert [(m.note, m.velocity, m.channel) for _, m in note_ons(port)] == [(1, 9, 2), (2, 8, 2)]


def test_nothing_is_sent_before_it_is_due_and_lateness_is_told():
    port = Port()
    click = MidiClick(port, ClickSettings())
    click.plan(Beats(60, 1.0).clicks(100))
    click.due(0.9999)
    assert port.sent == []
    late_s = [0.0005] * 60 + [0.002] * 39 + [0.010]
    for beat, late in enumerate(late_s):
        click.due(1.0 + beat + late)
    figures = click.figures()
    assert figures.sent == 100
    assert figures.late_median_ms == pytest.approx(0.5)
    assert figures.late_99_ms == pytest.approx(2.0)
    assert figures.late_most_ms == pytest.approx(10.0)
    assert figures.output_latency_ms is None


def test_clicks_that_are_too_late_are_left_out_and_never_come_in_a_bunch():
    port = Port()
    click = MidiClick(port, ClickSettings())
    click.plan(Beats(240, 0.0).clicks(9))  # 0.25 s apart
    click.due(1.76)  # nobody looked for 1.76 s: the one of 1.75 s is 10 ms late, those before are past
    assert len(list(note_ons(port))) == 1
    click.due(2.0 + LATEST_S + 0.001)
    assert len(list(note_ons(port))) == 1
    assert (click.figures().sent, click.figures().skipped) == (1, 8)


def test_stop_silences_and_forgets():
    port = Port()
    click = MidiClick(port, ClickSettings())
    click.plan(Beats(60, 0.0).clicks(5))
    click.due(0.0)
    click.stop()
    ended, all_off = (mido.Message.from_bytes(data) for data in port.data[-2:])
    assert (ended.type, ended.note, ended.channel) == ("note_off", 76, 9)
    assert (all_off.control, all_off.value, all_off.channel) == (123, 0, 9)  # all notes off: MIDI 1.0
    sent = len(port.sent)
    turns(click, port, 5.0)
    assert len(port.sent) == sent
    click.plan(Beats(60, 6.0).clicks(1))
    turns(click, port, 6.0, from_s=5.0)
    assert len(list(note_ons(port))) == 2


def test_a_port_that_breaks_raises_nothing_and_is_told():
    port = Port()
    click = AllOf([MidiClick(port, ClickSettings()), MidiClockOut(port)])
    click.plan(Beats(60, 0.0).clicks(5))
    port.broken = True
    turns(click, port, 3.0)
    click.stop()
    assert click.trouble == "gone"  # once, though both lack it
    assert (click.figures().sent, click.figures().skipped) == (0, 4)
    click.close()


def test_none_and_several_at_once():
    port, other = Port(), Port()
    none = SilentClick()
    both = AllOf([MidiClick(port, ClickSettings()), MidiClockOut(other), none])
    both.plan(Beats(60, 0.0).clicks(2))  # an iterator: each is to see all of it
    turns(both, port, 1.0)
    assert both.figures().sent == 2
    assert len(other.sent) > 24
    both.close()
    assert (port.closed, other.closed) == (1, 1)
    assert none.figures() == ClickFigures()


def test_a_clock_is_what_the_standard_asks_for_and_the_same_as_planned_in_one_piece():
    port = Port()
    out = MidiClockOut(port)
    out.plan(Beats(120, 0.5).clicks(8))
    turns(out, port, 5.0, step_s=0.0005)
    assert port.data == [START, *[CLOCK] * (8 * 24), STOP]
    assert port.data == [message.data for message in clock_messages([Stretch(8, 120)], 0.5)]
    clocks_s = [time_s for time_s, data in port.sent if data == CLOCK]
    for sent_s, planned in zip(clocks_s, list(clock_messages([Stretch(8, 120)], 0.5))[1:-1], strict=True):
        assert 0 <= sent_s - planned.time_s < 0.00051
    assert clocks_s[0] - port.sent[0].time_s >= 0.001  # MIDI 1.0 [mem]: a start at least 1 ms before


def test_a_count_in_gives_the_tempo_and_the_start_comes_with_the_first_beat():
    port = Port()
    out = MidiClockOut(port)
    out.plan(Beats(100, 3.0, count_in=4).clicks(4))
    turns(out, port, 2.99)
    assert set(port.data) == {CLOCK}
    assert len(port.data) == 4 * 24
    turns(out, port, 3.0, from_s=2.991)
    assert port.data[-2:] == [START, CLOCK]


@pytest.mark.parametrize("tempo_bpm", [10, 61.7, 120, 400])
def test_who_follows_the_clock_has_tempo_and_beat(tempo_bpm):
    port = Port()
    out = MidiClockOut(port)
    beats = Beats(tempo_bpm, 1.0 + 4 * 60 / tempo_bpm, count_in=4)
    out.plan(beats.clicks(8))
    turns(out, port, beats.due_s(6) + 0.0005)
    follower = ClockFollower()
    for time_s, data in port.sent:
        follower.feed(time_s, data[0])
    reading = follower.reading(port.sent[-1].time_s)
    assert reading.state is ClockState.RUNNING
    # steps of 1 ms: the line through a beat is within a step at either end
    assert reading.tempo_bpm == pytest.approx(tempo_bpm, rel=0.001 / beats.beat_s)
    assert reading.beat == pytest.approx(6, abs=0.002 / beats.beat_s + 1e-6)


def test_after_a_pause_it_continues_at_the_beat_that_is_planned_or_starts_anew():
    port = Port()
    out = MidiClockOut(port)
    clicks = list(Beats(120, 0.5).clicks(40))
    out.plan(clicks)
    turns(out, port, 1.25)
    out.stop()
    out.stop()
    assert port.data.count(STOP) == 1
    assert port.data[-1] == STOP
    before = len(port.sent)
    turns(out, port, 2.0, from_s=1.25)
    assert len(port.sent) == before
    out.plan(clicks[33:])  # beat 33 falls at 17 s
    turns(out, port, 17.0, from_s=16.0)
    position = mido.Message.from_bytes(port.data[before])
    assert (position.type, position.pos) == ("songpos", 33 * 4)  # in sixteenths (MIDI 1.0)
    assert port.data[before + 1 :] == [CONTINUE, CLOCK]
    out.stop()
    out.plan(Beats(120, 20.0).clicks(2))
    turns(out, port, 20.0, from_s=19.9)
    assert port.data[-3:] == [STOP, START, CLOCK]


def test_a_plan_may_be_extended_in_time_without_a_seam_also_to_another_tempo():
    port = Port()
    out = MidiClockOut(port)
    clicks = list(Beats(120, 0.5).clicks(8))
    slower = list(Beats(60, 0.5).clicks(12))  # its beat 4 falls at 4.5 s, as beat 8 of the other
    out.plan(clicks[:4])
    turns(out, port, 2.2)  # within the last beat that was planned
    out.plan(clicks[4:])
    out.plan(slower[4:6])
    turns(out, port, 7.0, from_s=2.201)
    assert port.data == [START, *[CLOCK] * (10 * 24), STOP]
    clocks_s = [time_s for time_s, data in port.sent if data == CLOCK]
    gaps_s = [later - earlier for earlier, later in itertools.pairwise(clocks_s)]
    assert max(gaps_s[: 8 * 24 - 1]) <= 0.5 / 24 + 0.0011
    assert min(gaps_s[8 * 24 :]) >= 1.0 / 24 - 0.0011


def test_a_short_stall_keeps_the_count_and_a_long_one_says_anew_where_it_stands():
    port = Port()
    out = MidiClockOut(port)
    out.plan(Beats(120, 0.5).clicks(20))
    turns(out, port, 1.0)
    turns(out, port, 1.4, from_s=1.4)  # 0.4 s without a look
    assert port.data.count(CLOCK) == 43 + 1  # 0.9 s: 1.8 beats of 24, and the first [calc]
    assert STOP not in port.data
    turns(out, port, 5.2, from_s=4.2)  # beat 8, at 4.5 s, is the first that is not past
    tail = port.data[port.data.index(STOP) :]
    assert tail[0] == STOP
    assert mido.Message.from_bytes(tail[1]).pos == 8 * 4
    assert tail[2] == CONTINUE
    assert STALL_S > 0.4


def test_a_beat_alone_has_no_tempo_and_sends_nothing():
    port = Port()
    out = MidiClockOut(port)
    out.plan(Beats(120, 0.5).clicks(1))
    turns(out, port, 2.0)
    assert port.sent == []
