"""Changes of the store's tables, oldest first; each runs once, when a store from before it is opened."""
