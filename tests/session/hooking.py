"""A guitar and its player for hooking up: plucks, slides and touches, sent as a converter would."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from random import Random

from midifret.files import Home
from midifret.gear import load_guitar, load_tunings
from midifret.gear.write import is_guitar_name
from midifret.session.hook_up import HookUp, Setup, Showing, Step
from midifret.terms import TimedMessage

STANDARD = (64, 59, 55, 50, 45, 40)  # music21 instrument.Guitar().stringPitches
NOWHERE = Home.of(Path(__file__).parent / "no such home")
DEFAULT = load_guitar("default", NOWHERE)
TUNINGS = load_tunings(NOWHERE)
TICK_S = 0.01


@dataclass
class Sender:
    """How one converter sends its strings. Channels are 1 to 16, as people count.

    offset: added to every pitch on the way. cents: of strings 1, 2, ... slides: "bends", "notes" or "both".
    tells_range: it says its bend range by RPN 0 first. mpe: the channel is the next free one of 2 to 16;
    says_mpe: and it tells so by RPN 6. controllers: the channel that bends go on, None for the string's own.
    silent: strings that never arrive. open_keys: the number is the open string's, the fret is all bend.
    settles: stopped notes are first told a semitone low and bent into place within 20 ms, as some do.
    crosstalk: share of the velocity with which the next string speaks.
    """

    opens: tuple[int, ...] = STANDARD
    channels: tuple[int, ...] = (1, 2, 3, 4, 5, 6)
    bend_range: float = 2.0
    offset: int = 0
    cents: tuple[float, ...] = ()
    slides: str = "bends"
    tells_range: bool = False
    mpe: bool = False
    says_mpe: bool = False
    controllers: int | None = None
    silent: frozenset[int] = frozenset()
    open_keys: bool = False
    settles: bool = False
    crosstalk: float = 0.0
    _last_mpe: int = field(default=16, init=False)

    def begin(self) -> list[TimedMessage]:
        sent: list[TimedMessage] = []
        if self.says_mpe:  # RPN 6 on the manager channel: 15 members (MPE 1.1)
            sent += [TimedMessage(0.0, bytes((0xB0, n, v))) for n, v in ((101, 0), (100, 6), (6, 15))]
        if self.tells_range:  # RPN 0: semitones (MIDI 1.0)
            channels = [self.controllers] if self.controllers else sorted(set(self.channels))
            for channel in range(2, 17) if self.mpe else channels:
                for n, v in ((101, 0), (100, 0), (6, round(self.bend_range)), (101, 127), (100, 127)):
                    sent.append(TimedMessage(0.0, bytes((0xB0 + channel - 1, n, v))))
        return sent

    def channel(self, string: int) -> int:
        if self.mpe:
            self._last_mpe = self._last_mpe % 16 + 1 if self._last_mpe % 16 + 1 > 1 else 2
            return self._last_mpe
        return self.channels[string - 1]

    def bend(self, channel: int, semitones: float, time_s: float) -> TimedMessage:
        raw = min(max(round(8192 + semitones * 8192 / self.bend_range), 0), 16383)
        where = (self.controllers or channel) - 1
        return TimedMessage(time_s, bytes((0xE0 + where, raw & 0x7F, raw >> 7)))

    def pluck(
        self, string: int, fret: int, time_s: float, *, velocity: int = 90, ring_s: float = 0.8
    ) -> list[TimedMessage]:
        if string in self.silent:
            return []
        channel = self.channel(string)
        off = self.cents[string - 1] / 100 if self.cents else 0.0
        pitch = self.opens[string - 1] + self.offset + fret
        key = self.opens[string - 1] + self.offset if self.open_keys else pitch
        key -= self.settles and fret > 0
        low = self.settles and fret > 0
        sent = [
            self.bend(channel, pitch - key + off - low, time_s),
            TimedMessage(time_s, bytes((0x90 + channel - 1, key, velocity))),
            self.bend(channel, pitch - key + off, time_s + 0.02),
            TimedMessage(time_s + ring_s, bytes((0x80 + channel - 1, key, 0))),
        ]
        if self.crosstalk and string < len(self.opens):
            other, soft = self.channels[string] - 1, round(self.crosstalk * velocity)
            key = self.opens[string] + self.offset
            sent.append(TimedMessage(time_s + 0.02, bytes((0x90 + other, key, soft))))
            sent.append(TimedMessage(time_s + 0.2, bytes((0x80 + other, key, 0))))
        return sent

    def slide(self, string: int, fret: int, time_s: float, *, frets: float = 2.0) -> list[TimedMessage]:
        """Pluck, slide up some frets in 0.3 s, stay 0.5 s, slide back, ring on."""
        channel = self.channel(string)
        off = self.cents[string - 1] / 100 if self.cents else 0.0
        start = self.opens[string - 1] + self.offset + fret
        way = [0.0] * 40 + [frets * n / 30 for n in range(31)] + [frets] * 50
        way += [frets * (30 - n) / 30 for n in range(31)] + [0.0] * 40
        way[:3] = [-1.0, -0.5, 0.0] if self.settles else way[:3]
        start -= self.settles
        way = [up + 1 for up in way] if self.settles else way
        key, sent = start, [self.bend(channel, off, time_s)]
        sent.append(TimedMessage(time_s, bytes((0x90 + channel - 1, key, 90))))
        for number, up in enumerate(way):
            now_s = time_s + number * TICK_S
            most = 0.6 if self.slides == "notes" else self.bend_range
            if self.slides != "bends" and abs(start + up - key) > min(most, self.bend_range) + 1e-9:
                moved = start + round(up) if self.slides == "notes" else key + (1 if start + up > key else -1)
                sent.append(TimedMessage(now_s, bytes((0x90 + channel - 1, moved, 80))))
                sent.append(TimedMessage(now_s, bytes((0x80 + channel - 1, key, 0))))
                key = moved
            if self.slides != "notes" and (number == 0 or way[number] != way[number - 1]):
                sent.append(self.bend(channel, start + up + off - key, now_s))
        end_s = time_s + len(way) * TICK_S
        sent.append(TimedMessage(end_s, bytes((0x80 + channel - 1, key, 0))))
        return sent


class PoorSender(Sender):
    """A converter with faults, drawn from a seed: how often and how strong is ours, the kinds are known.

    False notes an octave, a twelfth or two octaves up, soft, under about 50 ms, just before the real note
    (converter support notes, from memory); neighbours that speak; the same pluck told twice; bends that never
    rest; slides up to 8 cents off.
    """

    def spoilt(self, seed: int) -> "PoorSender":
        self.draw = Random(seed)
        self.cents = tuple(self.draw.uniform(-15, 15) for _ in self.opens)
        return self

    def pluck(
        self, string: int, fret: int, time_s: float, *, velocity: int = 90, ring_s: float = 0.8
    ) -> list[TimedMessage]:
        draw, channel = self.draw, self.channels[string - 1]
        velocity = draw.randint(55, 110)
        sent = super().pluck(string, fret, time_s, velocity=velocity, ring_s=ring_s)
        off = self.cents[string - 1] / 100
        sent += [
            self.bend(channel, off + draw.uniform(-0.05, 0.05), time_s + 0.02 * n)
            for n in range(1, int(ring_s / 0.02))
        ]
        if draw.random() < 0.25:
            key = self.opens[string - 1] + fret
            again_s = time_s + draw.uniform(0.06, 0.3)
            sent.append(TimedMessage(again_s, bytes((0x90 + channel - 1, key, velocity // 2))))
        return sent + self.false_notes(string, fret, time_s)

    def slide(self, string: int, fret: int, time_s: float, *, frets: float = 2.0) -> list[TimedMessage]:
        sent = super().slide(string, fret, time_s, frets=frets + self.draw.uniform(-0.08, 0.08))
        return sent + self.false_notes(string, fret, time_s)

    def false_notes(self, string: int, fret: int, time_s: float) -> list[TimedMessage]:
        draw, sent = self.draw, []
        if draw.random() < 0.3:
            where, key = (
                self.channels[string - 1] - 1,
                self.opens[string - 1] + fret + draw.choice((12, 19, 24)),
            )
            from_s = time_s - draw.uniform(0.02, 0.045)
            sent.append(TimedMessage(from_s, bytes((0x90 + where, key, draw.randint(20, 50)))))
            sent.append(TimedMessage(time_s - 0.002, bytes((0x80 + where, key, 0))))
        other = string + draw.choice((-1, 1))
        if 1 <= other <= len(self.opens) and draw.random() < 0.3:
            where, key = self.channels[other - 1] - 1, self.opens[other - 1]
            from_s = time_s + draw.uniform(0, 0.03)
            sent.append(TimedMessage(from_s, bytes((0x90 + where, key, draw.randint(10, 40)))))
            sent.append(TimedMessage(time_s + draw.uniform(0.05, 0.4), bytes((0x80 + where, key, 0))))
        return sent


class Player:
    """Does what hooking up asks for, or what a test says instead."""

    def __init__(self, sender: Sender, **setup: object) -> None:
        self.sender = sender
        self.now_s = 0.0
        self.to_send: list[TimedMessage] = []
        strings = len(sender.opens)
        known = Setup(
            strings=strings,
            tunings=TUNINGS,
            base=DEFAULT,
            name="my-guitar",
            taken=(),
            chosen="default",
            port="test port",
            written_port="",
            is_name=is_guitar_name,
        )
        self.hook_up = HookUp(replace(known, **setup), 0.0)  # type: ignore[arg-type]
        self.to_send += sender.begin()

    def showing(self) -> Showing:
        return self.hook_up.showing(self.now_s)

    @property
    def step(self) -> Step:
        return self.hook_up.step

    def wait(self, seconds: float) -> None:
        end_s = self.now_s + seconds
        while self.now_s < end_s:
            self.now_s += TICK_S
            self.to_send.sort(key=lambda message: message.time_s)
            while self.to_send and self.to_send[0].time_s <= self.now_s:
                self.hook_up.hear(self.to_send.pop(0))
            self.hook_up.tick(self.now_s)

    def pluck(self, string: int, fret: int = 0, **how: float) -> Showing:
        self.to_send += self.sender.pluck(string, fret, self.now_s + 0.05, **how)  # type: ignore[arg-type]
        self.wait(1.0)
        return self.showing()

    def slide(self, string: int, fret: int = 5, **how: float) -> Showing:
        self.to_send += self.sender.slide(string, fret, self.now_s + 0.05, **how)
        self.wait(3.5)
        return self.showing()

    def noise(self, velocity: int, length_s: float, *, channel: int = 1, key: int = 50) -> None:
        """A note that no pluck made, now."""
        self.to_send.append(TimedMessage(self.now_s + 0.01, bytes((0x90 + channel - 1, key, velocity))))
        self.to_send.append(TimedMessage(self.now_s + 0.01 + length_s, bytes((0x80 + channel - 1, key, 0))))
        self.wait(length_s + 0.05)

    def press(self, keys: str | Sequence[str]) -> Showing:
        for key in keys:
            self.hook_up.key(key, self.now_s)
        self.wait(TICK_S)
        return self.showing()

    def do(self, step: Step, velocity: int = 90) -> None:
        """Do what one step asks, as a careful player would."""
        showing = self.showing()
        match step:
            case Step.OPEN if showing.string in self.sender.silent:
                self.press("n")
            case Step.OPEN | Step.FRET_12:
                assert showing.string is not None
                self.pluck(showing.string, showing.fret or 0, velocity=velocity)
            case Step.SLIDE:
                assert showing.string is not None
                self.slide(showing.string)
            case Step.SILENCE | Step.TOUCH:
                self.wait(1.0)
            case Step.FOUND:
                self.press(["enter"])
            case Step.NAME:
                self.press(["enter"])
            case Step.CHOOSE:
                self.press("n")
            case _:
                raise AssertionError(f"a careful player meets no step {step}: {showing}")

    def until(self, step: Step, instead: dict[Step, Callable[["Player"], None]] | None = None) -> Showing:
        """Go on to a step, which may be DONE. instead: what to do in some steps, each once."""
        left = dict(instead or {})
        for _ in range(200):
            if self.step is step:
                return self.showing()
            if self.step in left:
                left.pop(self.step)(self)
            else:
                self.do(self.step)
        raise AssertionError(f"never came to {step}: {self.showing()}")
