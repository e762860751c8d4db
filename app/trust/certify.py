"""What `certify` does, and what `serve` finds: the authority and the office's certificate, in one folder."""

from __future__ import annotations

import ssl
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from cryptography import x509

from app.domain.problems import Problem, Refused
from app.trust.authority import (
    CertificatesBroken,
    fingerprint,
    keep_authority,
    make_authority,
    name_of,
    read_authority,
    read_root,
)
from app.trust.leaf import LEAF, is_due, keep_leaf, read_leaf
from app.trust.names import read_name


@dataclass(frozen=True, slots=True)
class Certificates:
    """What is in the folder: the name, the authority's certificate (the root) and the office's own (the leaf)."""

    folder: Path
    root: x509.Certificate
    leaf: x509.Certificate

    @property
    def name(self) -> str:
        return name_of(self.root)

    @property
    def fingerprint(self) -> str:
        return fingerprint(self.root)

    @property
    def leaf_file(self) -> Path:
        return self.folder / LEAF


@dataclass(frozen=True, slots=True)
class Certified:
    """The certificates, and what was made just now."""

    certificates: Certificates
    made: bool
    renewed: bool


def certificates_in(folder: Path) -> Certificates | None:
    """What is there; None where `certify` has not been run.

    Raises: CertificatesBroken for what is there and cannot be used.
    """
    root = read_root(folder)
    if root is None:
        return None
    leaf = read_leaf(folder)
    if leaf is None:
        raise CertificatesBroken(f"{folder / LEAF} is missing. Run `python -m app certify --renew`.")
    return Certificates(folder, root, leaf)


def certify(folder: Path, typed: str | None, now: datetime, *, renew: bool = False) -> Certified:
    """Make the authority once, and the office's certificate when it is due or `renew` asks for it.

    One name for ever: tablets trust an authority for the name it was made for, so another name is refused.
    Raises: Refused with problems; CertificatesBroken for what is there and cannot be used.
    """
    name = None if typed is None else read_name(typed)
    if isinstance(name, Problem):
        raise Refused([name])
    root = read_root(folder)
    if root is None:
        if name is None:
            raise Refused([Problem("certificates_none", "name")])
        authority = make_authority(name, now)
        keep_authority(folder, authority)
        keep_leaf(folder, authority, now)
        return Certified(_there(folder), made=True, renewed=False)
    if name is not None and name != name_of(root):
        details = {"there": name_of(root), "typed": name, "folder": str(folder)}
        raise Refused([Problem("office_name_other", "name", details)])
    renewed = renew_if_due(folder, now, forced=renew)
    return Certified(_there(folder), made=False, renewed=renewed)


def renew_if_due(folder: Path, now: datetime, *, forced: bool = False) -> bool:
    """Put a new certificate of the office in place where it is due; True if one was made.

    Raises: CertificatesBroken, also for an authority that has run out itself.
    """
    root = read_root(folder)
    if root is not None and not forced and not is_due(read_leaf(folder), root, now):
        return False
    authority = read_authority(folder)
    if authority.certificate.not_valid_after_utc <= now:
        raise CertificatesBroken(
            f"The authority in {folder} has run out. Move the folder away, run `python -m app certify --name "
            f"{authority.name}`, and install the new authority on every tablet."
        )
    keep_leaf(folder, authority, now)
    return True


def reload_chain(context: ssl.SSLContext, folder: Path) -> None:
    """New connections get the certificate that is in the folder now; those that are open stay as they are."""
    context.load_cert_chain(folder / LEAF)


def _there(folder: Path) -> Certificates:
    found = certificates_in(folder)
    if found is None:
        raise CertificatesBroken(f"{folder} was emptied while it was being written.")
    return found
