"""Procedures found instead of prescribed: settings, limits on the way, the fewest pulls, comparison."""
