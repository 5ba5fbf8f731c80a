"""Refusals a person can act on. Each has a stable code; its sentence is made where it is shown."""

from collections.abc import Mapping
from typing import Any


class Refused(Exception):
    """Something asked for is not possible now; nothing was written.

    Actions raise it; views show `words.refusals.sentence(refusal)` beside the field with
    status 4xx. `code` names the case, `facts` carry what the sentence needs, `field` the form
    field it belongs to, if one.
    """

    status = 422

    def __init__(self, code: str, /, field: str = "", **facts: Any):
        super().__init__(code, facts)
        self.code = code
        self.field = field
        self.facts: Mapping[str, Any] = facts


class Conflict(Refused):
    """The state of a crate has changed, or this entry was sent before with other content."""

    status = 409
