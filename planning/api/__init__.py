"""Planning's part of the API, one module a resource."""
