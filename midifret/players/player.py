"""A simulated player: answers prompts as somebody of a given skill would."""

import math
import random
from dataclasses import dataclass

from midifret.neck import Neck
from midifret.players.skill import Skill
from midifret.players.timing import Parts
from midifret.terms import CueKind, Judged, Place, Prompt, Tempo, Verdict

# After a wrong first answer the right place is near at hand: the player need not read the cue again.
_CORRECTION_SHARE = 0.6
_HOLD_S = 0.4  # how long a plucked string is left sounding; a quarter note at 150 to the minute
_HOLD_SHARE = 0.9  # in tempo no longer than this share of the time to the next note [ours]
_LETTERS = "cdefgab"


@dataclass(frozen=True, slots=True)
class Pluck:
    """One string plucked at one place.

    after_cue_s: from the cue. velocity: 1 to 127. hold_s: until the string is damped.
    """

    after_cue_s: float
    place: Place
    velocity: int
    hold_s: float


@dataclass(frozen=True, slots=True)
class TypedName:
    """A note name typed: a letter from a to g, then # or b once or twice for each semitone."""

    after_cue_s: float
    text: str


Action = Pluck | TypedName


@dataclass(frozen=True, slots=True)
class TimedPluck:
    """A pluck at a time of its own; its `after_cue_s` says nothing."""

    time_s: float
    pluck: Pluck


