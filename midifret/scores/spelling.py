"""How a pitch without a name is spelled: by its place on the line of fifths."""


def spelled(midi: int, fifths: int) -> tuple[str, int, int]:
    """Spell a pitch in a key: (step, alter, octave as it sounds).

    Of the names on the line of fifths the one from three below the key's major tonic to eight above it: in
    C major E flat to G sharp [common practice, no source].
    """
    tonic = fifths
    position = (7 * midi) % 12  # C is 0 on the line of fifths, G is 1
    while position < tonic - 3:
        position += 12
    while position > tonic + 8:
        position -= 12
    return on_fifths(position, midi)


def on_fifths(position: int, midi: int) -> tuple[str, int, int]:
    """Name the place on the line of fifths, C being 0, that sounds as this number: (step, alter, octave)."""
    step = "FCGDAEB"[(position + 1) % 7]
    alter = (position + 1) // 7
    natural = midi - alter
    return step, alter, natural // 12 - 1
