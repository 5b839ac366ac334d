"""The main job: does this person, with this bag, get home from there, and what if."""
