"""Pages for people outside the web admin: signing in, joining, a new password."""
