"""Load the demo farm once, into an empty installation."""

import secrets

from django.core.management.base import CommandError
from django.utils import timezone

from inventory.codes import ALPHABET
from inventory.demo import OWNER, load_demo
from inventory.management.farm_command import FarmCommand
from inventory.models import Farm


def make_password() -> str:
    """Return a password for this installation that can be typed from a screen."""
    letters = ALPHABET[10:].lower()
    return "-".join("".join(secrets.choice(letters) for _ in range(4)) for _ in range(4))


class Command(FarmCommand):
    help = "Load the invented farm Brindlemoor: ten weeks of its log, up to today."

    def handle(self, *args, **options):
        if Farm.objects.exists():
            raise CommandError("There is a farm already; the demo goes into an empty one.")
        self.stdout.write("Loading the demo farm takes half a minute or so.")
        self.stdout.flush()
        password = make_password()
        load_demo(timezone.now(), password)
        self.stdout.write(f"Demo farm loaded. Sign in as {OWNER} with the password {password}")
