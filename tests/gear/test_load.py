"""Guitars, tunings and settings: shipped ones, a person's own over them, and every fault told."""

import pytest

from midifret.files import Home, parse_document
from midifret.gear import check_guitar, guitar_names, load_guitar, load_settings, load_tunings
from midifret.neck import Accidentals, Language
from midifret.terms import BadInput, Place
from midifret.terms.control import Control


@pytest.fixture
def home(tmp_path):
    return Home.of(tmp_path)


def _guitar(home, text: str):
    return check_guitar(parse_document(text.encode(), "g.yaml"), load_tunings(home), name="g")


def test_the_default_guitar_is_the_one_of_the_contract(home):
    guitar = load_guitar("default", home)
    assert guitar.neck.tuning.open_midi == (64, 59, 55, 50, 45, 40)
    assert (guitar.neck.frets, guitar.neck.capo, guitar.wiring.bend_range_semitones) == (19, 0, 2)
    assert [guitar.wiring.channel_of(string) + 1 for string in range(1, 7)] == [1, 2, 3, 4, 5, 6]
    assert guitar.signal_within_s == pytest.approx(0.08)
    assert {signal.control for signal in guitar.signals} == {Control.PAUSE, Control.NEXT, Control.AGAIN}


def test_shipped_tunings_sound_as_they_are_named(home):
    tunings = {tuning.name: tuning.open_midi for tuning in load_tunings(home)}
    standard = (64, 59, 55, 50, 45, 40)  # music21 instrument.Guitar().stringPitches, see tests/outside
    assert tunings["standard"] == standard
    # The others follow from their titles: strings lowered by a semitone, a whole tone, or added below.
    assert tunings["lute"] == (64, 59, 54, 50, 45, 40)
    assert tunings["dropped-d"] == (*standard[:5], 38)
    assert tunings["dropped-d-fifth-g"] == (*standard[:4], 43, 38)
    assert tunings["seven-string-b"] == (*standard, 35)
    assert tunings["eight-string-d-b"] == (*standard, 38, 35)


def test_own_settings_lie_over_the_shipped_ones(home):
    home.settings.write_text("language: german\naccidentals: both\n")
    settings = load_settings(home)
    assert (settings.language, settings.accidentals) == (Language.GERMAN, Accidentals.BOTH)
    assert (settings.player, settings.guitar, settings.countdown_s) == ("me", "default", 3)


def test_faults_in_settings_name_file_line_and_column(home):
    home.settings.write_text("playr: x\ncountdown_s: 11\nlanguage: english\n")
    with pytest.raises(BadInput) as caught:
        load_settings(home)
    told = str(caught.value)
    assert f"{home.settings}:1:1: playr: unknown key" in told
    assert 'did you mean "player"' in told
    assert f"{home.settings}:2:14: countdown_s: 11 is out of range (allowed: 0 to 10)" in told


def test_own_tunings_and_guitars_add_to_the_shipped_ones(home):
    home.tunings.write_text("low:\n  title: All a tone down\n  strings: [D4, A3, F3, C3, G2, D2]\n")
    home.guitars.mkdir()
    (home.guitars / "mine.yaml").write_text(
        "title: Mine\ntuning: low\nframes: 20\n".replace("frames", "frets")
        + "channels: [16, 15, 14, 13, 12, 11]\n"
    )
    guitar = load_guitar("mine", home)
    assert guitar_names(home) == ("default", "mine")
    assert guitar.neck.midi(Place(6, 0)) == 38  # D2 = 12 * 3 + 2
    assert guitar.wiring.channel_of(6) == 10


def test_an_own_guitar_replaces_the_shipped_one_of_its_name(home):
    home.guitars.mkdir()
    (home.guitars / "default.yaml").write_text("title: Mine\ntuning: lute\nchannels: [1, 2, 3, 4, 5, 6]\n")
    assert load_guitar("default", home).neck.midi(Place(3, 0)) == 54


def test_unknown_names_list_the_known_ones(home):
    with pytest.raises(BadInput, match="known: default; did you mean default"):
        load_guitar("defualt", home)
    with pytest.raises(BadInput, match="no guitar"):
        load_guitar("../settings", home)
    _, problems = _guitar(home, "title: x\ntuning: standrd\nchannels: [1, 2, 3, 4, 5, 6]\n")
    assert "did you mean standard?" in problems[0].allowed


