"""Names of ports: choosing one by a part of its name, and finding it again though its numbers changed."""

import re
from collections.abc import Sequence

from midifret.terms import Unavailable

# What systems put into names that changes with every plugging, or with what else is plugged in. ALSA: client
# and port number, at the end, "Guitar 20:0" (seen). JACK: a client whose name is taken becomes "name-01"
# (seen); its bridge from ALSA puts the client number in brackets [from memory].
CHANGING = re.compile(r" \d+:\d+\Z|-\d\d(?=:)| \[\d+\](?=.*:)")
# WinMM: the engine adds the place in the list, "Guitar 1", so that it moves up when another is unplugged
# (source text of RtMidi).
PLACE_IN_LIST = re.compile(r" \d+\Z")


def bare_name(name: str, changing: re.Pattern[str] = CHANGING) -> str:
    """Return a name without what changes in it, for comparing."""
    return changing.sub("", name).casefold()


def choose_port(
    part: str, names: Sequence[str], kind: str = "input", changing: re.Pattern[str] = CHANGING
) -> int:
    """Return the place of the port that `part` names, case left aside.

    That is the one with this whole name, else with this name but for what changes in it, else with `part`
    anywhere in its name, else the one that differs from `part` only in what changes.
    An empty part takes the only port there is. Raises Unavailable, listing the candidates, where none or
    several fit.
    """
    listed = ", ".join(repr(name) for name in names)
    if not names:
        wanted = f" (wanted {part!r})" if part else ""
        raise Unavailable(
            f"there is no MIDI {kind} port{wanted}",
            allowed="plug in and switch on the MIDI interface, then look again with: midifret ports",
        )
    wanted = part.strip().casefold()
    bare = [bare_name(name, changing) for name in names]
    for fits in (
        [n for n, name in enumerate(names) if name.casefold() == wanted],
        [n for n, name in enumerate(bare) if name == wanted],
        [n for n, name in enumerate(names) if wanted in name.casefold()],
        [n for n, name in enumerate(bare) if name == bare_name(wanted, changing)],
    ):
        if len(fits) == 1:
            return fits[0]
        if fits:
            candidates = ", ".join(repr(names[n]) for n in fits)
            what = (
                f"{part!r} fits {len(fits)} MIDI {kind} ports" if wanted else f"{len(fits)} MIDI {kind} ports"
            )
            raise Unavailable(f"which one? {what}", allowed=f"name one of: {candidates}")
    raise Unavailable(f"no MIDI {kind} port has {part!r} in its name", allowed=f"there are: {listed}")


def find_again(
    name: str, names: Sequence[str], others: Sequence[str] = (), changing: re.Pattern[str] = CHANGING
) -> int | None:
    """Return the place of a port that had gone, or None while it is not back.

    others: the ports that were there beside it when it went; none of them is taken for it. The port of the
    very same name is it; else the only new one whose name differs in nothing but what changes. Raises
    Unavailable where that could be several: two new ones, or one while another of its make is away as well.
    """
    same = [n for n, there in enumerate(names) if there == name]
    if len(same) == 1 and name not in others:
        return same[0]
    if len(same) > others.count(name) > 0:
        raise Unavailable(
            f"which of the {len(same)} ports called {name!r} is the guitar's?",
            allowed="unplug the other, then quit and begin again",
        )
    bare = bare_name(name, changing)
    new = [n for n, there in enumerate(names) if bare_name(there, changing) == bare and there not in others]
    away = [other for other in others if bare_name(other, changing) == bare and other not in names]
    if len(new) == 1 and not away:
        return new[0]
    if not new:
        return None
    candidates = ", ".join(repr(names[n]) for n in new)
    if len(new) > 1:
        raise Unavailable(
            f"which port is the guitar's now, {candidates}?", allowed="unplug the other, or quit and name it"
        )
    raise Unavailable(
        f"is {candidates} this guitar's port, or that of the other one like it that is away?",
        allowed="plug the other one in as well, or quit and name the port",
    )
