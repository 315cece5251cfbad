"""Many Cases → tallies, life, comparison, agreement, forecast."""
