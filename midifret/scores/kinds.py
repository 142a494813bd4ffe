"""What kind of score a file is: told by its name, held against what is in it."""

from enum import StrEnum

from midifret.scores.faults import ScoreFault


class Kind(StrEnum):
    """A format that is read."""

    MUSICXML = "MusicXML"
    COMPRESSED = "compressed MusicXML"
    ABC = "ABC"
    KERN = "Humdrum kern"
    MEI = "MEI"
    MIDI = "Standard MIDI File"


SUFFIXES = {
    ".musicxml": (Kind.MUSICXML,),
    ".xml": (Kind.MUSICXML, Kind.MEI),
    ".mxl": (Kind.COMPRESSED,),
    ".abc": (Kind.ABC,),
    ".krn": (Kind.KERN,),
    ".mei": (Kind.MEI,),
    ".mid": (Kind.MIDI,),
    ".midi": (Kind.MIDI,),
}
READ = ", ".join(SUFFIXES)


def kind_of(suffix: str, data: bytes) -> Kind:
    """Return the kind of a file with this suffix and these bytes. Raises ScoreFault where they disagree."""
    allowed = SUFFIXES.get(suffix.lower())
    if allowed is None:
        raise ScoreFault(f"{suffix or 'a file without a suffix'} is no kind of score that is read", READ)
    if not data.strip():
        raise ScoreFault("the file is empty")
    found = _looks_like(data)
    if found in allowed:
        return found
    if found is None:
        raise ScoreFault(f"this is no {' or '.join(allowed)}, which its name says it is")
    raise ScoreFault(
        f"this is {found}, and its name says {' or '.join(allowed)}",
        "rename it: " + ", ".join(s for s, kinds in SUFFIXES.items() if found in kinds),
    )


def _looks_like(data: bytes) -> Kind | None:
    if data.startswith(b"MThd"):
        return Kind.MIDI
    if data.startswith(b"PK\x03\x04"):
        return Kind.COMPRESSED
    head = data[:65_536]
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        head = head.decode("utf-16", errors="ignore").encode()
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    if text.startswith(b"<"):
        # Broken and empty XML counts as MusicXML: the parser says where it breaks.
        return Kind.MEI if b"<mei" in text or b"music-encoding.org" in text else Kind.MUSICXML
    if text.startswith(b"**") or b"\n**" in text or b"\t**" in text:
        return Kind.KERN
    if text.startswith(b"X:") or b"\nX:" in text or b"\rX:" in text or text.startswith(b"%abc"):
        return Kind.ABC
    return None
