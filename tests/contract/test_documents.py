"""The documents tell the truth: settings, commands and pages named in them are the ones there are."""

from __future__ import annotations

import re
import subprocess
import sys

import pytest

from app.settings import ROOT, Settings

README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")


def test_the_readme_lists_every_setting_and_no_other() -> None:
    documented = set(re.findall(r"^\| `(COTTERPIN_[A-Z_]+)`", README, re.M))
    assert documented == {f"COTTERPIN_{name.upper()}" for name in Settings.model_fields}


@pytest.mark.parametrize("name", sorted(Settings.model_fields))
def test_a_plain_default_is_the_one_documented(name: str) -> None:
    default = Settings.model_fields[name].default
    row = next(line for line in README.splitlines() if line.startswith(f"| `COTTERPIN_{name.upper()}`"))
    if isinstance(default, bool):
        assert f"| `{str(default).lower()}` |" in row
    elif isinstance(default, (int, str)) and default and name != "database_url":
        assert f"| `{default}` |" in row
    else:
        assert Settings.model_fields[name].description


def test_every_setting_says_what_it_is_for() -> None:
    assert [name for name, one in Settings.model_fields.items() if not one.description] == []


def test_the_readme_lists_every_command_and_no_other() -> None:
    shown = subprocess.run(
        [sys.executable, "-m", "app", "--help"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    real = set(re.findall(r"^    ([a-z-]+)(?:  |$)", shown.stdout, re.M))
    assert set(re.findall(r"^\| `python -m app ([a-z-]+)", README, re.M)) == real


def test_the_readme_names_the_two_commands_and_the_caution_at_its_beginning() -> None:
    first_screen = README[:2_500]
    assert "python3 demo/run.py " in first_screen
    assert "python3 tests/run.py" in first_screen
    assert "maker's instructions" in first_screen


def test_every_path_the_contributors_guide_names_is_there() -> None:
    named = set(re.findall(r"`((?:app|shared|tests|demo|templates|migrations|static)/[\w./-]+)`", DEVELOPERS))
    assert named, "the guide names no paths at all"
    assert sorted(path for path in named if not (ROOT / path).exists()) == []


def test_decisions_are_numbered_without_a_gap() -> None:
    numbers = [int(number) for number in re.findall(r"^\*\*D-(\d{3}) ", DEVELOPERS, re.M)]
    assert numbers == list(range(1, len(numbers) + 1))


def test_the_check_runs_exactly_the_readmes_command() -> None:
    words = [line for line in (ROOT / ".ci" / "run").read_text("utf-8").splitlines() if line.startswith("exec ")]
    assert words == ["exec python3 tests/run.py"]
