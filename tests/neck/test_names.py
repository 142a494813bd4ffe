"""Names in three languages, there and back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.neck import Accidentals, Language, parse_name, parse_scale, pitch_name, spell
from midifret.neck.names import typed_names
from midifret.terms import SpelledPitch

_pitches = st.builds(SpelledPitch, st.sampled_from("CDEFGAB"), st.integers(-2, 2), st.integers(0, 8))


@given(_pitches, st.sampled_from(Language), st.booleans())
def test_names_are_read_as_they_are_written(pitch: SpelledPitch, language: Language, signs: bool) -> None:
    name = pitch_name(pitch, language, signs=signs)
    assert parse_name(name, language) == (pitch.step, pitch.alter, None)
    assert parse_name(f"{name}{pitch.octave}", language) == (pitch.step, pitch.alter, pitch.octave)


@given(st.integers(0, 127))
def test_spellings_sound_as_they_should(midi: int) -> None:
    """B-C and E-F have no note between them, the others have one with two names [common practice]."""
    both = spell(midi, Accidentals.BOTH)
    assert [pitch.midi for pitch in both] == [midi] * len(both)
    assert len(both) == (1 if midi % 12 in (0, 2, 4, 5, 7, 9, 11) else 2)
    assert spell(midi, Accidentals.SHARPS)[0].alter >= 0
    assert spell(midi, Accidentals.FLATS)[0].alter <= 0


def test_german_names() -> None:
    """H is B natural and B is B flat; Es and As lose their e [common practice, no source]."""
    names = [
        pitch_name(SpelledPitch(step, alter, 4), Language.GERMAN)
        for step, alter in [("B", 0), ("B", -1), ("E", -1), ("A", -1), ("F", 1), ("A", -2), ("B", -2)]
    ]
    assert names == ["H", "B", "Es", "As", "Fis", "Ases", "Heses"]


@pytest.mark.parametrize("text", ["", "H", "Q", "F#b", "c###", "4", "F4#", "E10", "fa"])
def test_what_is_no_english_name(text: str) -> None:
    with pytest.raises(ValueError, match="is not a note name; write a letter a to g"):
        parse_name(text)


@pytest.mark.parametrize("language", Language)
def test_a_typed_name_never_waits_for_a_double_sign(language: Language) -> None:
    for name in typed_names(language):
        assert abs(parse_name(name, language)[1]) <= 1


def test_scales() -> None:
    """Key signatures [common practice, no source]."""
    assert parse_scale("D major").notes == (
        ("D", 0),
        ("E", 0),
        ("F", 1),
        ("G", 0),
        ("A", 0),
        ("B", 0),
        ("C", 1),
    )
    assert ("B", -1) in parse_scale("F major").notes
    assert ("G", 1) in parse_scale("A harmonic minor").notes
    assert parse_scale("naturals").spell(66) is None
    scale = parse_scale("Gb major")
    assert str(scale.spell(59)) == "Cb4"  # C flat above B3 sounds as B3, written in octave 4
    for bad in ("", "H major", "C dorian", "C4 major"):
        with pytest.raises(ValueError, match="is not"):
            parse_scale(bad)
    with pytest.raises(ValueError, match="other name"):
        parse_scale("B## major")
