"""How far apart frets and strings lie, in millimetres."""

SCALE_MM = 650.0  # of a full-size classical guitar [common practice, no source]


def fret_mm(fret: float) -> float:
    """How far from the nut a fret lies, in mm: twelve-tone equal temperament."""
    return SCALE_MM * (1 - 2 ** (-fret / 12))


def along_mm(fret: float, other: float, *, capo: int = 0) -> float:
    """How far apart two frets lie along the neck, in mm; frets count from the capo."""
    return abs(fret_mm(other + capo) - fret_mm(fret + capo))
