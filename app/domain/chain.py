"""The ledger's chain: each row is hashed together with the hash before it, so that no row can be altered unseen."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Protocol

from app.domain.canonical import canonical
from app.domain.entry import Heard


class _Row(Protocol):
    """A ledger row as `app.ports.LedgerRow` has it."""

    @property
    def heard(self) -> Heard: ...
    @property
    def raw(self) -> str: ...
    @property
    def accepted(self) -> bool: ...
    @property
    def reason(self) -> str: ...
    @property
    def details(self) -> dict[str, str | int]: ...
    @property
    def previous(self) -> str: ...


# What the first row is chained to.
FIRST = ""


def row_hash(row: _Row) -> str:
    """What the hash of a ledger row has to be, by what the row says of itself."""
    heard = row.heard
    return chain_hash(
        row.previous, order=heard.order, heard_at_ms=heard.heard_at_ms, name=heard.name, roles=heard.roles,
        raw=row.raw, accepted=row.accepted, reason=row.reason, details=row.details,
    )  # fmt: skip


def chain_hash(
    previous: str,
    *,
    order: int,
    heard_at_ms: int,
    name: str,
    roles: tuple[str, ...],
    raw: str,
    accepted: bool,
    reason: str,
    details: Mapping[str, str | int],
) -> str:
    """SHA-256 over the previous hash and everything the row says, in canonical JSON."""
    row = {
        "order": order,
        "heard_at_ms": heard_at_ms,
        "name": name,
        "roles": roles,
        "raw": raw,
        "accepted": accepted,
        "reason": reason,
        "details": details,
    }
    return hashlib.sha256(previous.encode() + canonical(row)).hexdigest()
