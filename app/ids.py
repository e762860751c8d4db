"""Ids made where a thing is made: UUIDv7, so that they sort by time and need no office."""

from __future__ import annotations

import uuid_utils


def new_id() -> str:
    return str(uuid_utils.uuid7())
