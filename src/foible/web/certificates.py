"""Certificates to serve with: one that the user has, in files, or one that Foible makes for this machine and keeps."""

from __future__ import annotations

import ipaddress
import re
import ssl
import sys
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from cryptography import x509
from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat, PublicFormat, load_pem_private_key
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from foible.errors import InputError
from foible.web.own_files import beside, store

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from cryptography.hazmat.primitives.asymmetric.types import CertificateIssuerPrivateKeyTypes, PrivateKeyTypes

__all__ = ["Certificate", "given_certificate", "own_certificate"]

LASTS = timedelta(days=800)
"""How long a certificate of ours is valid; Apple's devices take none of more than 825 days (from memory)."""
RENEWED = timedelta(days=400)
"""With less than this left, a start makes a new one."""
LARGEST = 200_000
"""The largest file that is taken for a certificate or a key [byte]; a chain of certificates takes a few thousand."""
NAME = re.compile(r"(?=.{1,253}$)[a-z0-9_]([a-z0-9_-]{0,61}[a-z0-9])?(\.[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?)*")
"""A host's name that a certificate can carry (RFC 1123, 2.1; underscores do occur)."""
PAIR = "give the file with the certificate to --certificate and that with its private key to --key, both in PEM"


@dataclass(frozen=True)
class Certificate:
    """What a server speaks TLS with."""

    context: ssl.SSLContext
    fingerprint: str
    """Its SHA-256, as browsers show it: pairs of hexadecimal digits."""
    names: tuple[str, ...]
    """The names it is for, without those that stand for many."""
    own: bool
    """Whether Foible made it, so that browsers warn of it."""


def given_certificate(certificate: Path, key: Path | None) -> Certificate:
    """Return a certificate from the user's own files; without `key` both are in one. Raises InputError."""
    chain, private = _certificates(certificate), _private_key(key or certificate)
    if _public(chain[0]) != private.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo):
        seen = f"the private key in {key or certificate} does not belong to the certificate in {certificate}"
        raise InputError(seen=seen, remedy=f"{PAIR}; the server's own certificate comes first in its file")
    _check_dates(certificate, chain[0])
    return _loaded(chain[0], certificate, key, own=False)


def own_certificate(url: str, names: Iterable[str], addresses: Iterable[str], *, now: datetime | None = None) -> Certificate:
    """Return the certificate that is kept beside the records at `url`; where there is none that will do, one is made.

    It will do while it lasts long enough and is for all of `names` and `addresses`.
    """
    now = now or datetime.now(UTC)
    wanted = [x509.DNSName(name) for name in sorted(set(names)) if NAME.fullmatch(name)]
    there = [x509.IPAddress(ipaddress.ip_address(each)) for each in sorted(set(addresses))]
    path = beside(url, ".tls.pem")
    with suppress(InputError, ValueError, ssl.SSLError):
        known = _certificates(path)[0]
        _private_key(path)
        if now < known.not_valid_after_utc - RENEWED and set(_subjects(known)) >= {*wanted, *there}:
            return _loaded(known, path, None, own=True)
    made, text = _made([*wanted, *there], now)
    try:
        store(path, text)
    except OSError as error:
        told = "devices will warn of a new one after a restart"
        sys.stderr.write(f"The certificate in {path} cannot be kept ({error.strerror}): {told}.\n")
    with TemporaryDirectory(prefix="foible-") as folder:  # OpenSSL reads files; this one is for nobody else
        (file := Path(folder) / "both.pem").write_text(text, encoding="ascii")
        return _loaded(made, file, None, own=True)


def _made(subjects: Sequence[x509.GeneralName], now: datetime) -> tuple[x509.Certificate, str]:
    """Make a key and a certificate signed with it (RFC 5280), and return it with the PEM of both."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Foible on this network")])
    usage = x509.KeyUsage(
        digital_signature=True, content_commitment=False, key_encipherment=False, data_encipherment=False, key_agreement=False,
        key_cert_sign=False, crl_sign=False, encipher_only=False, decipher_only=False,
    )  # fmt: skip
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))  # the clock of a device may be a little behind
        .not_valid_after(now + LASTS)
        .add_extension(x509.SubjectAlternativeName(subjects), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )
    private = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    return made, (private + made.public_bytes(Encoding.PEM)).decode("ascii")


def _loaded(known: x509.Certificate, certificate: Path, key: Path | None, *, own: bool) -> Certificate:
    """Return a certificate as the server uses it. Raises InputError where TLS does not take it."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    context.set_alpn_protocols(["http/1.1"])
    try:
        context.load_cert_chain(certificate, key, password="")
    except (OSError, ValueError) as error:
        seen = f"the certificate in {certificate} cannot be used ({getattr(error, 'reason', None) or error})"
        raise InputError(seen=seen, remedy=PAIR) from error
    names = tuple(each.value for each in _subjects(known) if isinstance(each, x509.DNSName) and not each.value.startswith("*"))
    return Certificate(context, known.fingerprint(hashes.SHA256()).hex(":").upper(), names, own)


def _certificates(path: Path) -> list[x509.Certificate]:
    """Return the certificates in a file. Raises InputError."""
    try:
        return x509.load_pem_x509_certificates(_read(path, "certificate"))
    except ValueError as error:
        raise InputError(seen=f"there is no certificate in PEM in {path}", remedy=PAIR) from error


def _private_key(path: Path) -> CertificateIssuerPrivateKeyTypes | PrivateKeyTypes:
    """Return the private key in a file. Raises InputError."""
    try:
        return load_pem_private_key(_read(path, "private key"), None)
    except TypeError as error:
        seen = f"the private key in {path} is encrypted with a passphrase"
        raise InputError(seen=seen, remedy="decrypt it into a file that only you may read (openssl pkey -in … -out …)") from error
    except (ValueError, UnsupportedAlgorithm) as error:
        raise InputError(seen=f"there is no private key in PEM in {path}", remedy=PAIR) from error


def _read(path: Path, what: str) -> bytes:
    try:
        with path.open("rb") as file:
            read = file.read(LARGEST + 1)
    except OSError as error:
        raise InputError(seen=f"the {what} {path} cannot be read ({error.strerror})", remedy=PAIR) from error
    if len(read) > LARGEST:
        raise InputError(seen=f"the {what} {path} is larger than {LARGEST // 1000} kB", remedy=PAIR)
    return read


def _check_dates(path: Path, certificate: x509.Certificate) -> None:
    now, begins, ends = datetime.now(UTC), certificate.not_valid_before_utc, certificate.not_valid_after_utc
    if not begins <= now <= ends:
        seen = f"the certificate in {path} is valid from {begins:%Y-%m-%d} to {ends:%Y-%m-%d}, and today is {now:%Y-%m-%d}"
        raise InputError(seen=seen, remedy="renew it, or have Foible make one of its own with --tls")


def _public(certificate: x509.Certificate) -> bytes:
    return certificate.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)


def _subjects(certificate: x509.Certificate) -> list[x509.GeneralName]:
    """Return the names and addresses that a certificate is for."""
    with suppress(x509.ExtensionNotFound):
        return list(certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value)
    return []
