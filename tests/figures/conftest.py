"""The cases of the page tests serve the figures too."""

from tests.pages.conftest import floodback, hostile, open_case

__all__ = ["floodback", "hostile", "open_case"]
