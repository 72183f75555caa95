"""Settings from the file on the board's drive."""

from __future__ import annotations

from pathlib import Path

import pytest

from handtick.settings_page import settings_toml
from handtick_board import choices
from handtick_board.choices import fitted, read_settings
from handtick_board.settings import Settings
from handtick_wire import messages

ROOT = Path(__file__).parents[2]


def values_of(chosen: Settings) -> dict[str, object]:
    return vars(chosen)


def test_empty_file_gives_the_defaults() -> None:
    """With no setting given, every default is in force and nothing is refused."""
    chosen, refused = read_settings(lambda name: None)
    assert values_of(chosen) == values_of(Settings())
    assert refused == []


@pytest.mark.parametrize("row", choices.TABLE, ids=lambda row: row[0])
def test_setting_takes_its_whole_range_and_no_more(row: tuple[str, str, str, tuple[object, ...], str]) -> None:
    """Both ends of a setting's range are taken; what lies outside is refused by name and the default stays."""
    name, attribute, form, span, _ = row
    default = getattr(Settings(), attribute)
    if form == choices.CHOICE:
        good, bad = [str(word) for word in span], ["", "LOW ", "1", "maybe"]
    elif form == choices.RATE:
        assert isinstance(span[1], int)
        above = messages.write_rate(span[1] + 1)
        good = ["0.01", "1000", "2.5", messages.write_rate(span[1])]
        bad = ["0", "0.001", above, "-1", "ten", "", "1e3", "1.2345"]
    else:
        least, most = span
        assert isinstance(least, int)
        assert isinstance(most, int)
        good, bad = [str(least), str(most)], [str(least - 1), str(most + 1), "1.5", "", "many", "1" * 30, "0x10"]
    for word in good:
        chosen, refused = read_settings({name: word}.get)
        assert refused == [], word
        assert isinstance(getattr(chosen, attribute), type(default))
    for word in bad:
        chosen, refused = read_settings({name: word}.get)
        assert [name for name, _ in refused] == [name], word
        assert getattr(chosen, attribute) == default


def test_whole_numbers_may_come_as_numbers() -> None:
    """A board that reads whole numbers as numbers and one that reads them as text come to the same settings."""
    as_number, _ = read_settings({"HANDTICK_REARM_US": 50_000}.get)
    as_text, _ = read_settings({"HANDTICK_REARM_US": "50000"}.get)
    assert values_of(as_number) == values_of(as_text)
    assert as_number.rearm_us == 50_000


def test_one_bad_setting_does_not_spoil_the_others() -> None:
    """A refused setting leaves the good ones in force."""
    chosen, refused = read_settings({"HANDTICK_PRESS_US": "soon", "HANDTICK_STEP_US": "500"}.get)
    assert refused == [("HANDTICK_PRESS_US", choices.NOT_A_NUMBER)]
    assert chosen.step_us == 500


def test_file_on_the_drive_is_the_table() -> None:
    """The settings.toml that goes on the drive lists exactly the settings the firmware reads."""
    assert (ROOT / "firmware" / "settings.toml").read_text() == settings_toml()


@pytest.mark.parametrize("room", [8192, 4096, 3100, 500, 16])
def test_a_ring_for_which_there_is_no_memory_is_made_shorter(room: int) -> None:
    """By a quarter, as often as it takes, so that the board starts; what fits is left as it was asked for."""
    settings = Settings()

    def make() -> int:
        if settings.ring > room:
            raise MemoryError
        return settings.ring

    assert fitted(settings, make) == settings.ring
    assert settings.ring == Settings().ring if room >= Settings().ring else 3 * room // 4 <= settings.ring <= room


def test_a_board_without_memory_for_the_shortest_ring_says_so() -> None:
    """It is not tried for ever."""

    def make() -> None:
        raise MemoryError

    with pytest.raises(MemoryError):
        fitted(Settings(), make)
