"""Discarding with a thumb: where it goes is one tap, seldom two, also without scripts."""

import pytest
from django.utils import timezone

from tests.browser.conftest import sign_in
from tests.builders import make_lot

WHERE = {"compost": [], "landfill": ["trash"], "land": ["another place", "spread on land"]}


@pytest.mark.parametrize("scripts", [True, False])
def test_where_it_goes_takes_two_taps_at_most(new_thumb, scripts):
    thumb = new_thumb(java_script_enabled=scripts)
    sign_in(thumb)
    for where, taps in WHERE.items():
        lot = make_lot(at=timezone.now())
        thumb.page.goto(f"{thumb.address}/L/{lot.pk}/discard")
        thumb.page.get_by_text("wilted", exact=True).click()
        for name in taps:
            thumb.page.get_by_text(name, exact=True).click()
        if scripts:
            thumb.check()
        thumb.page.get_by_role("button", name="Discard", exact=True).click()
        thumb.page.wait_for_url("**/done/*")
        assert lot.movements.get(kind="discarded").destination == where
