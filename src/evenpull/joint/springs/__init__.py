"""Stiffness of the bolt and of what it clamps: deformation cones, frusta, layers, gaskets, one-bolt beam model."""
