"""What each kind of effort of the left hand weighs against the others."""

from dataclasses import dataclass, fields


@dataclass(frozen=True, slots=True)
class Weights:
    """The price of one unit of each term of the cost; the terms are the functions of `costs`.

    All are 0 or more. The numbers here are those shipped in config/fingering.yaml, where each has its reason.
    shift, stretch, squeeze: per 30 mm along the neck. across: per string.
    """

    shift: float = 0.251
    shift_begun: float = 0.291
    unguided: float = 0.347
    press: float = 0.485
    jump: float = 0.646
    across: float = 0.109
    roll: float = 0.802
    slide: float = 0.157
    swap: float = 0.783
    reach_back: float = 1.749
    stretch: float = 4.6
    stretch_fourth: float = 2.23
    squeeze: float = 0.319
    spread: float = 0.092
    order: float = 1.031
    barre: float = 0.807
    barre_string: float = 0.093
    small_barre: float = 3.044
    first: float = 0.01
    second: float = 0.29
    third: float = 0.216
    fourth: float = 0.09
    fretted: float = 0.352
    open: float = 0.115
    height: float = 0.123
    body: float = 0.692
    thick: float = 0.021
    open_high: float = 0.082
    let_go: float = 7.005
    lift: float = 0.708
    slur: float = 2.0
    hurry: float = 0.5
    free_hand: float = 0.6
    printed_position: float = 1.13
    printed_open: float = 2.472
    printed_barre: float = 1.526
    region: float = 2.0


WEIGHT_NAMES = tuple(field.name for field in fields(Weights))
