"""The hand on one neck, as tables: every form for a set of notes, what it costs, and what a move costs."""

from dataclasses import dataclass

from midifret.fingering import costs
from midifret.fingering.choices import Choices, Kept, OpenStrings
from midifret.fingering.forms import Form, Grip, Put, fingerings, grips_of, hand_positions
from midifret.fingering.weights import Weights
from midifret.neck import Neck, in_reach
from midifret.terms.score import PositionMark, Printed

# What goes against a choice of the player costs so much that it is done only where nothing else can [ours].
AGAINST = 100.0
# Where natural harmonics lie, by semitones above the open string: 2nd to 5th partial (harmonic series; frets
# by twelve-tone equal temperament) [calc].
HARMONIC_FRETS = {12: (12,), 19: (7, 19), 24: (5,), 28: (4, 9, 16)}
FINGERS = ("open", "first", "second", "third", "fourth")


@dataclass(frozen=True, slots=True)
class Asked:
    """One note as the hand meets it: its pitch, whether it is struck now, and what is printed and kept."""

    midi: int
    new: bool = True
    harmonic: bool = False
    printed: Printed | None = None


@dataclass(frozen=True, slots=True)
class Stance:
    """One way to play a set of notes, before any move: a form, the position of the hand, and its price."""

    cost: float
    position: int
    form: Form


Stances = dict[tuple[Put, ...], list[Stance]]


