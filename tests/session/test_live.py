"""The live loop with a scripted source, a simulated clock and a view that remembers."""

from collections.abc import Callable, Iterable

import pytest

from midifret.clock import SimulatedClock
from midifret.gear.guitar import ControlBinding, Guitar, SignalBinding
from midifret.hear import Decoder, decode
from midifret.neck import Neck, Tuning
from midifret.session.around import Finished, Leave, Setting
from midifret.session.live import LiveRun
from midifret.session.reading_beat import own_beat
from midifret.session.screen import Press, Screen, Stage, View
from midifret.show.keys import control_for
from midifret.tempo import Click
from midifret.terms import (
    Answer,
    CueKind,
    Exercise,
    Glitch,
    Judged,
    Place,
    Prompt,
    SpelledPitch,
    TimedMessage,
    Unavailable,
    Verdict,
    Wiring,
)
from midifret.terms.control import Control
from midifret.terms.marks import DuePoint, MarkKind

NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))
GUITAR = Guitar(
    "test",
    "Test",
    NECK,
    Wiring((1, 2, 3, 4, 5, 6) + (None,) * 10),
    controls=(ControlBinding(Control.NEXT, is_program=False, number=64),),
    signals=(SignalBinding(Control.PAUSE, (Place(6, 0), Place(1, 0))),),
)
POLL_S = 0.005


def exercise(*asked: str, naming: bool = False, limit_s: float | None = None) -> Exercise:
    prompts = tuple(
        Prompt(
            n,
            (CueKind.NAME,),
            Judged.NAME if naming else Judged.PLACE,
            (Place.parse(text),),
            (NECK.midi(Place.parse(text)),),
            SpelledPitch("C", 0, 4),
        )
        for n, text in enumerate(asked, start=1)
    )
    return Exercise("x", "X", "s", "t", (3, 5), Judged.PLACE, prompts, time_limit_s=limit_s)


