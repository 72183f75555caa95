"""The class in a real Chromium: teacher, three pupils and a projector, each in a browser context of their own."""

from __future__ import annotations

import csv
import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from handtick.events import Greeting
from tests.classroom.a_class import LESSON, AClass, wait_until

playwright = pytest.importorskip("playwright.sync_api", reason="needs playwright: pip install 'handtick[test]'")
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="needs chromium, such as Debian's package of that name")

ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"]


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """One Chromium for all tests of this file."""
    with playwright.sync_playwright() as started:
        chromium = started.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield chromium
        chromium.close()


@pytest.fixture
def a_class(tmp_path: Path) -> Iterator[AClass]:
    """A class with a lesson, whose crank comes back after a second."""
    with AClass(tmp_path, LESSON, gone_s=1.0) as a_class:
        yield a_class


class Cord:
    """What leads from a page to the room, and can be pulled.

    A browser that is told to be offline stalls what is open already, now and then: then nothing breaks off.
    """

    def __init__(self) -> None:
        self._plugged = True
        self._leads: list[Any] = []

    def plug_in(self, context: Any) -> None:
        """What pages of a context open goes through it."""
        context.route_web_socket("**/live", self._lead)

    def _lead(self, lead: Any) -> None:
        if self._plugged:
            lead.connect_to_server()
            self._leads.append(lead)
        else:
            lead.close()

    def pull(self) -> None:
        """Nothing gets through, and what was open breaks off."""
        self._plugged = False
        for lead in self._leads:
            lead.close()
        self._leads.clear()

    def put_back(self) -> None:
        """What is opened from now on gets through."""
        self._plugged = True


class Windows:
    """Opens pages, each in a context of its own, and remembers what went wrong in them."""

    def __init__(self, browser: Any, a_class: AClass) -> None:
        self.browser = browser
        self.a_class = a_class
        self.wrong: list[str] = []
        self.contexts: list[Any] = []

    def open(self, path: str = "", prepare: Callable[[Any], None] = lambda context: None, **how: Any) -> Any:
        """A new page; its context is prepared before anything is loaded."""
        context = self.browser.new_context(**how)
        context.set_default_timeout(15_000)
        self.contexts.append(context)
        prepare(context)
        page = context.new_page()
        page.on("pageerror", lambda error: self.wrong.append(str(error)))
        page.on("console", lambda said: self.wrong.append(said.text) if said.type == "error" else None)
        page.goto(self.a_class.address + path)
        return page

    def teacher(self, **how: Any) -> Any:
        """The teacher's page, by the teacher's link."""
        page = self.open(f"#teach={self.a_class.secret}", **how)
        page.wait_for_selector("#desk:not([hidden])")
        return page

    def pupil(self, name: str, **how: Any) -> Any:
        """A page that joins with the room word."""
        page = self.open(**how)
        page.fill("#word", self.a_class.word.upper().replace("-", " "))
        page.fill("#name", name)
        page.click("#join button")
        page.wait_for_selector("#crank")
        shows(page, "#question", "tick")
        return page

    def screen(self, **how: Any) -> Any:
        """A projector's page."""
        page = self.open("#watch", **how)
        page.fill("#word", self.a_class.word)
        page.click("#join button")
        page.wait_for_selector("body.watching #number")
        return page


@pytest.fixture
def windows(browser: Any, a_class: AClass) -> Iterator[Windows]:
    """Pages; in the end none of them has had an error."""
    windows = Windows(browser, a_class)
    yield windows
    for context in windows.contexts:
        context.close()
    assert windows.wrong == []


def shows(page: Any, selector: str, words: str) -> None:
    """Waits until a part of a page has these words in it."""
    playwright.expect(page.locator(selector)).to_contain_text(words, timeout=15_000)


def at_tick(page: Any, number: int) -> None:
    """Waits until a page shows a tick number."""
    playwright.expect(page.locator("#number")).to_have_text(str(number), timeout=15_000)


