"""One module a step, in the order of the chain."""
