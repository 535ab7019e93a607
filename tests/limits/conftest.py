"""A shelf with waste for the tests of this room."""

from tests.limits.shelf import shelf

__all__ = ["shelf"]
