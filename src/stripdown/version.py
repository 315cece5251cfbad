"""The version, apart from the public names so that inner rooms can read it."""

__version__ = "0.1.0"
