"""The program's migrations and one more, for tests of updates."""

from inventory import migrations

__path__ = [*migrations.__path__, *__path__]
