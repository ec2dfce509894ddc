"""evenpull: from a bolted joint to a signed release.

The mechanics packages (`evenpull.joint`, `evenpull.catalogue`, `evenpull.instrument`, `evenpull.quantities`) are a
library of their own and need no Django.
"""

__version__ = "0.1.0"
