"""The sky over the walk: local clock, sun, moon and weather; it knows nothing of streets."""
