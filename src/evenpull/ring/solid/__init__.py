"""Independent reference of a ring: solid elements (gmsh, scikit-fem), for checks and unusual flanges. Extra `fe`."""
