"""Stop rules: read, refused, and judged to exactly the right tick, whoever judges them."""

from __future__ import annotations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from handtick.bench import Bench
from handtick.errors import NotHeld, Refused, StoppedEarly, UsageError
from handtick.events import Tick
from handtick.links.virtual import VirtualLink
from handtick.rules import Judge, Rule, board_form, read_rule
from handtick.stopping import ON_BOARD, ON_HOST, Stop, _on_host, run_until
from handtick.virtual.board import VirtualBoard
from handtick.wiring import Bus, Wiring
from handtick_board.stop_rule import StopRule
from tests.board.still_machine import StillMachine

WIRING = Wiring(
    (
        Bus("data", (0, 1, 2, 3), fields={"high": (2, 2)}),
        Bus("mixed", (7, 5, 9)),
        Bus("low-active", (10, 11, 12), inverted=True),
        Bus("line", (15,), "decimal"),
        Bus("nline", (14,), "decimal", inverted=True),
    )
)
TICKS = 80
SAMPLES = st.integers(0, 0xFFFF)


class Scrambled(StillMachine):
    """A machine whose lines look random and are the same every time."""

    def __init__(self) -> None:
        self.count = 0

    def set_clock(self, level: bool) -> None:
        """Counts rising edges."""
        self.count += level

    def probes(self) -> int:
        """The count, stirred."""
        value = (self.count + 1) * 0x9E37_79B1
        return (value >> 13 ^ value >> 3) & 0xFFFF


def bench() -> Bench:
    """A bench on such a machine."""
    made = Bench(VirtualLink(VirtualBoard(Scrambled())), wiring=WIRING)
    made.open()
    return made


def all_ticks() -> list[Tick]:
    """The ticks a run without a rule makes."""
    with bench() as each:
        return each.step(TICKS)


LOG = all_ticks()


def rules() -> st.SearchStrategy[str]:
    """Rules of all kinds, as text; with early ones apart from the rest."""
    lines = st.sampled_from(["data", "data.high", "data[1]", "mixed", "mixed[2]", '"low-active"', "line", "nline"])

    def of(value: st.SearchStrategy[str], moves: bool) -> st.SearchStrategy[str]:
        sign = st.sampled_from(["==", "!=", "<", "<=", ">", ">="])
        number = st.integers(0, 16).map(str) | st.integers(0, 15).map(hex) | st.integers(0, 7).map(bin)
        singles = [
            st.builds("{} {} {}".format, value, sign, number),
            st.builds("{} {} {}".format, number, sign, value),
            st.builds("{} {} {}".format, value, sign, value),
            st.builds("{} & {} {} {}".format, value, number, sign, number),
            st.builds("{} & {}".format, value, number),
            st.builds("tick {} {}".format, sign, st.integers(0, TICKS)),
        ]
        if moves:
            singles += [
                st.builds("changes({})".format, lines),
                st.builds("rises({})".format, lines),
                st.builds("falls({})".format, lines),
                st.sampled_from(["line", "nline", "data[3]"]),
            ]
        return st.recursive(
            st.one_of(singles),
            lambda inner: st.one_of(
                st.builds("({} and {})".format, inner, inner),
                st.builds("({} or {})".format, inner, inner),
                st.builds("not {}".format, inner),
            ),
            max_leaves=5,
        )

    early = of(lines.map("early({})".format), moves=False)
    late = of(lines, moves=True)
    held = st.just("") | st.integers(1, 4).map(" for {} ticks".format)
    return st.builds("{}{}".format, early | late, held)


def readable(text: str) -> Rule:
    """The rule; a text that is refused is not one of the examples."""
    try:
        return read_rule(text, WIRING)
    except UsageError:
        assume(False)
        raise


def expected(rule: Rule) -> int | None:
    """Where the clock should rest, judged over the log of a run without a rule; None where it never holds."""
    judge = Judge(rule)
    for tick in LOG:
        sample = tick.early if rule.early else tick.late
        if judge.tick(tick.early, sample, tick.tick):
            return tick.tick - 1 if rule.early else tick.tick
    return None


def outcome(rule: Rule, on_host: bool, rate: str | None) -> Stop | None:
    """Where the clock does rest; None where the rule did not hold."""
    with bench() as each:
        try:
            stop = _on_host(each, rule, TICKS) if on_host else run_until(each, rule, TICKS, rate)
        except NotHeld:
            assert each.status().fields["tick"] == TICKS
            return None
        now = each.status().fields
        assert now["tick"] == now["edges"] == stop.tick
        assert now["mode"] == "rest"
        return stop


