"""The settings of the click: shipped ones, a person's own over them, and every fault with its line."""

import pretty_midi
import pytest

from midifret.files import Home, read_document, shipped_folder
from midifret.gear import ClickSettings, ClickSounds, ClickWay, Settings, check_settings, load_settings
from midifret.tempo import Beats
from midifret.terms import BadInput


@pytest.fixture
def home(tmp_path) -> Home:
    return Home.of(tmp_path)


def own(home: Home, text: str) -> ClickSettings:
    home.settings.write_text(text)
    return load_settings(home).click


def test_the_shipped_file_says_what_the_program_does_without_it(home):
    assert load_settings(home) == Settings()


def test_nothing_sounds_unless_a_person_asks_for_it(home):
    click = load_settings(home).click
    assert (click.output, click.send_clock) == (ClickWay.OFF, False)


def test_the_shipped_notes_are_percussion_of_general_midi_on_its_channel(home):
    click = load_settings(home).click
    # pretty_midi's table of the percussion of General MIDI; channel 10 for percussion: General MIDI [mem]
    names = [
        pretty_midi.note_number_to_drum_name(n)
        for n in (click.notes.bar, click.notes.beat, click.notes.subdivision)
    ]
    assert names == ["Hi Wood Block", "Low Wood Block", "Closed Hi Hat"]
    assert click.channel + 1 == 10
    assert click.velocities.bar > click.velocities.beat > click.velocities.subdivision > 0


def test_own_keys_lie_over_the_shipped_ones_one_by_one(home):
    click = own(
        home,
        "click:\n  output: midi\n  channel: 1\n  notes: {beat: 20}\n  velocities: {subdivision: 0}\n"
        "  subdivisions: 2\n  send_clock: yes\n  volume_percent: 100\n",
    )
    assert click == ClickSettings(
        output=ClickWay.MIDI,
        channel=0,
        notes=ClickSounds(76, 20, 42),
        velocities=ClickSounds(112, 96, 0),
        subdivisions=2,
        send_clock=True,
        volume_percent=100,
    )
    assert own(home, "click: {subdivisions: auto}\n").subdivisions == 0
    assert own(home, 'click: {port: "Synth", device: Headphones}\n').port == "Synth"


@pytest.mark.parametrize(
    ("line", "place", "told", "allowed"),
    [
        ("outputt: midi", "2:3", 'did you mean "output"', "output, port"),
        ("output: loud", "2:11", "'loud' is not known here", "off, midi, sound"),
        ("channel: 0", "2:12", "0 is out of range", "1 to 16"),
        ("channel: 17", "2:12", "17 is out of range", "1 to 16"),
        ("notes: {bar: 128}", "2:16", "128 is out of range", "0 to 127"),
        ("velocities: {beat: -1}", "2:22", "-1 is out of range", "0 to 127"),
        ("count_in_beats: 17", "2:19", "17 is out of range", "0 to 16"),
        ("subdivisions: 9", "2:17", "9 is no number of clicks a beat", "auto, 1 to 8"),
        ("subdivisions: 0", "2:17", "0 is no number of clicks a beat", "auto, 1 to 8"),
        ("subdivisions: some", "2:17", "'some' is no number of clicks a beat", "auto, 1 to 8"),
        ("send_clock: maybe", "2:15", "'maybe' is neither yes nor no", "yes, no"),
        ("volume_percent: 101", "2:19", "101 is out of range", "0 to 100"),
        ("volume_percent: loud", "2:19", "is not a whole number", "0 to 100"),
    ],
)
def test_a_fault_is_told_with_file_line_value_and_what_is_allowed(home, line, place, told, allowed):
    home.settings.write_text(f"click:\n  {line}\n")
    with pytest.raises(BadInput) as caught:
        load_settings(home)
    (problem,) = caught.value.problems
    assert str(problem).startswith(f"{home.settings}:{place}: click.")
    assert told in problem.message
    assert allowed in problem.allowed


def test_what_settings_may_say_of_beats_the_beats_take(home):
    for count_in in (0, 16):
        for parts in ("auto", 1, 8):
            click = own(home, f"click: {{count_in_beats: {count_in}, subdivisions: {parts}}}\n")
            Beats(60, 60.0, count_in=click.count_in_beats, parts=click.subdivisions)


def test_the_caution_about_loudness_stands_beside_the_volume():
    path = shipped_folder("config") / "settings.yaml"
    assert check_settings(read_document(path))[1] == ()
    lines = path.read_text(encoding="utf-8").splitlines()
    at = next(n for n, line in enumerate(lines) if "volume_percent" in line)
    caution = " ".join(lines[at - 3 : at])
    # 85 dBA for 8 h, halved every 3 dB: NIOSH (facts.md)
    for words in ("headphones", "NIOSH", "8 hours", "85 dBA", "3 dB", "doctor"):
        assert words in caution