class Script:
    """A source, a recorder, a record and a view in one: plays what it is given and keeps what it is told."""

    def __init__(self, clock: SimulatedClock) -> None:
        self.clock = clock
        self.to_send: list[TimedMessage] = []
        self.to_press: list[tuple[float, str]] = []
        self.unplugged: list[tuple[float, float]] = []  # from when to when
        self.looked_s = self.last_there_s = 0.0
        self.there = True
        self.full_s = 1e9
        self.messages: list[tuple[float, bytes]] = []
        self.cues: dict[int, float] = {}
        self.unsure: set[int] = set()  # cues of which nobody told when they were shown
        self.paints_after_s: float | None = None  # how much later a cue appears than it is handed over
        self.told_after_s = 0.0  # and how much later still that is told
        self.knows_when = True
        self.to_tell: list[tuple[float, int, float | None]] = []
        self.unseen: list[tuple[float, float]] = []  # from when to when nobody has the view open
        self.unseen_told_s = 0.0
        self.presses: list[tuple[float, Press]] = []  # when they are told, and what
        self.dues: dict[int, DuePoint] = {}
        self.planned: list[Click] = []
        self.clicked: list[tuple[float, Click]] = []
        self.marks: list[tuple[MarkKind, float]] = []
        self.asked_texts: list[str] = []
        self.names: list[tuple[str, float]] = []
        self.answers: dict[int, Answer] = {}
        self.screens: list[Screen] = []

    def pluck(self, time_s: float, place: str, *, velocity: int = 80, hold_s: float = 0.2) -> None:
        where = Place.parse(place)
        midi = NECK.midi(where)
        self.to_send.append(TimedMessage(time_s, bytes((0x90 + where.string - 1, midi, velocity))))
        self.to_send.append(TimedMessage(time_s + hold_s, bytes((0x80 + where.string - 1, midi, 0))))
        self.to_send.sort()

    def poll(self) -> list[TimedMessage]:
        due = [message for message in self.to_send if message.time_s <= self.clock.now_s()]
        self.to_send = self.to_send[len(due) :]
        return [m for m in due if all(not out <= m.time_s < back for out, back in self.unplugged)]

    trouble = "The guitar's port is gone. Plug it in again."

    def connected(self, *, at_once: bool = False) -> bool:
        """Looked at every quarter of a second."""
        now_s = self.clock.now_s()
        if at_once or now_s - self.looked_s >= 0.25:
            self.looked_s, self.there = now_s, all(not out <= now_s < back for out, back in self.unplugged)
            if self.there:
                self.last_there_s = now_s
        return self.there

    def message(self, time_s: float, data: bytes) -> None:
        self.messages.append((time_s, data))

    def cue(self, n: int, time_s: float, *, sure: bool = True) -> None:
        self.cues[n] = time_s
        self.unsure = self.unsure - {n} if sure else self.unsure | {n}

    def due(self, n: int, time_s: float, half_window_s: float) -> None:
        self.dues[n] = DuePoint(n, time_s, half_window_s)

    def asked(self, text: str) -> None:
        self.asked_texts.append(text)

    def forget_due_from(self, n: int) -> None:
        self.dues = {m: due for m, due in self.dues.items() if m < n}

    def mark(self, kind: MarkKind, time_s: float) -> None:
        self.marks.append((kind, time_s))

    def typed(self, name: str, time_s: float) -> None:
        self.names.append((name, time_s))

    def check(self) -> None:
        if self.clock.now_s() >= self.full_s:
            raise Unavailable("the disk is full")

    def answer(self, answer: Answer) -> None:
        self.answers[answer.n] = answer

    def withdraw_from(self, n: int) -> None:
        self.answers = {m: answer for m, answer in self.answers.items() if m < n}
        self.cues = {m: time_s for m, time_s in self.cues.items() if m < n}

    def keys(self) -> list[str]:
        due = [key for time_s, key in self.to_press if time_s <= self.clock.now_s()]
        self.to_press = self.to_press[len(due) :]
        return due

    def show(self, screen: Screen) -> None:
        self.screens.append(screen)
        new = screen.prompt if screen.stage is Stage.ASKING else None
        if self.paints_after_s is not None and new is not None:
            before = [s for s in self.screens[:-1] if s.stage is Stage.ASKING and s.prompt is not None]
            if before and before[-1].prompt is new:
                return
            painted_s = self.clock.now_s() + self.paints_after_s
            known_s = painted_s if self.knows_when else None
            self.to_tell.append((painted_s + self.told_after_s, new.n, known_s))

    def painted(self) -> list[tuple[int, float | None]]:
        now_s = self.clock.now_s()
        told = [(n, known_s) for told_s, n, known_s in self.to_tell if told_s <= now_s]
        self.to_tell = [item for item in self.to_tell if item[0] > now_s]
        return told

    def gone_s(self) -> float | None:
        now_s = self.clock.now_s()
        return next((out for out, back in self.unseen if out + self.unseen_told_s <= now_s < back), None)

    def pressed(self) -> list[Press]:
        now_s = self.clock.now_s()
        told = [press for told_s, press in self.presses if told_s <= now_s]
        self.presses = [item for item in self.presses if item[0] > now_s]
        return told + [Press(key) for key in self.keys()]


class Clicking:
    """The click of a script: keeps what clicked when."""

    trouble = ""

    def __init__(self, script: Script) -> None:
        self._script = script

    def plan(self, clicks: Iterable[Click]) -> None:
        self._script.planned = [*clicks]

    def due(self, now_s: float) -> None:
        planned = self._script.planned
        while planned and planned[0].time_s <= now_s:
            self._script.clicked.append((now_s, planned.pop(0)))

    def stop(self) -> None:
        self._script.planned = []


def play(
    setting: Setting,
    prepare: Callable[[Script], None],
    *,
    give_up_s: float = 60.0,
    kind: type[Script] = Script,
) -> tuple[Finished, Script]:
    """Play a setting against a script; times in the script are on a clock that starts at 0."""
    clock = SimulatedClock()
    script = kind(clock)
    prepare(script)
    script.to_press.append((give_up_s, "ctrl-c"))
    in_tempo = setting.exercise.tempo is not None
    live = LiveRun(
        setting,
        source=script,
        clock=clock,
        recorder=script,
        record=script,
        view=_view(script),
        orders=control_for,
        conductor=own_beat(setting.exercise, Clicking(script)) if in_tempo else None,
        poll_s=POLL_S,
    )
    return live.play(), script


def _view(script: Script) -> View:
    class Remembering(View):
        paints_later = script.paints_after_s is not None

        def show(self, screen: Screen) -> None:
            script.show(screen)

        def keys(self) -> list[str]:
            return script.keys()

        def presses(self) -> list[Press]:
            return script.pressed()

        def painted(self) -> list[tuple[int, float | None]]:
            return script.painted()

        @property
        def gone_s(self) -> float | None:
            return script.gone_s()

    return Remembering()


