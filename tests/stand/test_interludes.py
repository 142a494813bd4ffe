"""What a page shows between the parts of a practice session."""

from midifret.session.interlude import Interlude, InterludeKind, Option, Reply
from midifret.stand.interludes import block_words, interlude_screen
from midifret.stand.messages import Button, dump

BLOCK = Interlude(
    InterludeKind.BLOCK,
    "Row 5",
    ("2 minutes. It is due.",),
    (Option(Reply.GO, "enter", "begin"), Option(Reply.SKIP, "s", "leave it out")),
    quiet=("Then: row 7.",),
    number=2,
    of=4,
)
BREAK = Interlude(
    InterludeKind.BREAK, "Break", ("Rest.",), (Option(Reply.GO, "enter", "play on"),), counts_s=300.0
)


def test_a_block_says_what_comes_how_long_and_why() -> None:
    made = interlude_screen(BLOCK, run=3, player="Ada")
    dump(made)
    assert (made.run, made.stage, made.title, made.player) == (3, "ended", "Practice", "Ada")
    assert made.rows == ("Row 5", "2 minutes. It is due.", "Then: row 7.")
    assert made.buttons == (Button("enter", "begin"), Button("s", "leave it out"))
    assert (made.progress, made.counted, made.right) == ((1, 4), "blocks", None)
    assert (made.cue, made.told, made.spots) == (None, None, ())
    assert block_words(BLOCK) == "2 of 4: Row 5. 2 minutes. It is due."


def test_a_break_counts_and_trouble_is_told() -> None:
    made = interlude_screen(BREAK, run=1, player="Ada", waited_s=61.0, trouble="The guitar is gone.")
    assert made.rows[:2] == ("Break", "3:59 left")
    assert made.message == "The guitar is gone."
    assert interlude_screen(BREAK, run=1, player="Ada", waited_s=999.0).clock == "0:00"
