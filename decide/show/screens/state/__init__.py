"""What a page remembers and what the store gives it."""
