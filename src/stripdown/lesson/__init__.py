"""A case told in the order of the bench: what was found, how it moved the odds and why, which conclusions tempt."""

from stripdown.lesson.model import NOT_DECIDED, Complaint, Lesson, Reveal
from stripdown.lesson.plan import plan
from stripdown.lesson.score import candidates, points

__all__ = ["NOT_DECIDED", "Complaint", "Lesson", "Reveal", "candidates", "plan", "points"]
