"""The knowledge: mechanisms, causes, states, findings, checks, outcomes and costs as TOML, and its loader."""

from stripdown.knowledge.load import KnowledgeError, Problem, finding_of, load
from stripdown.knowledge.model import Knowledge

__all__ = ["Knowledge", "KnowledgeError", "Problem", "finding_of", "load"]
