"""The workshop's own authority: one key that can vouch for one name, and for nothing else.

Whoever installs its certificate on a tablet trusts it. So it is bound, critically, to the office's own name: should its
key be stolen, it makes no other site believable. It signs no further authority.
Source: RFC 5280, 4.2.1.3 (key usage), 4.2.1.9 (basic constraints), 4.2.1.10 (name constraints).
"""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from app.domain.problems import OursToMend
from app.files import FOR_ALL, OWNER_ONLY, write_whole

CERTIFICATE, KEY = "authority.crt", "authority.key"
# House rule: a tablet's life and more, so that nobody has to go round all of them again.
DAYS = 3_652
# A tablet whose clock is behind must not find that the certificate does not count yet. House rule.
BACKDATED = timedelta(days=1)
# A constraint names what is allowed of one kind of name and leaves the other kinds open: so all addresses are shut out.
EVERY_ADDRESS = (ipaddress.ip_network("0.0.0.0/0"), ipaddress.ip_network("::/0"))


class CertificatesBroken(OursToMend):
    """What is in the certificate folder cannot be used as it is; the words say what to do."""


@dataclass(frozen=True, slots=True)
class Authority:
    certificate: x509.Certificate
    key: ec.EllipticCurvePrivateKey

    @property
    def name(self) -> str:
        return name_of(self.certificate)


def make_authority(name: str, now: datetime) -> Authority:
    """A new authority for this name, from a day ago, for ten years."""
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([
        x509.NameAttribute(NameOID.ORGANIZATION_NAME, name),
        x509.NameAttribute(NameOID.COMMON_NAME, "Cotterpin workshop authority"),
    ])  # fmt: skip
    begins = (now - BACKDATED).replace(microsecond=0)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(begins)
        .not_valid_after(begins + timedelta(days=DAYS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_signs_certificates(), critical=True)
        .add_extension(
            x509.NameConstraints(
                permitted_subtrees=[x509.DNSName(name)],
                excluded_subtrees=[x509.IPAddress(one) for one in EVERY_ADDRESS],
            ),
            critical=True,
        )
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    return Authority(certificate, key)


def _signs_certificates() -> x509.KeyUsage:
    return x509.KeyUsage(
        key_cert_sign=True, crl_sign=True, digital_signature=False, content_commitment=False, key_encipherment=False,
        data_encipherment=False, key_agreement=False, encipher_only=False, decipher_only=False,
    )  # fmt: skip


def name_of(certificate: x509.Certificate) -> str:
    """The one name an authority may vouch for.

    Raises: CertificatesBroken for a certificate that is no authority of ours.
    """
    try:
        bound = certificate.extensions.get_extension_for_class(x509.NameConstraints).value
    except x509.ExtensionNotFound as error:
        raise CertificatesBroken(f"{CERTIFICATE} is bound to no name; it was not made by `certify`.") from error
    return str((bound.permitted_subtrees or [x509.DNSName("")])[0].value)


def fingerprint(certificate: x509.Certificate) -> str:
    """The SHA-256 a person compares, in pairs, as every system shows it."""
    return certificate.fingerprint(hashes.SHA256()).hex(":").upper()


def keep_authority(folder: Path, authority: Authority) -> None:
    """The key first: a certificate whose key is lost could never be renewed from, and would look whole."""
    secret = authority.key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    write_whole(folder / KEY, secret, OWNER_ONLY)
    write_whole(folder / CERTIFICATE, authority.certificate.public_bytes(serialization.Encoding.PEM), FOR_ALL)


def read_root(folder: Path) -> x509.Certificate | None:
    """The authority's certificate, or None where there is none.

    Raises: CertificatesBroken for a file that is none.
    """
    path = folder / CERTIFICATE
    if not path.exists():
        return None
    try:
        return x509.load_pem_x509_certificate(path.read_bytes())
    except (OSError, ValueError) as error:
        raise CertificatesBroken(f"{path} cannot be read as a certificate. Put it back from a backup.") from error


def read_authority(folder: Path) -> Authority:
    """Raises: CertificatesBroken where the key or the certificate is missing, unreadable or not the other's."""
    root = read_root(folder)
    if root is None:
        raise CertificatesBroken(f"There is no authority in {folder}. Run `python -m app certify --name NAME`.")
    path = folder / KEY
    try:
        key = serialization.load_pem_private_key(path.read_bytes(), None)
    except (OSError, ValueError, TypeError) as error:
        raise CertificatesBroken(f"{path} cannot be read as a key. Put it back from a backup.") from error
    if not isinstance(key, ec.EllipticCurvePrivateKey) or key.public_key() != root.public_key():
        raise CertificatesBroken(f"{path} is not the key of {folder / CERTIFICATE}. Put both back from one backup.")
    return Authority(root, key)
