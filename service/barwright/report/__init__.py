"""A recording told in pictures, in one file without scripts."""
