"""The certificate as a TLS client sees it, and what it says (RFC 5280)."""

import datetime
import hashlib
import ipaddress
import re
import socket
import ssl
import tempfile
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID

from render.page.server.certificate import make_certificate
from render.page.server.machine import address_on_network, own_addresses, own_names


def handshake(context: ssl.SSLContext) -> bytes:
    """Shake hands with a server of that context, and give its certificate."""
    trusting = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    trusting.check_hostname, trusting.verify_mode = False, ssl.CERT_NONE
    to_server, to_client = ssl.MemoryBIO(), ssl.MemoryBIO()
    server = context.wrap_bio(to_server, to_client, server_side=True)
    client = trusting.wrap_bio(to_client, to_server)
    for _ in range(4):
        for side in (client, server):
            try:
                side.do_handshake()
            except ssl.SSLWantReadError:
                pass
    found = client.getpeercert(binary_form=True)
    assert found is not None
    return found


def test_client_gets_the_certificate_whose_fingerprint_is_shown() -> None:
    made = make_certificate(["bench.local"], ["192.0.2.7"])
    der = handshake(made.context)
    assert re.fullmatch(r"([0-9A-F]{2}:){31}[0-9A-F]{2}", made.fingerprint)
    assert made.fingerprint.replace(":", "").lower() == hashlib.sha256(der).hexdigest()
    assert make_certificate([], ["192.0.2.7"]).fingerprint != made.fingerprint


def test_certificate_says_what_browsers_ask_for() -> None:
    names, addresses = ["bench.local"], ["192.0.2.7", "127.0.0.1"]
    certificate = x509.load_der_x509_certificate(
        handshake(make_certificate(names, addresses).context)
    )
    key = certificate.public_key()
    assert isinstance(key, ec.EllipticCurvePublicKey)
    assert key.curve.name == "secp256r1"
    told = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert told.get_values_for_type(x509.DNSName) == names
    assert told.get_values_for_type(x509.IPAddress) == [ipaddress.ip_address(a) for a in addresses]
    use = certificate.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert ExtendedKeyUsageOID.SERVER_AUTH in use
    now = datetime.datetime.now(datetime.UTC)
    assert certificate.not_valid_before_utc < now < certificate.not_valid_after_utc
    valid = certificate.not_valid_after_utc - certificate.not_valid_before_utc
    assert valid < datetime.timedelta(days=60)


def test_key_is_left_in_no_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    seen = []
    load = ssl.SSLContext.load_cert_chain

    def watch(context: ssl.SSLContext, name: str, *, password: bytes) -> None:
        file = Path(name)
        seen.append((file.parent, file.stat().st_mode & 0o777))
        assert b"ENCRYPTED PRIVATE KEY" in file.read_bytes()
        load(context, name, password=password)

    monkeypatch.setattr(ssl.SSLContext, "load_cert_chain", watch)
    make_certificate(["bench.local"], [])
    assert seen == [(tmp_path, 0o600)]
    assert list(tmp_path.iterdir()) == []


def test_machine_knows_its_own_addresses() -> None:
    addresses = own_addresses()
    assert address_on_network() in addresses
    for address in addresses:
        # Only an address of this machine can be bound: bind(2), EADDRNOTAVAIL.
        with socket.socket() as probe:
            probe.bind((address, 0))
    assert "localhost" in own_names()
    assert all(name == name.lower() for name in own_names())


def test_nothing_older_than_tls_1_2_is_spoken() -> None:
    """RFC 8996 puts TLS 1.0 and 1.1 out of use."""
    assert make_certificate([], ["192.0.2.7"]).context.minimum_version >= ssl.TLSVersion.TLSv1_2
