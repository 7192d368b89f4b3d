"""The invented co-op: its cast, its harvests and the files its members send."""
