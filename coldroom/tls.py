"""The farm's own certificate authority, for HTTPS on the local network.

A browser gives pages a camera only where it trusts the address, and a warning clicked away is
no trust. What a phone is asked to trust is the authority alone. Its key signs one certificate and
is thrown away unwritten: that of the farm, which by its name constraints (RFC 5280, 4.2.1.10) can
vouch for the farm's own names and private addresses and for nothing else. Whoever gets hold of
the keys here can pose as the farm to its phones, and as nobody else.
"""

import ipaddress
import os
import shutil
from dataclasses import dataclass
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
# Addresses that no public site has: RFC 1918, 1122, 3927, 4193, 4291.
PRIVATE = (
    "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "127.0.0.0/8", "169.254.0.0/16",
    "fc00::/7", "fe80::/10", "::1/128",
)  # fmt: skip


@dataclass(frozen=True)
class Served:
    """What HTTPS is served with. left_out: names the authority may not vouch for.

    is_old: it goes on under the authority of an older program, until phones trust the new one.
    """

    certificate: Path
    key: Path
    left_out: tuple[str, ...] = ()
    is_old: bool = False


def authority_file(folder: Path) -> Path:
    """Return the certificate that phones are asked to trust."""
    return folder / "tls" / "authority.pem"


def old_authority_file(folder: Path) -> Path:
    """Return the certificate phones were asked to trust before, whose key was unlimited."""
    return folder / "tls" / "old" / "authority.pem"


def holds_unlimited(folder: Path) -> bool:
    """Return whether the key of an authority that could vouch for any site still lies there."""
    return _unlimited(folder / "tls").exists()


def can_vouch(folder: Path, name: str) -> bool:
    """Return whether the farm's certificate may hold for a name; so too where there is none."""
    farm = folder / "tls" / "farm.pem"
    return not farm.exists() or _may_vouch(x509.load_pem_x509_certificate(farm.read_bytes()), name)


def ensure_certificate(
    folder: Path, names: list[str], now: datetime, renew: bool = False
) -> Served:
    """Return the certificate of this machine for these names, made or renewed if needed.

    renew: phones trust the new authority by now, or will be asked to trust another.
    """
    home = folder / "tls"
    home.mkdir(mode=0o700, exist_ok=True)
    _retire_unlimited(home)
    if renew:
        _begin_anew(home)
    farm, farm_key = _farm(home, names, now)
    permitted = [name for name in names if _may_vouch(farm, name)]
    certificate, key = home / "server.pem", home / "server-key.pem"
    if not (certificate.exists() and _still_good(certificate, permitted, now)):
        _issue(certificate, key, permitted, farm, farm_key, now)
    old, old_key = home / "old" / "server.pem", home / "old" / "server-key.pem"
    if old.exists() and _still_good(old, names, now):
        return Served(old, old_key, is_old=True)
    return Served(certificate, key, tuple(name for name in names if name not in permitted))


def _unlimited(home: Path) -> Path:
    return home / "authority-key.pem"


def _retire_unlimited(home: Path) -> None:
    """Delete the key of an authority that could vouch for any site; its last certificate stays."""
    unlimited = _unlimited(home)
    if not unlimited.exists():
        return
    (home / "old").mkdir(mode=0o700, exist_ok=True)
    for name in ("authority.pem", "server.pem", "server-key.pem"):
        if (home / name).exists():
            (home / name).replace(home / "old" / name)
    unlimited.unlink()


def _begin_anew(home: Path) -> None:
    """Go over to the new authority where an old one is still served; else forget this one."""
    if (home / "old" / "server.pem").exists():
        (home / "old" / "server.pem").unlink()
        (home / "old" / "server-key.pem").unlink(missing_ok=True)
        return
    shutil.rmtree(home / "old", ignore_errors=True)
    for name in ("authority.pem", "farm.pem", "farm-key.pem", "server.pem", "server-key.pem"):
        (home / name).unlink(missing_ok=True)


def _farm(home: Path, names: list[str], now: datetime) -> tuple[x509.Certificate, Key]:
    """Return the farm's own certificate and key, which sign those of the server."""
    certificate, key = home / "farm.pem", home / "farm-key.pem"
    if not (certificate.exists() and key.exists() and (home / "authority.pem").exists()):
        _found(home, names, now)
    return (
        x509.load_pem_x509_certificate(certificate.read_bytes()),
        serialization.load_pem_private_key(key.read_bytes(), None),
    )


def _found(home: Path, names: list[str], now: datetime) -> None:
    """Make an authority and the one certificate it signs; its key is never written."""
    lasts = timedelta(days=365 * AUTHORITY_YEARS)
    key, farm_key = (ec.generate_private_key(ec.SECP256R1()) for _ in range(2))
    name = _name(f"Cold room log of this farm, {now:%Y-%m-%d}")
    authority = (
        _builder(name, name, key, now, lasts)
        .add_extension(x509.BasicConstraints(ca=True, path_length=1), critical=True)
        .add_extension(_usage(signs=True), critical=True)
        .add_extension(_own_identifier(key), critical=False)
        .sign(key, hashes.SHA256())
    )
    farm = (
        _builder(_name("Cold room log, this farm's names alone"), name, farm_key, now, lasts)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs=True), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(_limits(names), critical=True)
        .add_extension(_own_identifier(farm_key), critical=False)
        .add_extension(_identifier_of(key), critical=False)
        .sign(key, hashes.SHA256())
    )
    _write_key(home / "farm-key.pem", farm_key)
    (home / "farm.pem").write_bytes(farm.public_bytes(serialization.Encoding.PEM))
    (home / "authority.pem").write_bytes(authority.public_bytes(serialization.Encoding.PEM))


def _limits(names: list[str]) -> x509.NameConstraints:
    """Return what may be vouched for: these names, and addresses that no public site has."""
    own = (_general_name(name) for name in names)
    ranges = (x509.IPAddress(ipaddress.ip_network(private)) for private in PRIVATE)
    permitted = [name for name in own if isinstance(name, x509.DNSName)]
    return x509.NameConstraints([*permitted, *ranges], None)


def _may_vouch(farm: x509.Certificate, name: str) -> bool:
    limits = farm.extensions.get_extension_for_class(x509.NameConstraints).value
    wanted = _general_name(name)
    if isinstance(wanted, x509.IPAddress):
        ranges = [one.value for one in limits.permitted_subtrees or () if type(one) is type(wanted)]
        return any(wanted.value in each for each in ranges if each.version == wanted.value.version)
    return wanted in (limits.permitted_subtrees or ())


def _name(common: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, common)])


def _issue(
    certificate: Path,
    key: Path,
    names: list[str],
    farm: x509.Certificate,
    farm_key: Key,
    now: datetime,
) -> None:
    made_key = ec.generate_private_key(ec.SECP256R1())
    made = (
        _builder(_name(names[0]), farm.subject, made_key, now, timedelta(days=SERVER_DAYS))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(map(_general_name, names)), critical=False)
        .add_extension(_own_identifier(made_key), critical=False)
        .add_extension(_identifier_of(farm_key), critical=False)
        .sign(farm_key, hashes.SHA256())
    )
    _write_key(key, made_key)
    pem = serialization.Encoding.PEM
    certificate.write_bytes(made.public_bytes(pem) + farm.public_bytes(pem))


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


def _identifier_of(issuer: Key) -> x509.AuthorityKeyIdentifier:
    return x509.AuthorityKeyIdentifier.from_issuer_public_key(issuer.public_key())


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
