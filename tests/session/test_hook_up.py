"""Hooking up, played by a scripted guitar: what it is taken for, and what is said where it goes wrong."""

import math
import re
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from midifret.files import Home
from midifret.gear import Guitar, load_guitar
from midifret.gear.guitar import SignalBinding
from midifret.gear.write import guitar_text, write_guitar
from midifret.hear import Decoder
from midifret.session.hook_up import HookedUp, Step
from midifret.session.hook_up.ear import Heard, RawNote
from midifret.session.hook_up.reckon import (
    Noise,
    assumed_channels,
    derive_thresholds,
    match_tuning,
    nearest_range,
    read_slide,
)
from midifret.show.setup_screen import setup_frame
from midifret.terms import Encoding, Note, Place, Thresholds, TimedMessage
from midifret.terms.control import Control

from .hooking import DEFAULT, STANDARD, TUNINGS, Player, PoorSender, Sender


def hooked_up(player: Player, **instead: object) -> HookedUp:
    player.until(Step.DONE, {Step[name]: what for name, what in instead.items()})  # type: ignore[misc]
    assert player.hook_up.result is not None
    return player.hook_up.result


def channels_of(guitar: Guitar) -> list[int]:
    return [guitar.wiring.channel_of(string) + 1 for string in range(1, guitar.neck.strings + 1)]


def notes_of(guitar: Guitar, messages: list[TimedMessage], end_s: float = 100.0) -> list[Note]:
    """What the guitar's own file makes of messages, settled."""
    decoder = Decoder(guitar.neck, guitar.wiring)
    heard: dict[int, Note] = {}
    for message in sorted(messages, key=lambda each: each.time_s):
        for event in decoder.feed(*message):
            note = event if isinstance(event, Note) else getattr(event, "note", None)
            if note is not None:
                heard[note.id] = note
    decoder.advance(end_s)
    return list(heard.values())


def test_a_standard_guitar_is_the_default_one() -> None:
    found = hooked_up(Player(Sender()))
    guitar = found.guitar
    assert guitar.wiring == DEFAULT.wiring
    assert guitar.neck == DEFAULT.neck
    assert (guitar.name, guitar.controls, guitar.signals) == ("my-guitar", DEFAULT.controls, DEFAULT.signals)
    assert (found.new_tuning, found.choose) == (False, False)


# facts.md, order of channels: reversed order exists; bases 1 and 11 are common; some set-ups skip channel 10.
@pytest.mark.parametrize(
    "channels", [(6, 5, 4, 3, 2, 1), (11, 12, 13, 14, 15, 16), (7, 8, 9, 11, 12, 13), (3, 9, 1, 16, 2, 8)]
)
def test_channels_in_any_order_become_an_explicit_list(channels: tuple[int, ...]) -> None:
    guitar = hooked_up(Player(Sender(channels=channels))).guitar
    assert channels_of(guitar) == list(channels)
    assert guitar.wiring.encoding is Encoding.PER_STRING
    assert guitar.neck.tuning.name == "standard"


def test_bends_for_all_strings_on_the_channel_below_the_base() -> None:
    # Mode 4: controllers for all strings on channel base - 1 (MIDI 1.0).
    sender = Sender(channels=(11, 12, 13, 14, 15, 16), controllers=10, bend_range=12)
    wiring = hooked_up(Player(sender)).guitar.wiring
    assert (wiring.controller_channel, wiring.bend_range_semitones) == (9, 12)


@pytest.mark.parametrize(
    ("name", "opens"),
    [(tuning.name, tuning.open_midi) for tuning in TUNINGS],
)
def test_every_shipped_tuning_is_recognised(name: str, opens: tuple[int, ...]) -> None:
    found = hooked_up(Player(Sender(opens=opens, channels=tuple(range(1, len(opens) + 1)))))
    assert found.guitar.neck.tuning.name == name
    assert not found.new_tuning
    assert found.guitar.neck.strings == len(opens)


def test_an_unknown_tuning_is_written_under_a_name_of_its_own() -> None:
    opens = (62, 57, 55, 50, 45, 38)  # D A D G A D, low to high [common practice, no source]
    found = hooked_up(Player(Sender(opens=opens)))
    assert found.new_tuning
    tuning = found.guitar.neck.tuning
    assert (tuning.name, tuning.open_midi) == ("d-a-d-g-a-d", opens)


