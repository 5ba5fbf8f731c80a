"""A process that answers as a second server would; no Django before it is set up."""

from datetime import datetime
from multiprocessing.connection import Connection
from typing import Any


def serve(pipe: Connection) -> None:
    """Do what is asked through a pipe until None is: a name of `Server`, and what it is given."""
    import django

    django.setup()
    server = Server()
    while asked := pipe.recv():
        name, *given = asked
        pipe.send(getattr(server, name)(*given))


class Server:
    """One server process, with a phone that is signed in."""

    def sign_in(self, cookies: str) -> None:
        """Be the phone of these cookies, at a farm of which nothing is known yet."""
        from django.test import Client

        from inventory.lives.logs import forget

        forget()
        self._client = Client()
        self._client.cookies.load(cookies)

    def get(self, path: str) -> str:
        answer = self._client.get(path)
        assert answer.status_code == 200, path
        return answer.content.decode()

    def post(self, path: str, typed: dict[str, Any]) -> int:
        return self._client.post(path, typed).status_code

    def used(self, code: str, at: datetime) -> float:
        """Return the share of a crate's life that is used, by the logs that this process has."""
        from inventory.models import Farm
        from inventory.queries.crates import one_crate

        return one_crate(code, Farm.objects.get(), at).life.used
