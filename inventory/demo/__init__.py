"""Brindlemoor, an invented farm in the invented Tamberlow Valley: ten weeks of its log.

Made by the same actions as the pages, the same every time but for today's date. Names and figures
stand in scenario.py, what is done each day of a week in week.py, what a newcomer finds in today.py;
load.py tells all of it in its order.
"""

from inventory.demo.load import load_demo
from inventory.demo.scenario import OWNER

__all__ = ["OWNER", "load_demo"]
