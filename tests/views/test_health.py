"""The owner's page of how the log is doing."""

from inventory.models import Chore
from inventory.views import health
from tests import builders


def test_the_owner_sees_how_the_log_is_doing_and_crew_do_not(signed_in, monkeypatch):
    now = builders.timezone_now()
    monkeypatch.setattr(health, "last_good_copy", lambda: now)
    Chore.objects.create(name="ledger", tried_at=now, done_at=now, found="7K3 <differs>")
    page = signed_in.get("/health").content.decode()
    assert "2 things to look at" in page  # the watch sleeps in tests
    assert "7K3 &lt;differs&gt;" in page
    assert page.index("The watch") < page.index("Adding up") < page.index("Last copy")
    assert '<b class="bad">! 2</b>' in signed_in.get("/settings").content.decode()
    builders.sign_in(signed_in, builders.make_crew())
    assert signed_in.get("/health").status_code == 403
