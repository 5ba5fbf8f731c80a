"""The farm's own certificate, as a client that trusts only its authority sees it."""

import io
import os
import re
import signal
import socket
import ssl
import sys
import threading
import urllib.error
import urllib.request
from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from django.core.management.base import CommandError
from django.test import Client
from PIL import Image

from coldroom.faults import CannotStart
from coldroom.lock import serving
from coldroom.tls import (
    PRIVATE,
    Served,
    _builder,
    _issue,
    _usage,
    _write_key,
    authority_file,
    ensure_certificate,
    old_authority_file,
)
from inventory.labels.read import read_symbols
from inventory.management.commands import start
from tests.serving import LIMIT_S, free_port, started

NOW = datetime.now(UTC)
NAMES = ["localhost", "127.0.0.1", "farm.local"]


def shake_hands(folder, name: str) -> str:
    """Serve one TLS connection and return the protocol a strict client agreed on."""
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    served = ensure_certificate(folder, NAMES, NOW)
    server.load_cert_chain(served.certificate, served.key)
    client = ssl.create_default_context(cafile=authority_file(folder))
    client.verify_flags |= ssl.VERIFY_X509_STRICT  # as Python 3.13 does of itself
    ours, theirs = socket.socketpair()
    with ours, theirs:
        serving = threading.Thread(target=lambda: _serve(server, theirs))
        serving.start()
        try:
            with client.wrap_socket(ours, server_hostname=name) as secure:
                return secure.version()
        finally:
            serving.join(timeout=LIMIT_S)


def _serve(server, theirs) -> None:
    try:
        server.wrap_socket(theirs, server_side=True).close()
    except (ssl.SSLError, OSError):
        return


@pytest.mark.parametrize("name", NAMES)
def test_a_client_that_trusts_the_farm_trusts_its_names(tmp_path, name):
    assert shake_hands(tmp_path, name).startswith("TLSv1")


def test_another_name_is_not_vouched_for(tmp_path):
    with pytest.raises(ssl.SSLCertVerificationError):
        shake_hands(tmp_path, "evil.example")


def test_a_certificate_is_kept_until_names_change_or_it_runs_out(tmp_path):
    served = ensure_certificate(tmp_path, NAMES, NOW)
    certificate, key = served.certificate, served.key
    made, authority = certificate.read_bytes(), authority_file(tmp_path).read_bytes()
    ensure_certificate(tmp_path, NAMES[:2], NOW)
    assert certificate.read_bytes() == made
    ensure_certificate(tmp_path, [*NAMES, "192.168.7.9"], NOW)
    renamed = certificate.read_bytes()
    assert renamed != made
    ensure_certificate(tmp_path, NAMES, NOW + timedelta(days=380))
    assert certificate.read_bytes() != renamed
    assert authority_file(tmp_path).read_bytes() == authority
    assert key.stat().st_mode & 0o077 == 0


def test_no_key_is_kept_that_could_vouch_for_any_site(tmp_path):
    """RFC 5280, 4.2.1.10: the farm's names and private addresses, and it says so critically."""
    ensure_certificate(tmp_path, NAMES, NOW)
    home = tmp_path / "tls"
    assert {file.name for file in home.glob("*key*")} == {"farm-key.pem", "server-key.pem"}
    authority = x509.load_pem_x509_certificate(authority_file(tmp_path).read_bytes())
    farm = x509.load_pem_x509_certificate((home / "farm.pem").read_bytes())
    farm.verify_directly_issued_by(authority)
    assert farm.public_key() != authority.public_key()
    found = farm.extensions.get_extension_for_class(x509.NameConstraints)
    assert found.critical
    permitted = {str(one.value) for one in found.value.permitted_subtrees}
    assert permitted == {"localhost", "farm.local", *PRIVATE}
    assert farm.extensions.get_extension_for_class(x509.BasicConstraints).value.path_length == 0


def test_what_the_farms_key_signs_for_another_site_is_not_trusted(tmp_path):
    """As OpenSSL judges the chain, were the keys of the data folder stolen."""
    ensure_certificate(tmp_path, NAMES, NOW)
    home = tmp_path / "tls"
    farm = x509.load_pem_x509_certificate((home / "farm.pem").read_bytes())
    key = serialization.load_pem_private_key((home / "farm-key.pem").read_bytes(), None)
    evil = ["bank.example", *NAMES]
    _issue(home / "server.pem", home / "server-key.pem", evil, farm, key, NOW)
    for name in ("bank.example", "farm.local"):
        with pytest.raises(ssl.SSLCertVerificationError, match="permitted subtree violation"):
            shake_hands(tmp_path, name)