def test_a_lesson_from_its_first_minute_to_its_last(windows: Windows, a_class: AClass) -> None:
    """Join, go to a stop, call, see the answer, hand the crank over, run, and take it back."""
    teacher = windows.teacher()
    pupils = [windows.pupil(name) for name in ("Mira", "Jon", "Ada")]
    screen = windows.screen(viewport={"width": 1600, "height": 900})
    everybody = [teacher, *pupils, screen]
    assert "teach" not in teacher.url
    teacher.click("text=2: tick 3")
    for page in everybody:
        at_tick(page, 3)
        shows(page, "#say", "One instruction is done.")
    for page, value in zip(pupils, ("06", "06", "2A"), strict=True):
        page.fill("#call-value", value)
        page.click("#call button")
        shows(page, "#my-call", f"You called data {value} for tick 4.")
    shows(screen, "#called", "3 have called the next tick.")
    assert "2A" not in screen.inner_text("#answers")
    pupils[1].click("#wait")
    shows(teacher, "#row-of", "Waiting: Jon.")
    teacher.click("#next")
    for page in (teacher, pupils[0], screen):
        shows(page, "#holder", "Jon has the crank.")
    shows(pupils[1], "#holder", "You have the crank.")
    assert not pupils[0].is_visible("#step")
    pupils[1].click("#step")
    for page in everybody:
        at_tick(page, 4)
        shows(page, "#tallies", "Tick 4: data held 06; 2 of 3 called it.")
    pupils[1].fill("#rate", "20")
    pupils[1].click("#run button")
    shows(screen, "#clock", "running")
    teacher.click("#take")
    shows(screen, "#clock", "at rest")
    shows(pupils[1], "#holder", "The teacher has the crank.")
    assert not pupils[1].is_visible("#step")
    at_tick(teacher, a_class.edges)


def test_the_crank_changes_hands_with_the_keyboard_alone(windows: Windows, a_class: AClass) -> None:
    """Join, ask, tick with the space bar, go to a tick, and hand it back, without a mouse."""
    teacher = windows.teacher()
    page = windows.open()
    # The first thing to type has the focus already.
    page.keyboard.type(a_class.word)
    page.keyboard.press("Tab")
    page.keyboard.type("Mira")
    page.keyboard.press("Enter")
    page.wait_for_selector("#crank")
    reach(page, "#wait")
    page.keyboard.press("Enter")
    shows(teacher, "#row-of", "Mira")
    reach(teacher, "#next")
    teacher.keyboard.press("Enter")
    shows(page, "#holder", "You have the crank.")
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("Space")
    at_tick(page, 1)
    reach(page, "#to-tick")
    page.keyboard.type("12")
    page.keyboard.press("Enter")
    at_tick(page, 12)
    reach(page, "#return")
    page.keyboard.press("Enter")
    shows(page, "#holder", "The teacher has the crank.")
    assert a_class.edges == 12


def reach(page: Any, selector: str) -> None:
    """Presses Tab until something has the focus, and sees that it can be seen to have it."""
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate(f"document.activeElement === document.querySelector('{selector}')"):
            outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
            assert outline == "solid"
            return
    raise AssertionError(f"{selector} is not reached with the Tab key")


def test_a_page_that_drops_comes_back_by_itself(windows: Windows) -> None:
    """To its name and seat, with the present tick, and the page says what it is doing meanwhile."""
    cord = Cord()
    teacher, mira = windows.teacher(), windows.pupil("Mira", prepare=cord.plug_in)
    at_tick(mira, 0)
    cord.pull()
    shows(mira, "#link", "connection lost")
    teacher.click("#step")
    at_tick(teacher, 1)
    at_tick(mira, 0)
    cord.put_back()
    shows(mira, "#link", "connected")
    at_tick(mira, 1)
    assert mira.inner_text("#who") == "Mira"
    mira.reload()
    at_tick(mira, 1)
    assert mira.inner_text("#who") == "Mira"


def test_a_network_that_is_gone_without_a_word_is_noticed(windows: Windows) -> None:
    """After twelve seconds in which nothing came the page says so, and comes back by itself."""
    mira = windows.pupil("Mira", prepare=lambda context: context.clock.install())
    shows(mira, "#link", "connected")
    mira.evaluate(
        """globalThis.words = [];
        const link = document.querySelector("#link");
        new MutationObserver(() => words.push(link.textContent)).observe(link, {childList: true});"""
    )
    mira.clock.fast_forward(12_000)
    wait_until(lambda: mira.evaluate("words.length") == 2)
    assert mira.evaluate("words") == ["connection lost; coming back by itself", "connected"]
    assert mira.inner_text("#who") == "Mira"


def test_a_board_that_restarts_in_a_run_is_shown_anew(windows: Windows, a_class: AClass) -> None:
    """The ticks of its earlier start are no longer shown, and nothing is said of them."""
    teacher, mira = windows.teacher(), windows.pupil("Mira")
    teacher.click("#step")
    at_tick(mira, 1)
    shows(teacher, "#clock", "at rest")
    # So slow that the board itself makes no tick in a minute.
    teacher.fill("#rate", "0.01")
    teacher.click("#run button")
    shows(mira, "#clock", "running")
    a_class.feed.take(Greeting(9, 0, 0, 0, {"mode": "rest"}))
    at_tick(mira, 0)
    shows(mira, "#clock", "at rest")


