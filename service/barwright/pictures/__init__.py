"""Pictures as SVG text: what pages and reports draw with."""
