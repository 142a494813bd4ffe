"""What each kind of effort of the left hand weighs against the others."""

from dataclasses import dataclass, fields


@dataclass(frozen=True, slots=True)
class Weights:
    """The price of one unit of each term of the cost; the terms are the functions of `costs`.

    All are 0 or more. The numbers here are those shipped in config/fingering.yaml, where each has its reason.
    shift, stretch, squeeze: per 30 mm along the neck. across: per string.
    """

    shift: float = 0.3
    shift_begun: float = 0.3
    unguided: float = 0.3
    press: float = 0.7
    jump: float = 0.4
    across: float = 0.1
    roll: float = 0.4
    slide: float = 0.9
    swap: float = 1.0
    reach_back: float = 1.5
    stretch: float = 2.0
    stretch_fourth: float = 2.0
    squeeze: float = 0.2
    spread: float = 0.1
    order: float = 1.0
    barre: float = 1.0
    barre_string: float = 0.1
    hinge: float = 1.0
    small_barre: float = 3.0
    first: float = 0.01
    second: float = 0.1
    third: float = 0.15
    fourth: float = 0.15
    fretted: float = 0.4
    open: float = 0.1
    height: float = 0.1
    body: float = 0.5
    thick: float = 0.02
    third_high: float = 0.2
    fourth_low: float = 0.1
    open_high: float = 0.1
    let_go: float = 6.0
    lift: float = 0.4
    slur: float = 2.0
    hurry: float = 0.5
    free_hand: float = 0.6
    printed_position: float = 1.5
    printed_open: float = 2.5
    printed_barre: float = 1.5
    region: float = 2.0


WEIGHT_NAMES = tuple(field.name for field in fields(Weights))
