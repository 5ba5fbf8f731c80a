"""What stands around every page."""

from django.http import HttpRequest
from django.utils import timezone

from inventory.queries.alarms import doors_that_shut_in, open_alarms
from inventory.views.answers import read_told
from inventory.views.entry import is_owner


def page_frame(request: HttpRequest) -> dict:
    """Return the farm, who is there, whether they are its owner, what was just done, and what every
    page warns of.
    """
    user = getattr(request, "user", None)
    signed_in = user is not None and user.is_authenticated
    warned = signed_in and not request.htmx
    return {
        "farm": getattr(request, "farm", None),
        "person": user if signed_in else None,
        "as_owner": signed_in and is_owner(request),
        "told": read_told(request) if signed_in and request.method == "GET" else None,
        "shut_doors": doors_that_shut_in() if warned else [],
        "alarms": open_alarms(timezone.now()) if warned else [],
    }
