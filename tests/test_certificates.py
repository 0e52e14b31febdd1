"""TLS without a proxy: one's own certificate or one that Foible makes; what is wrong with a file is said of that file."""

from __future__ import annotations

import socket
import ssl
import threading
import time
from contextlib import closing, suppress
from datetime import UTC, datetime, timedelta
from http.client import HTTPConnection, HTTPSConnection
from typing import TYPE_CHECKING

import pytest
import uvicorn
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)
from cryptography.x509.oid import NameOID
from starlette.responses import JSONResponse

from foible.errors import InputError
from foible.web.certificates import RENEWED, given_certificate, own_certificate
from foible.web.connections import Limits
from foible.web.encryption import protocol
from foible.web.serve import SHARES_PORTS, ServeOptions, _listening, _settings

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from starlette.types import Receive, Scope, Send

NOW = datetime.now(UTC)
SOON_S = 0.5
PATIENCE_S = 60
EACH = 4
NAME = "foible.lanternfield.example"
"""An invented club under the domain that RFC 2606 keeps for examples."""


def own(tmp_path: Path, *, addresses: tuple[str, ...] = ("127.0.0.1",), now: datetime | None = None) -> str:
    return own_certificate(f"sqlite:///{tmp_path / 'r.db'}", ["localhost"], addresses, now=now).fingerprint


def issued(
    *names: str, begins: datetime = NOW - timedelta(days=1), ends: datetime = NOW + timedelta(days=9)
) -> tuple[bytes, bytes]:
    """Return a certificate and its key as an authority of one's own issues them, both in PEM."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Lanternfield")])
    builder = x509.CertificateBuilder().subject_name(name).issuer_name(name).public_key(key.public_key()).serial_number(7)
    subjects = x509.SubjectAlternativeName([x509.DNSName(each) for each in names])
    made = builder.not_valid_before(begins).not_valid_after(ends).add_extension(subjects, critical=False)
    private = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, BestAvailableEncryption(b"secret"))
    return made.sign(key, hashes.SHA256()).public_bytes(Encoding.PEM), private


def plain(private: bytes) -> bytes:
    return load_pem_private_key(private, b"secret").private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())


# --- one that Foible makes --------------------------------------------------------------------------------------------


def test_the_certificate_outlasts_a_restart_and_its_key_is_its_owners_alone(tmp_path: Path) -> None:
    first = own(tmp_path)
    path = tmp_path / "r.db.tls.pem"
    assert path.stat().st_mode & 0o077 == 0
    assert own(tmp_path) == first
    assert [each.name for each in tmp_path.iterdir()] == [path.name]
    der = ssl.PEM_cert_to_DER_cert(path.read_text()[path.read_text().index("-----BEGIN CERTIFICATE") :])
    assert x509.load_der_x509_certificate(der).fingerprint(hashes.SHA256()).hex() == first.replace(":", "").lower()


def test_it_is_renewed_before_it_expires_and_for_another_address(tmp_path: Path) -> None:
    first = own(tmp_path)
    assert own(tmp_path, now=NOW + RENEWED - timedelta(days=2)) == first
    assert own(tmp_path, now=NOW - timedelta(days=9_000)) == first, "a clock put back makes no new one"
    second = own(tmp_path, now=NOW + RENEWED + timedelta(days=2))
    assert second != first
    assert own(tmp_path, addresses=("127.0.0.1", "192.0.2.1")) != second


@pytest.mark.parametrize(
    "left", [b"", b"rubbish", b"\xff\x00", b"-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n"]
)
def test_one_that_is_not_whole_is_made_anew(tmp_path: Path, left: bytes) -> None:
    path = tmp_path / "r.db.tls.pem"
    path.write_bytes(left)
    first = own(tmp_path)
    assert own(tmp_path) == first
    assert path.stat().st_mode & 0o077 == 0


def test_one_that_cannot_be_kept_lasts_until_the_end(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert own(tmp_path / "nowhere")
    assert "cannot be kept" in capsys.readouterr().err


def test_it_is_for_all_names_and_addresses_of_this_machine_and_they_are_served(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A machine has an address on each network that it is on; only the first stands in the code to join."""
    monkeypatch.setattr("foible.web.serve.addresses", lambda: ("192.0.2.1", "198.51.100.1"))
    monkeypatch.setattr("foible.web.serve.address", lambda: "192.0.2.1")
    monkeypatch.setattr("foible.web.serve.host_names", lambda: ("bench", "bench.local", "not a name"))
    settings = _settings(ServeOptions(8711, share=True, tls=True, names=[NAME]), f"sqlite:///{tmp_path / 'r.db'}", "00" * 32)
    assert {"192.0.2.1", "198.51.100.1", "bench", "bench.local", NAME} <= set(settings.hosts)
    certificate = x509.load_pem_x509_certificate((tmp_path / "r.db.tls.pem").read_bytes())
    subjects = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert set(subjects.get_values_for_type(x509.DNSName)) == {"localhost", "bench", "bench.local", NAME}
    assert set(map(str, subjects.get_values_for_type(x509.IPAddress))) == {"127.0.0.1", "::1", "192.0.2.1", "198.51.100.1"}
    lifetime = certificate.not_valid_after_utc - certificate.not_valid_before_utc
    assert lifetime <= timedelta(days=825), "Apple's devices take none that lasts longer (from memory)"


