"""Requests as nobody should send them: a form or an address of the log with something odd in it."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from html.parser import HTMLParser
from urllib.parse import quote, urlencode

from django.http import HttpResponseBadRequest
from hypothesis import strategies as st

ODD = (
    "", "\0", "abc", "9" * 40, "9" * 5000, "-1", "0", "1e999", "nan", "१२", "²", "😀", "\ud800",
    "a" * 3000, "2026-02-30", "99999-12-31T25:61", "<b>'\"", "\r\nx: y", "../..", "%s{}", "1,5",
    "00000000-0000-0000-0000-000000000000", "‮", " ", "on",
)  # fmt: skip
# What may stand in a header: a server hands it on in ISO 8859-1.
ODD_HEADERS = ("", "abc", "-1", "9" * 5000, "1e9", "é\xff", "*/*;q=x", "\t", "²")
HEADERS = (
    "HX-Request", "Coldroom-Waited", "Coldroom-Person", "Accept-Language", "Referer", "Origin",
    "X-Forwarded-For", "Cookie", "Range", "If-Modified-Since", "User-Agent", "Authorization",
)  # fmt: skip
METHODS = ("HEAD", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "CUT", "GET", "POST")
QUERIES = ("said", "next", "page", "rows", "crop", "code", "lots", "here", "intake", "x")
URLENCODED = "application/x-www-form-urlencoded"
MULTIPART = "multipart/form-data; boundary=edge"
CONTENT_TYPES = (
    f"{URLENCODED}; charset=utf-16", f"{URLENCODED}; charset=nonsense", f"{URLENCODED}; charset",
    f"{MULTIPART}; charset=hex", "multipart/form-data", "multipart/form-data; boundary=other",
    "application/json", "text/plain",
    "", "é",
)  # fmt: skip
# Nothing, no text, a picture cut off, a table cut off, a zip, a table of one odd figure.
FILES = (
    b"", b"\xff\xfe\0", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", b"time,temp\n2026-06-01 0", b"PK\3\4",
    b"time,temp\n2026-06-01 06:30," + b"9" * 5000,
)  # fmt: skip


@dataclass(frozen=True)
class Sent:
    """A request. fields: what is typed, in order; files: (name, bytes); kind: its content type."""

    method: str
    path: str
    fields: tuple[tuple[str, str], ...] = ()
    files: tuple[tuple[str, bytes], ...] = ()
    query: tuple[tuple[str, str], ...] = ()
    headers: dict[str, str] = field(default_factory=dict)
    kind: str | None = None

    def by(self, client):
        """Return what a test client is answered."""
        query = self.query if self.method == "POST" else self.query + self.fields
        path = f"{self.path}?{_encoded(query).decode()}" if query else self.path
        body, kind = (_multipart(self), MULTIPART) if self.files else (_encoded(self.fields), None)
        kind = self.kind if self.kind is not None else kind or URLENCODED
        try:
            return client.generic(self.method, path, body, kind, headers=self.headers)
        except LookupError as error:
            # Before there is a request: the reception's to answer (tests/test_reception.py).
            if "text encoding" not in str(error):
                raise
            return HttpResponseBadRequest()


def _bytes(text: str) -> bytes:
    """Half of a pair of surrogates is sent as some programs do, though it is no UTF-8."""
    return text.encode("utf-8", "surrogatepass")


def _encoded(fields: tuple[tuple[str, str], ...]) -> bytes:
    return urlencode([(_bytes(name), _bytes(value)) for name, value in fields]).encode()


def _multipart(sent: Sent) -> bytes:
    parts = [(name, "", _bytes(value)) for name, value in sent.fields]
    parts += [(name, '; filename="f"', data) for name, data in sent.files]
    lines = [
        b'--edge\r\nContent-Disposition: form-data; name="%s"%s\r\n\r\n%s\r\n'
        % (_bytes(name), named.encode(), data)
        for name, named, data in parts
    ]
    return b"".join([*lines, b"--edge--\r\n"])


Draw = Callable[[st.SearchStrategy], object]


def _odd_value(draw: Draw, sent: Sent, odd: st.SearchStrategy) -> Sent:
    if not sent.fields:
        return _odd_query(draw, sent, odd)
    at = draw(st.integers(0, len(sent.fields) - 1))
    changed = (sent.fields[at][0], draw(odd))
    return replace(sent, fields=(*sent.fields[:at], changed, *sent.fields[at + 1 :]))


def _left_out(draw: Draw, sent: Sent, odd: st.SearchStrategy) -> Sent:
    if not sent.fields:
        return _odd_query(draw, sent, odd)
    at = draw(st.integers(0, len(sent.fields) - 1))
    return replace(sent, fields=sent.fields[:at] + sent.fields[at + 1 :])


def _one_more(draw: Draw, sent: Sent, odd: st.SearchStrategy) -> Sent:
    """A field twice, or one that no form has."""
    names = [name for name, _value in sent.fields]
    name = draw(st.sampled_from([*names, "x"])) if draw(st.booleans()) else draw(odd)
    return replace(sent, fields=(*sent.fields, (name, draw(odd))))


def _file_for_a_field(draw: Draw, sent: Sent, odd: st.SearchStrategy) -> Sent:
    names = [name for name, _value in (*sent.fields, *sent.files)]
    name = draw(st.sampled_from([*names, "photo", "file"]))
    fields = tuple(pair for pair in sent.fields if pair[0] != name)
    files = tuple(pair for pair in sent.files if pair[0] != name)
    return replace(sent, fields=fields, files=(*files, (name, draw(st.sampled_from(FILES)))))


def _odd_address(draw: Draw, sent: Sent, odd: st.SearchStrategy) -> Sent:
    parts = sent.path.split("/")
    at = draw(st.integers(1, len(parts) - 1))
    parts[len(parts) - at] = quote(_bytes(draw(odd)), safe="")
    return replace(sent, path="/".join(parts))


def _odd_query(draw: Draw, sent: Sent, odd: st.SearchStrategy) -> Sent:
    return replace(sent, query=(*sent.query, (draw(st.sampled_from(QUERIES)), draw(odd))))


def _odd_header(draw: Draw, sent: Sent, odd: st.SearchStrategy) -> Sent:
    name, value = draw(st.sampled_from(HEADERS)), draw(st.sampled_from(ODD_HEADERS))
    return replace(sent, headers=sent.headers | {name: value})


def _odd_method(draw: Draw, sent: Sent, odd: st.SearchStrategy) -> Sent:
    return replace(sent, method=draw(st.sampled_from(METHODS)))


def _odd_kind(draw: Draw, sent: Sent, odd: st.SearchStrategy) -> Sent:
    return replace(sent, kind=draw(st.sampled_from(CONTENT_TYPES)))


WAYS = (
    _odd_value, _one_more, _odd_address, _left_out, _odd_value, _odd_header, _file_for_a_field,
    _odd_value, _odd_kind, _odd_query, _odd_value, _odd_method,
)  # fmt: skip


@st.composite
def odd_requests(draw: Draw, sound: Sent, turn: int) -> Sent:
    """A request with one thing or two that are odd.

    turn: of these lists what comes first, which is what hypothesis tries first: a new one for each
    form, so that few requests of each try all of it.
    """
    sound = replace(sound, fields=_turned(sound.fields, turn))
    odd = st.sampled_from(_turned(ODD, turn)) | st.text(max_size=12)
    for _number in range(draw(st.integers(1, 2))):
        sound = draw(st.sampled_from(_turned(WAYS, turn)))(draw, sound, odd)
    return sound


def _turned(these: tuple, by: int) -> tuple:
    by %= len(these) or 1
    return these[by:] + these[:by]


class _Forms(HTMLParser):
    """The forms of a page, filled in as it shows them, each as the request it would be."""

    def __init__(self, path: str) -> None:
        super().__init__()
        self.path = path
        self.found: list[Sent] = []
        self._open: Sent | None = None
        self._select = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = {name: value or "" for name, value in attrs}
        if tag == "form":
            path = (said.get("action") or self.path).split("?")[0]
            self._open = Sent(said.get("method", "get").upper(), path)
        elif self._open is not None:
            self._take(tag, said)

    def _take(self, tag: str, said: dict[str, str]) -> None:
        name = said.get("name", "")
        if tag == "select":
            self._select = name
        elif tag == "option":
            if "selected" in said or self._select not in dict(self._open.fields):
                self._put(self._select, said.get("value", ""))
        elif name and said.get("type") == "file":
            self._open = replace(self._open, files=(*self._open.files, (name, FILES[3])))
        elif name and tag in ("input", "textarea", "button"):
            is_choice = said.get("type") in ("radio", "checkbox") or tag == "button"
            if not is_choice or "checked" in said or name not in dict(self._open.fields):
                self._put(name, said.get("value", "on" if is_choice else ""))

    def _put(self, name: str, value: str) -> None:
        """Fill a field in; of several choices the one that is chosen, else the first."""
        if name and name != "csrfmiddlewaretoken":
            others = tuple(pair for pair in self._open.fields if pair[0] != name)
            self._open = replace(self._open, fields=(*others, (name, value)))

    def handle_endtag(self, tag: str) -> None:
        if tag == "form" and self._open is not None:
            self.found.append(self._open)
            self._open = None


def forms_on(page: str, path: str) -> list[Sent]:
    """Return the forms of a page, each as the request it would be if it was sent as it is."""
    reader = _Forms(path)
    reader.feed(page)
    return reader.found
