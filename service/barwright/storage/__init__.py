"""Rows and raw bytes. Nothing outside this folder sees a table or a query."""
