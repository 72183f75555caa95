"""Bounce: three rules against models that go through every microsecond, recordings, and what is recommended."""

from __future__ import annotations

import itertools
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.bench import Bench
from handtick.bounce import Train, advise, judge, presses_of, read_train, write_train
from handtick.bounce.outcome import Outcome, outcome
from handtick.bounce.published import Pattern, make_train, patterns
from handtick.bounce.record import record_presses
from handtick.bounce.rules import OURS, PLAIN, STABLE
from handtick.bounce.svg import presses_svg
from handtick.errors import StoppedEarly, UsageError
from handtick.events import Event
from handtick.links.virtual import VirtualLink
from handtick.settings_file import change_settings, changed
from handtick.virtual.board import VirtualBoard
from handtick.virtual.hand import Hand
from tests.board.still_machine import StillMachine
from tests.board.trains import LONG_HOLD, SHORT_PRESS, SPIKE, TWO_PRESSES, trains

#: Name, train, end, and the times of ticks by a lockout of 20 ms, by 20 ms of stability, and by 100 us and 20 ms.
CASES = [
    ("a short press whose edges both bounce", SHORT_PRESS, 400_000, [1000, 251_900], [21_700], [1100]),
    ("a five-second hold with a dirty release", LONG_HOLD, 5_200_000, [500, 5_003_000], [20_500], [600]),
    ("a spike", SPIKE, 100_000, [7000], [], []),
    ("two quick presses", TWO_PRESSES, 300_000, [1000, 41_300, 131_000], [21_600, 151_500], [1100, 131_100]),
]


def levels_of(train: Train) -> list[bool]:
    """The contact's level in every microsecond of a train."""
    ends = [at_us for at_us, _ in train.edges[1:]] + [train.end_us]
    levels: list[bool] = []
    for (at_us, closed), end_us in zip(train.edges, ends, strict=True):
        levels += [closed] * (end_us - at_us)
    return levels


def lockout_by_hand(train: Train, lockout_us: int) -> list[int]:
    """A count that runs down each microsecond; a closing while it is zero ticks and sets it again."""
    ticks, left, before = [], 0, True
    for at_us, level in enumerate(levels_of(train), train.edges[0][0]):
        if level and not before and left == 0:
            ticks.append(at_us)
            left = lockout_us
        before = level
        left = max(0, left - 1)
    return ticks


def stable_by_hand(train: Train, stable_us: int) -> list[int]:
    """A count of microseconds in which the contact was other than accepted."""
    ticks, other = [], 0
    accepted = train.edges[0][1]
    for at_us, level in enumerate(levels_of(train), train.edges[0][0]):
        other = other + 1 if level != accepted else 0
        if other == stable_us:
            accepted, other = level, 0
            if level:
                ticks.append(at_us + 1)
    return ticks


def ours_by_hand(train: Train, press_us: int, rearm_us: int) -> list[int]:
    """Two counts, of closed and of open microseconds in a row."""
    ticks, closed_us, open_us = [], 0, 0
    armed = not train.edges[0][1]
    for at_us, level in enumerate(levels_of(train), train.edges[0][0]):
        closed_us, open_us = (closed_us + 1, 0) if level else (0, open_us + 1)
        if open_us == rearm_us:
            armed = True
        if closed_us == press_us and armed:
            ticks.append(at_us + 1)
            armed = False
    return ticks


