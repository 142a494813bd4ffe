"""A simulated player: answers prompts as somebody of a given skill would."""

import math
import random
from dataclasses import dataclass

from midifret.neck import Neck
from midifret.players.skill import Skill
from midifret.terms import Judged, Place, Prompt, Verdict

# After a wrong first answer the right place is near at hand: the player need not read the cue again.
_CORRECTION_SHARE = 0.6
_HOLD_S = 0.4  # how long a plucked string is left sounding; a quarter note at 150 to the minute
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


class Player:
    """Answers the prompts of one exercise in their order; the same skill and seed do the same again."""

    def __init__(self, skill: Skill, neck: Neck, *, time_limit_s: float | None = None) -> None:
        """Sit down with a guitar.

        time_limit_s: of the exercise. Without one nothing can be missed, and the player always answers.
        """
        self._skill = skill
        self._can_miss = time_limit_s is not None
        self._neck = neck
        self._random = random.Random(skill.seed)
        self._used: dict[int, set[Place]] = {}

    def answer(self, prompt: Prompt) -> tuple[Action, ...]:
        """Return what the player does after the cue, in the order of time; nothing if the prompt is missed.

        A place that is to be held is plucked first and left to sound. A wrong first answer is followed by the
        right one. Nothing, too, where the neck has no place that answers.
        """
        after_s = self._response_s()
        right = self._random.random() < self._skill.accuracy
        if prompt.judged is Judged.NAME:
            return self._type(prompt, after_s, right=right)
        target = self._target(prompt)
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

    def _response_s(self) -> float:
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
