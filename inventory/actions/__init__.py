"""What a person does. One function is one thing done, one transaction, its ledger entries.

Its docstring names the refusals of its own. Any that is recorded in the ledger may raise too, from
the ledger's door: Refused("future", "too-long-ago", "unknown-code"), and Conflict("sent-before",
"not-yet-here", "later-entry", "contradicts-later", "more-than-there").
"""
