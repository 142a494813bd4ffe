"""A drill and a neck become an exercise; pure, the same for the same seed."""

import random
from collections.abc import Hashable, Sequence
from dataclasses import replace

from midifret.drills.asking import OCTAVE_SEMITONES, Asker, Style, Unit, naming
from midifret.drills.drill import Drill
from midifret.drills.faults import Faulty, FilePath, fault
from midifret.drills.fields import JudgeBy, Order
from midifret.drills.kinds import questions
from midifret.drills.models import MOST_PROMPTS, Item, OtherDrill, TempoFile
from midifret.drills.order import drawn, rounds
from midifret.drills.reading import Reader
from midifret.drills.timed import untimed
from midifret.neck import Accidentals, Neck
from midifret.terms import BadInput, CueKind, Exercise, Gate, Judged, Problem, Prompt, Tempo

NOTHING_LEFT = "nothing is left to ask"
_BEGINS = "a walk begins here; carry it on yourself"


def build(drill: Drill, neck: Neck, *, seed: int = 0) -> Exercise:
    """Make the exercise of a drill for a neck.

    Everything drawn by lot comes from the seed. Raises BadInput with every problem, each with its file,
    line and column, where the drill asks for what the neck has not or for nothing at all.
    """
    content = drill.content
    problems: list[Problem] = []
    units = _DrillBuilder(drill, neck, random.Random(seed), problems, faulty=set()).units()
    prompts = [prompt for unit in units for prompt in unit]
    if not problems and not prompts:
        problems.append(drill.document.problem(("ask",), NOTHING_LEFT))
    if not problems and len(prompts) > MOST_PROMPTS:
        message = f"this would ask {len(prompts)} questions"
        problems.append(drill.document.problem(("ask",), message, f"at most {MOST_PROMPTS}"))
    if problems:
        told = sorted(dict.fromkeys(problems), key=lambda p: (p.file, p.line or 0, p.column or 0))
        raise BadInput(f"the drill {drill.name} cannot be played on this guitar", problems=tuple(told))
    if content.tempo is not None:
        _refuse_untimed(drill, prompts)
    gate = content.gate
    return Exercise(
        name=drill.name,
        title=content.title,
        stage=content.stage,
        trains=" ".join(content.trains.split()),
        minutes=content.minutes,
        judged=_mostly(prompts),
        prompts=_numbered(_grouped(prompts)),
        seed=seed,
        time_limit_s=content.time_limit_s,
        tempo=None if content.tempo is None else _tempo(content.tempo),
        gate=Gate(gate.right, gate.median_response_s, gate.runs_in_a_row) if gate is not None else None,
        shuffled=content.order is Order.SHUFFLED,
    )


def _tempo(asked: TempoFile) -> Tempo:
    usual = Tempo(asked.bpm)
    return Tempo(
        asked.bpm,
        notes_a_beat=asked.notes_a_beat,
        count_in=usual.count_in if asked.count_in is None else asked.count_in,
        a_bar=asked.beats_a_bar,
        parts=asked.subdivisions or 0,
        within_ms=asked.window_ms,
        share=asked.window_share,
    )


def _refuse_untimed(drill: Drill, prompts: Sequence[Prompt]) -> None:
    reason = untimed(prompts)
    if reason:
        raise BadInput(
            f"the drill {drill.name} cannot be played in tempo",
            problems=(drill.document.problem(("tempo",), reason, "no tempo"),),
        )


def _mostly(prompts: Sequence[Prompt]) -> Judged:
    kinds = [prompt.judged for prompt in prompts]
    return max(dict.fromkeys(kinds), key=kinds.count)


def _grouped(prompts: Sequence[Prompt]) -> list[Prompt]:
    """Give places asked for once each a group of their own in each round."""
    group = left = 0
    grouped: list[Prompt] = []
    for prompt in prompts:
        if prompt.each_once is None:
            grouped.append(prompt)
            continue
        if left == 0:
            group, left = group + 1, len(prompt.places)
        left -= 1
        grouped.append(replace(prompt, each_once=group))
    return grouped


def _numbered(prompts: Sequence[Prompt]) -> tuple[Prompt, ...]:
    """Number the prompts, tell the interval from each to the next, and set the first one's cue right."""
    numbered: list[Prompt] = []
    for n, prompt in enumerate(prompts, start=1):
        interval = prompt.midi - numbered[-1].midi if numbered else None
        cue, hint = prompt.cue, prompt.hint
        if interval is None and CueKind.INTERVAL in cue:
            # The first note has nothing to be an interval from, and a name alone would leave its octave open.
            cue = tuple(kind for kind in cue if kind is not CueKind.INTERVAL)
            if not {CueKind.STAFF, CueKind.PLACE} & set(cue):
                cue = (CueKind.NAME, CueKind.PLACE)
        if interval is None and hint == _BEGINS:
            cue, hint = (), ""  # where a run begins, views say so by themselves
        numbered.append(replace(prompt, n=n, cue=cue, hint=hint, interval_semitones=interval))
    return tuple(numbered)


