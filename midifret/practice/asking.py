"""Places asked one by one: what is asked next as answers come, and memory following each of them."""

import math
import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from midifret.neck import Accidentals, Neck, spell
from midifret.practice.choose import ChoiceRules, Chooser
from midifret.practice.kinds import Asked, RecallKind, Remembered, remembered
from midifret.practice.memory import KeptMemory, Memory
from midifret.practice.path import PLACES_A_STAGE, MethodPath, PlacementAnswer, Stage, placement_stage
from midifret.terms import Answer, CueKind, Judged, Place, Prompt

# Who has to work a place out takes 3.5 s as a rule, with a spread of 0.45 of the logarithm (MemoryRules): 99
# of 100 are done within 2.85 times the middle. At least 10 s, and nobody is left before a question for more
# than 20 s [ours].
_LIMIT_TIMES, _LIMIT = 2.85, (10.0, 20.0)
# So long the place stays to be seen, and played, before the next is asked. A note begins it anew [ours].
TOLD_S = 2.5
_OCTAVE_FRETS = 12
# Fret 12 has the name of the open string. It is told apart by a word that is as true of the frets below, and
# stands with so many of them too: else the word alone, or that it is missing, would say where to go [ours].
_FRETTED_SHARE = 0.5
FRETTED, HIGHER = "fretted", "the higher one"
# A block is not enough while more than one place of so many still needs answers [ours].
_ONE_OF = 6
_CUES = {
    RecallKind.NAME: (CueKind.NAME, CueKind.STRING),
    RecallKind.STAFF: (CueKind.STAFF, CueKind.STRING),
    RecallKind.NAMING: (CueKind.PLACE,),
}


def limit_s(memory: Memory) -> float:
    """Return how long a place is waited for: until nearly everybody who works it out has it.

    Whoever has not is shown it: looking on would teach less than seeing it and being asked again.
    """
    least, most = _LIMIT
    return round(min(max(_LIMIT_TIMES * memory.traits.worked_out_s, least), most), 1)


def prompt_of(
    n: int,
    asked: Asked,
    neck: Neck,
    accidentals: Accidentals = Accidentals.SHARPS,
    *,
    told: bool = False,
    wait_s: float = 0.0,
    fretted: bool = False,
) -> Prompt:
    """Ask for one place by its kind of cue, so that no other place answers.

    A name comes with its string, and means the lowest place there; with `fretted` the lowest but the open
    string, with `the higher one` that above fret 12. A note on the staff comes with its string. told: the
    place is shown too, so that nothing has to be recalled. fretted: say so also where it need not be said,
    see `says_fretted`.
    Raises ValueError for an interval, which no place has by itself, and for a place that the neck lacks.
    """
    place = asked.place
    if asked.kind not in _CUES:
        raise ValueError(f"a place cannot be asked by {asked.kind}")
    if not neck.has(place):
        raise ValueError(f"the neck has no place {place}")
    midi = neck.midi(place)
    spellings = spell(midi, accidentals)
    cue = _CUES[asked.kind]
    naming = asked.kind is RecallKind.NAMING
    hint = ""
    if asked.kind is RecallKind.NAME and place.fret > _OCTAVE_FRETS:
        hint = HIGHER
    elif asked.kind is RecallKind.NAME and (place.fret == _OCTAVE_FRETS or (fretted and place.fret)):
        hint = FRETTED
    if told and not naming:
        cue, hint = (*(kind for kind in cue if kind is not CueKind.STRING), CueKind.PLACE), ""
    return Prompt(
        n,
        cue,
        Judged.NAME if naming else Judged.PLACE,
        (place,),
        (midi,),
        spellings[n % len(spellings)],
        given=place if naming else None,
        hint=hint,
        wait_s=wait_s,
    )


