"""A request takes a turn only once all of it is here; large ones leave turns to the others."""

import io
from collections.abc import Callable
from threading import Barrier, Event, Thread
from wsgiref.util import setup_testing_defaults

import pytest
from django.core.handlers.wsgi import WSGIRequest

from coldroom.reception import ANSWERED, LARGE_ANSWERED, LARGE_BYTES, MOST_BYTES, Reception
from tests.serving import LIMIT_S


def request(body: io.RawIOBase | io.BytesIO, length: int) -> dict:
    return {"wsgi.input": body, "CONTENT_LENGTH": str(length)}


class Slow(io.BytesIO):
    """A body of which only a part has come."""

    def __init__(self, reached: Barrier, goes_on: Event) -> None:
        super().__init__(b"name=Ada")
        self._reached, self._goes_on = reached, goes_on

    def read(self, size: int | None = -1) -> bytes:
        if self.tell() == 4:
            self._reached.wait(LIMIT_S)
            self._goes_on.wait(LIMIT_S)
        return super().read(4)


def test_what_is_still_on_its_way_takes_no_turn():
    answered = []
    server = Reception(lambda environ, _start: answered.append(environ["wsgi.input"].read()) or [])
    reached, goes_on = Barrier(2 * ANSWERED + 1), Event()
    slow = [
        Thread(target=server, args=(request(Slow(reached, goes_on), 8), None))
        for _phone in range(2 * ANSWERED)
    ]
    for thread in slow:
        thread.start()
    reached.wait(LIMIT_S)
    server(request(io.BytesIO(b"x"), 1), None)
    assert answered == [b"x"]
    goes_on.set()
    for thread in slow:
        thread.join(LIMIT_S)
    assert answered[1:] == [b"name=Ada"] * 2 * ANSWERED


def test_while_large_ones_are_looked_at_a_small_one_is_answered():
    inside, goes_on = Barrier(LARGE_ANSWERED + 1), Event()

    def answer(environ, _start):
        if int(environ["CONTENT_LENGTH"]) > LARGE_BYTES:
            inside.wait(LIMIT_S)
            goes_on.wait(LIMIT_S)
        return [b"ok"]

    server = Reception(answer)
    large = LARGE_BYTES + 1
    threads = [
        Thread(target=server, args=(request(io.BytesIO(b"x" * large), large), None))
        for _file in range(LARGE_ANSWERED * 2)
    ]
    for thread in threads:
        thread.start()
    inside.wait(LIMIT_S)
    assert server(request(io.BytesIO(b"x"), 1), None) == [b"ok"]
    goes_on.set()
    inside.wait(LIMIT_S)
    for thread in threads:
        thread.join(LIMIT_S)


def broken_by(error: Exception) -> io.BytesIO:
    body = io.BytesIO(b"half")

    def read(size: int) -> bytes:
        raise error

    body.read = read
    return body


@pytest.mark.parametrize("body", [io.BytesIO(b"half"), broken_by(OSError("gone"))])
def test_a_request_that_broke_off_is_not_taken_for_a_whole_one(body):
    def answer(environ, _start):
        with pytest.raises(OSError, match=r"broke off|gone"):
            environ["wsgi.input"].read()
        return [b"asked"]

    assert Reception(answer)(request(body, 8), None) == [b"asked"]


@pytest.mark.parametrize("said", ["", "0", "-1", "many", "²"])
def test_what_has_no_length_is_left_to_whoever_reads_it(said):
    body = io.BytesIO(b"x")
    seen = []
    Reception(lambda environ, _start: seen.append(environ["wsgi.input"]) or [])(
        {"wsgi.input": body, "CONTENT_LENGTH": said}, None
    )
    assert seen == [body]
    assert body.tell() == 0


def test_a_length_is_told_by_its_figure_not_by_its_zeros():
    body, seen = io.BytesIO(b"x" * 9), []
    Reception(lambda environ, _start: seen.append(environ["wsgi.input"].read()) or [])(
        {"wsgi.input": body, "CONTENT_LENGTH": "0" * 20 + "9"}, None
    )
    assert (seen, body.tell()) == ([b"x" * 9], 9)


@pytest.mark.parametrize("said", [str(MOST_BYTES + 1), "9" * 5000])
def test_what_is_too_long_is_refused_unread(said):
    statuses = []
    answer = Reception(lambda environ, _start: pytest.fail("it was let in"))(
        {"wsgi.input": None, "CONTENT_LENGTH": said},
        lambda status, _headers: statuses.append(status),
    )
    assert statuses == ["413 Content Too Large"]
    assert "25 MB" in b"".join(answer).decode()


def in_code(code: str) -> dict:
    environ = {"CONTENT_TYPE": f"text/plain; charset={code}", "QUERY_STRING": "x=1"}
    setup_testing_defaults(environ)
    return environ


def read_by_django(environ: dict, _start_response: Callable) -> list[bytes]:
    return [WSGIRequest(environ).GET["x"].encode()]


@pytest.mark.parametrize("code", ["hex", "rot13", "zip", "undefined"])
def test_a_query_in_a_code_that_is_none_of_letters_is_refused(code):
    """That it is Django which stumbles, before it has a request at all, is seen first."""
    with pytest.raises((LookupError, UnicodeError)):
        read_by_django(in_code(code), print)
    statuses = []
    answer = Reception(read_by_django)(
        in_code(code), lambda status, _headers: statuses.append(status)
    )
    assert statuses == ["400 Bad Request"]
    assert "could not be read" in b"".join(answer).decode()


@pytest.mark.parametrize("code", ["utf-8", "latin-1", "nonsense"])
def test_a_query_in_another_code_is_read(code):
    assert Reception(read_by_django)(in_code(code), print) == [b"1"]


def test_a_fault_of_the_programs_own_is_not_taken_for_one_of_the_code():
    with pytest.raises(KeyError):
        Reception(lambda environ, _start: environ["missing"])(request(io.BytesIO(), 0), print)
