"""What the load meets after tightening: losses, working loads, fatigue, shear, the limits of single documents."""
