"""The workshop's own authority: what it vouches for, what it is refused for, and HTTPS served with it.

What a certificate is worth is said by others: by the verifier of `cryptography` and by OpenSSL (Python's ssl) against a
server that runs.
"""

from __future__ import annotations

import ipaddress
import os
import socket
import ssl
import stat
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import ExtendedKeyUsageOID
from cryptography.x509.verification import PolicyBuilder, Store, VerificationError
from starlette.testclient import TestClient

from app.__main__ import main
from app.bootstrap import over_https
from app.domain.problems import Problem, Refused
from app.settings import Settings
from app.trust import authority as authorities
from app.trust import leaf as leaves
from app.trust.authority import CertificatesBroken, make_authority, read_authority
from app.trust.certify import certificates_in, certify, renew_if_due
from app.trust.leaf import LEAF, issue
from app.trust.names import read_name
from app.trust.serving import renewing
from tests.builders import ADA, ROOT
from tests.offices import PIN, an_app, an_office
from tests.trusted import NAME, asked, connected, now, serial_of, served_over_https

NOON = datetime(2031, 3, 4, 12, 0, tzinfo=UTC)


def verified(leaf: x509.Certificate, root: x509.Certificate, name: str, at: datetime = NOON) -> None:
    """Raises: VerificationError where cryptography's verifier does not believe it."""
    builder = PolicyBuilder().store(Store([root])).time(at.replace(tzinfo=None))
    builder.build_server_verifier(x509.DNSName(name)).verify(leaf, [])


def certificate_in(pem: bytes) -> x509.Certificate:
    return x509.load_pem_x509_certificate(pem)


def with_alternatives(authority: authorities.Authority, *names: x509.GeneralName) -> bytes:
    """A leaf as a thief of the key would make it: for whatever names, and without asking."""
    made = certificate_in(issue(authority, now()))
    key = ec.generate_private_key(ec.SECP256R1())
    builder = x509.CertificateBuilder(
        made.issuer, x509.Name([]), key.public_key(), x509.random_serial_number(),
        made.not_valid_before_utc, made.not_valid_after_utc,
    )  # fmt: skip
    for one in made.extensions:
        if not isinstance(one.value, x509.SubjectAlternativeName | x509.SubjectKeyIdentifier):
            builder = builder.add_extension(one.value, one.critical)
    signed = builder.add_extension(x509.SubjectAlternativeName(names), True).sign(authority.key, hashes.SHA256())
    secret = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    return secret + signed.public_bytes(Encoding.PEM)


class TestTheAuthority:
    def test_is_bound_to_the_name_and_signs_nothing_but_leaves(self) -> None:
        root = make_authority(NAME, NOON).certificate

        bound = root.extensions.get_extension_for_class(x509.NameConstraints)
        basic = root.extensions.get_extension_for_class(x509.BasicConstraints)
        usage = root.extensions.get_extension_for_class(x509.KeyUsage)
        assert bound.critical
        assert basic.critical
        assert usage.critical
        assert bound.value.permitted_subtrees == [x509.DNSName(NAME)]
        assert [str(one.value) for one in bound.value.excluded_subtrees or []] == ["0.0.0.0/0", "::/0"]
        assert (basic.value.ca, basic.value.path_length) == (True, 0)
        assert (usage.value.key_cert_sign, usage.value.crl_sign, usage.value.digital_signature) == (True, True, False)

    def test_has_a_p256_key_and_ten_years(self) -> None:
        root = make_authority(NAME, NOON).certificate

        key = root.public_key()
        assert isinstance(key, ec.EllipticCurvePublicKey)
        assert key.curve.name == "secp256r1"
        assert NOON + timedelta(days=3_650) < root.not_valid_after_utc < NOON + timedelta(days=3_653)
        root.verify_directly_issued_by(root)

    def test_reads_back_from_its_files(self, tmp_path: Path) -> None:
        certify(tmp_path / "c", NAME, NOON)

        assert read_authority(tmp_path / "c").name == NAME

    def test_keeps_its_keys_to_its_owner(self, tmp_path: Path) -> None:
        folder = tmp_path / "c"
        before = os.umask(0)
        try:
            certify(folder, NAME, NOON)
        finally:
            os.umask(before)

        modes = {path.name: oct(stat.S_IMODE(path.stat().st_mode)) for path in (folder, *folder.iterdir())}
        # Windows knows no such modes.
        assert os.name != "posix" or modes == {
            "c": "0o700",
            "authority.crt": "0o644",
            "authority.key": "0o600",
            "office.pem": "0o600",
        }


