"""The whole job at a desk: a page on this machine, answered at once from a plan kept open."""
