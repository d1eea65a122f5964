"""In the shop."""
