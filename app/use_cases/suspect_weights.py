"""Where the table of suspects is read."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path

from app.domain.suspect_table import SuspectTable, suspects_from

PATH = Path(__file__).resolve().parents[2] / "shared" / "rules" / "suspects.json"


@lru_cache(maxsize=1)
def suspect_table() -> SuspectTable:
    return suspects_from(json.loads(PATH.read_text("utf-8")))