def test_a_name_outside_is_left_out_until_a_new_authority_is_made(tmp_path):
    first = ensure_certificate(tmp_path, NAMES, NOW)
    outside = [*NAMES, "new.local", "203.0.113.7"]
    left = ensure_certificate(tmp_path, outside, NOW)
    assert (first.left_out, left.left_out) == ((), ("new.local", "203.0.113.7"))
    authority = authority_file(tmp_path).read_bytes()
    renewed = ensure_certificate(tmp_path, outside, NOW, renew=True)
    assert renewed.left_out == ("203.0.113.7",)
    assert authority_file(tmp_path).read_bytes() != authority


@pytest.fixture
def before(tmp_path):
    """A data folder of an older program: an authority without limits, and its key."""
    home = tmp_path / "tls"
    home.mkdir()
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Cold room log of this farm")])
    made = _builder(name, name, key, NOW, timedelta(days=3650)).add_extension(
        x509.BasicConstraints(ca=True, path_length=0), critical=True
    )
    authority = made.add_extension(_usage(signs=True), critical=True).sign(key, hashes.SHA256())
    _issue(home / "server.pem", home / "server-key.pem", NAMES, authority, key, NOW)
    _write_key(home / "authority-key.pem", key)
    (home / "authority.pem").write_bytes(authority.public_bytes(serialization.Encoding.PEM))
    return tmp_path


def test_an_old_authority_loses_its_key_and_serves_on_until_phones_trust_the_new(before):
    home = before / "tls"
    was, old_leaf = authority_file(before).read_bytes(), (home / "server.pem").read_bytes()
    served = ensure_certificate(before, NAMES, NOW)
    assert not list(home.rglob("authority-key.pem"))
    assert old_authority_file(before).read_bytes() == was
    assert authority_file(before).read_bytes() != was
    assert (served.is_old, served.certificate.read_bytes()) == (True, old_leaf)
    assert ensure_certificate(before, NAMES, NOW).is_old
    assert not ensure_certificate(before, NAMES, NOW, renew=True).is_old
    assert not ensure_certificate(before, NAMES, NOW).is_old
    assert shake_hands(before, "farm.local").startswith("TLSv1")
    assert old_authority_file(before).exists()


@pytest.mark.parametrize("behind", [True, False])
def test_an_old_authority_loses_its_key_also_where_https_is_not_ours_to_serve(
    farm, settings, monkeypatch, before, behind
):
    """Behind a server of HTTPS, and where the port is taken."""
    settings.DATA_DIR, settings.HTTPS = before, behind
    monkeypatch.setattr(start, "hold_port", lambda host, port: None)
    was = authority_file(before).read_bytes()
    assert start.Command(stdout=io.StringIO()).serve_securely("127.0.0.1", 8000) is None
    assert not list(before.rglob("authority-key.pem"))
    assert authority_file(before).read_bytes() != was
    assert b"older one" in Client().get("/trust").content


def test_an_old_leaf_serves_no_longer_than_it_holds(before):
    assert not ensure_certificate(before, [*NAMES, "192.168.7.9"], NOW).is_old
    assert not ensure_certificate(before, NAMES, NOW + timedelta(days=380)).is_old


def test_the_phones_are_told_how_to_take_the_old_one_off(farm, settings, before):
    settings.DATA_DIR = before
    ensure_certificate(before, NAMES, NOW)
    assert b"older one" in Client().get("/trust").content


def test_start_says_what_phones_would_stumble_over():
    said = io.StringIO()
    command = start.Command(stdout=said)
    command.say_certificate(Served(Path(), Path()))
    assert said.getvalue() == ""
    outside = ("new.local", "203.0.113.7")
    command.say_certificate(Served(Path(), Path(), outside, is_old=True))
    assert said.getvalue().count("--new-certificate") == 2
    assert "may not vouch for new.local" in said.getvalue()
    assert "Ask whoever looks after the phones first" in said.getvalue()
    assert "does not hold for 203.0.113.7, which is no private address" in said.getvalue()


def test_a_phone_is_walked_through_trusting_it(farm, settings, tmp_path):
    settings.DATA_DIR = tmp_path
    client = Client()
    assert client.get("/trust").status_code == 404
    ensure_certificate(tmp_path, NAMES, NOW)
    page = client.get("/trust").content.decode()
    assert "http://testserver/trust" in page
    assert "https://testserver:8443/" in page
    given = b"".join(client.get("/trust/certificate").streaming_content)
    assert given == authority_file(tmp_path).read_bytes()
    assert b"PRIVATE" not in given

    picture = Image.open(io.BytesIO(client.get("/trust/qr.png").content)).convert("L")
    assert read_symbols(picture) == ["http://testserver/trust"]


