"""Reading labels: what it costs, what is read of damaged ones, and what four phones do to a page.

    .venv/bin/python -m tests.bench.bench_reading [PICTURES A RECIPE]

CPU time, beside the reader alone in the same run; wall time only where somebody waits. Prints;
asserts nothing but that no other crate is read. Every picture is drawn: no printer was at hand.
"""

import io
import re
import statistics
import sys
import tempfile
import threading
import time
import urllib.request
from http.cookiejar import CookieJar
from pathlib import Path
from urllib.parse import urlencode
from uuid import uuid4

import zxingcpp
from PIL import Image

from inventory.labels.read import open_picture, read_symbols
from tests.labels import rough
from tests.serving import Served, started

TIMES = 9
PHONES = 4
FRAME_S = 0.3  # a phone waits so long after each answer, static/inventory/scan/camera.js
ROUNDS, PAGES_A_ROUND = 6, 12
BETWEEN_S = 0.1


def main() -> None:
    costs()
    shares(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
    with tempfile.TemporaryDirectory() as folder, started(Path(folder), "--demo") as served:
        phones_that_see_nothing(served)


def jpeg(image: Image.Image, quality: int = 60) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=quality)
    return out.getvalue()


def frames() -> dict[str, bytes]:
    """Return frames of a camera that show no label, 1280 by 720."""
    grain = Image.effect_noise((160, 90), 60).resize(rough.FRAME, Image.Resampling.BICUBIC)
    return {
        "blank": jpeg(Image.new("L", rough.FRAME, 128)),
        "plain": jpeg(Image.linear_gradient("L").resize(rough.FRAME)),
        "textured": jpeg(grain),
        "noisy": jpeg(Image.effect_noise(rough.FRAME, 60)),
    }


def alone(image: Image.Image) -> list[str]:
    kind = zxingcpp.BarcodeFormat.QRCodeModel2
    return [found.text for found in zxingcpp.read_barcodes(image, formats=kind)]


def cpu_ms(doing) -> float:
    """Return the median CPU time of doing it. [ms]"""
    took = []
    for _ in range(TIMES):
        start = time.process_time()
        doing()
        took.append((time.process_time() - start) * 1000)
    return statistics.median(took)


def costs() -> None:
    print(f"{'CPU ms without a label':24} {'opened':>7} {'reader':>7} {'quick':>7} {'thorough':>9}")
    noise = jpeg(Image.effect_noise((4000, 3000), 60), 90)
    for name, data in {**frames(), "12 megapixels of noise": noise}.items():
        image = open_picture(data)
        looks = (
            cpu_ms(lambda data=data: open_picture(data)),
            cpu_ms(lambda image=image: alone(image)),
            cpu_ms(lambda image=image: read_symbols(image, thorough=False)),
            cpu_ms(lambda image=image: read_symbols(image)),
        )
        print(f"{name:24}" + " {:7.1f} {:7.1f} {:7.1f} {:9.1f}".format(*looks))


def shares(cases: int) -> None:
    print(f"{'read of ' + str(cases):24} {'reader':>7} {'quick':>7} {'thorough':>9}")
    for recipe in rough.RECIPES:
        read = [0, 0, 0]
        for seed in range(1000, 1000 + cases):
            code, frame = rough.taken(recipe, seed)
            image = open_picture(frame)
            looks = alone(image), read_symbols(image, thorough=False), read_symbols(image)
            for at, texts in enumerate(looks):
                assert all(text.endswith(f"/L/{code}") for text in texts), (recipe, seed, texts)
                read[at] += bool(texts)
        print(f"{recipe.__name__:24} {read[0]:7} {read[1]:7} {read[2]:9}")


class Phone:
    """One that is signed in and keeps its cookies."""

    def __init__(self, served: Served):
        self.served, self.jar = served, CookieJar()
        self.opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(self.jar))
        password = re.search(r"with the password (\S+)", served.said.read_text()).group(1)
        self.get("/sign-in")
        form = {"name": "Odile", "password": password, "entry": str(uuid4())}
        assert b'action="/sign-in"' not in self._post("/sign-in", urlencode(form).encode())

    def get(self, path: str) -> bytes:
        return self.opener.open(self.served.address + path).read()

    def _post(self, path: str, body: bytes, kind="application/x-www-form-urlencoded") -> bytes:
        token = next(cookie.value for cookie in self.jar if cookie.name == "csrftoken")
        headers = {"X-CSRFToken": token, "Content-Type": kind}
        request = urllib.request.Request(self.served.address + path, body, headers)
        return self.opener.open(request).read()

    def show(self, frame: bytes, thorough: bool) -> bytes:
        """Send a frame as the camera's page does."""
        part = b'--edge\r\nContent-Disposition: form-data; name="%b"%b\r\n\r\n%b\r\n'
        body = part % (b"photo", b'; filename="blob"\r\nContent-Type: image/jpeg', frame)
        body += part % (b"thorough", b"", b"1") if thorough else b""
        return self._post(
            "/scan/read", body + b"--edge--\r\n", "multipart/form-data; boundary=edge"
        )


def phones_that_see_nothing(served: Served) -> None:
    """Time home in turns: alone, and while phones hold their camera at nothing."""
    owner, phones = Phone(served), [Phone(served) for _ in range(PHONES)]
    for name, frame in frames().items():
        waits: dict[bool, list[float]] = {False: [], True: []}
        shown: list[float] = []
        for _ in range(ROUNDS):
            waits[False] += waits_for_home(owner)
            stop = threading.Event()
            watching = [
                threading.Thread(target=watch, args=(phone, frame, stop, shown)) for phone in phones
            ]
            for phone in watching:
                phone.start()
            waits[True] += waits_for_home(owner)
            stop.set()
            for phone in watching:
                phone.join()
        quiet, busy = (statistics.median(waits[looking]) for looking in (False, True))
        print(
            f"home, {PHONES} phones at a {name} frame: {busy:.0f} ms, alone {quiet:.0f} ms, "
            f"{busy / quiet:.1f} times; a frame's answer {statistics.median(shown):.0f} ms"
        )


def watch(phone: Phone, frame: bytes, stop: threading.Event, shown: list[float]) -> None:
    number = 0
    while not stop.wait(FRAME_S):
        number += 1
        start = time.perf_counter()
        assert phone.show(frame, number % 3 == 0) == b'{"texts": []}'
        shown.append((time.perf_counter() - start) * 1000)


def waits_for_home(phone: Phone) -> list[float]:
    waits = []
    for _ in range(PAGES_A_ROUND):
        time.sleep(BETWEEN_S)
        start = time.perf_counter()
        phone.get("/")
        waits.append((time.perf_counter() - start) * 1000)
    return waits


if __name__ == "__main__":
    main()
