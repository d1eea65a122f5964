"""The page that a phone carries: one file that answers without a network and without this program."""
