"""Do what is due without a person: mail, copies, the nightly check."""

import multiprocessing
import os
import time
from threading import Thread

from django.conf import settings
from django.core.management.base import CommandError
from django.utils import timezone

from inventory.management.farm_command import FarmCommand
from inventory.upkeep.loading import keep_loading
from inventory.upkeep.watch import go_round, keep_watch, lock_file, take


class Command(FarmCommand):
    help = (
        "Keep the watch: mail alarms, copy, check the ledger, load files. "
        "`start` does this by itself."
    )
    # `start` has looked already.
    needs_sound_database = multiprocessing.parent_process() is None

    def add_arguments(self, parser):
        parser.add_argument("--once", action="store_true", help="do what is due now, and end")

    def handle(self, *args, **options):
        if not options["once"]:
            # A chore may last, and a file is waited for.
            Thread(target=keep_loading, args=(timezone.now, ended), daemon=True).start()
            keep_watch(timezone.now, ended)
            return
        with lock_file(settings.DATA_DIR) as lock:
            if not take(lock):
                raise CommandError("The watch is kept already, by `start` or another `watch`.")
            for task in go_round(timezone.now()):
                self.stdout.write(f"{task.kind} {task.about}".strip())


def ended(seconds: float) -> bool:
    """Wait, and return whether the `start` that began this watch is gone."""
    parent = multiprocessing.parent_process()
    if parent is None:
        time.sleep(seconds)
        return False
    parent.join(seconds)
    # A worker of the server may outlive it and hold what join listens to: who is our parent now?
    return os.getppid() != parent.pid or not parent.is_alive()
