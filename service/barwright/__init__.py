"""Bar velocity and bar path from bar-mounted sensors."""

__version__ = "0.1.0"
