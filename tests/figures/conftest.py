"""The cases of the page tests serve the figures too."""

import pytest

from stripdown.case import Case
from tests.pages import cases


@pytest.fixture
def floodback() -> Case:
    """An established case with every section filled."""
    return cases.floodback()


@pytest.fixture
def open_case() -> Case:
    """A thin record that decides nothing."""
    return cases.open_case()


@pytest.fixture
def hostile() -> Case:
    """Text in every free field that tries to be markup, code or layout."""
    return cases.hostile()
