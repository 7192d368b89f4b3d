"""What happened: farms, blocks, trees, people, harvest weights and how they come in."""
