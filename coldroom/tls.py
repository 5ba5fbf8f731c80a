"""The farm's own certificate authority, for HTTPS on the local network.

A browser gives pages a camera only where it trusts the address, and a warning clicked away is
no trust. Keys stay in the data folder; what a phone is asked to trust is the authority alone.
"""

import ipaddress
import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

Key = ec.EllipticCurvePrivateKey

AUTHORITY_YEARS = 10
# Phones refuse certificates of their own authorities that last much longer than a year.
SERVER_DAYS = 397
RENEW_BEFORE = timedelta(days=30)


def authority_file(folder: Path) -> Path:
    """Return the certificate that phones are asked to trust."""
    return folder / "tls" / "authority.pem"


def ensure_certificate(folder: Path, names: list[str], now: datetime) -> tuple[Path, Path]:
    """Return (certificate, key) of this machine for these names, made or renewed if needed."""
    home = folder / "tls"
    home.mkdir(mode=0o700, exist_ok=True)
    authority, authority_key = _authority(home, now)
    certificate, key = home / "server.pem", home / "server-key.pem"
    if not (certificate.exists() and _still_good(certificate, names, now)):
        _issue(certificate, key, names, authority, authority_key, now)
    return certificate, key


def _authority(home: Path, now: datetime) -> tuple[x509.Certificate, Key]:
    certificate, key = home / "authority.pem", home / "authority-key.pem"
    if certificate.exists() and key.exists():
        return (
            x509.load_pem_x509_certificate(certificate.read_bytes()),
            serialization.load_pem_private_key(key.read_bytes(), None),
        )
    made_key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Cold room log of this farm")])
    made = (
        _builder(name, name, made_key, now, timedelta(days=365 * AUTHORITY_YEARS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs=True), critical=True)
        .add_extension(_own_identifier(made_key), critical=False)
        .sign(made_key, hashes.SHA256())
    )
    _write_key(key, made_key)
    certificate.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    return made, made_key


def _issue(
    certificate: Path,
    key: Path,
    names: list[str],
    authority: x509.Certificate,
    authority_key: Key,
    now: datetime,
) -> None:
    made_key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, names[0])])
    made = (
        _builder(subject, authority.subject, made_key, now, timedelta(days=SERVER_DAYS))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(map(_general_name, names)), critical=False)
        .add_extension(_own_identifier(made_key), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(authority_key.public_key()),
            critical=False,
        )
        .sign(authority_key, hashes.SHA256())
    )
    _write_key(key, made_key)
    certificate.write_bytes(made.public_bytes(serialization.Encoding.PEM))


def _builder(
    subject: x509.Name, issuer: x509.Name, key: Key, now: datetime, lasts: timedelta
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + lasts)
    )


def _own_identifier(key: Key) -> x509.SubjectKeyIdentifier:
    return x509.SubjectKeyIdentifier.from_public_key(key.public_key())


def _usage(signs: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs,
        key_cert_sign=signs,
        crl_sign=signs,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _general_name(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def _still_good(certificate: Path, names: list[str], now: datetime) -> bool:
    made = x509.load_pem_x509_certificate(certificate.read_bytes())
    covered = made.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    known = {str(name.value) for name in covered}
    return set(names) <= known and made.not_valid_after_utc - RENEW_BEFORE > now.astimezone(UTC)


def _write_key(file: Path, key: Key) -> None:
    data = key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    file.unlink(missing_ok=True)
    descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "wb") as out:
        out.write(data)
