"""What arrives, bytes or files, turned into checked blocks; no database and no web."""
