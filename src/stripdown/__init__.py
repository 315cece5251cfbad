"""Failure analysis of semi-hermetic reciprocating refrigeration compressors, from teardown record to root cause and fleet."""

__version__ = "0.1.0"