def test_looking_back_is_everybodys_own(windows: Windows) -> None:
    """One looks at earlier ticks while the clock goes on for the others; a note goes to the tick that is looked at."""
    teacher, mira = windows.teacher(), windows.pupil("Mira")
    teacher.fill("#to-tick", "100")
    teacher.click("#to button")
    at_tick(mira, 100)
    mira.click("#earlier")
    shows(mira, "#looking", "the clock is at tick 100")
    looked_at = re.search(r"looking at tick (\d+)", mira.inner_text("#looking"))
    assert looked_at is not None
    at_tick(teacher, 100)
    shows(teacher, "#clock", "at rest")
    teacher.click("#step")
    at_tick(mira, 101)
    shows(mira, "#looking", f"looking at tick {looked_at[1]}")
    mira.fill("#note-text", "here")
    mira.click("#note button")
    shows(mira, "#alert", f"noted at tick {looked_at[1]}")
    assert teacher.inner_text("#looking") == ""
    mira.click("#present")
    playwright.expect(mira.locator("#looking")).to_have_text("")


def test_a_screen_reader_hears_each_tick(windows: Windows) -> None:
    """What changed, in words, in a live region that changes nothing else."""
    teacher, mira = windows.teacher(), windows.pupil("Mira")
    teacher.click("#step")
    shows(mira, "#spoken", "tick 1: data 00, taker operand, fetch 0")
    assert mira.get_attribute("#spoken", "aria-live") == "polite"
    teacher.fill("#rate", "20")
    teacher.click("#run button")
    shows(mira, "#spoken", "running")
    teacher.click("#halt")
    shows(mira, "#spoken", "at rest")


def test_a_projector_is_read_from_the_back(windows: Windows) -> None:
    """The tick's figures are at least a twentieth of the screen high, and nothing runs off its side."""
    screen = windows.screen(viewport={"width": 1600, "height": 900})
    shows(screen, "#who", "with the room word")
    at_tick(screen, 0)
    size = screen.evaluate("parseFloat(getComputedStyle(document.querySelector('#number')).fontSize)")
    # A figure is about seven tenths of its font's size.
    assert 0.7 * size >= 900 / 20
    assert screen.evaluate("document.documentElement.scrollWidth") <= 1600
    assert not screen.is_visible("#crank")


@pytest.mark.parametrize(("width", "height"), [(1600, 900), (1280, 720), (1024, 768)])
def test_a_projector_has_the_answer_without_scrolling(windows: Windows, width: int, height: int) -> None:
    """The lesson's question, the ticks and what was called: nobody scrolls a projector."""
    teacher, mira = windows.teacher(), windows.pupil("Mira")
    screen = windows.screen(viewport={"width": width, "height": height})
    teacher.click("text=2: tick 3")
    at_tick(screen, 3)
    at_tick(mira, 3)
    mira.fill("#call-value", "06")
    mira.click("#call button")
    shows(screen, "#called", "1 has called the next tick.")
    teacher.click("#step")
    shows(screen, "#tallies", "Tick 4: data held 06; 1 of 1 called it.")
    for part in ("#say", "#sheet svg", "#tallies li"):
        box = screen.locator(part).bounding_box()
        assert box["y"] + box["height"] <= height
        assert box["x"] + box["width"] <= width


def test_a_wrong_word_is_told_where_it_was_typed(windows: Windows, a_class: AClass) -> None:
    """Between the button and what comes below it; the right word takes it away."""
    page = windows.open()
    page.fill("#word", "0000-0000")
    page.fill("#name", "Mira")
    page.click("#join button")
    shows(page, "#door #why", "that is not the word of this room")
    page.fill("#word", a_class.word)
    page.click("#join button")
    shows(page, "#who", "Mira")
    playwright.expect(page.locator("#why")).to_have_text("")


def test_what_the_teacher_is_about_to_allow_stays_while_the_clock_runs(windows: Windows) -> None:
    """News comes twenty times a second, and undoes nothing that was put in and not sent yet."""
    teacher = windows.teacher()
    teacher.fill("#rate", "50")
    teacher.click("#run button")
    shows(teacher, "#clock", "running")
    teacher.fill("#allow-rate", "5")
    teacher.check("#allow-reset")
    begun = int(teacher.inner_text("#number"))
    playwright.expect(teacher.locator("#number")).not_to_have_text(str(begun), timeout=15_000)
    teacher.click("#allow button")
    teacher.click("#halt")
    shows(teacher, "#clock", "at rest")
    teacher.reload()
    playwright.expect(teacher.locator("#allow-rate")).to_have_value("5")
    playwright.expect(teacher.locator("#allow-reset")).to_be_checked()
    teacher.click("text=3: tick 8")
    playwright.expect(teacher.locator("#ask-bus")).to_have_value("fetch")


