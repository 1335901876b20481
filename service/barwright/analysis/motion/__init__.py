"""Sensor samples to how the bar moved."""
