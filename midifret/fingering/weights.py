"""What each kind of effort of the left hand weighs against the others."""

from dataclasses import dataclass, fields


@dataclass(frozen=True, slots=True)
class Weights:
    """The price of one unit of each term of the cost; the terms are the functions of `costs`.

    All are 0 or more. The numbers here are those shipped in config/fingering.yaml, where each has its reason.
    shift, stretch, squeeze, own_finger: per 30 mm along the neck. across: per string.
    """

    shift: float = 0.385
    shift_begun: float = 0.292
    unguided: float = 0.302
    press: float = 0.699
    jump: float = 0.328
    across: float = 0.096
    roll: float = 0.492
    slide: float = 0.866
    swap: float = 0.999
    reach_back: float = 1.47
    stretch: float = 1.59
    stretch_fourth: float = 2.296
    squeeze: float = 0.18
    spread: float = 0.099
    order: float = 1.066
    barre: float = 1.0
    barre_string: float = 0.1
    hinge: float = 0.979
    small_barre: float = 3.142
    first: float = 0.01
    second: float = 0.109
    third: float = 0.166
    fourth: float = 0.142
    fretted: float = 0.373
    open: float = 0.102
    height: float = 0.098
    body: float = 0.521
    thick: float = 0.026
    third_high: float = 0.194
    fourth_low: float = 0.12
    open_high: float = 0.085
    let_go: float = 8.331
    lift: float = 0.416
    slur: float = 2.0
    hurry: float = 0.5
    free_hand: float = 0.6
    printed_position: float = 1.344
    printed_open: float = 2.215
    printed_barre: float = 1.554
    own_finger: float = 1.5
    region: float = 2.0


WEIGHT_NAMES = tuple(field.name for field in fields(Weights))