def test_a_note_that_can_not_be_sent_is_still_there(windows: Windows) -> None:
    """Without a connection nothing is asked for, and what was typed is not lost."""
    cord = Cord()
    mira = windows.pupil("Mira", prepare=cord.plug_in)
    at_tick(mira, 0)
    mira.fill("#note-text", "the lamp is dim")
    cord.pull()
    shows(mira, "#link", "connection lost")
    mira.click("#note button")
    shows(mira, "#alert", "nothing was asked for")
    assert mira.input_value("#note-text") == "the lamp is dim"


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_telephone_has_room_for_everything(windows: Windows, scheme: str) -> None:
    """Nothing runs off the side, and what is pressed is large enough for a finger."""
    mira = windows.pupil("Mira", viewport={"width": 360, "height": 740}, color_scheme=scheme)
    at_tick(mira, 0)
    assert mira.evaluate("document.documentElement.scrollWidth") <= 360
    for button in mira.locator("button:visible").all():
        assert button.bounding_box()["height"] >= 24


@pytest.mark.parametrize("who", ["outside", "pupil", "holder", "teacher", "screen"])
def test_nothing_stands_in_the_way_of_anybody(windows: Windows, who: str) -> None:
    """No finding of axe (WCAG 2.2 A and AA, and best practice), for any role, on either ground."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    teacher = windows.teacher()
    pages = {"teacher": teacher}
    if who == "outside":
        pages[who] = windows.open()
    elif who == "screen":
        pages[who] = windows.screen()
    elif who in ("pupil", "holder"):
        pages[who] = windows.pupil("Mira")
    teacher.click("text=2: tick 3")
    at_tick(teacher, 3)
    if who == "holder":
        teacher.click("text=Give the crank")
        shows(pages[who], "#holder", "You have the crank.")
    if who in ("pupil", "holder"):
        at_tick(pages[who], 3)
        pages[who].fill("#call-value", "06")
        pages[who].click("#call button")
        shows(teacher, "#called", "1 has called")
        teacher.click("#step")
        shows(pages[who], "#tallies", "1 of 1 called it")
    for scheme in ("light", "dark"):
        pages[who].emulate_media(color_scheme=scheme)
        found = axe.Axe().run(pages[who])
        assert found.violations_count == 0, found.generate_report()


def test_a_slow_computer_keeps_up(windows: Windows) -> None:
    """At a quarter of the processor's speed a page follows five hundred ticks a second and answers a click."""
    teacher, mira = windows.teacher(), windows.pupil("Mira")
    windows.contexts[-1].new_cdp_session(mira).send("Emulation.setCPUThrottlingRate", {"rate": 4})
    teacher.fill("#rate", "500")
    teacher.click("#run button")
    playwright.expect(mira.locator("#number")).to_have_text(re.compile(r"[5-9]\d\d|\d{4,}"), timeout=15_000)
    mira.click("#wait")
    shows(teacher, "#row-of", "Mira")
    teacher.click("#halt")
    shows(teacher, "#clock", "at rest")
    at_tick(mira, int(teacher.inner_text("#number")))


def test_a_name_is_text_and_nothing_else(windows: Windows) -> None:
    """Markup in a name, a note or a call is shown as it was typed."""
    teacher, mira = windows.teacher(), windows.pupil("<img src=x onerror=a()>"[:24])
    mira.click("#wait")
    shows(teacher, "#row-of", "<img src=x onerror=a()>")
    assert teacher.locator("#people img, #row-of img").count() == 0


def test_the_teacher_keeps_the_calls_as_a_file(windows: Windows, tmp_path: Path) -> None:
    """A table of who called what, and what was held."""
    teacher, mira = windows.teacher(), windows.pupil("Mira")
    mira.fill("#call-value", "2A")
    mira.click("#call button")
    shows(teacher, "#called", "1 has called")
    teacher.click("#step")
    shows(teacher, "#tallies", "0 of 1 called it")
    with teacher.expect_download() as download:
        teacher.click("#export")
    kept = tmp_path / "calls.csv"
    download.value.save_as(kept)
    rows = list(csv.DictReader(kept.read_text(encoding="utf-8").splitlines()))
    assert [(row["who"], row["called"], row["held"]) for row in rows] == [("Mira", "42", "0")]


def test_a_page_from_a_log_says_that_it_is_not_live(browser: Any, tmp_path: Path) -> None:
    """In words that cannot be missed."""
    with AClass(tmp_path) as first:
        teacher = first.teacher()
        teacher.ask(do="to", tick=5)
        teacher.hear(lambda: teacher.tick() == 5)
    again = tmp_path / "again"
    again.mkdir()
    with AClass(again, replay=first.log) as second:
        windows = Windows(browser, second)
        page = windows.teacher()
        shows(page, "#not-live", "this is not live")
        page.click("#step")
        at_tick(page, 1)
        wait_until(lambda: second.edges == 0)
        windows.contexts[0].close()
        assert windows.wrong == []