def setting(asked: Exercise, **fields: object) -> Setting:
    return Setting(asked, GUITAR, "me", **fields)  # type: ignore[arg-type]


def test_a_run_from_bytes_to_answers() -> None:
    def prepare(script: Script) -> None:
        script.pluck(1.0, "1:1")  # in the countdown: counts for nothing
        script.pluck(4.0, "6:5")
        script.pluck(5.0, "5:6")
        script.pluck(5.5, "5:5")

    finished, script = play(setting(exercise("6:5", "5:5")), prepare)
    assert [answer.verdict for answer in finished.answers] == [Verdict.RIGHT, Verdict.FRET_OFF]
    assert finished.leave is Leave.DONE
    assert not finished.ended_early
    assert list(script.answers.values()) == list(finished.answers)
    assert script.cues == {1: pytest.approx(3.0, abs=POLL_S), 2: pytest.approx(4.0, abs=POLL_S)}
    assert finished.answers[0].response_s == pytest.approx(1.0, abs=2 * POLL_S)
    assert [screen.stage for screen in script.screens][-1] is Stage.ENDED
    assert len([data for _, data in script.messages if data[0] & 0xF0 == 0x90]) == 4


def test_glitches_and_notes_are_counted_as_in_the_recording() -> None:
    """The check of the strings and the countdown included, as a recording holds them too."""

    def prepare(script: Script) -> None:
        script.pluck(1.0, "1:1")
        script.pluck(4.0, "6:17", velocity=15, hold_s=0.02)  # an octave above, soft and short, and then
        script.pluck(4.03, "6:5")
        script.pluck(5.0, "5:6")
        script.pluck(5.5, "5:5")
        script.pluck(5.6, "3:0", velocity=12, hold_s=0.02)  # soft and short for itself

    finished, script = play(setting(exercise("6:5", "5:5", "4:5")), prepare, give_up_s=8.0)
    decoded = decode([TimedMessage(*m) for m in script.messages], Decoder(NECK, GUITAR.wiring))
    assert dict(finished.glitches) == dict(decoded.glitches)
    assert finished.glitches[Glitch.FALSE_HARMONIC] == 1
    assert sum(finished.glitches.values()) == 2
    assert finished.notes == len(decoded.notes) == 4
    last = script.screens[-1]
    assert (last.notes, dict(last.voided)) == (4, dict(finished.glitches))


def test_the_countdown_counts_down() -> None:
    _, script = play(setting(exercise("6:5")), lambda s: s.pluck(4.0, "6:5"))
    counts = [screen.count for screen in script.screens if screen.stage is Stage.COUNTDOWN]
    assert sorted(set(counts), key=counts.index) == [3, 2, 1]


def test_pause_by_key_and_by_signal_and_next_by_pedal() -> None:
    def prepare(script: Script) -> None:
        script.to_press = [(4.0, " "), (8.0, " ")]
        script.pluck(6.0, "6:5")  # while paused
        script.pluck(8.5, "6:5")
        script.pluck(9.0, "6:0")  # a signal: both at once
        script.pluck(9.03, "1:0")
        script.pluck(12.0, "1:0")
        script.pluck(12.02, "6:0")
        script.to_send.append(TimedMessage(13.0, bytes((0xB5, 64, 127))))  # pedal: next
        script.to_send.append(TimedMessage(13.1, bytes((0xB5, 64, 100))))  # still down: no second order
        script.to_send.sort()
        script.pluck(14.0, "4:5")

    finished, script = play(setting(exercise("6:5", "5:5", "4:5")), prepare)
    verdicts = [answer.verdict for answer in finished.answers]
    assert verdicts == [Verdict.RIGHT, Verdict.MISSED, Verdict.RIGHT]
    assert finished.answers[1].skipped
    assert finished.answers[0].response_s == pytest.approx(1.5, abs=3 * POLL_S)  # 3.0-4.0 and 8.0-8.5
    kinds = [kind for kind, _ in script.marks if kind is not MarkKind.SIGNAL]
    assert kinds == [MarkKind.PAUSE, MarkKind.RESUME, MarkKind.PAUSE, MarkKind.RESUME, MarkKind.SKIP]