# --- one's own --------------------------------------------------------------------------------------------------------


def test_the_names_of_ones_own_certificate_are_served_and_joined_at(tmp_path: Path) -> None:
    certificate, key = issued(NAME, "*.lanternfield.example")
    (tmp_path / "c.pem").write_bytes(certificate)
    (tmp_path / "k.pem").write_bytes(plain(key))
    options = ServeOptions(8711, share=True, certificate=tmp_path / "c.pem", key=tmp_path / "k.pem")
    settings = _settings(options, f"sqlite:///{tmp_path / 'r.db'}", "00" * 32)
    assert settings.join.startswith(f"https://{NAME}:8711/join#")
    assert NAME in settings.hosts
    assert not any("*" in host for host in settings.hosts)
    (tmp_path / "both.pem").write_bytes(plain(key) + certificate)
    assert settings.certificate
    assert given_certificate(tmp_path / "both.pem", None).fingerprint == settings.certificate.fingerprint


CERTIFICATE, KEY = issued(NAME)
BAD = {
    "no such file": (None, plain(KEY), r"the certificate .*c\.pem cannot be read \(No such file"),
    "no certificate": (b"rubbish", plain(KEY), r"no certificate in PEM in .*c\.pem"),
    "no end": (b"-" * 300_000, plain(KEY), r"the certificate .*c\.pem is larger than 200 kB"),
    "no key": (CERTIFICATE, b"rubbish", r"no private key in PEM in .*k\.pem"),
    "key file missing": (CERTIFICATE, None, r"the private key .*k\.pem cannot be read"),
    "exchanged": (plain(KEY), CERTIFICATE, r"no certificate in PEM in .*c\.pem"),
    "encrypted key": (CERTIFICATE, KEY, r"private key in .*k\.pem is encrypted .* — decrypt it"),
    "of another": (CERTIFICATE, plain(issued(NAME)[1]), r"k\.pem does not belong to the certificate in .*c\.pem"),
}


@pytest.mark.parametrize("what", BAD)
def test_a_file_that_will_not_do_is_named(tmp_path: Path, what: str) -> None:
    certificate, key, told = BAD[what]
    for name, content in (("c.pem", certificate), ("k.pem", key)):
        if content is not None:
            (tmp_path / name).write_bytes(content)
    with pytest.raises(InputError, match=told):
        given_certificate(tmp_path / "c.pem", tmp_path / "k.pem")


def test_one_that_has_expired_is_refused(tmp_path: Path) -> None:
    certificate, key = issued(NAME, begins=NOW - timedelta(days=90), ends=NOW - timedelta(days=1))
    (tmp_path / "c.pem").write_bytes(certificate + plain(key))
    with pytest.raises(InputError, match=r"is valid from .* and today is .* — renew it"):
        given_certificate(tmp_path / "c.pem", None)


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"tls": True, "certificate": "c.pem"}, "both a certificate and --tls"),
        ({"key": "k.pem"}, "a key is given, but no certificate"),
    ],
)
def test_options_that_contradict_each_other_are_refused(tmp_path: Path, given: dict[str, object], told: str) -> None:
    options = ServeOptions(8711, **{name: tmp_path / value if isinstance(value, str) else value for name, value in given.items()})  # type: ignore[arg-type]
    with pytest.raises(InputError, match=told):
        _settings(options, "sqlite://", "00" * 32)


# --- on the wire ------------------------------------------------------------------------------------------------------