@pytest.mark.parametrize(
    ("key", "capo", "tuning", "transpose", "sounding"),
    [
        ("1", 2, "standard", 0, 2),
        ("2", 0, "standard-2-higher", 0, 2),
        ("3", 0, "standard", -2, 0),
    ],
)
def test_capo_tuning_and_transposing_converter_sound_alike_so_it_asks(
    key: str, capo: int, tuning: str, transpose: int, sounding: int
) -> None:
    player = Player(Sender(offset=2))
    showing = player.until(Step.OFFSET)
    assert "2 semitones higher" in showing.ask
    assert [number for number, _ in showing.options] == ["1", "2", "3"]
    player.press(key)
    guitar = hooked_up(player).guitar
    assert (guitar.neck.capo, guitar.neck.tuning.name) == (capo, tuning)
    assert guitar.wiring.transpose_semitones == transpose
    assert [guitar.neck.open_midi(string) - sounding for string in range(1, 7)] == list(STANDARD)


def test_lower_than_the_tuning_is_never_a_capo() -> None:
    showing = Player(Sender(offset=-12)).until(Step.OFFSET)
    assert len(showing.options) == 2
    assert not any("capo" in words for _, words in showing.options)


def test_an_octave_higher_can_only_be_the_converter() -> None:
    player = Player(Sender(offset=12))
    assert [words for _, words in player.until(Step.OFFSET).options] == [
        "the converter sends every note 12 semitones higher than it sounds"
    ]
    player.press("1")
    assert hooked_up(player).guitar.wiring.transpose_semitones == -12


def test_all_strings_on_one_channel() -> None:
    guitar = hooked_up(Player(Sender(channels=(1,) * 6, bend_range=12))).guitar
    assert guitar.wiring.encoding is Encoding.ONE_CHANNEL
    assert guitar.wiring.bend_range_semitones == 12
    assert not any(guitar.wiring.channels)


@pytest.mark.parametrize("says_mpe", [True, False])
def test_mpe_is_known_by_rpn_6_or_by_a_string_that_wanders_over_channels(says_mpe: bool) -> None:
    guitar = hooked_up(Player(Sender(mpe=True, says_mpe=says_mpe, bend_range=48))).guitar
    assert guitar.wiring.encoding is Encoding.MPE
    assert guitar.wiring.bend_range_semitones == 48  # members of an MPE zone (MPE 1.1)


@pytest.mark.parametrize("bend_range", [1, 2, 3, 4, 5, 7, 12, 24, 48])
@pytest.mark.parametrize("tells", [True, False])
def test_the_bend_range_is_told_or_worked_out_from_the_slide(bend_range: int, tells: bool) -> None:
    sender = Sender(bend_range=bend_range, tells_range=tells, slides="both" if bend_range == 1 else "bends")
    found = hooked_up(Player(sender))
    assert found.guitar.wiring.bend_range_semitones == bend_range
    [line] = [line for line in found.found if line.startswith("Bend range")]
    assert ("says so itself" if tells else "sure") in line


@pytest.mark.parametrize("off", [-0.1, 0.1])
def test_a_slide_a_little_off_its_fret_still_tells_the_range(off: float) -> None:
    # 10 cents: what a finger pulls a string off its fret [ours].
    for bend_range in (4, 5, 12, 24):
        player = Player(Sender(bend_range=bend_range))
        player.until(Step.SLIDE)
        player.slide(4, frets=2 + off)
        assert hooked_up(player).guitar.wiring.bend_range_semitones == bend_range


def test_a_slide_of_another_length_is_asked_for_again() -> None:
    player = Player(Sender(bend_range=24))
    player.until(Step.SLIDE)
    showing = player.slide(4, frets=2.3)  # would be a range of 20.9, 13 cents in 100 away from 24
    assert showing.step is Step.SLIDE
    assert "once more" in showing.message
    assert player.slide(4).step is Step.SILENCE
    assert hooked_up(player).guitar.wiring.bend_range_semitones == 24


def test_a_new_note_for_each_semitone_tells_no_range_and_it_says_so() -> None:
    found = hooked_up(Player(Sender(slides="notes", bend_range=12)))
    assert (
        found.guitar.wiring.bend_range_semitones == 2
    )  # General MIDI's usual, until the guitar says otherwise
    assert any("assumed" in line for line in found.found)


