"""Limit sheets, measurement uncertainty, probability of conformity, verdicts."""
