"""The virtual guitar in tempo: planned notes come when they are due, whatever is cued meanwhile."""

from midifret.gear.guitar import Guitar, channel_map
from midifret.hear import Decoder, decode
from midifret.neck import Neck, Tuning, spell
from midifret.players import OnClick, Player, Pluck, Skill
from midifret.terms import CueKind, Judged, Place, Prompt, Tempo, TimedMessage, Wiring
from midifret.wire.virtual_guitar import VirtualGuitar

GUITAR = Guitar(
    "test",
    "Test",
    Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40))),
    Wiring(channel_map((0, 1, 2, 3, 4, 5))),
)
TEMPO = Tempo(60.0)
# Exactly 30 ms early, never wrong.
SKILL = Skill(accuracy=1.0, on_click=OnClick(early_s=0.03, spread_s=0.0, owned_bpm=1e6, lapse=0.0))
PROMPTS = tuple(
    Prompt(
        n,
        (CueKind.NAME,),
        Judged.PLACE,
        (place,),
        (GUITAR.neck.midi(place),),
        spell(GUITAR.neck.midi(place))[0],
    )
    for n, place in enumerate((Place(6, 5), Place(5, 7), Place(1, 3)), start=1)
)


def in_tempo() -> VirtualGuitar:
    return VirtualGuitar(GUITAR, Player(SKILL, GUITAR.neck, tempo=TEMPO), again_after_s=2.5)


def heard(messages: list[TimedMessage]) -> list[tuple[float, Place | None]]:
    decoded = decode(messages, Decoder(GUITAR.neck, GUITAR.wiring))
    return [(round(item.note.onset_s, 6), item.note.place) for item in decoded.notes]


def test_every_note_comes_with_its_beat_though_cues_come_between() -> None:
    virtual = in_tempo()
    virtual.cue(PROMPTS[0], 0.0)
    for prompt in PROMPTS:
        virtual.beat(prompt, 10.0 + prompt.n)
    messages = []
    for prompt in PROMPTS[1:]:  # the next cue comes when the note before is due, or just before it is played
        virtual.cue(prompt, 9.0 + prompt.n)
        messages += virtual.due(9.99 + prompt.n)
        virtual.cue(prompt, 10.0 + prompt.n)
    messages += virtual.due(30.0)
    assert heard(messages) == [(10.97, Place(6, 5)), (11.97, Place(5, 7)), (12.97, Place(1, 3))]
    assert virtual.next_s() is None


def test_a_beat_told_again_moves_its_note() -> None:
    virtual = in_tempo()
    for prompt in PROMPTS:
        virtual.beat(prompt, 10.0 + prompt.n)
    virtual.beat(PROMPTS[1], 12.1)
    virtual.beat(PROMPTS[2], 13.2)
    assert heard(virtual.due(30.0)) == [(10.97, Place(6, 5)), (12.07, Place(5, 7)), (13.17, Place(1, 3))]


def test_a_note_that_was_played_comes_again_only_on_another_beat() -> None:
    virtual = in_tempo()
    virtual.beat(PROMPTS[0], 11.0)
    messages = virtual.due(11.0)
    virtual.beat(PROMPTS[0], 11.1)  # the tempo that is followed got slower, too late
    messages += virtual.due(15.0)
    assert heard(messages) == [(10.97, Place(6, 5))]
    virtual.beat(PROMPTS[0], 21.0)  # after a pause it is asked again
    assert heard(messages + virtual.due(30.0)) == [(10.97, Place(6, 5)), (20.97, Place(6, 5))]


def test_beats_are_nothing_to_who_plays_after_cues() -> None:
    class Script:
        def answer(self, prompt: Prompt) -> list[Pluck]:
            return [Pluck(0.5, prompt.places[0], 90, 0.4)]

    virtual = VirtualGuitar(GUITAR, Script())
    virtual.beat(PROMPTS[0], 5.0)
    assert virtual.due(9.0) == []
    virtual.cue(PROMPTS[0], 10.0)
    assert heard(virtual.due(20.0)) == [(10.5, Place(6, 5))]