def test_a_pitch_that_does_not_move_is_no_slide() -> None:
    player = Player(Sender())
    player.until(Step.SLIDE)
    showing = player.pluck(4, 5)
    player.wait(2)
    assert showing.step is Step.SLIDE
    assert "did not move" in player.showing().message


def test_a_guitar_that_sends_frets_as_bends_of_the_open_string() -> None:
    guitar = hooked_up(Player(Sender(open_keys=True, bend_range=24))).guitar
    assert guitar.wiring.bend_range_semitones == 24
    assert guitar.neck.tuning.name == "standard"


@pytest.mark.parametrize("bend_range", [12, 24])
def test_a_converter_that_bends_stopped_notes_into_place(bend_range: int) -> None:
    guitar = hooked_up(Player(Sender(settles=True, bend_range=bend_range))).guitar
    assert guitar.wiring.bend_range_semitones == bend_range


@pytest.mark.parametrize("length_s", [0.05, 0.6])
def test_a_finger_that_lets_fret_12_go_does_not_begin_the_slide(length_s: float) -> None:
    # Lift-off: releasing a ringing finger sounds the open string, soft (players' guides).
    player = Player(Sender(bend_range=12))
    assert player.until(Step.SLIDE).string == 4
    player.noise(30, length_s, channel=4, key=50)
    showing = player.slide(4)
    assert showing.step is Step.SILENCE
    assert hooked_up(player).guitar.wiring.bend_range_semitones == 12


@pytest.mark.parametrize("by", ["bend", "note"])
def test_a_finger_that_lets_go_after_the_slide_does_not_spoil_it(by: str) -> None:
    player = Player(Sender(bend_range=24))
    player.until(Step.SLIDE)
    sent = player.sender.slide(4, 5, player.now_s + 0.05)
    off = sent.pop()  # the note goes on, but as the open string, five semitones lower
    if by == "bend":
        sent.append(player.sender.bend(4, -5.0, off.time_s))
    else:
        sent.append(TimedMessage(off.time_s, bytes((0x93, 50, 30))))
    player.to_send += sent
    player.wait(4)
    assert player.step is Step.SILENCE
    assert hooked_up(player).guitar.wiring.bend_range_semitones == 24


def test_a_false_octave_does_not_spoil_the_slide() -> None:
    player = Player(Sender(bend_range=12))
    player.until(Step.SLIDE)
    player.to_send.append(TimedMessage(player.now_s + 0.02, bytes((0x93, 67, 40))))
    player.to_send.append(TimedMessage(player.now_s + 0.04, bytes((0x83, 67, 0))))
    player.slide(4)
    assert hooked_up(player).guitar.wiring.bend_range_semitones == 12


def test_a_string_that_does_not_arrive_is_said_and_its_place_assumed() -> None:
    player = Player(Sender(silent=frozenset({4})))
    player.until(Step.OPEN)
    player.pluck(6)
    player.pluck(5)
    player.wait(10.5)
    assert "String 4 does not arrive" in player.showing().message
    player.press("n")
    found = hooked_up(player)
    assert channels_of(found.guitar) == [1, 2, 3, 4, 5, 6]
    assert found.guitar.neck.tuning.name == "standard"
    assert "Assumed, for it did not arrive: string 4." in found.found


def test_two_strings_on_one_channel_are_said_and_can_be_plucked_again() -> None:
    player = Player(Sender(channels=(1, 2, 2, 4, 5, 6)))
    showing = player.until(Step.SHARED)
    assert "Strings 2 and 3 came on one channel, 2" in showing.ask
    assert "mono mode" in showing.words
    player.sender = Sender()  # the converter is set right
    player.press("a")
    assert channels_of(hooked_up(player).guitar) == [1, 2, 3, 4, 5, 6]


def test_two_strings_left_on_one_channel_leave_all_strings_unknown() -> None:
    player = Player(Sender(channels=(1, 2, 2, 4, 5, 6)))
    player.until(Step.SHARED)
    player.press("n")
    assert hooked_up(player).guitar.wiring.encoding is Encoding.ONE_CHANNEL


