"""Accuracy and speed of the analysis on simulated lifts with exact truth and on real recordings: `make bench`."""
