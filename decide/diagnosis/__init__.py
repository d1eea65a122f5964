"""Before the quote: which cause, in which order to check, and what the repair may cost."""
