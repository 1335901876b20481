"""Pure numbers: samples in, reps and phases out. No web, database, files or clock."""
