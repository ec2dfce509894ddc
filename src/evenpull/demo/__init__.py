"""The invented scenario "Kestrel Narrows" and the run of the whole main job on it."""
