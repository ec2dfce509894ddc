"""Statistics of readings."""

from evenpull.statistics.describe import Description, describe

__all__ = ["Description", "describe"]