class TestTheLeaf:
    def test_is_for_the_name_for_397_days_and_for_servers_only(self) -> None:
        leaf = certificate_in(issue(make_authority(NAME, NOON), NOON))

        names = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
        use = leaf.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
        assert list(names) == [x509.DNSName(NAME)]
        assert list(use) == [ExtendedKeyUsageOID.SERVER_AUTH]
        assert leaf.not_valid_after_utc - leaf.not_valid_before_utc == timedelta(days=397)
        assert not leaf.extensions.get_extension_for_class(x509.BasicConstraints).value.ca

    def test_is_believed_by_another_hand_s_verifier(self) -> None:
        authority = make_authority(NAME, NOON)

        verified(certificate_in(issue(authority, NOON)), authority.certificate, NAME)

    def test_is_not_believed_under_another_name_or_root_or_time(self) -> None:
        authority, stranger = make_authority(NAME, NOON), make_authority(NAME, NOON)
        leaf = certificate_in(issue(authority, NOON))

        for root, name, at in (
            (authority.certificate, "desk.larkfield.test", NOON),
            (stranger.certificate, NAME, NOON),
            (authority.certificate, NAME, NOON + timedelta(days=397)),
        ):
            with pytest.raises(VerificationError):
                verified(leaf, root, name, at)

    def test_for_another_name_is_not_believed_though_the_authority_signed_it(self) -> None:
        authority = make_authority(NAME, NOON)
        leaf = certificate_in(issue(authority, NOON, name="bank.example"))

        leaf.verify_directly_issued_by(authority.certificate)
        with pytest.raises(VerificationError, match="name"):
            verified(leaf, authority.certificate, "bank.example")

    def test_never_outlasts_the_authority(self) -> None:
        authority = make_authority(NAME, NOON)
        late = authority.certificate.not_valid_after_utc - timedelta(days=100)

        leaf = certificate_in(issue(authority, late))

        assert leaf.not_valid_after_utc == authority.certificate.not_valid_after_utc

    @pytest.mark.parametrize(("days", "renewed"), [(0, False), (365, False), (366, True), (380, True), (500, True)])
    def test_is_renewed_with_fewer_than_thirty_days_left(self, tmp_path: Path, days: int, renewed: bool) -> None:
        """It began a day before it was made, so 396 days are left at first and 30 after 366."""
        certify(tmp_path, NAME, NOON)
        before = (tmp_path / LEAF).read_bytes()

        assert renew_if_due(tmp_path, NOON + timedelta(days=days, seconds=1)) is renewed

        assert ((tmp_path / LEAF).read_bytes() != before) is renewed

    def test_of_another_authority_is_renewed(self, tmp_path: Path) -> None:
        certify(tmp_path, NAME, NOON)
        (tmp_path / LEAF).write_bytes(issue(make_authority(NAME, NOON), NOON))

        assert renew_if_due(tmp_path, NOON)

        there = certificates_in(tmp_path)
        assert there is not None
        verified(there.leaf, there.root, NAME)


