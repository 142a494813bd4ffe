"""The pairing page: a code by hand or from the end of the address; what is said of a wrong one."""

from midifret.serve.answers import read_files
from midifret.serve.server import StandServer
from midifret.stand.codes import Rights
from tests.stand_page.scripted import WEB, Stand


def unpaired(stand: Stand, end: str = "") -> tuple[object, str]:
    """A device that was never let in, at the pairing page."""
    page = stand.page(open_it=False)
    address = f"http://127.0.0.1:{stand.server.port}"
    page.goto(f"{address}/pair{end}")
    return page, address


def test_a_device_that_is_not_paired_is_led_to_the_pairing_page(stand: Stand) -> None:
    page = stand.page(open_it=False)
    page.goto(f"http://127.0.0.1:{stand.server.port}/")
    page.get_by_role("heading", name="Pair this device").wait_for()
    assert stand.faults == []


def test_a_typed_code_lets_in(stand: Stand) -> None:
    page, _ = unpaired(stand)
    code = stand.server.code(Rights.PLAY).text
    page.get_by_label("Code").fill(f" {code[:3].lower()}-{code[3:]} ")
    page.keyboard.press("Enter")
    page.locator("body[data-link=linked]").wait_for()
    assert page.locator("#watch-words").is_hidden()
    assert stand.server.code(Rights.PLAY).text != code


def test_a_code_for_watching_lets_watch(stand: Stand) -> None:
    page, _ = unpaired(stand)
    page.get_by_label("Code").fill(stand.server.code(Rights.WATCH).text)
    page.get_by_role("button", name="Pair").click()
    page.get_by_text("You are watching").wait_for()


def test_the_address_of_the_qr_code_pairs_by_itself_and_is_kept_nowhere(stand: Stand) -> None:
    page = stand.page(open_it=False)
    code = stand.server.code(Rights.PLAY)
    page.goto(stand.server.pairing_address("127.0.0.1", code))
    page.locator("body[data-link=linked]").wait_for()
    assert code.text not in page.evaluate("location.href")
    page.go_back()
    assert code.text not in page.evaluate("location.href")
    assert not [address for address in stand.asked if code.text in address.partition("#")[0]]


def test_a_wrong_code_is_told_and_can_be_typed_anew(stand: Stand) -> None:
    page, address = unpaired(stand, "#WRONG1")
    words = page.locator("#words")
    page.locator("#words", has_text="does not hold").wait_for()
    assert page.evaluate("location.href") == f"{address}/pair"
    assert page.evaluate("document.activeElement.id") == "code"
    for _ in range(12):
        page.get_by_label("Code").fill("WRONG1")
        page.keyboard.press("Enter")
        page.wait_for_timeout(60)
    page.locator("#words", has_text="Wait").wait_for()
    assert "before the next try" in words.inner_text()


def test_no_code_and_no_program_are_told_in_words(stand: Stand) -> None:
    page, _ = unpaired(stand)
    page.get_by_role("button", name="Pair").click()
    page.locator("#words", has_text="Type the code first.").wait_for()
    stand.server.stop()
    page.get_by_label("Code").fill("AAAAAA")
    page.keyboard.press("Enter")
    page.locator("#words", has_text="still running").wait_for()


def test_only_its_own_files_are_read_before_pairing(stand: Stand) -> None:
    page, address = unpaired(stand)
    page.get_by_label("Code").wait_for()
    paths = {asked.removeprefix(address) for asked in stand.asked}
    assert paths == {"/pair", "/pair.css", "/pair.js", "/pair.svg"} or paths == {
        "/pair",
        "/pair.css",
        "/pair.js",
    }
    assert isinstance(stand.server, StandServer)
    assert {"/pair", "/pair.css", "/pair.js", "/pair.svg"} <= set(read_files(WEB))
