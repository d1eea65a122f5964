"""The I/O layer: files and tables in, frozen dataclasses out."""
