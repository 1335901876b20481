"""Thin Python client for a Barwright bar-velocity service."""
