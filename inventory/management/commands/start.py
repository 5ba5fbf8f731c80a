"""Everything a farm needs to begin: data folder, tables, static files, the first words, serve."""

import contextlib
import ipaddress
import os
import secrets
import socket
import sys
from urllib.parse import urlsplit
from uuid import uuid4

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from django.utils import timezone

from coldroom import env
from coldroom.env import kept_secret
from coldroom.faults import CannotStart
from coldroom.lock import serving
from coldroom.serve import Beside, serve, serve_https, watch
from coldroom.tls import Served, ensure_certificate, holds_unlimited
from inventory.actions.owner import save_row
from inventory.actions.setup import load_crops
from inventory.codes import draw_code
from inventory.ledger.book import Act
from inventory.ledger.weeks import forget_losses
from inventory.management.commands.demo import make_password
from inventory.management.farm_command import FarmCommand
from inventory.models import Farm, Person
from inventory.upkeep.ages import fill_ages
from inventory.upkeep.ground import need_sound_database, written_ahead
from inventory.upkeep.restoring import need_whole_restore
from inventory.upkeep.tables import CannotUpdate, prepare_update


class Command(FarmCommand):
    help = "Prepare the data folder and serve the log on this machine and the local network."
    needs_sound_database = False  # looked at once the folder is its own

    def __init__(self, *args, **options):
        super().__init__(*args, **options)
        self.held = contextlib.ExitStack()  # of ports that no other start may take meanwhile

    def add_arguments(self, parser):
        parser.add_argument("--demo", action="store_true", help="load the demo farm, once")
        parser.add_argument("--host", default="0.0.0.0", help="address to listen on")
        parser.add_argument("--port", type=int, default=settings.HTTP_PORT)
        parser.add_argument(
            "--https", action="store_true", help="taken as before: HTTPS is served by default now"
        )
        parser.add_argument(
            "--reset-password", metavar="NAME", help="give this person a new password and end"
        )

        parser.add_argument(
            "--new-certificate",
            action="store_true",
            help="serve HTTPS under a new authority, which each phone must trust",
        )
        parser.add_argument(
            "--without-copy", action="store_true", help="update the tables without a copy first"
        )

    def handle(self, *args, **options):
        with serving(settings.DATA_DIR), self.held:
            self.run(**options)

    def run(self, **options):
        if not options["reset_password"]:
            self.held.enter_context(need_free_port(options["host"], options["port"]))
        env.close_files(settings.DATA_DIR)
        need_sound_database(connection)
        need_whole_restore(connection)
        self.update_tables(options["without_copy"])
        self.say_clock()
        if options["reset_password"]:
            self.reset_password(options["reset_password"])
            return
        call_command("collectstatic", verbosity=0, interactive=False)
        farm = Farm.objects.first()
        self.stdout.write(f"Data folder: {settings.DATA_DIR}")
        if farm is not None:
            load_crops(farm.weight_unit)
            self.stdout.write(
                "Sign in as before. Password lost? Stop, then run: start --reset-password NAME"
            )
        elif options["demo"]:
            call_command("demo", stdout=self.stdout)
        else:
            code = kept_secret(settings.DATA_DIR / "set-up-code", new_set_up_code)
            self.stdout.write(f"Set-up code, asked on the first page: {code}")
        self.announce(options["host"], options["port"])
        # The pages, which other processes serve, name the port of each other.
        os.environ["COLDROOM_PORT"] = str(options["port"])
        renew = options["new_certificate"]
        secure = self.serve_securely(options["host"], options["port"], renew)
        self.say_label_address(options["port"], is_secure=secure is not None)
        beside = [Beside(watch), *([secure] if secure else [])]
        try:
            serve(options["host"], options["port"])
        finally:
            for each in beside:
                each.stop()

    def update_tables(self, without_copy: bool) -> None:
        """Bring the tables to this program's state; a farm in them is copied first."""
        try:
            copy = prepare_update(
                connection, settings.DATA_DIR / "copies", timezone.now(), without_copy
            )
        except CannotUpdate as refusal:
            raise CommandError(str(refusal)) from refusal
        if copy is not None:
            self.stdout.write(f"Copied the farm before the update: {copy}")
            self.stdout.flush()
        call_command("migrate", verbosity=0, interactive=False)
        fill_ages(timezone.now())
        forget_losses()  # this program may reckon with other figures of how crops keep

    def serve_securely(self, host: str, port: int, renew: bool = False) -> Beside | None:
        """Serve HTTPS in a process of its own beside plain HTTP; None where that is not to be."""
        is_served = not settings.HTTPS and self.secure_port_is_free(host)
        # The key of an older program's authority can pose as any site, served or not.
        if not is_served and not holds_unlimited(settings.DATA_DIR):
            return None
        names = ["localhost", "127.0.0.1", *network_names()]
        farm = Farm.objects.first()
        host_on_labels = urlsplit(farm.label_address).hostname if farm else None
        if host_on_labels and host_on_labels not in names:
            names.insert(2, host_on_labels)
        served = ensure_certificate(settings.DATA_DIR, names, timezone.now(), renew)
        if not is_served:
            return None
        self.say_certificate(served)
        self.stdout.write(f"  with a camera        https://{names[-1]}:{settings.HTTPS_PORT}/")
        self.stdout.write(f"  to trust it, open    http://{names[-1]}:{port}/trust on the phone")
        self.stdout.flush()
        return Beside(serve_https, host, settings.HTTPS_PORT, served.certificate, served.key)

    def say_certificate(self, served: Served) -> None:
        """Say what of HTTPS phones would stumble over."""
        if served.is_old:
            self.stdout.write(
                "HTTPS goes on with the old certificate, whose key was deleted: it could vouch for "
                "any site. Let each phone trust the new one (page /trust), then start once with "
                "--new-certificate."
            )
        for name in served.left_out:
            self.stdout.write(
                f"The farm's certificate does not hold for {name}, which is no private address: "
                "over HTTPS open the log by its name."
                if is_numeric(f"//{name}")
                else f"The farm's certificate may not vouch for {name}: HTTPS shows a warning "
                "there. A new one can: start --new-certificate. Ask whoever looks after the "
                "phones first, since each of them must then trust it anew."
            )

    def secure_port_is_free(self, host: str) -> bool:
        """Return whether HTTPS can be served; a port the farm named must be free."""
        held = hold_port(host, settings.HTTPS_PORT)
        if held is not None:
            self.held.enter_context(held)
            return True
        if env.text("COLDROOM_HTTPS_PORT"):
            raise CommandError(f"Port {settings.HTTPS_PORT} of COLDROOM_HTTPS_PORT is taken.")
        self.stdout.write(
            f"Port {settings.HTTPS_PORT} is taken: plain HTTP alone is served, without the camera "
            "in the page. COLDROOM_HTTPS_PORT names another port."
        )
        return False

    def say_clock(self) -> None:
        """Warn of a clock that is behind what was written already."""
        now = timezone.now()
        latest = written_ahead(now)
        if latest is not None:
            says, was = f"{now:%Y-%m-%d %H:%M} UTC", f"{latest:%Y-%m-%d %H:%M} UTC"
            self.stdout.write(
                f"Check the clock of this machine: it says {says}, but the latest entry was "
                f"written at {was}. Entries carry its time.\n"
                f"Revisa el reloj de esta máquina: dice {says}, pero el último registro se "
                f"escribió a las {was}. Los registros llevan su hora."
            )

    def reset_password(self, name: str) -> None:
        person = Person.objects.filter(name__iexact=name).first()
        if person is None:
            raise CommandError(f"There is nobody called {name}.")
        password = make_password()
        person.set_password(password)
        act = Act(uuid4(), person, Farm.objects.get(), timezone.now(), as_owner=True)
        save_row(act, row=person, values={}, secrets=("password",))
        self.stdout.write(f"{person.name} signs in with the password {password}")

    def announce(self, host: str, port: int) -> None:
        self.stdout.write("Open one of these addresses; Ctrl-C stops the server:")
        self.stdout.write(f"  on this machine      http://127.0.0.1:{port}/")
        if host == "0.0.0.0":
            for name in network_names():
                self.stdout.write(f"  on the local network http://{name}:{port}/")
        self.stdout.flush()

    def say_label_address(self, port: int, is_secure: bool) -> None:
        """Propose an address for labels, and warn of one made of numbers."""
        farm = Farm.objects.first()
        if farm is None:
            return
        proposed = f"http://{socket.gethostname()}.local:{port}"
        if is_secure:
            proposed = f"https://{socket.gethostname()}.local:{settings.HTTPS_PORT}"
        if not farm.label_address:
            self.stdout.write(f'Labels carry no address yet. Under "Labels" set {proposed}')
        elif is_numeric(farm.label_address):
            self.stdout.write(
                f"Labels carry {farm.label_address}, which changes with the router. "
                f"A name like {proposed} lasts."
            )
        self.stdout.flush()


