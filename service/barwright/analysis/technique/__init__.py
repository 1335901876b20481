"""Technique: phases and bar path of several lifts to what leaks first, which drill mends it, and whether it helped."""
