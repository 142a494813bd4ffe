"""The live loop: moves messages from a source through hearing and judging to journal, book and view."""

import math
from collections import Counter
from collections.abc import Callable, Sequence

from midifret.clock import Clock, Jump, JumpKind, JumpWatch
from midifret.hear import Decoder
from midifret.neck import pitch_name
from midifret.play import Closed, Cued, Ended, Judgement, Output, Phase, Run, TempoRun, Withdrawn, summarise
from midifret.play.run import LIMIT_SLACK_S, SAME_MOMENT_S
from midifret.reading.recording import beside_score, verdicts_around
from midifret.session.around import Finished, Leave, Record, Recorder, Setting, Source
from midifret.session.conductor import Conductor
from midifret.session.controls import PedalListener, Signal, SignalListener
from midifret.session.countdown import Countdown
from midifret.session.cues import ShownCues
from midifret.session.live_beat import BeatStep, LiveBeat
from midifret.session.loss import Loss, gone_since_s
from midifret.session.naming import NamedAnswer, NameEntry
from midifret.session.runs import idle_after_s, run_of
from midifret.session.screen import LastAnswer, Press, Screen, Stage, View, answer_judged, missed_told
from midifret.session.string_check import OpenStringCheck
from midifret.terms import (
    BadInput,
    Glitch,
    HeardEvent,
    HearingWarning,
    Judged,
    Note,
    NoteRevised,
    NoteSettled,
    Prompt,
    Voided,
)
from midifret.terms.control import Control
from midifret.terms.figures import Summary
from midifret.terms.marks import MarkKind

# How long the loop sleeps when nothing came: the 1 ms polling of the driver's queue (feasibility: median
# latency 1.1 ms, 99th percentile 2.1 ms).
POLL_S = 0.001
# The clock on the screen shows whole seconds; looking ten times a second never skips one.
REFRESH_S = 0.1
# After the last answer a note may still be revised: at once bent (25 ms) and settled (60 ms), then heard.
AFTERMATH_S = 0.15
UNSEEN = "No page of the stand is open. The run waits."


