"""From torque and angle to load and back: friction, nut factor, torque-tension tests, yield."""
