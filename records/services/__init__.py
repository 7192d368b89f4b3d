"""Writes that carry a rule or touch more than one row."""