def test_a_paused_screen_and_a_quit_keep_what_was_done() -> None:
    def prepare(script: Script) -> None:
        script.pluck(4.0, "6:5")
        script.pluck(5.0, "5:6")
        script.to_press = [(6.0, " "), (7.0, "q")]

    finished, script = play(setting(exercise("6:5", "5:5", "4:5")), prepare)
    assert [answer.verdict for answer in script.answers.values()] == [Verdict.RIGHT, Verdict.FRET_OFF]
    assert finished.ended_early
    assert script.marks[-1][0] is MarkKind.ENDED_EARLY


def test_again() -> None:
    finished, _ = play(setting(exercise("6:5")), lambda s: s.to_press.append((4.0, "a")))
    assert finished.leave is Leave.AGAIN


def test_an_interruption_keeps_what_was_done() -> None:
    def prepare(script: Script) -> None:
        script.pluck(4.0, "6:5")
        script.to_press = [(5.0, "ctrl-c")]

    finished, script = play(setting(exercise("6:5", "5:5")), prepare)
    assert finished.leave is Leave.INTERRUPTED
    assert list(script.answers) == [1]


def test_a_failure_outside_ends_the_run_and_keeps_what_was_done() -> None:
    def prepare(script: Script) -> None:
        script.pluck(4.0, "6:5")
        script.full_s = 5.0

    finished, script = play(setting(exercise("6:5", "5:5")), prepare)
    assert finished.leave is Leave.FAILED
    assert finished.failure is not None
    assert list(script.answers) == [1]


def test_a_typed_name() -> None:
    def prepare(script: Script) -> None:
        script.to_press = [(4.0, "g"), (4.1, "b"), (5.0, "f"), (5.2, "#")]

    finished, script = play(setting(exercise("6:2", "1:2", naming=True)), prepare)
    assert [answer.typed for answer in finished.answers] == ["gb", "f#"]
    assert [answer.verdict for answer in finished.answers] == [Verdict.RIGHT, Verdict.RIGHT]
    assert [name for name, _ in script.names] == ["Gb", "F#"]


def test_a_bare_letter_counts_after_a_pause_or_with_enter() -> None:
    def prepare(script: Script) -> None:
        script.to_press = [(4.0, "a"), (6.0, "d"), (6.2, "enter")]

    finished, _ = play(setting(exercise("6:5", "5:5", naming=True)), prepare)
    assert [answer.typed for answer in finished.answers] == ["a", "d"]
    assert finished.answers[0].response_s == pytest.approx(1.0, abs=2 * POLL_S)


def test_the_open_strings_are_checked() -> None:
    def prepare(script: Script) -> None:
        for string in range(1, 7):
            script.pluck(0.5 * string, f"{string}:0")
        script.to_send.append(
            TimedMessage(0.55, bytes((0xE0, 0, 64 + 8)))
        )  # string 1: 1024/8192*2 = 25 cents
        script.to_send.append(TimedMessage(4.0, bytes((0xE0, 0, 64))))  # tuned
        script.pluck(4.1, "1:0")
        script.to_send.sort()
        script.pluck(9.0, "6:5")

    finished, script = play(setting(exercise("6:5"), check_strings=True), prepare)
    assert finished.strings_ok is True
    states = [screen.checks[0].state for screen in script.screens if screen.checks]
    assert states[0] == "waiting"
    assert "heard, 25 cents sharp" in states
    assert finished.answers[0].verdict is Verdict.RIGHT


def test_a_string_that_does_not_arrive_is_named() -> None:
    def prepare(script: Script) -> None:
        for string in range(1, 6):
            script.pluck(0.5 * string, f"{string}:0")
        script.pluck(15.0, "6:5")

    finished, script = play(setting(exercise("6:5"), check_strings=True), prepare)
    assert finished.strings_ok is False
    assert any("not heard: 6 (E)" in screen.message for screen in script.screens)


def test_open_strings_strummed_in_the_check_give_no_order() -> None:
    def prepare(script: Script) -> None:
        for number, string in enumerate((6, 1, 2, 3, 4, 5)):  # 6 and 1 together: in the run, a pause
            script.pluck(1.0 + 0.01 * number, f"{string}:0")
        script.pluck(6.0, "6:5")

    finished, _ = play(setting(exercise("6:5"), check_strings=True), prepare)
    assert finished.strings_ok is True
    assert [answer.verdict for answer in finished.answers] == [Verdict.RIGHT]


def test_a_check_in_which_nothing_was_plucked_is_still_due() -> None:
    finished, script = play(
        setting(exercise("6:5"), check_strings=True), lambda script: script.pluck(15.0, "6:5")
    )
    assert finished.strings_ok is None
    assert any("not heard" in screen.message for screen in script.screens)


