"""Bar motion to reps, phases and measures."""
