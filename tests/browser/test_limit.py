"""The time limit of the browser tests themselves."""

from typing import Any

import pytest

from .conftest import at_most

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("hanging", ["new Promise(() => {})", "(() => { while (true) {} })()"])
def test_a_script_that_never_answers_fails_in_time(page: Any, hanging: str) -> None:
    with pytest.raises(TimeoutError, match="not done within 2 s"), at_most(2):
        page.evaluate(hanging)


def test_the_next_test_has_a_page_that_works(page: Any) -> None:
    with at_most(2):
        assert page.evaluate("1 + 1") == 2


def test_what_fails_in_time_fails_as_it_is(page: Any) -> None:
    with pytest.raises(Exception, match="no such thing"), at_most(30):
        page.evaluate("(() => { throw new Error('no such thing') })()")
