"""A drill and a neck become an exercise; pure, the same for the same seed."""

import random
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TypeVar

from midifret.drills.drill import Drill
from midifret.drills.fields import JudgeBy, Order, Side, position_words
from midifret.drills.models import MOST_PROMPTS, Item, PlacesOf, Pool, Region, TakenString, Walk
from midifret.drills.order import drawn, rounds
from midifret.drills.pool import NoteSet, Span
from midifret.drills.walks import broken, row_walk, there_and_back
from midifret.files import Document
from midifret.neck import Accidentals, Language, Neck, in_reach, parse_name, spell
from midifret.terms import BadInput, CueKind, Exercise, Gate, Judged, Place, Problem, Prompt, SpelledPitch

# What one hand covers: four frets under four fingers and one more by stretching [see neck/position.py].
HAND_FRETS = 4
OCTAVE = 12
NOTHING_LEFT = "nothing is left to ask"
_BEGINS = "a walk begins here; carry it on yourself"

Unit = tuple[Prompt, ...]
FilePath = tuple[str | int, ...]
Made = TypeVar("Made")


def build(drill: Drill, neck: Neck, *, seed: int = 0) -> Exercise:
    """Make the exercise of a drill for a neck.

    Everything drawn by lot comes from the seed. Raises BadInput with every problem, each with its file,
    line and column, where the drill asks for what the neck has not or for nothing at all.
    """
    content = drill.content
    problems: list[Problem] = []
    prompts = _DrillBuilder(drill, neck, random.Random(seed), problems, faulty=set()).prompts()
    if not problems and not prompts:
        problems.append(drill.document.problem(("ask",), NOTHING_LEFT))
    if not problems and len(prompts) > MOST_PROMPTS:
        message = f"this would ask {len(prompts)} questions"
        problems.append(drill.document.problem(("ask",), message, f"at most {MOST_PROMPTS}"))
    if problems:
        told = sorted(dict.fromkeys(problems), key=lambda p: (p.file, p.line or 0, p.column or 0))
        raise BadInput(f"the drill {drill.name} cannot be played on this guitar", problems=tuple(told))
    gate = content.gate
    return Exercise(
        name=drill.name,
        title=content.title,
        stage=content.stage,
        trains=" ".join(content.trains.split()),
        minutes=content.minutes,
        judged=_mostly(prompts),
        prompts=_numbered(prompts),
        seed=seed,
        time_limit_s=content.time_limit_s,
        gate=Gate(gate.right, gate.median_response_s, gate.runs_in_a_row) if gate is not None else None,
    )


def _mostly(prompts: Sequence[Prompt]) -> Judged:
    kinds = [prompt.judged for prompt in prompts]
    return max(dict.fromkeys(kinds), key=kinds.count)


def _numbered(prompts: Sequence[Prompt]) -> tuple[Prompt, ...]:
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


class _Bad(Exception):
    """An item that cannot be asked: where and why."""

    def __init__(self, path: FilePath, message: str, allowed: str = "") -> None:
        super().__init__(message)
        self.path, self.message, self.allowed = path, message, allowed
        self.more: tuple[_Bad, ...] = ()

    @classmethod
    def together(cls, faults: "Sequence[_Bad]") -> "_Bad":
        """Make one of several."""
        bad = cls(faults[0].path, faults[0].message, faults[0].allowed)
        bad.more = tuple(faults[1:])
        return bad

    def all_of(self) -> "tuple[_Bad, ...]":
        """Return every single fault."""
        return (self, *(one for bad in self.more for one in bad.all_of()))


def _each(made: "Iterable[Callable[[], Made]]") -> "list[Made]":
    """Make every one of several things, then raise all that went wrong at once."""
    results: list[Made] = []
    faults: list[_Bad] = []
    for make in made:
        try:
            results.append(make())
        except _Bad as bad:
            faults.append(bad)
    if faults:
        raise _Bad.together(faults)
    return results


@dataclass(frozen=True, slots=True)
class _Style:
    """How the questions of an item are shown and judged.

    accidentals: as the drill names notes where no key does, None where it does not say.
    walked: their order is known to the player, so that a name need not tell its place by itself.
    """

    show: tuple[CueKind, ...] | None
    judge: JudgeBy
    accidentals: Accidentals | None
    walked: bool