class Player:
    """Answers the prompts of one exercise in their order; the same skill and seed do the same again.

    drawn: where the skill has a timing, of which parts the first pluck after the cue of a prompt was made up,
    by its number: the truth to hold a measurement to.
    """

    def __init__(
        self, skill: Skill, neck: Neck, *, time_limit_s: float | None = None, tempo: Tempo | None = None
    ) -> None:
        """Sit down with a guitar.

        time_limit_s: of the exercise. Without one nothing can be missed, and the player always answers.
        tempo: of an exercise in tempo, which is played on its beats and not after its cues.
        """
        self.drawn: dict[int, Parts] = {}
        self._skill = skill
        self._can_miss = time_limit_s is not None or tempo is not None
        self._neck = neck
        self._tempo = tempo
        self._random = random.Random(skill.seed)
        self._used: dict[int, set[Place]] = {}
        self._recalls = dict(skill.timing.recalls) if skill.timing is not None else {}
        self._hand: Place | None = None  # the last stopped place
        self._began_s: float | None = None  # the first beat
        self._deviation: float | None = None  # of the last note on a beat, without what was off
        self._on_beats: dict[int, tuple[float, Place, int] | None] = {}  # off the beat, place, velocity

    @property
    def in_tempo(self) -> bool:
        """Whether this player plays on beats."""
        return self._tempo is not None

    def answer(self, prompt: Prompt) -> tuple[Action, ...]:
        """Return what the player does after the cue, in the order of time; nothing if the prompt is missed.

        A place that is to be held is plucked first and left to sound. A wrong first answer is followed by the
        right one. Nothing, too, where the neck has no place that answers, and in tempo.
        """
        if self._tempo is not None:
            return ()
        target = None if prompt.judged is Judged.NAME else self._target(prompt)
        after_s = self._first_s(prompt, target)
        right = self._random.random() < self._skill.accuracy
        if prompt.judged is Judged.NAME:
            return self._type(prompt, after_s, right=right)
        if target is None:
            return ()
        places = [target]
        if not right:
            kind, wrong = self._wrong_place(prompt)
            if kind is Verdict.MISSED:
                return ()
            places[:0] = wrong
        if prompt.each_once is not None:
            self._used.setdefault(prompt.each_once, set()).add(target)
        plucks: list[Pluck] = []
        for place in places:
            plucks.append(Pluck(after_s, place, self._velocity(), _HOLD_S))
            after_s += _CORRECTION_SHARE * self._response_s()
        if prompt.held is not None:
            taken_s = plucks[0].after_cue_s / 2
            held_s = plucks[-1].after_cue_s + _HOLD_S - taken_s
            plucks.insert(0, Pluck(taken_s, prompt.held, self._velocity(), held_s))
        return tuple(plucks)

    def on_beat(self, prompt: Prompt, due_s: float) -> tuple[TimedPluck, ...]:
        """Return what the player plucks for a prompt that is due then; nothing if it is missed.

        Prompts are told in their order. Told again with another time, a prompt is played likewise, only
        then. Raises ValueError for a player without a tempo.
        """
        if self._tempo is None:
            raise ValueError("who plays on a beat has to know its tempo")
        if prompt.n not in self._on_beats:
            self._on_beats[prompt.n] = self._on_click(prompt, due_s)
        planned = self._on_beats[prompt.n]
        if planned is None:
            return ()
        off_s, place, velocity = planned
        hold_s = min(_HOLD_S, _HOLD_SHARE * self._tempo.between_s)
        plucks = [TimedPluck(due_s + off_s, Pluck(0.0, place, velocity, hold_s))]
        if prompt.held is not None:  # taken half a beat before and left to sound
            taken_s = self._tempo.between_s / 2
            held = Pluck(0.0, prompt.held, velocity, taken_s + hold_s)
            plucks.insert(0, TimedPluck(plucks[0].time_s - taken_s, held))
        return tuple(plucks)

    def _on_click(self, prompt: Prompt, due_s: float) -> tuple[float, Place, int] | None:
        """Draw how far from its beat a note comes, where it is played and how hard; None for missed."""
        habit, draw = self._skill.on_click, self._random
        assert self._tempo is not None
        if self._began_s is None:
            self._began_s = due_s
        self._deviation = habit.deviation(self._deviation, draw)
        off_s = self._deviation - habit.early_s + habit.off(draw)
        off_s += habit.drift_s_a_minute * (due_s - self._began_s) / 60
        right = draw.random() < self._skill.accuracy * habit.right_share(60 / self._tempo.between_s)
        target = self._target(prompt)
        if target is None:
            return None
        place = target
        if not right:
            kind, wrong = self._wrong_place(prompt)
            if kind is Verdict.MISSED:
                return None
            place = wrong[0] if wrong else target
        if prompt.each_once is not None and place == target:
            self._used.setdefault(prompt.each_once, set()).add(target)
        return off_s, place, self._velocity()

    def _first_s(self, prompt: Prompt, target: Place | None) -> float:
        """Draw how long after the cue the first pluck or name comes; keep of which parts that is made up."""
        timing, draw = self._skill.timing, self._random
        if timing is None:
            return self._response_s()
        if prompt.wait_s and draw.random() < timing.anticipations:
            parts = Parts(draw.uniform(0.0, timing.anticipated_s), anticipated=True)
        else:
            reaction_s = timing.reaction(draw) if prompt.cue else 0.0  # without a cue there is nothing to see
            recall_s = 0.0
            if CueKind.PLACE not in prompt.cue or prompt.judged is Judged.NAME:
                known = self._recalls.get(prompt.places[0] if target is None else target, timing.recall_s)
                recall_s = timing.recall(known, draw)
            travel_s = 0.0 if target is None else timing.travel(target, self._hand, draw)
            parts = Parts(reaction_s, recall_s, travel_s, timing.lapse(draw))
        if target is not None and target.fret > 0:
            self._hand = target
        self.drawn[prompt.n] = parts
        return parts.after_cue_s

    def _response_s(self) -> float:
        """Draw a response, or the whole of a next try."""
        timing = self._skill.timing
        if timing is not None:
            return timing.reaction(self._random) + timing.recall(timing.recall_s, self._random)
        return self._skill.median_response_s * math.exp(self._skill.spread * self._random.gauss(0.0, 1.0))

    def _velocity(self) -> int:
        return self._random.randint(*self._skill.velocities)

    def _type(self, prompt: Prompt, after_s: float, *, right: bool) -> tuple[Action, ...]:
        asked = prompt.pitch
        name = asked.step.lower() + ("#" * asked.alter if asked.alter > 0 else "b" * -asked.alter)
        answers: list[Action] = []
        if not right and self._can_miss and any(kind is Verdict.MISSED for kind, _ in self._skill.errors):
            weights = dict(self._skill.errors)
            if self._random.random() * sum(weights.values()) < weights[Verdict.MISSED]:
                return ()
        if not right:
            # The neighbouring letter, plain: never the same pitch, for no two naturals sound alike, and
            # where it might be (a B sharp is a C) the other neighbour is taken.
            at = _LETTERS.index(name[0])
            neighbours = [_LETTERS[(at + step) % 7] for step in self._random.sample((1, -1), 2)]
            wrong = next(letter for letter in neighbours if _NATURALS[letter] != asked.pitch_class)
            answers.append(TypedName(after_s, wrong))
            after_s += _CORRECTION_SHARE * self._response_s()
        return (*answers, TypedName(after_s, name))

    def _target(self, prompt: Prompt) -> Place | None:
        """The place that the player takes for right: the suggested one, or another not used before."""
        used = self._used.get(prompt.each_once, set()) if prompt.each_once is not None else set()
        for place in prompt.places:
            if place not in used and self._neck.has(place):
                return place
        return None

    def _wrong_place(self, prompt: Prompt) -> tuple[Verdict | None, list[Place]]:
        """Draw a kind of error that this player makes and this prompt allows, and a place of that kind.

        No place where every place of the neck answers.
        """
        by_kind = self._places_by_error(prompt)
        allowed = {kind for kind, places in by_kind.items() if places}
        if self._can_miss:
            allowed.add(Verdict.MISSED)
        made = [(kind, weight) for kind, weight in self._skill.errors if kind in allowed and weight > 0]
        if not made:
            made = [(kind, 1.0) for kind in by_kind if kind in allowed]
        if not made:
            return None, []
        kind = self._random.choices([kind for kind, _ in made], [weight for _, weight in made])[0]
        return kind, [] if kind is Verdict.MISSED else [self._random.choice(by_kind[kind])]

    def _places_by_error(self, prompt: Prompt) -> dict[Verdict, list[Place]]:
        """Every place that does not answer, by the verdict it earns; first match in the order of Verdict."""
        kinds = (Verdict.ELSEWHERE, Verdict.OCTAVE, Verdict.FRET_OFF, Verdict.STRING_OFF, Verdict.WRONG)
        found: dict[Verdict, list[Place]] = {kind: [] for kind in kinds}
        used = self._used.get(prompt.each_once, set()) if prompt.each_once is not None else set()
        asked = [place for place in prompt.places if place not in used]
        midis = {self._neck.midi(place) for place in asked if self._neck.has(place)}
        names = {midi % 12 for midi in midis}
        frets_off = {Place(place.string, place.fret + step) for place in asked for step in (-1, 1)}
        strings_off = {Place(place.string + step, place.fret) for place in asked for step in (-1, 1)}
        taken = prompt.held.string if prompt.held is not None else None
        for place in self._neck.all_places():
            if place in prompt.places or place in prompt.may_play or place.string == taken:
                continue
            midi = self._neck.midi(place)
            if midi in midis:
                found[Verdict.ELSEWHERE].append(place)
            elif midi % 12 in names:
                found[Verdict.OCTAVE].append(place)
            elif place in frets_off:
                found[Verdict.FRET_OFF].append(place)
            elif place in strings_off:
                found[Verdict.STRING_OFF].append(place)
            else:
                found[Verdict.WRONG].append(place)
        return found


_NATURALS = {"c": 0, "d": 2, "e": 4, "f": 5, "g": 7, "a": 9, "b": 11}  # semitones above C
