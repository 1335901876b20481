"""Today against the usual: strength over months, the day's maximum, and loads for the plan."""
