"""From knowledge to a network, to posteriors, to an explanation one can argue with."""
