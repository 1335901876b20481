"""Results while the set is going on: no database, no web, no process but this one."""