def is_numeric(address: str) -> bool:
    """Return whether an address names a machine by numbers."""
    try:
        ipaddress.ip_address(urlsplit(address).hostname or "")
    except ValueError:
        return False
    return True


def hold_port(host: str, port: int) -> contextlib.ExitStack | None:
    """Return a hold on a port for the server to come, None where something listens or holds it.

    On Linux the server shares its port with whoever asks for that, as another start would at the
    same moment. Who asks for it alone, as this does first, is refused by a hold and by a server.
    """
    with contextlib.ExitStack() as hold:
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        alone = hold.enter_context(socket.socket(family, socket.SOCK_STREAM))
        alone.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)  # past what the last one left
        try:
            alone.bind((host, port))
            if sys.platform != "linux":
                return contextlib.ExitStack()  # only looked at
            alone.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 0)
            alone.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEPORT, 1)
            # Older kernels remember that the first was let in past what was left; not by this one.
            shared = hold.enter_context(socket.socket(family, socket.SOCK_STREAM))
            shared.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEPORT, 1)
            shared.bind((host, port))
        except OSError:
            return None
        return hold.pop_all()


def need_free_port(host: str, port: int) -> contextlib.ExitStack:
    """Return a hold on the port. Raises CannotStart where something listens: see hold_port."""
    held = hold_port(host, port)
    if held is None:
        raise CannotStart(
            f"Port {port} is taken by another program, or by another log. Stop that, or name "
            f"another port: start --port {port + 1}",
            f"El puerto {port} está ocupado por otro programa, o por otro registro. Detenlo, o "
            f"usa otro puerto: start --port {port + 1}",
        )
    return held


def new_set_up_code() -> str:
    return draw_code(secrets.choice)


def network_names() -> list[str]:
    """Return this machine's address on the local network and its name, as far as known."""
    names = []
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        # Connecting a datagram socket sends nothing; it only picks the outgoing address.
        probe.connect(("192.0.2.1", 9))
        names.append(probe.getsockname()[0])
    names.append(f"{socket.gethostname()}.local")
    return names