class Hand:
    """What the left hand can do on a neck. It keeps what it has worked out: one Hand for one score."""

    def __init__(
        self, neck: Neck, weights: Weights, choices: Choices, *, most_hurry: float | None = None
    ) -> None:
        """Lay out what holds for every note.

        most_hurry: the most that any move weighs in this score. With it, stances that cannot lie on the
        cheapest way are left out; None keeps all.
        """
        self._most_hurry = most_hurry
        self.neck = neck
        self.weights = weights
        self.choices = choices
        self.last_fret = neck.last_fret
        # The position in which the hand is locked; the open one holds it like the first.
        self.locked = None if choices.position is None else max(1, choices.position)
        self._in_position: dict[int, list[tuple[int, int]]] = {}
        size = self.last_fret + 2
        self.shift = [
            [
                weights.shift * costs.shift_length(one, other, neck.capo)
                + (weights.shift_begun if one != other else 0.0)
                for other in range(size)
            ]
            for one in range(size)
        ]
        self._forms: dict[tuple[Put, ...], Form] = {}
        self._numbers: dict[tuple[Grip | None, ...], int] = {}
        self._by_pitches: dict[tuple[tuple[int, bool], ...], list[Form]] = {}
        self._stances: dict[object, Stances] = {}
        self.moves: dict[int, tuple[float, float, float]] = {}
        self._positions: dict[int, range] = {}
        self._standing: dict[tuple[int, int], float] = {}
        self._grip_moves: dict[tuple[int, Grip | None, Grip], tuple[float, float]] = {}

    def places(self, midi: int, *, harmonic: bool, locked: bool) -> list[tuple[int, int]]:
        """Every place (string, fret) of a note that the player's choices do not rule out.

        locked: only those within the locked position, where it reaches the note at all.
        """
        if harmonic:
            found = []
            for string in range(1, self.neck.strings + 1):
                for fret in HARMONIC_FRETS.get(midi - self.neck.open_midi(string), ()):
                    if fret <= self.last_fret:
                        found.append((string, fret))
            if found:
                return found
        if locked and (reached := self._reached(midi)):
            return reached
        places = [(place.string, place.fret) for place in self.neck.places(midi)]
        if self.choices.open_strings is OpenStrings.NEVER:
            places = [place for place in places if place[1]]
        return places

    def forms(self, pitches: tuple[tuple[int, bool], ...]) -> list[Form]:
        """Every form for notes (pitch, harmonic) that sound together; none where no hand can."""
        found = self._by_pitches.get(pitches)
        if found is None:
            found = self._all_forms(pitches, locked=self.locked is not None)
            if not found and self.locked is not None:
                found = self._all_forms(pitches, locked=False)
            self._by_pitches[pitches] = found
        return found

    def _all_forms(self, pitches: tuple[tuple[int, bool], ...], *, locked: bool) -> list[Form]:
        return [
            form
            for places in self._together(pitches, locked=locked)
            for puts in fingerings(places)
            if (form := self.form(puts)).positions
        ]

    def form(self, puts: tuple[Put, ...]) -> Form:
        """The form of these puts, always the same one."""
        form = self._forms.get(puts)
        if form is None:
            grips = grips_of(puts)
            number = self._numbers.setdefault(grips, len(self._numbers))
            down = tuple([(finger, grip) for finger, grip in enumerate(grips) if grip is not None])
            positions = self._positions.get(number)
            if positions is None:
                positions = self._positions[number] = hand_positions(grips, self.last_fret)
            form = self._forms[puts] = Form(number, puts, grips, down, not down, positions)
        return form

    def _together(
        self, pitches: tuple[tuple[int, bool], ...], *, locked: bool
    ) -> list[tuple[tuple[int, int], ...]]:
        """Places for all the notes, no two on one string, none further apart than a hand reaches."""
        found: list[tuple[tuple[int, int], ...]] = [()]
        for midi, harmonic in pitches:
            places = self.places(midi, harmonic=harmonic, locked=locked)
            longer = []
            for before in found:
                taken = {string for string, _ in before}
                frets = [fret for _, fret in before if fret]
                for string, fret in places:
                    if string in taken:
                        continue
                    if fret and frets and max(max(frets), fret) - min(min(frets), fret) > 5:
                        continue
                    longer.append((*before, (string, fret)))
            found = longer
        return found

    def stances(self, asked: tuple[Asked, ...], mark: PositionMark | None = None) -> Stances:
        """Every way to play these notes, by where the held ones among them stand, the cheapest first.

        mark: the printed position that holds, where it is kept.
        """
        key = (asked, mark)
        found = self._stances.get(key)
        if found is None:
            found = self._stances[key] = self._all_stances(asked, mark)
        return found

    def _all_stances(self, asked: tuple[Asked, ...], mark: PositionMark | None) -> Stances:
        found: Stances = {}
        held = [index for index, note in enumerate(asked) if not note.new]
        new = [index for index, note in enumerate(asked) if note.new]
        known: dict[tuple[int, Put, int], float] = {}
        marks = [
            sum(self._mark_parts(position, mark).values()) if mark is not None or self.locked else 0.0
            for position in range(self.last_fret + 1)
        ]
        for form in self.forms(tuple((note.midi, note.harmonic) for note in asked)):
            puts, stances = form.puts, []
            hinge = self.weights.hinge * costs.hinge(form)
            for position in form.positions:
                total = hinge + self._grips_cost(form, position) + marks[position]
                for index in new:
                    struck = (index, puts[index], position)
                    cost = known.get(struck)
                    if cost is None:
                        parts = self.put_parts(puts[index], position, asked[index], mark)
                        cost = known[struck] = sum(parts.values())
                    total += cost
                stances.append(Stance(total, position, form))
            found.setdefault(tuple(puts[index] for index in held), []).extend(self._needed(stances))
        for key, stances in found.items():
            if self.locked is not None:
                here = [stance for stance in stances if stance.position == self.locked]
                found[key] = stances = here or stances
            stances.sort(key=lambda stance: stance.cost)
        return found

    def _needed(self, stances: list[Stance]) -> list[Stance]:
        """Of the stances of one form those that can lie on the cheapest way.

        The hand can always take the cheapest of them instead, and go there and back: where that costs no
        more, the dearer one is not needed.
        """
        if self._most_hurry is None or len(stances) < 2:
            return stances
        least = min(stances, key=lambda stance: stance.cost)
        there = self.shift[least.position]
        detour = [2 * (there[stance.position] + self.weights.unguided) for stance in stances]
        return [
            stance
            for stance, more in zip(stances, detour, strict=True)
            if stance is least or stance.cost < least.cost + more * self._most_hurry
        ]

    def _grips_cost(self, form: Form, position: int) -> float:
        """What it costs to stand so, whatever is struck."""
        key = (form.number, position)
        found = self._standing.get(key)
        if found is None:
            found = self._standing[key] = sum(self._grips_parts(form, position).values())
        return found

    def _grips_parts(self, form: Form, position: int) -> dict[str, float]:
        w, grips = self.weights, form.grips
        away = costs.offsets(grips, position, self.neck.capo)
        parts = {name: getattr(w, name) * value for name, value in away.items()}
        if self.choices.position and position == self.locked and "squeeze" in away:
            parts["own_finger"] = w.own_finger * away["squeeze"]
        parts["spread"] = w.spread * costs.spread(grips)
        parts["order"] = w.order * costs.order(grips)
        parts["small_barre"] = w.small_barre * costs.small_barres(grips)
        return parts

    def _mark_parts(self, position: int, mark: PositionMark | None) -> dict[str, float]:
        parts = {}
        if mark is not None:
            parts["printed_position"] = self.weights.printed_position * abs(position - mark.position)
        if self.locked is not None and position != self.locked:
            parts["against"] = AGAINST
        return parts

    def stance_parts(
        self, form: Form, position: int, asked: tuple[Asked, ...], mark: PositionMark | None
    ) -> dict[str, float]:
        """What a stance costs, by named part."""
        parts = {**self._grips_parts(form, position), **self._mark_parts(position, mark)}
        parts["hinge"] = self.weights.hinge * costs.hinge(form)
        for note, put in zip(asked, form.puts, strict=True):
            if note.new:
                for name, value in self.put_parts(put, position, note, mark).items():
                    parts[name] = parts.get(name, 0.0) + value
        return parts

    def put_parts(self, put: Put, position: int, note: Asked, mark: PositionMark | None) -> dict[str, float]:
        """What one note costs that is struck in this place with this finger."""
        w, capo = self.weights, self.neck.capo
        string, fret, finger = put
        parts: dict[str, float] = {}
        if finger:
            parts["fretted"] = w.fretted
            name = FINGERS[finger]
            parts[name] = getattr(w, name)
            parts["height"] = w.height * costs.height(put, capo)
            parts["body"] = w.body * costs.beyond_body(put, capo)
            parts["thick"] = w.thick * costs.thick(put)
            parts["third_high"] = w.third_high * costs.third_high(put)
            parts["fourth_low"] = w.fourth_low * costs.fourth_low(put)
        else:
            parts["open"] = w.open
            parts["open_high"] = w.open_high * (position - 1)
        if mark is not None:
            if not finger:
                reach = range(mark.position, mark.position + 4)
                if mark.position > 1 and any(place.fret in reach for place in self.neck.places(note.midi)):
                    parts["printed_open"] = w.printed_open
            elif mark.barre is not None and fret == mark.position and finger != 1:
                parts["printed_barre"] = w.printed_barre
        against = 0
        if self.choices.region is not None:
            low, high = self.choices.region
            parts["region"] = w.region * max(0, low - fret, fret - high)
        if self.choices.position is not None:
            reached = self._reached(note.midi)
            against += bool(reached) and not note.harmonic and (string, fret) not in reached
        elif self.choices.open_strings is OpenStrings.NEEDED and not finger:
            reach = range(position, position + 5)
            against += any(place.fret in reach for place in self.neck.places(note.midi))
        if note.printed is not None:
            kept, printed = self.choices.kept, note.printed
            if Kept.FINGERS in kept and printed.finger is not None:
                against += printed.finger != finger
            if Kept.STRINGS in kept:
                against += printed.string not in (None, string)
                against += printed.fret not in (None, fret)
        if against:
            parts["against"] = AGAINST * against
        return parts

    def _reached(self, midi: int) -> list[tuple[int, int]]:
        """The places of a note that the locked position reaches, with the open string where it may ring."""
        found = self._in_position.get(midi)
        if found is None:
            position = self.choices.position
            assert position is not None
            reached = in_reach(self.neck, position, midi)
            opened = self.choices.open_strings
            if opened is OpenStrings.NEVER:
                found = [(r.place.string, r.place.fret) for r in reached if r.place.fret]
            else:
                found = [(r.place.string, r.place.fret) for r in reached]
                if opened is OpenStrings.FREELY:
                    found += [
                        (place.string, 0)
                        for place in self.neck.places(midi)
                        if place.fret == 0 and (place.string, 0) not in found
                    ]
            self._in_position[midi] = found
        return found

    def move(self, form: Form, to: Form) -> tuple[float, float, float]:
        """What the fingers' move costs at the usual time, what more with a shift, and what at any time."""
        key = form.number << 24 | to.number
        found = self.moves.get(key)
        if found is None:
            total, barre, known, guided = 0.0, 0.0, self._grip_moves, False
            grips, down, swaps = form.grips, form.down, 0
            for finger, grip in to.down:
                one = grips[finger]
                if one is not None and one[1] == grip[1] and one[2] == grip[2]:
                    guided = True
                for other, was in down:
                    if was[0] == grip[0] and other != finger:
                        swaps += was[1] <= grip[1] and grip[2] <= was[2]
                if grip != one:
                    cost = known.get((finger, one, grip))
                    if cost is None:
                        cost = known[finger, one, grip] = self._grip_move(finger, one, grip)
                    total += cost[0]
                    barre += cost[1]
            if form.bare or to.bare:
                found = (total, 0.0, barre)
            else:
                total += self.weights.swap * swaps
                found = (total, 0.0 if guided else self.weights.unguided, barre)
            self.moves[key] = found
        return found

    def _grip_move(self, finger: int, one: Grip | None, other: Grip) -> tuple[float, float]:
        """What one finger's move costs by its time, and at any time."""
        by_time, at_any = 0.0, 0.0
        for name, amount in costs.finger_move(finger + 1, one, other).items():
            if name in costs.UNHURRIED:
                at_any += getattr(self.weights, name) * amount
            else:
                by_time += getattr(self.weights, name) * amount
        return by_time, at_any

    def move_parts(self, form: Form, to: Form) -> dict[str, float]:
        """The same by named part."""
        w = self.weights
        parts: dict[str, float] = {}
        for finger, (one, other) in enumerate(zip(form.grips, to.grips, strict=True), start=1):
            if other is not None:
                for name, amount in costs.finger_move(finger, one, other).items():
                    parts[name] = parts.get(name, 0.0) + getattr(w, name) * amount
        if swaps := costs.swaps(form, to):
            parts["swap"] = w.swap * swaps
        if not form.bare and not to.bare and not costs.guided(form, to):
            parts["unguided"] = w.unguided
        return parts

    def hurry(self, time_s: float) -> float:
        """What a move weighs that has so many seconds."""
        return costs.hurry(time_s, self.weights.hurry)
