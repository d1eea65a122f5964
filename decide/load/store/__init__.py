"""What is kept: visits, books, figures and settings."""
