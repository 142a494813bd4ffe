"""One MIDI channel: its bend, its registered parameters, and by how much they shift what sounds."""

import math

_BEND_CENTRE = 8192
_FULL = 16384  # values of 14 bits
_CENTS = 100.0
# Controllers (MIDI 1.0, table of controller numbers; RP-018).
_DATA_MSB, _DATA_LSB, _STEP_UP, _STEP_DOWN = 6, 38, 96, 97
_NRPN_LSB, _NRPN_MSB, _RPN_LSB, _RPN_MSB = 98, 99, 100, 101
_RPN_NULL = (0x7F, 0x7F)
_BEND_RANGE, _FINE_TUNING, _COARSE_TUNING, _MPE = (0, 0), (0, 1), (0, 2), (0, 6)

PARAMETER_CONTROLLERS = frozenset(
    {_DATA_MSB, _DATA_LSB, _STEP_UP, _STEP_DOWN, _NRPN_LSB, _NRPN_MSB, _RPN_LSB, _RPN_MSB}
)


class Channel:
    """What a channel was last told.

    offset: what is to be added to a note number to have the sounding pitch, in semitones; kept up to date.
    base: the same with the bend at its centre. unit: semitones for each step of the bend.
    least, most: while the offset lies between, whoever listens to the channel need not be asked.
    speaks_for_others: what it is told holds for other channels as well, so that it is always asked.
    mpe_members: how many member channels RPN 6 has asked for; None until it has.
    """

    __slots__ = (
        "_coarse_semitones",
        "_fine",
        "_home_semitones",
        "_listening",
        "_range",
        "_rpn",
        "_shared_semitones",
        "base",
        "index",
        "least",
        "most",
        "mpe_members",
        "offset",
        "raw_bend",
        "speaks_for_others",
        "unit",
    )

    def __init__(self, index: int, bend_range_semitones: float, home_semitones: float = 0.0) -> None:
        """Start as after switching on: bend at its centre, no parameter selected.

        home_semitones: always added: a converter that transposes, a string that is off.
        """
        self.index = index
        self.raw_bend = 0
        self._range = divmod(round(bend_range_semitones * _CENTS), 100)  # semitones, cents
        self.unit = bend_range_semitones / _BEND_CENTRE
        self._rpn = _RPN_NULL
        self._listening = False  # data entry goes to the registered parameter in `_rpn`
        self._coarse_semitones = 0
        self._fine = _BEND_CENTRE  # 14 bits, centre 8192: no shift
        self._home_semitones = home_semitones
        self._shared_semitones = 0.0
        self.mpe_members: int | None = None
        self.base = self.offset = home_semitones
        self.least, self.most = -math.inf, math.inf
        self.speaks_for_others = False

    def bend_to(self, raw_bend: int) -> None:
        """Take a bend, -8192 to 8191."""
        self.raw_bend = raw_bend
        self.offset = raw_bend * self.unit + self.base

    def share(self, semitones: float) -> None:
        """Take what another channel adds to this one: mode 4's controllers for all, MPE's manager."""
        self._shared_semitones = semitones
        self._shift()

    def set_range(self, semitones: float) -> None:
        """Take a bend range from elsewhere than a message of this channel."""
        self._range = divmod(round(semitones * _CENTS), 100)
        self._shift()

    def reset(self) -> None:
        """Reset all controllers: bend to its centre, no parameter selected; the rest stays (RP-015)."""
        self._rpn, self._listening = _RPN_NULL, False
        self.raw_bend = 0
        self._shift()

    def control(self, number: int, value: int) -> bool:
        """Take a controller of PARAMETER_CONTROLLERS; say whether a parameter was changed."""
        if number == _RPN_MSB:
            self._rpn, self._listening = (value, self._rpn[1]), True
        elif number == _RPN_LSB:
            self._rpn, self._listening = (self._rpn[0], value), True
        elif number in (_NRPN_LSB, _NRPN_MSB):
            self._listening = False
        elif self._listening and self._rpn != _RPN_NULL:
            return self._enter(number, value)
        return False

    def _enter(self, number: int, value: int) -> bool:
        """Data entry. The MSB resets the LSB (RP-018); a step changes the LSB, of RPN 2 the MSB."""
        step = {_STEP_UP: 1, _STEP_DOWN: -1}.get(number, 0)
        if self._rpn == _BEND_RANGE:  # MSB semitones, LSB cents
            semitones, cents = self._range
            if step:
                total = max(0, min(127 * 100 + 99, semitones * 100 + cents + step))
                self._range = divmod(total, 100)
            else:
                self._range = (value, 0) if number == _DATA_MSB else (semitones, value)
        elif self._rpn == _FINE_TUNING:  # 14 bits, 100/8192 cents a step (MIDI 1.0, RPN 1)
            if step:
                self._fine = max(0, min(_FULL - 1, self._fine + step))
            else:
                self._fine = value << 7 if number == _DATA_MSB else self._fine & ~0x7F | value
        elif self._rpn == _COARSE_TUNING and number != _DATA_LSB:  # MSB - 64 semitones (MIDI 1.0, RPN 2)
            msb = max(0, min(127, self._coarse_semitones + 64 + step)) if step else value
            self._coarse_semitones = msb - 64
        elif self._rpn == _MPE and number == _DATA_MSB:
            self.mpe_members = min(value, 15)
        else:
            return False
        self._shift()
        return True

    def _shift(self) -> None:
        semitones, cents = self._range
        self.unit = (semitones + cents / _CENTS) / _BEND_CENTRE
        fine_semitones = (self._fine - _BEND_CENTRE) / _BEND_CENTRE
        self.base = self._home_semitones + self._shared_semitones + self._coarse_semitones + fine_semitones
        self.offset = self.raw_bend * self.unit + self.base
