"""Files as they come: rows of a table, JSON and TOML text, names of files, and writing one whole."""
