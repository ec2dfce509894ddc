"""Many fasteners on one ring: elastic interaction, gasket law, stepping a procedure, scatter, search."""
