"""The records' part of the API, one module a resource."""
