"""Which tablet is asking, by `Authorization: Tablet <id>.<secret>`. The store holds only the hash of the secret."""

from __future__ import annotations

import hashlib
import hmac

from app.domain.records import Tablet
from app.ports import Unit
from app.use_cases.office import Office

SCHEME = "Tablet "


def hash_of(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def names(header: str) -> str:
    """The id of the tablet that a header speaks for, true or not; "" for no such header."""
    return header.removeprefix(SCHEME).strip().partition(".")[0] if header.startswith(SCHEME) else ""


def holder_of(unit: Unit, header: str) -> Tablet | None:
    """The tablet whose own credential this is, in use or not; None for anything else."""
    tablet_id, secret = names(header), header.strip().partition(".")[2]
    tablet = unit.tablets.get(tablet_id) if tablet_id else None
    if tablet is None or not tablet.secret_hash or not hmac.compare_digest(tablet.secret_hash, hash_of(secret)):
        return None
    return tablet


def tablet_in(unit: Unit, header: str) -> Tablet | None:
    """The tablet in use whose credential this is."""
    tablet = holder_of(unit, header)
    return None if tablet is None or tablet.retired else tablet


def tablet_of(office: Office, header: str) -> str | None:
    """The id of the tablet in use whose credential this is."""
    with office.store.reading() as unit:
        tablet = tablet_in(unit, header)
    return None if tablet is None else tablet.id