def test_the_reminder_to_rest_comes_once() -> None:
    def prepare(script: Script) -> None:
        script.pluck(10.0, "6:5")
        script.pluck(11.0, "5:5")

    _, script = play(
        setting(exercise("6:5", "5:5", "4:5"), rest_at_s=5.0, rest_words="Rest your hands."),
        prepare,
        give_up_s=20.0,
    )
    assert any(screen.message == "Rest your hands." for screen in script.screens)


def test_a_note_bent_at_once_is_judged_by_the_fret_it_reaches() -> None:
    def prepare(script: Script) -> None:
        script.to_send = [
            TimedMessage(4.0, bytes((0x95, 44, 80))),  # sixth string, fret 4
            TimedMessage(4.01, bytes((0xE5, 0, 96))),  # bent a semitone up: fret 5
        ]

    finished, script = play(setting(exercise("6:5")), prepare)
    assert [answer.verdict for answer in finished.answers] == [Verdict.RIGHT]
    assert script.answers[1].verdict is Verdict.RIGHT
    assert finished.leave is Leave.DONE


def test_time_limits_run_out_live() -> None:
    finished, _ = play(setting(exercise("6:5", "5:5", limit_s=1.0)), lambda s: s.pluck(4.5, "5:5"))
    assert [answer.verdict for answer in finished.answers] == [Verdict.MISSED, Verdict.RIGHT]


def test_a_strummed_chord_is_no_signal() -> None:
    def prepare(script: Script) -> None:
        for number, string in enumerate((6, 5, 4, 3, 2, 1)):
            script.pluck(4.0 + 0.01 * number, f"{string}:0")
        script.pluck(5.0, "6:5")

    finished, script = play(setting(exercise("6:5")), prepare)
    assert finished.leave is Leave.DONE
    assert not script.marks
    assert [answer.verdict for answer in finished.answers] == [Verdict.WRONG]


def test_a_first_run_waits_for_the_player() -> None:
    def prepare(script: Script) -> None:
        script.pluck(20.0, "1:0")
        script.pluck(24.0, "6:5")

    finished, script = play(setting(exercise("6:5"), wait_for_start=True), prepare)
    assert script.screens[0].stage is Stage.COUNTDOWN
    assert script.screens[0].count is None
    assert script.cues[1] == pytest.approx(23.0, abs=2 * POLL_S)  # three seconds after the note
    assert finished.answers[0].response_s == pytest.approx(1.0, abs=2 * POLL_S)


def test_a_key_starts_a_waiting_run() -> None:
    def prepare(script: Script) -> None:
        script.to_press = [(5.0, "enter")]
        script.pluck(9.0, "6:5")

    finished, script = play(setting(exercise("6:5"), wait_for_start=True), prepare)
    assert script.cues[1] == pytest.approx(8.0, abs=2 * POLL_S)
    assert finished.answers[0].verdict is Verdict.RIGHT


def test_a_guitar_put_down_pauses_the_run() -> None:
    def prepare(script: Script) -> None:
        script.pluck(4.0, "6:5")
        script.to_press = [(500.0, " ")]
        script.pluck(501.0, "5:5")

    finished, script = play(setting(exercise("6:5", "5:5")), prepare, give_up_s=600.0)
    assert script.marks[0] == (MarkKind.PAUSE, pytest.approx(64.0, abs=0.1))
    assert finished.played_s < 70
    assert any("nothing was heard" in screen.message for screen in script.screens)


def test_a_letter_typed_in_time_is_in_time_though_it_waits() -> None:
    finished, _ = play(
        setting(exercise("6:5", "5:5", naming=True, limit_s=2.0)),
        lambda script: script.to_press.append((4.7, "a")),
    )
    assert [answer.verdict for answer in finished.answers] == [Verdict.RIGHT, Verdict.MISSED]
    assert finished.answers[0].response_s == pytest.approx(1.7, abs=3 * POLL_S)


def test_a_letter_that_waits_goes_with_the_prompt_that_is_left() -> None:
    finished, script = play(
        setting(exercise("6:5", "5:5", naming=True)),
        lambda script: script.to_press.extend([(4.0, "a"), (4.3, "tab"), (6.0, "d")]),
    )
    assert [answer.verdict for answer in finished.answers] == [Verdict.MISSED, Verdict.RIGHT]
    assert [name for name, _ in script.names] == ["D"]
