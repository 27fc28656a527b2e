"""A self-signed certificate for the page's connections over a network.

No authority has signed it, so a browser warns. A guest who compares the fingerprint that the
browser shows with the printed one can exclude an attacker in between.
"""

import datetime
import ipaddress
import os
import secrets
import ssl
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    PrivateFormat,
)
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

__all__ = ["Certificate", "make_certificate"]

_EARLIER, _LATER = datetime.timedelta(days=1), datetime.timedelta(days=30)
"""Validity before and after now: clocks of tablets differ; the program keeps no certificate."""


@dataclass(frozen=True, slots=True)
class Certificate:
    """A certificate, ready for use.

    Parameters
    ----------
    context : ssl.SSLContext
        Server context; the only place that holds the private key.
    fingerprint : str
        SHA-256 of the certificate as browsers show it: pairs of hexadecimal digits.
    """

    context: ssl.SSLContext
    fingerprint: str


def make_certificate(names: Sequence[str], addresses: Sequence[str]) -> Certificate:
    """Make a key (ECDSA, P-256) and a self-signed certificate for it (RFC 5280).

    Parameters
    ----------
    names : sequence of str
        Host names of this machine.
    addresses : sequence of str
        IP addresses of this machine.

    Returns
    -------
    Certificate
    """
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Turnlight")])
    now = datetime.datetime.now(datetime.UTC)
    subjects: list[x509.GeneralName] = [x509.DNSName(name) for name in names]
    subjects += [x509.IPAddress(ipaddress.ip_address(address)) for address in addresses]
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - _EARLIER)
        .not_valid_after(now + _LATER)
        .add_extension(x509.SubjectAlternativeName(subjects), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )
    password = secrets.token_bytes(32).hex().encode()
    private = key.private_bytes(
        Encoding.PEM, PrivateFormat.PKCS8, BestAvailableEncryption(password)
    )
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    context.set_alpn_protocols(["http/1.1"])
    _load(context, private + certificate.public_bytes(Encoding.PEM), password)
    return Certificate(context, certificate.fingerprint(hashes.SHA256()).hex(":").upper())


def _load(context: ssl.SSLContext, pem: bytes, password: bytes) -> None:
    """Load the certificate by a file, which OpenSSL requires; the key is encrypted in it."""
    handle, name = tempfile.mkstemp(prefix="turnlight-", suffix=".pem")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(pem)
        context.load_cert_chain(name, password=password)
    finally:
        Path(name).unlink()
