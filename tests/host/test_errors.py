"""The error tree."""

import pytest

from handtick import errors


def test_each_error_ends_the_command_line_with_its_own_status() -> None:
    """No two sorts of error share an exit status, and none ends with 0."""
    kinds = [errors.HandtickError, *errors.HandtickError.__subclasses__()]
    assert sorted(kind.exit_status for kind in kinds) == list(range(1, 10))


@pytest.mark.parametrize("name", errors.__all__)
def test_every_error_is_caught_as_the_base(name: str) -> None:
    """Whoever catches the base catches every error, and sees its message as it was given."""
    error = getattr(errors, name)("the board did this; do that")
    assert isinstance(error, errors.HandtickError)
    assert str(error) == "the board did this; do that"


@pytest.mark.parametrize("name", errors.__all__)
def test_the_drawn_tree_is_the_tree(name: str) -> None:
    """The module's drawing shows every error with the status it has."""
    drawing = errors.__doc__ or ""
    (line,) = [line for line in drawing.splitlines() if f" {name} " in line]
    assert f" {getattr(errors, name).exit_status} " in line
