"""Which crate goes first, which is past its life, and which crates fill which orders.

Everything here takes plain values and returns plain values with the reason beside them.
"""

from inventory.rotation.order import Standing, Verdict, Why, Worklist, judge, rotation_key
from inventory.rotation.pulls import Plan, PullLine, PullLot, Short, Take, plan_pulls

__all__ = [
    "Plan",
    "PullLine",
    "PullLot",
    "Short",
    "Standing",
    "Take",
    "Verdict",
    "Why",
    "Worklist",
    "judge",
    "plan_pulls",
    "rotation_key",
]
