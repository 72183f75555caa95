"""Files that people ask for: whole or not at all, where they were asked for, and nothing else is touched."""

from __future__ import annotations

import os
import subprocess
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from handtick.bounce import Train, write_train
from handtick.cli import completion, diagram, logs
from handtick.cli.bounce import bounce
from handtick.cli.common import Common
from handtick.errors import HandtickError, UsageError
from handtick.log import LogWriter
from handtick.whole_file import whole_file, write_whole
from tests.host.test_bench_commands import START

NOW_NS = 1_764_000_000_000_000_000


@pytest.fixture
def common(tmp_path: Path) -> Common:
    """The options of a command for a log with five ticks."""
    path = tmp_path / "log.sqlite3"
    with LogWriter.open(path, "shed", NOW_NS) as log:
        log.greet(1, 0, 0, 0, {}, NOW_NS)
        log.add_ticks([(1, 0, tick, tick, tick, tick * 1000, 0) for tick in range(1, 6)])
    return Common(log=path)


def export(common: Common, file: Path | str, form: str | None = None) -> None:
    """Exports the log."""
    logs.export(common, str(file), None, form, True)


def test_what_a_link_leads_to_is_written(common: Common, tmp_path: Path) -> None:
    """The link stays a link, also where nothing was at its end yet."""
    (tmp_path / "shelf").mkdir()
    real, link = tmp_path / "shelf" / "real.csv", tmp_path / "link.csv"
    link.symlink_to(real)
    for before in (None, "old"):
        if before is not None:
            real.write_text(before)
        export(common, link)
        assert link.is_symlink()
        assert len(real.read_text().splitlines()) == 6


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_who_reads_a_pipe_gets_the_ticks(common: Common, tmp_path: Path) -> None:
    """A named pipe is written into, and stays one."""
    pipe, read = tmp_path / "pipe.csv", []
    os.mkfifo(pipe)
    reader = threading.Thread(target=lambda: read.append(pipe.read_text()), daemon=True)
    reader.start()
    export(common, pipe)
    reader.join(10)
    assert pipe.is_fifo()
    assert len(read[0].splitlines()) == 6


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_parquet_into_a_pipe_is_refused_at_once(common: Common, tmp_path: Path) -> None:
    """Its writer has to know where it is in the file; nobody is kept waiting."""
    os.mkfifo(tmp_path / "pipe.parquet")
    with pytest.raises(UsageError, match="no plain file; give the name of a file"):
        export(common, tmp_path / "pipe.parquet")


def test_files_of_other_names_are_left_alone(common: Common, tmp_path: Path) -> None:
    """Somebody's own `x.csv.part` is theirs, and nothing else is left behind."""
    (tmp_path / "x.csv.part").write_text("precious")
    before = {path.name for path in tmp_path.iterdir()}
    export(common, tmp_path / "x.csv")
    assert (tmp_path / "x.csv.part").read_text() == "precious"
    assert {path.name for path in tmp_path.iterdir()} == {*before, "x.csv"}


def test_where_writing_fails_the_old_file_is_still_there(tmp_path: Path) -> None:
    """Whatever goes wrong half-way, the file is as it was, with nothing beside it."""
    old = tmp_path / "x.csv"
    old.write_text("old")

    def write() -> None:
        with whole_file(old) as part:
            part.write_text("half")
            raise OSError(28, "No space left on device", str(part))

    with pytest.raises(HandtickError, match=r"x\.csv: can't be written: no space left on device$"):
        write()
    assert [(path.name, path.read_text()) for path in tmp_path.iterdir()] == [("x.csv", "old")]


@pytest.mark.skipif(os.name == "nt", reason="rights are other things there")
def test_rights_of_a_file_stay_and_new_ones_are_as_usual(tmp_path: Path) -> None:
    """A file for its owner alone stays so; a new one can be read by whom the user's other new files can be."""
    (tmp_path / "usual").touch()
    kept, new = tmp_path / "kept.csv", tmp_path / "new.csv"
    kept.touch(0o600)
    for path in (kept, new):
        write_whole(path, b"")
    assert kept.stat().st_mode & 0o777 == 0o600
    assert new.stat().st_mode == (tmp_path / "usual").stat().st_mode


TRAIN = Train([(0, 0), (10, 1)])


def drawn(common: Common, path: Path) -> None:
    """A diagram in a file."""
    diagram.diagram(common, "1..5", None, path, None, "auto")


def pressed(common: Common, path: Path) -> None:
    """Presses from a recording, drawn in a file."""
    write_train(common.log_path.with_name("presses.csv"), TRAIN)
    bounce(common, "1", common.log_path.with_name("presses.csv"), None, path, False, None)


WRITERS: dict[str, Callable[[Common, Path], None]] = {
    "an export": lambda common, path: export(common, path, "csv"),
    "an export to Parquet": lambda common, path: export(common, path, "parquet"),
    "a diagram": drawn,
    "a report": lambda common, path: diagram.report(common, path, "1..5", None, None),
    "a recording": lambda common, path: write_train(path, TRAIN),
    "a drawing of presses": pressed,
}


@pytest.mark.parametrize("what", WRITERS)
def test_what_cannot_be_written_is_told_alike(what: str, common: Common, tmp_path: Path) -> None:
    """Whatever is written: the name, why it can't be, and one status."""
    (tmp_path / "round").symlink_to("round")
    for name, why in (
        ("nowhere/x", f"there is no folder '{tmp_path / 'nowhere'}'"),
        ("log.sqlite3/x", f"there is no folder '{tmp_path / 'log.sqlite3'}'"),
        ("", "it is a folder; give the name of a file in it"),
        ("n" * 300, "file name too long"),
        ("round", "too many levels of symbolic links"),
    ):
        path = tmp_path / name
        with pytest.raises(HandtickError) as caught:
            WRITERS[what](common, path)
        assert type(caught.value) is HandtickError
        assert str(caught.value) == f"{path}: can't be written: {why}"


@pytest.mark.parametrize("name", ["", ".", "/"])
def test_name_of_no_file_is_refused(name: str, common: Common) -> None:
    """An empty name, or one that ends in no name."""
    with pytest.raises(HandtickError, match=r"can't be written: give the name of a file$"):
        export(common, name, "csv")


def test_completion_that_cannot_be_installed_says_the_line_to_add(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Told as for every other file, and what to add by hand."""
    (tmp_path / ".bashrc").mkdir()
    monkeypatch.setenv("HOME", str(tmp_path))
    with pytest.raises(HandtickError, match=r"\.bashrc: can't be written: is a directory; the line is: eval"):
        completion.install("bash")


def test_form_that_there_is_not_is_told_with_those_there_are(tmp_path: Path) -> None:
    """The word that was wrong is named, not the file's name."""
    words = [*START, "log", "export", "--form", "x", "y.csv"]
    shown = subprocess.run(words, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert shown.returncode == 2
    assert shown.stderr == "handtick: --form x: there are csv, jsonl, vcd, parquet\n"