def children(pid: int) -> list[int]:
    return [int(child) for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


def test_start_serves_https_beside_http(tmp_path):
    """As a client sees it that trusts only the farm's authority; one start is used for more."""
    with started(tmp_path) as served:
        secure = f"https://localhost:{served.https_port}"
        trusting = ssl.create_default_context(cafile=authority_file(served.data))
        trusting.verify_flags |= ssl.VERIFY_X509_STRICT  # as Python 3.13 does of itself
        assert served.answer(f"{secure}/healthz", trusting) == b"ok"
        with pytest.raises(urllib.error.URLError, match="CERTIFICATE_VERIFY_FAILED"):
            urllib.request.urlopen(f"{secure}/healthz", context=ssl.create_default_context())
        page = served.answer(f"{secure}/trust", trusting).decode()
        assert f"http://localhost:{served.port}/trust" in page  # a phone can't open it securely yet

        # What the phone is given over HTTPS never goes in clear; its name is for HTTPS alone.
        with urllib.request.urlopen(f"{secure}/set-up", context=trusting) as answer:
            cookie = answer.headers["Set-Cookie"]
        assert cookie.startswith("__Host-csrftoken=")
        assert "; Secure" in cookie

        # Forms and photos that come slowly, from strangers too, hold up nobody.
        with ExitStack() as phones:
            for _phone in range(8):
                slow = socket.create_connection(("127.0.0.1", served.port))
                phones.enter_context(slow).sendall(
                    b"POST /sign-in HTTP/1.1\r\nHost: localhost\r\nContent-Length: 99\r\n\r\nname="
                )
            with urllib.request.urlopen(f"{served.address}/healthz", timeout=LIMIT_S) as answer:
                assert answer.read() == b"ok"

        # A second one is refused, on the port and then on the folder, with a sentence each.
        with pytest.raises(CannotStart, match=f"Port {served.port} is taken"):
            start.need_free_port("127.0.0.1", served.port)
        refused = pytest.raises(CannotStart, match=f"already, by process {served.process.pid}")
        with refused, serving(served.data, wait_s=0):
            raise AssertionError("served twice")

        # What is killed comes back.
        killed = children(served.process.pid)
        for child in killed:
            os.kill(child, signal.SIGKILL)
        assert served.answer(f"{served.address}/healthz") == b"ok"
        assert served.answer(f"{secure}/healthz", trusting) == b"ok"
        assert "Python threads" not in served.said.read_text()
        assert re.search(r"(?m)^2\d{3}-\d\d-\d\d [\d:,]+ ERROR .*worker", served.said.read_text())

        # Closing the terminal ends all of it.
        served.process.send_signal(signal.SIGHUP)
        served.process.wait(timeout=LIMIT_S)
        for port in (served.port, served.https_port):
            with start.need_free_port("127.0.0.1", port):
                pass


@pytest.mark.skipif(sys.platform != "linux", reason="where a server shares its port")
def test_of_two_starts_at_the_same_moment_one_has_the_port():
    """Both would serve there: a server shares its port with whoever asks for that."""
    port = free_port()
    with start.need_free_port("127.0.0.1", port):
        for host in ("127.0.0.1", "0.0.0.0"):
            with pytest.raises(CannotStart, match=f"Port {port} is taken"):
                start.need_free_port(host, port)
    with start.need_free_port("127.0.0.1", port):
        pass


@pytest.fixture
def taken(settings):
    """The port for HTTPS, on which something else listens."""
    with socket.create_server(("127.0.0.1", 0)) as other:
        settings.HTTPS_PORT = other.getsockname()[1]
        yield settings.HTTPS_PORT


def test_a_taken_port_leaves_plain_http_alone(farm, taken, monkeypatch):
    monkeypatch.delenv("COLDROOM_HTTPS_PORT", raising=False)
    said = io.StringIO()
    assert start.Command(stdout=said).serve_securely("127.0.0.1", 8000) is None
    assert f"Port {taken} is taken: plain HTTP alone" in said.getvalue()


def test_a_port_the_farm_named_must_be_free(farm, taken, monkeypatch):
    monkeypatch.setenv("COLDROOM_HTTPS_PORT", str(taken))
    with pytest.raises(CommandError, match=str(taken)):
        start.Command(stdout=io.StringIO()).serve_securely("127.0.0.1", 8000)


def test_behind_a_proxy_that_serves_https_there_is_none_of_our_own(farm, settings):
    settings.HTTPS = True
    assert start.Command(stdout=io.StringIO()).serve_securely("127.0.0.1", 8000) is None


@pytest.mark.parametrize("is_secure", [True, False])
def test_the_address_proposed_for_labels_is_https_where_that_is_served(farm, is_secure):
    said = io.StringIO()
    start.Command(stdout=said).say_label_address(8000, is_secure=is_secure)
    proposed = re.search(r"set (https?)://\S+:(\d+)", said.getvalue()).groups()
    assert proposed == (("https", "8443") if is_secure else ("http", "8000"))
