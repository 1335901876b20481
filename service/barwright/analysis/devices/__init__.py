"""How good a sensor is, and what anyone can check of it at home."""
