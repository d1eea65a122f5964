"""Reads the world: files and tables in, frozen dataclasses out."""
