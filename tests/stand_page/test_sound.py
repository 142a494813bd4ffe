"""The click: at its time on the audio clock, never in a burst, silent when told, and told how it goes."""

from itertools import pairwise
from typing import Any

from midifret.stand.messages import Clicks, Sounding
from midifret.tempo import ClickKind
from midifret.wire.sound_track import click_samples
from tests.stand_page.moments import moments
from tests.stand_page.scripted import Socket, Stand

# Notes every click that is planned, and what the browser said of its clocks at that moment.
WATCH = """
window.planned = [];
const start = AudioBufferSourceNode.prototype.start;
AudioBufferSourceNode.prototype.start = function (at) {
  const stamp = this.context.getOutputTimestamp();
  const asked = stamp.performanceTime + (at - stamp.contextTime) * 1000;
  window.planned.push({at, page_ms: asked, length: this.buffer.length, rate: this.context.sampleRate,
    peak: Math.max(...this.buffer.getChannelData(0).map(Math.abs))});
  return start.call(this, at);
};
const stop = AudioBufferSourceNode.prototype.stop;
window.stopped = 0;
AudioBufferSourceNode.prototype.stop = function () { window.stopped += 1; return stop.call(this); };
"""
# A sound that is not allowed before a gesture, as in most browsers.
SILENT = """
const Real = AudioContext;
window.allowed = false;
window.AudioContext = class extends Real {
  get state() { return window.allowed ? super.state : "suspended"; }
  async resume() {
    window.allowed = navigator.userActivation.hasBeenActive;
    this.dispatchEvent(new Event("statechange"));
  }
};
"""


def now_ms(page: Any) -> float:
    """The page's clock."""
    return float(page.evaluate("performance.now()"))


def test_clicks_are_planned_for_their_times(stand: Stand) -> None:
    page = stand.page(init=WATCH)
    page.wait_for_timeout(1500)  # the clocks are listened to with each exchange
    at_ms = now_ms(page) + 300
    wanted = [at_ms + 250 * number for number in range(4)]
    stand.server.send(Clicks(tuple((time, 2 if n == 0 else 1) for n, time in enumerate(wanted)), 0.8))
    page.wait_for_timeout(200)
    planned = page.evaluate("window.planned")
    assert len(planned) == 4
    gaps = [later["at"] - earlier["at"] for earlier, later in pairwise(planned)]
    assert all(abs(gap - 0.25) < 1e-6 for gap in gaps)
    for click, time in zip(planned, wanted, strict=True):
        assert abs(click["page_ms"] - time) < 5  # against one look at clocks that themselves tremble


def test_a_click_sounds_as_the_programs_own(stand: Stand) -> None:
    page = stand.page()
    of = "async (n) => [...(await import('/sound.js')).clickSamples(n, 48000)]"
    for strength, kind in ((2, ClickKind.BAR), (1, ClickKind.BEAT), (0, ClickKind.SUBDIVISION)):
        ours, wanted = page.evaluate(of, strength), click_samples(kind, 48000.0, 100.0)
        assert len(ours) == len(wanted)
        assert max(abs(a - b) for a, b in zip(ours, wanted, strict=True)) < 1e-6


def test_late_clicks_are_counted_and_not_played(stand: Stand) -> None:
    page = stand.page(init=WATCH)
    page.wait_for_timeout(300)
    now = now_ms(page)
    stand.server.send(Clicks(tuple((max(0.0, now - 1000 + 50 * n), 1) for n in range(10)), 0.8))
    sounding = stand.wait_for(page, lambda each: isinstance(each.message, Sounding) and each.message.late > 0)
    assert sounding.message.late == 10  # type: ignore[union-attr]
    assert page.evaluate("window.planned.length") == 0


