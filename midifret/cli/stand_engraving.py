"""What is engraved for the stand before a run begins: the staff of each note that is asked, or the music."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from midifret.cli.page_score import as_hand_plays
from midifret.neck import Accidentals, Neck, spell
from midifret.session.around import Setting
from midifret.show.words import shown_place
from midifret.stand.messages import Engraving
from midifret.stand.screens import Engraved, engraving_name, engraving_words
from midifret.terms import CueKind, Exercise, Judged, SpelledPitch, Unavailable
from midifret.terms.fingered import FingeredNote, FingeredScore

# Of a line of music: as wide as a usual screen its staff is some 20 mm high, to be read from a metre [ours].
LINE_MM = 120.0
_HEAD = re.compile(r'id="(n\d+)"')


@dataclass(frozen=True, slots=True)
class Prepared:
    """Drawings for one run. told: to be sent before it. notice: what could not be engraved, in a sentence."""

    engraved: Engraved
    told: tuple[Engraving, ...] = ()
    notice: str = ""


class Engraver:
    """Engraves what runs need, each note once for as long as the stand is open."""

    def __init__(self) -> None:
        """Nothing is engraved yet."""
        self._notes: dict[SpelledPitch, str] = {}
        self._music: tuple[Exercise, Prepared] | None = None
        self._number = 0

    def check(self, exercise: Exercise, neck: Neck) -> None:
        """Engrave the music of a reading, and see that a drill on staves alone can be engraved.

        Raises Unavailable without the engraving library, BadInput for music that it does not take.
        """
        if exercise.score is not None:
            self._music = exercise, self._reading(exercise, neck)
        elif exercise.prompts and all(CueKind.STAFF in prompt.cue for prompt in exercise.prompts):
            from midifret.pages.engraver import load_library

            load_library()

    def prepare(self, setting: Setting) -> Prepared:
        """Engrave what a run needs, in a process of its own.

        Where the engraving library is missing notes are told in words, and that is said. Raises Unavailable
        and BadInput as `check` does for a reading, of which nothing would be left.
        """
        exercise = setting.exercise
        if exercise.score is not None:
            if self._music is None or self._music[0] != exercise:
                self._music = exercise, self._reading(exercise, setting.guitar.neck)
            return self._music[1]
        wanted = list(dict.fromkeys(_on_staff(setting)))
        try:
            if any(pitch not in self._notes for pitch in wanted):
                self._notes = _staves({*self._notes, *wanted})
        except Unavailable as error:
            return Prepared(Engraved(), notice=f"Notes are told in words: {error}")
        names = {pitch: engraving_name(pitch) for pitch in wanted}
        told = tuple(
            Engraving(names[pitch], (self._notes[pitch],), engraving_words(pitch)) for pitch in wanted
        )
        return Prepared(Engraved(notes=names), told)

    def _reading(self, exercise: Exercise, neck: Neck) -> Prepared:
        from midifret.pages.beside import READING, Shown  # need libraries that drills do without
        from midifret.pages.score_page import engraved_page

        assert exercise.score is not None
        drawn = as_hand_plays(exercise.score, neck.capo)
        given = _given(exercise)
        shown = READING if given is None else Shown(tablature=True)
        page = engraved_page(
            drawn, given, neck=neck, shown=shown, position=exercise.position or 0, width_mm=LINE_MM
        )
        self._number += 1
        name = f"music {self._number}"
        line_of = {ident: line for line, svg in enumerate(page.systems) for ident in _HEAD.findall(svg)}
        heads = {n: idents[0] for n, idents in page.heads.items()}
        engraved = Engraved(
            music=name, heads=heads, lines={n: line_of.get(ident, 0) for n, ident in heads.items()}
        )
        words = f"the music of {exercise.title or exercise.name}, {len(page.systems)} lines"
        return Prepared(engraved, (Engraving(name, page.systems, words),))


def _given(exercise: Exercise) -> FingeredScore | None:
    """The places that a reading shows, as a fingering that tells no fingers; None where it shows none."""
    if not any(CueKind.PLACE in prompt.cue for prompt in exercise.prompts):
        return None
    notes = tuple(FingeredNote(prompt.n, shown_place(prompt), None, None) for prompt in exercise.prompts)
    return FingeredScore(notes, shifts=0, open_strings=0, cost=0.0)


def _on_staff(setting: Setting) -> Iterable[SpelledPitch]:
    """The notes whose staff may be asked; where prompts are chosen as the run goes, all of the neck."""
    if setting.ask is not None:
        neck = setting.guitar.neck
        for midi in sorted({neck.midi(place) for place in neck.all_places()}):
            yield from spell(midi, Accidentals.BOTH)
        return
    for prompt in setting.exercise.prompts:
        if CueKind.STAFF in prompt.cue and prompt.judged is not Judged.NAME:
            yield prompt.pitch


def _staves(pitches: Iterable[SpelledPitch]) -> dict[SpelledPitch, str]:
    from midifret.pages.note_staves import note_staves

    return note_staves(sorted(pitches, key=lambda pitch: (pitch.midi, pitch.step)))
