"""What the tests of commands share that are played by a simulated player."""

import json
from dataclasses import dataclass, replace
from typing import Any

from midifret.cli.running import Table
from midifret.neck import Neck, Tuning
from midifret.players import Player, Skill
from midifret.session.around import Setting
from midifret.terms import TimedMessage
from midifret.wire.virtual_guitar import VirtualGuitar, VirtualSource

# Open strings of the standard tuning, music21 `instrument.Guitar().stringPitches` [ran].
NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))


class Port:
    """A port whose guitar is put in for each run; outside them nothing comes."""

    name = "Simulated Guitar 24:0"
    trouble = ""
    last_there_s = 0.0

    def poll(self) -> list[TimedMessage]:
        return []

    def realtime(self) -> list[TimedMessage]:
        return []

    def connected(self, *, at_once: bool = False) -> bool:
        return True

    def close(self) -> None:
        """Nothing is held."""


@dataclass(frozen=True)
class Call:
    """What a call of the program left."""

    exit_code: int
    out: str
    stderr: str

    @property
    def document(self) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(self.out) if self.out else {}
        return found


def played_by(skill: Skill, setting: Setting, table: Table, *, poll_s: float = 0.002, **guitar: Any) -> Table:
    """The table at which a virtual guitar plays a run. guitar: as VirtualGuitar takes it."""
    player = Player(skill, NECK, tempo=setting.exercise.tempo)
    virtual = VirtualGuitar(setting.guitar, player, **guitar)
    source = VirtualSource(virtual, table.clock)
    return replace(table, source=source, on_cue=virtual.cue, on_due=virtual.beat, poll_s=poll_s)
