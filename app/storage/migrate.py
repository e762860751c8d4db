"""Brings a database to the newest shape. The migrations themselves are in `migrations/`."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory

_PROJECT = Path(__file__).resolve().parents[2] / "pyproject.toml"


def upgrade(url: str, revision: str = "head") -> None:
    """Bring the database at `url` to the newest shape, making it when it is empty. Doing so twice is harmless."""
    command.upgrade(_config(url), revision)


def downgrade(url: str, revision: str) -> None:
    """Take the database at `url` back to an older shape ("base" for nothing at all)."""
    command.downgrade(_config(url), revision)


def newest() -> str:
    """The newest migration there is: the form of the database this version works with."""
    return ScriptDirectory.from_config(_config("")).get_current_head() or ""


def _config(url: str) -> Config:
    config = Config(toml_file=_PROJECT)
    config.attributes["url"] = url
    return config
