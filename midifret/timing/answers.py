"""The times of the answers of a run put right by a calibration: recall times, and intervals of walks."""

from dataclasses import dataclass, replace

from midifret.terms import Answer, CueKind, Judged, Place
from midifret.terms.calibration import Calibration, Caveat, NoteInterval, Recall
from midifret.timing.recall import note_interval, recall
from midifret.timing.travel import Travels

_RAW = frozenset({Caveat.RAW})


@dataclass(frozen=True, slots=True)
class AnswerTimes:
    """What is known of a player, guitar and port when a run begins; nothing of it is needed.

    caveats: what `caveats_of` says of the calibration.
    """

    calibration: Calibration | None = None
    travels: Travels | None = None
    caveats: frozenset[Caveat] = frozenset()

    def timed(self, answer: Answer, before: Answer | None) -> Answer:
        """Return an answer with its recall time, or in a walk without cues with the interval of its note.

        before: the answer before it in the run. A response to a cue has a recall time; without calibration,
        and for a name that was typed, it is the response as it came, and says so. Where nothing was cued
        nobody knows when the player began to think: there is only the interval since the note that closed the
        prompt before, pauses left out. Where the cue shows the very place, nothing is recalled.
        """
        prompt = answer.prompt
        if answer.response_s is None or answer.answer_s is None:
            return answer
        is_naming = prompt.judged is Judged.NAME
        if CueKind.PLACE in prompt.cue and prompt.given is None and not is_naming:
            return answer
        if prompt.cue or is_naming:
            return replace(answer, recall=self._recall(answer, answer.response_s, before))
        return replace(answer, interval=self._interval(answer, before))

    def heard_late_s(self, midi: int) -> float:
        """Return how much later than the click a pitch is heard if it is played as at calibration; else 0."""
        latency = None if self.calibration is None else self.calibration.latency
        return latency.at(midi) if latency is not None and self.knows_latency else 0.0

    @property
    def knows_latency(self) -> bool:
        """Whether `heard_late_s` says anything: there is a calibration of this guitar and port."""
        if self.calibration is None or self.calibration.latency is None:
            return False
        return not self.caveats & {Caveat.OTHER_GUITAR, Caveat.OTHER_PORT}

    def interval(self, interval_s: float, first_midi: int, second_midi: int) -> NoteInterval:
        """Return the time between two notes, freed of what is known of their latencies: no recall time."""
        caveats = self.caveats - {Caveat.OTHER_VIEW}  # nothing is seen in it
        return note_interval(interval_s, first_midi, second_midi, self.calibration, caveats=caveats)

    def _recall(self, answer: Answer, response_s: float, before: Answer | None) -> Recall:
        played = answer.played
        if played is None:
            return Recall(response_s, None, None, _RAW)
        travel = None
        if self.travels is not None and played.place is not None:
            travel = self.travels.to(played.place, _hand(before))
        found = recall(response_s, played.midi, self.calibration, travel=travel, caveats=self.caveats)
        if played.fret == 0 and Caveat.RAW not in found.caveats:  # the left hand has no way to go
            return replace(found, caveats=found.caveats - {Caveat.WITH_TRAVEL})
        return found

    def _interval(self, answer: Answer, before: Answer | None) -> NoteInterval | None:
        played, answer_s = answer.played, answer.answer_s
        if before is None or before.closing_s is None or before.closing_midi is None:
            return None
        if played is None or answer_s is None or answer.cue_s is None or answer.response_s is None:
            return None
        paused_s = answer_s - answer.cue_s - answer.response_s
        return self.interval(answer_s - before.closing_s - paused_s, before.closing_midi, played.midi)


def _hand(before: Answer | None) -> Place | None:
    """Where the left hand was: at the last note of the answer before."""
    if before is None:
        return None
    last = before.corrections[-1] if before.corrections else before.played
    return None if last is None else last.place
