"""Guitars, tunings and settings read from the shipped files and a person's own, which come first."""

import difflib
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from midifret.files import Document, Home, check_model, read_document, shipped_folder
from midifret.gear.guitar import ControlBinding, Guitar, SignalBinding, channel_map
from midifret.gear.models import (
    ClickFile,
    ControlFile,
    GuitarFile,
    SettingsFile,
    TuningsFile,
    open_string_midi,
)
from midifret.gear.settings import ClickSettings, Settings
from midifret.neck import Neck, Tuning
from midifret.terms import BadInput, Encoding, Place, Problem, Thresholds, Wiring
from midifret.terms.control import Control


def load_settings(home: Home) -> Settings:
    """Return the shipped settings with the person's own over them. Raises BadInput for a faulty file."""
    settings = Settings()
    for path in (shipped_folder("config") / "settings.yaml", home.settings):
        if not path.is_file():
            continue
        found, problems = check_settings(read_document(path))
        if found is None:
            raise BadInput(f"the settings in {path} have faults", problems=problems)
        own = found.model_dump(exclude_none=True, exclude={"click"})
        settings = replace(settings, **own, click=_with_click(settings.click, found.click))
    return settings


def _with_click(shipped: ClickSettings, found: ClickFile) -> ClickSettings:
    """The click of a settings file over the one that stood before; people count channels from 1."""
    own = found.model_dump(exclude_none=True, exclude={"channel", "notes", "velocities"})
    return replace(
        shipped,
        **own,
        channel=shipped.channel if found.channel is None else found.channel - 1,
        notes=replace(shipped.notes, **found.notes.model_dump(exclude_none=True)),
        velocities=replace(shipped.velocities, **found.velocities.model_dump(exclude_none=True)),
    )


def load_tunings(home: Home) -> tuple[Tuning, ...]:
    """Return every tuning, shipped and own, in the order of the files. Raises BadInput for a faulty file."""
    tunings: dict[str, Tuning] = {}
    for path in (shipped_folder("config") / "tunings.yaml", home.tunings):
        if not path.is_file():
            continue
        found, problems = check_tunings(read_document(path))
        if problems:
            raise BadInput(f"the tunings in {path} have faults", problems=problems)
        tunings |= {tuning.name: tuning for tuning in found}
    return tuple(tunings.values())


def guitar_names(home: Home) -> tuple[str, ...]:
    """Return the names of all guitars, shipped and own, in alphabetical order."""
    return tuple(sorted(_guitar_paths(home)))


def load_guitar(name: str, home: Home) -> Guitar:
    """Return one guitar by name. Raises BadInput for an unknown name and for a faulty file."""
    paths = _guitar_paths(home)
    if name not in paths:
        raise BadInput(f"there is no guitar {name!r}", allowed=_known(name, paths))
    path = paths[name]
    guitar, problems = check_guitar(read_document(path), load_tunings(home), name=name)
    if guitar is None:
        raise BadInput(f"the guitar in {path} has faults", problems=problems)
    return guitar


def shipped_guitar() -> Guitar:
    """Return the guitar that comes with the program, whatever a person's own files say."""
    config = shipped_folder("config")
    tunings, _ = check_tunings(read_document(config / "tunings.yaml"))
    guitar, problems = check_guitar(
        read_document(config / "guitars" / "default.yaml"), tunings, name="default"
    )
    if guitar is None:
        raise BadInput("the guitar that comes with the program has faults", problems=problems)
    return guitar


def _guitar_paths(home: Home) -> dict[str, Path]:
    folders = (shipped_folder("config") / "guitars", home.guitars)
    return {path.stem: path for folder in folders if folder.is_dir() for path in folder.glob("*.yaml")}


def _known(name: str, names: Iterable[str]) -> str:
    ordered = sorted(names)
    near = difflib.get_close_matches(name, ordered, n=1)
    return f"known: {', '.join(ordered)}" + (f"; did you mean {near[0]}?" if near else "")


