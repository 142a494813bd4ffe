"""How the program behaves for one person."""

from dataclasses import dataclass

from midifret.neck import Accidentals, Language

DEMO_PLAYER = "demo"  # the virtual player of `midifret demo`; no person has this name


@dataclass(frozen=True, slots=True)
class Settings:
    """A person's settings.

    player: whose book is written. guitar: name of the guitar's file. language, accidentals: how notes
    are named where the drill does not say. countdown_s: seconds before the first cue.
    rest_after_minutes: of playing. database_url: of the practice book, empty for the one in the home folder.
    """

    player: str = "me"
    guitar: str = "default"
    language: Language = Language.ENGLISH
    accidentals: Accidentals = Accidentals.SHARPS
    countdown_s: int = 3
    rest_after_minutes: int = 25
    database_url: str = ""
