"""The office's own certificate: for its one name, for 397 days, renewed when fewer than 30 are left.

Key and certificate stand in one file, so that replacing it can never pair a new key with an old certificate.
Source: 397 days and "serverAuth" stay within what makers of browsers ask of certificates (at most 398 days;
CA/Browser Forum, Baseline Requirements 6.3.2, from memory).
"""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from app.files import OWNER_ONLY, write_whole
from app.trust.authority import BACKDATED, Authority, CertificatesBroken

LEAF = "office.pem"
DAYS, RENEW_BELOW_DAYS = 397, 30


def issue(authority: Authority, now: datetime, name: str | None = None) -> bytes:
    """A new key and its certificate as PEM, from a day ago; never for longer than the authority itself lasts."""
    name = name or authority.name
    key = ec.generate_private_key(ec.SECP256R1())
    begins = max((now - BACKDATED).replace(microsecond=0), authority.certificate.not_valid_before_utc)
    ends = min(begins + timedelta(days=DAYS), authority.certificate.not_valid_after_utc)
    issuer = authority.certificate
    signer = issuer.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value
    certificate = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)]))
        .issuer_name(issuer.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(begins)
        .not_valid_after(ends)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_signs_handshakes(), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(name)]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(signer), critical=False)
        .sign(authority.key, hashes.SHA256())
    )
    secret = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    return secret + certificate.public_bytes(serialization.Encoding.PEM)


def _signs_handshakes() -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=True, key_cert_sign=False, crl_sign=False, content_commitment=False, key_encipherment=False,
        data_encipherment=False, key_agreement=False, encipher_only=False, decipher_only=False,
    )  # fmt: skip


def keep_leaf(folder: Path, authority: Authority, now: datetime) -> None:
    write_whole(folder / LEAF, issue(authority, now), OWNER_ONLY)


def read_leaf(folder: Path) -> x509.Certificate | None:
    """The office's certificate, or None where there is none.

    Raises: CertificatesBroken for a file that does not hold it with its key.
    """
    path = folder / LEAF
    if not path.exists():
        return None
    try:
        body = path.read_bytes()
        certificate = x509.load_pem_x509_certificate(body)
        key = serialization.load_pem_private_key(body, None)
    except (OSError, ValueError, TypeError) as error:
        raise CertificatesBroken(
            f"{path} cannot be read as a key and its certificate. Run `python -m app certify --renew`."
        ) from error
    if key.public_key() != certificate.public_key():
        raise CertificatesBroken(f"{path} holds another certificate's key. Run `python -m app certify --renew`.")
    return certificate


def days_left(certificate: x509.Certificate, now: datetime) -> int:
    return (certificate.not_valid_after_utc - now).days


def is_due(leaf: x509.Certificate | None, root: x509.Certificate, now: datetime) -> bool:
    """Whether the office needs a new certificate: none there, soon over, or of another authority."""
    if leaf is None or days_left(leaf, now) < RENEW_BELOW_DAYS:
        return True
    try:
        leaf.verify_directly_issued_by(root)
    except (ValueError, TypeError, InvalidSignature):
        return True
    return False
