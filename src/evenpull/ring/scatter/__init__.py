"""Many assemblies of one ring: friction, tools, creep, what is left of the evenness, and feedback from the angle."""