class _DrillBuilder:
    """Builds the prompts of one drill; faults are added to the list handed in.

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
        self._faulty = faulty
        self._content = drill.content
        self._neck = neck
        self._rng = rng
        self._problems = problems

    def units(self) -> list[Unit]:
        """Everything the drill asks, in the order it asks it, naming questions included."""
        content = self._content
        is_shuffled = content.order is Order.SHUFFLED
        known = len(self._problems)
        ordered = rounds(
            self._round(None),
            count=content.count,
            repeat=content.repeat,
            rng=self._rng if is_shuffled else None,
            key=_key,
            again=None if is_shuffled or not any(item.draw for item in content.ask) else self._round,
        )
        return self._sprinkled(ordered) if len(self._problems) == known else []

    def _round(self, after: Hashable) -> list[Unit]:
        """Everything the drill asks, once. after: the key of what comes before it, not to be drawn first."""
        units: list[Unit] = []
        for index, item in enumerate(self._content.ask):
            last = _key(units[-1]) if units else after
            try:
                units += self._item(item, ("ask", index), last)
            except _Bad as bad:
                self._tell(bad)
            if len(units) > MOST_PROMPTS:
                self._tell(_Bad(("ask",), "this would ask too many questions", f"at most {MOST_PROMPTS}"))
                return []
        return units

    def _tell(self, bad: "_Bad") -> None:
        for one in bad.all_of():
            self._problems.append(self._drill.document.problem(one.path, one.message, one.allowed))

    def prompts(self) -> list[Prompt]:
        """The prompts, not yet numbered; places asked for once each are grouped anew in each round."""
        group = left = 0
        prompts: list[Prompt] = []
        for prompt in (prompt for unit in self.units() for prompt in unit):
            if prompt.each_once is None:
                prompts.append(prompt)
                continue
            if left == 0:
                group, left = group + 1, len(prompt.places)
            left -= 1
            prompts.append(replace(prompt, each_once=group))
        return prompts

    def _item(self, item: Item, path: FilePath, after: Hashable) -> list[Unit]:
        is_shuffled = self._content.order is Order.SHUFFLED
        if item.drill is not None:
            return self._other_drill(item, path)
        if item.draw is not None:
            asker = self._asker(item, path, walked=False, draws=True)
            units = asker.pool(item.draw)
            if len({_key(unit) for unit in units}) < 2 and item.draw.count > 1:
                raise _Bad((*path, "draw"), "there is only one note to draw", "a larger region, or count: 1")
            return drawn(units, item.draw.count, self._rng, _key, after)
        walked = not is_shuffled and (
            item.kind in ("walk", "string") or (item.row is not None and item.row.leap is not None)
        )
        units = self._asker(item, path, walked=walked, draws=is_shuffled).units()
        if walked and not units[0][0].cue:
            # Nothing shown would leave the player guessing where a second walk, or a second round, begins.
            begins = replace(units[0][0], cue=(CueKind.NAME, CueKind.PLACE), hint=_BEGINS)
            units = [(begins, *units[0][1:]), *units[1:]]
        return units

    def _asker(self, item: Item, path: FilePath, *, walked: bool, draws: bool) -> "_Asker":
        content = self._content
        style = _Style(
            show=item.show if item.show is not None else content.show,
            judge=item.judge or content.judge or JudgeBy(Judged.PLACE),
            accidentals=content.accidentals,
            walked=walked,
        )
        accidentals = content.accidentals or (Accidentals.BOTH if draws else Accidentals.SHARPS)
        document = self._drill.document
        return _Asker(item, path, style, self._neck, content.language, accidentals, self._rng, document)

    def _other_drill(self, item: Item, path: FilePath) -> list[Unit]:
        assert item.drill is not None
        name = item.drill.name
        if name in self._faulty or name not in self._drill.parts:
            return []  # told once, or when it was read
        known = len(self._problems)
        other = _DrillBuilder(
            self._drill.parts[name], self._neck, self._rng, self._problems, faulty=self._faulty
        )
        units = other.units()
        if len(self._problems) > known:
            self._faulty.add(name)
        if item.drill.count is not None:
            units = units[: item.drill.count]
        if self._content.order is Order.SHUFFLED and any(not p.cue for unit in units for p in unit):
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
                result.append((_naming(self._not_told(units, index) if was_shown else unit[-1]),))
        return result

    def _not_told(self, units: list[Unit], index: int) -> Prompt:
        """Draw a note to be named that the questions just before and after do not give away."""
        near = {unit[-1].midi % OCTAVE for unit in units[index : index + 2]}
        return self._rng.choice([u for u in units if u[-1].midi % OCTAVE not in near] or units)[-1]


def _key(unit: Unit) -> Hashable:
    """What must not come twice in a row: the same places asked by the same name."""
    return tuple((prompt.judged is Judged.NAME, prompt.places[0]) for prompt in unit)


def _naming(source: Prompt) -> Prompt:
    place = source.places[0]
    return Prompt(
        n=0,
        cue=(CueKind.PLACE,),
        judged=Judged.NAME,
        places=(place,),
        midis=(source.midi,),
        pitch=source.pitch,
        given=place,
    )


class _Asker:
    """Makes the questions of one item."""

    def __init__(
        self,
        item: Item,
        path: FilePath,
        style: _Style,
        neck: Neck,
        language: Language,
        accidentals: Accidentals,
        rng: random.Random,
        document: Document,
    ) -> None:
        self._item = item
        self._path = path
        self._style = style
        self._neck = neck
        self._language = language
        self._accidentals = accidentals
        self._rng = rng
        self._document = document

    def units(self) -> list[Unit]:
        """Every question of the item, in the order it is written. Raises _Bad."""
        item = self._item
        if item.places is not None:
            return self._listed(
                _each(partial(self._place, text, "places", i) for i, text in enumerate(item.places))
            )
        if item.notes is not None:
            return self._notes()
        if item.walk is not None:
            return self._walk(item.walk, "walk")
        if item.string is not None:
            return self._string()
        if item.row is not None:
            return self._row()
        if item.beside_row is not None:
            return self._beside_row()
        if item.region is not None:
            return self.pool(item.region)
        if item.places_of is not None:
            return self._places_of(item.places_of)
        if item.same_pitch is not None:
            return self._same_pitch(item.same_pitch)
        if item.octaves is not None:
            return self._octaves(item.octaves)
        assert item.taken_string is not None
        return self._taken_string(item.taken_string)

    def pool(self, pool: Pool) -> list[Unit]:
        """One question for each place of a region whose note belongs. Raises _Bad."""
        found = self._pool_places(pool)
        domain = [place for place, _ in found]
        return [(self._ask(place, pitch, domain),) for place, pitch in found]

    # Reading what the file names.

    def _at(self, *steps: str | int) -> FilePath:
        return (*self._path, *steps)

    def _place(self, text: str, *steps: str | int) -> Place:
        place = Place.parse(text)
        if not self._neck.has(place):
            raise _Bad(
                self._at(*steps),
                f"the guitar has no place {place}",
                f"strings 1 to {self._neck.strings}, frets 0 to {self._neck.last_fret}",
            )
        return place

    def _fret(self, fret: int, *steps: str | int) -> int:
        if not 0 <= fret <= self._neck.last_fret:
            raise _Bad(self._at(*steps), f"the guitar has no fret {fret}", f"0 to {self._neck.last_fret}")
        return fret

    def _span(self, region: Region) -> Span:
        neck = self._neck
        frets = region.frets or (0, neck.last_fret)
        strings = region.strings or (1, neck.strings)
        self._fret(frets[1], self._item.kind, "frets")
        if strings[0] < 1 or strings[1] > neck.strings:
            wrong = strings[0] if strings[0] < 1 else strings[1]
            raise _Bad(
                self._at(self._item.kind, "strings"),
                f"the guitar has no string {wrong}",
                f"1 to {neck.strings}",
            )
        return Span(neck, frets, strings)

    def _note_set(self, text: str, key: str) -> NoteSet:
        try:
            return NoteSet.parse(text, self._language)
        except ValueError as error:
            message, _, allowed = str(error).partition("; write ")
            raise _Bad(self._at(self._item.kind, key), message, allowed) from None

    def _name(self, text: str, *steps: str | int) -> tuple[str, int, int | None]:
        try:
            return parse_name(text, self._language)
        except ValueError as error:
            message, _, allowed = str(error).partition("; write ")
            raise _Bad(self._at(*steps), message, allowed) from None

    def _pool_places(self, pool: Pool) -> list[tuple[Place, SpelledPitch]]:
        notes = self._note_set(pool.notes, "notes")
        spelled = [(place, self._spelled(place, notes)) for place in self._span(pool).places()]
        found = [(place, pitch) for place, pitch in spelled if pitch is not None]
        if not found:
            raise _Bad(self._at(self._item.kind), f"no note of {pool.notes} lies here", "a larger region")
        return found

    def _spelled(self, place: Place, notes: NoteSet) -> SpelledPitch | None:
        return notes.spelling(self._neck.midi(place), self._accidentals, self._rng)

    def _plainly(self, place: Place) -> SpelledPitch:
        pitch = self._spelled(place, NoteSet())
        assert pitch is not None
        return pitch

    # Kinds of question.

    def _listed(self, places: list[Place]) -> list[Unit]:
        return [(self._ask(place, self._plainly(place), places),) for place in places]

    def _notes(self) -> list[Unit]:
        assert self._item.notes is not None
        span = self._span(self._item.notes)
        names = enumerate(self._item.notes.names)
        return [u for units in _each(partial(self._note, span, i, text) for i, text in names) for u in units]

    def _note(self, span: Span, index: int, text: str) -> list[Unit]:
        step, alter, octave = self._name(text, "notes", "names", index)
        found = [(span.lowest_fret(pitch.midi), pitch) for pitch in self._pitches(step, alter, octave)]
        domain = span.places()
        asked: list[Unit] = [
            (self._ask(place, pitch, domain),) for place, pitch in found if place is not None
        ]
        if not asked:
            frets, strings = span.frets, span.strings
            where = f"a note of frets {frets[0]} to {frets[1]}, strings {strings[0]} to {strings[1]}"
            raise _Bad(self._at("notes", "names", index), f"{text} is not found here", where)
        return asked

    def _pitches(self, step: str, alter: int, octave: int | None) -> list[SpelledPitch]:
        octaves: Iterable[int] = range(-1, 10) if octave is None else (octave,)
        return [SpelledPitch(step, alter, o) for o in octaves]

    def _string(self) -> list[Unit]:
        assert self._item.string is not None
        line = self._item.string
        if line.number > self._neck.strings:
            message = f"the guitar has no string {line.number}"
            raise _Bad(self._at("string", "number"), message, f"1 to {self._neck.strings}")
        self._fret(line.frets[1], "string", "frets")
        span = Span(self._neck, line.frets, (line.number, line.number))
        notes = self._note_set(line.through, "through")
        rising = [place for place in span.places() if self._spelled(place, notes) is not None]
        if not rising:
            raise _Bad(self._at("string"), f"no note of {line.through} lies here", "a larger range of frets")
        return self._walked(rising, notes, back=line.back)

    def _walk(self, walk: Walk, kind: str) -> list[Unit]:
        notes = self._note_set(walk.through, "through")
        span = self._span(walk)
        (first, first_place), (last, last_place) = _each(
            (partial(self._end, walk.from_, kind, "from"), partial(self._end, walk.to, kind, "to"))
        )
        step = 1 if first <= last else -1
        places: list[Place] = []
        for midi in range(first, last + step, step):
            pitch = notes.spelling(midi, Accidentals.SHARPS, self._rng)
            if pitch is None:
                continue
            place = span.lowest_fret(midi)
            if place is None:
                raise _Bad(
                    self._at(kind), f"the walk needs {pitch}, which is not found here", "a larger region"
                )
            places.append(place)
        ends = {
            "from": (first, first_place, places[:1]),
            "to": (last, last_place, places[-1:]),
        }
        _each(partial(self._check_end, walk, notes, kind, key, *end) for key, end in ends.items())
        if walk.broken is not None:
            pairs = broken(places, walk.broken.steps)
            if not pairs:
                raise _Bad(self._at(kind), f"too short to be walked in {walk.broken}", "ends further apart")
            places = pairs
        elif len(places) < 2:
            raise _Bad(self._at(kind), "the walk has only one note", "ends further apart")
        return self._walked(places, notes, back=walk.back)

    def _check_end(
        self,
        walk: Walk,
        notes: NoteSet,
        kind: str,
        key: str,
        midi: int,
        place: Place | None,
        taken: list[Place],
    ) -> None:
        """Refuse an end whose note does not belong, or that the walk would take at another place."""
        if notes.spelling(midi, Accidentals.SHARPS, self._rng) is None:
            message = f"{spell(midi)[0]} does not belong to {walk.through}"
            raise _Bad(self._at(kind, key), message, "a note of the walk")
        if place is not None and taken != [place]:
            message = f"the walk would take {taken[0]}, the lowest fret here, not {place}"
            raise _Bad(self._at(kind, key), message, "frets or strings that leave the other out")

    def _end(self, text: str, kind: str, key: str) -> tuple[int, Place | None]:
        if ":" in text:
            try:
                place = self._place(text, kind, key)
            except ValueError as error:
                message, _, allowed = str(error).partition("; write ")
                raise _Bad(self._at(kind, key), message, allowed) from None
            return self._neck.midi(place), place
        step, alter, octave = self._name(text, kind, key)
        if octave is None:
            raise _Bad(
                self._at(kind, key),
                f"{text} lacks its octave",
                f"as sounded, for example {text}3, or a place",
            )
        return SpelledPitch(step, alter, octave).midi, None

    def _walked(self, places: list[Place], notes: NoteSet, *, back: bool) -> list[Unit]:
        """Ask a walk; where no key spells it, sharps on the way up and flats on the way down."""
        steps = there_and_back(places) if back else places
        units: list[Unit] = []
        top = len(places) - 1
        upward = self._neck.midi(places[-1]) >= self._neck.midi(places[0])
        for index, place in enumerate(steps):
            rising = upward == (index <= top)
            sign = Accidentals.SHARPS if rising else Accidentals.FLATS
            if self._style.accidentals is not None:
                sign = self._style.accidentals
            pitch = notes.spelling(self._neck.midi(place), sign, self._rng)
            assert pitch is not None
            units.append((self._ask(place, pitch, places),))
        return units

    def _row(self) -> list[Unit]:
        assert self._item.row is not None
        row, strings = self._item.row, self._neck.strings
        self._fret(row.fret, "row", "fret")
        places = [Place(string, row.fret) for string in range(strings, 0, -1)]
        if row.leap is None:
            where = "open string" if row.fret == 0 else f"fret {row.fret}"
            return [(replace(prompt, hint=where),) for (prompt,) in self._listed(places)]
        try:
            walk = row_walk(strings, row.leap)
        except ValueError:
            message = f"a leap of {row.leap} on {strings} strings is too long"
            raise _Bad(self._at("row", "leap"), message, f"1 to {strings - 1}") from None
        steps = [Place(string, row.fret) for string in walk]
        return [(self._ask(place, self._plainly(place), places),) for place in steps]

    def _beside_row(self) -> list[Unit]:
        assert self._item.beside_row is not None
        beside = self._item.beside_row
        self._fret(beside.row, "beside_row", "row")
        fret = beside.row + (1 if beside.side is Side.ABOVE else -1)
        self._fret(fret, "beside_row", "side")
        places = [Place(string, fret) for string in range(self._neck.strings, 0, -1)]
        units: list[Unit] = []
        for place in places:
            landmark = Place(place.string, beside.row)
            for pitch in spell(self._neck.midi(place), Accidentals.BOTH):
                asked = self._ask(place, pitch, places)
                hint = "; ".join((*filter(None, [asked.hint]), f"one fret {beside.side} row {beside.row}"))
                units.append((replace(asked, may_play=(landmark,), hint=hint),))
        return units

    def _places_of(self, wanted: PlacesOf) -> list[Unit]:
        self._only_by_place("places_of")
        span = self._span(wanted)
        step, alter, octave = self._name(wanted.note, "places_of", "note")
        cue = (CueKind.NAME,) if self._style.show is None else self._style.show
        if octave is None and CueKind.STAFF in cue:
            message = "the staff shows one octave only"
            raise _Bad(self._at("places_of", "note"), message, f"an octave, for example {wanted.note}4")
        pitches = {pitch.midi: pitch for pitch in self._pitches(step, alter, octave)}
        places = tuple(place for place in span.places() if self._neck.midi(place) in pitches)
        if not places:
            message = f"{wanted.note} is not found here"
            raise _Bad(self._at("places_of", "note"), message, "a larger region or another octave")
        prompts = []
        for k in range(len(places)):
            turned = places[k:] + places[:k]
            midis = tuple(self._neck.midi(place) for place in turned)
            prompts.append(
                Prompt(
                    n=0,
                    cue=cue,
                    judged=Judged.PLACE,
                    places=turned,
                    midis=midis,
                    pitch=pitches[midis[0]],
                    each_once=0,
                    hint=f"place {k + 1} of {len(places)}",
                )
            )
        return [tuple(prompts)]

    def _same_pitch(self, pool: Pool) -> list[Unit]:
        self._only_by_place("same_pitch")
        units: list[Unit] = []
        for place, pitch in self._pool_places(pool):
            others = tuple(p for p in self._neck.places(pitch.midi) if p.string != place.string)
            if not others:
                continue
            nearest = tuple(sorted(others, key=lambda p: (abs(p.string - place.string), p.fret)))
            units.append((self._given(place, nearest, pitch, "the same note on another string"),))
        if not units:
            message = "no note here has a second string"
            raise _Bad(self._at("same_pitch"), message, "a larger region")
        return units

    def _octaves(self, pool: Pool) -> list[Unit]:
        self._only_by_place("octaves")
        found = self._pool_places(pool)
        domain = [place for place, _ in found]
        units: list[Unit] = []
        for root, pitch in found:
            answers = _octave_shapes(self._neck, root)
            if answers:
                higher = replace(pitch, octave=pitch.octave + 1)
                first = self._ask(root, pitch, domain)
                first = _exactly(first, root)
                units.append((first, self._given(root, answers, higher, "an octave higher")))
        if not units:
            raise _Bad(self._at("octaves"), "no note here has its octave within reach", "a larger region")
        return units

    def _taken_string(self, wanted: TakenString) -> list[Unit]:
        self._only_by_place("taken_string")
        pairs: list[tuple[Place, Place]] = []
        if wanted.pairs is not None:
            pairs = _each(partial(self._pair, texts, index) for index, texts in enumerate(wanted.pairs))
        else:
            places = [place for place, _ in self._pool_places(wanted)]
            pairs = [
                (held, other)
                for held in places
                for other in places
                if held.string == other.string and held != other and self._free_places(held, other)
            ]
        if not pairs:
            raise _Bad(self._at("taken_string"), "no pair of notes is found here", "a larger region")
        notes = self._note_set(wanted.notes, "notes")
        domain = [held for held, _ in pairs]
        return [self._taken(held, other, notes, domain) for held, other in pairs]

    def _pair(self, texts: list[str], index: int) -> tuple[Place, Place]:
        where = ("taken_string", "pairs", index)
        held, other = _each(partial(self._place, text, *where, i) for i, text in enumerate(texts))
        if not self._free_places(held, other):
            message = f"the note of {other} is not within reach on a free string while {held} is held"
            raise _Bad(self._at(*where), message, "another pair")
        return held, other

    def _taken(self, held: Place, other: Place, notes: NoteSet, domain: list[Place]) -> Unit:
        held_pitch = self._spelled(held, notes) or self._plainly(held)
        pitch = self._spelled(other, notes) or self._plainly(other)
        first = self._ask(held, held_pitch, domain)
        first = replace(_exactly(first, held), hint="hold this note")
        answers = self._free_places(held, other)
        shown = tuple(kind for kind in first.cue if kind in (CueKind.NAME, CueKind.STAFF)) or (CueKind.NAME,)
        hint = f"usually at {other}, but string {held.string} is taken"
        second = self._prompt(answers, pitch, shown, hint)
        return first, replace(second, held=held, may_play=(held,))

    def _free_places(self, held: Place, other: Place) -> tuple[Place, ...]:
        """Where the note of a place lies on other strings, open or within the hand that holds a note."""
        return tuple(
            place
            for place in self._neck.places(self._neck.midi(other))
            if place.string != held.string
            and (place.fret == 0 or held.fret == 0 or abs(place.fret - held.fret) <= HAND_FRETS)
        )

    def _only_by_place(self, kind: str) -> None:
        if self._style.judge.judged is not Judged.PLACE:
            raise _Bad(self._at(kind), f"{kind} is judged by place only", "judge: place")

    # Prompts.

    def _given(self, given: Place, answers: tuple[Place, ...], pitch: SpelledPitch, hint: str) -> Prompt:
        """Ask for something built on a place that is shown and may be played first."""
        show = self._style.show if self._style.show is not None and self._item.octaves is None else None
        cue = (*(kind for kind in show or () if kind is not CueKind.STRING), CueKind.PLACE)
        asked = self._prompt(answers, pitch, tuple(dict.fromkeys(cue)), hint)
        return replace(asked, given=given, may_play=(given,))

    def _prompt(
        self, places: tuple[Place, ...], pitch: SpelledPitch, cue: tuple[CueKind, ...], hint: str = ""
    ) -> Prompt:
        midis = tuple(self._neck.midi(place) for place in places)
        return Prompt(n=0, cue=cue, judged=Judged.PLACE, places=places, midis=midis, pitch=pitch, hint=hint)

    def _ask(self, place: Place, pitch: SpelledPitch, domain: Sequence[Place]) -> Prompt:
        """Ask for one place among those that the item speaks of, as it is to be shown and judged."""
        judged = self._style.judge.judged
        show = self._style.show
        if judged is Judged.NAME:
            telling = {CueKind.NAME, CueKind.STAFF, CueKind.INTERVAL} & set(show or ())
            if telling:
                at = self._at("show") if self._item.show is not None else ("show",)
                message = f"showing the {min(telling)} would give the answer away"
                raise _Bad(at, message, "show: place, or leave it out")
            return _naming(self._prompt((place,), pitch, ()))
        cue = (CueKind.NAME,) if show is None else show
        if judged is Judged.PLACE:
            if cue == (CueKind.NAME,) and not self._style.walked and self._has_rival(place, domain):
                cue = (*cue, CueKind.STRING)
            elif not cue and not self._style.walked:
                raise _Bad(
                    self._path, "with nothing shown the player cannot know what is asked", "show: name"
                )
            answers = (place,) if self._style.walked else self._matching(place, domain, cue)
        elif judged is Judged.PITCH:
            answers = self._matching(place, list(self._neck.all_places()), cue)
        else:
            answers = self._in_position(place, cue)
        position = self._style.judge.position if judged is Judged.POSITION else None
        hint = "" if position is None else position_words(position)
        return replace(self._prompt(answers, pitch, cue, hint), judged=judged)

    def _has_rival(self, place: Place, domain: Sequence[Place]) -> bool:
        """Whether the name of a place occurs elsewhere among those asked for."""
        name = self._neck.midi(place) % OCTAVE
        return any(other != place and self._neck.midi(other) % OCTAVE == name for other in domain)

    def _matching(self, place: Place, domain: Sequence[Place], cue: Sequence[CueKind]) -> tuple[Place, ...]:
        """Every place that fits what is shown, the suggested one first."""
        if CueKind.PLACE in cue:
            return (place,)
        midi = self._neck.midi(place)
        any_octave = CueKind.NAME in cue and not {CueKind.STAFF, CueKind.INTERVAL} & set(cue)
        fitting = [
            other
            for other in dict.fromkeys(domain)
            if other != place
            and (self._neck.midi(other) - midi) % (OCTAVE if any_octave else 1000) == 0
            and (CueKind.STRING not in cue or other.string == place.string)
        ]
        return (place, *fitting)

    def _in_position(self, place: Place, cue: Sequence[CueKind]) -> tuple[Place, ...]:
        position = self._style.judge.position
        assert position is not None
        at = self._at("judge") if self._item.judge is not None else ("judge",)
        if position > self._neck.last_fret:
            message = f"the guitar has no position {position}"
            raise _Bad(at, message, f"0 (open) to {self._neck.last_fret}")
        midi = self._neck.midi(place)
        lowest, highest = self._neck.compass
        any_octave = CueKind.NAME in cue and not {CueKind.STAFF, CueKind.INTERVAL} & set(cue)
        others = [
            m for m in range(lowest, highest + 1) if any_octave and m != midi and (m - midi) % OCTAVE == 0
        ]
        reached = [reach.place for m in (midi, *others) for reach in in_reach(self._neck, position, m)]
        if not reached or self._neck.midi(reached[0]) != midi:
            message = f"the note of {place} is not in reach of position {position}"
            raise _Bad(self._path, message, f"notes within frets {position} to {position + HAND_FRETS}")
        if CueKind.STRING in cue:
            reached = [p for p in reached if p.string == reached[0].string]
        return tuple(reached)


def _exactly(prompt: Prompt, place: Place) -> Prompt:
    """Ask for one place only, showing it where the cue does not tell it."""
    if prompt.places == (place,):
        return prompt
    return replace(prompt, places=(place,), midis=(prompt.midi,), cue=(*prompt.cue, CueKind.PLACE))


def _octave_shapes(neck: Neck, root: Place) -> tuple[Place, ...]:
    """Where a hand finds the octave above a place: within four frets of it, the nearest string first."""
    places = neck.places(neck.midi(root) + OCTAVE)
    near = [p for p in places if p.string != root.string and abs(p.fret - root.fret) <= HAND_FRETS]
    return tuple(sorted(near, key=lambda p: (abs(p.string - root.string), p.fret)))
