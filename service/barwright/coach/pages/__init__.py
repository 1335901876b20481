"""One file per page: what the browser may ask, one workflow or a few, one template."""
