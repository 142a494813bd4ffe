"""Repeats, endings, da capo and dal segno, ties across them, pick-up bars."""

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.scores.limits import MOST_PLAYED_BARS
from midifret.scores.unfold import TooManyBars, playing_order
from midifret.terms.score import Directions
from tests.scores.writing import (
    REPEAT_END,
    REPEAT_START,
    ending,
    musicxml,
    notations,
    note,
    read,
    sounding,
    words,
)

PLAIN = Directions()
START, END = Directions(repeat_start=True), Directions(repeat_end=2)

# By hand, as players read the signs [common practice, no source]; the corpus is held against music21 in
# tests/outside/test_scores_of_others.py.
ORDERS = {
    "no sign": ((PLAIN, PLAIN), [0, 1]),
    "repeat from the start": ((PLAIN, END, PLAIN), [0, 1, 0, 1, 2]),
    "between signs": ((PLAIN, START, END, PLAIN), [0, 1, 2, 1, 2, 3]),
    "one bar": ((PLAIN, Directions(repeat_start=True, repeat_end=2)), [0, 1, 1]),
    "second passage without a sign to begin": ((END, END), [0, 0, 1, 1]),
    "three times": ((Directions(repeat_end=3),), [0, 0, 0]),
    "two endings": (
        (PLAIN, Directions(endings=(1,), repeat_end=2), Directions(endings=(2,)), PLAIN),
        [0, 1, 0, 2, 3],
    ),
    "endings of two bars": (
        (
            PLAIN,
            *[Directions(endings=(1,))],
            Directions(endings=(1,), repeat_end=2),
            Directions(endings=(2,)),
        ),
        [0, 1, 2, 0, 3],
    ),
    "three endings": (
        (PLAIN, Directions(endings=(1, 2), repeat_end=2), Directions(endings=(3,))),
        [0, 1, 0, 1, 0, 2],
    ),
    "second ending with its sign": (
        (PLAIN, Directions(endings=(1,), repeat_end=2), Directions(endings=(2,), repeat_end=2), PLAIN),
        [0, 1, 0, 2, 3],
    ),
    "only a first ending": ((PLAIN, Directions(endings=(1,), repeat_end=2), PLAIN), [0, 1, 0, 2]),
    "da capo": ((PLAIN, Directions(jump="dc")), [0, 1, 0, 1]),
    "da capo al fine, repeats not again": (
        (END, Directions(fine=True), Directions(jump="dc")),
        [0, 0, 1, 2, 0, 1],
    ),
    "dal segno al fine": (
        (PLAIN, Directions(segno=True), Directions(fine=True), Directions(jump="ds")),
        [0, 1, 2, 3, 1, 2],
    ),
    "dal segno al coda": (
        (PLAIN, Directions(segno=True), Directions(coda=True), Directions(jump="ds"), Directions(coda=True)),
        [0, 1, 2, 3, 1, 2, 4],
    ),
    "da capo written a bar before its repeat sign": (
        (PLAIN, START, Directions(jump="dc"), END, Directions(fine=True)),
        [0, 1, 2, 3, 1, 2, 3, 0, 1, 2, 3, 4],
    ),
    "da capo takes the last ending": (
        (PLAIN, Directions(endings=(1,), repeat_end=2), Directions(endings=(2,), jump="dc")),
        [0, 1, 0, 2, 0, 2],
    ),
}


@pytest.mark.parametrize(("bars", "order"), ORDERS.values(), ids=ORDERS)
def test_order_of_playing(bars: tuple[Directions, ...], order: list[int]) -> None:
    assert list(playing_order(bars)) == order


@given(
    st.lists(
        st.builds(
            Directions,
            st.booleans(),
            st.sampled_from([0, 0, 2, 3]),
            st.sampled_from([(), (), (1,), (2,), (1, 2)]),
            st.booleans(),
            st.booleans(),
            st.booleans(),
            st.sampled_from(["", "", "", "dc", "ds"]),
        ),
        max_size=12,
    )
)
def test_signs_without_sense_end_and_lead_nowhere_else(bars: list[Directions]) -> None:
    try:
        order = playing_order(tuple(bars))
    except TooManyBars:
        return
    assert len(order) <= MOST_PLAYED_BARS
    assert all(0 <= index < len(bars) for index in order)
    # Without any ending or fine every bar is played at least once.
    if not any(bar.endings or bar.fine or bar.coda for bar in bars):
        assert set(order) == set(range(len(bars)))


def test_voltas_of_musicxml_with_how_often_a_bar_has_come(tmp_path: Path) -> None:
    score = read(
        tmp_path,
        musicxml(
            REPEAT_START + note("C4", 4),
            ending("1", "start") + note("D4", 4) + ending("1", "stop", repeat=True),
            ending("2", "start") + note("E4", 4) + ending("2", "discontinue"),
            note("F4", 4),
        ),
    )
    assert [(n.midi, n.bar, n.played) for n in score.notes] == [
        (60, "1", 1), (62, "2", 1), (60, "1", 2), (64, "3", 1), (65, "4", 1),
    ]  # fmt: skip
    assert [(b.number, b.played, str(b.onset_quarter)) for b in score.bars] == [
        ("1", 1, "0"), ("2", 1, "4"), ("1", 2, "8"), ("3", 1, "12"), ("4", 1, "16"),
    ]  # fmt: skip


