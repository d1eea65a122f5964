"""Case files, and how the tables fill what is not entered."""
