"""The parts of the stand that need no server: what is engraved, offered and kept, and the browser."""

import stat
import webbrowser
from pathlib import Path

import pytest

from midifret.cli.app import App
from midifret.cli.running import known_player
from midifret.cli.stand_devices import devices_path, keep_devices, kept_devices
from midifret.cli.stand_engraving import Engraver
from midifret.cli.stand_hall import Offers
from midifret.cli.stand_terminal import open_browser, pairing_lines, qr_code
from midifret.files import Home
from midifret.gear import load_guitar
from midifret.gear.guitar import Guitar
from midifret.neck import spell
from midifret.pages import engraver as engraver_module
from midifret.session.around import Setting
from midifret.stand.access import Pairing
from midifret.stand.codes import Code, Rights
from midifret.terms import CueKind, Exercise, Judged, Place, Prompt, Unavailable

STAFF, NAME = (CueKind.STAFF,), (CueKind.NAME,)


@pytest.fixture
def guitar(tmp_path: Path) -> Guitar:
    return load_guitar("default", Home(tmp_path))


def exercise(guitar: Guitar, *cues: tuple[CueKind, ...]) -> Exercise:
    prompts = []
    for n, cue in enumerate(cues, start=1):
        place = Place(6, n)
        midi = guitar.neck.midi(place)
        prompts.append(Prompt(n, cue, Judged.PLACE, (place,), (midi,), spell(midi)[0]))
    return Exercise("x", "X", "s", "t", (3, 5), Judged.PLACE, tuple(prompts))


# --- what is engraved -----------------------------------------------------------------------------


def test_a_drill_without_staves_needs_nothing(guitar: Guitar) -> None:
    prepared = Engraver().prepare(Setting(exercise(guitar, NAME), guitar, "me"))
    assert (prepared.told, prepared.notice) == ((), "")


def test_each_note_is_engraved_once(guitar: Guitar) -> None:
    pytest.importorskip("verovio")
    engraver = Engraver()
    prepared = engraver.prepare(Setting(exercise(guitar, STAFF, NAME, STAFF), guitar, "me"))
    # String 6, frets 1 and 3: F and G, in the octave of E2 [facts: standard tuning].
    assert [engraving.name for engraving in prepared.told] == ["note F2", "note G2"]
    assert set(prepared.engraved.notes.values()) == {"note F2", "note G2"}
    assert engraver.prepare(Setting(exercise(guitar, STAFF), guitar, "me")).told[0].name == "note F2"


def test_where_the_engraver_is_missing_a_mixed_drill_goes_on_in_words(
    guitar: Guitar, monkeypatch: pytest.MonkeyPatch
) -> None:
    def missing() -> None:
        raise Unavailable("the library verovio is missing", allowed="pip install 'midifret[pages]'")

    monkeypatch.setattr(engraver_module, "load_library", missing)
    monkeypatch.setattr("midifret.pages.note_staves.engrave_apart", lambda jobs: missing(), raising=True)
    engraver = Engraver()
    mixed = exercise(guitar, STAFF, NAME)
    engraver.check(mixed, guitar.neck)
    prepared = engraver.prepare(Setting(mixed, guitar, "me"))
    assert prepared.told == ()
    assert "midifret[pages]" in prepared.notice
    with pytest.raises(Unavailable, match="verovio is missing"):
        engraver.check(exercise(guitar, STAFF, STAFF), guitar.neck)


# --- what is offered ------------------------------------------------------------------------------

ABC = "X:1\nT:Little tune\nM:4/4\nL:1/4\nK:C\nCDEF|GABc|\n"


def test_the_players_own_scores_with_their_positions(tmp_path: Path, guitar: Guitar) -> None:
    pytest.importorskip("music21")
    (tmp_path / "scores").mkdir()
    (tmp_path / "scores" / "tune.abc").write_text(ABC, encoding="utf-8")
    app = App(Home(tmp_path))
    with app.open_book() as book:
        known_player(book, app, None)
    offers = Offers(app, None, "me", guitar.neck)
    offers.look_for_scores()
    (score,) = offers.scores
    assert (score.name, score.title, score.group) == ("score tune.abc", "Little tune", "Your own scores")
    assert offers.positions["score tune.abc"]
    assert "score tune.abc" in offers.names


def test_a_faulty_drill_is_left_out_and_told(
    tmp_path: Path, guitar: Guitar, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "drills").mkdir()
    (tmp_path / "drills" / "bad.yaml").write_text("title: Bad\n", encoding="utf-8")
    offers = Offers(App(Home(tmp_path)), None, "me", guitar.neck)
    offers.look_up()
    assert "left out" in capsys.readouterr().err
    assert "drill bad" not in offers.names
    assert len(offers.drills) > 100


# --- devices, codes, browser ----------------------------------------------------------------------

DEVICES = (Pairing("a" * 64, Rights.PLAY, 20_000), Pairing("b" * 64, Rights.WATCH, 20_001))


def test_devices_are_kept_for_their_owner_alone(tmp_path: Path) -> None:
    home = Home(tmp_path / "home")
    assert kept_devices(home) == ()
    keep_devices(home, DEVICES)
    assert kept_devices(home) == DEVICES
    assert stat.S_IMODE(devices_path(home).stat().st_mode) == 0o600


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", '{"version": 9, "devices": []}', "x" * 100_000, '{"version": 1, "devices": [1]}']
)
def test_a_damaged_file_of_devices_lets_nobody_in(
    tmp_path: Path, text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    home = Home(tmp_path)
    devices_path(home).write_text(text, encoding="utf-8")
    assert kept_devices(home) == ()
    assert "have to be paired anew" in capsys.readouterr().err


def test_the_codes_are_told_with_the_address_to_type() -> None:
    play, watch = Code("ABC346", Rights.PLAY, 10.0), Code("XYT799", Rights.WATCH, 10.0)
    said = pairing_lines("http://192.168.1.20:8649/pair#ABC346", play, watch)
    assert "http://192.168.1.20:8649/pair\n" in said
    assert "ABC-346" in said
    assert "XYT-799" in said
    assert "\x1b" not in said
    assert "\x1b[97;40m" in pairing_lines("http://x/pair#A", play, watch, coloured=True)


def test_the_qr_code_is_square() -> None:
    lines = qr_code("http://192.168.1.20:8649/pair#ABC346").split("\n")
    assert len({len(line) for line in lines}) == 1
    assert len(lines) == (len(lines[0]) + 1) // 2  # two squares stand above each other in a character


class Browser:
    """What the system says it has."""

    def __init__(self, name: str, *, opens: bool = True) -> None:
        self.name = name
        self.opened: list[str] = []
        self._opens = opens

    def open(self, address: str) -> bool:
        self.opened.append(address)
        return self._opens


@pytest.mark.parametrize(
    ("browser", "found"),
    [(Browser("firefox"), True), (Browser("firefox", opens=False), False), (Browser("/usr/bin/w3m"), False)],
)
def test_the_browser(browser: Browser, found: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(webbrowser, "get", lambda: browser)
    assert open_browser("http://127.0.0.1:1/") is found
    assert bool(browser.opened) is ("w3m" not in browser.name)  # that one would take the terminal


def test_no_browser(monkeypatch: pytest.MonkeyPatch) -> None:
    def none() -> None:
        raise webbrowser.Error("could not locate runnable browser")

    monkeypatch.setattr(webbrowser, "get", none)
    assert not open_browser("http://127.0.0.1:1/")
