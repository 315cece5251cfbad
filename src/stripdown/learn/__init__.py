"""Confirmed records → strengths and shares of one's own, the file that holds them, and a report of what moved."""

from stripdown.learn.own import own_file
from stripdown.learn.report import report
from stripdown.learn.study import Study, study

__all__ = ["Study", "own_file", "report", "study"]
