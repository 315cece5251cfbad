"""The knowledge: mechanisms, causes, states, findings, checks, outcomes and costs as TOML, and its loader."""

from stripdown.knowledge.files import KnowledgeError, Problem
from stripdown.knowledge.load import load
from stripdown.knowledge.model import Knowledge
from stripdown.knowledge.references import finding_of

__all__ = ["Knowledge", "KnowledgeError", "Problem", "finding_of", "load"]