@pytest.mark.parametrize("bend_range", [2, 24])
def test_a_string_out_of_tune_is_said_with_its_cents_and_plucked_again(bend_range: int) -> None:
    player = Player(Sender(cents=(0, 0, 0, 0, -40, 0), bend_range=bend_range))
    showing = player.until(Step.RETUNE)
    assert "string 5 40 cents flat" in showing.ask
    player.sender.cents = (0, 0, 0, 0, -12, 0)
    assert player.pluck(5).step is Step.SILENCE
    assert hooked_up(player).guitar.wiring.cents == ()


@pytest.mark.parametrize(("cents", "asks"), [(31, True), (29, False), (-31, True), (-29, False)])
def test_thirty_cents_is_the_limit(cents: int, asks: bool) -> None:
    player = Player(Sender(cents=(0, 0, cents, 0, 0, 0), bend_range=12))
    player.until(Step.SLIDE)
    player.do(Step.SLIDE)
    assert (player.step is Step.RETUNE) is asks


def test_out_of_tune_on_purpose_goes_into_the_file() -> None:
    player = Player(Sender(cents=(-40,) * 6))
    player.until(Step.RETUNE)
    player.press("n")
    assert hooked_up(player).guitar.wiring.cents == pytest.approx((-40,) * 6, abs=0.2)


def test_a_lower_concert_pitch_goes_into_the_file() -> None:
    off = 1200 * math.log2(435 / 440)  # A = 435 Hz, 19.8 cents below ISO 16
    cents = hooked_up(Player(Sender(cents=(off,) * 6, bend_range=12))).guitar.wiring.cents
    assert cents == pytest.approx((off,) * 6, abs=0.2)


@pytest.mark.parametrize(("wrong", "asked"), [(4, 5), (2, 5), (1, 5)])
def test_another_string_than_asked_is_known_by_its_pitch(wrong: int, asked: int) -> None:
    player = Player(Sender())
    player.pluck(6)
    showing = player.pluck(wrong)
    assert showing.string == asked
    assert f"That sounds like string {wrong}. Pluck string {asked}." in showing.message
    player.pluck(asked)
    assert channels_of(hooked_up(player).guitar) == [1, 2, 3, 4, 5, 6]


def test_the_first_string_plucked_first_is_known_by_its_pitch() -> None:
    showing = Player(Sender()).pluck(1)
    assert showing.string == 6
    assert "Begin with string 6, the lowest" in showing.message


def test_a_string_plucked_again_keeps_its_clearest_pluck() -> None:
    player = Player(Sender())
    player.pluck(6, velocity=40)
    showing = player.pluck(6, velocity=70)
    assert "string 6 again" in showing.message
    assert player.pluck(5, velocity=100).string == 4
    found = hooked_up(player)
    assert any("softest pluck 70" in line for line in found.found)


def test_what_looks_wrong_can_be_kept() -> None:
    opens = (64, 59, 55, 50, 45, 33)  # a sixth string on A, an octave below the fifth [ours]
    player = Player(Sender(opens=opens))
    player.pluck(6)
    assert "press k" in player.pluck(5).message
    player.press("k")
    assert hooked_up(player).guitar.neck.tuning.open_midi == opens


def test_going_back_asks_for_the_last_string_again() -> None:
    player = Player(Sender())
    player.pluck(5)
    assert "If that was string 5, press b" in player.showing().message
    assert player.press("b").string == 6
    player.pluck(6)
    assert channels_of(hooked_up(player).guitar) == [1, 2, 3, 4, 5, 6]


def test_a_false_octave_before_the_true_note_is_not_taken() -> None:
    # An octave, soft, under about 50 ms, just before the real note (converter support notes, from memory).
    player = Player(Sender())
    player.to_send += [TimedMessage(0.05, b"\x95\x34\x20"), TimedMessage(0.08, b"\x85\x34\x00")]
    player.to_send += player.sender.pluck(6, 0, 0.08)
    player.wait(1)
    assert player.showing().string == 5
    assert player.hook_up.showing(1.0).message.startswith("String 6 came on channel 6, as E")


@pytest.mark.parametrize(
    ("string", "fret", "said"), [(4, 0, "open"), (4, 11, "fret 11"), (3, 12, "string 3")]
)
def test_something_else_than_fret_12_is_said(string: int, fret: int, said: str) -> None:
    player = Player(Sender())
    assert player.until(Step.FRET_12).string == 4
    showing = player.pluck(string, fret)
    assert showing.step is Step.FRET_12
    assert said in showing.message


