"""What the farm's own record says: of how long a crop keeps, and of what was wasted.

Ages are in days at the crop's best temperature. Most are known in part only: a crate that was
sold sound lasted at least so long, one found gone ended since somebody last looked. Plain values
in, plain values out; figures are of quality, never of food safety.
"""

from inventory.learning.estimate import Estimate, farm_estimate
from inventory.learning.evidence import AN_END, Finding, Harvest, Lasted, lasted
from inventory.learning.product_limit import product_limit, standard_errors
from inventory.learning.waste import Flow, share, standing
from inventory.learning.weibull import (
    Fit,
    NoFit,
    Weibull,
    fit_weibull,
    handbook_weibull,
    pseudo_ages,
)

__all__ = [
    "AN_END",
    "Estimate",
    "Finding",
    "Fit",
    "Flow",
    "Harvest",
    "Lasted",
    "NoFit",
    "Weibull",
    "farm_estimate",
    "fit_weibull",
    "handbook_weibull",
    "lasted",
    "product_limit",
    "pseudo_ages",
    "share",
    "standard_errors",
    "standing",
]
