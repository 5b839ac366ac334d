"""Tools that invent places: a town's streets, hills and tags, and a big city for timing runs."""