@settings(max_examples=150)
@given(text=rules(), rate=st.sampled_from([None, "1000", "50"]))
def test_clock_rests_on_exactly_the_first_tick_that_matches(text: str, rate: str | None) -> None:
    """Judged on the board or here, stepped or run, the clock rests where the log of a whole run says it should."""
    rule = readable(text)
    wanted = expected(rule)
    on_board = outcome(rule, on_host=False, rate=rate)
    on_host = outcome(rule, on_host=True, rate=None)
    assert (on_board.tick if on_board else None) == wanted
    assert (on_host.tick if on_host else None) == wanted
    if on_board is not None:
        assert on_board.judged == (ON_HOST if board_form(rule) is None else ON_BOARD)


@settings(max_examples=300)
@given(text=rules())
def test_rule_refused_as_impossible_never_holds(text: str) -> None:
    """What is refused because it can never hold holds at no tick of the run."""
    try:
        read_rule(text, WIRING)
    except UsageError as error:
        if "can never hold" not in str(error):
            return
        import handtick.rules.read as reading

        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(reading, "can_hold", lambda condition: "")
            assert expected(read_rule(text, WIRING)) is None


@settings(max_examples=200)
@given(
    text=rules(), samples=st.lists(st.tuples(st.integers(0, 0xFFFF), st.integers(0, 0xFFFF)), min_size=1, max_size=12)
)
def test_board_and_host_judge_every_tick_alike(text: str, samples: list[tuple[int, int]]) -> None:
    """The board's form of a rule and the rule itself agree on any samples."""
    rule = readable(text)
    form = board_form(rule)
    assume(form is not None)
    assert form is not None
    board, judge = StopRule(form), Judge(rule)
    for number, (early, late) in enumerate(samples, 1):
        if rule.early:
            late = early
        assert board.holds(early, late, number) == judge.tick(early, late, number)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "can't be read at its end"),
        ("data ==", "can't be read"),
        ("data = 3", "can't be read at '= 3'"),
        ("data == 3 and", "can't be read"),
        ("(data == 3", "can't be read"),
        ("data == 3)", "can't be read at ')'"),
        ("frob == 1", "there is no bus or line frob; there are data, mixed, low-active, line, nline"),
        ("data.low == 1", "data has no field low; its fields: high"),
        ("data[4]", "data has bits 0 to 3, no bit 4"),
        ("data", "data has 4 bits: say what it is to be"),
        ("data == 16", "can never hold: data goes from 0 to 15 (0xF), and 16 (0x10) is compared with it"),
        ("data == 16 and line", "can never hold"),
        ("data > 15", "can never hold"),
        ("data & 3 == 4", "can never hold"),
        ("tick < 0", "can never hold: tick"),
        ("1 == 1", "two numbers are compared"),
        ("early(data) == 1 and line", "don't go together"),
        ("early(data) == 1 and changes(data)", "don't go together"),
        ("changes(early(data))", "leave early() out"),
        ("line for 0 ticks", "not for 0"),
        ("line for 2000000 ticks", "1 to 1000000"),
        ("data == 18446744073709551616", "too large"),
        ("__import__('os')", "can't be read"),
        ("line " + "and line " * 100, "letters long"),
        ("not " * 120 + "line", ""),
    ],
)
def test_rules_that_cannot_be_are_refused_in_one_line(text: str, says: str) -> None:
    """What can't be read, names nothing, or can never hold is refused with the reason."""
    if not says:
        assert read_rule(text, WIRING).ticks == 1, "a long rule is still a rule"
        return
    with pytest.raises(UsageError) as caught:
        read_rule(text, WIRING)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    "form",
    [
        "",
        "N",
        "N0,E1=1",
        "N1",
        "N1,&",
        "N1,E1=1,E1=1",
        "N1,E1",
        "N1,X1",
        "N1,T?5",
        "N1,S0.F",
        "1,E1=1",
        "N1," + "!," * 40,
    ],
)
def test_board_refuses_what_is_no_rule(form: str) -> None:
    """A rule the board can't read is refused, and the one before stays."""
    with bench() as each:
        each.ask("stop_when", "N1,T=3")
        with pytest.raises(Refused, match="can't read"):
            each.ask("stop_when", form or "N")
        with pytest.raises(StoppedEarly):
            each.step(10)
        assert each.tick == 3


def test_rule_of_one_program_is_not_the_next_ones() -> None:
    """A program that goes away takes its rule with it."""
    board = VirtualBoard(Scrambled())
    first = Bench(VirtualLink(board))
    first.open()
    first.ask("stop_when", "N1,T=2")
    first.close()
    with Bench(VirtualLink(board)) as second:
        assert len(second.step(5)) == 5


def test_ticks_under_reset_are_not_judged() -> None:
    """Reset makes its ticks whatever the rule says."""
    with bench() as each:
        each.ask("stop_when", "N1,T>0")
        each.reset()
        assert each.tick == 0
        assert each.edges == 2