class TestServedOverHttps:
    @pytest.fixture
    def folder(self, tmp_path: Path) -> Path:
        certify(tmp_path / "c", NAME, now())
        return tmp_path / "c"

    def test_the_office_is_trusted_with_its_authority_and_under_its_name_alone(self, folder: Path) -> None:
        root = folder / authorities.CERTIFICATE
        with served_over_https(an_app(an_office()), folder / LEAF) as port:
            with connected(port, NAME, root) as connection:
                assert asked(connection) == "200 OK"
                assert connection.version() in ("TLSv1.2", "TLSv1.3")
            for name, trusted, why in (
                (NAME, None, "unable to get local issuer certificate"),
                ("desk.larkfield.test", root, "Hostname mismatch"),
                ("127.0.0.1", root, "IP address mismatch"),
            ):
                with pytest.raises(ssl.SSLCertVerificationError, match=why):
                    connected(port, name, trusted)

    @pytest.mark.parametrize(
        ("name", "as_"),
        [
            (x509.DNSName("bank.example"), "bank.example"),
            (x509.DNSName("larkfield.test"), "larkfield.test"),
            (x509.DNSName(f"{NAME}.bank.example"), f"{NAME}.bank.example"),
            (x509.IPAddress(ipaddress.ip_address("127.0.0.1")), "127.0.0.1"),
            (x509.IPAddress(ipaddress.ip_address("::1")), "::1"),
        ],
        ids=str,
    )
    def test_a_stolen_authority_makes_nothing_else_believable(
        self, folder: Path, tmp_path: Path, name: x509.GeneralName, as_: str
    ) -> None:
        chain = tmp_path / "stolen.pem"
        chain.write_bytes(with_alternatives(read_authority(folder), name))
        with (
            served_over_https(an_app(an_office()), chain) as port,
            pytest.raises(
                ssl.SSLCertVerificationError, match=r"permitted subtree violation|excluded subtree violation"
            ),
        ):
            connected(port, as_, folder / authorities.CERTIFICATE)

    def test_the_same_made_for_the_office_s_own_name_is_believed(self, folder: Path, tmp_path: Path) -> None:
        """Else the test above would pass for another fault of what it makes."""
        chain = tmp_path / "own.pem"
        chain.write_bytes(with_alternatives(read_authority(folder), x509.DNSName(NAME)))
        with served_over_https(an_app(an_office()), chain) as port:
            connected(port, NAME, folder / authorities.CERTIFICATE).close()

    def test_renewing_keeps_what_is_open_and_shows_the_new_one_to_who_comes(self, folder: Path) -> None:
        """A certificate made 380 days ago is still good today, and due; before that day it was not."""
        root, made_at = folder / authorities.CERTIFICATE, now() - timedelta(days=380)
        certify_backdated(folder, made_at)
        clock = [made_at]
        keeper = renewing(folder, lambda: clock[0], lambda words: pytest.fail(words), every_s=0.05)
        with served_over_https(an_app(an_office()), folder / LEAF, keeper) as port:
            early = connected(port, NAME, root)
            first = serial_of(early)
            assert asked(early) == "200 OK"
            time.sleep(0.3)
            with connected(port, NAME, root) as same:
                assert serial_of(same) == first

            clock[0] = now()

            until = time.monotonic() + 60
            while shown_by(port).serial_number == int(first, 16):
                assert time.monotonic() < until, "new connections still get the old one"
                time.sleep(0.05)
            assert asked(early) == "200 OK"
            with connected(port, NAME, root) as later:
                assert asked(later) == "200 OK"
                assert serial_of(later) != first
            early.close()

    def test_what_cannot_be_renewed_is_told_and_the_pages_stay(self, folder: Path) -> None:
        told: list[str] = []
        (folder / authorities.KEY).unlink()
        later = now() + timedelta(days=390)
        with served_over_https(
            an_app(an_office()), folder / LEAF, renewing(folder, lambda: later, told.append, every_s=0.05)
        ) as port:
            until = time.monotonic() + 60
            while len(told) < 2:
                assert time.monotonic() < until, "nothing was told"
                time.sleep(0.05)
            with connected(port, NAME, folder / authorities.CERTIFICATE) as connection:
                assert asked(connection) == "200 OK"
        assert "authority.key cannot be read as a key" in told[0]


def certify_backdated(folder: Path, made_at: datetime) -> None:
    """The authority and its certificate as if made at another time."""
    for path in folder.iterdir():
        path.unlink()
    certify(folder, NAME, made_at)


def shown_by(port: int) -> x509.Certificate:
    """The certificate a server shows, whatever it is worth."""
    return x509.load_pem_x509_certificate(ssl.get_server_certificate(("127.0.0.1", port)).encode())


