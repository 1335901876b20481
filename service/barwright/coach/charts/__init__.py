"""Charts as SVG, each with title, units, words and a table; pure functions."""
