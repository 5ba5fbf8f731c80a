#!/usr/bin/env python3
import os
import sys

from django.core.management import execute_from_command_line

from coldroom.faults import CannotStart

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "coldroom.settings")
    try:
        execute_from_command_line(sys.argv)
    except CannotStart as fault:
        sys.exit(str(fault))
