"""Who is calling, and what they may do. Standard library only."""
