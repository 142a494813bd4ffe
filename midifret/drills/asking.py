"""How one place becomes a prompt: what its cue shows, by what it is judged, which places answer."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from midifret.drills.faults import FilePath, fault
from midifret.drills.fields import JudgeBy, position_words
from midifret.neck import Accidentals, Neck, in_reach
from midifret.neck.position import FRETS_OF_A_HAND, STRETCH_FRETS
from midifret.terms import CueKind, Judged, Place, Prompt, SpelledPitch

Cue = tuple[CueKind, ...]
# Questions that stay together and in order, whatever is shuffled or counted: mostly one, or a pair.
Unit = tuple[Prompt, ...]

# How far apart two frets may lie that one hand covers.
HAND_REACH_FRETS = FRETS_OF_A_HAND - 1 + STRETCH_FRETS
OCTAVE_SEMITONES = 12


@dataclass(frozen=True, slots=True)
class Style:
    """How the questions of an item are shown and judged.

    show: what the cue shows, None where the drill does not say. show_at, judge_at: where that is written.
    accidentals: as the drill names notes where no key does, None where it does not say.
    walked: their order is known to the player, so that a name need not tell its place by itself.
    """

    show: Cue | None
    show_at: FilePath
    judge: JudgeBy
    judge_at: FilePath
    accidentals: Accidentals | None
    walked: bool


@dataclass(frozen=True, slots=True)
class Asker:
    """Asks for the places of one item. path: of the item in the file, to tell its faults at.

    Prompts are not numbered yet: their n is 0.
    """

    neck: Neck
    style: Style
    path: FilePath

    def ask(self, place: Place, pitch: SpelledPitch, domain: Sequence[Place]) -> Prompt:
        """Ask for one place, as the item shows and judges it.

        domain: the places that the item speaks of, among which the cue must tell this one.
        Raises Faulty where the cue tells too much or too little, or where the position does not reach.
        """
        judge = self.style.judge
        if judge.judged is Judged.NAME:
            self._refuse_telling_cue()
            return naming(place, self.neck.midi(place), pitch)
        cue = (CueKind.NAME,) if self.style.show is None else self.style.show
        hint = ""
        if judge.judged is Judged.PLACE:
            cue = self._cue_for_place(place, domain, cue)
            answers = (place,) if self.style.walked else self._matching(place, domain, cue)
        elif judge.judged is Judged.PITCH:
            answers = self._matching(place, list(self.neck.all_places()), cue)
        else:
            assert judge.position is not None
            answers = self._in_position(judge.position, place, cue)
            hint = position_words(judge.position)
        return replace(self.prompt(answers, pitch, cue, hint), judged=judge.judged)

    def ask_exactly(self, place: Place, pitch: SpelledPitch, domain: Sequence[Place]) -> Prompt:
        """Ask for one place only, showing it where the cue does not tell it; else as `ask`."""
        prompt = self.ask(place, pitch, domain)
        if prompt.places == (place,):
            return prompt
        return replace(prompt, places=(place,), midis=(prompt.midi,), cue=(*prompt.cue, CueKind.PLACE))

    def ask_beside(
        self, given: Place, answers: tuple[Place, ...], pitch: SpelledPitch, hint: str, cue: Cue = ()
    ) -> Prompt:
        """Ask for something built on a place that is shown and may be played first.

        cue: what is shown beside that place; never the string, which would be taken for that of the answer.
        """
        shown = (*(kind for kind in cue if kind is not CueKind.STRING), CueKind.PLACE)
        asked = self.prompt(answers, pitch, tuple(dict.fromkeys(shown)), hint)
        return replace(asked, given=given, may_play=(given,))

    def prompt(self, places: tuple[Place, ...], pitch: SpelledPitch, cue: Cue, hint: str = "") -> Prompt:
        """Ask for any of several places, the suggested one first, judged by place."""
        midis = tuple(self.neck.midi(place) for place in places)
        return Prompt(n=0, cue=cue, judged=Judged.PLACE, places=places, midis=midis, pitch=pitch, hint=hint)

    def _refuse_telling_cue(self) -> None:
        telling = {CueKind.NAME, CueKind.STAFF, CueKind.INTERVAL} & set(self.style.show or ())
        if telling:
            message = f"showing the {min(telling)} would give the answer away"
            raise fault(self.style.show_at, message, "show: place, or leave it out")

    def _cue_for_place(self, place: Place, domain: Sequence[Place], cue: Cue) -> Cue:
        """Add the string to a name that occurs elsewhere among those asked for; refuse to show nothing."""
        if self.style.walked:
            return cue
        if not cue:
            raise fault(self.path, "with nothing shown the player cannot know what is asked", "show: name")
        midi = self.neck.midi(place)
        has_rival = any(other != place and _same_name(self.neck.midi(other), midi) for other in domain)
        return (*cue, CueKind.STRING) if cue == (CueKind.NAME,) and has_rival else cue

    def _matching(self, place: Place, domain: Sequence[Place], cue: Cue) -> tuple[Place, ...]:
        """Every place that fits what is shown, the suggested one first."""
        if CueKind.PLACE in cue:
            return (place,)
        midi = self.neck.midi(place)
        fits = _same_name if _leaves_octave_open(cue) else int.__eq__
        others = (
            other
            for other in dict.fromkeys(domain)
            if other != place
            and fits(self.neck.midi(other), midi)
            and (CueKind.STRING not in cue or other.string == place.string)
        )
        return (place, *others)

    def _in_position(self, position: int, place: Place, cue: Cue) -> tuple[Place, ...]:
        """Where a hand in a position plays what is shown, the asked pitch first."""
        if position > self.neck.last_fret:
            message = f"the guitar has no position {position}"
            raise fault(self.style.judge_at, message, f"0 (open) to {self.neck.last_fret}")
        midi = self.neck.midi(place)
        reached = [reach.place for reach in in_reach(self.neck, position, midi)]
        if not reached:
            message = f"the note of {place} is not in reach of position {position}"
            raise fault(self.path, message, f"notes within frets {position} to {position + HAND_REACH_FRETS}")
        if _leaves_octave_open(cue):
            lowest, highest = self.neck.compass
            octaves = (m for m in range(lowest, highest + 1) if m != midi and _same_name(m, midi))
            reached += [reach.place for m in octaves for reach in in_reach(self.neck, position, m)]
        if CueKind.STRING in cue:
            reached = [other for other in reached if other.string == reached[0].string]
        return tuple(reached)


def naming(place: Place, midi: int, pitch: SpelledPitch) -> Prompt:
    """Show a place and ask for the name of its note. midi: what sounds there."""
    return Prompt(
        n=0,
        cue=(CueKind.PLACE,),
        judged=Judged.NAME,
        places=(place,),
        midis=(midi,),
        pitch=pitch,
        given=place,
    )


def _leaves_octave_open(cue: Cue) -> bool:
    """Whether a name is shown and nothing that says in which octave."""
    return CueKind.NAME in cue and not {CueKind.STAFF, CueKind.INTERVAL} & set(cue)


def _same_name(midi: int, other: int) -> bool:
    return (midi - other) % OCTAVE_SEMITONES == 0
