"""Recording files read as named columns: one file here per format."""