async def app(scope: Scope, receive: Receive, send: Send) -> None:
    """Tell how a request came, once the whole of it is there."""
    size = 0
    while True:
        message = await receive()
        size += len(message.get("body", b""))
        if not message.get("more_body"):
            break
    await JSONResponse([scope["scheme"], size])(scope, receive, send)


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[int, ssl.SSLContext, Limits]]:
    """Serve with a certificate of ours, short deadlines and few connections for each address."""
    folder = tmp_path_factory.mktemp("tls")
    made = own_certificate(f"sqlite:///{folder / 'r.db'}", ["localhost"], ["127.0.0.1"])
    limits = Limits(100, EACH)
    short = type("Short", (protocol(limits, made.context),), {"header_s": SOON_S, "body_s": SOON_S})
    server = uvicorn.Server(uvicorn.Config(app, http=short, lifespan="off", log_level="error", timeout_graceful_shutdown=1))
    listener = _listening("0.0.0.0", 0)  # noqa: S104 — for 127.0.0.2 and on, which are this machine too
    thread = threading.Thread(target=server.run, args=([listener],))
    thread.start()
    trusting = ssl.create_default_context(cafile=str(folder / "r.db.tls.pem"))
    yield listener.getsockname()[1], trusting, limits
    server.should_exit = True
    thread.join()


def test_a_device_that_trusts_the_certificate_is_served(served: tuple[int, ssl.SSLContext, Limits]) -> None:
    """Its name, address and dates are checked by OpenSSL; a body of any size arrives whole."""
    port, trusting, _ = served
    with closing(HTTPSConnection("127.0.0.1", port, timeout=PATIENCE_S, context=trusting)) as connection:
        for size in (0, 1, 700_000):
            connection.request("POST", "/", b"a" * size)
            assert connection.getresponse().read() == f'["https",{size}]'.encode()
    with socket.create_connection(("127.0.0.1", port), PATIENCE_S) as raw, trusting.wrap_socket(raw, server_hostname="localhost"):
        pass
    with socket.create_connection(("127.0.0.1", port), PATIENCE_S) as raw, pytest.raises(ssl.SSLCertVerificationError):
        trusting.wrap_socket(raw, server_hostname="elsewhere.example")


def test_without_tls_this_machine_is_served_and_no_other(
    served: tuple[int, ssl.SSLContext, Limits], monkeypatch: pytest.MonkeyPatch
) -> None:
    port, _, _ = served
    answers = []
    for here in (True, False):
        monkeypatch.setattr("foible.web.encryption.Encrypted._is_here", lambda _, here=here: here)
        with closing(HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)) as connection:
            connection.request("GET", "/join?a=b")
            answer = connection.getresponse()
            answers.append((answer.status, answer.headers.get("location"), answer.read()))
    told = f"Foible is encrypted here: open https://127.0.0.1:{port}/\n".encode()
    assert answers == [(200, None, b'["http",0]'), (307, f"https://127.0.0.1:{port}/", told)]


@pytest.mark.skipif(not SHARES_PORTS, reason="needs a system where 127.0.0.2 is this machine")
@pytest.mark.parametrize("half", [b"", b"\x16", b"\x16\x03\x01\x02\x00\x01\x00", b"\x16\x03\x01\x00\x05rubbish"], ids=repr)
def test_a_handshake_that_stops_half_way_counts_and_is_not_waited_for(
    served: tuple[int, ssl.SSLContext, Limits], half: bytes
) -> None:
    port, trusting, limits = served
    many = [socket.create_connection(("127.0.0.1", port), PATIENCE_S, source_address=("127.0.0.2", 0)) for _ in range(EACH + 2)]
    try:
        for connection in many:
            with suppress(ConnectionError):  # closed already: it is one too many
                connection.sendall(half)
        with socket.create_connection(("127.0.0.1", port), PATIENCE_S, source_address=("127.0.0.3", 0)) as raw:
            trusting.wrap_socket(raw, server_hostname="localhost").close()
        for connection in many:
            with closing(connection):
                try:
                    while connection.recv(1_000):  # an alert may come first
                        pass
                except ConnectionResetError:
                    continue
    finally:
        for connection in many:
            connection.close()
    until = time.monotonic() + PATIENCE_S
    while limits._open["127.0.0.2"] or limits._open["127.0.0.3"]:
        assert time.monotonic() < until, "some are still counted"
        time.sleep(0.02)  # between two looks
