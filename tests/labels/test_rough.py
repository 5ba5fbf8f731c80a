"""Labels after a rough day: the share that is read, that no other one is, and never fewer.

The recipes are in rough.py; the reader was not tuned to them. Fixed seeds, so the shares are
those of these pictures; tests/bench/bench_reading.py reads more of them. The least shares are one
to three pictures below what was read when they were set: what they refuse is a fall.
"""

import pypdfium2
import pytest
import zxingcpp
from PIL import Image, ImageFilter

from inventory.labels import STOCKS, write_pdf
from inventory.labels.filters import darkest, lightest
from inventory.labels.read import LONGEST_SIDE, open_picture, read_symbols
from inventory.queries.labels import NotOurs, read_label
from tests.labels import rough

CASES = 20
LEAST = {
    rough.blur: 0.6, rough.shake: 0.5, rough.bucket: 0.45, rough.crumple: 0.4, rough.drops: 0.6,
    rough.missing_lines: 0.9, rough.torn: 0.65, rough.low_light: 0.85, rough.hard_shadows: 0.75,
    rough.wet_box: 0.65,
}  # fmt: skip
PAGES = ("a4-2x7", "a4-3x8", "letter-2x5", "letter-3x10")
LEAST_OF_A_PAGE = 0.95  # of its labels, in one photo; all were read when this was set
PHOTOS = 2


def read_before(image: Image.Image) -> bool:
    """Return whether a label was read by the six attempts made before November 2026.

    Their rank filters were Pillow's own, which give these very pictures: test_filters.py.
    """
    assert max(image.size) <= LONGEST_SIDE
    double = image.resize((image.width * 2, image.height * 2), Image.Resampling.BICUBIC)
    attempts = (
        image,
        double,
        darkest(double, 3),
        lightest(darkest(double, 5), 5),
        lightest(image, 3),
        image.filter(ImageFilter.UnsharpMask(radius=3, percent=300, threshold=0)),
    )
    kind = zxingcpp.BarcodeFormat.QRCodeModel2
    return any(zxingcpp.read_barcodes(seen, formats=kind) for seen in attempts)


def accepted(texts: list[str]) -> set[tuple[str, str]]:
    """Return the labels that the program would act on."""
    found = set()
    for text in texts:
        try:
            found.add(read_label(text, rough.HOST))
        except NotOurs:
            continue
    return found


@pytest.mark.django_db
@pytest.mark.parametrize("recipe", rough.RECIPES, ids=lambda recipe: recipe.__name__)
def test_a_share_is_read_no_other_crate_is_and_no_fewer_than_before(recipe):
    read, lost = 0, []
    for seed in range(CASES):
        code, frame = rough.taken(recipe, seed)
        picture = open_picture(frame)
        found = accepted(read_symbols(picture))
        assert found <= {("L", code)}, seed
        read += bool(found)
        if not found and read_before(picture):
            lost.append(seed)
    print(f"{recipe.__name__}: {read} of {CASES} read")
    assert lost == []
    assert read / CASES >= LEAST[recipe]


@pytest.mark.django_db
@pytest.mark.parametrize("key", PAGES)
def test_a_page_of_labels_is_read_from_a_photo_of_it(tmp_path, key):
    """The page as the printer gets it. How paper and ink take it is not in the picture."""
    stock = STOCKS[key]
    labels = rough.texts(stock.per_page, seed=len(key))
    file = tmp_path / "page.pdf"
    write_pdf(file, labels, stock)
    page = pypdfium2.PdfDocument(file)[0].render(scale=250 / 72).to_pil().convert("L")
    read = 0
    for seed in range(PHOTOS):
        found = accepted(read_symbols(open_picture(rough.page_taken(page, seed))))
        assert found <= {("L", label.code) for label in labels}
        read += len(found)
    print(f"{key}: {read} of {PHOTOS * len(labels)} read")
    assert read / (PHOTOS * len(labels)) >= LEAST_OF_A_PAGE
