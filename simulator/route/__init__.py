"""Where to walk: least-time ways, what is closed, and the best way around it."""
