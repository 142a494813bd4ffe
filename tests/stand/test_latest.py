"""What waits for a slow page, and what a new one is told."""

from midifret.stand.latest import MOST_ENGRAVINGS, MOST_WAITING, Known, Outbox, joined
from midifret.stand.messages import Clicks, Notice, RunScreen
from tests.serve.standing import a_hall, a_reading, a_screen, an_engraving


def marks(screen: object) -> dict[str, str]:
    assert isinstance(screen, RunScreen)
    assert screen.reading is not None
    return {mark.ident: mark.verdict for mark in screen.reading.marks}


def test_of_moments_only_the_newest_waits_and_all_else_goes_before_it() -> None:
    box = Outbox()
    for number in range(100):
        assert box.put(a_screen(number))
    assert box.put(an_engraving())
    assert box.put(Clicks(((1.0, 2),), 1.0))
    assert len(box) == 3
    assert [box.next() for _ in range(4)] == [an_engraving(), Clicks(((1.0, 2),), 1.0), a_screen(99), None]


def test_a_hall_takes_the_place_of_a_run_and_the_other_way_round() -> None:
    box = Outbox()
    box.put(a_screen(1))
    box.put(a_hall())
    assert box.next() == a_hall()
    box.put(a_hall())
    box.put(a_screen(2))
    assert box.next() == a_screen(2)


def test_more_than_can_be_caught_up_with_is_told() -> None:
    box = Outbox()
    assert all(box.put(Notice("", grave=False)) for _ in range(MOST_WAITING))
    assert not box.put(Notice("", grave=False))


def test_marks_of_moments_that_were_left_out_come_with_the_newest() -> None:
    older = a_screen(1, reading=a_reading(("a", "right"), ("b", "wrong"), whole=True))
    newer = a_screen(2, reading=a_reading(("b", "right"), ("c", "right")))
    found = joined(older, newer)
    assert marks(found) == {"a": "right", "b": "right", "c": "right"}
    assert isinstance(found, RunScreen)
    assert found.clock == "2"
    assert found.reading is not None
    assert found.reading.whole  # those of the older one were all there were


def test_marks_of_another_run_or_of_before_a_whole_page_do_not() -> None:
    older = a_screen(1, reading=a_reading(("a", "right")))
    assert joined(older, a_screen(2, run=2, reading=a_reading(("b", "right")))) == a_screen(
        2, run=2, reading=a_reading(("b", "right"))
    )
    whole = a_screen(2, reading=a_reading(("b", "right"), whole=True))
    assert joined(older, whole) == whole
    assert joined(a_hall(), older) == older
    assert joined(None, older) == older


def test_who_comes_is_told_the_engravings_and_the_last_moment() -> None:
    known = Known()
    assert known.all() == ()
    known.keep(a_hall())
    known.keep(an_engraving("a"))
    known.keep(Notice("gone", grave=False))
    assert known.all() == (an_engraving("a"), a_hall())
    known.keep(a_screen(1))
    assert known.all() == (an_engraving("a"), a_screen(1))
    known.keep(a_hall("over"))
    assert known.all() == (a_hall("over"),)


def test_who_comes_into_a_reading_is_told_all_marks() -> None:
    known = Known()
    known.keep(a_screen(1, reading=a_reading(("a", "right"), ("b", "wrong"), whole=True)))
    known.keep(a_screen(2, reading=a_reading(("b", "right"))))
    known.keep(a_screen(3))  # a moment without the score, a pause say
    known.keep(a_screen(4, reading=a_reading()))
    (found,) = known.all()
    assert marks(found) == {"a": "right", "b": "right"}
    assert isinstance(found, RunScreen)
    assert found.reading is not None
    assert found.reading.whole
    known.keep(a_screen(5, reading=a_reading(whole=True)))  # all were taken back
    assert marks(known.all()[0]) == {}
    known.keep(a_screen(6, reading=a_reading(("c", "right"))))
    known.keep(a_screen(0, run=2, reading=a_reading(("d", "right"))))
    assert marks(known.all()[0]) == {"d": "right"}


def test_what_is_known_does_not_grow_without_end() -> None:
    known = Known()
    known.keep(a_screen(0))
    for number in range(1000):
        known.keep(an_engraving(str(number)))
    assert len(known.all()) == MOST_ENGRAVINGS + 1
    assert known.all()[-2] == an_engraving("999")
    known.keep(an_engraving("990", 20))  # engraved anew: the newer one, once
    assert len(known.all()) == MOST_ENGRAVINGS + 1