def says_fretted(n: int, asked: Asked, among: Sequence[Asked]) -> bool:
    """Whether prompt n says that its place is fretted, where it need not be said.

    among: what may be asked beside it. Nothing is said where fret 12 is not among it. It comes as if by lot,
    and is the same for the same n and place.
    """
    if not has_octave(among):
        return False
    return random.Random(f"{n} {asked.place}").random() < _FRETTED_SHARE


def has_octave(places: Iterable[Asked]) -> bool:
    """Whether one of these is asked by the name that its open string has too."""
    return any(each.kind is RecallKind.NAME and each.place.fret == _OCTAVE_FRETS for each in places)


def wait_after(answers: Sequence[Answer]) -> float:
    """How long the next prompt waits: a while where the last place was not found, and is shown now."""
    if not answers or answers[-1].closing_s is not None or answers[-1].skipped:
        return 0.0
    return TOLD_S


@dataclass(slots=True)
class _Followed:
    """The memory that goes with answers; it can go back over those that turn out otherwise.

    before: what was kept before each answer taken in.
    """

    memory: Memory
    began_s: float
    taken: list[Answer] = field(default_factory=list)
    before: list[KeptMemory] = field(default_factory=list)

    def follow(self, answers: Sequence[Answer]) -> tuple[bool, list[Remembered]]:
        """Take in all answers so far. Returns whether earlier ones were taken back, and what is new."""
        same = 0
        while same < min(len(answers), len(self.taken)) and answers[same] == self.taken[same]:
            same += 1
        went_back = same < len(self.taken)
        if went_back:
            self.memory = Memory(self.before[same], rules=self.memory.rules)
            del self.before[same:], self.taken[same:]
        new = []
        for answer in answers[same:]:
            self.before.append(self.memory.kept)
            self.taken.append(answer)
            given = remembered(answer, self.began_s + _given_s(answer))
            if given is not None:
                self.memory.answer(given)
                new.append(given)
        return went_back, new


def _given_s(answer: Answer) -> float:
    """When it was given on the run's clock, or asked where it was not."""
    return answer.answer_s if answer.answer_s is not None else answer.cue_s or 0.0