def test_nothing_at_all_says_what_to_look_at() -> None:
    player = Player(Sender())
    player.wait(9.5)
    assert player.showing().message == ""
    player.wait(1)
    for word in ("cable", "power", "port", "mono mode"):
        assert word in player.showing().message
    assert not player.hook_up.heard


def test_messages_without_notes_are_told_apart_from_silence() -> None:
    player = Player(Sender())
    player.to_send.append(TimedMessage(1.0, b"\xb0\x07\x7f"))
    player.wait(10.5)
    assert "but no notes" in player.showing().message


def test_quitting_leaves_nothing_to_write() -> None:
    player = Player(Sender())
    player.until(Step.CHOOSE)
    player.press("q")
    assert player.hook_up.done
    assert player.hook_up.result is None


def test_a_name_is_typed_checked_and_not_overwritten_unasked() -> None:
    player = Player(Sender(), taken=("old",), name="")
    player.until(Step.NAME)
    player.press(["enter"])
    assert player.step is Step.NAME
    assert "letters" in player.showing().message
    player.press(["x", "backspace", "o", "l", "d", "enter"])
    assert player.step is Step.OVERWRITE
    player.press("n")
    assert player.step is Step.NAME
    player.press(["enter"])
    player.press("y")
    assert player.step is Step.CHOOSE
    player.press("y")
    assert player.hook_up.result is not None
    assert (player.hook_up.result.guitar.name, player.hook_up.result.choose) == ("old", True)


def test_pedals_and_signals_of_the_guitar_that_is_set_up_again_stay() -> None:
    far = SignalBinding(Control.QUIT, (Place(7, 0), Place(1, 0)))
    base = replace(DEFAULT, name="mine", title="Mine", port="left", signals=(*DEFAULT.signals, far))
    player = Player(Sender(), base=base, name="mine", chosen="mine", written_port="left")
    guitar = hooked_up(player).guitar
    assert (guitar.title, guitar.port) == ("Mine", "left")
    assert guitar.signals == DEFAULT.signals  # but for the one on a string that it has not


# Noise and thresholds.


def touches(*notes: tuple[int, float]):
    def touch(player: Player) -> None:
        for velocity, length_s in notes:
            player.noise(velocity, length_s)

    return touch


def test_thresholds_lie_between_the_noise_of_fingers_and_the_softest_pluck() -> None:
    player = Player(Sender())
    found = hooked_up(player, TOUCH=touches((10, 0.02), (24, 0.03), (18, 0.052)))
    limits = found.guitar.wiring.thresholds
    assert 24 < limits.soft_velocity < 90
    assert 0.052 < limits.short_s <= limits.doubt_s


def test_noise_as_loud_as_plucks_is_said_and_no_soft_pluck_is_lost() -> None:
    player = Player(Sender())
    player.pluck(6, velocity=30)
    found = hooked_up(player, TOUCH=touches((45, 0.03)))
    assert found.guitar.wiring.thresholds.soft_velocity < 30
    assert any("sensitivity" in line for line in found.found)


def test_a_string_plucked_by_mistake_is_no_noise() -> None:
    player = Player(Sender())

    def pluck(player: Player) -> None:
        player.pluck(6)

    found = hooked_up(player, TOUCH=pluck)
    assert found.guitar.wiring.thresholds == Thresholds()
    assert any(line.startswith("No noise") for line in found.found)


def test_notes_that_come_by_themselves_are_noise_too() -> None:
    player = Player(Sender())
    player.until(Step.SILENCE)
    player.wait(2)
    player.noise(20, 0.03)
    player.until(Step.TOUCH)
    assert "1 notes came though nothing was touched" in player.showing().message
    assert 20 < hooked_up(player).guitar.wiring.thresholds.soft_velocity < 90


def test_neighbours_that_speak_raise_the_limit_of_crosstalk() -> None:
    limits = hooked_up(Player(Sender(crosstalk=0.6))).guitar.wiring.thresholds
    assert limits.crosstalk_share == pytest.approx(0.65, abs=0.02)
    assert Thresholds().crosstalk_share < limits.crosstalk_share <= 0.8


