"""How sure the load is: propagation, probability between limits, and the setting that makes it most sure."""
