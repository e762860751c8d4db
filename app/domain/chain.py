"""The ledger's chain: each row is hashed together with the hash before it, so that no row can be altered unseen."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping

from app.domain.canonical import canonical

FIRST = "0" * 64


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
