"""Writing guitars, tunings and the chosen guitar: read back it is the same, and nothing is lost."""

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.files import Home, parse_document
from midifret.gear import (
    ControlBinding,
    check_guitar,
    load_guitar,
    load_settings,
    load_tunings,
    shipped_guitar,
)
from midifret.gear.guitar import channel_map
from midifret.gear.write import choose_guitar, guitar_text, is_guitar_name, write_guitar
from midifret.neck import Neck, Tuning
from midifret.terms import BadInput, Encoding, Thresholds, Unavailable, Wiring
from midifret.terms.control import Control

SHIPPED = shipped_guitar()


@pytest.fixture
def home(tmp_path: Path) -> Home:
    return Home.of(tmp_path / "home")


def test_the_shipped_guitar_is_read_back_as_itself(home: Home) -> None:
    (path,) = write_guitar(replace(SHIPPED, name="copy"), home)
    assert path == home.guitars / "copy.yaml"
    assert load_guitar("copy", home) == replace(SHIPPED, name="copy")
    assert not list(home.guitars.glob("*~"))


def test_the_file_that_was_there_is_kept_beside_the_new_one(home: Home) -> None:
    folder = home.writable(home.guitars)
    (folder / "mine.yaml").write_text("title: By hand\ntuning: standard\nchannels: [1,2,3,4,5,6]\n", "utf-8")
    write_guitar(replace(SHIPPED, name="mine"), home)
    assert (folder / "mine.yaml~").read_text("utf-8").startswith("title: By hand")
    assert sorted(path.name for path in folder.iterdir()) == ["mine.yaml", "mine.yaml~"]


def test_a_new_tuning_goes_beside_those_that_the_person_has(home: Home) -> None:
    home.writable().joinpath("tunings.yaml").write_text(
        "# my own\nlow:  # everything a tone lower\n  title: Low\n  strings: [D4, A3, F3, C3, G2, D2]\n",
        "utf-8",
    )
    own = Tuning("d-a-d-g-a-d", "Tuned D A D G A D", (62, 57, 55, 50, 45, 38))
    guitar = replace(SHIPPED, name="mine", neck=Neck(own))
    write_guitar(guitar, home, new_tuning=True)
    assert load_guitar("mine", home) == guitar
    assert {"low", "d-a-d-g-a-d", "standard"} <= {tuning.name for tuning in load_tunings(home)}
    text = home.tunings.read_text("utf-8")
    assert "# my own" in text
    assert "# everything a tone lower" in text


def test_a_guitar_that_its_file_would_not_give_is_not_written(home: Home) -> None:
    unknown = Tuning("nobody-knows", "Nobody knows", (62, 57, 55, 50, 45, 38))
    with pytest.raises(BadInput, match="would not give the guitar"):
        write_guitar(replace(SHIPPED, name="mine", neck=Neck(unknown)), home)
    with pytest.raises(BadInput):
        write_guitar(replace(SHIPPED, name="mine", title="two\nlines"), home)
    assert not home.root.exists()


def test_choosing_a_guitar_leaves_all_else_in_the_settings(home: Home) -> None:
    before = "# mine\nplayer: 'Ada'   # that is me\nguitar: default\nlanguage: german\n"
    home.writable().joinpath("settings.yaml").write_text(before, "utf-8")
    choose_guitar("nylon", home)
    assert home.settings.read_text("utf-8") == before.replace("default", "nylon")
    settings = load_settings(home)
    assert (settings.player, settings.guitar, settings.language.value) == ("Ada", "nylon", "german")
    assert home.root.joinpath("settings.yaml~").read_text("utf-8") == before


def test_choosing_a_guitar_where_there_are_no_settings_makes_them(home: Home) -> None:
    choose_guitar("nylon", home)
    assert home.settings.read_text("utf-8") == "guitar: nylon\n"


def test_faulty_settings_are_told_and_left_alone(home: Home) -> None:
    home.writable().joinpath("settings.yaml").write_text("countdown_s: 99\n", "utf-8")
    with pytest.raises(BadInput, match="countdown_s"):
        choose_guitar("nylon", home)
    assert home.settings.read_text("utf-8") == "countdown_s: 99\n"


def test_where_nothing_can_be_written_it_says_so(tmp_path: Path) -> None:
    (tmp_path / "home").write_text("a file where the folder should be", "utf-8")
    with pytest.raises(Unavailable, match="home"):
        write_guitar(replace(SHIPPED, name="mine"), Home.of(tmp_path / "home"))


@pytest.mark.parametrize(
    ("name", "holds"),
    [("nylon", True), ("Nylon_2-b", True), ("", False), ("a b", False), ("../up", False), ("-x", False)]
    + [("x" * 40, True), ("x" * 41, False), ("a.yaml", False), ("ä", False)],
)
def test_what_a_guitar_can_be_called(name: str, holds: bool) -> None:
    assert is_guitar_name(name) is holds


titles = st.text(st.characters(categories=("L", "N", "P", "S", "Zs")), min_size=1, max_size=60).filter(
    lambda text: text.strip() and text.isprintable()
)
milliseconds = st.integers(0, 60).map(lambda ms: ms / 1000)


@given(
    titles,
    st.text(st.characters(min_codepoint=32, max_codepoint=0x24F).filter(str.isprintable), max_size=200),
    st.permutations(range(16)),
    st.one_of(st.integers(1, 96), st.floats(0.5, 96).map(lambda value: round(value, 2))),
    st.lists(st.floats(-100, 100).map(lambda cents: round(cents, 1)), min_size=6, max_size=6),
    st.sampled_from(Encoding),
    st.tuples(milliseconds, milliseconds, st.integers(0, 127), st.integers(0, 100)),
    st.booleans(),
)
def test_whatever_the_guitar_it_is_read_back_the_same(
    title: str,
    port: str,
    order: list[int],
    bend_range: float,
    cents: list[float],
    encoding: Encoding,
    limits: tuple[float, float, int, int],
    controls: bool,
) -> None:
    per_string = encoding is Encoding.PER_STRING
    wiring = Wiring(
        channels=channel_map(tuple(order[:6])) if per_string else Wiring().channels,
        bend_range_semitones=float(bend_range),
        encoding=encoding,
        controller_channel=order[6] if per_string and controls else None,
        transpose_semitones=order[7],
        cents=tuple(cents) if controls else (),
        thresholds=Thresholds(
            soft_velocity=limits[2],
            short_s=limits[0],
            together_s=limits[1],
            crosstalk_share=limits[3] / 100,
        ),
    )
    pedals = (
        ControlBinding(Control.NEXT, is_program=False, number=64, channel=order[8], least_value=1),
        ControlBinding(Control.PAUSE, is_program=True, number=3),
    )
    guitar = replace(SHIPPED, title=title, port=port, wiring=wiring, controls=pedals if controls else ())
    document = parse_document(guitar_text(guitar, remarks=("Found.",)).encode(), "g.yaml")
    found, problems = check_guitar(document, (SHIPPED.neck.tuning,), name="default")
    assert problems == ()
    assert found == guitar