class LiveRun:
    """One run of an exercise, live. Everything it touches is handed in; `play` runs it to its end.

    orders: what a key asks for, given the open prompt and the stage.
    on_cue: told of every cue, with the time on the clock (a virtual guitar answers it).
    conductor: gives the beat of an exercise in tempo. on_due: told when each of its prompts is due.
    """

    def __init__(
        self,
        setting: Setting,
        *,
        source: Source,
        clock: Clock,
        recorder: Recorder,
        record: Record,
        view: View,
        orders: Callable[[str, Prompt | None, Stage], Control | None],
        on_cue: Callable[[Prompt, float], None] | None = None,
        conductor: Conductor | None = None,
        on_due: Callable[[Prompt, float], None] | None = None,
        poll_s: float = POLL_S,
    ) -> None:
        """Make ready; nothing is heard or shown before `play`.

        Raises ValueError for an exercise in tempo without a conductor, or the other way round.
        """
        if (setting.exercise.tempo is None) is not (conductor is None):
            raise ValueError("an exercise in tempo needs a conductor, and no other one does")
        self._setting = setting
        self._source = source
        self._clock = clock
        self._recorder = recorder
        self._record = record
        self._view = view
        self._orders = orders
        self._on_cue = on_cue
        self._beat = None if conductor is None else LiveBeat(conductor, setting.exercise, recorder, on_due)
        self._poll_s = poll_s
        guitar = setting.guitar
        self._decoder = Decoder(guitar.neck, guitar.wiring)
        self._run = run_of(setting, shown_later=view.paints_later)
        self._cues = ShownCues(self._run, recorder, told_later=view.paints_later)
        self._jumps = JumpWatch()
        self._pedals = PedalListener(guitar.controls)
        signals = guitar.signals
        if conductor is not None:  # nothing is skipped on a beat, so these two strings are notes like others
            signals = tuple(signal for signal in signals if signal.control is not Control.NEXT)
        self._signals = SignalListener(signals, guitar.signal_within_s)
        self._notes: set[int] = set()  # ids of all that were heard and meant
        self._glitches: Counter[Glitch] = Counter()
        self._entry = NameEntry(setting.language)
        self._origin_s = clock.now_s()
        self._stage = Stage.COUNTDOWN
        self._countdown = Countdown(setting.countdown_s)
        self._ordered_s = 0.0  # when the last order was given
        self._active_s = 0.0  # when a note or a key last came
        self._named_s = 0.0  # when a name was last typed
        self._run_end_s = 0.0  # when the last prompt was answered, or its time ran out
        self._loss = Loss()  # of the guitar
        self._unseen = False  # nobody has the view open
        self._check: OpenStringCheck | None = None
        self._strings_ok: bool | None = None
        self._last: LastAnswer | None = None
        self._right: set[int] = set()  # numbers of the prompts that were answered right at first
        self._message = setting.notice
        self._rest_told = False
        self._leave: Leave | None = None
        self._ended_at_s: float | None = None
        self._early = False
        self._enough_at_s = math.inf if setting.enough_at_s is None else setting.enough_at_s
        self._enough = False  # that time is over, and a prompt has closed since
        self._dirty = True
        self._drawn_s = -1.0

    def play(self) -> Finished:
        """Run to the end, an order to stop, an interruption or a failure; all that was done is kept."""
        failure: BadInput | None = None
        try:
            self._begin()
            while self._leave is None:
                self._step()
                self._clock.wait_s(self._poll_s)
        except BadInput as error:
            self._leave, failure = Leave.FAILED, error
        self._finish()
        return Finished(
            answers=self._run.answers,
            summary=self._summary(),
            ended_early=self._early,
            played_s=self._run.elapsed_s(self._now_s()),
            leave=self._leave or Leave.DONE,
            strings_ok=self._strings_ok,
            failure=failure,
            notes=len(self._notes),
            glitches=dict(self._glitches),
            beside=beside_score(self._run),
            tempo_moved=None if self._beat is None else self._beat.moved,
        )

    def interrupt(self) -> None:
        """Stop after the turn of the loop that is under way; may be called from a signal handler."""
        self._leave = Leave.INTERRUPTED

    # One turn of the loop.

    def _begin(self) -> None:
        self._source.poll()  # what lay in the queue before belongs to no run
        self._origin_s = self._clock.now_s()
        if self._setting.check_strings:
            self._stage = Stage.CHECKING
            self._check = OpenStringCheck(self._setting.guitar, self._setting.language, 0.0)
            self._message = self._check.message
        else:
            self._count_down(0.0, waits=self._setting.wait_for_start)
        self._draw(0.0)

    def _step(self) -> None:
        for jump in self._jumps.look(self._clock.readings()):
            self._jumped(jump)
        before_s = self._now_s()  # what comes after this may still be dated up to here
        for time_s, data in self._source.poll():
            self._message_came(time_s - self._origin_s, data)
        for event in self._decoder.advance(before_s):
            self._heard(event)
        for n, shown_s in self._view.painted():
            self._cues.told(n, None if shown_s is None else shown_s - self._origin_s)
        now_s = self._now_s()
        for press in self._view.presses():
            self._pressed(press, now_s)
        self._tick(now_s)
        if self._beat is not None:
            self._conduct(self._beat, now_s)
        click_comes = self._beat is not None and self._beat.click_comes(self._clock.now_s())
        if (self._dirty or now_s - self._drawn_s >= REFRESH_S) and not click_comes:
            self._watch()
            self._draw(now_s)

    def _message_came(self, time_s: float, data: bytes) -> None:
        self._recorder.message(time_s, data)
        control = self._pedals.hear(data)
        if control is not None:
            self._order(control, time_s)
        for event in self._decoder.feed(time_s, data):
            self._heard(event)

    def _heard(self, event: HeardEvent) -> None:
        if isinstance(event, HearingWarning):
            self._say(event.message)
            return
        if isinstance(event, NoteSettled):
            event = event.note
        if isinstance(event, NoteRevised):
            self._signals.revise(event.note)
        if isinstance(event, Voided):
            self._glitches[event.glitch] += 1
            self._notes.discard(event.note.id)
            self._signals.withdraw(event.note)
        if isinstance(event, Note):
            if event.doubtful:
                return  # it is told again when it is settled
            self._notes.add(event.id)
            if self._check is not None and self._stage is Stage.CHECKING:
                self._check.hear(event)
                self._message = self._check.message
                self._dirty = True
                return  # all open strings strummed at once are no signal
            self._active_s = event.onset_s
            self._signalled(self._signals.hear(event))
            if self._stage is Stage.COUNTDOWN and self._countdown.hear(event.onset_s):
                self._dirty = True
        self._take(self._run.hear(event))

    def _signalled(self, signal: Signal | None) -> None:
        if signal is not None:
            for note in signal.notes:
                withdrawn = self._run.withdraw(note.id)
                self._take(withdrawn)
                # In tempo it may be that nothing was told of it yet.
                if withdrawn or self._beat is not None:
                    self._recorder.mark(MarkKind.SIGNAL, note.onset_s)
            # By now a key may have given an order as well; the signal's comes after it.
            self._order(signal.control, max(signal.time_s, self._ordered_s))

    def _tick(self, now_s: float) -> None:
        self._signalled(self._signals.settled(now_s))
        if self._stage is Stage.PAUSED and self._loss.is_due(now_s):
            self._resume(now_s)
        if self._loss.gone and self._stage is not Stage.ASKING:
            return  # everything waits
        if self._stage is Stage.CHECKING and self._check is not None:
            for check in self._check.strings:
                cents = self._decoder.cents_of(check.string)
                if self._check.heard_open(check.string) and cents is not None and cents != check.cents:
                    self._check.tune(check.string, cents)
                    self._dirty = True
            if self._check.done(now_s):
                self._end_check(now_s)
        elif self._stage is Stage.COUNTDOWN and self._countdown.over(now_s):
            self._stage, self._active_s, self._ordered_s = Stage.ASKING, now_s, now_s
            if self._beat is None:  # else it may stand while counting in
                self._message = ""
            self._take(self._run.start(now_s))
            self._count_in()
        elif self._stage is Stage.ASKING:
            self._name_typed(self._entry.tick(now_s))
            # A name typed in time is waited for, though its limit runs out meanwhile.
            if not (self._entry.is_name and self._entry.typed_s <= self._run.limit_s):
                if now_s >= self._run.limit_s + LIMIT_SLACK_S:  # is there a guitar that could have answered?
                    self._look_after_guitar(at_once=True)
                self._take(self._run.tick(now_s))
            rest_at_s = self._setting.rest_at_s
            if rest_at_s is not None and not self._rest_told and self._run.elapsed_s(now_s) >= rest_at_s:
                self._rest_told = True
                self._say(self._setting.rest_words)
            idle_s = idle_after_s(self._run)
            if now_s - self._active_s >= idle_s:
                self._order(Control.PAUSE, now_s)
                self._say(f"Paused: nothing was heard for {idle_s:.0f} s.")
            if self._enough and self._ended_at_s is None:
                self._leave = Leave.DONE
        aftermath_s = max(AFTERMATH_S, 2 * self._setting.guitar.signal_within_s)
        if self._ended_at_s is not None and now_s - self._ended_at_s >= aftermath_s and self._was_there():
            if self._stage is not Stage.ENDED:
                self._stage, self._dirty = Stage.ENDED, True
                self._draw(now_s)
            if not self._setting.stay:
                self._leave = Leave.DONE

    def _watch(self) -> None:
        """Look after what may go wrong outside: no disk ends the run, all kept; no guitar pauses it."""
        self._recorder.check()
        self._record.check()
        if self._stage is not Stage.ENDED and self._run.phase is not Phase.ENDED:
            self._look_after_guitar()
            self._look_after_view()

    # The guitar goes and comes back.

    def _look_after_guitar(self, *, at_once: bool = False) -> None:
        if self._source.connected(at_once=at_once):
            if self._loss.gone:
                self._guitar_back(self._now_s())
            return
        if not self._loss.gone:
            self._guitar_gone()
        if self._run.phase is Phase.ENDED:
            return  # nothing is left to wait for
        words = f"{self._source.trouble} The run waits."
        if words != self._message:
            self._say(words)

    def _guitar_gone(self) -> None:
        """Stop as of when the guitar was last known to be there, but after all that was heard and typed."""
        for time_s, data in self._source.poll():
            self._message_came(time_s - self._origin_s, data)
        self._signalled(self._signals.settled(math.inf))
        if self._stage is Stage.ASKING:
            self._name_typed(self._entry.tick(math.inf))
        there_s = self._source.last_there_s - self._origin_s
        named_s = self._named_s + SAME_MOMENT_S
        gone_s = gone_since_s(there_s, now_s=self._now_s(), ordered_s=self._ordered_s, named_s=named_s)
        for event in self._decoder.disconnect(gone_s):
            self._heard(event)
        self._loss.begin(self._message)
        self._recorder.mark(MarkKind.GONE, gone_s)
        self._hold(gone_s)

    def _hold(self, since_s: float) -> None:
        """Stop as of a moment until what is missing is back."""
        if self._stage is Stage.COUNTDOWN and self._countdown.runs:
            self._countdown.pause(since_s)
            self._loss.held = True
        elif self._stage is Stage.ASKING and self._pause_since(since_s):
            self._loss.held = True

    def _guitar_back(self, now_s: float) -> None:
        """Go on where the loss stopped it; what the player had paused stays paused."""
        self._say(self._loss.end())
        if self._stage is Stage.CHECKING:
            self._check = OpenStringCheck(self._setting.guitar, self._setting.language, now_s)
        elif not self._unseen:
            self._go_on(now_s)

    def _go_on(self, now_s: float) -> None:
        if self._stage is Stage.COUNTDOWN and self._loss.held:
            self._loss.over()
            self._count_down(now_s)
        elif self._stage is Stage.PAUSED and self._loss.held:
            self._loss.go_on(now_s)

    def _look_after_view(self) -> None:
        """A page that nobody has open any more: the run waits, and goes on when it is back."""
        gone_s = self._view.gone_s
        if gone_s is not None and not self._unseen:
            self._unseen = True
            self._hold(max(gone_s - self._origin_s, self._ordered_s, self._active_s + SAME_MOMENT_S))
            self._say(UNSEEN)
        elif gone_s is None and self._unseen:
            self._unseen = False
            self._say("" if self._message == UNSEEN else self._message)
            if not self._loss.gone:
                self._go_on(self._now_s())

    def _was_there(self) -> bool:
        """Whether the guitar was still there when the last prompt's time ran out; the run goes on if not."""
        if self._setting.exercise.time_limit_s is None or self._loss.gone:
            return True
        self._look_after_guitar(at_once=True)
        there_s = self._source.last_there_s - self._origin_s
        return self._ended_at_s is not None and (self._loss.gone or there_s >= self._run_end_s)

    # Time has a gap, or a beat.

    def _jumped(self, jump: Jump) -> None:
        """The computer slept, or was kept from running: the prompt in play is void, not slow."""
        if not jump.voids or self._stage is not Stage.ASKING:
            return
        since_s = max(jump.since_s - self._origin_s, self._ordered_s)
        self._take(self._run.void(since_s))
        self._recorder.mark(MarkKind.VOID, since_s)
        slept = jump.kind is JumpKind.SUSPENDED
        if slept and self._pause_since(since_s):
            self._say("The computer has slept. Paused; the prompt has no time.")
        elif not slept:
            harm = "This prompt has no time." if self._beat is None else "The beat may have been late."
            self._say(f"The computer was busy for {jump.lost_s:.1f} s. {harm}")

    def _pause_since(self, time_s: float) -> bool:
        """Pause as of a moment that may have passed; whether that was possible."""
        self._take(self._run.pause_since(time_s))
        if self._run.phase is not Phase.PAUSED:
            return False
        self._recorder.mark(MarkKind.PAUSE, time_s)
        self._entry.clear()
        self._stage = Stage.PAUSED
        if self._beat is not None and isinstance(self._run, TempoRun):
            self._beat.stop(self._run)
        return True

    def _count_in(self) -> None:
        if self._beat is not None and isinstance(self._run, TempoRun):
            self._beat.count_in(self._run, self._clock.now_s())

    def _conduct(self, beat: LiveBeat, now_s: float) -> None:
        assert isinstance(self._run, TempoRun)
        clock_s = self._clock.now_s()
        for due in beat.turn(clock_s, self._origin_s):
            self._take(self._run.schedule(due))
        step = beat.step(
            asking=self._stage is Stage.ASKING and self._run.phase is Phase.ASKING,
            paused=self._stage is Stage.PAUSED,
            gone=self._loss.gone,
            message=self._message,
        )
        if step is BeatStep.PAUSE:
            beat.lacked = self._pause_since(now_s)
            self._say(beat.words)
        elif step is BeatStep.RESUME:
            self._resume(now_s)
            self._say("")
        elif step is BeatStep.SAY:
            self._say(beat.words)
        if beat.changed(clock_s):
            self._dirty = True

    # Orders.

    def _pressed(self, press: Press, now_s: float) -> None:
        if press.key == "ctrl-c":
            return self.interrupt()
        self._dirty, self._active_s = True, now_s
        prompt = self._run.prompt
        control = None if press.is_name else self._orders(press.key, prompt, self._stage)
        if control is not None:
            self._order(control, now_s)
        elif self._stage is Stage.ASKING and prompt is not None and prompt.judged is Judged.NAME:
            time_s = now_s if press.time_s is None else press.time_s - self._origin_s
            time_s = min(now_s, max(time_s, self._ordered_s))
            if not press.sure:
                self._cues.unsure(prompt.n)
            take = self._entry.whole if press.is_name else self._entry.key
            self._name_typed(take(press.key, time_s))

    def _name_typed(self, named: NamedAnswer | None) -> None:
        if named is not None:
            self._named_s = named.time_s
            self._recorder.typed(pitch_name(named.pitch, signs=False), named.time_s)
            self._take(self._run.type_name(named.typed, named.pitch.pitch_class, named.time_s))

    def _order(self, control: Control, time_s: float) -> None:
        self._dirty, self._ordered_s = True, time_s
        if control is Control.QUIT:
            self._leave = Leave.QUIT
        elif control is Control.AGAIN:
            self._leave = Leave.AGAIN
        elif self._loss.gone:
            pass  # it waits for the guitar
        elif self._stage is Stage.CHECKING:
            self._end_check(time_s, by_order=True)
        elif self._stage is Stage.COUNTDOWN:
            self._countdown.order(pause=control is Control.PAUSE, time_s=time_s)
        elif self._stage is Stage.ENDED:
            self._leave = Leave.DONE
        elif control is Control.NEXT and self._beat is None:
            self._resume(time_s)
            self._entry.clear()
            self._skip(time_s)
        elif self._stage is Stage.PAUSED:
            self._resume(time_s)
        elif control is Control.PAUSE:
            self._pause_since(time_s)

    def _skip(self, time_s: float) -> None:
        # Where its time has run out it is left already, and in the take the skip would leave the next one.
        if not (isinstance(self._run, Run) and self._run.limit_s < time_s):
            self._recorder.mark(MarkKind.SKIP, time_s)
        self._take(self._run.skip(time_s))

    def _resume(self, time_s: float) -> None:
        if self._stage is Stage.PAUSED:
            self._take(self._run.resume(time_s))
            self._recorder.mark(MarkKind.RESUME, time_s)
            self._stage, self._active_s, self._ordered_s = Stage.ASKING, time_s, time_s
            self._loss.over()
            if self._beat is not None:
                self._beat.lacked = False
            self._count_in()

    def _end_check(self, now_s: float, *, by_order: bool = False) -> None:
        assert self._check is not None
        if by_order or self._check.heard_any:  # nobody there: due again at the next run
            self._strings_ok = self._check.passed
        waits = self._setting.wait_for_start or (self._setting.stay and not self._check.passed)
        self._message = " ".join(part for part in (self._check.verdict(), self._setting.notice) if part)
        self._count_down(now_s, waits=waits)

    def _count_down(self, now_s: float, *, waits: bool | None = None) -> None:
        """waits: for a key or a note; None for as it was."""
        if waits is not None:
            self._countdown.waits = waits
        self._countdown.begin(now_s)
        self._stage, self._dirty = Stage.COUNTDOWN, True

    # What the run says.

    def _take(self, outputs: Sequence[Output]) -> None:
        self._cues.begin()
        for output in outputs:
            self._dirty = True
            match output:
                case Cued(prompt, time_s):
                    self._cues.cued(prompt, time_s)
                    self._entry.clear()
                    if self._on_cue is not None:
                        self._on_cue(prompt, time_s + self._origin_s)
                case Judgement():
                    self._last = self._last_of(output)
                    if self._message != self._setting.rest_words:
                        self._message = ""
                case Closed(answer):
                    self._record.answer(answer)
                    if answer.right:
                        self._right.add(answer.n)
                    if missed := missed_told(answer, asked=self._setting.ask is not None):
                        self._last = self._last_of(missed)
                    self._enough |= self._run.elapsed_s(self._now_s()) >= self._enough_at_s
                    if answer.cue_s is not None:  # earlier than it was shown, if played ahead of that
                        self._cues.kept(answer.n, answer.cue_s, sure=answer.cue_sure)
                case Withdrawn(n):
                    self._record.withdraw_from(n)
                    self._right = {m for m in self._right if m < n}
                    self._cues.withdraw_from(n)
                    self._ended_at_s = None
                    self._last = None
                case Ended(time_s, early):
                    self._ended_at_s, self._early = self._now_s(), early
                    self._run_end_s = time_s
        self._cues.end()

    def _last_of(self, judged: Judgement) -> LastAnswer:
        return answer_judged(judged, self._setting.language, self._setting.accidentals)

    def _say(self, message: str) -> None:
        self._message, self._dirty = message, True

    # The screen.

    def _draw(self, now_s: float) -> None:
        self._dirty, self._drawn_s = False, now_s
        self._view.show(self._screen(now_s))
        self._cues.drawn(self._now_s(), paused=self._stage is Stage.PAUSED)

    def _screen(self, now_s: float) -> Screen:
        run, setting = self._run, self._setting
        count = None
        if self._stage is Stage.COUNTDOWN:
            count = self._countdown.shown(now_s)
        elif self._stage is Stage.PAUSED:
            count = self._loss.count(now_s)
        return Screen(
            stage=self._stage,
            exercise=run.exercise,
            lasts_s=setting.lasts_s,
            guitar=setting.guitar,
            player=setting.player,
            simulated=setting.simulated,
            language=setting.language,
            accidentals=setting.accidentals,
            prompt=run.prompt,
            answered=run.answered,
            right=len(self._right),
            prompt_s=run.prompt_s(now_s),
            elapsed_s=run.elapsed_s(now_s),
            count=count,
            typed=self._entry.text,
            last=self._last,
            message=self._message,
            checks=self._check.strings if self._check is not None and self._stage is Stage.CHECKING else (),
            summary=self._summary() if self._stage is Stage.ENDED else None,
            notes=len(self._notes),
            voided=tuple(self._glitches.most_common()),
            beat=self._beat.shown if self._beat is not None and self._stage is Stage.ASKING else None,
            verdicts=verdicts_around(run, whole=self._view.shows_whole),
        )

    # The end.

    def _finish(self) -> None:
        """Close the run in its machine, take and book, whatever made it end."""
        if self._beat is not None:
            self._beat.stop()
        if self._run.phase is not Phase.ENDED:
            now_s = self._now_s()
            for event in self._decoder.finish(now_s):
                self._heard(event)  # a note still doubtful was meant, for all that anybody knows
            if self._run.phase is Phase.PAUSED:
                self._recorder.mark(MarkKind.RESUME, now_s)
            self._take(self._run.end(now_s))
            self._recorder.mark(MarkKind.ENDED_EARLY, now_s)
            self._early = True

    def _summary(self) -> Summary:
        return summarise(
            self._run.exercise,
            self._run.answers,
            passed_before=self._setting.passed_before,
            latency_known=self._setting.times.knows_latency,
        )

    def _now_s(self) -> float:
        return self._clock.now_s() - self._origin_s
