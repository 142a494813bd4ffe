"""The hall of the stand: what can be begun, by groups, and where the report is."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from midifret.cli.app import App, warn
from midifret.cli.scores import shelf_of
from midifret.cli.shelf import OnShelf
from midifret.cli.stand_runs import CALIBRATE, DRILL, MELODY, SCORE
from midifret.drills import build
from midifret.drills.library import load_all
from midifret.gear.melody import load_levels
from midifret.neck import Neck
from midifret.reading.build import position_name
from midifret.show.words import counted
from midifret.stand.messages import Hall, Offer
from midifret.terms import BadInput

REPORT_PATH = "/report"
_SCORES, _MELODIES, _CALIBRATION = "Your own scores", "Unseen melodies", "Calibration"
_PARTS = {
    "reaction": ("Reaction", "pluck a shown open string the moment it is shown"),
    "click": ("Click", "pluck shown places on a click"),
    "hands": ("Hands", "play shown places as fast as you get there"),
}


@dataclass(slots=True)
class Offers:
    """What the hall offers. Drills and melodies are looked up once; scores whenever `look` is called."""

    app: App
    guitar: str | None
    player: str
    neck: Neck
    drills: tuple[Offer, ...] = ()
    melodies: tuple[Offer, ...] = ()
    scores: tuple[Offer, ...] = ()
    positions: Mapping[str, tuple[int, ...]] = field(default_factory=dict)

    def look_up(self) -> None:
        """Read drills and levels; what is faulty is told in the terminal and left out."""
        drills, errors = load_all(self.app.home)
        faults = list(errors)
        offers = []
        for drill in drills:
            try:
                exercise = build(drill, self.neck)
            except BadInput as error:
                faults.append(error)
                continue
            least, most = exercise.minutes
            detail = counted(len(exercise.prompts), "prompt")
            if exercise.tempo is not None:
                detail += f", {exercise.tempo.tempo_bpm:.0f} bpm"
            if not drill.shipped:
                detail += ", your own"
            group = drill.content.stage
            offers.append(
                Offer(DRILL + drill.name, drill.content.title, detail, group, minutes=(least + most) / 2)
            )
        self.drills = tuple(offers)
        self.melodies = tuple(
            Offer(f"{MELODY}{level.number}", f"Level {level.number}: {level.title}", "", _MELODIES)
            for level in load_levels(self.app.home)
        )
        for fault in faults:
            warn(f"left out: {fault}")

    def look_for_scores(self) -> None:
        """Look through the player's folder of scores; reading files that are new or changed takes time."""
        try:
            shelf = shelf_of(self.app, self.guitar, self.player)
        except BadInput as error:  # also Unavailable: the folder or a library is missing
            warn(str(error))
            return
        self.scores = tuple(_score(one) for one in shelf.scores)
        self.positions = {SCORE + one.file: tuple(fit.position for fit in one.fits) for one in shelf.scores}

    @property
    def names(self) -> frozenset[str]:
        """All that can be begun."""
        return frozenset(offer.name for offer in self._all())

    def hall(self, notice: str = "", today: tuple[Offer, ...] = ()) -> Hall:
        """Return the hall. today: the blocks of today's practice."""
        return Hall(self.player, notice, today, self._all(), REPORT_PATH)

    def _all(self) -> tuple[Offer, ...]:
        calibration = [Offer(CALIBRATE, "All three parts", "takes three minutes", _CALIBRATION, minutes=3.0)]
        calibration += [
            Offer(f"{CALIBRATE} {part}", title, detail, _CALIBRATION, minutes=1.0)
            for part, (title, detail) in _PARTS.items()
        ]
        return (*self.drills, *self.scores, *self.melodies, *calibration)


def _score(one: OnShelf) -> Offer:
    title = ", ".join(text for text in (one.read.title, one.read.composer) if text) or one.file
    level = "above the levels" if one.hardness.beyond else f"level {one.hardness.level}"
    where = "position " + ", ".join(position_name(fit.position) for fit in one.fits) if one.fits else ""
    read = f"read {one.times_read} times" if one.times_read > 1 else "read" * one.times_read
    detail = ", ".join(part for part in (level, where, read) if part)
    return Offer(SCORE + one.file, title, detail, _SCORES)
