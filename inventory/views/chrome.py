"""What stands around every page."""

from inventory.views.entry import is_owner


def page_frame(request) -> dict:
    """Return the farm, who is there, and whether the owner's lists are open to them."""
    user = getattr(request, "user", None)
    signed_in = user is not None and user.is_authenticated
    return {
        "farm": getattr(request, "farm", None),
        "person": user if signed_in else None,
        "as_owner": signed_in and is_owner(request),
    }
