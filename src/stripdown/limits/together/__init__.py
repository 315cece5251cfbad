"""Entries of one record that cannot all be true of one machine, whatever its limits."""

from stripdown.limits.together.model import Clash
from stripdown.limits.together.rules import RULES, clashes

__all__ = ["RULES", "Clash", "clashes"]
