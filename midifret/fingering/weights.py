"""What each kind of effort of the left hand weighs against the others."""

from dataclasses import dataclass, fields


@dataclass(frozen=True, slots=True)
class Weights:
    """The price of one unit of each term of the cost; the terms are the functions of `costs`.

    All are 0 or more. The numbers here are those shipped in config/fingering.yaml, where each has its reason.
    shift, stretch, squeeze: per 30 mm along the neck. across: per string.
    """

    shift: float = 0.236
    shift_begun: float = 0.327
    unguided: float = 0.273
    press: float = 0.679
    jump: float = 0.423
    across: float = 0.079
    roll: float = 0.378
    slide: float = 0.991
    swap: float = 0.965
    reach_back: float = 1.463
    stretch: float = 1.831
    stretch_fourth: float = 1.927
    squeeze: float = 0.164
    spread: float = 0.103
    order: float = 0.827
    barre: float = 0.911
    barre_string: float = 0.083
    small_barre: float = 2.662
    first: float = 0.01
    second: float = 0.117
    third: float = 0.147
    fourth: float = 0.168
    fretted: float = 0.436
    open: float = 0.103
    height: float = 0.13
    body: float = 0.614
    thick: float = 0.015
    third_high: float = 0.25
    fourth_low: float = 0.12
    open_high: float = 0.119
    let_go: float = 6.177
    lift: float = 0.414
    slur: float = 2.0
    hurry: float = 0.5
    free_hand: float = 0.6
    printed_position: float = 1.346
    printed_open: float = 2.719
    printed_barre: float = 1.612
    region: float = 2.0


WEIGHT_NAMES = tuple(field.name for field in fields(Weights))
