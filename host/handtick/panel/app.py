"""The panel's window. What the keys do stands in ``KEYS``; everything else it shows comes from the state."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from rich.text import Text
from textual import events
from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.widgets import Digits, Footer, Input, Static

from handtick.bench import Bench
from handtick.diagram import draw_text, lay_out
from handtick.errors import HandtickError
from handtick.live.driver import Driver
from handtick.live.state import LiveState
from handtick.quantities import rate_of, tick_of
from handtick.rules import board_form, read_rule
from handtick.wiring import Wiring
from handtick_wire.messages import read_rate, write_rate

REDRAW_S = 0.05
#: Rates that + and - go through, in ticks a second.
RATES = ("0.5", "1", "2", "5", "10", "20", "50", "100", "200", "500", "1000")

HELP = """\
space    one tick                 #   go to a tick
.        half a tick              =   stop rule: rest where it holds
enter    run, or come to rest     "   note on this tick
+ -      faster, slower           0   reset the machine
escape   leave what you type      ctrl+q  end the panel"""


class Panel(App[None]):
    """The window.

    Args:
        wiring: names the buses.
        open_bench: opens the bench with its log.
    """

    TITLE = "handtick"
    CSS = """
    Screen { background: $background; }
    #banner { display: none; background: $foreground; color: $background; padding: 0 1; height: auto; }
    #banner.shown { display: block; }
    #top { height: 4; padding: 0 1; }
    #number { width: auto; min-width: 22; height: 3; }
    #clock { width: 1fr; padding: 0 2; height: 4; }
    #buses { height: auto; max-height: 60%; padding: 0 1; border-top: solid $foreground 40%; }
    #picture { height: 1fr; padding: 0 1; border-top: solid $foreground 40%; }
    #message { height: 1; padding: 0 1; }
    #ask { display: none; height: 1; border: none; padding: 0 1; }
    #ask.shown { display: block; }
    #help { display: none; padding: 0 1; height: auto; border-top: solid $foreground 40%; }
    #help.shown { display: block; }
    .low #top { height: 2; }
    .low #number { display: none; }
    .low #picture { display: none; }
    """
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "step", "tick"),
        Binding("full_stop", "half", "half", key_display="."),
        Binding("enter", "run_or_halt", "run"),
        Binding("plus", "rate(1)", "up", key_display="+"),
        Binding("minus", "rate(-1)", "down", key_display="-"),
        Binding("number_sign", "ask('to')", "to", key_display="#"),
        Binding("equals_sign", "ask('rule')", "rule", key_display="="),
        Binding("quotation_mark", "ask('note')", "note", key_display='"'),
        Binding("0", "reset", "reset"),
        Binding("f1", "help", "help"),
        Binding("escape", "leave", "leave", show=False),
    ]

    def __init__(self, wiring: Wiring, open_bench: Callable[[], Bench]) -> None:
        super().__init__()
        self.state = LiveState(wiring)
        self.driver = Driver(self.state, open_bench)
        self.redraws = 0
        self._asking = ""
        self._rule = ""

    def compose(self) -> ComposeResult:
        """What is where."""
        yield Static(id="banner")
        with Horizontal(id="top"):
            yield Digits("0", id="number")
            yield Static(id="clock")
        with VerticalScroll(id="buses"):
            yield Static(id="rows")
        with Vertical(id="picture"):
            yield Static(id="ticks")
        yield Static(HELP, id="help", markup=False)
        yield Static(id="message", markup=False)
        yield Input(id="ask")
        yield Footer()

    def on_mount(self) -> None:
        """Begins to drive and to draw."""
        self.driver.start()
        self.set_interval(REDRAW_S, self._draw_if_changed)

    def on_unmount(self) -> None:
        """Lets go of the board."""
        self.driver.stop()

    def on_resize(self, event: events.Resize) -> None:
        """Leaves out what a small window has no room for."""
        self.screen.set_class(event.size.height < 18, "low")
        self.state.changed = True

    # Keys.

    def action_step(self) -> None:
        """One tick."""
        self.driver.send("step", 1)

    def action_half(self) -> None:
        """Half a tick."""
        self.driver.send("half")

    def action_run_or_halt(self) -> None:
        """Runs at the rate that is set, or comes to rest."""
        if self.state.running:
            self.driver.send("halt")
        else:
            self.driver.send("run", self.state.rate)

    def action_rate(self, way: int) -> None:
        """The next rate up or down."""
        now = read_rate(self.state.rate) or 0
        rates = [read_rate(rate) or 0 for rate in RATES]
        further = [rate for rate in (rates if way > 0 else reversed(rates)) if (rate - now) * way > 0]
        if further:
            self.state.rate = write_rate(further[0])
            self.driver.send("rate", self.state.rate)

    def action_reset(self) -> None:
        """Resets the machine."""
        self.driver.send("reset")

    def action_help(self) -> None:
        """Shows what the keys do, or hides it."""
        self.query_one("#help").toggle_class("shown")

    def action_ask(self, what: str) -> None:
        """Asks for a tick, a rule or a note."""
        self._asking = what
        box = self.query_one("#ask", Input)
        box.placeholder = {"to": "tick, or tick rate", "rule": "rule, or nothing for none", "note": "note"}[what]
        box.value = self._rule if what == "rule" else ""
        box.add_class("shown")
        box.focus()

    def action_leave(self) -> None:
        """Leaves what is being typed."""
        box = self.query_one("#ask", Input)
        box.remove_class("shown")
        self.set_focus(None)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """What was typed is complete."""
        event.stop()
        self.action_leave()
        try:
            getattr(self, f"_typed_{self._asking}")(event.value.strip())
        except HandtickError as error:
            self.state.say(str(error))

    def _typed_to(self, text: str) -> None:
        tick, _, rate = text.partition(" ")
        self.driver.send("to", tick_of(tick), rate_of(rate) if rate else "1000")

    def _typed_rule(self, text: str) -> None:
        if not text:
            self._rule = ""
            self.driver.send("stop_when", "none")
            self.state.say("no stop rule")
            return
        form = board_form(read_rule(text, self.state.wiring))
        if form is None:
            self.state.say("this rule can't be judged on the board; use: handtick run --stop-when")
            return
        self._rule = text
        self.driver.send("stop_when", form)
        self.state.say(f"rests where {text}")

    def _typed_note(self, text: str) -> None:
        if text:
            self.driver.send("note", text)

    # Drawing.

    def _draw_if_changed(self) -> None:
        # While the panel is taken down, its timer may come once more.
        if self.state.changed and self.query("#banner"):
            self.state.changed = False
            self.redraws += 1
            self._draw()

    def _draw(self) -> None:
        state = self.state
        banner = self.query_one("#banner", Static)
        banner.set_class(bool(state.lost), "shown")
        banner.update(Text(state.lost))
        self.query_one("#number", Digits).update(str(state.tick))
        rule = f"\nrests where {self._rule}" if self._rule else ""
        self.query_one("#clock", Static).update(
            Text(
                f"tick {state.tick} of reset {state.reset}, {state.clock_words}\n"
                f"{state.rate} Hz, edge count {state.edges}{rule}"
            )
        )
        self.query_one("#rows", Static).update(self._rows())
        self.query_one("#ticks", Static).update(Text(self._picture()))
        self.query_one("#message", Static).update(Text(state.message))

    def _rows(self) -> Text:
        rows = self.state.rows()
        width = max(len(bus.name) for bus, *_ in rows)
        value = max(bus.widest for bus, *_ in rows)
        text = Text()
        for bus, before, after, changed in rows:
            mark = ">" if changed else " "
            text.append(f"{bus.name:<{width}}  {before:>{value}} {mark} ")
            text.append(f"{after}\n", style="bold" if changed else "")
        return text

    def _picture(self) -> str:
        if self.screen.has_class("low"):
            return ""
        width = max(20, self.size.width - 2)
        # As many of the last ticks as one row of the diagram has room for.
        for count in range(width // 8, 0, -1):
            ticks = self.state.logged_ticks(count)
            if not ticks:
                return "no ticks yet"
            drawn = draw_text(lay_out(ticks, self.state.wiring), width)
            if "\n\n" not in drawn:
                return drawn
        return ""
