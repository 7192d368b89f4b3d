"""What the records mean and what to do next: season summaries, forecasts and schedules."""
