"""Three regression tests of Larch. Run them with: pytest --wiring ../larch.toml"""


def test_first_instruction_is_a_fetch(bench):
    """After reset Larch fetches."""
    (tick,) = bench.step(1)
    assert bench.read(tick, late=False)["fetch"] == 1


def test_operand_is_cleared_into_the_scratch_memory(bench):
    """The first instruction moves a literal 0: two ticks later the bus carries it."""
    ticks = bench.step(3)
    assert bench.read(ticks[2], late=False)["data"] == 0


def test_rain_tally_ends_with_the_sum_of_the_week(bench):
    """At tick 138 the sum, 47 tips, is on the bus, and Larch halts."""
    ticks = bench.advance(138, rate="1000")
    assert bench.read(ticks[-1], late=False)["data"] == 47
    assert bench.status().fields["halt_line"] == "asserted"