def in_tens(train: Train) -> Train:
    """The same with a microsecond for each ten, which must come out even."""
    assert all(at_us % 10 == 0 for at_us, _ in train.edges)
    return Train([(at_us // 10, closed) for at_us, closed in train.edges], train.end_us // 10)


@pytest.mark.parametrize(
    ("name", "levels", "end_us", "plain", "stable", "ours"), CASES, ids=[case[0] for case in CASES]
)
def test_rules_do_in_the_known_cases_what_they_are_known_for(
    name: str, levels: list[tuple[int, int]], end_us: int, plain: list[int], stable: list[int], ours: list[int]
) -> None:
    """A lockout ticks again at release; waiting is right and late; ours is right and early."""
    assert judge(Train(levels, end_us)) == {PLAIN: plain, STABLE: stable, OURS: ours}


@pytest.mark.parametrize(("name", "levels", "end_us"), [case[:3] for case in CASES if case[0] != "a spike"])
def test_known_cases_equal_the_models_by_hand(name: str, levels: list[tuple[int, int]], end_us: int) -> None:
    """Each rule equals a model that goes through the train a step at a time (ten microseconds, which all is a multiple
    of)."""
    judged = judge(Train(levels, end_us))
    slow = in_tens(Train(levels, end_us))
    assert [at_us // 10 for at_us in judged[PLAIN]] == lockout_by_hand(slow, 2000)
    assert [at_us // 10 for at_us in judged[STABLE]] == stable_by_hand(slow, 2000)
    assert [at_us // 10 for at_us in judged[OURS]] == ours_by_hand(slow, 10, 2000)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("pattern", patterns(), ids=lambda pattern: pattern.name)
def test_published_trains_equal_the_models_by_hand(pattern: Pattern, seed: int) -> None:
    """Trains made from what has been published, each judged by each rule, microsecond by microsecond."""
    train = make_train(pattern, 1, seed)
    assert judge(train) == {
        PLAIN: lockout_by_hand(train, 20_000),
        STABLE: stable_by_hand(train, 20_000),
        OURS: ours_by_hand(train, 100, 20_000),
    }


@given(levels=trains(most=12), times=st.tuples(st.integers(1, 400), st.integers(1, 30_000), st.integers(1, 30_000)))
def test_any_train_and_any_times_equal_the_models_by_hand(
    levels: list[tuple[int, int]], times: tuple[int, int, int]
) -> None:
    """Whatever the contact does, and however the rules are set."""
    press_us, rearm_us, lockout_us = times
    train = Train(levels, levels[-1][0] + 25_000)
    assert judge(train, press_us, rearm_us, lockout_us) == {
        PLAIN: lockout_by_hand(train, lockout_us),
        STABLE: stable_by_hand(train, lockout_us),
        OURS: ours_by_hand(train, press_us, rearm_us),
    }


@pytest.mark.parametrize("pattern", patterns(), ids=lambda pattern: pattern.name)
def test_suited_times_make_one_tick_a_press(pattern: Pattern) -> None:
    """With the times recommended for a recording, our rule makes one tick of each press in it, and none of a spike."""
    train = make_train(pattern, 20, seed=5)
    presses = presses_of(train)
    advice = advise(presses)
    assert len(judge(train, advice.press_us, advice.rearm_us)[OURS]) == (20 if pattern.is_press else 0)
    assert len([press for press in presses if not press.is_spike]) == (20 if pattern.is_press else 0)


def test_every_pattern_says_where_it_is_from() -> None:
    """Each row has a source, and figures that go together."""
    assert len(patterns()) >= 6
    for pattern in patterns():
        assert len(pattern.source) > 15
        assert pattern.closings[0] <= pattern.closings[1]
        assert pattern.closed_us[0] <= pattern.closed_us[1] <= pattern.bounce_most_us


def test_press_with_a_dirty_release_is_measured_by_hand() -> None:
    """The five-second hold: 0 us of bounce at press, 12,120 us at release, the longest hole 5600 us; twice that,
    rounded up, is 12 ms."""
    (press,) = presses_of(Train(LONG_HOLD, 5_200_000))
    assert (press.press_bounce_us, press.release_bounce_us, press.longest_gap_us) == (0, 12_120, 5600)
    advice = advise([press])
    assert (advice.press_us, advice.rearm_us) == (100, 12_000)
    assert any("1 presses say little" in warning for warning in advice.warnings)


def test_long_spike_asks_for_a_longer_press_time() -> None:
    """A spike of 240 us takes a press time of 480 us, rounded up to 500."""
    advice = advise(presses_of(Train([(0, 0), (5000, 1), (5240, 0)])))
    assert (advice.press_us, advice.longest_spike_us) == (500, 240)


def test_two_presses_closer_than_the_rearm_time_are_warned_of() -> None:
    """A hole of 45 ms in one press asks for 90 ms; another press 70 ms after it would be missed."""
    levels = [(0, 0), (1000, 1), (50_000, 0), (95_000, 1), (150_000, 0), (220_000, 1), (300_000, 0)]
    advice = advise(presses_of(Train(levels)))
    assert advice.rearm_us == 90_000
    assert any("70000 us apart" in warning for warning in advice.warnings)


@given(levels=trains(most=30))
def test_missed_and_extra_add_up(levels: list[tuple[int, int]]) -> None:
    """Ticks are the presses that were not missed, and those too many, by each rule."""
    train = Train(levels)
    presses = presses_of(train)
    real = sum(not press.is_spike for press in presses)
    for ticks in judge(train).values():
        # A contact that was found closed is nobody's press.
        if presses and (not ticks or ticks[0] >= presses[0].start_us):
            did = outcome(presses, ticks)
            assert did.ticks == real - did.missed + did.extra
            assert (did.latest_us is None) == (did.missed == real)


def test_outcomes_of_the_known_cases_by_hand() -> None:
    """A lockout ticks again at the dirty release; waiting for 20 ms misses a press of 15 ms; ours does neither."""
    press = [(0, 0), (1000, 1), (16_000, 0), (150_000, 1), (400_000, 0), (403_000, 1), (404_000, 0)]
    train = Train(press)
    presses = presses_of(train)
    assert {rule: outcome(presses, ticks) for rule, ticks in judge(train).items()} == {
        PLAIN: Outcome(3, 0, 1, 0),
        STABLE: Outcome(1, 1, 0, 20_000),
        OURS: Outcome(2, 0, 0, 100),
    }


@given(levels=trains(most=30))
def test_presses_hold_all_closures_of_a_train_in_order(levels: list[tuple[int, int]]) -> None:
    """Nothing is lost but a closure that was there at the start, and presses are as far apart as they must be."""
    train = Train(levels)
    closures = [span for span in train.spans if span.closed]
    if closures and train.edges[0][1]:
        closures = closures[1:]
    presses = presses_of(train)
    assert [span for press in presses for span in press.spans if span.closed] == closures
    assert all(after.start_us - before.end_us >= 60_000 for before, after in itertools.pairwise(presses))


@given(levels=trains(most=30))
def test_recording_reads_back_from_its_file(
    tmp_path_factory: pytest.TempPathFactory, levels: list[tuple[int, int]]
) -> None:
    """A file holds the edges and until when was watched."""
    path = tmp_path_factory.mktemp("train") / "train.csv"
    train = Train(levels, levels[-1][0] + 12_345)
    write_train(path, train)
    read = read_train(path)
    assert (read.edges, read.end_us) == (train.edges, train.end_us)


@pytest.mark.parametrize(
    ("text", "edges"),
    [
        ("0,0\n1000,1\n1180,0\n", ((0, False), (1000, True), (1180, False))),
        ("time_ms,closed\n0,0\n1.5,1\n", ((0, False), (1500, True))),
        ("time_s,level\n0,0\n0.000003,1\n", ((0, False), (3, True))),
    ],
)
def test_files_of_other_programs_are_read(tmp_path: Path, text: str, edges: tuple[tuple[int, bool], ...]) -> None:
    """Times in microseconds, or in the unit of the heading."""
    path = tmp_path / "train.csv"
    path.write_text(text, encoding="utf-8")
    assert read_train(path).edges == edges


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "there is no level in it"),
        ("0,0\nabc,1\n", r"line 2: 'abc,1' is no time and level"),
        ("0,0\n5,2\n", "line 2"),
        ("0,0\n5\n", "line 2"),
        ("0,0\n-5,1\n", "line 2"),
        ("0,0\nNaN,1\n", "line 2"),
        ("time_s,closed\n0,0\n1e999999999,1\n", "line 3: '1e999999999,1' is no time and level"),
        ("10,0\n5,1\n", "5 us comes after 10 us"),
    ],
)
def test_file_that_is_no_recording_is_refused_with_its_line(tmp_path: Path, text: str, said: str) -> None:
    """Bad input gets one line that says which."""
    path = tmp_path / "train.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(UsageError, match=said):
        read_train(path)


def test_file_that_is_not_there_is_told_in_words(tmp_path: Path) -> None:
    """Without the system's number for it."""
    path = tmp_path / "train.csv"
    with pytest.raises(UsageError) as refused:
        read_train(path)
    assert str(refused.value) == f"{path}: no such file or directory"


def a_bench(pattern: Pattern) -> tuple[Bench, VirtualBoard]:
    """A bench whose button is pressed as soon as somebody watches it."""
    board = VirtualBoard(StillMachine())
    board.hand = Hand(board, pattern, seed=3).press
    return Bench(VirtualLink(board)), board


@pytest.mark.parametrize("name", ["tactile", "worn keyboard"])
def test_board_records_every_edge_and_makes_no_tick(name: str) -> None:
    """What is recorded over the wire is what the contact did, to the microsecond; the clock line never moved."""
    pattern = next(each for each in patterns() if each.name == name)
    bench, board = a_bench(pattern)
    with bench:
        counts: list[int] = []
        train = record_presses(bench, 5, counts.append)
        made = make_train(pattern, 40, seed=3)
        assert train.edges == made.edges[: len(train.edges)]
        assert counts == [1, 2, 3, 4, 5]
        assert len(presses_of(train)) == 5
        assert board.rising_edges_us == []
        # The button ticks again afterwards.
        board.press([(0, 1), (50_000, 0)], board.now_us + 200_000)
        bench.listen(1.0)
        assert len(board.rising_edges_us) == 1


@pytest.mark.parametrize("presses", [1, 3])
def test_interrupted_recording_keeps_the_presses_that_are_over(presses: int) -> None:
    """Ctrl-C is enough: what was recorded until then is returned, and the button ticks again."""
    pattern = next(each for each in patterns() if each.name == "tactile")
    bench, board = a_bench(pattern)

    def interrupt(count: int) -> None:
        if count == presses:
            raise KeyboardInterrupt

    with bench:
        train = record_presses(bench, 5, interrupt)
        assert len(presses_of(train)) == presses
        board.press([(0, 1), (50_000, 0)], board.now_us + 200_000)
        bench.listen(1.0)
        assert len(board.rising_edges_us) == 1


def test_recording_interrupted_before_the_first_press_has_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C at once: a message, and the button ticks again."""
    board = VirtualBoard(StillMachine())
    with Bench(VirtualLink(board)) as bench:

        def interrupted(timeout_s: float) -> list[Event]:
            raise KeyboardInterrupt

        monkeypatch.setattr(bench, "listen", interrupted)
        with pytest.raises(StoppedEarly, match="no press was recorded"):
            record_presses(bench, 3, lambda count: None)
        monkeypatch.undo()
        board.press([(0, 1), (50_000, 0)], board.now_us)
        bench.listen(1.0)
        assert len(board.rising_edges_us) == 1


def test_recording_that_nobody_presses_for_is_given_up() -> None:
    """After a minute without an edge there is a message, and the button ticks as before."""
    board = VirtualBoard(StillMachine())
    with Bench(VirtualLink(board)) as bench:
        with pytest.raises(StoppedEarly, match="nobody pressed for 60 s: 0 of 3 presses"):
            record_presses(bench, 3, lambda count: None)
        board.press([(0, 1), (50_000, 0)], board.now_us)
        bench.listen(1.0)
        assert len(board.rising_edges_us) == 1


def test_host_that_goes_away_leaves_a_button_that_ticks() -> None:
    """Cable pulled while recording: the next press is a tick."""
    board = VirtualBoard(StillMachine())
    bench = Bench(VirtualLink(board))
    bench.open()
    bench.ask("contact", "on")
    board.port.host_close()
    board.run_until(board.now_us + 1000)
    board.press([(0, 1), (50_000, 0)], board.now_us)
    board.run_until(board.now_us + 100_000)
    assert len(board.rising_edges_us) == 1


def test_settings_are_changed_and_the_rest_of_the_file_is_kept(tmp_path: Path) -> None:
    """A commented line becomes the setting, a set one is replaced, a missing one is added."""
    text = '# mine\nWIFI = "x"\n# HANDTICK_PRESS_US = 100\nHANDTICK_REARM_US = 20000\n'
    wanted = {"HANDTICK_PRESS_US": "300", "HANDTICK_REARM_US": "9000", "HANDTICK_STEP_US": "7"}
    after = changed(text, wanted)
    assert after == '# mine\nWIFI = "x"\nHANDTICK_PRESS_US = 300\nHANDTICK_REARM_US = 9000\nHANDTICK_STEP_US = 7\n'
    assert changed(after, wanted) == after
    path = tmp_path / "settings.toml"
    path.write_text(text, encoding="utf-8")
    change_settings(path, wanted)
    assert path.read_text(encoding="utf-8") == after
    assert [each.name for each in tmp_path.iterdir()] == ["settings.toml"]
    with pytest.raises(UsageError, match="there is no such file"):
        change_settings(tmp_path / "nowhere" / "settings.toml", wanted)
    path.write_bytes(b"# \xff\n")
    with pytest.raises(UsageError, match="byte 2 is not UTF-8 text; nothing was set"):
        change_settings(path, wanted)


def test_setting_is_not_set_twice() -> None:
    """Where the file's own comment stands before the line that counts, it is that line which is replaced."""
    text = "# HANDTICK_PRESS_US = 100\nHANDTICK_PRESS_US = 200\n"
    assert changed(text, {"HANDTICK_PRESS_US": "300"}) == "# HANDTICK_PRESS_US = 100\nHANDTICK_PRESS_US = 300\n"


def test_picture_shows_every_press_and_every_tick() -> None:
    """A row a press, and a mark for each tick of each rule, wherever it falls."""
    train = make_train(next(each for each in patterns() if each.name == "worn keyboard"), 9, seed=2)
    presses, ticks = presses_of(train), judge(train)
    drawing = ElementTree.fromstring(presses_svg(presses, ticks))
    space = "{http://www.w3.org/2000/svg}"
    assert len(drawing.findall(f"{space}path")) == 2 * len(presses) == 18
    marks = drawing.findall(f"{space}g[@transform]")
    assert len(marks) == sum(len(times) for times in ticks.values())