def test_forget_silences_what_was_planned(stand: Stand) -> None:
    page = stand.page(init=WATCH)
    page.wait_for_timeout(300)
    now = now_ms(page)
    stand.server.send(Clicks(tuple((now + 2000 + 100 * n, 1) for n in range(5)), 0.8))
    page.wait_for_timeout(100)
    stand.server.send(Clicks((), 0.8, forget=True))
    page.wait_for_timeout(100)
    assert page.evaluate("[window.planned.length, window.stopped]") == [5, 5]


def test_the_browsers_latency_is_told_when_it_gives_one(stand: Stand) -> None:
    page = stand.page()
    sounding = stand.wait_for(
        page, lambda each: isinstance(each.message, Sounding) and each.message.output_latency_ms is not None
    ).message
    assert isinstance(sounding, Sounding)
    assert sounding.ready
    assert 0 < sounding.output_latency_ms < 500  # type: ignore[operator]


def test_no_latency_is_none_and_not_nought(stand: Stand) -> None:
    page = stand.page(init="Object.defineProperty(AudioContext.prototype, 'outputLatency', {get: () => 0});")
    page.wait_for_timeout(1500)
    told = stand.told_of(page, Sounding)
    assert any(each.ready for each in told)
    assert {each.output_latency_ms for each in told} == {None}


def test_without_output_timestamps_the_times_are_reckoned(stand: Stand) -> None:
    """From currentTime, which goes on in steps, and the delay that the browser gives."""
    page = stand.page(open_it=False)
    page.goto(stand.server.address())
    off = page.evaluate(
        """async () => {
          const {Sound} = await import("/sound.js");
          // Its clock goes in steps of 10 ms, started at 5,000 ms of the page's, and is 30 ms from the ear.
          const context = {
            state: "running", outputLatency: 0.03, baseLatency: 0.01, sampleRate: 48000, destination: {},
            get currentTime() { return Math.floor(this.now / 10 - 500) / 100; }, now: 0,
            addEventListener() {}, createGain: () => ({connect() {}, gain: {}}),
            createBuffer: () => ({copyToChannel() {}}),
          };
          const sound = new Sound(() => true, () => {}, () => context);
          sound.open();
          const off = [];
          for (let turn = 0; turn < 200; turn++) {
            context.now = 6000 + turn * 13.7;
            sound.listen(context.now);
            const truth = (context.now + 500 - 5000) / 1000 - 0.03;
            if (turn > 20) off.push(sound.moment(context.now + 500) - truth);
          }
          return [Math.min(...off), Math.max(...off)];
        }"""
    )
    assert -0.0015 < off[0] <= off[1] < 0.0005  # what the steps leave in 15 looks


def test_sound_that_has_to_be_allowed_has_a_large_button(stand: Stand) -> None:
    page = stand.page(init=SILENT)
    stand.server.send(moments()["name"])
    page.locator("#cue").wait_for()
    button = page.get_by_role("button", name="Allow sound")
    assert button.is_hidden()  # no click is wanted here
    stand.server.send(moments()["tempo"])
    button.wait_for()
    assert button.bounding_box()["width"] > 1000
    assert not stand.of_kind(page, Sounding).ready
    button.click()
    button.wait_for(state="hidden")
    assert stand.wait_for(page, lambda each: isinstance(each.message, Sounding) and each.message.ready)


def test_a_browser_without_sound_says_so_and_goes_on(stand: Stand) -> None:
    page = stand.page(open_it=False, init="delete window.AudioContext;")
    socket = Socket(page)
    page.goto(stand.server.address())
    page.locator("body[data-link=linked]").wait_for()
    assert socket.of_kind("hello")[0]["sounds"] is False
    socket.say({"kind": "clicks", "clicks": [[9e9, 1]], "volume": 1, "forget": False})
    socket.say({"kind": "notice", "words": "still here", "grave": False})
    page.locator("#notice-words", has_text="still here").wait_for()
    assert socket.of_kind("sounding")[-1] == {
        "kind": "sounding", "ready": False, "output_latency_ms": None, "late": 1,
    }  # fmt: skip
    assert stand.faults == []
