"""Words every other part of the analysis uses."""
