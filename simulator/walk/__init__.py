"""One engine: walkers times segments, and the hour-by-hour ledger made from it."""
