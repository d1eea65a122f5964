"""Sentences, one language file a language."""
