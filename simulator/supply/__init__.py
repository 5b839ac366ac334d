"""Water along the way: the one bottle, and the one decider of where to fill it."""
