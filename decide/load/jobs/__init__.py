"""Job books: reading, mapping, exporting, and figures from own records."""
