"""How the program behaves for one person."""

from dataclasses import dataclass, field
from enum import StrEnum

from midifret.neck import Accidentals, Language

DEMO_PLAYER = "demo"  # the virtual player of `midifret demo`; no person has this name


class ClickWay(StrEnum):
    """By what a click is heard."""

    OFF = "off"  # the beat is seen only
    MIDI = "midi"
    SOUND = "sound"  # the sound card


@dataclass(frozen=True, slots=True)
class ClickSounds:
    """A number, 0 to 127, for each kind of click: MIDI notes, or velocities (0 leaves that kind out)."""

    bar: int
    beat: int
    subdivision: int


@dataclass(frozen=True, slots=True)
class ClickSettings:
    """How the beat is heard.

    port: part of the name of the MIDI output for click and clock, empty for the only one. channel: 0 to 15.
    count_in_beats: 0 to 16. subdivisions: clicks a beat, 0 for as many as the tempo needs. send_clock: MIDI
    clock on the same port, beside any click. device: part of the name of the sound output, empty for that of
    the system. volume_percent: of full scale. The numbers are shipped in config/settings.yaml, with sources.
    """

    output: ClickWay = ClickWay.OFF
    port: str = ""
    channel: int = 9
    notes: ClickSounds = ClickSounds(76, 77, 42)
    velocities: ClickSounds = ClickSounds(112, 96, 64)
    count_in_beats: int = 4
    subdivisions: int = 0
    send_clock: bool = False
    device: str = ""
    volume_percent: int = 20


@dataclass(frozen=True, slots=True)
class Settings:
    """A person's settings.

    player: whose book is written. guitar: name of the guitar's file. language, accidentals: how notes
    are named where the drill does not say. countdown_s: seconds before the first cue.
    rest_after_minutes: of playing. database_url: of the practice book, empty for the one in the home folder.
    click: how the beat of a drill in tempo is heard.
    """

    player: str = "me"
    guitar: str = "default"
    language: Language = Language.ENGLISH
    accidentals: Accidentals = Accidentals.SHARPS
    countdown_s: int = 3
    rest_after_minutes: int = 25
    database_url: str = ""
    click: ClickSettings = field(default_factory=ClickSettings)
