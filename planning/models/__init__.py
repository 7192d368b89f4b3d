"""What planning stores."""
