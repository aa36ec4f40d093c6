"""Error sources, the measurement model, draws, intervals, differences."""
