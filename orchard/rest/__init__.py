"""The shared behaviour of every route: problems, pages, filters, conditional writes, schema."""