def check_settings(document: Document) -> tuple[SettingsFile | None, tuple[Problem, ...]]:
    """Check a settings file: what it sets, or None and every problem."""
    return check_model(document, SettingsFile)


def check_tunings(document: Document) -> tuple[tuple[Tuning, ...], tuple[Problem, ...]]:
    """Check a tunings file: its tunings, or none and every problem."""
    found, problems = check_model(document, TuningsFile)
    if found is None:
        return (), problems
    return tuple(
        Tuning(name, tuning.title, tuple(open_string_midi(string) for string in tuning.strings))
        for name, tuning in found.root.items()
    ), ()


def check_guitar(
    document: Document, tunings: tuple[Tuning, ...], *, name: str
) -> tuple[Guitar | None, tuple[Problem, ...]]:
    """Check a guitar file against the known tunings: the guitar, or None and every problem."""
    found, problems = check_model(document, GuitarFile)
    if found is None:
        return None, problems
    maker = _GuitarMaker(document, found, {tuning.name: tuning for tuning in tunings})
    return maker.make(name)


class _GuitarMaker:
    """Puts a guitar together and notes what does not fit."""

    def __init__(self, document: Document, found: GuitarFile, tunings: dict[str, Tuning]) -> None:
        self._document = document
        self._found = found
        self._tunings = tunings
        self._problems: list[Problem] = []

    def make(self, name: str) -> tuple[Guitar | None, tuple[Problem, ...]]:
        found = self._found
        neck = self._neck()
        channels = self._channels(neck)
        controls = self._controls()
        signals = self._signals(neck) if neck is not None else ()
        if neck is not None:
            self._check_numbers(neck)
        if self._problems or neck is None:
            return None, tuple(sorted(self._problems, key=lambda p: (p.line or 0, p.column or 0)))
        return Guitar(
            name=name,
            title=found.title,
            neck=neck,
            wiring=self._wiring(channels),
            port=found.port,
            controls=controls,
            signals=signals,
            signal_within_s=found.signal_within_ms / 1000,
        ), ()

    def _say(self, path: tuple[str | int, ...], message: str, allowed: str = "") -> None:
        self._problems.append(self._document.problem(path, message, allowed))

    def _in_file_order(self, section: str) -> tuple[Control, ...]:
        return tuple(Control(key) for key in self._document.root.plain().get(section, {}))

    def _neck(self) -> Neck | None:
        found = self._found
        if found.tuning not in self._tunings:
            known = _known(found.tuning, self._tunings)
            self._say(("tuning",), f"there is no tuning {found.tuning!r}", known)
            return None
        if found.capo >= found.frets:
            self._say(("capo",), f"{found.capo} is out of range", f"0 to {found.frets - 1}")
            return None
        return Neck(self._tunings[found.tuning], found.frets, found.capo)

    def _wiring(self, channels: tuple[int | None, ...]) -> Wiring:
        found, shipped = self._found, Thresholds()
        hearing = found.hearing.model_dump(exclude_none=True)
        measured = {
            name.replace("_ms", "_s"): value / 1000 if name.endswith("_ms") else value
            for name, value in hearing.items()
        }
        controllers = found.controller_channel
        if controllers is None and found.base_channel is not None:
            controllers = (found.base_channel - 2) % 16 + 1  # MIDI 1.0, mode 4: the channel below the base
        return Wiring(
            channels=channels,
            bend_range_semitones=found.bend_range_semitones,
            encoding=found.encoding,
            controller_channel=None if controllers is None else controllers - 1,
            transpose_semitones=found.transpose_semitones,
            cents=tuple(found.cents),
            thresholds=replace(shipped, **measured),
        )

    def _check_numbers(self, neck: Neck) -> None:
        """Say where a list has not one entry for each string, or stands where it means nothing."""
        found = self._found
        each = f"one for each string of the tuning {found.tuning}"
        if found.encoding is not Encoding.PER_STRING:
            for key in ("channels", "base_channel", "controller_channel"):
                if getattr(found, key):
                    self._say(
                        (key,), f"with the encoding {found.encoding} no channel has a string", "leave it out"
                    )
        elif found.base_channel is not None and found.channels:
            self._say(("base_channel",), "channels are given as well", "one of the two")
        elif found.base_channel is not None:
            if found.base_channel + neck.strings - 1 > 16:
                allowed = f"1 to {17 - neck.strings} for {neck.strings} strings"
                self._say(("base_channel",), f"{found.base_channel} is out of range", allowed)
        elif len(found.channels) != neck.strings:
            self._say(("channels",), f"{len(found.channels)} channels for {neck.strings} strings", each)
        if found.cents and len(found.cents) != neck.strings:
            self._say(("cents",), f"{len(found.cents)} entries for {neck.strings} strings", each)
        controllers = found.controller_channel
        strings_on = found.channels or self._from_base(neck)
        if controllers is not None and controllers in strings_on:
            message = f"channel {controllers} is given to a string already"
            self._say(("controller_channel",), message, "a channel of its own")

    def _from_base(self, neck: Neck) -> list[int]:
        """The channels that the base channel gives to the strings."""
        base = self._found.base_channel
        return [] if base is None else list(range(base, min(16, base + neck.strings - 1) + 1))

    def _channels(self, neck: Neck | None) -> tuple[int | None, ...]:
        base = self._found.base_channel
        if base is not None and not self._found.channels and neck is not None:
            return channel_map(tuple(range(base - 1, min(15, base - 2 + neck.strings) + 1)))
        seen: dict[int, int] = {}
        for index, channel in enumerate(self._found.channels):
            if channel in seen:
                message = f"channel {channel} is given to string {seen[channel]} already"
                self._say(("channels", index), message, "each string has a channel of its own")
            seen.setdefault(channel, index + 1)
        return channel_map(tuple(channel - 1 for channel in seen))

    def _controls(self) -> tuple[ControlBinding, ...]:
        bindings: list[ControlBinding] = []
        for control in self._in_file_order("controls"):
            entry: ControlFile | None = getattr(self._found.controls, control.value)
            if entry is None:
                continue
            path = ("controls", control.value)
            if (entry.controller is None) == (entry.program is None):
                self._say(path, "a control is a controller or a program", "controller: 64, or program: 3")
                continue
            number = entry.program if entry.controller is None else entry.controller
            assert number is not None
            channel = None if entry.channel is None else entry.channel - 1
            binding = ControlBinding(control, entry.controller is None, number, channel, entry.least_value)
            twin = next((b for b in bindings if _same_control(b, binding)), None)
            if twin is not None:
                self._say(path, f"the same pedal gives the order {twin.control} already", "one order each")
            bindings.append(binding)
        return tuple(bindings)

    def _signals(self, neck: Neck) -> tuple[SignalBinding, ...]:
        bindings: list[SignalBinding] = []
        for control in self._in_file_order("signals"):
            texts: list[str] | None = getattr(self._found.signals, control.value)
            if texts is None:
                continue
            places = (Place.parse(texts[0]), Place.parse(texts[1]))
            for index, place in enumerate(places):
                if not neck.has(place):
                    self._say(
                        ("signals", control.value, index),
                        f"the guitar has no place {place}",
                        f"strings 1 to {neck.strings}, frets 0 to {neck.last_fret}",
                    )
            if places[0].string == places[1].string:
                self._say(("signals", control.value), "a signal needs two strings", "for example [6:0, 1:0]")
            twin = next((b for b in bindings if set(b.places) == set(places)), None)
            if twin is not None:
                self._say(
                    ("signals", control.value),
                    f"the same two notes give the order {twin.control} already",
                    "two other notes",
                )
            bindings.append(SignalBinding(control, places))
        return tuple(bindings)


def _same_control(one: ControlBinding, other: ControlBinding) -> bool:
    channels_meet = one.channel == other.channel or one.channel is None or other.channel is None
    return (one.is_program, one.number) == (other.is_program, other.number) and channels_meet
