"""Measurements of speed, each as a ratio to a bound that any program doing the job would have to pay."""