def test_a_tie_into_both_endings_and_none_back_to_the_start(tmp_path: Path) -> None:
    on, off = notations('<tied type="start"/>'), notations('<tied type="stop"/>')
    score = read(
        tmp_path,
        musicxml(
            REPEAT_START + note("C4", 4) + note("G4", 4, inside=on),
            ending("1", "start") + note("G4", 2, inside=off) + note("C4", 2, inside=on)
            + ending("1", "stop", repeat=True),
            ending("2", "start") + note("G4", 4, inside=off) + ending("2", "discontinue"),
        ),
    )  # fmt: skip
    # Bar 1 holds eight quarters here. The C tied on at the end of ending 1 meets the C of bar 1, which is not
    # tied back: it is struck again.
    assert sounding(score) == [
        ("0", "4", 60), ("4", "6", 67), ("10", "2", 60), ("12", "4", 60), ("16", "8", 67),
    ]  # fmt: skip


def test_the_same_folded_as_it_stands_in_print(tmp_path: Path) -> None:
    """Each bar once, in order, and for each printed note the notes that are played of it."""
    on, off = notations('<tied type="start"/>'), notations('<tied type="stop"/>')
    score = read(
        tmp_path,
        musicxml(
            REPEAT_START + note("C4", 2) + note("G4", 2, inside=on),
            ending("1", "start") + note("G4", 4, inside=off) + ending("1", "stop", repeat=True),
            ending("2", "start") + note("G4", 4, inside=off) + ending("2", "discontinue"),
            note("F4", 4) + words("D.C. al Fine"),
        ).replace('number="4">', 'number="4">' + words("Fine"), 1),
        transpose=2,
    )
    assert score.folded is not None
    folded = score.folded.score
    assert [(bar.number, bar.played, bar.onset_quarter) for bar in folded.bars] == [
        ("1", 1, 0), ("2", 1, 4), ("3", 1, 8), ("4", 1, 12),
    ]  # fmt: skip
    # By hand: played 1 2 1 3 4 (da capo) 1 3 4; the G of ending 2 is tied from bar 1, so never struck anew.
    assert [(n.midi, n.bar, n.onset_quarter, n.duration_quarter) for n in folded.notes] == [
        (62, "1", 0, 2), (69, "1", 2, 6), (69, "3", 8, 4), (67, "4", 12, 4),
    ]  # fmt: skip
    assert score.folded.played_as == ((1, 3, 6), (2, 4, 7), (), (5, 8))
    assert score.folded.signs == (
        Directions(repeat_start=True),
        Directions(repeat_end=2, endings=(1,)),
        Directions(endings=(2,)),
        Directions(fine=True, jump="dc"),
    )
    by_number = {n.n: n for n in score.notes}
    for printed, played in zip(folded.notes, score.folded.played_as, strict=True):
        assert all((by_number[n].midi, by_number[n].bar) == (printed.midi, printed.bar) for n in played)
    assert sorted(n for played in score.folded.played_as for n in played) == list(by_number)


def test_what_is_played_as_it_stands_is_not_folded(tmp_path: Path) -> None:
    assert read(tmp_path, musicxml(note("C4", 4), note("D4", 4))).folded is None
    assert read(tmp_path, musicxml(note("C4", 4) + REPEAT_END), repeats=False).folded is None


def test_da_capo_al_fine_in_words(tmp_path: Path) -> None:
    score = read(
        tmp_path,
        musicxml(note("C4", 4), note("D4", 4) + words("Fine"), note("E4", 4) + words("D.C. al Fine")),
    )
    assert [n.midi for n in score.notes] == [60, 62, 64, 60, 62]


def test_dal_segno_al_coda_by_sound_elements(tmp_path: Path) -> None:
    def sign(name: str, sound: str) -> str:
        return f"<direction><direction-type>{name}</direction-type><sound {sound}/></direction>"

    score = read(
        tmp_path,
        musicxml(
            note("C4", 4),
            sign("<segno/>", 'segno="1"') + note("D4", 4),
            note("E4", 4) + sign("<words>To Coda</words>", 'tocoda="1"'),
            note("F4", 4) + sign("<words>D.S. al Coda</words>", 'dalsegno="1"'),
            sign("<coda/>", 'coda="1"') + note("G4", 4),
        ),
    )
    assert [n.midi for n in score.notes] == [60, 62, 64, 65, 62, 64, 67]


def test_a_pick_up_bar_is_as_short_as_it_is(tmp_path: Path) -> None:
    text = musicxml(note("G4", 1), REPEAT_START + note("C4", 3) + REPEAT_END, time="3/4")
    score = read(tmp_path, text.replace('number="2"', 'number="1"').replace('number="1"', 'number="0"', 1))
    assert sounding(score) == [("0", "1", 67), ("1", "3", 60), ("4", "3", 60)]
    assert [b.duration_quarter for b in score.bars] == [Fraction(1), Fraction(3), Fraction(3)]


def test_repeats_may_be_left_out(tmp_path: Path) -> None:
    text = musicxml(note("C4", 4) + REPEAT_END, note("D4", 4))
    assert [n.midi for n in read(tmp_path, text, repeats=False).notes] == [60, 62]


def test_bars_from_to_begin_at_zero_and_keep_meter_and_key(tmp_path: Path) -> None:
    bars = [note(p, 4) for p in ("C4", "D4", "E4", "F4")]
    bars[1] = "<attributes><key><fifths>2</fifths></key></attributes>" + bars[1] + REPEAT_END
    score = read(tmp_path, musicxml(*bars), first_bar=2, last_bar=3)
    assert [(n.bar, n.played, str(n.onset_quarter)) for n in score.notes] == [
        ("2", 1, "0"), ("2", 2, "4"), ("3", 1, "8"),
    ]  # fmt: skip
    assert [(str(k.onset_quarter), k.fifths) for k in score.keys] == [("0", 2)]
    assert (score.meters[0].beats, score.meters[0].beat_type) == (4, 4)