class BlockAsker:
    """Chooses the places of a block as a run asks for them, until its time is over or it is enough.

    To be handed to a run as its `ask`. The memory is that after all answers that it was told.
    """

    def __init__(
        self,
        memory: KeptMemory,
        places: Sequence[Asked],
        neck: Neck,
        *,
        began_s: float,
        lasts_s: float,
        accidentals: Accidentals = Accidentals.SHARPS,
        until_enough: bool = False,
        told: bool = False,
        rules: ChoiceRules | None = None,
    ) -> None:
        """Begin with what was kept of a memory.

        began_s: when the run's clock stands at 0, seconds since 1970. lasts_s: seconds of playing.
        until_enough: end before that where the chooser finds that more would bring little. told: show every
        place, for who knows none. Raises ValueError without a place, or where the neck lacks one.
        """
        self._followed = _Followed(Memory(kept=memory), began_s)
        self._places = tuple(places)
        self._neck = neck
        self._lasts_s = lasts_s
        self._accidentals = accidentals
        self._until_enough = until_enough
        self._told = told
        self._rules = rules
        self._chooser = Chooser(self._followed.memory, self._places, rules)
        self.was_enough = False
        for asked in self._places:
            prompt_of(1, asked, neck)

    @property
    def memory(self) -> Memory:
        """After all answers so far."""
        return self._followed.memory

    def heard(self, answers: Sequence[Answer]) -> Memory:
        """Take in the last answers too, at the end of the run, and return the memory after them."""
        self._follow(answers)
        return self.memory

    def __call__(self, answers: tuple[Answer, ...], time_s: float, played_s: float) -> Prompt | None:
        """Choose what to ask next: see `play.Ask`."""
        self._follow(answers)
        if played_s >= self._lasts_s:
            return None
        choice = self._chooser.next(self._followed.began_s + time_s)
        few = max(1, len(self._places) // _ONE_OF)
        self.was_enough = self._until_enough and choice.is_enough and choice.waiting <= few
        if self.was_enough:
            return None
        n = len(answers) + 1
        return prompt_of(
            n,
            choice.asked,
            self._neck,
            self._accidentals,
            told=self._told,
            wait_s=wait_after(answers),
            fretted=says_fretted(n, choice.asked, self._places),
        )

    def _follow(self, answers: Sequence[Answer]) -> None:
        went_back, new = self._followed.follow(answers)
        if went_back:
            self._chooser = Chooser(self.memory, self._places, self._rules)
            new = [given for each in answers if (given := remembered(each, 0.0)) is not None]
        for given in new:
            self._chooser.answered(given)


class PlacementAsker:
    """Asks places of stage after stage of the rows until one does not hold: see `placement_stage`.

    It ends after `most_s` at the latest, and places the player in the stage then at hand.
    """

    def __init__(
        self,
        path: MethodPath,
        neck: Neck,
        *,
        seed: int,
        most_s: float,
        accidentals: Accidentals = Accidentals.SHARPS,
    ) -> None:
        """Begin with no answer. seed: which places of each stage are asked."""
        self._path = path
        self._neck = neck
        self._seed = seed
        self._most_s = most_s
        self._accidentals = accidentals
        self._stage_of: dict[int, str] = {}
        self.ran_out = False

    def result(self, answers: Sequence[Answer]) -> Stage:
        """Return the stage in which the player is placed after all answers."""
        return placement_stage(self._path, self._given(answers))[0]

    def __call__(self, answers: tuple[Answer, ...], time_s: float, played_s: float) -> Prompt | None:
        """Choose what to ask next: see `play.Ask`."""
        stage, placed = placement_stage(self._path, self._given(answers))
        self.ran_out = not placed and played_s >= self._most_s
        if placed or self.ran_out:
            return None
        n = len(answers) + 1
        asked_of = sum(self._stage_of.get(each.n) == stage.name for each in answers)
        self._stage_of[n] = stage.name
        places = sample_of(stage, self._neck, self._seed)
        among = [Asked(place, stage.kind) for place in places]
        asked = among[asked_of % len(among)]
        return prompt_of(
            n,
            asked,
            self._neck,
            self._accidentals,
            wait_s=wait_after(answers),
            fretted=says_fretted(n, asked, among),
        )

    def _given(self, answers: Sequence[Answer]) -> tuple[PlacementAnswer, ...]:
        return tuple(
            PlacementAnswer(self._stage_of[each.n], each.right, each.recall_s if each.right else None)
            for each in answers
            if each.n in self._stage_of
        )


def sample_of(stage: Stage, neck: Neck, seed: int) -> tuple[Place, ...]:
    """Return the places of a stage that a placement run asks, in their order: spread over strings and frets.

    Each next place lies on another string as long as there are strings, and its fret as far from those before
    as it can. The same seed gives the same.
    """
    places = stage.places(neck.strings, min(neck.last_fret, max(high for _, high in stage.frets)))
    if not places:
        raise ValueError(f"the neck has no place of {stage.title}")
    string = seed % neck.strings
    step = _stride(neck.strings)
    chosen: list[Place] = []
    for number in range(min(PLACES_A_STAGE, len(places))):
        wanted = (string + number * step) % neck.strings + 1
        free = [place for place in places if place not in chosen]
        here = [place for place in free if place.string == wanted] or free
        turn = (seed // neck.strings + number) % len(here)
        chosen.append(max(here[turn:] + here[:turn], key=lambda place: _apart(place, chosen)))
    return tuple(chosen)


def _apart(place: Place, others: Sequence[Place]) -> float:
    return min((abs(place.fret - other.fret) for other in others), default=math.inf)


def _stride(strings: int) -> int:
    """A step over the strings that comes to each of them before it comes to one again."""
    return next((step for step in (5, 4, 3, 2) if step < strings and math.gcd(step, strings) == 1), 1)