def test_faults_of_a_guitar_come_all_at_once(home):
    text = (
        "title: x\ntuning: standard\nfrets: 19\ncapo: 3\nchannels: [1, 2, 3, 4, 4]\n"
        "controls:\n  next: {controller: 64}\n  pause: {controller: 64, channel: 2}\n  again: {}\n"
        "signals:\n  pause: [6:17, 1:0]\n  next: [6:0, 6:1]\n  again: [1:0, 6:17]\n"
    )
    guitar, problems = _guitar(home, text)
    assert guitar is None
    assert [(p.line, p.column, p.key) for p in problems] == [
        (5, 11, "channels"),
        (5, 24, "channels[5]"),
        (8, 10, "controls.pause"),
        (9, 10, "controls.again"),
        (11, 11, "signals.pause[1]"),
        (12, 9, "signals.next"),
        (13, 10, "signals.again"),
        (13, 16, "signals.again[2]"),
    ]
    assert problems[4].allowed == "strings 1 to 6, frets 0 to 16"  # 19 frets, capo on the third


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("channels: [0, 1, 2, 3, 4, 5]", "1 to 16"),
        ("frets: 25", "12 to 24"),
        ("bend_range_semitones: 0", "0.5 to 96"),
        ("signals: {pause: [6-0, 1:0]}", "string:fret"),
        ("signals: {stop: [6:0, 1:0]}", "start, pause, again, next, quit"),
        ("controls: {next: {controller: 128}}", "0 to 127"),
    ],
)
def test_values_out_of_range_say_what_is_allowed(home, line, said):
    base = {"title": "title: x", "tuning": "tuning: standard", "channels": "channels: [1, 2, 3, 4, 5, 6]"}
    lines = base | {line.split(":")[0]: line}
    _, problems = _guitar(home, "\n".join(lines.values()))
    assert len(problems) == 1
    assert said in problems[0].allowed


def test_a_control_keeps_its_channel_as_the_program_counts(home):
    guitar, _ = _guitar(
        home,
        "title: x\ntuning: standard\nchannels: [1, 2, 3, 4, 5, 6]\n"
        "controls:\n  next: {controller: 64, channel: 16}\n  pause: {program: 3}\n",
    )
    following, pause = guitar.controls
    assert (pause.control, pause.is_program, pause.number, pause.channel) == (Control.PAUSE, True, 3, None)
    assert (following.control, following.is_program, following.channel) == (Control.NEXT, False, 15)


def test_a_tuning_needs_its_octaves(home):
    home.tunings.write_text("x:\n  title: X\n  strings: [E4, B, G3, D3, A2, H2]\n")
    with pytest.raises(BadInput) as caught:
        load_tunings(home)
    assert [problem.column for problem in caught.value.problems] == [17, 32]


@pytest.mark.parametrize(
    ("lines", "key", "said"),
    [
        ("base_channel: 12", "base_channel", "1 to 11"),
        ("base_channel: 3\ncontroller_channel: 4", "controller_channel", "given to a string already"),
        ("channels: [1, 2, 3, 4, 5, 6]\ncontroller_channel: 6", "controller_channel", "given to a string"),
        ("channels: [1, 2, 3, 4, 5, 6]\nbase_channel: 1", "base_channel", "given as well"),
        ("encoding: mpe\nchannels: [1, 2, 3, 4, 5, 6]", "channels", "no channel has a string"),
        ("encoding: one-channel\nbase_channel: 1", "base_channel", "no channel has a string"),
        ("channels: [1, 2, 3, 4, 5, 6]\ncents: [0, 0]", "cents", "2 entries for 6 strings"),
        ("channels: [1, 2, 3, 4, 5, 6]\nhearing: {doubt_ms: 70}", "hearing.doubt_ms", "0 to 60"),
        ("encoding: channels", "encoding", "per-string, one-channel, mpe"),
    ],
)
def test_what_a_guitar_sends_must_fit_together(home, lines, key, said):
    _, problems = _guitar(home, f"title: x\ntuning: standard\n{lines}\n")
    found = next(problem for problem in problems if problem.key == key)
    assert said in f"{found.message} {found.allowed}"


def test_a_base_channel_gives_every_string_and_the_controllers_a_channel(home):
    """Mode 4: strings on the base channel and up, controllers for all on the one below (MIDI 1.0)."""
    guitar, problems = _guitar(home, "title: x\ntuning: standard\nbase_channel: 11\n")
    assert problems == ()
    assert [guitar.wiring.channel_of(string) + 1 for string in range(1, 7)] == [11, 12, 13, 14, 15, 16]
    assert guitar.wiring.controller_channel == 9  # channel 10 as people count
    guitar, _ = _guitar(home, "title: x\ntuning: standard\nbase_channel: 1\n")
    assert guitar.wiring.controller_channel == 15
