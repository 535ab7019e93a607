"""A lab with containers for the tests of this room."""

from tests.containers.bench import bench

__all__ = ["bench"]