class _DrillBuilder:
    """Lays out the questions of one drill; faults are added to the list of problems handed in.

    faulty: names of joined drills whose faults have been told; shared by all that are joined.
    """

    def __init__(
        self,
        drill: Drill,
        neck: Neck,
        rng: random.Random,
        problems: list[Problem],
        *,
        faulty: set[str],
    ) -> None:
        self._drill = drill
        self._content = drill.content
        self._is_shuffled = drill.content.order is Order.SHUFFLED
        self._neck = neck
        self._rng = rng
        self._problems = problems
        self._faulty = faulty

    def units(self) -> list[Unit]:
        """Everything the drill asks, in the order it asks it, naming questions included; not yet numbered."""
        content = self._content
        known = len(self._problems)
        draws_anew = not self._is_shuffled and any(item.draw for item in content.ask)
        ordered = rounds(
            self._round(None),
            count=content.count,
            repeat=content.repeat,
            rng=self._rng if self._is_shuffled else None,
            key=_key,
            again=self._round if draws_anew else None,
        )
        return self._sprinkled(ordered) if len(self._problems) == known else []

    def _round(self, after: Hashable) -> list[Unit]:
        """Everything the drill asks, once. after: the key of what comes before it, not to be drawn first."""
        units: list[Unit] = []
        for index, item in enumerate(self._content.ask):
            last = _key(units[-1]) if units else after
            try:
                units += self._item(item, ("ask", index), last)
            except Faulty as faulty:
                self._tell(faulty)
            if len(units) > MOST_PROMPTS:
                self._tell(fault(("ask",), "this would ask too many questions", f"at most {MOST_PROMPTS}"))
                return []
        return units

    def _tell(self, faulty: Faulty) -> None:
        for one in faulty.faults:
            self._problems.append(self._drill.document.problem(one.path, one.message, one.allowed))

    def _item(self, item: Item, path: FilePath, after: Hashable) -> list[Unit]:
        if item.drill is not None:
            return self._other_drill(item.drill)
        walked = item.is_walk and not self._is_shuffled
        units = questions(item, self._reader(item, path), self._asker(item, path, walked=walked))
        if item.draw is not None:
            if len({_key(unit) for unit in units}) < 2 and item.draw.count > 1:
                raise fault((*path, "draw"), "there is only one note to draw", "a larger region, or count: 1")
            return drawn(units, item.draw.count, self._rng, _key, after)
        if walked and not units[0][0].cue:
            # Nothing shown would leave the player guessing where a second walk, or a second round, begins.
            begins = replace(units[0][0], cue=(CueKind.NAME, CueKind.PLACE), hint=_BEGINS)
            units = [(begins, *units[0][1:]), *units[1:]]
        return units

    def _reader(self, item: Item, path: FilePath) -> Reader:
        by_lot = self._is_shuffled or item.draw is not None
        accidentals = self._content.accidentals or (Accidentals.BOTH if by_lot else Accidentals.SHARPS)
        return Reader(self._neck, (*path, item.kind), self._content.language, accidentals, self._rng)

    def _asker(self, item: Item, path: FilePath, *, walked: bool) -> Asker:
        content = self._content
        style = Style(
            show=item.show if item.show is not None else content.show,
            show_at=(*path, "show") if item.show is not None else ("show",),
            judge=item.judge or content.judge or JudgeBy(Judged.PLACE),
            judge_at=(*path, "judge") if item.judge is not None else ("judge",),
            accidentals=content.accidentals,
            walked=walked,
        )
        return Asker(self._neck, style, path)

    def _other_drill(self, wanted: OtherDrill) -> list[Unit]:
        name = wanted.name
        if name in self._faulty or name not in self._drill.parts:
            return []  # told once, or when it was read
        known = len(self._problems)
        part = self._drill.parts[name]
        units = _DrillBuilder(part, self._neck, self._rng, self._problems, faulty=self._faulty).units()
        if len(self._problems) > known:
            self._faulty.add(name)
        if wanted.count is not None:
            units = units[: wanted.count]
        if self._is_shuffled and any(not prompt.cue for unit in units for prompt in unit):
            # The player carries this part alone, so it must keep its own order.
            return [tuple(prompt for unit in units for prompt in unit)]
        return units

    def _sprinkled(self, units: list[Unit]) -> list[Unit]:
        """After a share of the questions ask the name of a note: the one just played, if it was not shown."""
        askable = [i for i, unit in enumerate(units) if unit[-1].judged is not Judged.NAME]
        chosen = set(self._rng.sample(askable, round(self._content.naming_rate * len(askable))))
        result: list[Unit] = []
        for index, unit in enumerate(units):
            result.append(unit)
            if index in chosen:
                was_shown = CueKind.NAME in unit[-1].cue or CueKind.STAFF in unit[-1].cue
                source = self._not_told(units, index) if was_shown else unit[-1]
                result.append((naming(source.places[0], source.midi, source.pitch),))
        return result

    def _not_told(self, units: list[Unit], index: int) -> Prompt:
        """Draw a note to be named that the questions just before and after do not give away."""
        near = {unit[-1].midi % OCTAVE_SEMITONES for unit in units[index : index + 2]}
        return self._rng.choice([u for u in units if u[-1].midi % OCTAVE_SEMITONES not in near] or units)[-1]


def _key(unit: Unit) -> Hashable:
    """What must not come twice in a row: the same places asked by the same name."""
    return tuple((prompt.judged is Judged.NAME, prompt.places[0]) for prompt in unit)