@given(
    st.lists(st.builds(Noise, st.integers(1, 127), st.floats(0.001, 1.0)), max_size=8),
    st.lists(
        st.builds(Heard, st.integers(0, 15), st.integers(20, 90), st.just(0.0), st.integers(2, 127),
                  st.floats(0.051, 3.0)), min_size=1, max_size=8),
)  # fmt: skip
def test_no_pluck_that_was_seen_is_ever_lost(noises: list[Noise], plucks: list[Heard]) -> None:
    limits = derive_thresholds(noises, plucks, Thresholds())
    assert limits.soft_velocity < min(pluck.velocity for pluck in plucks)
    assert limits.short_s < min(pluck.length_s for pluck in plucks)
    assert 0 <= limits.short_s <= limits.doubt_s <= 0.060  # no note stays doubtful longer
    assert limits.crosstalk_share <= 0.8


# What follows from what.


def test_missing_channels_go_on_as_the_others_do() -> None:
    assert assumed_channels({1: 0, 2: 1, 3: 2, 5: 4, 6: 5}, 6) == (0, 1, 2, 3, 4, 5)
    assert assumed_channels({1: 5, 2: 4, 4: 2, 5: 1, 6: 0}, 6) == (5, 4, 3, 2, 1, 0)
    assert assumed_channels({2: 11, 3: 12, 4: 13, 5: 14, 6: 15}, 6) == (10, 11, 12, 13, 14, 15)
    assert assumed_channels({1: 0, 2: 0}, 6) is None


def test_a_tuning_without_offset_is_before_one_with() -> None:
    lower = {string: midi - 2.0 for string, midi in enumerate(STANDARD, start=1)}
    match = match_tuning(lower, 6, TUNINGS)
    assert match.tuning is not None
    assert (match.tuning.name, match.offset) == ("standard", -2)
    own = replace(TUNINGS[0], name="own", open_midi=tuple(midi - 2 for midi in STANDARD))
    match = match_tuning(lower, 6, (*TUNINGS, own))
    assert match.tuning == own
    assert match.offset == 0


@given(st.sampled_from((1, 2, 3, 4, 5, 7, 12, 24, 48)), st.floats(-0.09, 0.09))
def test_every_usual_range_is_found_from_a_reading_a_little_off(usual: int, off: float) -> None:
    assert nearest_range(usual * (1 + off))[0] == usual


def test_a_slide_told_by_notes_needs_two_readings_that_agree() -> None:
    first, second = RawNote(0.0, 0, 60, 90, 0), RawNote(0.2, 0, 61, 90, -300)
    first.path.append((0.15, 900))  # 1,200 steps for a semitone would be a range of 6.8
    second.end_s = first.end_s = 1.0
    slide = read_slide([first, second], 1.0)
    assert (slide.by_bends, slide.by_notes, slide.range_semitones) == (True, True, None)


@st.composite
def senders(draw: st.DrawFn) -> Sender:
    strings = draw(st.integers(6, 8))
    tuning = draw(st.sampled_from([t.open_midi for t in TUNINGS if len(t.open_midi) == strings]))
    channels = draw(st.permutations(range(1, 17)))
    bend_range = draw(st.sampled_from((2, 3, 4, 5, 7, 12, 24, 48)))
    controllers = channels[strings] if draw(st.booleans()) else None
    return Sender(
        opens=tuple(tuning),
        channels=tuple(channels[:strings]),
        bend_range=bend_range,
        offset=draw(st.sampled_from((0, 0, 1, 3, -2, 12, -12))),
        cents=tuple(draw(st.lists(st.integers(-14, 14), min_size=strings, max_size=strings))),
        tells_range=draw(st.booleans()),
        controllers=controllers,
        crosstalk=0.0,
    )


@settings(max_examples=25, deadline=None)
@given(senders(), st.integers(1, 3))
def test_what_is_written_decodes_every_place_rightly(sender: Sender, choice: int) -> None:
    player = Player(sender)
    if sender.offset:
        showing = player.until(Step.OFFSET)
        player.press(str(min(choice, len(showing.options))))
    found = hooked_up(player)
    with TemporaryDirectory() as folder:
        home = Home.of(Path(folder))
        write_guitar(found.guitar, home, new_tuning=found.new_tuning)
        guitar = load_guitar(found.guitar.name, home)
    assert guitar == found.guitar
    time_s, messages, asked = 1.0, sender.begin(), []
    for place in guitar.neck.all_places():
        messages += sender.pluck(place.string, place.fret, time_s, ring_s=0.3)
        asked.append(place)
        time_s += 0.5
    assert [note.place for note in notes_of(guitar, messages)] == asked


