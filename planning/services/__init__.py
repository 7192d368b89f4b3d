"""Load once, compute, store what differs."""
