"""The commands: what they print, and that what is missing or wrong ends them with a plain sentence."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from app.__main__ import main
from app.bootstrap import SHARED


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the layouts, gates and procedures, for a test to spoil."""
    for name in ("layouts.yaml", "gates.yaml"):
        shutil.copy(SHARED / name, tmp_path / name)
    shutil.copytree(SHARED / "procedures", tmp_path / "procedures")
    return tmp_path


def test_the_procedures_of_this_installation_hold_no_mistake(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["procedures"]) == 0

    said = capsys.readouterr().out
    assert {path.stem for path in (SHARED / "procedures").glob("*.yaml")} <= set(said.split())
    assert "no mistake found" in said


def test_a_mistake_is_named_with_its_file_and_line(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    strut = folder / "procedures" / "strut.yaml"
    lines = strut.read_text("utf-8").splitlines(keepends=True)
    at = next(number for number, line in enumerate(lines, 1) if line.strip().startswith("gates:"))
    lines[at - 1] = lines[at - 1].replace("[", "[no_such_gate, ", 1)
    strut.write_text("".join(lines), "utf-8")

    assert main(["procedures", str(folder)]) == 1

    said = capsys.readouterr().err
    assert f"procedures/strut.yaml:{at}: " in said
    assert "no_such_gate" in said
    assert "1 mistake in the procedure files" in said


def test_a_folder_without_procedures_says_what_is_missing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["procedures", str(tmp_path)]) == 1

    assert "layouts.yaml:1: cannot be read" in capsys.readouterr().err


@pytest.mark.parametrize("command", ["verify", "rebuild"])
def test_a_database_that_was_never_made_is_named_with_what_to_do(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COTTERPIN_DATABASE_URL", f"sqlite:///{tmp_path / 'new.db'}")

    assert main([command]) == 1

    assert "python -m app migrate" in capsys.readouterr().err


def test_a_setting_that_cannot_be_is_named(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setenv("COTTERPIN_PORT", "eighty")

    assert main(["verify"]) == 1

    assert capsys.readouterr().err.startswith("COTTERPIN_PORT is 'eighty': input should be a valid integer")


def test_a_pin_file_that_is_not_there_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["first-person", "--name", "Ada", "--pin-file", str(tmp_path / "pin")]) == 1

    assert f"The file {tmp_path / 'pin'} cannot be read." in capsys.readouterr().err
