"""Thread, bolt, nut, washer and material: sizes, strengths, bearing faces, engagement."""