class TestCertify:
    @pytest.fixture(autouse=True)
    def folder(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
        monkeypatch.setenv("COTTERPIN_CERTIFICATE_FOLDER", str(tmp_path / "certificates"))
        return tmp_path / "certificates"

    @pytest.mark.parametrize(
        ("typed", "code"),
        [
            ("", "office_name_missing"),
            ("  ", "office_name_missing"),
            (".", "office_name_missing"),
            ("192.168.1.4", "office_name_address"),
            ("::1", "office_name_address"),
            ("[fe80::1]", "office_name_address"),
            ("300.1.2.4", "office_name_address"),
            ("office.7", "office_name_address"),
            ("office", "office_name_single"),
            ("localhost", "office_name_single"),
            ("local", "office_name_single"),
            ("*.larkfield.test", "office_name_form"),
            ("office_1.larkfield.test", "office_name_form"),
            ("-office.larkfield.test", "office_name_form"),
            ("office-.larkfield.test", "office_name_form"),
            ("office..larkfield.test", "office_name_form"),
            ("https://office.larkfield.test", "office_name_form"),
            ("office.larkfield.test:8765", "office_name_form"),
            ("office larkfield.test", "office_name_form"),
            ("büro.larkfield.test", "office_name_form"),
            ("office.larkfield.test\n.x", "office_name_form"),
            (f"{'a' * 64}.test", "too_long"),
            (f"{'a' * 63}.test", "too_long"),
            (f"{'a.' * 31}test", "too_long"),
        ],
    )
    def test_a_name_that_will_not_do_is_refused_and_nothing_is_made(
        self, typed: str, code: str, folder: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        found = read_name(typed)
        assert isinstance(found, Problem)
        assert found.code == code

        assert main(["certify", f"--name={typed}"]) == 1

        assert len(capsys.readouterr().err) > 40
        assert not folder.exists()

    @pytest.mark.parametrize(
        ("typed", "name"),
        [
            (" Office.Larkfield.Test. ", NAME),
            ("office.local", "office.local"),
            ("a.b", "a.b"),
            ("xn--bro-hoa.larkfield.test", "xn--bro-hoa.larkfield.test"),
            (f"{'a' * 59}.test", f"{'a' * 59}.test"),
        ],
    )
    def test_a_name_that_will_do_is_kept_in_small_letters(self, typed: str, name: str) -> None:
        assert read_name(typed) == name

    def test_says_the_name_the_mark_and_what_comes_next(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["certify", "--name", NAME]) == 0

        said = capsys.readouterr().out
        there = certificates_in(folder)
        assert there is not None
        assert there.fingerprint[:47] in said
        assert there.fingerprint[48:] in said
        assert f"http://{NAME}:8766" in said
        assert f"https://{NAME}:8765" in said
        assert "Made." in said

    def test_twice_changes_nothing_and_says_what_is_there(
        self, folder: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert main(["certify", "--name", NAME]) == 0
        before = {path.name: path.read_bytes() for path in folder.iterdir()}
        capsys.readouterr()

        for words in (["--name", NAME], []):
            assert main(["certify", *words]) == 0
            said = capsys.readouterr().out
            assert "Nothing was changed." in said
            assert NAME in said

        assert {path.name: path.read_bytes() for path in folder.iterdir()} == before

    def test_renew_makes_a_new_certificate_and_leaves_the_authority(self, folder: Path) -> None:
        main(["certify", "--name", NAME])
        before = {path.name: path.read_bytes() for path in folder.iterdir()}

        assert main(["certify", "--renew"]) == 0

        after = {path.name: path.read_bytes() for path in folder.iterdir()}
        assert {name for name in before if before[name] != after[name]} == {LEAF}

    def test_another_name_is_refused_and_what_is_there_stays(
        self, folder: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        main(["certify", "--name", NAME])
        before = {path.name: path.read_bytes() for path in folder.iterdir()}

        for words in ([], ["--renew"]):
            assert main(["certify", "--name", "desk.larkfield.test", *words]) == 1
            assert f"are for {NAME}" in capsys.readouterr().err

        assert {path.name: path.read_bytes() for path in folder.iterdir()} == before

    def test_renew_before_anything_was_made_is_refused(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["certify", "--renew"]) == 1

        assert "no certificates yet" in capsys.readouterr().err
        assert not folder.exists()

    @pytest.mark.parametrize(
        ("name", "body", "words"),
        [
            (authorities.CERTIFICATE, b"rubbish", "cannot be read as a certificate"),
            (authorities.KEY, b"rubbish", "cannot be read as a key"),
            (authorities.KEY, None, "cannot be read as a key"),
            (authorities.KEY, issue(make_authority(NAME, NOON), NOON), "is not the key of"),
        ],
    )
    def test_what_is_spoilt_is_named_with_what_to_do(
        self, folder: Path, name: str, body: bytes | None, words: str, capsys: pytest.CaptureFixture[str]
    ) -> None:
        main(["certify", "--name", NAME])
        (folder / name).unlink()
        if body is not None:
            (folder / name).write_bytes(body)

        assert main(["certify", "--renew"]) == 1

        said = capsys.readouterr().err
        assert words in said
        assert "from a backup" in said or "from one backup" in said

    def test_a_spoilt_certificate_is_mended_by_renewing(self, folder: Path) -> None:
        main(["certify", "--name", NAME])
        mine, other = (folder / LEAF).read_bytes(), issue(make_authority(NAME, NOON), NOON)
        ends = b"-----END PRIVATE KEY-----\n"
        mixed = other.partition(ends)[0] + ends + mine.partition(ends)[2]
        for body in (b"", b"rubbish", mixed):
            (folder / LEAF).write_bytes(body)
            with pytest.raises(CertificatesBroken, match="certify --renew"):
                certificates_in(folder)
            assert main(["certify", "--renew"]) == 0
            there = certificates_in(folder)
            assert there is not None
            verified(there.leaf, there.root, NAME, now())

    def test_an_authority_that_has_run_out_is_not_renewed_from(self, folder: Path) -> None:
        certify(folder, NAME, NOON)

        with pytest.raises(CertificatesBroken, match="has run out"):
            renew_if_due(folder, NOON + timedelta(days=authorities.DAYS))

    def test_an_authority_of_someone_else_is_not_taken_for_ours(self, folder: Path) -> None:
        certify(folder, NAME, NOON)
        (folder / authorities.CERTIFICATE).write_bytes(_plain_root())

        with pytest.raises(CertificatesBroken, match="bound to no name"):
            certify(folder, NAME, NOON)

    def test_a_problem_is_a_value_for_who_calls(self, folder: Path) -> None:
        with pytest.raises(Refused, match="name:office_name_single"):
            certify(folder, "office", NOON)

    def test_serve_does_not_fall_back_to_plain_http_where_certificates_are_spoilt(
        self, folder: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        main(["certify", "--name", NAME])
        (folder / authorities.CERTIFICATE).write_bytes(b"rubbish")
        capsys.readouterr()

        assert main(["serve"]) == 1

        said = capsys.readouterr()
        assert "cannot be read as a certificate" in said.err
        assert "Open http" not in said.out


def _plain_root() -> bytes:
    key = ec.generate_private_key(ec.SECP256R1())
    builder = x509.CertificateBuilder(
        x509.Name([]), x509.Name([]), key.public_key(), 1, NOON, NOON + timedelta(days=9)
    )  # fmt: skip
    return builder.sign(key, hashes.SHA256()).public_bytes(Encoding.PEM)


class TestCookiesAndHeaders:
    def test_over_https_the_sign_in_is_for_https_alone(self, tmp_path: Path) -> None:
        there = certify(tmp_path, NAME, NOON).certificates
        settings = over_https(Settings(_env_file=None), there)  # type: ignore[call-arg]
        app = an_app(an_office(), secure_cookies=settings.secure_cookies)
        client = TestClient(app, base_url=f"https://{NAME}")

        answer = client.post("/sign-in", data={"person": ADA.id, "pin": PIN}, follow_redirects=False)

        assert settings.base_url == f"https://{NAME}:8765"
        assert "secure" in answer.headers["set-cookie"].lower().split("; ")

    @pytest.mark.parametrize(("days", "scheme", "told"), [
        (0, "https", None), (90, "https", "max-age=7776000"), (90, "http", None),
    ])  # fmt: skip
    def test_a_browser_is_bound_to_https_only_where_a_setting_asks_for_it(
        self, days: int, scheme: str, told: str | None
    ) -> None:
        client = TestClient(an_app(an_office(), hsts_days=days), base_url=f"{scheme}://{NAME}")

        assert client.get("/sign-in").headers.get("strict-transport-security") == told


def test_no_certificate_is_longer_than_browsers_take() -> None:
    assert leaves.DAYS <= 398


class TestServe:
    """The command itself, in a process of its own."""

    @staticmethod
    def settings(tmp_path: Path, *ports: int) -> dict[str, str]:
        return {
            **os.environ,
            "COTTERPIN_DATABASE_URL": f"sqlite:///{tmp_path / 'office.db'}",
            "COTTERPIN_MAIL_FOLDER": str(tmp_path / "post"),
            "COTTERPIN_CERTIFICATE_FOLDER": str(tmp_path / "certificates"),
            "COTTERPIN_PORT": str(ports[0]),
            "COTTERPIN_HAND_OUT_PORT": str(ports[1]),
        }

    @contextmanager
    def serving(self, tmp_path: Path, pages: int, hand_out: int) -> Iterator[subprocess.Popen[str]]:
        """Gives the process once it listens; ends it as a service manager does, and wants it to end well."""
        process = subprocess.Popen(
            [sys.executable, "-m", "app", "serve"], cwd=ROOT, env=self.settings(tmp_path, pages, hand_out),
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        )  # fmt: skip
        try:
            until = time.monotonic() + 60
            while not _listens(pages):
                assert process.poll() is None, process.communicate()[0]
                assert time.monotonic() < until, "it never listened"
                time.sleep(0.1)
            yield process
        finally:
            process.terminate()
            process.wait(timeout=20)

    def test_with_certificates_it_speaks_https_and_hands_the_authority_out(self, tmp_path: Path) -> None:
        """The certificate it finds is due, so it is also renewed before anything is served."""
        folder = tmp_path / "certificates"
        certify(folder, NAME, now() - timedelta(days=380))
        before = (folder / LEAF).read_bytes()
        pages, hand_out = _free_port(), _free_port()
        with self.serving(tmp_path, pages, hand_out) as process:
            with connected(pages, NAME, folder / authorities.CERTIFICATE) as connection:
                assert asked(connection) == "200 OK"
            with urllib.request.urlopen(f"http://127.0.0.1:{hand_out}/authority.crt", timeout=10) as answer:
                assert x509.load_der_x509_certificate(answer.read()) == read_authority(folder).certificate
            with pytest.raises(OSError, match=r"RemoteDisconnected|closed|reset|Empty|HTTP"):
                urllib.request.urlopen(f"http://127.0.0.1:{pages}/sign-in", timeout=10)
        said = process.stdout.read() if process.stdout else ""
        assert (folder / LEAF).read_bytes() != before
        assert f"Open https://{NAME}:{pages}" in said
        assert f"New tablets: http://{NAME}:{hand_out}" in said
        assert "Traceback" not in said

    def test_without_certificates_it_serves_as_before(self, tmp_path: Path) -> None:
        pages, hand_out = _free_port(), _free_port()
        with self.serving(tmp_path, pages, hand_out) as process:
            with urllib.request.urlopen(f"http://127.0.0.1:{pages}/sign-in", timeout=10) as answer:
                assert answer.status == 200
            assert not _listens(hand_out)
        said = process.stdout.read() if process.stdout else ""
        assert said.strip() == f"Open http://localhost:{pages}"


def _free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as one:
        return int(one.getsockname()[1])


def _listens(port: int) -> bool:
    with socket.socket() as one:
        return one.connect_ex(("127.0.0.1", port)) == 0