@pytest.mark.parametrize("seed", range(40))
def test_a_poor_converter_is_hooked_up_rightly_all_the_same(seed: int) -> None:
    channels = ((1, 2, 3, 4, 5, 6), (6, 5, 4, 3, 2, 1), (11, 12, 13, 14, 15, 16))[seed % 3]
    bend_range = (2, 5, 12, 24)[seed % 4]
    player = Player(PoorSender(channels=channels, bend_range=bend_range).spoilt(seed))
    guitar = hooked_up(player).guitar
    assert channels_of(guitar) == list(channels)
    assert (guitar.neck.tuning.name, guitar.neck.capo) == ("standard", 0)
    assert guitar.wiring.bend_range_semitones == bend_range
    assert guitar.wiring.cents == ()


bytes_of_messages = st.one_of(
    st.tuples(st.integers(0x80, 0xEF), st.integers(0, 127), st.integers(0, 127)).map(bytes),
    st.tuples(st.integers(0x90, 0x92), st.integers(35, 70), st.integers(0, 127)).map(bytes),
    st.binary(max_size=4),
)
keys = st.sampled_from([*"nkbary1239xy", "enter", "backspace", "tab", "up", "é"])


@settings(max_examples=150, deadline=None)
@given(
    st.integers(6, 8),
    st.sampled_from([Step.OPEN, Step.FRET_12, Step.SLIDE, Step.SILENCE, Step.TOUCH, Step.FOUND, Step.NAME]),
    st.lists(
        st.tuples(st.sampled_from([0.0, 0.001, 0.03, 0.2, 0.5, 3.0]), st.one_of(bytes_of_messages, keys)),
        max_size=60,
    ),
)
def test_no_message_and_no_key_breaks_it(
    strings: int, start: Step, events: list[tuple[float, bytes | str]]
) -> None:
    player = Player(Sender(opens=(*STANDARD, 35, 30)[:strings], channels=tuple(range(1, strings + 1))))
    player.until(start)
    hook_up, now_s = player.hook_up, player.now_s
    for after_s, event in events:
        now_s += after_s
        if isinstance(event, bytes):
            hook_up.hear(TimedMessage(now_s, event))
        else:
            hook_up.key(event, now_s)
        hook_up.tick(now_s)
        setup_frame(hook_up.showing(now_s), 80, 24)
        if hook_up.done:
            break
    if hook_up.result is not None:
        assert guitar_text(hook_up.result.guitar)


@pytest.mark.parametrize(
    "sender",
    [
        Sender(channels=(3,) * 6, bend_range=12, cents=(4, -9, 0, 12, -3, 7)),
        Sender(mpe=True, says_mpe=True, tells_range=True, bend_range=24, settles=True),
        Sender(mpe=True, bend_range=48, offset=-12),
    ],
    ids=["one channel", "MPE with its range told", "MPE as usual"],
)
def test_without_strings_every_pitch_is_heard_rightly(sender: Sender) -> None:
    player = Player(sender)
    if sender.offset:
        player.until(Step.OFFSET)
        player.press("2")
    guitar = hooked_up(player).guitar
    time_s, messages, asked = 1.0, sender.begin(), []
    for place in guitar.neck.all_places():
        messages += sender.pluck(place.string, place.fret, time_s, ring_s=0.3)
        asked.append(guitar.neck.midi(place))
        time_s += 0.5
    assert [note.midi for note in notes_of(guitar, messages)] == asked


def test_the_text_of_a_guitar_tells_every_line() -> None:
    found = hooked_up(Player(Sender(offset=-2)), OFFSET=lambda player: player.press("2"))
    text = guitar_text(found.guitar, remarks=found.found)
    assert text.startswith("# Strings 1 to 6 on channels 1 2 3 4 5 6.\n")
    assert re.search(r"^transpose_semitones: 2 +# to be added to the numbers sent", text, re.MULTILINE)
    keyed = [line for line in text.splitlines() if not line.startswith(("#", "  pause", "  next", "  again"))]
    assert all("#" in line for line in keyed if not line.startswith("title"))
