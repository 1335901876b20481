"""From many sets to one line: how fast this athlete moves which load, and what that says about the maximum."""
