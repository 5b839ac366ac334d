"""Open data in, arrays out: streets, what may be walked, heights, and places along the way."""
