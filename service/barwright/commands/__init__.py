"""The commands, each file with its options and what it does; barwright/__main__.py joins them."""
